import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """Whether a housing is guided, a fact."""

    dependencies = [
        ('fleet', '0001_squashed_0007_names_once_and_printable'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='HousingGuide',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('is_guided', models.BooleanField(verbose_name='guided')),
                ('reason', models.CharField(help_text='Such as: two guide rods through both plates, straight and free in their bushings. Or: one rod bent, taken out.', max_length=200, verbose_name='what shows it')),
                ('occurred_at', models.DateTimeField(verbose_name='since when, or when it was seen so')),
                ('corrects', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='fleet.housingguide')),
                ('housing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='guides', to='fleet.suppressorhousing')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name': 'guide of a housing',
                'verbose_name_plural': 'guides of housings',
                'ordering': ['-occurred_at', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='housing_guide_for_a_reason')],
            },
        ),
        AppendOnly("HousingGuide"),
    ]
