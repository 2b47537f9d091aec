import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """What became of pulls, how much they weigh, and factors of soils learned from them."""

    dependencies = [
        ('ratings', '0017_piles_off_the_job'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='LearnedFactor',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('soil', models.CharField(max_length=80)),
                ('prior_factor', models.FloatField()),
                ('prior_source', models.CharField(max_length=160)),
                ('prior_pulls', models.FloatField()),
                ('factor', models.FloatField()),
                ('factor_source', models.CharField(max_length=160)),
                ('low', models.FloatField()),
                ('high', models.FloatField()),
                ('pulls', models.JSONField(help_text='Keys of the pulls it rests on.')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('rules', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='learned', to='ratings.extractionrules')),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('factor__gt', 0), ('factor__lte', 1), ('high__gte', models.F('low')), ('low__gt', 0), ('prior_factor__gt', 0)), name='learned_factor_in_range')],
            },
        ),
        migrations.CreateModel(
            name='LearningRules',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('prior_pulls', models.FloatField()),
                ('least_share_pct', models.FloatField()),
                ('least_jobs', models.FloatField()),
                ('reason', models.CharField(max_length=200, verbose_name='why it changes')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name_plural': 'learning rules',
                'ordering': ['-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('least_jobs__gte', 1), ('least_share_pct__gte', 50), ('least_share_pct__lte', 100), ('prior_pulls__gte', 2)), name='learning_rules_in_range')],
            },
        ),
        migrations.CreateModel(
            name='PullRecord',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('pile_group', models.PositiveSmallIntegerField(help_text='Its number in the answer, from 1.')),
                ('group_label', models.CharField(blank=True, max_length=80)),
                ('pile_mark', models.CharField(help_text='Its number or mark on the site, such as 7 or B3.', max_length=40, verbose_name='which pile')),
                ('pulled_at', models.DateTimeField()),
                ('outcome', models.CharField(choices=[('came', 'it came'), ('did not come', 'it did not come'), ('came in part', 'it came in part, then stuck'), ('broke', 'pile or pulling gear broke')], max_length=12, verbose_name='did it come')),
                ('method', models.CharField(choices=[('vibrated', 'vibrated'), ('crane alone', 'by the crane alone, hammer still')], max_length=11, verbose_name='how it was pulled')),
                ('load_source', models.CharField(choices=[('load indicator', 'load indicator'), ('not read', 'not read')], max_length=14, verbose_name='hook load read from')),
                ('hook_load_lbf', models.FloatField(null=True)),
                ('tare_lbf', models.FloatField(null=True)),
                ('stretch_in', models.FloatField(null=True)),
                ('minutes', models.FloatField(null=True)),
                ('toe_depth_ft', models.FloatField(null=True)),
                ('in_the_way', models.CharField(blank=True, help_text='Such as a boulder, concrete on the toe, a bent flange; or anything else.', max_length=500, verbose_name='what was in the way')),
                ('clock_words', models.CharField(blank=True, max_length=200)),
                ('correction_reason', models.CharField(blank=True, max_length=200, verbose_name='why it is corrected')),
                ('pile_kind', models.CharField(choices=[('sheet pair', 'sheet pair'), ('H', 'H-pile'), ('pipe', 'pipe'), ('timber', 'timber'), ('concrete', 'concrete')], max_length=10)),
                ('weights_lb', models.FloatField(help_text='All that hangs from the hook, pile too.', null=True)),
                ('measured_lbf', models.FloatField(help_text='Resistance: hook load less the weights. A bound where it stayed.', null=True)),
                ('expected_lbf', models.FloatField(help_text="Resistance by the answer's ground.", null=True)),
                ('low_lbf', models.FloatField(null=True)),
                ('high_lbf', models.FloatField(null=True)),
                ('soil', models.CharField(blank=True, help_text='That holds most of the pile.', max_length=80)),
                ('soil_share', models.FloatField(help_text='Of the resistance expected.', null=True)),
                ('soil_static_lbf', models.FloatField(help_text='What that soil holds at rest.', null=True)),
                ('soil_rest_lbf', models.FloatField(help_text='What holds the pile beside it.', null=True)),
                ('doubts', models.JSONField(default=list)),
                ('answer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pulls', to='ratings.jobanswer')),
                ('commitment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pulls', to='ratings.commitment')),
                ('corrects', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='ratings.pullrecord')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pulled_at', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('load_source__in', ['load indicator', 'not read']), ('method__in', ['vibrated', 'crane alone']), ('outcome__in', ['came', 'did not come', 'came in part', 'broke']), ('pile_group__gte', 1), models.Q(('pile_mark', ''), _negated=True)), name='pull_record_words_known'), models.CheckConstraint(condition=models.Q(models.Q(('hook_load_lbf__gt', 0), ('load_source', 'load indicator')), models.Q(('hook_load_lbf__isnull', True), ('load_source', 'not read'), ('measured_lbf__isnull', True), ('tare_lbf__isnull', True)), _connector='OR'), name='pull_record_load_read_or_not'), models.CheckConstraint(condition=models.Q(models.Q(('stretch_in__isnull', True), ('stretch_in__gte', 0), _connector='OR'), models.Q(('minutes__isnull', True), ('minutes__gt', 0), _connector='OR'), models.Q(('toe_depth_ft__isnull', True), ('toe_depth_ft__gt', 0), _connector='OR'), models.Q(('tare_lbf__isnull', True), models.Q(('tare_lbf__gte', 0), ('tare_lbf__lt', models.F('hook_load_lbf'))), _connector='OR')), name='pull_record_possible'), models.CheckConstraint(condition=models.Q(models.Q(('correction_reason', ''), ('corrects__isnull', True)), models.Q(('corrects__isnull', False), models.Q(('correction_reason', ''), _negated=True)), _connector='OR'), name='pull_record_corrected_for_a_reason')],
            },
        ),
        AppendOnly("PullRecord"),
        AppendOnly("LearningRules"),
        AppendOnly("LearnedFactor"),
    ]
