from __future__ import annotations

from django.db import migrations, models

from fleet.guards import AppendOnly

CHANGE = "personchange"
KINDS = {
    "entered": "entered",
    "name": "name",
    "email": "e-mail address",
    "role": "role",
    "yard": "yard",
    "deactivated": "deactivated",
    "reactivated": "let in again",
    "password given": "password given by a manager",
    "link given": "one-time link given",
    "lock lifted": "lock of wrong passwords lifted",
    "second step on": "second step set up",
    "second step off": "second step taken away",
    "password changed": "own password changed",
}
REASONED = ["deactivated", "role", "reactivated", "second step off"]


def again(name: str, condition: models.Q) -> list[migrations.operations.base.Operation]:
    return [
        migrations.RemoveConstraint(CHANGE, name),
        migrations.AddConstraint(CHANGE, models.CheckConstraint(condition=condition, name=name)),
    ]


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0033_reading_is_a_right"),
        ("otp_static", "0003_add_timestamps"),
        ("otp_totp", "0003_add_timestamps"),
    ]

    operations = [
        migrations.AlterField(
            CHANGE, "kind", models.CharField(choices=list(KINDS.items()), max_length=16)
        ),
        *again("person_change_kind_known", models.Q(("kind__in", list(KINDS)))),
        *again(
            "person_deactivated_for_a_reason",
            models.Q(
                ("kind__in", REASONED), _negated=True
            )
            | ~models.Q(("reason", "")),
        ),
        AppendOnly("PersonChange"),
    ]
