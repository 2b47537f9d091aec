"""Record a proof pull of a unit, hold the unit to it, and let a second person set it aside."""

from __future__ import annotations

import math
import uuid
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from fleet import clock
from fleet.dates import moment_words
from fleet.housings import lock_housing
from fleet.models import SuppressorHousing
from fleet.models.retirable import refuse_out_of_use
from fleet.people.yards import in_yard_of
from fleet.quantities import Measured, Quantity, share_words
from ratings.ledger.facts import pads_digest
from ratings.ledger.posting import Cause, entries_caused_by, post
from ratings.mechanics.bench import Branch
from ratings.mechanics.proof_pull import (
    Comparison,
    PullInstruments,
    PullReading,
    Verdict,
    compare,
)
from ratings.mechanics.record import read_inputs
from ratings.mechanics.unit_rating import UnitRating
from ratings.models import (
    LedgerEntry,
    LoadIndicator,
    ProofDecision,
    ProofPull,
    ProofReading,
    Tape,
    What,
)
from ratings.models.proof_pull import Reservation, is_in_calibration
from ratings.proof.expected import expected_pull
from ratings.proposals.acts import (
    Act,
    Arguments,
    asks_where_it_corrects,
    second_person,
    stand_words,
)
from ratings.proposals.telling import FINEST, beside, told_fields, told_readings


@dataclass(frozen=True)
class ProofSetUp:
    """How, with what and against what a unit was pulled.

    is_vibrating: whether the exciter ran. are_pads_as_recorded: whether whoever pulled it held
    the pads in the unit to its pad map.
    """

    indicator: LoadIndicator
    tape: Tape
    pulled_at: datetime
    tare_lbf: float
    anchor: str
    is_vibrating: bool
    are_pads_as_recorded: bool
    weight_below_lb: float | None = None
    rubber_temperature_f: float | None = None
    witness: str = ""
    note: str = ""


@dataclass(frozen=True)
class BranchReading:
    """A reading of load and stretch, going up or coming down."""

    load_lbf: float
    stretch_in: float
    branch: Branch = Branch.LOADING


class ReadingRefused(ValueError):
    """A reading that can't be: its place (from 0), its field, and words in the reader's units."""

    def __init__(self, index: int, field: str, refusal: ValidationError) -> None:
        self.index, self.field, self.refusal = index, field, refusal
        super().__init__(f"reading {index + 1}: {refusal.messages[0]}")


@dataclass(frozen=True)
class RecordedPull:
    """A proof pull on record, and the ledger entry it caused, where the rating moved."""

    pull: ProofPull
    entry: LedgerEntry | None


@dataclass(frozen=True)
class HeldTo:
    """The entry a pull is held to, and whether the pads on record changed after the pull."""

    entry: LedgerEntry
    are_pads_changed_since: bool


# What a proposal of a correction tells of each, and what it is called there.
TOLD = {
    "indicator": "Load indicator",
    "tape": "Tape",
    "pulled_at": "Pulled at",
    "tare_lbf": "Tare",
    "anchor": "Pulled against",
    "weight_below_lb": "Weight below the pads",
    "rubber_temperature_f": "Rubber temperature",
    "is_vibrating": "Exciter running",
    "are_pads_as_recorded": "Pads held to the pad map",
    "witness": "Witness",
    "note": "Note",
}


def _facts(given: Arguments) -> dict[str, str]:
    housing, corrects = given["housing"], given["corrects"]
    head = LedgerEntry.objects.filter(housing=housing).order_by("sequence").last()
    return {
        f"proof pull {corrects.pk}": stand_words(ProofPull, corrects),
        f"the ledger of {housing}": f"at entry {head.sequence}" if head else "empty",
    }


def _told_readings(readings: Iterable[Any], system: str) -> str:
    return told_readings(
        (
            str(each.branch).capitalize(),
            f"{Quantity.FORCE.words(each.load_lbf, system, FINEST)} at "
            f"{Quantity.LENGTH.words(each.stretch_in, system, FINEST)}",
        )
        for each in readings
    )


def _details(given: Arguments, system: str) -> list[tuple[str, str]]:
    corrects = given["corrects"]
    then = _told_readings(corrects.readings.all(), system)
    return [
        ("Housing", str(given["housing"])),
        ("Corrects", f"proof pull {corrects.pk}"),
        *told_fields(given["set_up"], corrects, TOLD, system),
        ("Readings", beside(_told_readings(given["readings"], system), then)),
    ]


