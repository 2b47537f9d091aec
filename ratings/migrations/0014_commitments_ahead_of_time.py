import django.db.models.deletion
import fleet.clock
import ratings.models.commitment
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly, RefuseOverlap


def give_codes(apps, schema_editor):
    """Give every commitment of before a code of its own."""
    commitment = apps.get_model("ratings", "Commitment")
    for each in commitment.objects.filter(code__isnull=True).only("pk"):
        commitment.objects.filter(pk=each.pk).update(code=ratings.models.commitment.crew_code())


class Migration(migrations.Migration):
    """Commitments made ahead of time, confirmed later; whom they were told to; the crew's code."""

    dependencies = [
        ('fleet', '0010_transfers'),
        ('ratings', '0013_planning_of_jobs'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='commitment',
            name='code',
            field=models.CharField(editable=False, max_length=22, null=True),
        ),
        migrations.RunPython(give_codes, migrations.RunPython.noop),
        migrations.AlterField(
            model_name='commitment',
            name='code',
            field=models.CharField(default=ratings.models.commitment.crew_code, editable=False, max_length=22, unique=True),
        ),
        migrations.CreateModel(
            name='CommitmentCondition',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('kind', models.CharField(choices=[('count', 'count every pad and tape the travel'), ('pads', 'fit pads'), ('rate', 'approve a rate'), ('calibration', 'calibrate the load indicator'), ('service', 'release it to service'), ('other', 'something else')], max_length=11)),
                ('from_day', models.DateField()),
                ('to_day', models.DateField()),
                ('positions', models.JSONField(default=list)),
                ('words', models.CharField(blank=True, max_length=200)),
                ('commitment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='conditions', to='ratings.commitment')),
                ('indicator', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='ratings.loadindicator')),
                ('lot', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.padlot')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['to_day', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='CommitmentConfirmation',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('answer', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='confirmation', to='ratings.jobanswer')),
                ('commitment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='confirmations', to='ratings.commitment')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='CommitmentLetter',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('said', models.CharField(choices=[('fell', 'it holds no more'), ('holds', 'it holds again'), ('due', 'a condition comes due')], max_length=5)),
                ('reasons', models.JSONField(default=list)),
                ('address', models.EmailField(blank=True, max_length=254)),
                ('sent_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('commitment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='letters', to='ratings.commitment')),
                ('condition', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='letters', to='ratings.commitmentcondition')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='ConditionMet',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('note', models.CharField(max_length=200, verbose_name='how it is known')),
                ('condition', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='met', to='ratings.commitmentcondition')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.AddConstraint(
            model_name='commitmentcondition',
            constraint=models.CheckConstraint(condition=models.Q(('to_day__gte', models.F('from_day'))), name='condition_ends_after_it_begins'),
        ),
        migrations.AddConstraint(
            model_name='commitmentcondition',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('indicator__isnull', True), ('kind__in', ['count', 'service']), ('lot__isnull', True)), models.Q(('indicator__isnull', True), ('kind__in', ['pads', 'rate']), ('lot__isnull', False)), models.Q(('indicator__isnull', False), ('kind', 'calibration'), ('lot__isnull', True)), models.Q(('indicator__isnull', True), ('kind', 'other'), ('lot__isnull', True), models.Q(('words', ''), _negated=True)), _connector='OR'), name='condition_says_what_it_needs'),
        ),
        migrations.AddConstraint(
            model_name='commitmentletter',
            constraint=models.UniqueConstraint(condition=models.Q(('said', 'due')), fields=('condition',), name='condition_told_due_once'),
        ),
        migrations.AddConstraint(
            model_name='commitmentletter',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('condition__isnull', False), ('said', 'due')), models.Q(('condition__isnull', True), ('said__in', ['fell', 'holds'])), _connector='OR'), name='letter_of_what_is_due_names_it'),
        ),
        migrations.AddConstraint(
            model_name='conditionmet',
            constraint=models.CheckConstraint(condition=models.Q(('note', ''), _negated=True), name='condition_met_says_how'),
        ),
        AppendOnly("CommitmentCondition"),
        AppendOnly("ConditionMet"),
        AppendOnly("CommitmentConfirmation"),
        AppendOnly("CommitmentLetter"),
        # On SQLite a table that is altered loses its triggers.
        RefuseOverlap("Commitment", "housing"),
        RefuseOverlap("Commitment", "hammer"),
    ]
