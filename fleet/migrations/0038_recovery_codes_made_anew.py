from __future__ import annotations

from django.db import migrations, models

from fleet.guards import AppendOnly

CHANGE = "personchange"
KNOWN = "person_change_kind_known"
KINDS = {
    "entered": "entered",
    "name": "name",
    "email": "e-mail address",
    "role": "role",
    "yard": "yard",
    "bound": "bound to yards",
    "deactivated": "deactivated",
    "reactivated": "let in again",
    "password given": "password given by a manager",
    "link given": "one-time link given",
    "lock lifted": "lock of wrong passwords lifted",
    "second step on": "second step set up",
    "second step off": "second step taken away",
    "recovery codes": "recovery codes made anew",
    "password changed": "own password changed",
}


class Migration(migrations.Migration):
    dependencies = [("fleet", "0037_one_long_work_about_a_thing")]

    operations = [
        migrations.RemoveConstraint(CHANGE, KNOWN),
        migrations.AlterField(
            CHANGE, "kind", models.CharField(choices=list(KINDS.items()), max_length=16)
        ),
        migrations.AddConstraint(
            CHANGE,
            models.CheckConstraint(condition=models.Q(("kind__in", list(KINDS))), name=KNOWN),
        ),
        # SQLite has built it anew, and left its triggers behind.
        AppendOnly("PersonChange"),
    ]