PROOF_ACT = Act(
    What.PROOF_PULL,
    asks=asks_where_it_corrects,
    title=lambda given: f"Correction of proof pull {given['corrects'].pk} of {given['housing']}",
    about=lambda given: given["housing"],
    facts=_facts,
    details=_details,
    page=lambda given: reverse("proof-pull", args=[given["corrects"].pk]),
    known=ProofPull,
    cause=Cause.PROOF_PULL,
    outcome=lambda recorded: recorded.pull.pk,
)


@second_person(PROOF_ACT)
@in_yard_of("housing")
@transaction.atomic
def record_proof_pull(
    *,
    submission_id: uuid.UUID,
    housing: SuppressorHousing,
    set_up: ProofSetUp,
    readings: Sequence[BranchReading],
    based_on: int,
    by: User,
    corrects: ProofPull | None = None,
) -> RecordedPull:
    """Record a proof pull and rate the unit by it where it is softer than its pads say.

    based_on: number of the ledger entry that whoever records it was shown. A second copy of a
    submission changes nothing. Raises ValidationError naming the field, ReadingError or
    ReadingRefused naming the reading, or ValueError of them all, for what can't be; then nothing
    is kept.
    """
    housing = lock_housing(housing.pk)
    known = ProofPull.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return _on_record(known, housing)
    refuse_out_of_use(
        timezone.localdate(set_up.pulled_at), indicator=set_up.indicator, tape=set_up.tape
    )
    _refuse_set_up(set_up)
    if corrects is not None:
        _refuse_correction(corrects, housing)
    _refuse_other_pads_than_shown(housing, based_on)
    held = entry_at(housing, set_up.pulled_at)
    comparison, rating = compare_with(held.entry, set_up, readings)
    pull = _unsaved(housing, held, set_up, comparison, rating)
    pull.submission_id, pull.recorded_by, pull.corrects = submission_id, by, corrects
    pull.save(force_insert=True)
    ProofReading.objects.bulk_create(
        ProofReading(
            pull=pull,
            number=number,
            branch=given.branch.value,
            load_lbf=given.load_lbf,
            stretch_in=given.stretch_in,
            measured_lbf=each.measured_lbf,
            expected_lbf=each.expected_lbf,
        )
        for number, (given, each) in enumerate(
            zip(readings, comparison.readings, strict=True), start=1
        )
    )
    posted = post(
        [housing],
        cause=Cause(Cause.PROOF_PULL, _words(pull), pull.pk),
        occurred_at=set_up.pulled_at,
        by=by,
        corrects=(
            entries_caused_by(Cause.PROOF_PULL, corrects.pk, [housing.pk]) if corrects else None
        ),
    )
    return RecordedPull(pull, posted[0] if posted else None)


def _on_record(known: ProofPull, housing: SuppressorHousing) -> RecordedPull:
    if known.housing_id != housing.pk:
        raise ValidationError(
            f"This form was sent for housing {known.housing} already: open the page of housing "
            f"{housing} again and send it there."
        )
    entries = entries_caused_by(Cause.PROOF_PULL, known.pk, [housing.pk])
    return RecordedPull(known, entries.get(housing.pk))


def _refuse_set_up(set_up: ProofSetUp) -> None:
    if set_up.is_vibrating:
        raise ValidationError(
            {
                "is_vibrating": "A unit that vibrates says nothing of its pads, and the pull may "
                "break what holds it: pull it again with the exciter still."
            }
        )
    if not set_up.are_pads_as_recorded:
        raise ValidationError(
            {
                "are_pads_as_recorded": "Hold the pads in the unit to its pad map first. Where "
                "they differ, record the count or the replacement, then this pull."
            }
        )
    if not set_up.anchor.strip():
        raise ValidationError(
            {"anchor": "This is blank: say what it was pulled against and what that is rated for."}
        )
    below_lb = set_up.weight_below_lb
    if (
        set_up.indicator.kind == LoadIndicator.Kind.CRANE
        and below_lb is not None
        and 0.0 < set_up.tare_lbf < below_lb
    ):
        raise ValidationError(
            {
                "tare_lbf": ValidationError(
                    "%(tare)s is less than the %(below)s that hang below the pads, which a "
                    "crane’s indicator carries too: read it again with the unit hanging free.",
                    params={
                        "tare": Measured(Quantity.FORCE, set_up.tare_lbf),
                        "below": Measured(Quantity.WEIGHT, below_lb),
                    },
                )
            }
        )


