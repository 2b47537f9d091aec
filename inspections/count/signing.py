"""Sign an inspection: pads seen, travel taped, hours read, ledger posted, or none of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet import together
from fleet.characters import without_hidden
from fleet.dates import moment_words
from fleet.hours import check_reading
from fleet.models import (
    Hammer,
    HourReading,
    MachineSort,
    PadPosition,
    PowerPack,
    Qualification,
    SuppressorHousing,
)
from fleet.models.housing import Condition
from fleet.models.machine import column_of, sort_of
from fleet.models.measured_fields import measured_field
from fleet.outages import lock_machine
from fleet.people.qualifications import refuse_unqualified
from fleet.people.yards import in_yard_of, on_record_in
from fleet.quantities import Measured, Quantity, plain_number
from fleet.questions import Question
from fleet.roles import managers_but, who_words
from fleet.units import Hung, hung_on_housing
from inspections.count.findings import Observations, lacking_of_finding, record_observations
from inspections.count.needs import answers_by_record, lacking, not_counting_words
from inspections.count.newest_facts import Settled, said_sound_again, settle
from inspections.count.proposing import INSPECTION_ACT
from inspections.count.submission import (
    Submission,
    at_position,
    pads_troubles,
    position_name,
    refuse_if_changed,
    refuse_other_machine,
)
from inspections.models import Inspection, InspectionKind, PadCount, PadReplacement
from inspections.models.inspection import LONGEST_TRAVEL_REASON
from inspections.schedule import kinds
from inspections.schedule.intervals import rows_in_force
from inspections.schedule.kinds import Kind, kind_named, sorts_by_kind
from ratings.ledger.posting import Cause, entries_caused_by, post
from ratings.models import LedgerEntry
from ratings.models.policy import safeguards
from ratings.proposals.acts import second_person

if TYPE_CHECKING:
    from fleet.models.any_machine import AnyMachine

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
    """What one person saw at a unit, or at one machine by itself.

    pads: every position, or none where they were not counted; a missing pad is of no lot.
    travel_in: None where it was not taped.
    travel_reason: why a travel beyond the design travel is right; kept with no other.
    hours, pack_hours: what the meters of the hammer and the power pack showed.
    clock_words: how the time was put right where a phone's clock was wrong, kept below the note.
    sound_again_reason, second_look_by: why pads found unsound before are sound with no new one
    fitted, and the key of the person who looks at them too; kept with no other.
    """

    seen_at: datetime
    pads: Sequence[PadSeen]
    travel_in: float | None = None
    travel_reason: str = ""
    hours: float | None = None
    pack_hours: float | None = None
    note: str = ""
    kind: str = InspectionKind.PAD_COUNT
    weather: str = ""
    observations: Observations = field(default_factory=Observations)
    clock_words: str = ""
    sound_again_reason: str = ""
    second_look_by: int | None = None


@dataclass(frozen=True)
class Correction:
    """Which record an inspection puts right, and why."""

    reason: str
    inspection: Inspection | None = None
    replacement: PadReplacement | None = None


@dataclass(frozen=True)
class Signed:
    """An inspection on record, and the ledger entry it posted where it changed anything.

    waiting: the positions it said are sound again that wait for a second look, and as what each
    counts.
    """

    inspection: Inspection
    entry: LedgerEntry | None
    is_copy: bool = False
    waiting: Mapping[tuple[str, int], str] = field(default_factory=dict)

    @property
    def cautions(self) -> list[str]:
        """What whoever signed must know of it besides the figures."""
        return cautions_of(self.inspection, self.waiting)


_SIGNED = Question(
    lambda submission_id: Inspection.objects.filter(submission_id=submission_id).order_by()
)


@second_person(INSPECTION_ACT)
@in_yard_of("housing", "machine", known=on_record_in("inspections.Inspection"))
@together.all_or_nothing()
def sign_inspection(
    *,
    housing: SuppressorHousing | None = None,
    machine: AnyMachine | None = None,
    submission: Submission,
    seen: Seen,
    by: User,
    correction: Correction | None = None,
) -> Signed:
    """Record an inspection and put the unit's figures right with it, in one transaction.

    housing: of the unit inspected, which is whatever hung on it when it was seen. machine: one
    that was inspected by itself, such as a hammer on no housing; its pads are no matter.
    A second copy of a submission changes nothing. Raises ValidationError naming the field
    where kind, pads, travel or hours can't be, or a travel beyond design has no reason, where a
    kind goes by hours and the meter was not read, where pads found unsound are said to be sound
    with no reason, and under no field where nothing was seen, or where the policy asks for a
    qualification for yearly inspections that `by` did not hold then; ChangedMeanwhile where
    another signed in between. Then nothing is kept.
    """
    inspected: Any = housing or machine
    inspected = lock_machine(inspected)
    known = _SIGNED.first(submission_id=submission.submission_id)
    if known is not None:
        refuse_other_machine(known.inspected, inspected)
        return Signed(known, None, is_copy=True, waiting=_waiting(known))
    kind = kind_named(seen.kind, seen.seen_at)
    if isinstance(inspected, SuppressorHousing):
        housing = inspected
        refuse_if_changed(housing, submission)
        # What hung on it when it was seen, whatever hangs on it now.
        hung = hung_on_housing(housing, seen.seen_at)
    else:
        hung = Hung(**{sort_of(inspected).column: inspected})
    _refuse_unqualified(kind, seen, by)
    _refuse_impossible(hung, kind, seen, correction)
    inspection, settled = put_on_record(
        hung=hung, submission=submission, seen=seen, by=by, correction=correction
    )
    answers = answers_by_record(
        seen.observations.answers, _done(seen, hung), _conditions(housing, seen)
    )
    record_observations(inspection, replace(seen.observations, answers=answers), by)
    if housing is None or settled is None:
        return Signed(inspection, None)
    waiting = settled.waiting_for(inspection)
    # A correction gives its own: what it takes back was wrong.
    if waiting and correction is None and not inspection.sound_again_reason:
        raise ValidationError({"sound_again_reason": no_reason_words(waiting)})
    entries = post(
        [housing],
        cause=Cause(Cause.PAD_COUNT, _words(inspection, seen, waiting), inspection.pk),
        occurred_at=seen.seen_at,
        by=by,
        corrects=_corrected_entry(housing, correction),
        positions=None if settled.positions is None else {housing.pk: settled.positions},
    )
    return Signed(inspection, entries[0] if entries else None, waiting=waiting)


def _refuse_unqualified(kind: Kind, seen: Seen, by: User) -> None:
    """Hold a yearly inspection where the policy asks, and a kind that asks itself, to a person."""
    is_yearly = kind.name == InspectionKind.YEARLY and safeguards().qualified_yearly
    if not (is_yearly or kind.wants_qualified):
        return
    day = timezone.localdate(seen.seen_at)
    try:
        refuse_unqualified(by, Qualification.Purpose.YEARLY, day)
    except ValidationError as refusal:
        if is_yearly:
            raise
        raise ValidationError(
            f"“{kind.name}” wants somebody qualified as for yearly inspections. "
            f"{refusal.messages[0]}"
        ) from None


def _waiting(inspection: Inspection) -> dict[tuple[str, int], str]:
    housing = inspection.housing
    return said_sound_again(housing, inspection) if housing is not None else {}


def put_on_record(
    *,
    hung: Hung,
    submission: Submission,
    seen: Seen,
    by: User,
    correction: Correction | None,
    reads_meter: bool = True,
) -> tuple[Inspection, Settled | None]:
    """Write an inspection and bring the housing to what the newest facts then say: return both.

    Nothing is settled where no housing was there. Signing and its preview share it, so that a
    preview is what signing would give. The caller holds the lock and the transaction, and has
    refused what can't be.
    """
    before = correction.inspection if correction else None
    housing, kind = hung.housing, kind_named(seen.kind, seen.seen_at)
    inspection = Inspection.objects.create(
        submission_id=submission.submission_id,
        **hung.columns,
        **kind.columns,
        seen_at=seen.seen_at,
        weather=seen.weather,
        travel_in=seen.travel_in,
        travel_reason=_reason_kept(housing, seen.travel_in, seen.travel_reason),
        **(_record_hours(hung, seen, correction, by) if reads_meter else {}),
        note="\n".join(words for words in (seen.note, seen.clock_words) if words),
        recorded_by=by,
        corrects=before,
        corrects_replacement=correction.replacement if correction else None,
        correction_reason=correction.reason if correction else "",
        sound_again_reason=without_hidden(seen.sound_again_reason).strip(),
        second_look_by=_second_person(seen.second_look_by, by),
        lacks=_lacks(kind, _done(seen, hung), before),
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
    return inspection, settle(housing, newly=inspection) if housing is not None else None


def _done(seen: Seen, hung: Hung) -> dict[str, bool]:
    """Say which of what a kind may need was done; a machine by itself has no pads to count."""
    is_by_itself = hung.housing is None
    return {
        kinds.PADS: is_by_itself or bool(seen.pads),
        kinds.TRAVEL: is_by_itself or seen.travel_in is not None,
        kinds.HOURS: seen.hours is not None or seen.pack_hours is not None,
    }


def _lacks(kind: Kind, done: Mapping[str, bool], before: Inspection | None) -> str:
    """Say what an inspection lacks to count as one of its kind.

    A correction of one that counted goes on counting where it lacks no more than that one did,
    as of one recorded before kinds had needs.
    """
    lacks = lacking(kind, done)
    if before is not None and not before.lacks:
        had = {
            kinds.PADS: before.pads.exists(),
            kinds.TRAVEL: before.travel_in is not None,
            kinds.HOURS: before.hour_reading_id is not None,
        }
        lacks = [each for each in lacks if each not in lacking(kind, had)]
    return ", ".join(lacks)


def _conditions(housing: SuppressorHousing | None, seen: Seen) -> dict[str, str]:
    """Return what each pad is in, by its position: as counted, else as on record."""
    if housing is None:
        return {}
    pads: Iterable[PadSeen | PadPosition] = seen.pads or housing.positions.all()
    return {f"{pad.side}{pad.number}": pad.condition for pad in pads}


def _second_person(key: int | None, by: User) -> User | None:
    """Return who looks at the pads too. Raises ValidationError at "second_look_by"."""
    if key is None:
        return None
    person = managers_but(by).filter(pk=key).first()
    if person is None:
        raise ValidationError(
            {
                "second_look_by": "Whoever looks too must be an equipment manager other than the "
                "one who signs: choose another person."
            }
        )
    return person


def _refuse_impossible(hung: Hung, kind: Kind, seen: Seen, correction: Correction | None) -> None:
    """Raise ValidationError naming every field of what was seen that can't be."""
    observations = (
        seen.observations.answers or seen.observations.findings or seen.observations.photos
    )
    read = (seen.travel_in, seen.hours, seen.pack_hours)
    figures = [each for each in read if each is not None]
    if not (seen.pads or figures or seen.note.strip() or observations):
        raise ValidationError(
            "Nothing was entered: count the pads, tape the travel, read the meter, or note what "
            "was seen."
        )
    troubles: dict[str, Any] = {
        "hours": HOURS.trouble_with(seen.hours),
        "pack_hours": HOURS.trouble_with(seen.pack_hours),
    }
    housing = hung.housing
    if housing is not None:
        troubles |= {
            "pads": pads_troubles(housing, seen.pads, seen.seen_at)
            or _count_troubles(housing, seen.pads),
            "travel_in": TRAVEL.trouble_with(seen.travel_in),
            "travel_reason": reason_trouble(housing, seen.travel_in, seen.travel_reason),
        }
    elif seen.pads or seen.travel_in is not None:
        troubles["pads"] = ValidationError("It has no pads and no travel: leave them out.")
    troubles |= _findings_troubles(hung, seen)
    for name, words in _meters_needed(hung, kind, seen, correction).items():
        troubles[name] = troubles[name] or ValidationError(words)
    errors = {name: trouble for name, trouble in troubles.items() if trouble}
    if errors:
        raise ValidationError(errors)


