from django.db import migrations


class Migration(migrations.Migration):
    """What moved to the groups of piles leaves the job."""

    dependencies = [
        ('ratings', '0016_pile_groups'),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='extractionjob',
            name='job_pile_in_range',
        ),
        migrations.RemoveField(
            model_name='extractionjob',
            name='area_in2',
        ),
        migrations.RemoveField(
            model_name='extractionjob',
            name='embedment_ft',
        ),
        migrations.RemoveField(
            model_name='extractionjob',
            name='is_plugged',
        ),
        migrations.RemoveField(
            model_name='extractionjob',
            name='length_ft',
        ),
        migrations.RemoveField(
            model_name='extractionjob',
            name='perimeter_in',
        ),
        migrations.RemoveField(
            model_name='extractionjob',
            name='pile_kind',
        ),
        migrations.RemoveField(
            model_name='extractionjob',
            name='plug_area_in2',
        ),
        migrations.RemoveField(
            model_name='extractionjob',
            name='section',
        ),
        migrations.RemoveField(
            model_name='extractionjob',
            name='tension_limit_lbf',
        ),
        migrations.RemoveField(
            model_name='extractionjob',
            name='weight_lb_ft',
        ),
        migrations.RemoveField(
            model_name='extractionjob',
            name='yield_strength_ksi',
        ),
    ]
