import django.db.models.deletion
import django.db.models.functions.text
import fleet.characters
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """A yard may add kinds of inspection of its own; every inspection is of one kind."""

    dependencies = [
        ('fleet', '0006_shelves_hold'),
        ('inspections', '0004_append_only_again'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='KindRetirement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('retired_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='OwnKind',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('name', models.CharField(help_text='In small letters.', max_length=40, unique=True, validators=[fleet.characters.check_name])),
            ],
            options={
                'ordering': ['name'],
            },
        ),
        migrations.RemoveConstraint(
            model_name='checklist',
            name='checklist_kind_known',
        ),
        migrations.RemoveConstraint(
            model_name='inspection',
            name='inspection_kind_known',
        ),
        migrations.AlterField(
            model_name='checklist',
            name='kind',
            field=models.CharField(blank=True, choices=[('pad count', 'pad count'), ('each shift', 'each shift'), ('monthly', 'monthly'), ('yearly', 'yearly'), ('after repair', 'after repair'), ('before extraction', 'before extraction')], max_length=20),
        ),
        migrations.AlterField(
            model_name='inspection',
            name='kind',
            field=models.CharField(blank=True, choices=[('pad count', 'pad count'), ('each shift', 'each shift'), ('monthly', 'monthly'), ('yearly', 'yearly'), ('after repair', 'after repair'), ('before extraction', 'before extraction')], default='pad count', max_length=20),
        ),
        migrations.AddField(
            model_name='kindretirement',
            name='recorded_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='ownkind',
            name='recorded_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='kindretirement',
            name='kind',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='retirement', to='inspections.ownkind'),
        ),
        migrations.AddField(
            model_name='checklist',
            name='own_kind',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='checklists', to='inspections.ownkind'),
        ),
        migrations.AddField(
            model_name='inspection',
            name='own_kind',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='inspections', to='inspections.ownkind'),
        ),
        migrations.AddConstraint(
            model_name='checklist',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ['pad count', 'each shift', 'monthly', 'yearly', 'after repair', 'before extraction']), ('own_kind__isnull', True)), models.Q(('kind', ''), ('own_kind__isnull', False)), _connector='OR'), name='checklist_kind_known'),
        ),
        migrations.AddConstraint(
            model_name='inspection',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ['pad count', 'each shift', 'monthly', 'yearly', 'after repair', 'before extraction']), ('own_kind__isnull', True)), models.Q(('kind', ''), ('own_kind__isnull', False)), _connector='OR'), name='inspection_kind_known'),
        ),
        migrations.AddConstraint(
            model_name='ownkind',
            constraint=models.CheckConstraint(condition=models.Q(('name', django.db.models.functions.text.Lower('name'))), name='own_kind_in_small_letters'),
        ),
        migrations.AddConstraint(
            model_name='ownkind',
            constraint=models.CheckConstraint(condition=models.Q(('name__in', ['', 'pad count', 'each shift', 'monthly', 'yearly', 'after repair', 'before extraction']), _negated=True), name='own_kind_is_no_common_one'),
        ),
        AppendOnly("OwnKind"),
        AppendOnly("KindRetirement"),
        # SQLite made these two anew, without their triggers.
        AppendOnly("Checklist"),
        AppendOnly("Inspection"),
    ]
