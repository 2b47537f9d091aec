import django.db.models.deletion
import django.db.models.functions.text
import fleet.characters
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """What was seen, found and done at a unit: one step in place of those that led here."""

    initial = True

    replaces = [
        ('inspections', '0001_initial'),
        ('inspections', '0002_append_only'),
        ('inspections', '0003_checklists_findings_schedule'),
        ('inspections', '0004_append_only_again'),
        ('inspections', '0005_own_kinds'),
    ]

    dependencies = [
        ('fleet', '0006_shelves_hold'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='PadReplacement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('fitted_at', models.DateTimeField()),
                ('note', models.TextField(blank=True, max_length=2000)),
                ('housing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='replacements', to='fleet.suppressorhousing')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-fitted_at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='OwnKind',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('name', models.CharField(help_text='In small letters.', max_length=40, unique=True, validators=[fleet.characters.check_name])),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['name'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('name', django.db.models.functions.text.Lower('name'))), name='own_kind_in_small_letters'),
                    models.CheckConstraint(condition=models.Q(('name__in', ['', 'pad count', 'each shift', 'monthly', 'yearly', 'after repair', 'before extraction']), _negated=True), name='own_kind_is_no_common_one'),
                ],
            },
        ),
        migrations.CreateModel(
            name='Inspection',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('seen_at', models.DateTimeField()),
                ('travel_in', models.FloatField(null=True)),
                ('travel_reason', models.CharField(blank=True, max_length=200, verbose_name='why the travel is beyond the design travel')),
                ('note', models.TextField(blank=True, max_length=2000)),
                ('correction_reason', models.CharField(blank=True, max_length=200)),
                ('corrects', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='inspections.inspection')),
                ('hour_reading', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='inspection', to='fleet.hourreading')),
                ('housing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='inspections', to='fleet.suppressorhousing')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('corrects_replacement', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='inspections.padreplacement')),
                ('kind', models.CharField(blank=True, choices=[('pad count', 'pad count'), ('each shift', 'each shift'), ('monthly', 'monthly'), ('yearly', 'yearly'), ('after repair', 'after repair'), ('before extraction', 'before extraction')], default='pad count', max_length=20)),
                ('weather', models.CharField(blank=True, max_length=80)),
                ('own_kind', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='inspections', to='inspections.ownkind')),
            ],
            options={
                'ordering': ['-seen_at', '-pk'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('travel_in__isnull', True), models.Q(('travel_in__gt', 0), ('travel_in__lte', 36.0)), _connector='OR'), name='inspection_travel_in_range'),
                    models.CheckConstraint(condition=models.Q(models.Q(('correction_reason', ''), ('corrects__isnull', True), ('corrects_replacement__isnull', True)), models.Q(models.Q(('corrects__isnull', True), ('corrects_replacement__isnull', True), _connector='OR'), models.Q(('correction_reason', ''), _negated=True)), _connector='OR'), name='inspection_corrects_one_thing_with_a_reason'),
                    models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ['pad count', 'each shift', 'monthly', 'yearly', 'after repair', 'before extraction']), ('own_kind__isnull', True)), models.Q(('kind', ''), ('own_kind__isnull', False)), _connector='OR'), name='inspection_kind_known'),
                ],
            },
        ),
        migrations.CreateModel(
            name='ReplacedPad',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('side', models.CharField(choices=[('A', 'side A'), ('B', 'side B')], max_length=1)),
                ('number', models.PositiveSmallIntegerField()),
                ('removed_condition', models.CharField(blank=True, choices=[('sound', 'sound'), ('cracked', 'cracked'), ('debonded', 'debonded'), ('swollen', 'swollen'), ('missing', 'missing')], max_length=10)),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pads_fitted', to='fleet.padlot')),
                ('removed_lot', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='pads_removed', to='fleet.padlot')),
                ('replacement', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pads', to='inspections.padreplacement')),
            ],
            options={
                'ordering': ['side', 'number'],
                'constraints': [
                    models.UniqueConstraint(fields=('replacement', 'side', 'number'), name='pad_replaced_once'),
                    models.CheckConstraint(condition=models.Q(('number__gte', 1), ('side__in', ['A', 'B'])), name='replaced_pad_position_known'),
                ],
            },
        ),
        migrations.CreateModel(
            name='PadCount',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('side', models.CharField(choices=[('A', 'side A'), ('B', 'side B')], max_length=1)),
                ('number', models.PositiveSmallIntegerField()),
                ('condition', models.CharField(choices=[('sound', 'sound'), ('cracked', 'cracked'), ('debonded', 'debonded'), ('swollen', 'swollen'), ('missing', 'missing')], max_length=10)),
                ('inspection', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pads', to='inspections.inspection')),
                ('lot', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='pads_seen', to='fleet.padlot')),
            ],
            options={
                'ordering': ['side', 'number'],
                'constraints': [
                    models.UniqueConstraint(fields=('inspection', 'side', 'number'), name='pad_counted_once'),
                    models.CheckConstraint(condition=models.Q(('condition__in', ['sound', 'cracked', 'debonded', 'swollen', 'missing']), ('number__gte', 1), ('side__in', ['A', 'B'])), name='pad_count_position_and_condition_known'),
                    models.CheckConstraint(condition=models.Q(models.Q(('condition', 'missing'), _negated=True), ('lot__isnull', True), _connector='OR'), name='pad_count_missing_has_no_lot'),
                ],
            },
        ),
        migrations.CreateModel(
            name='CalendarFeed',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('secret_hash', models.CharField(max_length=64, unique=True)),
                ('made_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('revoked_at', models.DateTimeField(null=True)),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='calendar_feeds', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [
                    models.UniqueConstraint(condition=models.Q(('revoked_at__isnull', True)), fields=('user',), name='one_calendar_feed_at_a_time'),
                ],
            },
        ),
        migrations.CreateModel(
            name='Checklist',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('kind', models.CharField(blank=True, choices=[('pad count', 'pad count'), ('each shift', 'each shift'), ('monthly', 'monthly'), ('yearly', 'yearly'), ('after repair', 'after repair'), ('before extraction', 'before extraction')], max_length=20)),
                ('items', models.JSONField()),
                ('reason', models.CharField(max_length=200)),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('own_kind', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='checklists', to='inspections.ownkind')),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ['pad count', 'each shift', 'monthly', 'yearly', 'after repair', 'before extraction']), ('own_kind__isnull', True)), models.Q(('kind', ''), ('own_kind__isnull', False)), _connector='OR'), name='checklist_kind_known'),
                ],
            },
        ),
        migrations.CreateModel(
            name='Finding',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveSmallIntegerField(help_text='From 1 within its inspection.')),
                ('item_key', models.CharField(blank=True, help_text='Of the checklist, if any.', max_length=40)),
                ('severity', models.CharField(choices=[('note', 'monitor'), ('mend', 'repair'), ('stop', 'do not use')], max_length=6)),
                ('text', models.CharField(max_length=1000)),
                ('act_by', models.DateField(null=True)),
                ('who_acts', models.CharField(blank=True, max_length=80)),
                ('housing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='findings', to='fleet.suppressorhousing')),
                ('inspection', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='findings', to='inspections.inspection')),
                ('out_of_service', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='findings', to='fleet.outofservice')),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [
                    models.UniqueConstraint(fields=('inspection', 'number'), name='finding_numbered_once'),
                    models.CheckConstraint(condition=models.Q(('severity__in', ['note', 'mend', 'stop'])), name='finding_severity_known'),
                    models.CheckConstraint(condition=models.Q(('severity', 'note'), models.Q(('act_by__isnull', False), models.Q(('who_acts', ''), _negated=True)), _connector='OR'), name='finding_to_mend_says_who_and_when'),
                    models.CheckConstraint(condition=models.Q(('text', ''), _negated=True), name='finding_says_what'),
                ],
            },
        ),
        migrations.CreateModel(
            name='FindingClosing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('closed_at', models.DateTimeField()),
                ('done', models.CharField(max_length=1000)),
                ('finding', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='closing', to='inspections.finding')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [
                    models.CheckConstraint(condition=models.Q(('done', ''), _negated=True), name='closing_says_what_was_done'),
                ],
            },
        ),
        migrations.CreateModel(
            name='ItemAnswer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('place', models.PositiveSmallIntegerField()),
                ('key', models.CharField(max_length=40)),
                ('part', models.CharField(max_length=40)),
                ('text', models.CharField(help_text='As it read that day.', max_length=200)),
                ('state', models.CharField(choices=[('done', 'done'), ('not applicable', 'not applicable'), ('finding', 'finding')], max_length=16)),
                ('reason', models.CharField(blank=True, help_text='Why it does not apply.', max_length=200)),
                ('inspection', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='answers', to='inspections.inspection')),
            ],
            options={
                'ordering': ['place'],
                'constraints': [
                    models.UniqueConstraint(fields=('inspection', 'key'), name='item_answered_once'),
                    models.CheckConstraint(condition=models.Q(('state__in', ['done', 'not applicable', 'finding'])), name='item_state_known'),
                    models.CheckConstraint(condition=models.Q(models.Q(('state', 'not applicable'), _negated=True), models.Q(('reason', ''), _negated=True), _connector='OR'), name='item_not_applicable_for_a_reason'),
                ],
            },
        ),
        migrations.CreateModel(
            name='Photo',
            fields=[
                ('id', models.UUIDField(primary_key=True, serialize=False)),
                ('caption', models.CharField(blank=True, max_length=200)),
                ('finding', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='photos', to='inspections.finding')),
                ('inspection', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='photos', to='inspections.inspection')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='PhotoFile',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('file', models.FileField(upload_to='inspections/%Y/%m/')),
                ('sha256', models.CharField(help_text='Of the file as kept.', max_length=64)),
                ('width', models.PositiveIntegerField()),
                ('height', models.PositiveIntegerField()),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('photo', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='held', to='inspections.photo')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='ServiceSchedule',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('rows', models.JSONField()),
                ('reason', models.CharField(max_length=200)),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='KindRetirement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('retired_at', models.DateTimeField()),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('kind', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='retirement', to='inspections.ownkind')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        AppendOnly("Inspection"),
        AppendOnly("PadCount"),
        AppendOnly("PadReplacement"),
        AppendOnly("ReplacedPad"),
        AppendOnly("Checklist"),
        AppendOnly("ItemAnswer"),
        AppendOnly("Finding"),
        AppendOnly("FindingClosing"),
        AppendOnly("Photo"),
        AppendOnly("PhotoFile"),
        AppendOnly("ServiceSchedule"),
        AppendOnly("OwnKind"),
        AppendOnly("KindRetirement"),
    ]
