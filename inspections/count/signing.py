"""Sign an inspection: pads seen, travel taped, hours read, ledger posted, or none of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.characters import without_hidden
from fleet.hours import check_reading
from fleet.housings import lock_housing
from fleet.models import Hammer, HourReading, SuppressorHousing
from fleet.models.housing import Condition
from fleet.models.measured_fields import measured_field
from fleet.quantities import Measured, Quantity, plain_number
from fleet.units import Hung, hung_on_housing
from inspections.count.findings import Observations, record_observations
from inspections.count.newest_facts import settle
from inspections.count.submission import (
    Submission,
    at_position,
    pads_troubles,
    refuse_if_changed,
    refuse_other_housing,
)
from inspections.models import Inspection, InspectionKind, PadCount, PadReplacement
from inspections.models.inspection import LONGEST_TRAVEL_REASON
from inspections.schedule.kinds import kind_named
from ratings.ledger.posting import Cause, entries_caused_by, post
from ratings.models import LedgerEntry

# As finely as a tape reads; a travel just beyond the design travel is never written like it.
TRAVEL_DECIMALS = 3
TRAVEL, HOURS = measured_field(Inspection, "travel_in"), measured_field(HourReading, "hours")


@dataclass(frozen=True)
class PadSeen:
    """What was seen at one position."""

    side: str
    number: int
    condition: str
    lot_id: int | None


@dataclass(frozen=True)
class Seen:
    """What one person saw at a housing.

    pads: every position, or none where they were not counted; a missing pad is of no lot.
    travel_in: None where it was not taped.
    travel_reason: why a travel beyond the design travel is right; kept with no other.
    clock_words: how the time was put right where a phone's clock was wrong, kept below the note.
    """

    seen_at: datetime
    pads: Sequence[PadSeen]
    travel_in: float | None = None
    travel_reason: str = ""
    hours: float | None = None
    note: str = ""
    kind: str = InspectionKind.PAD_COUNT
    weather: str = ""
    observations: Observations = field(default_factory=Observations)
    clock_words: str = ""


@dataclass(frozen=True)
class Correction:
    """Which record an inspection puts right, and why."""

    reason: str
    inspection: Inspection | None = None
    replacement: PadReplacement | None = None


@dataclass(frozen=True)
class Signed:
    """An inspection on record, and the ledger entry it posted where it changed anything."""

    inspection: Inspection
    entry: LedgerEntry | None
    is_copy: bool = False


@transaction.atomic
def sign_inspection(
    *,
    housing: SuppressorHousing,
    submission: Submission,
    seen: Seen,
    by: User,
    correction: Correction | None = None,
) -> Signed:
    """Record an inspection and put the unit's figures right with it, in one transaction.

    A second copy of a submission changes nothing. Raises ValidationError naming the field
    where kind, pads, travel or hours can't be, or a travel beyond design has no reason, and
    under no field where nothing was seen;
    ChangedMeanwhile where another signed in between. Then nothing is kept.
    """
    housing = lock_housing(housing.pk)
    known = Inspection.objects.filter(submission_id=submission.submission_id).first()
    if known is not None:
        refuse_other_housing(known.housing, housing)
        return Signed(known, None, is_copy=True)
    refuse_if_changed(housing, submission)
    _refuse_impossible(housing, seen)
    kind = kind_named(seen.kind)
    # What hung on it when it was seen, whatever hangs on it now.
    hung = hung_on_housing(housing, seen.seen_at)
    inspection = Inspection.objects.create(
        submission_id=submission.submission_id,
        **hung.columns,
        **kind.columns,
        seen_at=seen.seen_at,
        weather=seen.weather,
        travel_in=seen.travel_in,
        travel_reason=_reason_kept(housing, seen.travel_in, seen.travel_reason),
        hour_reading=_record_hours(hung, seen.hours, seen.seen_at, correction, by),
        note="\n".join(words for words in (seen.note, seen.clock_words) if words),
        recorded_by=by,
        corrects=correction.inspection if correction else None,
        corrects_replacement=correction.replacement if correction else None,
        correction_reason=correction.reason if correction else "",
    )
    PadCount.objects.bulk_create(
        PadCount(
            inspection=inspection,
            side=pad.side,
            number=pad.number,
            condition=pad.condition,
            lot_id=pad.lot_id,
        )
        for pad in seen.pads
    )
    record_observations(inspection, seen.observations, by)
    settle(housing)
    entries = post(
        [housing],
        cause=Cause(Cause.PAD_COUNT, _words(inspection, seen), inspection.pk),
        occurred_at=seen.seen_at,
        by=by,
        corrects=_corrected_entry(housing, correction),
    )
    return Signed(inspection, entries[0] if entries else None)


def _refuse_impossible(housing: SuppressorHousing, seen: Seen) -> None:
    """Raise ValidationError naming every field of what was seen that can't be."""
    observations = (
        seen.observations.answers or seen.observations.findings or seen.observations.photos
    )
    figures = [each for each in (seen.travel_in, seen.hours) if each is not None]
    if not (seen.pads or figures or seen.note.strip() or observations):
        raise ValidationError(
            "Nothing was entered: count the pads, tape the travel, read the meter, or note what "
            "was seen."
        )
    troubles = {
        "pads": pads_troubles(housing, seen.pads) or _count_troubles(housing, seen.pads),
        "travel_in": TRAVEL.trouble_with(seen.travel_in),
        "travel_reason": reason_trouble(housing, seen.travel_in, seen.travel_reason),
        "hours": HOURS.trouble_with(seen.hours),
    }
    errors = {name: trouble for name, trouble in troubles.items() if trouble}
    if errors:
        raise ValidationError(errors)


