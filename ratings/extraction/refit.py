"""Pads from stock that would carry a pull, reckoned through the whole check again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from fleet.models import PadLot
from ratings.extraction.answer import UnitAnswer
from ratings.extraction.pads import rated_pads
from ratings.ledger.facts import current_lot_ratings, lot_rate
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.extraction.verdict import CheckKey, UnitVerdict
from ratings.mechanics.record import read_inputs
from ratings.mechanics.unit_rating import SOUND, LotRate, UnitInputs, UnitRating, rate_unit
from ratings.mechanics.what_if import PadsToFit, pads_to_fit, pads_to_swap


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
    ratings = current_lot_ratings(stocked.values_list("pk", flat=True))
    fitted = {rate.lot: rate for rate in inputs.lots}
    rates = (
        (fitted.get(lot.mark) or lot_rate(ratings[lot.pk], inputs.policy), lot.in_stock)
        for lot in stocked
        if lot.pk in ratings
    )
    return [(rate, pads) for rate, pads in rates if not rate.stale]


def _refit(answer: UnitAnswer, inputs: UnitInputs, rate: LotRate, way: PadsToFit) -> Refit:
    places = {(each.side, each.number) for each in way.positions}
    fitted = replace(
        inputs,
        lots=inputs.lots if rate in inputs.lots else (*inputs.lots, rate),
        positions=tuple(
            replace(each, condition=SOUND, lot=rate.lot)
            if (each.side, each.number) in places
            else each
            for each in inputs.positions
        ),
    )
    rating = rate_unit(fitted)
    then = _with_pads(answer.candidate.unit, fitted, rating)
    return Refit(way, rating, check(then, answer.job, answer.policy))


def _with_pads(unit: Unit, inputs: UnitInputs, rating: UnitRating) -> Unit:
    pads = rated_pads(inputs)
    return replace(
        unit,
        groups=pads.groups,
        usable_travel_in=rating.usable_travel_in,
        standing=rating.standing,
        stale_lots=tuple(each for each in unit.stale_lots if each in pads.lots),
    )