def _refuse_correction(corrects: ProofPull, housing: SuppressorHousing) -> None:
    if corrects.housing_id != housing.pk:
        raise ValidationError(
            f"Proof pull {corrects.pk} is of housing {corrects.housing}: correct it from there."
        )
    if ProofPull.objects.filter(corrects=corrects).exists():
        raise ValidationError(
            f"Proof pull {corrects.pk} was corrected already: correct the one that corrects it."
        )


def _refuse_other_pads_than_shown(housing: SuppressorHousing, based_on: int) -> None:
    entries = LedgerEntry.objects.filter(housing=housing)
    head = entries.order_by("sequence").last()
    shown = entries.filter(sequence=based_on).first()
    if head is None or (shown is not None and _pads(shown) == _pads(head)):
        return
    raise ValidationError(
        "The pads of this unit changed on record since you opened the page: look at the pad map "
        "again, then send it again."
    )


def _pads(entry: LedgerEntry) -> Any:
    return entry.inputs["positions"]


def entry_at(housing: SuppressorHousing, pulled_at: datetime) -> HeldTo:
    """Return the entry to hold a pull of that moment to.

    The head, whose rates are the best known, unless pads were changed or counted otherwise after
    the pull: then the last entry with the pads of then. Raises ValidationError where there was
    none.
    """
    entries = LedgerEntry.objects.filter(housing=housing).order_by("sequence")
    head = entries.last()
    if head is None:
        raise ValidationError(
            f"Housing {housing} has no ledger entry yet: count its pads and tape its travel "
            "first, so that there is something to hold the pull to."
        )
    for later in entries.filter(occurred_at__gt=pulled_at):
        before = entries.filter(sequence=later.sequence - 1).first()
        if before is None:
            raise ValidationError(
                {
                    "pulled_at": f"The ledger of this unit begins on "
                    f"{moment_words(later.occurred_at)}, after this pull: nobody knows which "
                    "pads it had. Pull it again."
                }
            )
        if _pads(before) != _pads(later):
            return HeldTo(before, True)
    return HeldTo(head, False)


def compare_with(
    entry: LedgerEntry, set_up: ProofSetUp, readings: Sequence[BranchReading]
) -> tuple[Comparison, UnitRating]:
    """Return what readings come to against an entry, and the rating of its pads alone.

    Raises ValidationError for a unit that is not rated, ReadingRefused for a reading beyond its
    usable travel, and as `compare` does.
    """
    known = expected_pull(read_inputs(entry.inputs))
    if known is None:
        missing = " and ".join(entry.results["missing"])
        raise ValidationError(
            f"This unit is not rated{': it lacks ' + missing if missing else ''}. There is "
            "nothing yet to hold a pull to."
        )
    expected, rating = known
    comparison = compare(
        [PullReading(each.load_lbf, each.stretch_in) for each in readings],
        set_up.tare_lbf,
        PullInstruments(
            set_up.indicator.accuracy_pct,
            set_up.indicator.resolution_lbf,
            set_up.tape.resolution_in,
        ),
        expected,
        set_up.weight_below_lb or 0.0,
    )
    usable_in = rating.usable_travel_in or 0.0
    for place, each in enumerate(readings):
        at_in = comparison.sag_in + each.stretch_in
        # A division of the tape is no matter.
        if at_in > usable_in + set_up.tape.resolution_in:
            refusal = _too_far(each.stretch_in, comparison.sag_in, usable_in)
            raise ReadingRefused(place, "stretch_in", refusal)
    return comparison, rating


def _too_far(stretch_in: float, sag_in: float, usable_in: float) -> ValidationError:
    sag = ", with the %(sag)s that the weight below gave already," if sag_in else ""
    return ValidationError(
        f"%(stretch)s{sag} is beyond the usable travel of %(usable)s on record: read the tape "
        "again. If it was stretched so far, have pads and stops looked at, and leave this "
        "reading out.",
        params={
            "stretch": Measured(Quantity.LENGTH, stretch_in),
            "sag": Measured(Quantity.LENGTH, sag_in),
            "usable": Measured(Quantity.LENGTH, usable_in),
        },
    )


