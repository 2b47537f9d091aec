from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """What of the chart a pull may use, which criterion rules, how long a hold may be.

    Rules on record from before allowed the whole of the chart and took each force alone: they are
    stored as that.
    """

    dependencies = [
        ('ratings', '0014_commitments_ahead_of_time'),
    ]

    operations = [
        migrations.AddField(
            model_name='extractionrules',
            name='crane_share',
            field=models.FloatField(default=1.0),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name='extractionrules',
            name='criterion',
            field=models.CharField(choices=[('each alone', 'line pull and centrifugal force each alone (stricter)'), ('added together', 'vibration and line pull added together (US Army EI 02G001)')], default='each alone', max_length=14, verbose_name='how the ground’s hold is judged'),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name='extractionrules',
            name='longest_hold_days',
            field=models.PositiveIntegerField(default=180),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name='extractionrules',
            name='open_acceleration_g',
            field=models.FloatField(default=9.0),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name='extractionrules',
            name='closed_acceleration_g',
            field=models.FloatField(default=5.0),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name='extractionrules',
            name='massive_acceleration_g',
            field=models.FloatField(default=3.0),
            preserve_default=False,
        ),
        migrations.RemoveConstraint(
            model_name='extractionrules',
            name='extraction_rules_in_range',
        ),
        migrations.AddConstraint(
            model_name='extractionrules',
            constraint=models.CheckConstraint(condition=models.Q(('below_listing__in', ['refuse', 'care']), ('care_margin__gte', 1), ('closed_acceleration_g__gt', 0), ('crane_share__gt', 0), ('crane_share__lte', 1), ('criterion__in', ['each alone', 'added together']), ('high_factor__gte', 1), ('inspection_days__gte', 1), ('jaw_friction__gt', 0), ('longest_hold_days__gte', 1), ('low_factor__gt', 0), ('low_factor__lte', 1), ('massive_acceleration_g__gt', 0), ('open_acceleration_g__gt', 0), ('steel_share__gt', 0), ('steel_share__lte', 1)), name='extraction_rules_in_range'),
        ),
        AppendOnly('ExtractionRules'),
    ]
