from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("ratings", "0030_retention")]

    operations = [
        migrations.AddIndex(
            model_name="paper",
            index=models.Index(fields=["file_hash"], name="paper_by_its_file"),
        ),
    ]
