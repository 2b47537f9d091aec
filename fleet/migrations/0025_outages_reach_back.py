from __future__ import annotations

import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0024_journal'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='OutageReach',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('before', models.DateTimeField()),
                ('since', models.DateTimeField()),
                ('because', models.CharField(max_length=200, verbose_name='what showed it')),
                ('outage', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='reaches', to='fleet.outofservice')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('since__lt', models.F('before'))), name='outage_reaches_further_back')],
            },
        ),
        AppendOnly("OutageReach"),
    ]
