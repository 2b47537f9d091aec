"""What would make a unit suit a job, calculated: other pads, stronger gear, a lighter bite."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from fleet.models import PadLot
from ratings.jobs.candidates import Candidate
from ratings.ledger.facts import lot_rate
from ratings.mechanics.extraction.check import check_piles, embedment_to_suit_ft
from ratings.mechanics.extraction.excavation import WIDE_HOLE_FT, excavation_to_suit_ft
from ratings.mechanics.extraction.forces import JAWS
from ratings.mechanics.extraction.job import Job, PileOfJob
from ratings.mechanics.extraction.outcomes import (
    BEARS_GROUND,
    CheckKey,
    Outcome,
    UnitVerdict,
    Verdict,
)
from ratings.mechanics.extraction.rated_pads import rated_pads
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.supply import hanging_lb
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.record import read_inputs
from ratings.mechanics.unit_rating import LotRate, UnitInputs, UnitRating, rate_unit
from ratings.mechanics.what_if import PadsToFit, pads_to_fit, pads_to_swap, with_sound_pads
from ratings.models import LotRating

# Ways to fit pads that are offered, the best first.
MOST_REFITS = 3
# A wide hole is named where it saves so much depth.
LEAST_SAVED_FT = 1.0


@dataclass(frozen=True)
class Refit:
    """Pads of one lot in these positions; the unit's rating and its verdict on the job then.

    The verdict is of every group of piles.
    """

    way: PadsToFit
    rating: UnitRating
    verdict: UnitVerdict

    @property
    def margin(self) -> float:
        """Of the line pull at the pads, on the group of piles that has the least."""
        return _least_of_pads(self.verdict)


@dataclass(frozen=True)
class LighterBite:
    """The embedment a unit would pull, once another has raised the pile; with care, or outright."""

    left_ft: float
    is_with_care: bool


@dataclass(frozen=True)
class Excavation:
    """How deep to dig about the pile before a unit suits it; with care, or outright.

    width_ft: of the hole's bottom, 0 where any will do.
    """

    depth_ft: float
    width_ft: float
    is_with_care: bool


@dataclass(frozen=True)
class Remedies:
    """What would make a unit suit a job; nothing where it does.

    refits: what each stocked lot would do for its line pull, the best first.
    needed: by check of force that is short, what would hold with the margin for care on every
        group of piles, lbf: of CRANE what its chart allows; of CLAMP what its jaws press with; of
        AMPLITUDE the eccentric moment, lb·in.
    bite, digs: of the group of piles that is looked at.
    also_short: numbers of the other groups that fall short or hold only with care.
    """

    refits: tuple[Refit, ...] = ()
    needed: Mapping[CheckKey, float] = field(default_factory=dict)
    bite: LighterBite | None = None
    digs: tuple[Excavation, ...] = ()
    also_short: tuple[int, ...] = ()


def remedies_for(
    candidate: Candidate,
    piles: tuple[PileOfJob, ...],
    policy: ExtractionPolicy,
    verdict: UnitVerdict,
    stretch_in: float | None,
) -> Remedies:
    """Return what would make a unit suitable for every group of piles of a job.

    verdict: with the checks of the group that is looked at. stretch_in: that it may be pulled to
        on that one.
    """
    judged = verdict.piles or (verdict,)
    if all(each.verdict is Verdict.SUITABLE for each in judged):
        return Remedies()
    unit = candidate.unit
    jobs = {each.number: each.job for each in piles}
    job = jobs[verdict.pile]
    needed: dict[CheckKey, float] = {}
    for each in judged:
        for key, figure in _needed(unit, jobs[each.pile], policy, each).items():
            needed[key] = max(figure, needed.get(key, 0.0))
    refits: list[Refit] = []
    if CheckKey.LINE_PULL in needed and stretch_in:
        wanted_lbf = needed[CheckKey.LINE_PULL]
        refits = _refits(candidate, piles, policy, wanted_lbf, _least_of_pads(verdict), stretch_in)
    bites: Iterator[LighterBite] = iter(())
    digs: tuple[Excavation, ...] = ()
    if any(
        each.judges
        and each.key in BEARS_GROUND
        and each.outcome is not Outcome.HOLDS
        and each.demand is not None
        for each in verdict.checks
    ):
        digs = _digs(unit, job, policy)
        # From where the pile would come with this unit, once another has raised it.
        bites = (
            LighterBite(left_ft, is_with_care)
            for margin, is_with_care in ((policy.care_margin, False), (1.0, True))
            if (left_ft := embedment_to_suit_ft(unit, job, policy, margin))
            and left_ft < job.pile.embedment_ft
        )
    also_short = tuple(
        each.pile
        for each in judged
        if each.verdict is not Verdict.SUITABLE and each.pile != verdict.pile
    )
    return Remedies(tuple(refits), needed, next(bites, None), digs, also_short)


def _needed(
    unit: Unit, job: Job, policy: ExtractionPolicy, verdict: UnitVerdict
) -> dict[CheckKey, float]:
    """Return what would hold with the margin for care, by check that is short on one pile."""
    needed = {
        each.key: each.demand * policy.care_margin
        for each in verdict.checks
        if each.judges
        and each.outcome in (Outcome.CARE, Outcome.FAILS)
        and each.key in (*BEARS_GROUND, CheckKey.AMPLITUDE)
        and each.demand is not None
    }
    if CheckKey.CRANE in needed:
        # Of the chart a pull may use but a share.
        needed[CheckKey.CRANE] /= policy.crane_share
    if CheckKey.CLAMP in needed:
        needed[CheckKey.CLAMP] /= JAWS * policy.jaw_friction
    if CheckKey.AMPLITUDE in needed:
        # The moment that gives it: from amplitude = 2·M/W.
        shaken_lb = hanging_lb(unit, job.pile.weight_lb, job.plug_weight_lb)
        needed[CheckKey.AMPLITUDE] *= shaken_lb / 2.0
    return needed


def _least_of_pads(verdict: UnitVerdict) -> float:
    """Return the least margin of the line pull at the pads, over every group of piles."""
    checks = [each.check(CheckKey.LINE_PULL) for each in verdict.piles or (verdict,)]
    return min((each.margin or 0.0 for each in checks if each is not None), default=0.0)


def _digs(unit: Unit, job: Job, policy: ExtractionPolicy) -> tuple[Excavation, ...]:
    """Return what digging about the pile would do: in a hole of any width, then in a wide one.

    The wide one only where it saves depth worth digging for.
    """
    found: list[Excavation] = []
    for width_ft in (0.0, WIDE_HOLE_FT):
        for margin, is_with_care in ((policy.care_margin, False), (1.0, True)):
            depth_ft = excavation_to_suit_ft(unit, job, policy, margin, width_ft)
            if depth_ft:
                found.append(Excavation(depth_ft, width_ft, is_with_care))
                break
    if len(found) > 1 and found[0].is_with_care == found[1].is_with_care:
        return tuple(found[: 2 if found[0].depth_ft - found[1].depth_ft >= LEAST_SAVED_FT else 1])
    return tuple(found)


def _refits(
    candidate: Candidate,
    piles: tuple[PileOfJob, ...],
    policy: ExtractionPolicy,
    wanted_lbf: float,
    margin: float,
    stretch_in: float,
) -> list[Refit]:
    """Return what each stocked lot would do for a unit's line pull on a job, the best first.

    margin: of its line pull as it is; nothing that gives no better one is returned.
    """
    unit, entry = candidate.unit, candidate.entry
    if entry is None or unit.usable_travel_in is None:
        return []
    inputs, short_in = read_inputs(entry.inputs), unit.usable_travel_in - stretch_in
    found = []
    for rate, pads in _stocked(inputs):
        for way in _ways(inputs, rate, pads, short_in, wanted_lbf):
            fitted = with_sound_pads(inputs, way.positions, rate)
            rating, rated = rate_unit(fitted), rated_pads(fitted)
            then = replace(
                unit,
                groups=rated.groups,
                usable_travel_in=rating.usable_travel_in,
                standing=rating.standing,
                stale_lots=tuple(each for each in unit.stale_lots if each in rated.lots),
            )
            found.append(Refit(way, rating, check_piles(then, piles, policy)))
    return sorted(
        (each for each in found if each.margin > margin),
        key=lambda each: (
            each.margin < policy.care_margin,
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
