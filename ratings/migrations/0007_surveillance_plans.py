import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """How many pads are drawn from service a year, of each lot and of all."""

    dependencies = [
        ('fleet', '0007_names_once_and_printable'),
        ('ratings', '0006_rating_rejections'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='SurveillancePlan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('pads_a_year', models.PositiveSmallIntegerField(null=True)),
                ('reason', models.CharField(max_length=200, verbose_name='why')),
                ('lot', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='surveillance_plans', to='fleet.padlot')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('pads_a_year__isnull', True), ('pads_a_year__lte', 40), _connector='OR'), name='surveillance_plan_in_range'), models.CheckConstraint(condition=models.Q(('lot__isnull', False), ('pads_a_year__isnull', False), _connector='OR'), name='surveillance_plan_for_all_says_how_many')],
            },
        ),
        AppendOnly('SurveillancePlan'),
    ]
