import django.db.models.deletion
import django.db.models.functions.text
import fleet.characters
import fleet.clock
from django.conf import settings
from django.db import migrations, models


def take_over(apps, schema_editor):
    """Make a clamp of each hammer's clamp figures, on it since the first that is known of it.

    Nobody has said which piles its jaws hold.
    """
    Hammer, Clamp, ClampFitting, Mounting, HourReading = (
        apps.get_model("fleet", name)
        for name in ("Hammer", "Clamp", "ClampFitting", "Mounting", "HourReading")
    )
    for hammer in Hammer.objects.exclude(clamp_weight_lb=None, clamp_force_lbf=None):
        known = [
            *Mounting.objects.filter(hammer=hammer).values_list("mounted_at", flat=True),
            *HourReading.objects.filter(hammer=hammer).values_list("read_at", flat=True),
        ]
        clamp = Clamp.objects.create(
            yard_id=hammer.yard_id,
            mark=f"clamp of {hammer.mark}",
            weight_lb=hammer.clamp_weight_lb,
            clamp_force_lbf=hammer.clamp_force_lbf,
            figures_source=hammer.figures_source,
            note="Taken over from the figures of its hammer.",
        )
        ClampFitting.objects.create(
            clamp=clamp, hammer=hammer, fitted_at=min(known, default=fleet.clock.now())
        )


def give_back(apps, schema_editor):
    """Write the figures of the clamp fitted today beside those of its hammer."""
    Hammer, ClampFitting = (apps.get_model("fleet", name) for name in ("Hammer", "ClampFitting"))
    for fitting in ClampFitting.objects.filter(removed_at=None).select_related("clamp"):
        Hammer.objects.filter(pk=fitting.hammer_id).update(
            clamp_weight_lb=fitting.clamp.weight_lb, clamp_force_lbf=fitting.clamp.clamp_force_lbf
        )


