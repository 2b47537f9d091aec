"""What would make a unit suit a job: pads to fit, a lighter bite, what is to be put right first."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from fleet.models import PadLot
from fleet.units import Quantity, capacity_words, plain_number, pull_words
from ratings.jobs.answer import UnitAnswer
from ratings.jobs.candidates import rated_pads
from ratings.jobs.words import (
    BEARS_GROUND,
    Place,
    at_least,
    margin_words,
    missing_facts,
    missing_sentences,
)
from ratings.ledger.facts import lot_rate
from ratings.mechanics.extraction.check import check as check_unit
from ratings.mechanics.extraction.check import embedment_to_suit_ft
from ratings.mechanics.extraction.demand import plug_weight_lb
from ratings.mechanics.extraction.forces import JAWS
from ratings.mechanics.extraction.supply import hanging_lb
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.extraction.verdict import Check, CheckKey, Outcome, UnitVerdict, Verdict
from ratings.mechanics.record import read_inputs
from ratings.mechanics.unit_rating import LotRate, UnitInputs, UnitRating, rate_unit
from ratings.mechanics.what_if import PadsToFit, pads_to_fit, pads_to_swap, with_sound_pads
from ratings.models import LotRating


@dataclass(frozen=True)
class Refit:
    """Pads of one lot in these positions; the unit's rating and its verdict on the job then."""

    way: PadsToFit
    rating: UnitRating
    verdict: UnitVerdict

    @property
    def margin(self) -> float:
        """Of the line pull at the pads."""
        then = self.verdict.check(CheckKey.LINE_PULL)
        return (then.margin or 0.0) if then else 0.0


def refits(answer: UnitAnswer) -> list[Refit]:
    """Return what each stocked lot would do for a unit's line pull on a job, the best first.

    Nothing where the pull or the stretch isn't known.
    """
    pull = answer.verdict.check(CheckKey.LINE_PULL)
    entry, usable_in = answer.candidate.entry, answer.candidate.unit.usable_travel_in
    if entry is None or pull is None or pull.demand is None:
        return []
    if usable_in is None or not answer.stretch_in:
        return []
    inputs = read_inputs(entry.inputs)
    wanted_lbf = pull.demand * answer.policy.care_margin
    short_in = usable_in - answer.stretch_in
    found = [
        _refit(answer, inputs, rate, way)
        for rate, pads in _stocked(inputs)
        for way in _ways(inputs, rate, pads, short_in, wanted_lbf)
    ]
    found = [each for each in found if each.margin > (pull.margin or 0.0)]
    return sorted(
        found,
        key=lambda each: (
            each.margin < answer.policy.care_margin,
            each.margin < 1.0,
            each.way.count,
            -each.margin,
            each.way.lot,
        ),
    )


def _ways(
    inputs: UnitInputs, rate: LotRate, pads: int, short_in: float, wanted_lbf: float
) -> Iterator[PadsToFit]:
    """Search with every stretch so much shorter, as the unit may be pulled on this job.

    What limits the stretch, be it the travel or a lot's test, then limits it here too.
    """
    if inputs.travel_in is None or inputs.travel_in <= short_in:
        return
    if rate.tested_stretch_in <= short_in:
        return
    shorter = replace(
        inputs,
        travel_in=inputs.travel_in - short_in,
        listed_lbf=wanted_lbf,
        lots=tuple(_shorter(each, short_in) for each in inputs.lots),
    )
    for search in (pads_to_fit, pads_to_swap):
        way = search(shorter, _shorter(rate, short_in), pads)
        if way is not None:
            yield way


def _shorter(rate: LotRate, short_in: float) -> LotRate:
    return replace(rate, tested_stretch_in=rate.tested_stretch_in - short_in)


def _stocked(inputs: UnitInputs) -> list[tuple[LotRate, int]]:
    """Stocked lots with a rate in force; of a lot fitted, the rate its unit is rated with."""
    stocked = PadLot.objects.filter(in_stock__gt=0)
    ratings = LotRating.objects.in_force_by_lot(stocked.values_list("pk", flat=True))
    fitted = {rate.lot: rate for rate in inputs.lots}
    rates = (
        (fitted.get(lot.mark) or lot_rate(ratings[lot.pk], inputs.policy), lot.in_stock)
        for lot in stocked
        if lot.pk in ratings
    )
    return [(rate, pads) for rate, pads in rates if not rate.stale]


