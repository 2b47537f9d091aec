import django.db.models.deletion
import django.db.models.expressions
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """Hand-overs of hired units, their photos, and checks of hammers that are not ours."""

    dependencies = [
        ('fleet', '0018_hires'),
        ('inspections', '0011_second_looks_and_needs'),
        ('ratings', '0023_who_watched_a_pull'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='HandOver',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('way', models.CharField(choices=[('out', 'handed out'), ('back', 'taken back')], max_length=4)),
                ('signed_at', models.DateTimeField(verbose_name='handed over and signed at')),
                ('given_by', models.CharField(max_length=80, verbose_name='who hands it over')),
                ('taken_by', models.CharField(max_length=80, verbose_name='who takes it over')),
                ('housing_mark', models.CharField(help_text='As read off the housing itself.', max_length=40, verbose_name='mark on the housing')),
                ('hammer_mark', models.CharField(help_text='As read off the hammer itself.', max_length=40, verbose_name='mark on the hammer')),
                ('remarks', models.CharField(blank=True, max_length=1000)),
                ('entry', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ratings.ledgerentry')),
                ('hire', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='hand_overs', to='fleet.hire')),
                ('inspection', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='hand_overs', to='inspections.inspection')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='HandOverPhoto',
            fields=[
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('id', models.UUIDField(primary_key=True, serialize=False)),
                ('caption', models.CharField(blank=True, max_length=200)),
                ('file', models.FileField(upload_to='hires/%Y/%m/')),
                ('sha256', models.CharField(help_text='Of the file as kept.', max_length=64)),
                ('width', models.PositiveIntegerField()),
                ('height', models.PositiveIntegerField()),
                ('hand_over', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='photos', to='inspections.handover')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['recorded_at'],
            },
        ),
        migrations.CreateModel(
            name='ForeignCheck',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('owner', models.CharField(max_length=120, verbose_name='whose it is')),
                ('make_and_type', models.CharField(help_text='As it is marked.', max_length=120, verbose_name='make and type')),
                ('mark', models.CharField(help_text='Mark or number on the machine.', max_length=60, verbose_name='mark')),
                ('checked_at', models.DateTimeField(verbose_name='checked at')),
                ('positions_per_side', models.PositiveSmallIntegerField()),
                ('sound_a', models.PositiveSmallIntegerField(default=0)),
                ('cracked_a', models.PositiveSmallIntegerField(default=0)),
                ('debonded_a', models.PositiveSmallIntegerField(default=0)),
                ('swollen_a', models.PositiveSmallIntegerField(default=0)),
                ('missing_a', models.PositiveSmallIntegerField(default=0)),
                ('sound_b', models.PositiveSmallIntegerField(default=0)),
                ('cracked_b', models.PositiveSmallIntegerField(default=0)),
                ('debonded_b', models.PositiveSmallIntegerField(default=0)),
                ('swollen_b', models.PositiveSmallIntegerField(default=0)),
                ('missing_b', models.PositiveSmallIntegerField(default=0)),
                ('travel_in', models.FloatField()),
                ('is_guided', models.BooleanField(default=False, verbose_name='the housing is kept level, so that both sides stretch alike')),
                ('guided_reason', models.CharField(blank=True, help_text='Such as: two guide rods.', max_length=200, verbose_name='what keeps it level')),
                ('rate_from', models.CharField(choices=[('lot', 'they are of one of our lots'), ('measured', 'a pad of theirs was measured'), ('unknown', 'not known')], max_length=8, verbose_name='rate of its pads')),
                ('rate_lbf_in', models.FloatField(null=True)),
                ('spread_lbf_in', models.FloatField(null=True)),
                ('pads_measured', models.PositiveSmallIntegerField(null=True)),
                ('rate_error_lbf_in', models.FloatField(null=True)),
                ('tested_stretch_in', models.FloatField(null=True)),
                ('measured_where', models.CharField(blank=True, max_length=200, verbose_name='where it was measured, by whom and when')),
                ('stated_listed_lbf', models.FloatField(null=True)),
                ('note', models.CharField(blank=True, max_length=1000)),
                ('document', models.TextField()),
                ('hash', models.CharField(max_length=64)),
                ('correction_reason', models.CharField(blank=True, max_length=200)),
                ('corrects', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='inspections.foreigncheck')),
                ('rating', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='foreign_checks', to='ratings.lotrating')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-checked_at', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('owner', ''), _negated=True), models.Q(('make_and_type', ''), _negated=True), models.Q(('mark', ''), _negated=True)), name='foreign_check_says_whose_and_which'), models.CheckConstraint(condition=models.Q(('positions_per_side', django.db.models.expressions.CombinedExpression(django.db.models.expressions.CombinedExpression(django.db.models.expressions.CombinedExpression(django.db.models.expressions.CombinedExpression(models.F('sound_a'), '+', models.F('cracked_a')), '+', models.F('debonded_a')), '+', models.F('swollen_a')), '+', models.F('missing_a'))), ('positions_per_side', django.db.models.expressions.CombinedExpression(django.db.models.expressions.CombinedExpression(django.db.models.expressions.CombinedExpression(django.db.models.expressions.CombinedExpression(models.F('sound_b'), '+', models.F('cracked_b')), '+', models.F('debonded_b')), '+', models.F('swollen_b')), '+', models.F('missing_b')))), name='foreign_check_counts_every_position'), models.CheckConstraint(condition=models.Q(('travel_in__gt', 0)), name='foreign_check_travel_known'), models.CheckConstraint(condition=models.Q(('is_guided', False), models.Q(('guided_reason', ''), _negated=True), _connector='OR'), name='foreign_check_guided_for_a_reason'), models.CheckConstraint(condition=models.Q(models.Q(('rate_from', 'lot'), ('rate_lbf_in__isnull', True), ('rating__isnull', False)), models.Q(('pads_measured__gte', 1), ('rate_from', 'measured'), ('rate_lbf_in__gt', 0), ('rating__isnull', True), ('tested_stretch_in__gt', 0), models.Q(('measured_where', ''), _negated=True)), models.Q(('rate_from', 'unknown'), ('rate_lbf_in__isnull', True), ('rating__isnull', True)), _connector='OR'), name='foreign_check_rate_of_one_source'), models.CheckConstraint(condition=models.Q(models.Q(('correction_reason', ''), ('corrects__isnull', True)), models.Q(('corrects__isnull', False), models.Q(('correction_reason', ''), _negated=True)), _connector='OR'), name='foreign_check_corrects_for_a_reason')],
            },
        ),
        migrations.AddConstraint(
            model_name='handover',
            constraint=models.UniqueConstraint(fields=('hire', 'way'), name='handed_over_once_each_way'),
        ),
        migrations.AddConstraint(
            model_name='handover',
            constraint=models.UniqueConstraint(fields=('inspection',), name='hand_over_has_its_own_inspection'),
        ),
        migrations.AddConstraint(
            model_name='handover',
            constraint=models.CheckConstraint(condition=models.Q(('way__in', ['out', 'back']), models.Q(('given_by', ''), _negated=True), models.Q(('taken_by', ''), _negated=True), models.Q(('housing_mark', ''), _negated=True), models.Q(('hammer_mark', ''), _negated=True)), name='hand_over_signed_by_both'),
        ),
        AppendOnly("HandOver"),
        AppendOnly("HandOverPhoto"),
        AppendOnly("ForeignCheck"),
    ]