def _unsaved(
    housing: SuppressorHousing,
    held: HeldTo,
    set_up: ProofSetUp,
    comparison: Comparison,
    rating: UnitRating,
) -> ProofPull:
    indicator, tape = set_up.indicator, set_up.tape
    return ProofPull(
        housing=housing,
        entry=held.entry,
        indicator=indicator,
        tape=tape,
        indicator_kind=indicator.kind,
        accuracy_pct=indicator.accuracy_pct,
        resolution_lbf=indicator.resolution_lbf,
        certificate_number=indicator.certificate_number,
        calibrated_on=indicator.calibrated_on,
        due_on=indicator.due_on,
        tape_resolution_in=tape.resolution_in,
        pulled_at=set_up.pulled_at,
        tare_lbf=set_up.tare_lbf,
        weight_below_lb=set_up.weight_below_lb,
        rubber_temperature_f=set_up.rubber_temperature_f,
        anchor=set_up.anchor.strip(),
        witness=set_up.witness,
        note=set_up.note,
        sag_in=comparison.sag_in,
        stretch_in=comparison.stretch_in,
        measured_lbf=comparison.measured_lbf,
        expected_lbf=comparison.expected_lbf,
        stiffness_lbf_in=comparison.stiffness_lbf_in,
        expected_stiffness_lbf_in=comparison.expected_stiffness_lbf_in,
        ratio=comparison.ratio,
        half_width=comparison.half_width,
        own_share=comparison.own_share,
        own_degrees_of_freedom=_finite(comparison.own_degrees_of_freedom),
        coverage_factor=comparison.coverage_factor,
        e_n=comparison.e_n,
        offset_lbf=comparison.offset_lbf,
        pads_digest=pads_digest(
            held.entry.inputs["positions"], held.entry.contents["provenance"]["lot_ratings"]
        ),
        parts=[[part.name, part.standard] for part in comparison.parts],
        reservations=list(_reservations(held, set_up, rating)),
    )


def _finite(value: float) -> float | None:
    return None if math.isinf(value) else value


def _reservations(held: HeldTo, set_up: ProofSetUp, rating: UnitRating) -> Iterator[str]:
    indicator = set_up.indicator
    if not is_in_calibration(indicator.calibrated_on, indicator.due_on, set_up.pulled_at):
        yield Reservation.OUT_OF_CALIBRATION.value
    coldest_f = read_inputs(held.entry.inputs).policy.coldest_f
    if set_up.rubber_temperature_f is not None and set_up.rubber_temperature_f < coldest_f:
        yield Reservation.COLD.value
    if rating.unrated_pads:
        yield Reservation.UNRATED_PADS.value
    if held.are_pads_changed_since:
        yield Reservation.PADS_CHANGED.value


def _words(pull: ProofPull) -> str:
    words = (
        f"Proof pull {pull.pk}: {pull.verdict}; it measured {share_words(pull.ratio)} of what they "
        "should give"
    )
    return f"{words}, correcting proof pull {pull.corrects_id}" if pull.corrects_id else words


@in_yard_of("pull")
@transaction.atomic
def set_proof_pull_aside(
    *, submission_id: uuid.UUID, pull: ProofPull, reason: str, by: User
) -> LedgerEntry | None:
    """Let a softness that a pull found count no more. A second copy changes nothing.

    Returns the ledger entry posted. Raises ValidationError where the pull found none, was
    corrected or set aside already, where whoever recorded it asks, and without a reason.
    """
    housing = lock_housing(pull.housing_id)
    known = ProofDecision.objects.filter(submission_id=submission_id).first()
    if known is not None:
        entries = entries_caused_by(Cause.PROOF_PULL_SET_ASIDE, known.pull_id, [housing.pk])
        return entries.get(housing.pk)
    pull = ProofPull.objects.select_related("decision", "corrected_by").get(pk=pull.pk)
    if pull.verdict is not Verdict.SOFTER:
        raise ValidationError(
            "This pull did not find the unit soft: there is nothing to set aside."
        )
    if hasattr(pull, "corrected_by"):
        raise ValidationError("This pull was corrected since: look at the one that corrects it.")
    if hasattr(pull, "decision"):
        raise ValidationError("This pull is set aside already.")
    if pull.recorded_by_id == by.pk:
        raise ValidationError(
            "You recorded this pull: a second person must say that it counts no more."
        )
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say what was found."})
    ProofDecision.objects.create(
        submission_id=submission_id,
        pull=pull,
        pull_recorded_by=pull.recorded_by,
        reason=reason.strip(),
        recorded_by=by,
    )
    posted = post(
        [housing],
        cause=Cause(
            Cause.PROOF_PULL_SET_ASIDE, f"Proof pull {pull.pk} set aside: {reason.strip()}", pull.pk
        ),
        occurred_at=clock.now(),
        by=by,
    )
    return posted[0] if posted else None
