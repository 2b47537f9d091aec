from django.db import migrations, models


class Migration(migrations.Migration):
    """What a clamp weighs and presses with is said of the clamp alone."""

    dependencies = [
        ('fleet', '0011_clamps_and_power_packs'),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='hammer',
            name='hammer_figures_in_range',
        ),
        migrations.RemoveField(
            model_name='hammer',
            name='clamp_force_lbf',
        ),
        migrations.RemoveField(
            model_name='hammer',
            name='clamp_weight_lb',
        ),
        migrations.AddConstraint(
            model_name='hammer',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('eccentric_moment_lb_in__isnull', True), ('eccentric_moment_lb_in__gt', 0), _connector='OR'), models.Q(('frequency_vpm__isnull', True), ('frequency_vpm__gt', 0), _connector='OR'), models.Q(('exciter_weight_lb__isnull', True), ('exciter_weight_lb__gt', 0), _connector='OR')), name='hammer_figures_in_range'),
        ),
    ]
