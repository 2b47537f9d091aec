import django.db.models.deletion
import django.db.models.functions.text
import fleet.characters
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """The pads of a bench test: their marks, where they came from and where they went."""

    dependencies = [
        ('fleet', '0007_names_once_and_printable'),
        ('ratings', '0008_stands_kept_honest'),
    ]

    operations = [
        migrations.CreateModel(
            name='BenchPad',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveSmallIntegerField()),
                ('mark', models.CharField(blank=True, help_text='What is painted or stamped on the pad itself. The same mark in a later test of the lot is the same pad.', max_length=40, validators=[fleet.characters.check_name], verbose_name='pad mark')),
                ('origin', models.CharField(blank=True, choices=[('new', 'new'), ('from service', 'from service')], max_length=12, verbose_name='where from')),
                ('side', models.CharField(blank=True, choices=[('A', 'side A'), ('B', 'side B')], max_length=1, verbose_name='side')),
                ('position', models.PositiveSmallIntegerField(null=True)),
                ('hours', models.FloatField(null=True)),
                ('fate', models.CharField(blank=True, choices=[('put back', 'put back'), ('scrapped', 'scrapped')], max_length=8, verbose_name='after the test')),
                ('housing', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='bench_pads', to='fleet.suppressorhousing', verbose_name='out of housing')),
                ('test', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pads', to='ratings.benchtest')),
            ],
            options={
                'ordering': ['number'],
                'constraints': [models.UniqueConstraint(fields=('test', 'number'), name='bench_pad_once'), models.UniqueConstraint(models.F('test'), django.db.models.functions.text.Lower('mark'), condition=models.Q(('mark', ''), _negated=True), name='bench_pad_marked_once', violation_error_message='Two pads of one test bear this mark.'), models.CheckConstraint(condition=models.Q(('number__gte', 1), ('number__lte', 40), ('origin__in', ['', 'new', 'from service']), ('side__in', ['', 'A', 'B']), ('fate__in', ['', 'put back', 'scrapped'])), name='bench_pad_words_known'), models.CheckConstraint(condition=models.Q(('origin', 'from service'), models.Q(('hours__isnull', True), ('housing__isnull', True), ('position__isnull', True), ('side', '')), _connector='OR'), name='bench_pad_served_where_it_came_from'), models.CheckConstraint(condition=models.Q(models.Q(('position__isnull', True), ('side', '')), models.Q(models.Q(('side', ''), _negated=True), ('housing__isnull', False), ('position__gte', 1), ('position__lte', 24)), _connector='OR'), name='bench_pad_position_whole'), models.CheckConstraint(condition=models.Q(('hours__isnull', True), models.Q(('hours__gte', 0), ('hours__lte', 1000000)), _connector='OR'), name='bench_pad_hours_in_range')],
            },
        ),
        AppendOnly('BenchPad'),
    ]
