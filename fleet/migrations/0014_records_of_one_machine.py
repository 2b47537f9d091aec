import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """Any machine may be out of service; power packs have hour meters, read by themselves too."""

    dependencies = [
        ('fleet', '0013_people_and_set_up'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AlterModelOptions(
            name='hourreading',
            options={'default_related_name': 'hour_readings', 'ordering': ['-read_at', '-pk']},
        ),
        migrations.AlterModelOptions(
            name='meterchange',
            options={'default_related_name': 'meter_changes', 'ordering': ['-changed_at', '-pk']},
        ),
        migrations.AlterModelOptions(
            name='outofservice',
            options={'default_related_name': 'times_out_of_service', 'ordering': ['-since', '-pk'], 'verbose_name': 'time out of service', 'verbose_name_plural': 'times out of service'},
        ),
        migrations.RemoveConstraint(
            model_name='outofservice',
            name='out_of_service_once_at_a_time',
        ),
        migrations.AddField(
            model_name='hourreading',
            name='corrects',
            field=models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='fleet.hourreading'),
        ),
        migrations.AddField(
            model_name='hourreading',
            name='power_pack',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.powerpack'),
        ),
        migrations.AddField(
            model_name='hourreading',
            name='submission_id',
            field=models.UUIDField(help_text='Made with the form, where it was entered by itself: a second copy of it changes nothing.', null=True, unique=True),
        ),
        migrations.AddField(
            model_name='meterchange',
            name='power_pack',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.powerpack'),
        ),
        migrations.AddField(
            model_name='outofservice',
            name='clamp',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.clamp'),
        ),
        migrations.AddField(
            model_name='outofservice',
            name='hammer',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.hammer'),
        ),
        migrations.AddField(
            model_name='outofservice',
            name='power_pack',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.powerpack'),
        ),
        migrations.AlterField(
            model_name='hourreading',
            name='hammer',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.hammer'),
        ),
        migrations.AlterField(
            model_name='meterchange',
            name='hammer',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.hammer'),
        ),
        migrations.AlterField(
            model_name='outofservice',
            name='housing',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.suppressorhousing'),
        ),
        migrations.AddConstraint(
            model_name='hourreading',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('hammer__isnull', False), ('power_pack__isnull', True)), models.Q(('hammer__isnull', True), ('power_pack__isnull', False)), _connector='OR'), name='hourreading_of_one_meter'),
        ),
        migrations.AddConstraint(
            model_name='meterchange',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('hammer__isnull', False), ('power_pack__isnull', True)), models.Q(('hammer__isnull', True), ('power_pack__isnull', False)), _connector='OR'), name='meterchange_of_one_meter'),
        ),
        migrations.AddConstraint(
            model_name='outofservice',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('clamp__isnull', True), ('hammer__isnull', False), ('housing__isnull', True), ('power_pack__isnull', True)), models.Q(('clamp__isnull', True), ('hammer__isnull', True), ('housing__isnull', False), ('power_pack__isnull', True)), models.Q(('clamp__isnull', False), ('hammer__isnull', True), ('housing__isnull', True), ('power_pack__isnull', True)), models.Q(('clamp__isnull', True), ('hammer__isnull', True), ('housing__isnull', True), ('power_pack__isnull', False)), _connector='OR'), name='outofservice_of_one_machine'),
        ),
        migrations.AddConstraint(
            model_name='outofservice',
            constraint=models.UniqueConstraint(condition=models.Q(('released_at__isnull', True)), fields=('hammer',), name='hammer_out_of_service_once_at_a_time'),
        ),
        migrations.AddConstraint(
            model_name='outofservice',
            constraint=models.UniqueConstraint(condition=models.Q(('released_at__isnull', True)), fields=('housing',), name='housing_out_of_service_once_at_a_time'),
        ),
        migrations.AddConstraint(
            model_name='outofservice',
            constraint=models.UniqueConstraint(condition=models.Q(('released_at__isnull', True)), fields=('clamp',), name='clamp_out_of_service_once_at_a_time'),
        ),
        migrations.AddConstraint(
            model_name='outofservice',
            constraint=models.UniqueConstraint(condition=models.Q(('released_at__isnull', True)), fields=('power_pack',), name='power_pack_out_of_service_once_at_a_time'),
        ),
        # SQLite made these two anew, without their triggers.
        AppendOnly("HourReading"),
        AppendOnly("MeterChange"),
    ]
