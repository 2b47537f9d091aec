import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """Hours planned, forecasts kept as they were made, and replays of them on the record."""

    dependencies = [
        ('fleet', '0021_board_filters'),
        ('inspections', '0016_needs_of_kinds'),
        ('ratings', '0026_proposals_as_proposed'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='ForecastReplay',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('document', models.JSONField()),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='Forecast',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('made_on', models.DateField()),
                ('month', models.DateField(null=True)),
                ('document', models.JSONField()),
                ('basis', models.JSONField()),
                ('digest', models.CharField(max_length=64)),
                ('entry', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ratings.ledgerentry')),
                ('housing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='forecasts', to='fleet.suppressorhousing')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [models.UniqueConstraint(condition=models.Q(('month__isnull', False)), fields=('housing', 'month'), name='forecast_by_the_job_once_a_month'), models.UniqueConstraint(fields=('housing', 'made_on', 'digest'), name='forecast_kept_once_a_day_for_one_basis')],
            },
        ),
        migrations.CreateModel(
            name='PlannedHours',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('first_day', models.DateField(verbose_name='from')),
                ('last_day', models.DateField(help_text='This day included.', verbose_name='to')),
                ('hours', models.FloatField()),
                ('per', models.CharField(choices=[('day', 'a day'), ('week', 'a week')], default='week', max_length=4, verbose_name='for each')),
                ('reason', models.CharField(help_text='The job, the contract, or who said so.', max_length=200, verbose_name='how it is known')),
                ('housing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='planned_hours', to='fleet.suppressorhousing')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name_plural': 'planned hours',
                'ordering': ['-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('last_day__gte', models.F('first_day'))), name='planned_hours_end_after_they_begin'), models.CheckConstraint(condition=models.Q(models.Q(('hours__range', (0, 24.0)), ('per', 'day')), models.Q(('hours__range', (0, 168.0)), ('per', 'week')), _connector='OR'), name='planned_hours_possible'), models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='planned_hours_known_somehow')],
            },
        ),
        AppendOnly("PlannedHours"),
        AppendOnly("Forecast"),
        AppendOnly("ForecastReplay"),
    ]
