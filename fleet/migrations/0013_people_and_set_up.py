from __future__ import annotations

from typing import Any

import django.db.models.deletion
import fleet.clock
from django.conf import settings
from django.db import migrations, models

from fleet.guards import AppendOnly


def make_managers_of_superusers(apps: Any, schema_editor: Any) -> None:
    """Give whoever passed by all roles the manager's: the site knows no right beside its roles."""
    users = apps.get_model("auth", "User").objects.filter(is_superuser=True)
    if not users.exists():
        return
    manager, _made = apps.get_model("auth", "Group").objects.get_or_create(name="equipment manager")
    for user in users:
        user.groups.add(manager)
    users.update(is_superuser=False, is_staff=False)


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0012_hammer_without_clamp'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    operations = [
        migrations.AddField(
            model_name='hammer',
            name='retired_on',
            field=models.DateField(blank=True, editable=False, null=True, verbose_name='out of use since'),
        ),
        migrations.AddField(
            model_name='readerpreference',
            name='hides_first_steps',
            field=models.BooleanField(default=False, help_text='Whether the board leaves out the first steps of a new yard.'),
        ),
        migrations.AddField(
            model_name='suppressorhousing',
            name='retired_on',
            field=models.DateField(blank=True, editable=False, null=True, verbose_name='out of use since'),
        ),
        migrations.AddField(
            model_name='yard',
            name='retired_on',
            field=models.DateField(blank=True, editable=False, null=True, verbose_name='out of use since'),
        ),
        migrations.CreateModel(
            name='Person',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('must_change_password', models.BooleanField(default=False, help_text='The password is one a manager gave: it is changed first of all.')),
                ('user', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='person', to=settings.AUTH_USER_MODEL)),
                ('yard', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='people', to='fleet.yard')),
            ],
        ),
        migrations.CreateModel(
            name='PersonChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('kind', models.CharField(choices=[('entered', 'entered'), ('name', 'name'), ('email', 'e-mail address'), ('role', 'role'), ('yard', 'yard'), ('deactivated', 'deactivated'), ('reactivated', 'let in again'), ('password given', 'password given by a manager'), ('link given', 'one-time link given'), ('password changed', 'own password changed')], max_length=16)),
                ('before', models.CharField(blank=True, max_length=320)),
                ('after', models.CharField(blank=True, max_length=320)),
                ('reason', models.CharField(blank=True, max_length=200, verbose_name='why')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='changes_of_person', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('kind__in', ['entered', 'name', 'email', 'role', 'yard', 'deactivated', 'reactivated', 'password given', 'link given', 'password changed'])), name='person_change_kind_known'), models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ['deactivated', 'role', 'reactivated']), _negated=True), models.Q(('reason', ''), _negated=True), _connector='OR'), name='person_deactivated_for_a_reason')],
            },
        ),
        migrations.CreateModel(
            name='SetUpChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('recorded_at', models.DateTimeField(default=fleet.clock.now, editable=False)),
                ('submission_id', models.UUIDField(help_text='Made with the form: a second copy of it changes nothing.', unique=True)),
                ('record_model', models.CharField(help_text='Such as fleet.Hammer.', max_length=60)),
                ('record_key', models.PositiveBigIntegerField()),
                ('kind', models.CharField(choices=[('entered', 'entered'), ('changed', 'changed'), ('retired', 'taken out of use'), ('brought back', 'brought back into use')], max_length=12)),
                ('changes', models.JSONField(default=dict)),
                ('reason', models.CharField(blank=True, max_length=200, verbose_name='why')),
                ('recorded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
                'indexes': [models.Index(fields=['record_model', 'record_key'], name='set_up_change_of')],
                'constraints': [models.CheckConstraint(condition=models.Q(('kind__in', ['entered', 'changed', 'retired', 'brought back'])), name='set_up_change_kind_known'), models.CheckConstraint(condition=models.Q(('kind', 'entered'), models.Q(('reason', ''), _negated=True), _connector='OR'), name='set_up_change_for_a_reason')],
            },
        ),
        AppendOnly("PersonChange"),
        AppendOnly("SetUpChange"),
        migrations.RunPython(make_managers_of_superusers, migrations.RunPython.noop, elidable=True),
    ]
