from __future__ import annotations

from django.db import migrations


class Migration(migrations.Migration):
    """The groups get the right once all apps have migrated (`fleet.roles.ensure_roles`)."""

    dependencies = [("fleet", "0032_roles_stay")]

    operations = [
        migrations.AlterModelOptions(
            "yard",
            {
                "ordering": ["name"],
                "permissions": [
                    ("read_records", "Can read every page"),
                    ("keep_records", "Can keep records: inspect, replace, test, list"),
                    ("plan_jobs", "Can plan extractions and commit units"),
                ],
            },
        ),
    ]
