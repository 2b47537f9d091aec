import django.core.validators
import django.db.models.deletion
import django.db.models.functions.text
import fleet.characters
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly, RefuseOverlap


class Migration(migrations.Migration):
    """Tests, ratings, listings, jobs and the ledger: one step in place of those that led here."""

    initial = True

    replaces = [
        ('ratings', '0001_initial'),
        ('ratings', '0002_append_only'),
        ('ratings', '0003_extraction'),
        ('ratings', '0004_extraction_facts'),
        ('ratings', '0005_names_once_and_printable'),
    ]

    dependencies = [
        ('fleet', '0007_names_once_and_printable'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Gauge',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('mark', models.CharField(max_length=40, unique=True, validators=[fleet.characters.check_name], verbose_name='yard mark')),
                ('span_psi', models.FloatField()),
                ('grade', models.CharField(choices=[('4A', '4A'), ('3A', '3A'), ('2A', '2A'), ('1A', '1A'), ('A', 'A'), ('B', 'B'), ('C', 'C'), ('D', 'D')], max_length=2, verbose_name='accuracy grade')),
                ('resolution_psi', models.FloatField()),
                ('certificate_number', models.CharField(blank=True, max_length=80)),
                ('calibrated_on', models.DateField(blank=True, null=True)),
                ('due_on', models.DateField(blank=True, null=True, verbose_name='calibration due on')),
                ('yard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='gauges', to='fleet.yard')),
            ],
            options={
                'ordering': ['mark'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('grade__in', ['4A', '3A', '2A', '1A', 'A', 'B', 'C', 'D']), ('resolution_psi__gt', 0), ('span_psi__gt', 0), ('span_psi__lte', 20000.0)), name='gauge_possible'),
                    models.CheckConstraint(condition=models.Q(('calibrated_on__isnull', True), ('due_on__isnull', True), ('due_on__gt', models.F('calibrated_on')), _connector='OR'), name='gauge_due_after_calibrated'),
                    models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='gauge_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
                ],
            },
        ),
        migrations.CreateModel(
            name='Tape',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('mark', models.CharField(max_length=40, unique=True, validators=[fleet.characters.check_name], verbose_name='yard mark')),
                ('resolution_in', models.FloatField()),
                ('yard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='tapes', to='fleet.yard')),
            ],
            options={
                'ordering': ['mark'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('resolution_in__gt', 0), ('resolution_in__lte', 1)), name='tape_possible'),
                    models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='tape_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
                ],
            },
        ),
        migrations.CreateModel(
            name='TestStand',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=80, unique=True, validators=[fleet.characters.check_name])),
                ('bore_in', models.FloatField()),
                ('rod_in', models.FloatField(default=0.0)),
                ('bore_tolerance_in', models.FloatField(default=0.005)),
                ('rod_tolerance_in', models.FloatField(default=0.005)),
                ('note', models.TextField(blank=True)),
                ('yard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='test_stands', to='fleet.yard')),
            ],
            options={
                'ordering': ['name'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('bore_tolerance_in__gte', 0), ('bore_tolerance_in__lt', models.F('bore_in')), ('rod_tolerance_in__gte', 0)), name='test_stand_tolerances_possible'),
                    models.CheckConstraint(condition=models.Q(('bore_in__gt', 0), ('bore_in__lte', 40.0), ('rod_in__gte', 0), ('rod_in__lt', models.F('bore_in'))), name='test_stand_cylinder_possible'),
                    models.UniqueConstraint(django.db.models.functions.text.Lower('name'), name='test_stand_named_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
                ],
            },
        ),
        migrations.CreateModel(
            name='BenchTest',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('bore_in', models.FloatField()),
                ('rod_in', models.FloatField()),
                ('bore_tolerance_in', models.FloatField()),
                ('rod_tolerance_in', models.FloatField()),
                ('gauge_span_psi', models.FloatField()),
                ('gauge_grade', models.CharField(choices=[('4A', '4A'), ('3A', '3A'), ('2A', '2A'), ('1A', '1A'), ('A', 'A'), ('B', 'B'), ('C', 'C'), ('D', 'D')], max_length=2)),
                ('gauge_resolution_psi', models.FloatField()),
                ('gauge_certificate', models.CharField(blank=True, max_length=80)),
                ('gauge_calibrated_on', models.DateField(null=True)),
                ('gauge_due_on', models.DateField(null=True)),
                ('tape_resolution_in', models.FloatField()),
                ('end', models.CharField(choices=[('rod', 'rod end (the cylinder pulls)'), ('blind', 'blind end (the cylinder pushes)')], max_length=5, verbose_name='pressure acts on')),
                ('pads_in_test', models.PositiveSmallIntegerField()),
                ('tape_datum_in', models.FloatField()),
                ('gauge_zero_psi', models.FloatField(default=0.0)),
                ('tested_at', models.DateTimeField()),
                ('conditioning_cycles', models.PositiveSmallIntegerField(default=0)),
                ('rubber_temperature_f', models.FloatField(null=True)),
                ('tape_after_in', models.FloatField(null=True)),
                ('arrangement', models.CharField(blank=True, max_length=200, verbose_name='how the pads were arranged')),
                ('witness', models.CharField(blank=True, max_length=80)),
                ('photo', models.ImageField(null=True, upload_to='bench-tests/%Y')),
                ('note', models.TextField(blank=True)),
                ('corrects', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='ratings.benchtest')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='bench_tests', to='fleet.padlot')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('gauge', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='bench_tests', to='ratings.gauge')),
                ('tape', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='bench_tests', to='ratings.tape')),
                ('stand', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='bench_tests', to='ratings.teststand')),
            ],
            options={
                'ordering': ['-tested_at', '-pk'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('bore_in__gt', 0), ('gauge_zero_psi__gte', 0), ('pads_in_test__gte', 1), ('rod_in__gte', 0), ('rod_in__lt', models.F('bore_in')), ('tape_datum_in__gte', 0)), name='bench_test_set_up_possible'),
                    models.CheckConstraint(condition=models.Q(('end__in', ['rod', 'blind'])), name='bench_test_end_known'),
                ],
            },
        ),
        migrations.CreateModel(
            name='LedgerEntry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('sequence', models.PositiveIntegerField()),
                ('occurred_at', models.DateTimeField()),
                ('recorded_at', models.DateTimeField()),
                ('cause', models.CharField(max_length=24)),
                ('cause_record', models.PositiveBigIntegerField(help_text='Key of the inspection, replacement, test, listing or policy behind it.', null=True)),
                ('document', models.TextField()),
                ('previous_hash', models.CharField(max_length=64)),
                ('hash', models.CharField(max_length=64)),
                ('standing', models.CharField(max_length=16)),
                ('pull_lbf', models.FloatField(null=True)),
                ('working_capacity_lbf', models.FloatField(null=True)),
                ('listed_lbf', models.FloatField(null=True)),
                ('usable_travel_in', models.FloatField(null=True)),
                ('sound_pads', models.PositiveIntegerField()),
                ('positions', models.PositiveIntegerField()),
                ('corrects', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrections', to='ratings.ledgerentry')),
                ('housing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='ledger_entries', to='fleet.suppressorhousing')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name_plural': 'ledger entries',
                'ordering': ['housing', 'sequence'],
                'indexes': [models.Index(fields=['cause', 'cause_record'], name='ledger_by_cause')],
                'constraints': [
                    models.UniqueConstraint(fields=('housing', 'sequence'), name='ledger_sequence_once'),
                    models.UniqueConstraint(fields=('housing', 'previous_hash'), name='ledger_chain_never_forks'),
                    models.UniqueConstraint(fields=('hash',), name='ledger_hash_once'),
                    models.CheckConstraint(condition=models.Q(models.Q(('previous_hash', '0000000000000000000000000000000000000000000000000000000000000000'), ('sequence', 1)), models.Q(('sequence__gt', 1), models.Q(('previous_hash', '0000000000000000000000000000000000000000000000000000000000000000'), _negated=True)), _connector='OR'), name='ledger_first_entry_has_no_previous'),
                    models.CheckConstraint(condition=models.Q(('standing__in', ['meets listing', 'not proven', 'below listing', 'unrated'])), name='ledger_standing_known'),
                ],
            },
        ),
        migrations.CreateModel(
            name='CurrentRating',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('sequence', models.PositiveIntegerField()),
                ('head_hash', models.CharField(max_length=64)),
                ('housing', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='current_rating', to='fleet.suppressorhousing')),
                ('head', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ratings.ledgerentry')),
            ],
            options={
                'ordering': ['housing'],
            },
        ),
        migrations.CreateModel(
            name='Listing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('listed_lbf', models.FloatField()),
                ('source', models.CharField(help_text='Data plate, manual or sheet, with its number or edition.', max_length=160)),
                ('dated', models.DateField(help_text='The day the source bears.')),
                ('note', models.TextField(blank=True)),
                ('corrects', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='ratings.listing')),
                ('hammer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='listings', to='fleet.hammer')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('listed_lbf__gt', 0), ('listed_lbf__lte', 10000000)), name='listing_in_range'),
                ],
            },
        ),
        migrations.CreateModel(
            name='LotRating',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('tested_at', models.DateTimeField(help_text='Of the newest of its tests.')),
                ('rate_lbf_in', models.FloatField()),
                ('common_uncertainty_lbf_in', models.FloatField(help_text='Standard uncertainty that every pad the stand has rated shares.')),
                ('degrees_of_freedom', models.FloatField(help_text='Of it; none where infinite.', null=True)),
                ('spread_lbf_in', models.FloatField(help_text="Standard deviation from pad to pad; none where the policy's stands in.", null=True)),
                ('spread_degrees_of_freedom', models.FloatField(null=True)),
                ('linearity_error_pct', models.FloatField()),
                ('tested_stretch_in', models.FloatField()),
                ('coldest_f', models.FloatField(null=True)),
                ('warmest_f', models.FloatField(null=True)),
                ('curve', models.JSONField(help_text='Knots [stretch_in, force_lbf, slope_lbf_in] of the monotone load curve; used where the lot is not linear.')),
                ('curve_doubt', models.JSONField(help_text="What the curve isn't sure of: force_lbf, stretch_in, share and scatter_lbf.")),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='ratings', to='fleet.padlot')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-recorded_at', '-pk'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('common_uncertainty_lbf_in__gte', 0), ('linearity_error_pct__gte', 0), ('rate_lbf_in__gt', 0), ('tested_stretch_in__gt', 0)), name='lot_rating_possible'),
                ],
            },
        ),
        migrations.CreateModel(
            name='RatedTest',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('rating', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='rated_tests', to='ratings.lotrating')),
                ('test', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='rated_tests', to='ratings.benchtest')),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [
                    models.UniqueConstraint(fields=('rating', 'test'), name='test_in_a_rating_once'),
                ],
            },
        ),
        migrations.CreateModel(
            name='RatingApproval',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('drafted_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('rating', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='approval', to='ratings.lotrating')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('recorded_by', models.F('drafted_by')), _negated=True), name='approved_by_a_second_person'),
                ],
            },
        ),
        migrations.CreateModel(
            name='RatingPolicy',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('confidence', models.FloatField()),
                ('pad_spread_pct', models.FloatField()),
                ('linearity_limit_pct', models.FloatField()),
                ('tape_resolution_in', models.FloatField()),
                ('rate_valid_days', models.PositiveIntegerField()),
                ('coldest_f', models.FloatField()),
                ('warmest_f', models.FloatField()),
                ('stale_rates', models.CharField(choices=[('keep', 'keeps its figure, flagged'), ('drop', 'counts for nothing until tested again')], max_length=4, verbose_name='a stale rate')),
                ('reason', models.CharField(max_length=200, verbose_name='why it changes')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name_plural': 'rating policies',
                'ordering': ['-pk'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('confidence__gt', 0.5), ('confidence__lt', 1), ('linearity_limit_pct__gt', 0), ('linearity_limit_pct__lte', 100), ('pad_spread_pct__gte', 0), ('pad_spread_pct__lte', 100), ('rate_valid_days__gte', 1), ('stale_rates__in', ['keep', 'drop']), ('tape_resolution_in__gt', 0), ('tape_resolution_in__lte', 2), ('warmest_f__gt', models.F('coldest_f'))), name='rating_policy_in_range'),
                ],
            },
        ),
        migrations.CreateModel(
            name='RatingWithdrawal',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('reason', models.CharField(max_length=200)),
                ('rating', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='withdrawal', to='ratings.lotrating')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='BenchReading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveSmallIntegerField()),
                ('run', models.PositiveSmallIntegerField(default=1)),
                ('branch', models.CharField(choices=[('loading', 'loading'), ('unloading', 'unloading')], default='loading', max_length=9)),
                ('tape_in', models.FloatField()),
                ('gauge_psi', models.FloatField()),
                ('test', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='readings', to='ratings.benchtest')),
            ],
            options={
                'ordering': ['number'],
                'constraints': [
                    models.UniqueConstraint(fields=('test', 'number'), name='bench_reading_once'),
                    models.CheckConstraint(condition=models.Q(('gauge_psi__gte', 0), ('tape_in__gte', 0)), name='bench_reading_not_negative'),
                ],
            },
        ),
        migrations.CreateModel(
            name='ExtractionJob',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('site', models.CharField(max_length=120)),
                ('first_day', models.DateField()),
                ('last_day', models.DateField()),
                ('note', models.TextField(blank=True)),
                ('pile_kind', models.CharField(choices=[('sheet pair', 'sheet pair'), ('H', 'H-pile'), ('pipe', 'pipe'), ('timber', 'timber'), ('concrete', 'concrete')], max_length=10)),
                ('section', models.CharField(blank=True, help_text='Blank where entered.', max_length=80)),
                ('area_in2', models.FloatField(null=True)),
                ('weight_lb_ft', models.FloatField()),
                ('perimeter_in', models.FloatField()),
                ('length_ft', models.FloatField()),
                ('embedment_ft', models.FloatField()),
                ('is_plugged', models.BooleanField(default=False, verbose_name='it comes out plugged with soil')),
                ('plug_area_in2', models.FloatField(null=True)),
                ('yield_strength_ksi', models.FloatField(null=True)),
                ('tension_limit_lbf', models.FloatField(null=True)),
                ('water_depth_ft', models.FloatField(null=True)),
                ('set_up_low', models.FloatField(default=1.0)),
                ('set_up_expected', models.FloatField(default=1.0)),
                ('set_up_high', models.FloatField(default=1.0)),
                ('capacity_lbf', models.FloatField(null=True)),
                ('hook_block_lb', models.FloatField(default=0.0)),
                ('rigging_weight_lb', models.FloatField(default=0.0)),
                ('rigging_limit_lbf', models.FloatField(null=True)),
                ('legs', models.PositiveSmallIntegerField(default=1)),
                ('leg_angle_deg', models.FloatField(default=90.0)),
                ('method', models.CharField(choices=[('vibrating all the while', 'vibrating all the while'), ('by the crane alone, hammer still', 'by the crane alone, hammer still')], default='vibrating all the while', max_length=40, verbose_name='how it is pulled')),
                ('haul_limit_mi', models.FloatField(null=True)),
                ('submission_id', models.UUIDField(unique=True)),
                ('created_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('changed_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('changed_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('created_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-first_day', '-pk'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('last_day__gte', models.F('first_day'))), name='job_ends_after_it_begins'),
                    models.CheckConstraint(condition=models.Q(('embedment_ft__gt', 0), ('embedment_ft__lte', models.F('length_ft')), ('length_ft__gt', 0), ('perimeter_in__gt', 0), ('pile_kind__in', ['sheet pair', 'H', 'pipe', 'timber', 'concrete']), ('weight_lb_ft__gt', 0)), name='job_pile_in_range'),
                    models.CheckConstraint(condition=models.Q(('set_up_expected__gte', models.F('set_up_low')), ('set_up_high__gte', models.F('set_up_expected')), ('set_up_low__gt', 0)), name='job_set_up_rises'),
                    models.CheckConstraint(condition=models.Q(('hook_block_lb__gte', 0), ('leg_angle_deg__gt', 0), ('leg_angle_deg__lte', 90), ('legs__gte', 1), ('method__in', ['vibrating all the while', 'by the crane alone, hammer still']), ('rigging_weight_lb__gte', 0), models.Q(('rigging_limit_lbf__isnull', True), ('rigging_limit_lbf__gte', models.F('rigging_weight_lb')), _connector='OR')), name='job_rigging_in_range'),
                ],
            },
        ),
        migrations.CreateModel(
            name='ExtractionRules',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('care_margin', models.FloatField()),
                ('low_factor', models.FloatField()),
                ('high_factor', models.FloatField()),
                ('jaw_friction', models.FloatField()),
                ('steel_share', models.FloatField()),
                ('inspection_days', models.PositiveIntegerField()),
                ('below_listing', models.CharField(choices=[('refuse', 'does not go out'), ('care', 'goes out with care, where all else holds')], max_length=6, verbose_name='a unit below its listing')),
                ('soils', models.JSONField()),
                ('reason', models.CharField(max_length=200, verbose_name='why it changes')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name_plural': 'extraction rules',
                'ordering': ['-pk'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('below_listing__in', ['refuse', 'care']), ('care_margin__gte', 1), ('high_factor__gte', 1), ('inspection_days__gte', 1), ('jaw_friction__gt', 0), ('low_factor__gt', 0), ('low_factor__lte', 1), ('steel_share__gt', 0), ('steel_share__lte', 1)), name='extraction_rules_in_range'),
                    models.CheckConstraint(condition=models.Q(('high_factor__gte', models.F('low_factor'))), name='extraction_rules_range_has_width'),
                ],
            },
        ),
        migrations.CreateModel(
            name='JobAnswer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('verdict', models.CharField(max_length=20)),
                ('document', models.TextField()),
                ('hash', models.CharField(max_length=64)),
                ('entry', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='answers', to='ratings.ledgerentry')),
                ('hammer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.hammer')),
                ('housing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.suppressorhousing')),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='answers', to='ratings.extractionjob')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='Commitment',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('first_day', models.DateField()),
                ('last_day', models.DateField()),
                ('released_at', models.DateTimeField(null=True)),
                ('release_reason', models.CharField(blank=True, max_length=200)),
                ('hammer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='commitments', to='fleet.hammer')),
                ('housing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='commitments', to='fleet.suppressorhousing')),
                ('released_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='commitments', to='ratings.extractionjob')),
                ('answer', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='commitment', to='ratings.jobanswer')),
            ],
            options={
                'ordering': ['first_day', 'pk'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('last_day__gte', models.F('first_day'))), name='commitment_ends_after_it_begins'),
                    models.CheckConstraint(condition=models.Q(models.Q(('release_reason', ''), ('released_at__isnull', True), ('released_by__isnull', True)), models.Q(('released_at__isnull', False), ('released_by__isnull', False), models.Q(('release_reason', ''), _negated=True)), _connector='OR'), name='commitment_released_by_somebody_for_a_reason'),
                ],
            },
        ),
        migrations.CreateModel(
            name='PileSection',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(help_text='As it is to be chosen.', max_length=80, unique=True, validators=[fleet.characters.check_name])),
                ('kind', models.CharField(choices=[('sheet pair', 'sheet pair'), ('H', 'H-pile'), ('pipe', 'pipe'), ('timber', 'timber'), ('concrete', 'concrete')], max_length=10)),
                ('area_in2', models.FloatField()),
                ('weight_lb_ft', models.FloatField()),
                ('perimeter_in', models.FloatField()),
                ('plug_area_in2', models.FloatField(default=0.0)),
                ('source', models.CharField(help_text='Where these figures are from.', max_length=160)),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['kind', 'name'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('area_in2__gt', 0), ('kind__in', ['sheet pair', 'H', 'pipe', 'timber', 'concrete']), ('perimeter_in__gt', 0), ('plug_area_in2__gte', 0), ('weight_lb_ft__gt', 0)), name='pile_section_in_range'),
                ],
            },
        ),
        migrations.CreateModel(
            name='SoilLayer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('place', models.PositiveSmallIntegerField(help_text='From 0 at the ground.')),
                ('kind', models.CharField(choices=[('cohesive', 'cohesive (clay, silt)'), ('granular', 'granular (sand, gravel)'), ('other', 'other (peat, fill, rock): friction entered')], max_length=10)),
                ('top_ft', models.FloatField()),
                ('bottom_ft', models.FloatField()),
                ('unit_weight_lb_ft3', models.FloatField()),
                ('undrained_strength_psf', models.FloatField(null=True)),
                ('density', models.CharField(blank=True, max_length=40)),
                ('friction_psf', models.FloatField(null=True)),
                ('soil', models.CharField(blank=True, max_length=80)),
                ('vibration_factor', models.FloatField(null=True)),
                ('needed_amplitude_in', models.FloatField(null=True)),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='layers', to='ratings.extractionjob')),
            ],
            options={
                'ordering': ['place'],
                'constraints': [
                    models.UniqueConstraint(fields=('job', 'place'), name='layer_once_in_its_place'),
                    models.CheckConstraint(condition=models.Q(('bottom_ft__gt', models.F('top_ft')), ('top_ft__gte', 0), ('unit_weight_lb_ft3__gt', 0)), name='layer_has_thickness'),
                ],
            },
        ),
        migrations.CreateModel(
            name='SoilTemplate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(help_text='As it is to be chosen.', max_length=80, unique=True, validators=[fleet.characters.check_name])),
                ('water_depth_ft', models.FloatField(null=True)),
                ('layers', models.JSONField()),
                ('note', models.CharField(blank=True, help_text='Such as the borings it rests on.', max_length=200)),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['name'],
            },
        ),
        migrations.CreateModel(
            name='YardDistance',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('distance_mi', models.FloatField()),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='distances', to='ratings.extractionjob')),
                ('yard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.yard')),
            ],
            options={
                'constraints': [
                    models.UniqueConstraint(fields=('job', 'yard'), name='one_distance_of_a_yard'),
                    models.CheckConstraint(condition=models.Q(('distance_mi__gte', 0)), name='yard_distance_not_negative'),
                ],
            },
        ),
        migrations.AddField(
            model_name='lotrating',
            name='tests',
            field=models.ManyToManyField(related_name='ratings', through='ratings.RatedTest', to='ratings.benchtest'),
        ),
        AppendOnly("BenchTest"),
        AppendOnly("BenchReading"),
        AppendOnly("LotRating"),
        AppendOnly("RatedTest"),
        AppendOnly("RatingApproval"),
        AppendOnly("RatingWithdrawal"),
        AppendOnly("Listing"),
        AppendOnly("RatingPolicy"),
        AppendOnly("LedgerEntry"),
        AppendOnly("ExtractionRules"),
        AppendOnly("JobAnswer"),
        RefuseOverlap("Commitment", "housing"),
        RefuseOverlap("Commitment", "hammer"),
    ]
