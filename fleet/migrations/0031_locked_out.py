from __future__ import annotations

from django.db import migrations, models

from fleet.guards import AppendOnly

SIGN_IN, CHANGE = "signin", "personchange"
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
    "password changed": "own password changed",
}


def again(model: str, name: str, condition: models.Q) -> list[migrations.operations.base.Operation]:
    return [
        migrations.RemoveConstraint(model, name),
        migrations.AddConstraint(model, models.CheckConstraint(condition=condition, name=name)),
    ]


class Migration(migrations.Migration):
    dependencies = [("fleet", "0030_results_of_long_work"), ("axes", "0010_accessattemptexpiration")]

    operations = [
        migrations.AlterField(
            SIGN_IN,
            "what",
            models.CharField(
                choices=[
                    ("in", "signed in"),
                    ("out", "signed out"),
                    ("failed", "was not let in"),
                    ("locked", "was locked out for a while: wrong passwords too often"),
                ],
                max_length=6,
            ),
        ),
        *again(
            SIGN_IN,
            "sign_in_of_a_kind",
            models.Q(("what__in", ["in", "out", "failed", "locked"])),
        ),
        *again(
            SIGN_IN,
            "sign_in_of_somebody",
            models.Q(
                ("what__in", ["failed", "locked"]), ("person__isnull", False), _connector="OR"
            ),
        ),
        AppendOnly("SignIn"),
        migrations.AlterField(
            CHANGE, "kind", models.CharField(choices=list(KINDS.items()), max_length=16)
        ),
        *again(CHANGE, "person_change_kind_known", models.Q(("kind__in", list(KINDS)))),
        AppendOnly("PersonChange"),
    ]