def _refit(answer: UnitAnswer, inputs: UnitInputs, rate: LotRate, way: PadsToFit) -> Refit:
    fitted = with_sound_pads(inputs, way.positions, rate)
    rating = rate_unit(fitted)
    then = _with_pads(answer.candidate.unit, fitted, rating)
    return Refit(way, rating, check_unit(then, answer.job, answer.policy))


def _with_pads(unit: Unit, inputs: UnitInputs, rating: UnitRating) -> Unit:
    pads = rated_pads(inputs)
    return replace(
        unit,
        groups=pads.groups,
        usable_travel_in=rating.usable_travel_in,
        standing=rating.standing,
        stale_lots=tuple(each for each in unit.stale_lots if each in pads.lots),
    )


MOST_LOTS_TOLD = 3


class Where(StrEnum):
    """The page on which a remedy is carried out."""

    NOWHERE = ""
    UNIT = "unit"
    COUNT = "count"
    SERVICE = "service"
    HAMMER = "hammer"
    HOUSING = "housing"
    JOB = "job"


@dataclass(frozen=True)
class Remedy:
    """One thing to do, and where. field: of the job's form, where it is entered there."""

    words: str
    where: Where = Where.NOWHERE
    field: str = ""


def remedies(answer: UnitAnswer, system: str) -> list[Remedy]:
    """Return what would make a unit suitable, nothing where it is."""
    if answer.verdict.verdict is Verdict.SUITABLE:
        return []
    troubled = [check for check in answer.verdict.checks if check.outcome is not Outcome.HOLDS]
    told = _missing_figures(answer, troubled)
    for check in troubled:
        if check.outcome is not Outcome.UNKNOWN:
            told += _for_check(check, answer, system)
    if any(check.key in BEARS_GROUND and check.demand is not None for check in troubled):
        told += _lighter_bite(answer, system)
    return told


def _missing_figures(answer: UnitAnswer, troubled: list[Check]) -> list[Remedy]:
    unit, job = answer.candidate.unit, answer.job
    facts = [
        fact
        for check in troubled
        if check.outcome is Outcome.UNKNOWN
        for fact in missing_facts(check.key, unit, job)
    ]
    where = {
        Place.HAMMER: Where.HAMMER,
        Place.HOUSING: Where.HOUSING,
        Place.UNIT: Where.UNIT,
        Place.JOB: Where.JOB,
    }
    sentences = missing_sentences(facts, unit.mark, answer.candidate.hammer.mark)
    return [
        Remedy(words, where[fact.place], fact.field if fact.place is Place.JOB else "")
        for fact, words in sentences
    ]


def _for_check(check: Check, answer: UnitAnswer, system: str) -> list[Remedy]:
    if check.key is CheckKey.LINE_PULL:
        return [_refit_words(each, answer, system) for each in refits(answer)[:MOST_LOTS_TOLD]]
    if check.key in _FIRST:
        return [_FIRST[check.key]]
    if check.demand is None or check.key not in _STRONGER:
        return []
    return [Remedy(_STRONGER[check.key](check.demand * answer.policy.care_margin, answer, system))]


def _crane(wanted_lbf: float, answer: UnitAnswer, system: str) -> str:
    return f"A crane, or a radius, whose chart allows {at_least(wanted_lbf, system)}."


def _rigging(wanted_lbf: float, answer: UnitAnswer, system: str) -> str:
    return (
        f"Rigging with a working load limit of {at_least(wanted_lbf, system)} on each leg, or "
        "more legs or steeper ones."
    )


def _centrifugal(wanted_lbf: float, answer: UnitAnswer, system: str) -> str:
    return f"A hammer whose turning weights make {at_least(wanted_lbf, system)}."


def _clamp(wanted_lbf: float, answer: UnitAnswer, system: str) -> str:
    pressed_lbf = wanted_lbf / (JAWS * answer.policy.jaw_friction)
    return f"A clamp whose jaws press with {at_least(pressed_lbf, system)}."


def _tension(wanted_lbf: float, answer: UnitAnswer, system: str) -> str:
    return (
        "The pile itself is the limit: loosen the ground first, or have an engineer say what it "
        "may be pulled with."
    )


