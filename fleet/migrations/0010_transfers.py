import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """Units sent from one yard to another, and how far yards are from each other."""

    dependencies = [
        ('fleet', '0009_lot_corrections'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Transfer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('leaves_on', models.DateField(verbose_name='leaves on')),
                ('arrives_on', models.DateField(help_text='The day it is in the other yard.', verbose_name='arrives on')),
                ('haul_mi', models.FloatField(null=True)),
                ('note', models.CharField(blank=True, help_text='Such as who hauls it.', max_length=200)),
                ('goal', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.yard')),
                ('hammer', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='transfers', to='fleet.hammer')),
                ('housing', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='transfers', to='fleet.suppressorhousing')),
                ('origin', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.yard')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-leaves_on', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='TransferEnd',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('kind', models.CharField(choices=[('arrived', 'arrived'), ('cancelled', 'cancelled')], max_length=10)),
                ('ended_on', models.DateField(verbose_name='the day')),
                ('reason', models.CharField(blank=True, max_length=200)),
                ('hammer', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.hammer')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('transfer', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='end', to='fleet.transfer')),
            ],
            options={
                'verbose_name': 'end of a transfer',
                'verbose_name_plural': 'ends of transfers',
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='YardHaul',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('haul_mi', models.FloatField()),
                ('one_yard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.yard')),
                ('other_yard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.yard')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'distance between yards',
                'verbose_name_plural': 'distances between yards',
                'ordering': ['-pk'],
            },
        ),
        migrations.AddConstraint(
            model_name='transfer',
            constraint=models.CheckConstraint(condition=models.Q(('housing__isnull', False), ('hammer__isnull', False), _connector='OR'), name='transfer_of_something'),
        ),
        migrations.AddConstraint(
            model_name='transfer',
            constraint=models.CheckConstraint(condition=models.Q(('origin', models.F('goal')), _negated=True), name='transfer_to_another_yard'),
        ),
        migrations.AddConstraint(
            model_name='transfer',
            constraint=models.CheckConstraint(condition=models.Q(('arrives_on__gte', models.F('leaves_on'))), name='transfer_arrives_after_it_leaves'),
        ),
        migrations.AddConstraint(
            model_name='transfer',
            constraint=models.CheckConstraint(condition=models.Q(('haul_mi__isnull', True), models.Q(('haul_mi__gte', 0), ('haul_mi__lte', 10000)), _connector='OR'), name='transfer_haul_in_range'),
        ),
        migrations.AddConstraint(
            model_name='transferend',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['arrived', 'cancelled'])), name='transfer_ended_somehow'),
        ),
        migrations.AddConstraint(
            model_name='transferend',
            constraint=models.CheckConstraint(condition=models.Q(('kind', 'arrived'), models.Q(('reason', ''), _negated=True), _connector='OR'), name='transfer_cancelled_for_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='yardhaul',
            constraint=models.CheckConstraint(condition=models.Q(('one_yard__lt', models.F('other_yard'))), name='yard_haul_between_two'),
        ),
        migrations.AddConstraint(
            model_name='yardhaul',
            constraint=models.CheckConstraint(condition=models.Q(('haul_mi__gte', 0), ('haul_mi__lte', 10000)), name='yard_haul_in_range'),
        ),
        AppendOnly("YardHaul"),
        AppendOnly("Transfer"),
        AppendOnly("TransferEnd"),
    ]
