from __future__ import annotations

from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import fleet.clock
from fleet.guards import AppendOnly

# As the names of persons' changes have it.
NAME = "name"


def name_those_on_record(apps: Any, schema_editor: Any) -> None:
    """Give everybody the names they had, as far as their changes tell, and the one of now."""
    names, now = apps.get_model("fleet", "PersonName").objects, fleet.clock.now()
    changes = apps.get_model("fleet", "PersonChange").objects.filter(kind=NAME)
    for user in apps.get_model("auth", "User").objects.order_by("pk"):
        called = f"{user.first_name} {user.last_name}".strip() or user.username
        told = list(changes.filter(user=user).order_by("recorded_at", "pk"))
        first = told[0].before if told else called
        names.create(user=user, name=first or called, known_from=user.date_joined)
        last = first
        for each in told:
            names.create(user=user, name=each.after, known_from=each.recorded_at)
            last = each.after
        if last != called:
            names.create(user=user, name=called, known_from=now)


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0021_board_filters"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="PersonName",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=320)),
                ("known_from", models.DateTimeField(default=fleet.clock.now, editable=False)),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="names",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["user", "known_from", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("name", ""), _negated=True),
                        name="person_name_not_blank",
                    )
                ],
            },
        ),
        AppendOnly("PersonName"),
        migrations.RunPython(name_those_on_record, migrations.RunPython.noop, elidable=True),
    ]