class Migration(migrations.Migration):
    """Clamps and power packs have records of their own; a hammer's figures become its clamp."""

    dependencies = [
        ('fleet', '0010_transfers'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Clamp',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('mark', models.CharField(help_text='What is painted on it.', max_length=60, unique=True, validators=[fleet.characters.check_name], verbose_name='yard mark')),
                ('make', models.CharField(blank=True, max_length=80)),
                ('type_name', models.CharField(blank=True, max_length=80, verbose_name='type')),
                ('serial_number', models.CharField(blank=True, max_length=80)),
                ('figures_source', models.CharField(blank=True, help_text='Such as the data plate, and who read it when.', max_length=160, verbose_name='source of these figures')),
                ('note', models.TextField(blank=True, max_length=2000)),
                ('retired_on', models.DateField(blank=True, help_text='Blank while it is in use. One out of use goes on no hammer, and stays on record.', null=True, verbose_name='out of use since')),
                ('weight_lb', models.FloatField(null=True)),
                ('clamp_force_lbf', models.FloatField(null=True)),
                ('holds_sheet_pair', models.BooleanField(blank=True, null=True, verbose_name='holds sheet pairs')),
                ('holds_h', models.BooleanField(blank=True, null=True, verbose_name='holds H-piles')),
                ('holds_pipe', models.BooleanField(blank=True, null=True, verbose_name='holds pipe')),
                ('holds_timber', models.BooleanField(blank=True, null=True, verbose_name='holds timber')),
                ('holds_concrete', models.BooleanField(blank=True, null=True, verbose_name='holds concrete')),
                ('jaws_note', models.CharField(blank=True, help_text='What else there is to know of them, such as their width, or the thickest wall they take.', max_length=200, verbose_name='jaws')),
            ],
            options={
                'ordering': ['mark'],
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='ClampFitting',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('fitted_at', models.DateTimeField()),
                ('removed_at', models.DateTimeField(blank=True, null=True)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', null=True, unique=True)),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('removal_id', models.UUIDField(null=True, unique=True)),
            ],
            options={
                'ordering': ['-fitted_at', '-pk'],
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='PowerPack',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('mark', models.CharField(help_text='What is painted on it.', max_length=60, unique=True, validators=[fleet.characters.check_name], verbose_name='yard mark')),
                ('make', models.CharField(blank=True, max_length=80)),
                ('type_name', models.CharField(blank=True, max_length=80, verbose_name='type')),
                ('serial_number', models.CharField(blank=True, max_length=80)),
                ('figures_source', models.CharField(blank=True, help_text='Such as the data plate, and who read it when.', max_length=160, verbose_name='source of these figures')),
                ('note', models.TextField(blank=True, max_length=2000)),
                ('retired_on', models.DateField(blank=True, help_text='Blank while it is in use. One out of use goes on no hammer, and stays on record.', null=True, verbose_name='out of use since')),
                ('power_hp', models.FloatField(null=True)),
                ('flow_gpm', models.FloatField(null=True)),
                ('pressure_psi', models.FloatField(null=True)),
            ],
            options={
                'ordering': ['mark'],
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='PowerPackConnection',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('fitted_at', models.DateTimeField()),
                ('removed_at', models.DateTimeField(blank=True, null=True)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', null=True, unique=True)),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('removal_id', models.UUIDField(null=True, unique=True)),
            ],
            options={
                'ordering': ['-fitted_at', '-pk'],
                'abstract': False,
            },
        ),
        migrations.AddField(
            model_name='clamp',
            name='yard',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='%(class)ss', to='fleet.yard'),
        ),
        migrations.AddField(
            model_name='clampfitting',
            name='clamp',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='fittings', to='fleet.clamp'),
        ),
        migrations.AddField(
            model_name='clampfitting',
            name='hammer',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='%(class)ss', to='fleet.hammer'),
        ),
        migrations.AddField(
            model_name='clampfitting',
            name='recorded_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='clampfitting',
            name='removed_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='powerpack',
            name='yard',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='%(class)ss', to='fleet.yard'),
        ),
        migrations.AddField(
            model_name='powerpackconnection',
            name='hammer',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='%(class)ss', to='fleet.hammer'),
        ),
        migrations.AddField(
            model_name='powerpackconnection',
            name='power_pack',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='fittings', to='fleet.powerpack'),
        ),
        migrations.AddField(
            model_name='powerpackconnection',
            name='recorded_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='powerpackconnection',
            name='removed_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddConstraint(
            model_name='clamp',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='clamp_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
        ),
        migrations.AddConstraint(
            model_name='clamp',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('weight_lb__isnull', True), ('weight_lb__gte', 0), _connector='OR'), models.Q(('clamp_force_lbf__isnull', True), ('clamp_force_lbf__gt', 0), _connector='OR')), name='clamp_figures_in_range'),
        ),
        migrations.AddConstraint(
            model_name='clamp',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('holds_concrete__isnull', True), ('holds_h__isnull', True), ('holds_pipe__isnull', True), ('holds_sheet_pair__isnull', True), ('holds_timber__isnull', True)), models.Q(('holds_concrete__isnull', False), ('holds_h__isnull', False), ('holds_pipe__isnull', False), ('holds_sheet_pair__isnull', False), ('holds_timber__isnull', False)), _connector='OR'), name='clamp_kinds_all_or_none_known', violation_error_message='Whether its jaws hold a pile is said of some kinds only: say yes or no of every kind, or leave all of them blank.'),
        ),
        migrations.AddConstraint(
            model_name='clamp',
            constraint=models.CheckConstraint(condition=models.Q(('holds_concrete', False), ('holds_h', False), ('holds_pipe', False), ('holds_sheet_pair', False), ('holds_timber', False), _negated=True), name='clamp_holds_some_kind', violation_error_message='Its jaws hold no kind of pile: say which they hold, or leave all of them blank.'),
        ),
        migrations.AddConstraint(
            model_name='clampfitting',
            constraint=models.UniqueConstraint(condition=models.Q(('removed_at', None)), fields=('hammer',), name='clampfitting_one_on_a_hammer'),
        ),
        migrations.AddConstraint(
            model_name='clampfitting',
            constraint=models.CheckConstraint(condition=models.Q(('removed_at__isnull', True), ('removed_at__gte', models.F('fitted_at')), _connector='OR'), name='clampfitting_ends_after_it_begins'),
        ),
        migrations.AddConstraint(
            model_name='clampfitting',
            constraint=models.UniqueConstraint(condition=models.Q(('removed_at', None)), fields=('clamp',), name='clamp_on_one_hammer'),
        ),
        migrations.AddConstraint(
            model_name='powerpack',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='power_pack_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
        ),
        migrations.AddConstraint(
            model_name='powerpack',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('power_hp__isnull', True), ('power_hp__gt', 0), _connector='OR'), models.Q(('flow_gpm__isnull', True), ('flow_gpm__gt', 0), _connector='OR'), models.Q(('pressure_psi__isnull', True), ('pressure_psi__gt', 0), _connector='OR')), name='power_pack_figures_in_range'),
        ),
        migrations.AddConstraint(
            model_name='powerpackconnection',
            constraint=models.UniqueConstraint(condition=models.Q(('removed_at', None)), fields=('hammer',), name='powerpackconnection_one_on_a_hammer'),
        ),
        migrations.AddConstraint(
            model_name='powerpackconnection',
            constraint=models.CheckConstraint(condition=models.Q(('removed_at__isnull', True), ('removed_at__gte', models.F('fitted_at')), _connector='OR'), name='powerpackconnection_ends_after_it_begins'),
        ),
        migrations.AddConstraint(
            model_name='powerpackconnection',
            constraint=models.UniqueConstraint(condition=models.Q(('removed_at', None)), fields=('power_pack',), name='power_pack_on_one_hammer'),
        ),
        migrations.RunPython(take_over, give_back),
    ]
