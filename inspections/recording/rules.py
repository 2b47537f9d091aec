"""Put in force a new schedule, or a new edition of a checklist."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import asdict

from django.contrib.auth.models import User

from inspections.checklists.inforce import ListItem
from inspections.models import Checklist, ServiceSchedule
from inspections.schedule.rows import Row, rows_record


def change_schedule(
    *, submission_id: uuid.UUID, rows: Sequence[Row], reason: str, by: User
) -> ServiceSchedule:
    """Put a schedule in force. A second copy of a submission changes nothing."""
    schedule, _made = ServiceSchedule.objects.get_or_create(
        submission_id=submission_id,
        defaults={"rows": rows_record(tuple(rows)), "reason": reason, "recorded_by": by},
    )
    return schedule


def change_checklist(
    *, submission_id: uuid.UUID, kind: str, items: Sequence[ListItem], reason: str, by: User
) -> Checklist:
    """Put an edition of a kind's list in force. A second copy changes nothing."""
    edition, _made = Checklist.objects.get_or_create(
        submission_id=submission_id,
        defaults={
            "kind": kind,
            "items": [asdict(item) for item in items],
            "reason": reason,
            "recorded_by": by,
        },
    )
    return edition
