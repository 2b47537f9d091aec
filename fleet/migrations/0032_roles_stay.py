from __future__ import annotations

from django.db import migrations

from fleet.guards import KeepNamed


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0031_locked_out"),
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    operations = [
        KeepNamed("Group", ["equipment manager", "dispatcher", "auditor"], app_label="auth"),
    ]
