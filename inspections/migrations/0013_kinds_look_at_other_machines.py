import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly

class Migration(migrations.Migration):
    """What a kind of the yard's own looks at, changed on record."""

    dependencies = [
        ('inspections', '0012_hire'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='KindSorts',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('looks_at_hammer', models.BooleanField(default=False, verbose_name='the hammer')),
                ('looks_at_housing', models.BooleanField(default=False, verbose_name='the housing with its pads')),
                ('looks_at_clamp', models.BooleanField(default=False, verbose_name='the clamp')),
                ('looks_at_power_pack', models.BooleanField(default=False, verbose_name='the power pack')),
                ('reason', models.CharField(max_length=200, verbose_name='why')),
                ('kind', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sorts_changes', to='inspections.ownkind')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-recorded_at', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('looks_at_clamp', False), ('looks_at_hammer', False), ('looks_at_housing', False), ('looks_at_power_pack', False), _negated=True), name='kind_goes_on_looking_at_something'), models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='kind_looks_at_other_for_a_reason')],
            },
        ),
        AppendOnly("KindSorts"),
    ]
