"""What would make a unit suit a job: pads to fit, a lighter bite, what is to be put right first."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fleet.figures import capacity_words
from fleet.models import PadLot
from fleet.quantities import Quantity
from ratings.extraction.answer import UnitAnswer
from ratings.ledger.facts import current_lot_ratings, lot_rate
from ratings.mechanics.extraction.curve import embedment_to_suit_ft
from ratings.mechanics.extraction.verdict import Check, CheckKey, Outcome, Verdict
from ratings.mechanics.record import read_inputs
from ratings.mechanics.unitrating import LotRate, UnitInputs
from ratings.mechanics.whatif import PadsToFit, pads_to_fit, pads_to_swap

MOST_LOTS_TOLD = 3


@dataclass(frozen=True)
class Remedy:
    """One thing to do. is_enough: whether that check then holds with the margin the yard wants."""

    words: str
    is_enough: bool = True


def remedies(answer: UnitAnswer, system: str) -> list[Remedy]:
    """Return what would make a unit suitable, nothing where it is."""
    if answer.verdict.verdict is Verdict.SUITABLE:
        return []
    troubled = [check for check in answer.verdict.checks if check.outcome is not Outcome.HOLDS]
    told: list[Remedy] = []
    for check in troubled:
        told += _for_check(check, answer, system)
    if any(check.key in _EASED_BY_LESS_GROUND for check in troubled):
        told += _lighter_bite(answer, system)
    return told


_EASED_BY_LESS_GROUND = {
    CheckKey.LINE_PULL,
    CheckKey.CRANE,
    CheckKey.RIGGING,
    CheckKey.CENTRIFUGAL,
    CheckKey.CLAMP,
    CheckKey.TENSION,
}


def _for_check(check: Check, answer: UnitAnswer, system: str) -> list[Remedy]:
    if check.key is CheckKey.LINE_PULL and check.demand is not None:
        return _pads(check.demand, answer, system)
    if check.key in _STRONGER and check.demand is not None:
        wanted = Quantity.FORCE.words(
            check.demand * answer.policy.care_margin, system, 0 if system == "us" else 1
        )
        return [Remedy(_STRONGER[check.key].format(wanted=wanted))]
    if check.key in _FIRST:
        return [Remedy(_FIRST[check.key])]
    return []


_STRONGER = {
    CheckKey.CRANE: "A crane or a radius whose chart allows {wanted}.",
    CheckKey.RIGGING: "Rigging with a working load limit of {wanted} on each leg.",
}
_FIRST = {
    CheckKey.INSPECTION: "Inspect it: count the pads and tape the travel before the first day.",
    CheckKey.SERVICE: "Release it to service, once what took it out is mended.",
    CheckKey.RATING: "Bench-test the stale lots again.",
    CheckKey.DATES: "Other days, or release it from the job that holds it.",
    CheckKey.STANDING: "Bring it to its listing: its own page says with which pads.",
}


def _pads(demand_lbf: float, answer: UnitAnswer, system: str) -> list[Remedy]:
    """Say which stocked lots would carry the demand with the margin the yard wants."""
    entry, stretch_in = answer.candidate.entry, answer.stretch_in
    if entry is None or not stretch_in:
        return []
    inputs = replace(
        read_inputs(entry.inputs),
        travel_in=stretch_in,
        listed_lbf=demand_lbf * answer.policy.care_margin,
    )
    ways = [
        way
        for rate, pads in _stocked(inputs)
        for way in (pads_to_fit(inputs, rate, pads), pads_to_swap(inputs, rate, pads))
        if way is not None
    ]
    ways.sort(key=lambda way: (not way.meets_listing, way.count, way.lot))
    return [_pads_words(way, demand_lbf, system) for way in ways[:MOST_LOTS_TOLD]]


def _stocked(inputs: UnitInputs) -> list[tuple[LotRate, int]]:
    stocked = PadLot.objects.filter(in_stock__gt=0)
    ratings = current_lot_ratings(stocked.values_list("pk", flat=True))
    return [
        (lot_rate(ratings[lot.pk], inputs.policy), lot.in_stock)
        for lot in stocked
        if lot.pk in ratings
    ]


def _pads_words(way: PadsToFit, demand_lbf: float, system: str) -> Remedy:
    capacity_lbf = way.rating.working_capacity_lbf or 0.0
    places = ", ".join(f"{each.side}{each.number}" for each in way.positions)
    capacity = capacity_words(capacity_lbf, system, way.rating.standard_uncertainty_lbf)
    lead = (
        f"Fit {way.count} pad{'' if way.count == 1 else 's'} of lot {way.lot} at {places}: working "
        f"capacity {capacity} at the stretch of this pull"
    )
    if way.meets_listing:
        return Remedy(f"{lead}.")
    end = "enough with care" if capacity_lbf >= demand_lbf else "still short"
    return Remedy(f"{lead}, {end}.", is_enough=False)


def _lighter_bite(answer: UnitAnswer, system: str) -> list[Remedy]:
    unit, job, policy = answer.candidate.unit, answer.job, answer.policy
    full_ft = job.pile.embedment_ft
    left_ft = embedment_to_suit_ft(unit, job, policy, policy.care_margin)
    if left_ft is None or left_ft <= 0.0 or left_ft >= full_ft:
        return []
    left, freed = (Quantity.DEPTH.words(value, system, 1) for value in (left_ft, full_ft - left_ft))
    return [
        Remedy(
            f"A lighter bite first: its forces suit from {left} of embedment. Free the "
            f"first {freed} by other means, such as digging out or another unit."
        )
    ]