def _count_troubles(housing: SuppressorHousing, pads: Sequence[PadSeen]) -> list[ValidationError]:
    """Return what is wrong with a count of these positions; none at all is no count."""
    absent = set(housing.position_keys) - {(pad.side, pad.number) for pad in pads}
    if pads and absent:
        words = "Position %(position)s was not counted: say what is in it."
        return [at_position(words, key) for key in sorted(absent)]
    troubles = []
    for pad in pads:
        key = (pad.side, pad.number)
        if pad.condition not in Condition.values:
            words = "“%(condition)s” at %(position)s is no condition: choose %(choices)s."
            choices = ", ".join(Condition.values)
            troubles.append(at_position(words, key, condition=pad.condition, choices=choices))
        elif pad.condition == Condition.MISSING and pad.lot_id is not None:
            words = "The pad at %(position)s is missing, so it is of no lot: leave its lot blank."
            troubles.append(at_position(words, key))
    return troubles


def _reason_kept(housing: SuppressorHousing, travel_in: float | None, reason: str) -> str:
    """Why a travel beyond design is right; nothing where there is no such travel."""
    if travel_in is None or not housing.is_beyond_design(travel_in):
        return ""
    return without_hidden(reason).strip()


def reason_trouble(
    housing: SuppressorHousing, travel_in: float | None, given: str
) -> ValidationError | None:
    """Return what is wrong with the reason given for a travel, None where nothing is."""
    reason = _reason_kept(housing, travel_in, given)
    if len(reason) > LONGEST_TRAVEL_REASON:
        return ValidationError(
            f"This has {len(reason):,} characters: {LONGEST_TRAVEL_REASON} at the most.",
            code="too long",
        )
    if travel_in is None or reason or TRAVEL.trouble_with(travel_in):
        return None
    if not housing.is_beyond_design(travel_in):
        return None
    return ValidationError(
        "%(taped)s is beyond the housing’s design travel of %(design)s: tape it again, or keep it "
        "and say why it is right.",
        code="beyond design",
        params={
            "taped": Measured(Quantity.LENGTH, travel_in, TRAVEL_DECIMALS),
            "design": Measured(Quantity.LENGTH, housing.design_travel_in, TRAVEL_DECIMALS),
        },
    )


def _record_hours(
    hung: Hung,
    hours: float | None,
    seen_at: datetime,
    correction: Correction | None,
    by: User,
) -> HourReading | None:
    if hours is None:
        return None
    before = correction.inspection if correction else None
    wrong = before.hour_reading if before else None
    hammer_id = wrong.hammer_id if wrong else _hammer_then(hung)
    # So that no meter change is recorded between the check and the reading.
    Hammer.objects.select_for_update().get(pk=hammer_id)
    check_reading(hammer_id, hours, seen_at, replaces=wrong)
    return HourReading.objects.create(
        hammer_id=hammer_id, hours=hours, read_at=seen_at, recorded_by=by
    )


def _hammer_then(hung: Hung) -> int:
    """The hammer a housing hung on when it was seen, whatever it hangs on now."""
    if hung.hammer is not None:
        return hung.hammer.pk
    raise ValidationError(
        {
            "hours": f"Housing {hung.housing} was on no hammer then, so there is no meter: leave "
            "it blank, or record the mounting first."
        }
    )


def _words(inspection: Inspection, seen: Seen) -> str:
    parts = []
    if seen.pads:
        sound = sum(1 for pad in seen.pads if pad.condition == "sound")
        parts.append(f"{sound} of {len(seen.pads)} pads counted sound")
    if seen.travel_in is not None:
        parts.append(f"travel taped at {plain_number(seen.travel_in, 3)} in")
    words = " and ".join(parts) or "nothing counted or taped"
    if inspection.is_correction:
        return f"Correction: {words} ({inspection.correction_reason})"
    return words[0].upper() + words[1:]


def _corrected_entry(
    housing: SuppressorHousing, correction: Correction | None
) -> dict[int, LedgerEntry]:
    if correction is None:
        return {}
    if correction.inspection is not None:
        return entries_caused_by(Cause.PAD_COUNT, correction.inspection.pk, [housing.pk])
    assert correction.replacement is not None
    return entries_caused_by(Cause.PAD_REPLACEMENT, correction.replacement.pk, [housing.pk])
