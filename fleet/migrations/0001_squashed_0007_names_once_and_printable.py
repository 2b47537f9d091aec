import django.core.validators
import django.db.models.deletion
import django.db.models.functions.text
import fleet.characters
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """What the yard owns: one step in place of those that led here."""

    initial = True

    replaces = [
        ('fleet', '0001_initial'),
        ('fleet', '0002_append_only'),
        ('fleet', '0003_hammer_figures_and_service'),
        ('fleet', '0004_planning'),
        ('fleet', '0005_shelves_and_meters'),
        ('fleet', '0006_shelves_hold'),
        ('fleet', '0007_names_once_and_printable'),
    ]

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Yard',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=80, unique=True, validators=[fleet.characters.check_name])),
                ('place', models.CharField(blank=True, max_length=120)),
            ],
            options={
                'ordering': ['name'],
                'permissions': [('keep_records', 'Can keep records: inspect, replace, test, list'), ('plan_jobs', 'Can plan extractions and commit units')],
                'constraints': [
                    models.UniqueConstraint(django.db.models.functions.text.Lower('name'), name='yard_named_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
                ],
            },
        ),
        migrations.CreateModel(
            name='PadLot',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('mark', models.CharField(max_length=40, unique=True, validators=[fleet.characters.check_name], verbose_name='lot mark')),
                ('supplier', models.CharField(blank=True, max_length=80)),
                ('hardness_shore_a', models.FloatField(null=True)),
                ('bonded_area_in2', models.FloatField(null=True)),
                ('rubber_thickness_in', models.FloatField(null=True)),
                ('note', models.TextField(blank=True)),
                ('in_stock', models.PositiveIntegerField(default=0, editable=False)),
                ('reorder_point', models.PositiveIntegerField(null=True)),
                ('use_by', models.DateField(blank=True, help_text='When rubber on the shelf is too old, by its supplier or the yard’s own rule.', null=True, verbose_name='use by')),
            ],
            options={
                'ordering': ['mark'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('in_stock__gte', 0)), name='pad_lot_stock_not_below_zero'),
                    models.CheckConstraint(condition=models.Q(models.Q(('bonded_area_in2__isnull', True), ('bonded_area_in2__gt', 0), _connector='OR'), models.Q(('rubber_thickness_in__isnull', True), ('rubber_thickness_in__gt', 0), _connector='OR')), name='pad_lot_rubber_possible'),
                    models.CheckConstraint(condition=models.Q(('hardness_shore_a__isnull', True), models.Q(('hardness_shore_a__gte', 0), ('hardness_shore_a__lte', 100)), _connector='OR'), name='pad_lot_hardness_in_range'),
                    models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='pad_lot_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
                ],
            },
        ),
        migrations.CreateModel(
            name='SuppressorHousing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('mark', models.CharField(help_text='What is painted on it.', max_length=40, unique=True, validators=[fleet.characters.check_name], verbose_name='yard mark')),
                ('serial_number', models.CharField(blank=True, max_length=80)),
                ('positions_per_side', models.PositiveSmallIntegerField()),
                ('design_travel_in', models.FloatField()),
                ('bumper', models.CharField(blank=True, help_text='What stands in the stop and shortens the travel.', max_length=120)),
                ('note', models.TextField(blank=True)),
                ('travel_in', models.FloatField(editable=False, null=True)),
                ('travel_seen_at', models.DateTimeField(editable=False, null=True)),
                ('yard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='housings', to='fleet.yard')),
                ('weight_lb', models.FloatField(null=True)),
            ],
            options={
                'ordering': ['mark'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('positions_per_side__gte', 1), ('positions_per_side__lte', 24)), name='housing_positions_in_range'),
                    models.CheckConstraint(condition=models.Q(('design_travel_in__gt', 0), ('design_travel_in__lte', 36.0)), name='housing_design_travel_in_range'),
                    models.CheckConstraint(condition=models.Q(('travel_in__isnull', True), models.Q(('travel_in__gt', 0), ('travel_in__lte', 36.0)), _connector='OR'), name='housing_travel_in_range'),
                    models.CheckConstraint(condition=models.Q(models.Q(('travel_in__isnull', True), ('travel_seen_at__isnull', True)), models.Q(('travel_in__isnull', False), ('travel_seen_at__isnull', False)), _connector='OR'), name='housing_travel_dated'),
                    models.CheckConstraint(condition=models.Q(('weight_lb__isnull', True), ('weight_lb__gte', 0), _connector='OR'), name='housing_weight_not_negative'),
                    models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='housing_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
                ],
            },
        ),
        migrations.CreateModel(
            name='Hammer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('mark', models.CharField(help_text='What is painted on it.', max_length=40, unique=True, validators=[fleet.characters.check_name], verbose_name='yard mark')),
                ('make', models.CharField(blank=True, max_length=80)),
                ('type_name', models.CharField(blank=True, max_length=80, verbose_name='type')),
                ('serial_number', models.CharField(blank=True, max_length=80)),
                ('note', models.TextField(blank=True)),
                ('yard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='hammers', to='fleet.yard')),
                ('clamp_force_lbf', models.FloatField(null=True)),
                ('clamp_weight_lb', models.FloatField(null=True)),
                ('eccentric_moment_lb_in', models.FloatField(null=True)),
                ('exciter_weight_lb', models.FloatField(null=True)),
                ('figures_source', models.CharField(blank=True, help_text='Such as the data plate, and who read it when.', max_length=160, verbose_name='source of these figures')),
                ('frequency_vpm', models.FloatField(null=True)),
            ],
            options={
                'ordering': ['mark'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(models.Q(('eccentric_moment_lb_in__isnull', True), ('eccentric_moment_lb_in__gt', 0), _connector='OR'), models.Q(('frequency_vpm__isnull', True), ('frequency_vpm__gt', 0), _connector='OR'), models.Q(('exciter_weight_lb__isnull', True), ('exciter_weight_lb__gt', 0), _connector='OR'), models.Q(('clamp_force_lbf__isnull', True), ('clamp_force_lbf__gt', 0), _connector='OR'), models.Q(('clamp_weight_lb__isnull', True), ('clamp_weight_lb__gte', 0), _connector='OR')), name='hammer_figures_in_range'),
                    models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='hammer_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
                ],
            },
        ),
        migrations.CreateModel(
            name='HourReading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('hours', models.FloatField()),
                ('read_at', models.DateTimeField()),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('hammer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='hour_readings', to='fleet.hammer')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-read_at', '-pk'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('hours__gte', 0), ('hours__lte', 1000000)), name='hours_in_range'),
                ],
            },
        ),
        migrations.CreateModel(
            name='ReaderPreference',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('units', models.CharField(choices=[('us', 'US customary'), ('si', 'SI')], default='us', max_length=2)),
                ('user', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='reader_preference', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('units__in', ['us', 'si'])), name='reader_units_known'),
                ],
            },
        ),
        migrations.CreateModel(
            name='StockMove',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('received', 'received'), ('fitted', 'fitted'), ('scrapped', 'scrapped'), ('tested', 'tested and not returned'), ('counted', 'counted on the shelf'), ('moved', 'moved to or from another yard')], max_length=10)),
                ('change', models.IntegerField()),
                ('occurred_at', models.DateTimeField()),
                ('note', models.CharField(blank=True, max_length=200)),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Of the form that made it; none where a signing did.', null=True, unique=True)),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='moves', to='fleet.padlot')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('yard', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='stock_moves', to='fleet.yard')),
            ],
            options={
                'ordering': ['-occurred_at', '-pk'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(models.Q(('change__gt', 0), ('kind', 'received')), models.Q(('change__lt', 0), ('kind__in', ['fitted', 'scrapped', 'tested'])), models.Q(('kind__in', ['counted', 'moved']), models.Q(('change', 0), _negated=True)), _connector='OR'), name='stock_move_kind_and_direction'),
                ],
            },
        ),
        migrations.CreateModel(
            name='PadPosition',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('side', models.CharField(choices=[('A', 'side A'), ('B', 'side B')], max_length=1)),
                ('number', models.PositiveSmallIntegerField()),
                ('condition', models.CharField(blank=True, choices=[('sound', 'sound'), ('cracked', 'cracked'), ('debonded', 'debonded'), ('swollen', 'swollen'), ('missing', 'missing')], help_text='Blank until first counted.', max_length=10)),
                ('seen_at', models.DateTimeField(null=True)),
                ('lot', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='positions', to='fleet.padlot')),
                ('housing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='positions', to='fleet.suppressorhousing')),
            ],
            options={
                'ordering': ['side', 'number'],
                'constraints': [
                    models.UniqueConstraint(fields=('housing', 'side', 'number'), name='pad_position_once'),
                    models.CheckConstraint(condition=models.Q(('side__in', ['A', 'B'])), name='pad_position_side_known'),
                    models.CheckConstraint(condition=models.Q(('number__gte', 1)), name='pad_position_numbered_from_one'),
                    models.CheckConstraint(condition=models.Q(('condition', ''), ('condition__in', ['sound', 'cracked', 'debonded', 'swollen', 'missing']), _connector='OR'), name='pad_position_condition_known'),
                    models.CheckConstraint(condition=models.Q(models.Q(('condition__in', ['', 'missing']), _negated=True), ('lot__isnull', True), _connector='OR'), name='pad_position_missing_has_no_lot'),
                    models.CheckConstraint(condition=models.Q(models.Q(('condition', ''), ('seen_at__isnull', True)), models.Q(models.Q(('condition', ''), _negated=True), ('seen_at__isnull', False)), _connector='OR'), name='pad_position_seen_when_known'),
                ],
            },
        ),
        migrations.CreateModel(
            name='Mounting',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('mounted_at', models.DateTimeField()),
                ('removed_at', models.DateTimeField(blank=True, null=True)),
                ('hammer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='mountings', to='fleet.hammer')),
                ('housing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='mountings', to='fleet.suppressorhousing')),
            ],
            options={
                'ordering': ['-mounted_at'],
                'constraints': [
                    models.UniqueConstraint(condition=models.Q(('removed_at', None)), fields=('housing',), name='housing_on_one_hammer'),
                    models.UniqueConstraint(condition=models.Q(('removed_at', None)), fields=('hammer',), name='hammer_under_one_housing'),
                    models.CheckConstraint(condition=models.Q(('removed_at__isnull', True), ('removed_at__gte', models.F('mounted_at')), _connector='OR'), name='mounting_ends_after_it_begins'),
                ],
            },
        ),
        migrations.CreateModel(
            name='OutOfService',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('since', models.DateTimeField()),
                ('reason', models.CharField(max_length=200)),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('released_at', models.DateTimeField(null=True)),
                ('release_reason', models.CharField(blank=True, max_length=200)),
                ('housing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='times_out_of_service', to='fleet.suppressorhousing')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('released_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('qualified_person', models.CharField(blank=True, help_text='Who, being qualified to, found it fit to go out.', max_length=80)),
            ],
            options={
                'verbose_name': 'time out of service',
                'verbose_name_plural': 'times out of service',
                'ordering': ['-since', '-pk'],
                'constraints': [
                    models.UniqueConstraint(condition=models.Q(('released_at__isnull', True)), fields=('housing',), name='out_of_service_once_at_a_time'),
                    models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='out_of_service_for_a_reason'),
                    models.CheckConstraint(condition=models.Q(models.Q(('release_reason', ''), ('released_at__isnull', True), ('released_by__isnull', True)), models.Q(('released_at__gte', models.F('since')), ('released_by__isnull', False), models.Q(('release_reason', ''), _negated=True)), _connector='OR'), name='released_by_somebody_for_a_reason'),
                ],
            },
        ),
        migrations.CreateModel(
            name='MeterChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('changed_at', models.DateTimeField()),
                ('old_hours', models.FloatField()),
                ('new_hours', models.FloatField()),
                ('reason', models.CharField(max_length=200, verbose_name='why')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('hammer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='meter_changes', to='fleet.hammer')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-changed_at', '-pk'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('new_hours__gte', 0), ('new_hours__lte', 1000000), ('old_hours__gte', 0), ('old_hours__lte', 1000000)), name='meter_change_in_range'),
                    models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='meter_change_for_a_reason'),
                ],
            },
        ),
        migrations.CreateModel(
            name='ShelfCount',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('pads', models.PositiveIntegerField(default=0)),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='shelves', to='fleet.padlot')),
                ('yard', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='shelves', to='fleet.yard')),
            ],
            options={
                'ordering': ['lot', 'yard'],
                'constraints': [
                    models.UniqueConstraint(fields=('lot', 'yard'), name='one_shelf_of_a_lot_in_a_yard'),
                    models.UniqueConstraint(condition=models.Q(('yard', None)), fields=('lot',), name='one_shelf_of_a_lot_in_no_yard'),
                    models.CheckConstraint(condition=models.Q(('pads__gte', 0)), name='shelf_not_below_zero'),
                ],
            },
        ),
        AppendOnly("StockMove"),
        AppendOnly("HourReading"),
        AppendOnly("MeterChange"),
    ]
