import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """How many units a job needs, how long they are on the way, and what a transfer is for."""

    dependencies = [
        ('fleet', '0010_transfers'),
        ('ratings', '0012_pools_of_tests'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='TransferForJob',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='TransportRules',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('miles_a_day', models.FloatField(default=250.0)),
                ('least_days', models.PositiveSmallIntegerField(default=1)),
                ('reason', models.CharField(max_length=200, verbose_name='why it changes')),
            ],
            options={
                'verbose_name_plural': 'transport rules',
                'ordering': ['-pk'],
            },
        ),
        migrations.AddField(
            model_name='extractionjob',
            name='units_needed',
            field=models.PositiveSmallIntegerField(default=1),
        ),
        migrations.AddConstraint(
            model_name='extractionjob',
            constraint=models.CheckConstraint(condition=models.Q(('units_needed__gte', 1), ('units_needed__lte', 20)), name='job_needs_a_unit'),
        ),
        migrations.AddField(
            model_name='transferforjob',
            name='job',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='transfers', to='ratings.extractionjob'),
        ),
        migrations.AddField(
            model_name='transferforjob',
            name='recorded_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='transferforjob',
            name='transfer',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='for_job', to='fleet.transfer'),
        ),
        migrations.AddField(
            model_name='transportrules',
            name='recorded_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddConstraint(
            model_name='transportrules',
            constraint=models.CheckConstraint(condition=models.Q(('least_days__lte', 14), ('miles_a_day__gt', 0), models.Q(('reason', ''), _negated=True)), name='transport_rules_in_range'),
        ),
        AppendOnly("TransportRules"),
        AppendOnly("TransferForJob"),
    ]