def _findings_troubles(hung: Hung, seen: Seen) -> dict[str, ValidationError]:
    """Return what findings lack and which of their machines was not there, by their fields."""
    there = hung.by_sort
    troubles = {}
    for place, found in enumerate(seen.observations.findings):
        lacks = lacking_of_finding(
            found.severity, text=found.text, who_acts=found.who_acts, act_by=found.act_by
        )
        for name, words in lacks.items():
            troubles[f"findings.{place}.{name}"] = ValidationError(words)
        if not found.machine or MachineSort(found.machine) in there:
            continue
        named = ", ".join(f"{sort} {machine}" for sort, machine in there.items())
        troubles[f"findings.{place}.machine"] = ValidationError(
            f"No {found.machine} was there when it was seen: choose one of {named}."
        )
    return troubles


def _meters_needed(
    hung: Hung, kind: Kind, seen: Seen, correction: Correction | None
) -> dict[str, str]:
    """Return which meters a kind by hours can't be signed without, by field, and why.

    A correction asks for no more than what it corrects had.
    """
    read = {"hours": seen.hours, "pack_hours": seen.pack_hours}
    needed = meters_needed(hung, kind.name, sorts=kind.sorts, **read)
    if correction is None:
        return needed
    before = correction.inspection
    had = {
        "hours": before is not None and before.hour_reading_id is not None,
        "pack_hours": before is not None and before.pack_hour_reading_id is not None,
    }
    return {name: words for name, words in needed.items() if had[name]}


