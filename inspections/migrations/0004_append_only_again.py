from django.db import migrations

from fleet.guards import AppendOnly


class Migration(migrations.Migration):
    """What was seen, found, closed and photographed is a fact; so are lists and schedules."""

    dependencies = [
        ("inspections", "0003_checklists_findings_schedule"),
        ("fleet", "0006_shelves_hold"),
    ]

    operations = [
        AppendOnly("Inspection"),
        AppendOnly("Checklist"),
        AppendOnly("ItemAnswer"),
        AppendOnly("Finding"),
        AppendOnly("FindingClosing"),
        AppendOnly("Photo"),
        AppendOnly("PhotoFile"),
        AppendOnly("ServiceSchedule"),
    ]
