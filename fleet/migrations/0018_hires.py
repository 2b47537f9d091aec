import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """Units let to somebody: to whom, where and for which days."""

    dependencies = [
        ('fleet', '0017_qualifications'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Hire',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('hirer', models.CharField(help_text='The firm or person.', max_length=120, verbose_name='hired by')),
                ('contact', models.CharField(help_text='Who answers for it there, and the telephone.', max_length=200, verbose_name='contact')),
                ('place', models.CharField(help_text='Site and town.', max_length=200, verbose_name='where it works')),
                ('from_day', models.DateField(verbose_name='leaves on')),
                ('back_due', models.DateField(verbose_name='expected back on')),
                ('note', models.CharField(blank=True, max_length=500)),
                ('left_on', models.DateField(null=True)),
                ('end', models.CharField(blank=True, choices=[('back', 'back'), ('cancelled', 'cancelled')], max_length=9)),
                ('ended_on', models.DateField(null=True)),
                ('cancel_reason', models.CharField(blank=True, max_length=200)),
                ('ended_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('hammer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='hires', to='fleet.hammer')),
                ('housing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='hires', to='fleet.suppressorhousing')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-from_day', '-pk'],
                'constraints': [models.UniqueConstraint(condition=models.Q(('ended_on__isnull', True)), fields=('housing',), name='housing_hired_once_at_a_time'), models.UniqueConstraint(condition=models.Q(('ended_on__isnull', True)), fields=('hammer',), name='hammer_hired_once_at_a_time'), models.CheckConstraint(condition=models.Q(models.Q(('hirer', ''), _negated=True), models.Q(('contact', ''), _negated=True), models.Q(('place', ''), _negated=True)), name='hire_says_to_whom_and_where'), models.CheckConstraint(condition=models.Q(('back_due__gte', models.F('from_day'))), name='hire_expected_back_after_it_leaves'), models.CheckConstraint(condition=models.Q(models.Q(('cancel_reason', ''), ('end', ''), ('ended_by__isnull', True), ('ended_on__isnull', True)), models.Q(('cancel_reason', ''), ('end', 'back'), ('ended_by__isnull', False), ('ended_on__gte', models.F('left_on')), ('left_on__isnull', False)), models.Q(('end', 'cancelled'), ('ended_by__isnull', False), ('ended_on__isnull', False), ('left_on__isnull', True), models.Q(('cancel_reason', ''), _negated=True)), _connector='OR'), name='hire_ended_by_somebody')],
            },
        ),
        AppendOnly(
            "Hire", but_for=("left_on", "end", "ended_on", "ended_by", "cancel_reason")
        ),
    ]
