import django.db.models.deletion
import django.db.models.functions.text
import fleet.characters
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """Load indicators, the pulls of whole units against them, and what a second person sets aside."""

    dependencies = [
        ('fleet', '0001_squashed_0007_names_once_and_printable'),
        ('ratings', '0010_policy_of_the_second_method'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='LoadIndicator',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('mark', models.CharField(max_length=40, unique=True, validators=[fleet.characters.check_name], verbose_name='yard mark')),
                ('kind', models.CharField(choices=[('load cell', 'load cell'), ('crane', 'load indicator of a crane')], max_length=9)),
                ('accuracy_pct', models.FloatField()),
                ('resolution_lbf', models.FloatField()),
                ('certificate_number', models.CharField(blank=True, max_length=80)),
                ('calibrated_on', models.DateField(blank=True, null=True)),
                ('due_on', models.DateField(blank=True, null=True, verbose_name='calibration due on')),
                ('yard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='load_indicators', to='fleet.yard')),
            ],
            options={
                'ordering': ['mark'],
            },
        ),
        migrations.CreateModel(
            name='ProofPull',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('indicator_kind', models.CharField(choices=[('load cell', 'load cell'), ('crane', 'load indicator of a crane')], max_length=9)),
                ('accuracy_pct', models.FloatField()),
                ('resolution_lbf', models.FloatField()),
                ('certificate_number', models.CharField(blank=True, max_length=80)),
                ('calibrated_on', models.DateField(null=True)),
                ('due_on', models.DateField(null=True)),
                ('tape_resolution_in', models.FloatField()),
                ('pulled_at', models.DateTimeField()),
                ('tare_lbf', models.FloatField()),
                ('weight_below_lb', models.FloatField(null=True)),
                ('rubber_temperature_f', models.FloatField(null=True)),
                ('anchor', models.CharField(help_text='The fixed anchor, and the load it is rated for.', max_length=200, verbose_name='what it was pulled against')),
                ('witness', models.CharField(blank=True, max_length=80)),
                ('note', models.TextField(blank=True)),
                ('sag_in', models.FloatField(help_text='Stretch the weight below gave the pads beforehand.')),
                ('stretch_in', models.FloatField(help_text='The largest stretch compared, from hanging free.')),
                ('measured_lbf', models.FloatField(help_text='Pull at it, by all readings together.')),
                ('expected_lbf', models.FloatField(help_text='Pull at it by what the ledger says of the pads.')),
                ('stiffness_lbf_in', models.FloatField()),
                ('expected_stiffness_lbf_in', models.FloatField()),
                ('ratio', models.FloatField(help_text='Measured over expected.')),
                ('half_width', models.FloatField(help_text='Expanded uncertainty of the ratio.')),
                ('own_share', models.FloatField(help_text='Standard uncertainty of it, from the pull alone.')),
                ('own_degrees_of_freedom', models.FloatField(help_text='None for infinitely many.', null=True)),
                ('coverage_factor', models.FloatField()),
                ('e_n', models.FloatField()),
                ('offset_lbf', models.FloatField(null=True)),
                ('pads_digest', models.CharField(help_text='Of the pads and the rates it was held to.', max_length=64)),
                ('parts', models.JSONField(help_text='[name, standard share of the expected pull] of each doubt.')),
                ('reservations', models.JSONField(help_text='What keeps it from lifting a softness.')),
                ('corrects', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='ratings.proofpull')),
                ('entry', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='proof_pulls', to='ratings.ledgerentry')),
                ('housing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='proof_pulls', to='fleet.suppressorhousing')),
                ('indicator', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='proof_pulls', to='ratings.loadindicator')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('tape', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='proof_pulls', to='ratings.tape')),
            ],
            options={
                'ordering': ['-pulled_at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='ProofDecision',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('reason', models.CharField(help_text='What was found, such as a sling chafing on the guide; not that it is unwelcome.', max_length=200, verbose_name='why it counts no more')),
                ('pull_recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('pull', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='decision', to='ratings.proofpull')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='ProofReading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveSmallIntegerField()),
                ('branch', models.CharField(choices=[('loading', 'loading'), ('unloading', 'unloading')], default='loading', max_length=9)),
                ('load_lbf', models.FloatField()),
                ('stretch_in', models.FloatField()),
                ('measured_lbf', models.FloatField(help_text='Load less what hung there already.')),
                ('expected_lbf', models.FloatField(help_text='What the pads should give there; none where they are not known.', null=True)),
                ('pull', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='readings', to='ratings.proofpull')),
            ],
            options={
                'ordering': ['number'],
            },
        ),
        migrations.AddConstraint(
            model_name='loadindicator',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('mark'), name='load_indicator_marked_once', violation_error_message='This one is on record already, in other small or capital letters: give it one of its own.'),
        ),
        migrations.AddConstraint(
            model_name='loadindicator',
            constraint=models.CheckConstraint(condition=models.Q(('accuracy_pct__gt', 0), ('accuracy_pct__lte', 50), ('kind__in', ['load cell', 'crane']), ('resolution_lbf__gt', 0)), name='load_indicator_possible'),
        ),
        migrations.AddConstraint(
            model_name='loadindicator',
            constraint=models.CheckConstraint(condition=models.Q(('calibrated_on__isnull', True), ('due_on__isnull', True), ('due_on__gt', models.F('calibrated_on')), _connector='OR'), name='load_indicator_due_after_calibrated'),
        ),
        migrations.AddConstraint(
            model_name='proofpull',
            constraint=models.CheckConstraint(condition=models.Q(('accuracy_pct__gt', 0), ('expected_lbf__gt', 0), ('half_width__gt', 0), ('own_share__gt', 0), ('ratio__gt', 0), ('resolution_lbf__gt', 0), ('sag_in__gte', 0), ('stretch_in__gt', 0), ('tape_resolution_in__gt', 0), ('tare_lbf__gte', 0)), name='proof_pull_possible'),
        ),
        migrations.AddConstraint(
            model_name='proofpull',
            constraint=models.CheckConstraint(condition=models.Q(('anchor', ''), _negated=True), name='proof_pull_against_an_anchor'),
        ),
        migrations.AddConstraint(
            model_name='proofdecision',
            constraint=models.CheckConstraint(condition=models.Q(('recorded_by', models.F('pull_recorded_by')), _negated=True), name='proof_pull_set_aside_by_a_second_person'),
        ),
        migrations.AddConstraint(
            model_name='proofdecision',
            constraint=models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='proof_pull_set_aside_for_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='proofreading',
            constraint=models.UniqueConstraint(fields=('pull', 'number'), name='proof_reading_once'),
        ),
        migrations.AddConstraint(
            model_name='proofreading',
            constraint=models.CheckConstraint(condition=models.Q(('load_lbf__gte', 0), ('measured_lbf__gt', 0), ('stretch_in__gt', 0)), name='proof_reading_possible'),
        ),
        AppendOnly("ProofPull"),
        AppendOnly("ProofReading"),
        AppendOnly("ProofDecision"),
    ]
