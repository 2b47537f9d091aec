import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """Plans to bring short units to their listing, kept with what they rest on."""

    dependencies = [
        ('fleet', '0020_pad_prices'),
        ('inspections', '0014_photos_and_moved_findings'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='RestorePlan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('goal', models.CharField(choices=[('fewest', 'the fewest pads'), ('cheapest', 'the least cost'), ('ready', 'most units ready for committed jobs')], max_length=8, verbose_name='best at')),
                ('takes_from_units', models.BooleanField(default=False)),
                ('buys', models.BooleanField(default=False)),
                ('document', models.JSONField()),
                ('basis', models.JSONField()),
                ('housing', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='restore_plans', to='fleet.suppressorhousing')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('yard', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='restore_plans', to='fleet.yard')),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('goal__in', ['fewest', 'cheapest', 'ready'])), name='restore_plan_goal_known'), models.CheckConstraint(condition=models.Q(('housing__isnull', True), ('yard__isnull', True), _connector='OR'), name='restore_plan_of_one_scope')],
            },
        ),
        AppendOnly("RestorePlan"),
    ]