def kinds_by_hours(sort: MachineSort = MachineSort.HAMMER) -> list[str]:
    """Return the kinds that a unit with a machine of a sort is not signed of without its hours."""
    sorts = sorts_by_kind()
    return [
        str(row.kind)
        for row in rows_in_force()
        if row.hours is not None and sort in sorts.get(row.kind, ())
    ]


def meters_needed(
    hung: Hung,
    kind: str,
    *,
    hours: float | None = None,
    pack_hours: float | None = None,
    sorts: tuple[MachineSort, ...] | None = None,
) -> dict[str, str]:
    """Return what an inspection of a kind lacks of hours, by field.

    sorts: of machine that the kind looked at when it was seen; those of today unless given.
    A kind that goes by hours needs those of the hammer it looks at. Of a power pack a kind of the
    yard's own that looks at packs needs them; a common kind, which looks at all that hangs
    together, where the pack is looked at without a hammer or its meter was ever read.
    """
    every = next(
        (row.hours for row in rows_in_force() if row.kind == kind and row.hours is not None), None
    )
    if every is None:
        return {}
    if sorts is None:
        sorts = sorts_by_kind().get(kind, ())
    words = f"“{kind}” goes by hours, every {plain_number(every, 1)} h: read the meter of {{}}."
    needed = {}
    if hung.hammer is not None and MachineSort.HAMMER in sorts and hours is None:
        needed["hours"] = words.format(f"hammer {hung.hammer}")
    pack = hung.power_pack
    is_of_pack = pack is not None and MachineSort.POWER_PACK in sorts and pack_hours is None
    if is_of_pack and (
        hung.hammer is None
        or kind not in InspectionKind.values
        or HourReading.objects.standing().filter(power_pack=pack).exists()
    ):
        needed["pack_hours"] = words.format(f"power pack {hung.power_pack}")
    return needed


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


