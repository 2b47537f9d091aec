"""Record what happened when a pile was pulled, beside the answer it was committed on."""

from __future__ import annotations

import math
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from fleet import clock
from fleet.dates import days_words, moment_words
from fleet.fields import CLOCK_LEEWAY
from fleet.models.measured_fields import measured_field
from fleet.people.yards import in_yard_of, lock_and_look_again, on_record_in
from fleet.quantities import Measured, Quantity
from ratings.jobs.validity import Word, commitments_now
from ratings.mechanics.extraction.job import Job, PileOfJob
from ratings.models import Commitment, JobAnswer, PullRecord, What
from ratings.models.pull_record import PullDoubt
from ratings.proposals.acts import (
    Act,
    Arguments,
    asks_where_it_corrects,
    second_person,
    stand_words,
)
from ratings.proposals.telling import told_fields
from ratings.pulls.limits import Passed, limits_passed
from ratings.pulls.sheet_answer import (
    AnswerInputs,
    HookWeights,
    answer_of_sheet,
    hold_of,
    hook_weights,
    inputs_of,
    pads_pull_lbf,
)

# An indicator and the weights on record agree no better than this.
SAME_WITHIN = 0.03
# Beyond what a tape and a rule on the housing can be misread by.
STOPS_LEEWAY_IN = 0.25
LBF_PER_KN = 224.809

Outcome, Source, Method = PullRecord.Outcome, PullRecord.LoadSource, PullRecord.Method
_MEASURED = ("hook_load_lbf", "tare_lbf", "stretch_in", "minutes", "toe_depth_ft")


@dataclass(frozen=True)
class PullDone:
    """What somebody saw of a pull."""

    pile_group: int
    pile_mark: str
    pulled_at: datetime
    outcome: str
    method: str
    load_source: str
    hook_load_lbf: float | None = None
    tare_lbf: float | None = None
    stretch_in: float | None = None
    minutes: float | None = None
    toe_depth_ft: float | None = None
    in_the_way: str = ""
    watched_by: str = ""
    clock_words: str = ""

    @property
    def is_vibrated(self) -> bool:
        return self.method == Method.VIBRATED


@dataclass(frozen=True)
class RecordedPullDone:
    """A pull on record, and whether it was there before this copy of it came."""

    pull: PullRecord
    is_copy: bool


class PullDoubted(ValidationError):
    """What looks wrong and may be right: by field, for somebody to read again and say so."""


# What a proposal of a correction tells of each, and what it is called there.
TOLD = {
    "pile_group": "Group",
    "pile_mark": "Pile",
    "pulled_at": "Pulled at",
    "outcome": "Did it come",
    "method": "How it was pulled",
    "load_source": "Hook load read from",
    "hook_load_lbf": "Highest hook load",
    "tare_lbf": "Hook load hanging free",
    "stretch_in": "Stretch",
    "minutes": "Minutes",
    "toe_depth_ft": "Toe when it broke out",
    "in_the_way": "What was in the way",
    "watched_by": "Watched by",
}


def _facts(given: Arguments) -> dict[str, str]:
    corrects = given["corrects"]
    return {f"pull {corrects.pk}": stand_words(PullRecord, corrects)}


def _details(given: Arguments, system: str) -> list[tuple[str, str]]:
    corrects = given["corrects"]
    return [
        ("Commitment", str(given["commitment"])),
        ("Corrects", f"pull {corrects.pk}"),
        ("What was wrong", given["correction_reason"]),
        *told_fields(given["done"], corrects, TOLD, system),
    ]


PULL_ACT = Act(
    What.PULL,
    asks=asks_where_it_corrects,
    title=lambda given: (
        f"Correction of pull {given['corrects'].pk}, pile {given['corrects'].pile_mark}"
    ),
    about=lambda given: given["corrects"],
    facts=_facts,
    details=_details,
    page=lambda given: reverse("pull-record", args=[given["corrects"].pk]),
    known=PullRecord,
    outcome=lambda recorded: recorded.pull.pk,
)