def _amplitude(wanted_in: float, answer: UnitAnswer, system: str) -> str:
    """The moment that gives it: from amplitude = 2·M/W."""
    unit, pile = answer.candidate.unit, answer.job.pile
    vibrating_lb = hanging_lb(unit, pile.weight_lb, plug_weight_lb(answer.job))
    moment = Quantity.ECCENTRIC_MOMENT.words(wanted_in * vibrating_lb / 2.0, system)
    return f"A hammer with an eccentric moment of {moment}, of this one’s weight."


_STRONGER: dict[CheckKey, Callable[[float, UnitAnswer, str], str]] = {
    CheckKey.CRANE: _crane,
    CheckKey.RIGGING: _rigging,
    CheckKey.CENTRIFUGAL: _centrifugal,
    CheckKey.AMPLITUDE: _amplitude,
    CheckKey.CLAMP: _clamp,
    CheckKey.TENSION: _tension,
}
_FIRST = {
    CheckKey.STANDING: Remedy(
        "Bring it to its listing: its own page says with which pads.", Where.UNIT
    ),
    CheckKey.INSPECTION: Remedy(
        "Inspect it: count the pads and tape the travel before the first day.", Where.COUNT
    ),
    CheckKey.SERVICE: Remedy(
        "Release it to service, once what took it out is mended.", Where.SERVICE
    ),
    CheckKey.RATING: Remedy("Bench-test pads of the stale lot again, and have it approved."),
    CheckKey.DATES: Remedy("Other days, or release it from the job that holds it.", Where.UNIT),
    CheckKey.DISTANCE: Remedy(
        "A unit of a nearer yard, or a longer haul.", Where.JOB, "haul_limit_mi"
    ),
}


def _refit_words(refit: Refit, answer: UnitAnswer, system: str) -> Remedy:
    way, rating = refit.way, refit.rating
    places = ", ".join(f"{each.side}{each.number}" for each in way.positions)
    doubt_lbf = rating.standard_uncertainty_lbf
    then = refit.verdict.check(CheckKey.LINE_PULL)
    supply_lbf = then.supply if then else None
    return Remedy(
        f"Fit {way.count} pad{'' if way.count == 1 else 's'} of lot {way.lot} from stock at "
        f"{places}: line pull {pull_words(rating.pull_lbf, system, doubt_lbf)}, working capacity "
        f"{capacity_words(rating.working_capacity_lbf, system, doubt_lbf)}, of which "
        f"{capacity_words(supply_lbf, system, doubt_lbf)} at the stretch of this pull, a margin "
        f"of {margin_words(refit.margin)}. {_then(refit, answer)}"
    )


def _then(refit: Refit, answer: UnitAnswer) -> str:
    if refit.margin < 1.0:
        return "Still short."
    if refit.verdict.verdict.may_go:
        return f"The unit is then {refit.verdict.verdict}."
    return f"The pads then carry it; {refit.verdict.governing} still stands in the way."


def _lighter_bite(answer: UnitAnswer, system: str) -> list[Remedy]:
    """From where the pile, once part of it is freed, would come with this unit."""
    unit, job, policy = answer.candidate.unit, answer.job, answer.policy
    for margin, lead in ((policy.care_margin, "Suits"), (1.0, "Suits with care")):
        left_ft = embedment_to_suit_ft(unit, job, policy, margin)
        if left_ft is not None and 0.0 < left_ft < job.pile.embedment_ft:
            return [Remedy(f"A lighter bite first. {lead} {_bite(left_ft, answer, system)}")]
    return []


def _bite(left_ft: float, answer: UnitAnswer, system: str) -> str:
    """Cut down to what can be measured on a pile, so that no less is freed than must be."""
    left = _tenths(left_ft, system)
    freed = _tenths(answer.job.pile.embedment_ft, system, math.ceil) - left
    left_words, freed_words = (
        f"{plain_number(each, 1)} {Quantity.DEPTH.symbol(system)}" for each in (left, freed)
    )
    return (
        f"from {left_words} of embedment: free the first {freed_words} by other means, such as "
        "digging out or another unit."
    )


def _tenths(depth_ft: float, system: str, whole: Callable[[float], int] = math.floor) -> float:
    return whole(round(Quantity.DEPTH.shown(depth_ft, system) * 10.0, 6)) / 10.0
