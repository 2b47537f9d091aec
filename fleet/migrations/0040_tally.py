from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fleet", "0039_each_key_by_its_index")]

    operations = [
        migrations.CreateModel(
            name="Tally",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "key",
                    models.CharField(
                        help_text="Of what, as a keyed hash: no address, no name.",
                        max_length=64,
                        unique=True,
                    ),
                ),
                ("times", models.PositiveIntegerField(default=0)),
                (
                    "until",
                    models.DateTimeField(db_index=True, help_text="When it counts no more."),
                ),
            ],
        ),
    ]