@second_person(PULL_ACT)
@in_yard_of("commitment", known=on_record_in("ratings.PullRecord"))
@transaction.atomic
def record_pull(
    *,
    submission_id: uuid.UUID,
    commitment: Commitment,
    done: PullDone,
    by: User,
    are_doubts_known: bool = False,
    corrects: PullRecord | None = None,
    correction_reason: str = "",
) -> RecordedPullDone:
    """Put on record what happened when a pile of a committed job was pulled.

    A second copy of a submission changes nothing. Raises ValidationError naming the field for
    what can't be, and PullDoubted for what is doubtful and not said to be read again; then
    nothing is kept.
    """
    lock_and_look_again()
    made = (
        Commitment.objects.select_for_update(of=("self",))
        .select_related("answer", "job", "housing")
        .get(pk=commitment.pk)
    )
    known = PullRecord.objects.filter(submission_id=submission_id).first()
    if known is not None:
        if known.commitment_id != made.pk:
            raise ValidationError(
                "This form was sent for another commitment already: open its page again and send "
                "it there."
            )
        return RecordedPullDone(known, True)
    answer = answer_of_sheet(made, done.pulled_at)
    asked = inputs_of(answer)
    pile = asked.pile(done.pile_group)
    if pile is None:
        numbers = ", ".join(str(each.number) for each in asked.piles)
        raise ValidationError(
            {"pile_group": f"The answer has no piles of number {done.pile_group}: give {numbers}."}
        )
    _refuse_bare(done)
    _refuse_correction(made, corrects, correction_reason)
    _refuse_moment(made, done)
    _refuse_again(made, pile, done, corrects)
    weights = hook_weights(asked, pile.job)
    _refuse_figures(made, pile.job, weights, done)
    doubts = [
        *_doubts_of_group(made, answer, pile, done, corrects),
        *_doubts_of_sheet(made, done),
        *_doubts(made, asked, pile.job, weights, done),
    ]
    if doubts and not are_doubts_known:
        by_field: dict[str, list[ValidationError]] = {}
        for _doubt_of, (field, words) in doubts:
            by_field.setdefault(field, []).append(words)
        raise PullDoubted(by_field)
    pull = _unsaved(made, asked, pile, weights, done)
    pull.answer = answer
    pull.submission_id, pull.recorded_by = submission_id, by
    pull.corrects, pull.correction_reason = corrects, correction_reason.strip()
    pull.doubts = [each.value for each, _ in doubts]
    pull.save(force_insert=True)
    return RecordedPullDone(pull, False)


def _refuse_bare(done: PullDone) -> None:
    """Refuse what is out of the bounds of its field, or asked for and not given."""
    for name in _MEASURED:
        measured_field(PullRecord, name).refuse_out_of_bounds(getattr(done, name))
    for name, words, known in (
        ("outcome", "Say whether it came.", Outcome.values),
        ("method", "Say how it was pulled.", Method.values),
        ("load_source", "Say whether the hook load was read.", Source.values),
    ):
        if getattr(done, name) not in known:
            raise ValidationError({name: words})
    if not done.pile_mark.strip():
        raise ValidationError({"pile_mark": "This is blank: give the number or mark of the pile."})
    is_read = done.load_source == Source.INDICATOR
    if is_read and done.hook_load_lbf is None:
        raise ValidationError(
            {
                "hook_load_lbf": "This is blank: give what the load indicator showed at its "
                "highest, or say that it was not read."
            }
        )
    if not is_read and done.hook_load_lbf is not None:
        raise ValidationError(
            {
                "load_source": "A hook load is given, and it is said not to have been read: say "
                "which it is. A guess is no reading; leave it out."
            }
        )
    if not is_read and done.tare_lbf is not None:
        raise ValidationError(
            {"tare_lbf": "No hook load was read: leave this blank, or give the hook load too."}
        )


def _refuse_correction(
    made: Commitment, corrects: PullRecord | None, correction_reason: str
) -> None:
    if corrects is None:
        return
    if corrects.commitment_id != made.pk:
        raise ValidationError(f"Pull {corrects.pk} is of another commitment: correct it there.")
    if PullRecord.objects.filter(corrects=corrects).exists():
        raise ValidationError(
            f"Pull {corrects.pk} was corrected already: correct the one that corrects it."
        )
    if not correction_reason.strip():
        raise ValidationError({"correction_reason": "This is blank: say why it is corrected."})


def _refuse_moment(made: Commitment, done: PullDone) -> None:
    if done.pulled_at > clock.now() + CLOCK_LEEWAY:
        raise ValidationError(
            {
                "pulled_at": f"{moment_words(done.pulled_at)} is in the future: give when it was "
                "pulled."
            }
        )
    committed = made.answer.recorded_at
    # A minute is as near as a form asks the time.
    if done.pulled_at < committed - timedelta(minutes=1):
        raise ValidationError(
            {
                "pulled_at": f"{moment_words(done.pulled_at)} is before {made.housing} was "
                f"committed, {moment_words(committed)}: this sheet was not there yet. Give the "
                "right time, or record it at the commitment it was pulled on."
            }
        )
    if made.released_at is not None and done.pulled_at > made.released_at:
        raise ValidationError(
            {
                "pulled_at": f"{moment_words(done.pulled_at)} is after {made.housing} was released "
                f"from this job, {moment_words(made.released_at)}: give the right time, or record "
                "it at the commitment it was pulled on."
            }
        )


