from __future__ import annotations

import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0035_passkeys'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='YardBinding',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('reason', models.CharField(max_length=200, verbose_name='why')),
                ('turn', models.PositiveIntegerField(default=1)),
            ],
            options={
                'verbose_name': 'binding to a yard',
                'verbose_name_plural': 'bindings to yards',
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='YardBindingEnd',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('reason', models.CharField(max_length=200, verbose_name='why')),
            ],
            options={
                'verbose_name': 'end of a binding to a yard',
                'verbose_name_plural': 'ends of bindings to yards',
                'ordering': ['-pk'],
            },
        ),
        migrations.RemoveConstraint(
            model_name='personchange',
            name='person_change_kind_known',
        ),
        migrations.RemoveConstraint(
            model_name='personchange',
            name='person_deactivated_for_a_reason',
        ),
        migrations.AlterField(
            model_name='personchange',
            name='kind',
            field=models.CharField(choices=[('entered', 'entered'), ('name', 'name'), ('email', 'e-mail address'), ('role', 'role'), ('yard', 'yard'), ('bound', 'bound to yards'), ('deactivated', 'deactivated'), ('reactivated', 'let in again'), ('password given', 'password given by a manager'), ('link given', 'one-time link given'), ('lock lifted', 'lock of wrong passwords lifted'), ('second step on', 'second step set up'), ('second step off', 'second step taken away'), ('password changed', 'own password changed')], max_length=16),
        ),
        migrations.AddConstraint(
            model_name='personchange',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['entered', 'name', 'email', 'role', 'yard', 'bound', 'deactivated', 'reactivated', 'password given', 'link given', 'lock lifted', 'second step on', 'second step off', 'password changed'])), name='person_change_kind_known'),
        ),
        migrations.AddConstraint(
            model_name='personchange',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ['bound', 'deactivated', 'role', 'reactivated', 'second step off']), _negated=True), models.Q(('reason', ''), _negated=True), _connector='OR'), name='person_deactivated_for_a_reason'),
        ),
        migrations.AddField(
            model_name='yardbinding',
            name='recorded_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='yardbinding',
            name='user',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='bindings_to_yards', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='yardbinding',
            name='yard',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='bindings', to='fleet.yard'),
        ),
        migrations.AddField(
            model_name='yardbindingend',
            name='binding',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='end', to='fleet.yardbinding'),
        ),
        migrations.AddField(
            model_name='yardbindingend',
            name='recorded_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='yardbinding',
            name='follows',
            field=models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='followed_by', to='fleet.yardbindingend'),
        ),
        migrations.AddConstraint(
            model_name='yardbindingend',
            constraint=models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='binding_lifted_for_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='yardbinding',
            constraint=models.UniqueConstraint(fields=('user', 'yard', 'turn'), name='bound_to_a_yard_once_at_a_time'),
        ),
        migrations.AddConstraint(
            model_name='yardbinding',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('follows__isnull', True), ('turn', 1)), models.Q(('follows__isnull', False), ('turn__gt', 1)), _connector='OR'), name='bound_again_once_lifted'),
        ),
        migrations.AddConstraint(
            model_name='yardbinding',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('user', models.F('recorded_by')), _negated=True), models.Q(('reason', ''), _negated=True)), name='bound_by_another_for_a_reason'),
        ),
        AppendOnly("YardBinding"),
        AppendOnly("YardBindingEnd"),
        # SQLite has built it anew, and left its triggers behind.
        AppendOnly("PersonChange"),
    ]
