import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly, LiftAppendOnly


class Migration(migrations.Migration):
    """Records name the machines they are of; the next step fills in those on record already."""

    dependencies = [
        ('fleet', '0014_records_of_one_machine'),
        ('inspections', '0006_pull_photos'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        LiftAppendOnly("Inspection"),
        LiftAppendOnly("Finding"),
        LiftAppendOnly("OwnKind"),
        migrations.CreateModel(
            name='DocumentWithdrawal',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('reason', models.CharField(max_length=200, verbose_name='why')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='MachineDocument',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('kind', models.CharField(choices=[('plate', 'data plate'), ('book', 'book of the machine'), ('calibration', 'calibration or test certificate'), ('photo', 'photo'), ('other', 'other')], max_length=12, verbose_name='what it is')),
                ('title', models.CharField(help_text='Such as “Plate, read 3 March”.', max_length=120)),
                ('file', models.FileField(upload_to='machines/')),
                ('content_type', models.CharField(max_length=40)),
                ('size_bytes', models.PositiveIntegerField()),
                ('sha256', models.CharField(help_text='Of the file as kept.', max_length=64)),
            ],
            options={
                'ordering': ['-pk'],
                'default_related_name': 'documents',
            },
        ),
        migrations.CreateModel(
            name='MovedRecords',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('inspections', models.JSONField(default=list)),
                ('findings', models.JSONField(default=list)),
                ('outages', models.JSONField(default=list)),
                ('why', models.CharField(max_length=300)),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
            ],
            options={
                'ordering': ['-pk'],
                'default_related_name': 'records_moved_here',
            },
        ),
        migrations.AlterModelOptions(
            name='finding',
            options={'default_related_name': 'findings', 'ordering': ['-pk']},
        ),
        migrations.AddField(
            model_name='finding',
            name='clamp',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.clamp'),
        ),
        migrations.AddField(
            model_name='finding',
            name='hammer',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.hammer'),
        ),
        migrations.AddField(
            model_name='finding',
            name='power_pack',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.powerpack'),
        ),
        migrations.AddField(
            model_name='inspection',
            name='clamp',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='inspections', to='fleet.clamp'),
        ),
        migrations.AddField(
            model_name='inspection',
            name='hammer',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='inspections', to='fleet.hammer'),
        ),
        migrations.AddField(
            model_name='inspection',
            name='pack_hour_reading',
            field=models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='inspection_of_pack', to='fleet.hourreading'),
        ),
        migrations.AddField(
            model_name='inspection',
            name='power_pack',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='inspections', to='fleet.powerpack'),
        ),
        migrations.AddField(
            model_name='ownkind',
            name='looks_at_clamp',
            field=models.BooleanField(default=False, verbose_name='the clamp'),
        ),
        migrations.AddField(
            model_name='ownkind',
            name='looks_at_hammer',
            field=models.BooleanField(default=False, verbose_name='the hammer'),
        ),
        migrations.AddField(
            model_name='ownkind',
            name='looks_at_housing',
            field=models.BooleanField(default=False, verbose_name='the housing with its pads'),
        ),
        migrations.AddField(
            model_name='ownkind',
            name='looks_at_power_pack',
            field=models.BooleanField(default=False, verbose_name='the power pack'),
        ),
        migrations.AlterField(
            model_name='finding',
            name='housing',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.suppressorhousing'),
        ),
        migrations.AlterField(
            model_name='inspection',
            name='housing',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='inspections', to='fleet.suppressorhousing'),
        ),
        migrations.AddConstraint(
            model_name='finding',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('clamp__isnull', True), ('hammer__isnull', False), ('housing__isnull', True), ('power_pack__isnull', True)), models.Q(('clamp__isnull', True), ('hammer__isnull', True), ('housing__isnull', False), ('power_pack__isnull', True)), models.Q(('clamp__isnull', False), ('hammer__isnull', True), ('housing__isnull', True), ('power_pack__isnull', True)), models.Q(('clamp__isnull', True), ('hammer__isnull', True), ('housing__isnull', True), ('power_pack__isnull', False)), _connector='OR'), name='finding_of_one_machine'),
        ),
        migrations.AddConstraint(
            model_name='inspection',
            constraint=models.CheckConstraint(condition=models.Q(('clamp__isnull', True), ('hammer__isnull', True), ('housing__isnull', True), ('power_pack__isnull', True), _negated=True), name='inspection_of_some_machine'),
        ),
        migrations.AddField(
            model_name='documentwithdrawal',
            name='recorded_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='machinedocument',
            name='clamp',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.clamp'),
        ),
        migrations.AddField(
            model_name='machinedocument',
            name='hammer',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.hammer'),
        ),
        migrations.AddField(
            model_name='machinedocument',
            name='housing',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.suppressorhousing'),
        ),
        migrations.AddField(
            model_name='machinedocument',
            name='power_pack',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.powerpack'),
        ),
        migrations.AddField(
            model_name='machinedocument',
            name='recorded_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='documentwithdrawal',
            name='document',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='withdrawal', to='inspections.machinedocument'),
        ),
        migrations.AddField(
            model_name='movedrecords',
            name='clamp',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.clamp'),
        ),
        migrations.AddField(
            model_name='movedrecords',
            name='hammer',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.hammer'),
        ),
        migrations.AddField(
            model_name='movedrecords',
            name='housing',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.suppressorhousing'),
        ),
        migrations.AddField(
            model_name='movedrecords',
            name='power_pack',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='fleet.powerpack'),
        ),
        migrations.AddField(
            model_name='movedrecords',
            name='recorded_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='movedrecords',
            name='unit',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='records_moved_away', to='fleet.suppressorhousing'),
        ),
        migrations.AddConstraint(
            model_name='machinedocument',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('clamp__isnull', True), ('hammer__isnull', False), ('housing__isnull', True), ('power_pack__isnull', True)), models.Q(('clamp__isnull', True), ('hammer__isnull', True), ('housing__isnull', False), ('power_pack__isnull', True)), models.Q(('clamp__isnull', False), ('hammer__isnull', True), ('housing__isnull', True), ('power_pack__isnull', True)), models.Q(('clamp__isnull', True), ('hammer__isnull', True), ('housing__isnull', True), ('power_pack__isnull', False)), _connector='OR'), name='machinedocument_of_one_machine'),
        ),
        migrations.AddConstraint(
            model_name='machinedocument',
            constraint=models.CheckConstraint(condition=models.Q(('content_type__in', ['application/pdf', 'image/jpeg']), ('kind__in', ['plate', 'book', 'calibration', 'photo', 'other']), models.Q(('title', ''), _negated=True)), name='machine_document_known'),
        ),
        migrations.AddConstraint(
            model_name='documentwithdrawal',
            constraint=models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='document_withdrawn_for_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='movedrecords',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('clamp__isnull', True), ('hammer__isnull', False), ('housing__isnull', True), ('power_pack__isnull', True)), models.Q(('clamp__isnull', True), ('hammer__isnull', True), ('housing__isnull', False), ('power_pack__isnull', True)), models.Q(('clamp__isnull', False), ('hammer__isnull', True), ('housing__isnull', True), ('power_pack__isnull', True)), models.Q(('clamp__isnull', True), ('hammer__isnull', True), ('housing__isnull', True), ('power_pack__isnull', False)), _connector='OR'), name='movedrecords_of_one_machine'),
        ),
        migrations.AddConstraint(
            model_name='movedrecords',
            constraint=models.CheckConstraint(condition=models.Q(('why', ''), _negated=True), name='records_moved_for_a_reason'),
        ),
        AppendOnly("MachineDocument"),
        AppendOnly("DocumentWithdrawal"),
        AppendOnly("MovedRecords"),
    ]
