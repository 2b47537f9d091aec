import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """A rating keeps which tests count and what else they come to; a person may decide which."""

    dependencies = [
        ('fleet', '0009_lot_corrections'),
        ('ratings', '0011_proof_pulls'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='lotrating',
            name='figures',
            field=models.JSONField(help_text='What else units are rated by, and which tests count and why; none of ratings drafted before it was kept, which are worked out again from their tests.', null=True),
        ),
        migrations.AlterField(
            model_name='lotrating',
            name='curve',
            field=models.JSONField(help_text='Knots [stretch_in, force_lbf, slope_lbf_in] of the monotone load curve.'),
        ),
        migrations.CreateModel(
            name='DecidedTest',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('test', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='decided_tests', to='ratings.benchtest')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='LotDecision',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('counts', models.CharField(choices=[('all', 'all of them, averaged'), ('newest', 'the newest alone'), ('rest', 'all but the newest')], max_length=6, verbose_name='what counts')),
                ('reason', models.CharField(max_length=200, verbose_name='why')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='decisions', to='fleet.padlot')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('tests', models.ManyToManyField(related_name='decisions', through='ratings.DecidedTest', to='ratings.benchtest')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.AddField(
            model_name='decidedtest',
            name='decision',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='decided_tests', to='ratings.lotdecision'),
        ),
        migrations.AddConstraint(
            model_name='lotdecision',
            constraint=models.CheckConstraint(condition=models.Q(('counts__in', ['all', 'newest', 'rest']), models.Q(('reason', ''), _negated=True)), name='lot_decision_known'),
        ),
        migrations.AddConstraint(
            model_name='decidedtest',
            constraint=models.UniqueConstraint(fields=('decision', 'test'), name='test_in_a_decision_once'),
        ),
        AppendOnly('LotDecision'),
        AppendOnly('DecidedTest'),
        # On SQLite a new column takes the table's triggers with it.
        AppendOnly('LotRating'),
    ]
