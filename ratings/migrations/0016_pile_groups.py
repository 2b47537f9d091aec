import django.db.models.deletion
from django.db import migrations, models

# What a pile had on its job, and has in its group.
MOVED = (
    "section",
    "area_in2",
    "weight_lb_ft",
    "perimeter_in",
    "length_ft",
    "embedment_ft",
    "plug_area_in2",
    "yield_strength_ksi",
    "tension_limit_lbf",
)
BATCH = 500


def give_each_job_its_group(apps, schema_editor):
    """The one pile of each job is its first group, one of its kind.

    A pipe that was said to come out plugged keeps that as its end. Of any other nobody asked, and
    none is put in.
    """
    Job = apps.get_model("ratings", "ExtractionJob")
    Group = apps.get_model("ratings", "PileGroup")
    groups = []
    for job in Job.objects.order_by("pk").iterator(BATCH):
        is_pipe = job.pile_kind == "pipe"
        groups.append(
            Group(
                job=job,
                place=0,
                count=1,
                kind=job.pile_kind,
                end="open, plugged" if is_pipe and job.is_plugged else "",
                is_plugged=job.is_plugged and not is_pipe,
                **{name: getattr(job, name) for name in MOVED},
            )
        )
    Group.objects.bulk_create(groups, batch_size=BATCH)


class Migration(migrations.Migration):
    """A job has groups of piles; its one pile of before is its first."""

    dependencies = [
        ('ratings', '0015_rules_of_crane_and_criterion'),
    ]

    operations = [
        migrations.CreateModel(
            name='PileGroup',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='pile_groups', to='ratings.extractionjob')),
                ('place', models.PositiveSmallIntegerField(help_text='From 0, in the order they were entered.')),
                ('label', models.CharField(blank=True, help_text='Such as “north row”. Blank: the section.', max_length=60, verbose_name='what they are called')),
                ('count', models.PositiveSmallIntegerField(default=1)),
                ('kind', models.CharField(choices=[('sheet pair', 'sheet pair'), ('H', 'H-pile'), ('pipe', 'pipe'), ('timber', 'timber'), ('concrete', 'concrete')], max_length=10, verbose_name='kind of pile')),
                ('section', models.CharField(blank=True, help_text='Fills in kind, area, weight, perimeter and plug. Blank: entered below.', max_length=80)),
                ('weight_lb_ft', models.FloatField()),
                ('perimeter_in', models.FloatField()),
                ('area_in2', models.FloatField(null=True)),
                ('length_ft', models.FloatField()),
                ('embedment_ft', models.FloatField()),
                ('end', models.CharField(blank=True, choices=[('closed', 'closed'), ('open, cored', 'open, the soil stays in the ground (cored)'), ('open, plugged', 'open, the soil comes up within (plugged)'), ('open, not known', 'open, which of the two is not known')], help_text='Asked of pipes. Not known: the worse of inside friction and plug counts.', max_length=20, verbose_name='end of the pipe')),
                ('inside_perimeter_in', models.FloatField(null=True)),
                ('is_plugged', models.BooleanField(default=False, verbose_name='it comes out plugged with soil')),
                ('plug_area_in2', models.FloatField(null=True)),
                ('yield_strength_ksi', models.FloatField(null=True)),
                ('tension_limit_lbf', models.FloatField(null=True)),
            ],
            options={
                'ordering': ['place'],
                'constraints': [
                    models.UniqueConstraint(fields=('job', 'place'), name='pile_group_once_in_its_place'),
                    models.CheckConstraint(condition=models.Q(('count__gte', 1), ('embedment_ft__gt', 0), ('embedment_ft__lte', models.F('length_ft')), ('kind__in', ['sheet pair', 'H', 'pipe', 'timber', 'concrete']), ('length_ft__gt', 0), ('perimeter_in__gt', 0), ('weight_lb_ft__gt', 0)), name='pile_group_in_range'),
                    models.CheckConstraint(condition=models.Q(models.Q(('end__in', ['', 'closed', 'open, cored', 'open, plugged', 'open, not known']), ('is_plugged', False), ('kind', 'pipe')), models.Q(models.Q(('kind', 'pipe'), _negated=True), ('end', '')), _connector='OR'), name='pile_group_end_of_a_pipe'),
                    models.CheckConstraint(condition=models.Q(('inside_perimeter_in__isnull', True), models.Q(('inside_perimeter_in__gt', 0), ('inside_perimeter_in__lt', models.F('perimeter_in'))), _connector='OR'), name='pile_group_inside_within'),
                ],
            },
        ),
        migrations.RunPython(give_each_job_its_group),
    ]