def _reason_kept(housing: SuppressorHousing | None, travel_in: float | None, reason: str) -> str:
    """Why a travel beyond design is right; nothing where there is no such travel."""
    if housing is None or travel_in is None or not housing.is_beyond_design(travel_in):
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
    hung: Hung, seen: Seen, correction: Correction | None, by: User
) -> dict[str, HourReading | None]:
    """Record what the meters showed; return the readings by the column that names each."""
    before = correction.inspection if correction else None
    wrong = {
        "hours": before.hour_reading if before else None,
        "pack_hours": before.pack_hour_reading if before else None,
    }
    given = {
        "hours": ("hour_reading", seen.hours, hung.hammer),
        "pack_hours": ("pack_hour_reading", seen.pack_hours, hung.power_pack),
    }
    readings: dict[str, HourReading | None] = {}
    for name, (column, hours, machine) in given.items():
        replaced = wrong[name]
        if hours is None:
            readings[column] = None
            continue
        metered: Any = replaced.machine if replaced else machine
        if metered is None:
            raise ValidationError({name: _no_meter_words(hung, name)})
        readings[column] = _record_reading(name, metered, hours, seen.seen_at, replaced, by)
    return readings


def _record_reading(
    name: str,
    machine: Hammer | PowerPack,
    hours: float,
    read_at: datetime,
    replaces: HourReading | None,
    by: User,
) -> HourReading:
    # So that no meter change is recorded between the check and the reading.
    lock_machine(machine)
    try:
        check_reading(machine, hours, read_at, replaces=replaces)
    except ValidationError as refusal:
        raise ValidationError({name: refusal.message_dict["hours"]}) from None
    return HourReading.objects.create(
        **column_of(machine), hours=hours, read_at=read_at, recorded_by=by
    )