def _refuse_again(
    made: Commitment, pile: PileOfJob, done: PullDone, corrects: PullRecord | None
) -> None:
    """Refuse a pile that is out already."""
    out = _out(made, pile, corrects)
    mark = done.pile_mark.strip()
    same = out.filter(pile_mark__iexact=mark).first()
    if same is not None and same.pulled_at <= done.pulled_at:
        raise ValidationError(
            {
                "pile_mark": f"Pile {mark} came out {moment_words(same.pulled_at)} by pull "
                f"{same.pk}: give the mark of this one, or correct that record."
            }
        )
    if same is not None and done.outcome == Outcome.CAME:
        raise ValidationError(
            {
                "pile_mark": f"Pile {mark} came out {moment_words(same.pulled_at)} by pull "
                f"{same.pk}: it can’t have come out before. Give the right mark or time."
            }
        )


def _doubts_of_sheet(
    made: Commitment, done: PullDone
) -> Iterator[tuple[PullDoubt, tuple[str, ValidationError]]]:
    """Doubt a pull for which no sheet was valid: not yet confirmed by then, or void by then."""
    (now,) = commitments_now(Commitment.objects.filter(pk=made.pk))
    confirmed = [each.recorded_at for each in made.confirmations.all()]
    waits = any(each.is_before_it_goes for each in now.conditions)
    why = ""
    # A minute is as near as a form asks the time.
    by = done.pulled_at + timedelta(minutes=1)
    if waits and not any(at <= by for at in confirmed):
        why = "what it was promised on was not confirmed yet"
    elif now.word is Word.VOID:
        # What came after the pull is no matter of it; what nobody knows the time of is asked.
        then = [each for each in now.reasons if each.since is None or each.since < done.pulled_at]
        why = " ".join(each.words for each in then).rstrip(".")
    if why:
        yield _doubt(
            PullDoubt.NO_SHEET,
            "pulled_at",
            f"no sheet was valid then: {why}. Was it pulled all the same?",
        )


def _doubts_of_group(
    made: Commitment,
    answer: JobAnswer,
    pile: PileOfJob,
    done: PullDone,
    corrects: PullRecord | None,
) -> Iterator[tuple[PullDoubt, tuple[str, ValidationError]]]:
    """Doubt more piles than the group has: how many there are may have been left at one."""
    if answer.contents["format"] < 3 or done.outcome != Outcome.CAME:
        return
    if _out(made, pile, corrects).count() >= pile.count:
        yield _doubt(
            PullDoubt.MORE_THAN_GROUP,
            "pile_group",
            f"All {pile.count} piles of this group are out already: is this one of it?",
        )


def _out(made: Commitment, pile: PileOfJob, corrects: PullRecord | None) -> Any:
    """The pulls by which piles of a group came out, but for one that is corrected."""
    out = PullRecord.objects.standing().filter(
        commitment__job=made.job_id, pile_group=pile.number, outcome=Outcome.CAME
    )
    return out if corrects is None else out.exclude(pk=corrects.pk)


def _refuse_figures(made: Commitment, job: Job, weights: HookWeights, done: PullDone) -> None:
    embedment_ft = job.pile.embedment_ft
    if done.toe_depth_ft is not None and done.toe_depth_ft > embedment_ft:
        raise _at(
            "toe_depth_ft",
            "%(given)s is deeper than the pile stood, %(stood)s: give what was left in the ground.",
            given=Measured(Quantity.DEPTH, done.toe_depth_ft),
            stood=Measured(Quantity.DEPTH, embedment_ft),
        )
    housing = made.housing
    stops_in = max(housing.design_travel_in, housing.travel_in or 0.0)
    if done.stretch_in is not None and done.stretch_in > stops_in + STOPS_LEEWAY_IN:
        raise _at(
            "stretch_in",
            "%(given)s can’t be: this housing meets its stops at %(stops)s. Read the rule again.",
            given=Measured(Quantity.LENGTH, done.stretch_in),
            stops=Measured(Quantity.LENGTH, stops_in),
        )
    load_lbf = done.hook_load_lbf
    if load_lbf is None:
        return
    if done.tare_lbf is not None and done.tare_lbf >= load_lbf:
        raise _at(
            "tare_lbf",
            "%(tare)s is not less than the highest hook load, %(load)s: read both again.",
            tare=Measured(Quantity.FORCE, done.tare_lbf),
            load=Measured(Quantity.FORCE, load_lbf),
        )
    hung_lb = _hung_lb(weights, done)
    if hung_lb is not None and load_lbf <= hung_lb * (1.0 - SAME_WITHIN):
        raise _too_little(load_lbf, hung_lb, done)


