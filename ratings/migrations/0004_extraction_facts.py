from django.db import migrations

from fleet.guards import AppendOnly, RefuseOverlap


class Migration(migrations.Migration):
    """Answers and rules are facts; no unit is promised to two jobs on one day."""

    dependencies = [("ratings", "0003_extraction")]

    operations = [
        AppendOnly("ExtractionRules"),
        AppendOnly("JobAnswer"),
        RefuseOverlap("Commitment", "housing"),
        RefuseOverlap("Commitment", "hammer"),
    ]
