import django.db.models.deletion
import django.db.models.functions.text
import fleet.characters
import fleet.clock
import ratings.mechanics.bench
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """Certificates of gauges, checks of reference pieces, and when all else was calibrated."""

    dependencies = [
        ('fleet', '0007_names_once_and_printable'),
        ('ratings', '0007_surveillance_plans'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='GaugeCalibration',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('certificate_number', models.CharField(max_length=80)),
                ('laboratory', models.CharField(blank=True, max_length=120)),
                ('serial_number', models.CharField(blank=True, help_text='Copy it from the certificate, not from the gauge.', max_length=80, verbose_name='serial number on the certificate')),
                ('calibrated_on', models.DateField()),
                ('due_on', models.DateField(verbose_name='calibration due on')),
                ('expanded_psi', models.FloatField(null=True)),
                ('coverage_factor', models.FloatField(null=True)),
                ('points', models.JSONField(default=list, help_text='[applied, as found, as left], psi, from the least to the greatest; as found or as left null where it was not read. None where the certificate has no points.')),
                ('no_found_reason', models.CharField(blank=True, max_length=200, verbose_name='why nothing was read as found')),
                ('is_found_off', models.BooleanField(default=False, help_text='Whether it was off as found by more than its grade allows.')),
                ('found_error_psi', models.FloatField(help_text='The error as found, shown less applied, that is worst for its grade.', null=True)),
                ('drift_psi', models.FloatField(help_text='By how much the certificate before it was wrong as found.', null=True)),
                ('note', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ['-calibrated_on', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='ReferenceCheck',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('bore_in', models.FloatField()),
                ('rod_in', models.FloatField()),
                ('bore_tolerance_in', models.FloatField()),
                ('rod_tolerance_in', models.FloatField()),
                ('bore_measured_on', models.DateField(null=True)),
                ('gauge_span_psi', models.FloatField()),
                ('gauge_grade', models.CharField(choices=[('4A', '4A'), ('3A', '3A'), ('2A', '2A'), ('1A', '1A'), ('A', 'A'), ('B', 'B'), ('C', 'C'), ('D', 'D')], max_length=2)),
                ('gauge_resolution_psi', models.FloatField()),
                ('gauge_certificate', models.CharField(blank=True, max_length=80)),
                ('gauge_calibrated_on', models.DateField(null=True)),
                ('gauge_due_on', models.DateField(null=True)),
                ('gauge_correction', models.JSONField(help_text="What the certificate's points make of its readings: points [shown, applied] psi, expanded_psi, coverage_factor, drift_psi; none where it was read as it is.", null=True)),
                ('tape_resolution_in', models.FloatField()),
                ('tape_certificate', models.CharField(blank=True, max_length=80)),
                ('tape_calibrated_on', models.DateField(null=True)),
                ('tape_due_on', models.DateField(null=True)),
                ('end', models.CharField(choices=[('rod', 'rod end (the cylinder pulls)'), ('blind', 'blind end (the cylinder pushes)')], max_length=5, verbose_name='pressure acts on')),
                ('tape_datum_in', models.FloatField()),
                ('gauge_zero_psi', models.FloatField(default=0.0)),
                ('checked_at', models.DateTimeField()),
                ('temperature_f', models.FloatField(null=True)),
                ('rate_lbf_in', models.FloatField()),
                ('own_lbf_in', models.FloatField(help_text='Standard uncertainty of its readings alone.')),
                ('expanded_lbf_in', models.FloatField(help_text='Expanded uncertainty of its whole budget, 95 %.')),
                ('note', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ['-checked_at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='ReferencePiece',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('mark', models.CharField(max_length=40, unique=True, validators=[fleet.characters.check_name], verbose_name='yard mark')),
                ('kind', models.CharField(choices=[('pad', 'pad'), ('spring', 'steel spring')], help_text='A pad ages and is softer when warm; a steel spring is neither.', max_length=6)),
                ('note', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ['mark'],
            },
        ),
        migrations.CreateModel(
            name='ReferenceReading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveSmallIntegerField()),
                ('run', models.PositiveSmallIntegerField(default=1)),
                ('branch', models.CharField(choices=[('loading', 'loading'), ('unloading', 'unloading')], default=ratings.mechanics.bench.Branch['LOADING'], max_length=9)),
                ('tape_in', models.FloatField()),
                ('gauge_psi', models.FloatField()),
            ],
            options={
                'ordering': ['number'],
            },
        ),
        migrations.CreateModel(
            name='Thermometer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('certificate_number', models.CharField(blank=True, max_length=80)),
                ('calibrated_on', models.DateField(blank=True, null=True)),
                ('due_on', models.DateField(blank=True, null=True, verbose_name='calibration due on')),
                ('mark', models.CharField(max_length=40, unique=True, validators=[fleet.characters.check_name], verbose_name='yard mark')),
            ],
            options={
                'ordering': ['mark'],
            },
        ),
        migrations.AddField(
            model_name='benchtest',
            name='bore_measured_on',
            field=models.DateField(null=True),
        ),
        migrations.AddField(
            model_name='benchtest',
            name='gauge_correction',
            field=models.JSONField(help_text="What the certificate's points make of its readings: points [shown, applied] psi, expanded_psi, coverage_factor, drift_psi; none where it was read as it is.", null=True),
        ),
        migrations.AddField(
            model_name='benchtest',
            name='tape_calibrated_on',
            field=models.DateField(null=True),
        ),
        migrations.AddField(
            model_name='benchtest',
            name='tape_certificate',
            field=models.CharField(blank=True, max_length=80),
        ),
        migrations.AddField(
            model_name='benchtest',
            name='tape_due_on',
            field=models.DateField(null=True),
        ),
        migrations.AddField(
            model_name='benchtest',
            name='thermometer_calibrated_on',
            field=models.DateField(null=True),
        ),
        migrations.AddField(
            model_name='benchtest',
            name='thermometer_due_on',
            field=models.DateField(null=True),
        ),
        migrations.AddField(
            model_name='gauge',
            name='serial_number',
            field=models.CharField(blank=True, help_text='As on its dial: a certificate that bears another is not taken for it.', max_length=80),
        ),
        migrations.AddField(
            model_name='tape',
            name='calibrated_on',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='tape',
            name='certificate_number',
            field=models.CharField(blank=True, max_length=80),
        ),
        migrations.AddField(
            model_name='tape',
            name='due_on',
            field=models.DateField(blank=True, null=True, verbose_name='calibration due on'),
        ),
        migrations.AddField(
            model_name='teststand',
            name='bore_measured_by',
            field=models.CharField(blank=True, help_text='Who measured them and with what, such as an inside micrometer by its mark.', max_length=80),
        ),
        migrations.AddField(
            model_name='teststand',
            name='bore_measured_on',
            field=models.DateField(blank=True, help_text='The day bore and rod were last measured.', null=True),
        ),
        migrations.AddConstraint(
            model_name='tape',
            constraint=models.CheckConstraint(condition=models.Q(('calibrated_on__isnull', True), ('due_on__isnull', True), ('due_on__gt', models.F('calibrated_on')), _connector='OR'), name='tape_due_after_calibrated'),
        ),
        migrations.AddField(
            model_name='gaugecalibration',
            name='corrects',
            field=models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='ratings.gaugecalibration'),
        ),
        migrations.AddField(
            model_name='gaugecalibration',
            name='gauge',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='calibrations', to='ratings.gauge'),
        ),
        migrations.AddField(
            model_name='gaugecalibration',
            name='recorded_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='benchtest',
            name='gauge_calibration',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='%(class)ss', to='ratings.gaugecalibration'),
        ),
        migrations.AddField(
            model_name='referencecheck',
            name='corrects',
            field=models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='ratings.referencecheck'),
        ),
        migrations.AddField(
            model_name='referencecheck',
            name='gauge',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='reference_checks', to='ratings.gauge'),
        ),
        migrations.AddField(
            model_name='referencecheck',
            name='gauge_calibration',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='%(class)ss', to='ratings.gaugecalibration'),
        ),
        migrations.AddField(
            model_name='referencecheck',
            name='recorded_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='referencecheck',
            name='stand',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='reference_checks', to='ratings.teststand'),
        ),
        migrations.AddField(
            model_name='referencecheck',
            name='tape',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='reference_checks', to='ratings.tape'),
        ),
        migrations.AddField(
            model_name='referencepiece',
            name='yard',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='reference_pieces', to='fleet.yard'),
        ),
        migrations.AddField(
            model_name='referencecheck',
            name='piece',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='checks', to='ratings.referencepiece'),
        ),
        migrations.AddField(
            model_name='referencereading',
            name='reference_check',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='readings', to='ratings.referencecheck'),
        ),
        migrations.AddField(
            model_name='thermometer',
            name='yard',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='thermometers', to='fleet.yard'),
        ),
        migrations.AddField(
            model_name='benchtest',
            name='thermometer',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='bench_tests', to='ratings.thermometer'),
        ),
        migrations.AddConstraint(
            model_name='gaugecalibration',
            constraint=models.CheckConstraint(condition=models.Q(('due_on__gt', models.F('calibrated_on'))), name='calibration_due_after_made'),
        ),
        migrations.AddConstraint(
            model_name='gaugecalibration',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('certificate_number', ''), _negated=True), models.Q(models.Q(('coverage_factor__isnull', True), ('expanded_psi__isnull', True)), models.Q(('coverage_factor__gte', 1), ('expanded_psi__gt', 0)), _connector='OR')), name='calibration_certified'),
        ),
        migrations.AddConstraint(
            model_name='gaugecalibration',
            constraint=models.CheckConstraint(condition=models.Q(('is_found_off', False), ('found_error_psi__isnull', False), _connector='OR'), name='calibration_found_off_by_something'),
        ),
        migrations.AddConstraint(
            model_name='referencepiece',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='reference_piece_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
        ),
        migrations.AddConstraint(
            model_name='referencepiece',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['pad', 'spring'])), name='reference_piece_kind_known'),
        ),
        migrations.AddConstraint(
            model_name='referencecheck',
            constraint=models.CheckConstraint(condition=models.Q(('bore_in__gt', 0), ('expanded_lbf_in__gte', 0), ('gauge_zero_psi__gte', 0), ('own_lbf_in__gte', 0), ('rate_lbf_in__gt', 0), ('rod_in__gte', 0), ('rod_in__lt', models.F('bore_in')), ('tape_datum_in__gte', 0)), name='reference_check_possible'),
        ),
        migrations.AddConstraint(
            model_name='referencereading',
            constraint=models.UniqueConstraint(fields=('reference_check', 'number'), name='reference_reading_once'),
        ),
        migrations.AddConstraint(
            model_name='referencereading',
            constraint=models.CheckConstraint(condition=models.Q(('gauge_psi__gte', 0), ('tape_in__gte', 0)), name='reference_reading_not_negative'),
        ),
        migrations.AddConstraint(
            model_name='thermometer',
            constraint=models.CheckConstraint(condition=models.Q(('calibrated_on__isnull', True), ('due_on__isnull', True), ('due_on__gt', models.F('calibrated_on')), _connector='OR'), name='thermometer_due_after_calibrated'),
        ),
        migrations.AddConstraint(
            model_name='thermometer',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='thermometer_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
        ),
        AppendOnly('GaugeCalibration'),
        AppendOnly('ReferenceCheck'),
        AppendOnly('ReferenceReading'),
        AppendOnly('BenchTest'),
    ]
