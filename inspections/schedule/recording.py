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
from fleet.people.yards import in_every_yard
from inspections.models import (
    Checklist,
    KindNeeds,
    KindRetirement,
    KindSorts,
    OwnKind,
    ServiceSchedule,
)
from inspections.schedule.checklists import ListItem
from inspections.schedule.intervals import Row, rows_record
from inspections.schedule.kinds import NEED_OR_SIGNER_WORDS, Kind


@in_every_yard
def change_schedule(
    *, submission_id: uuid.UUID, rows: Sequence[Row], reason: str, by: User
) -> ServiceSchedule:
    """Put a schedule in force. A second copy of a submission changes nothing."""
    schedule, _made = ServiceSchedule.objects.get_or_create(
        submission_id=submission_id,
        defaults={"rows": rows_record(tuple(rows)), "reason": reason, "recorded_by": by},
    )
    return schedule


@in_every_yard
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


@in_every_yard
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
    hold to count as one of it, and who must sign it, of NEED_OR_SIGNER_WORDS.
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


@in_every_yard
@transaction.atomic
def change_sorts(
    *,
    submission_id: uuid.UUID,
    kind: OwnKind,
    looks_at: Collection[MachineSort],
    reason: str,
    by: User,
) -> KindSorts | None:
    """Have a kind look at other sorts of machine from now on; None where it looks at these already.

    Inspections seen before go on counting for what the kind looked at then. A second copy changes
    nothing. Raises ValidationError, naming the field, where it would look at nothing, no reason is
    given, or the kind is retired.
    """
    locked = OwnKind.objects.select_for_update().get(pk=kind.pk)
    known = KindSorts.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    if not looks_at:
        raise ValidationError({"looks_at": "This is blank: say what is looked at."})
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why, since it stays on record."})
    if hasattr(locked, "retirement"):
        raise ValidationError(f"“{locked}” is retired: nothing is due of it any more.")
    chosen = {MachineSort(each) for each in looks_at}
    if chosen == set(locked.sorts):
        return None
    return KindSorts.objects.create(
        submission_id=submission_id,
        kind=locked,
        **{f"looks_at_{sort.column}": sort in chosen for sort in MachineSort},
        reason=reason.strip(),
        recorded_by=by,
    )


@in_every_yard
@transaction.atomic
def change_kind(
    *,
    submission_id: uuid.UUID,
    kind: OwnKind,
    looks_at: Collection[MachineSort],
    needs: Collection[str],
    reason: str,
    by: User,
) -> bool:
    """Have a kind look at and need other things from now on; return whether anything differed.

    needs: of NEED_OR_SIGNER_WORDS. Inspections seen before are held to what it needed then. A
    second copy changes nothing. Raises ValidationError as change_sorts does.
    """
    locked = OwnKind.objects.select_for_update().get(pk=kind.pk)
    if KindNeeds.objects.filter(submission_id=submission_id).exists():
        return True
    sorts = change_sorts(
        submission_id=submission_id, kind=kind, looks_at=looks_at, reason=reason, by=by
    )
    if set(needs) == set(locked.needs):
        return sorts is not None
    KindNeeds.objects.create(
        submission_id=submission_id,
        kind=locked,
        **{f"needs_{need}": need in needs for need in NEED_OR_SIGNER_WORDS},
        reason=reason.strip(),
        recorded_by=by,
    )
    return True


@in_every_yard
def retire_kind(*, submission_id: uuid.UUID, kind: OwnKind, at: datetime, by: User) -> None:
    """Offer a kind no longer; what is on record of it stays. A second time changes nothing."""
    KindRetirement.objects.get_or_create(
        kind=kind,
        defaults={"submission_id": submission_id, "retired_at": at, "recorded_by": by},
    )