def _hung_lb(weights: HookWeights, done: PullDone) -> float | None:
    """What the indicator shows with no ground holding: by its own tare, else by the records."""
    unit_lb = weights.unit_lb if done.tare_lbf is None else done.tare_lbf
    if unit_lb is None:
        return None
    # A pile that stays carries its own weight for a part: only the unit hangs for sure.
    return unit_lb + (weights.carried_lb if done.outcome == Outcome.CAME else 0.0)


def _too_little(load_lbf: float, hung_lb: float, done: PullDone) -> ValidationError:
    words = (
        "%(load)s is less than the %(hung)s that hang from the hook anyway. Give all that the "
        "indicator showed, not the pull at the pads"
    )
    measured: dict[str, Any] = {
        "load": Measured(Quantity.FORCE, load_lbf),
        "hung": Measured(Quantity.WEIGHT, hung_lb),
    }
    if load_lbf * LBF_PER_KN > hung_lb and load_lbf < 3_000.0:
        words += "; as kN it would be %(as_kn)s"
        measured["as_kn"] = Measured(Quantity.FORCE, load_lbf * LBF_PER_KN)
    elif done.tare_lbf is None:
        words += "; where it was set to nothing beforehand, give 0 for it hanging free"
    return _at("hook_load_lbf", f"{words}.", **measured)


def _at(field: str, words: str, **measured: Any) -> ValidationError:
    return ValidationError({field: ValidationError(words, params=measured)})


def _doubts(
    made: Commitment, asked: AnswerInputs, job: Job, weights: HookWeights, done: PullDone
) -> Iterator[tuple[PullDoubt, tuple[str, ValidationError]]]:
    """Yield what looks wrong and may be right: which doubt, its field, and words."""
    day = timezone.localtime(done.pulled_at).date()
    if not made.first_day <= day <= made.last_day:
        yield _doubt(
            PullDoubt.NOT_ITS_DAYS,
            "pulled_at",
            f"{moment_words(done.pulled_at)} is not of the days the unit was committed for, "
            f"{days_words(made.first_day, made.last_day)}.",
        )
    for passed in _passed(asked, job, weights, done):
        yield _doubt(
            passed.limit,
            "hook_load_lbf",
            _PASSED[passed.limit],
            load=Measured(Quantity.FORCE, passed.load_lbf),
            limit=Measured(Quantity.FORCE, passed.limit_lbf),
        )
    yield from _doubts_of_stretch(asked, weights, done)
    if done.is_vibrated != job.is_vibrating:
        yield _doubt(
            PullDoubt.OTHER_METHOD,
            "method",
            f"The answer was calculated for a pull {job.method}.",
        )
    if done.is_vibrated and None in (asked.unit.eccentric_moment_lb_in, asked.unit.frequency_vpm):
        yield _doubt(
            PullDoubt.CANNOT_VIBRATE,
            "method",
            f"The records of {made.housing} had no eccentric moment or frequency: was it the crane "
            "alone?",
        )


# What a load that passed a limit is asked about, "load" and "limit" in it.
_PASSED = {
    PullDoubt.ABOVE_CRANE: "%(load)s is above the crane’s capacity for this pull, %(limit)s. If it "
    "was pulled so far, have the crane looked at.",
    PullDoubt.ABOVE_PADS: "It comes to %(load)s at the pads, above their working capacity, "
    "%(limit)s. If it was pulled so far, have the pads counted before the next pull.",
    PullDoubt.ABOVE_CLAMP: "It comes to %(load)s at the clamp, above what its jaws hold, %(limit)s."
    " If it was pulled so far, have jaws and pile head looked at.",
    PullDoubt.ABOVE_RIGGING: "It comes to %(load)s on a leg of the rigging, above its limit, "
    "%(limit)s. If it was pulled so far, have the rigging looked at.",
}