def _no_meter_words(hung: Hung, name: str) -> str:
    """Why hours can't be taken where no such machine hung when it was seen."""
    if hung.housing is None:
        return "There is no such meter at it: leave it blank."
    if name == "hours" or hung.hammer is None:
        return (
            f"Housing {hung.housing} was on no hammer then, so there is no meter: leave it blank, "
            "or record the mounting first."
        )
    return f"No power pack was on hammer {hung.hammer} then: leave it blank, or connect it first."


def cautions_of(inspection: Inspection, waiting: Mapping[tuple[str, int], str]) -> list[str]:
    """Say which pads still count as unsound, and that an inspection is none of its kind."""
    words = []
    if waiting:
        who = inspection.second_look_by
        look = f"{who_words(who)} has looked and signed too" if who else "another person has looked"
        words.append(
            f"{waiting_words(waiting)}: said to be sound again, with no new pad on record. "
            f"Counts as before until {look}, or the new pad is recorded."
        )
    changed = _kind_changed_since(inspection)
    if changed:
        words.append(changed)
    if inspection.lacks:
        words.append(not_counting_words(inspection.kind_name, inspection.lacks.split(", ")))
    return words


def _kind_changed_since(inspection: Inspection) -> str:
    """Say that a kind was changed between the look and the signature, and what it counts for."""
    own = inspection.own_kind
    if own is None:
        return ""
    changed = [
        change.recorded_at
        for changes in (own.sorts_changes, own.needs_changes)
        for change in changes.all()
        if inspection.seen_at < change.recorded_at <= inspection.recorded_at
    ]
    if not changed:
        return ""
    then, now = own.sorts_at(inspection.seen_at), own.sorts_at(inspection.recorded_at)
    words = (
        f"“{own}” was changed {moment_words(max(changed))}, after this was seen and before it was "
        f"signed: it counts as the kind was then, for the {listed(then)}."
    )
    if asked := [sort for sort in now if sort not in then]:
        words += f" Of the {listed(asked)} it is asked anew."
    return words


def listed(sorts: Iterable[MachineSort]) -> str:
    """Name sorts of machine in a row, such as "hammer and power pack"."""
    *most, last = [sort.label for sort in sorts]
    return f"{', '.join(most)} and {last}" if most else last


def no_reason_words(waiting: Mapping[tuple[str, int], str]) -> str:
    """Ask why these pads are sound that were found unsound, with no new one on record."""
    return (
        f"This is blank: {waiting_words(waiting)} when last seen, and no new pad is on record. "
        "Say why it is sound after all, or record the new pad under Replace pads."
    )


def waiting_words(waiting: Mapping[tuple[str, int], str]) -> str:
    """Name positions and what each counts as, such as "A3 swollen"."""
    return ", ".join(f"{position_name(key)} {each}" for key, each in waiting.items())


def _words(
    inspection: Inspection, seen: Seen, waiting: Mapping[tuple[str, int], str] | None = None
) -> str:
    parts = []
    if seen.pads:
        sound = sum(1 for pad in seen.pads if pad.condition == "sound")
        parts.append(f"{sound} of {len(seen.pads)} pads counted sound")
    if seen.travel_in is not None:
        parts.append(f"travel taped at {plain_number(seen.travel_in, 3)} in")
    words = " and ".join(parts) or "nothing counted or taped"
    if waiting:
        words += f"; waits for a second look, counts as before: {waiting_words(waiting)}"
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
