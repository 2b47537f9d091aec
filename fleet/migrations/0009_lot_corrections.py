import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """What is on record of a lot's rubber is corrected by a fact of its own."""

    dependencies = [
        ('fleet', '0008_housing_guide'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='LotCorrection',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('hardness_before', models.FloatField(null=True)),
                ('bonded_area_before_in2', models.FloatField(null=True)),
                ('thickness_before_in', models.FloatField(null=True)),
                ('hardness_shore_a', models.FloatField(null=True)),
                ('bonded_area_in2', models.FloatField(null=True)),
                ('rubber_thickness_in', models.FloatField(null=True)),
                ('reason', models.CharField(max_length=200, verbose_name='why')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='corrections', to='fleet.padlot')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='lot_corrected_for_a_reason'), models.CheckConstraint(condition=models.Q(models.Q(('hardness_shore_a__isnull', True), ('hardness_shore_a__range', (0, 100)), _connector='OR'), models.Q(('bonded_area_in2__isnull', True), ('bonded_area_in2__gt', 0), _connector='OR'), models.Q(('rubber_thickness_in__isnull', True), ('rubber_thickness_in__gt', 0), _connector='OR')), name='lot_corrected_to_what_can_be'), models.CheckConstraint(condition=models.Q(models.Q(('hardness_before__isnull', True), ('hardness_before__range', (0, 100)), _connector='OR'), models.Q(('bonded_area_before_in2__isnull', True), ('bonded_area_before_in2__gt', 0), _connector='OR'), models.Q(('thickness_before_in__isnull', True), ('thickness_before_in__gt', 0), _connector='OR')), name='lot_corrected_from_what_can_be')],
            },
        ),
        AppendOnly("LotCorrection"),
    ]