def _passed(asked: AnswerInputs, job: Job, weights: HookWeights, done: PullDone) -> list[Passed]:
    """The limits that its hook load passed; the crane's also where no weights are on record."""
    load_lbf, capacity_lbf = done.hook_load_lbf, job.crane.capacity_lbf
    measured_lbf = _measured_lbf(weights, done)
    passed: list[Passed] = []
    if measured_lbf is not None:
        passed = list(limits_passed(asked, job, measured_lbf, is_vibrated=done.is_vibrated))
    if load_lbf is None or capacity_lbf is None or load_lbf <= capacity_lbf:
        return passed
    if any(each.limit is PullDoubt.ABOVE_CRANE for each in passed):
        return passed
    return [Passed(PullDoubt.ABOVE_CRANE, load_lbf, capacity_lbf), *passed]


def _measured_lbf(weights: HookWeights, done: PullDone) -> float | None:
    """The hook load less all that hangs, None where either is not known."""
    unit_lb = weights.unit_lb if done.tare_lbf is None else done.tare_lbf
    if done.hook_load_lbf is None or unit_lb is None:
        return None
    return done.hook_load_lbf - (unit_lb + weights.carried_lb)


def _doubts_of_stretch(
    asked: AnswerInputs, weights: HookWeights, done: PullDone
) -> Iterator[tuple[PullDoubt, tuple[str, ValidationError]]]:
    usable_in = asked.unit.usable_travel_in
    if done.stretch_in is None or usable_in is None:
        return
    if done.stretch_in > usable_in + 0.005:
        yield _doubt(
            PullDoubt.BEYOND_USABLE,
            "stretch_in",
            "%(given)s is beyond the usable travel of %(usable)s. If it was stretched so far, have "
            "pads and stops looked at before the next pull.",
            given=Measured(Quantity.LENGTH, done.stretch_in),
            usable=Measured(Quantity.LENGTH, usable_in),
        )
    pads_lbf, above_lb = pads_pull_lbf(asked.unit, done.stretch_in), weights.above_pads_lb
    if done.hook_load_lbf is None or done.tare_lbf is not None:
        return
    if not pads_lbf or not above_lb:
        return
    # Near the pads' own pull, and farther from what the hook would then carry.
    off_pads = abs(math.log(done.hook_load_lbf / pads_lbf))
    off_hook = abs(math.log(done.hook_load_lbf / (pads_lbf + above_lb)))
    if off_pads < SAME_WITHIN < off_hook:
        yield _doubt(
            PullDoubt.READ_AS_PADS,
            "hook_load_lbf",
            "%(load)s is what the pads alone carry at that stretch; with housing, rigging and hook "
            "block the indicator would show about %(hook)s. Is it the pull at the pads?",
            load=Measured(Quantity.FORCE, done.hook_load_lbf),
            hook=Measured(Quantity.FORCE, pads_lbf + above_lb),
        )


def _doubt(
    doubt: PullDoubt, field: str, words: str, **measured: Any
) -> tuple[PullDoubt, tuple[str, ValidationError]]:
    return doubt, (field, ValidationError(words, code="doubt", params=measured))


def _unsaved(
    made: Commitment, asked: AnswerInputs, pile: PileOfJob, weights: HookWeights, done: PullDone
) -> PullRecord:
    hold = hold_of(asked, pile.job, is_vibrated=done.is_vibrated, toe_depth_ft=done.toe_depth_ft)
    part = hold.part if hold else None
    unit_lb = weights.unit_lb if done.tare_lbf is None else done.tare_lbf
    hung_lb = None if unit_lb is None else unit_lb + weights.carried_lb
    return PullRecord(
        commitment=made,
        pile_group=pile.number,
        group_label=pile.label,
        pile_mark=done.pile_mark.strip(),
        pulled_at=done.pulled_at,
        outcome=done.outcome,
        method=done.method,
        load_source=done.load_source,
        **{name: getattr(done, name) for name in _MEASURED},
        in_the_way=done.in_the_way.strip(),
        watched_by=done.watched_by.strip(),
        clock_words=done.clock_words,
        pile_kind=pile.job.pile.kind.value,
        weights_lb=hung_lb,
        measured_lbf=_measured_lbf(weights, done),
        expected_lbf=hold.expected_lbf if hold else None,
        low_lbf=hold.low_lbf if hold else None,
        high_lbf=hold.high_lbf if hold else None,
        soil=part.soil if part else "",
        soil_share=part.share if part else None,
        soil_static_lbf=part.static_lbf if part else None,
        soil_rest_lbf=part.rest_lbf if part else None,
    )
