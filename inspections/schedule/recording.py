"""Put in force a new schedule, or a new edition of a checklist; add and retire own kinds."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from dataclasses import asdict
from datetime import datetime

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from fleet.models import MachineSort
from inspections.models import Checklist, KindRetirement, OwnKind, ServiceSchedule
from inspections.schedule.checklists import ListItem
from inspections.schedule.intervals import Row, rows_record
from inspections.schedule.kinds import Kind


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
    *, submission_id: uuid.UUID, kind: Kind, items: Sequence[ListItem], reason: str, by: User
) -> Checklist:
    """Put an edition of a kind's list in force. A second copy changes nothing."""
    edition, _made = Checklist.objects.get_or_create(
        submission_id=submission_id,
        defaults={
            **kind.columns,
            "items": [asdict(item) for item in items],
            "reason": reason,
            "recorded_by": by,
        },
    )
    return edition


def add_kind(
    *,
    submission_id: uuid.UUID,
    name: str,
    looks_at: Collection[MachineSort],
    by: User,
    needs: Collection[str] = (),
) -> OwnKind:
    """Add a kind of inspection of the yard's own. A second copy changes nothing.

    looks_at: the sorts of machine an inspection of it counts for. needs: what an inspection must
    hold to count as one of it, of NEED_WORDS.
    Raises ValidationError at "name" where somebody added one of the name a moment before, and at
    "looks_at" where it looks at nothing.
    """
    if not looks_at:
        raise ValidationError({"looks_at": "This is blank: say what is looked at."})
    columns = {f"looks_at_{MachineSort(sort).column}": True for sort in looks_at}
    columns |= {f"needs_{need}": True for need in needs}
    try:
        with transaction.atomic():
            kind, _made = OwnKind.objects.get_or_create(
                submission_id=submission_id, defaults={"name": name, "recorded_by": by, **columns}
            )
    except IntegrityError:
        raise ValidationError({"name": f"“{name}” was added a moment ago."}) from None
    return kind


def retire_kind(*, submission_id: uuid.UUID, kind: OwnKind, at: datetime, by: User) -> None:
    """Offer a kind no longer; what is on record of it stays. A second time changes nothing."""
    KindRetirement.objects.get_or_create(
        kind=kind,
        defaults={"submission_id": submission_id, "retired_at": at, "recorded_by": by},
    )
