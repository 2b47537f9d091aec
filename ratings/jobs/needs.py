"""What jobs that hold units ask of the pads of those units."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace

from fleet.models import PadLot
from ratings.jobs.candidates import rates_in_force, units_on_hammers
from ratings.jobs.recording import jobs_of
from ratings.jobs.rules import rules_in_force
from ratings.mechanics.extraction.check import check_piles
from ratings.mechanics.extraction.conditions import conditions_of
from ratings.mechanics.extraction.job import PileOfJob
from ratings.mechanics.extraction.outcomes import CheckKey, ConditionKey, UnitVerdict
from ratings.mechanics.extraction.rated_pads import rated_pads
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.unit_rating import UnitInputs, UnitRating
from ratings.models import Commitment


@dataclass(frozen=True)
class PadsNeeded:
    """What a job asks of the pads of a unit.

    is_met: whether pads do, by the inputs of their rating and what they are rated to. least_lbf:
    the working capacity below which they are sure not to. digest: of the job, the rules and the
    figures of the hammer that it rests on.
    """

    is_met: Callable[[UnitInputs, UnitRating], bool]
    least_lbf: float
    digest: str


def needs_of_pads(commitments: Iterable[Commitment]) -> dict[Commitment, PadsNeeded]:
    """Return what each job asks of the pads of the unit it holds.

    They do where the check of the job, with these pads on the unit as it hangs now, lets it go by
    every force, by its standing and by the rates of its pads on every day of it. Whether it is
    counted, in service and near is asked elsewhere: no pads mend that. A unit that hangs on no
    hammer does for no job.
    """
    rules, found = rules_in_force(), {}
    rates = rates_in_force(set(PadLot.objects.values_list("mark", flat=True)))
    for each in commitments:
        listed = units_on_hammers(
            each.first_day, each.last_day, leave_out_job=each.job_id, only_housing=each.housing_id
        )
        piles = jobs_of(each.job)
        if listed and piles:
            stale, lapsing = rates.stale_by(each.last_day)
            found[each] = _needed(listed[0].unit, piles, rules, stale, lapsing)
        else:
            found[each] = _NOTHING_DOES
    return found


_NOTHING_DOES = PadsNeeded(lambda inputs, rating: False, 0.0, "")
# What of a unit no pads change.
_FIGURES = (
    "eccentric_moment_lb_in",
    "frequency_vpm",
    "exciter_weight_lb",
    "clamp_weight_lb",
    "clamp_force_lbf",
    "housing_weight_lb",
)


# What of a unit's conditions its pads decide.
_OF_PADS = (ConditionKey.STANDING, ConditionKey.RATING)


def _needed(
    unit: Unit,
    piles: tuple[PileOfJob, ...],
    rules: ExtractionPolicy,
    stale: AbstractSet[str],
    lapsing: AbstractSet[str],
) -> PadsNeeded:
    def is_met(inputs: UnitInputs, rating: UnitRating) -> bool:
        then = with_pads(unit, inputs, rating, stale, lapsing)
        if not check_piles(then, piles, rules).verdict.may_go:
            return False
        conditions = conditions_of(then, rules)
        return all(each.state.lets_go for each in conditions if each.key in _OF_PADS)

    figures = [getattr(unit, name) for name in _FIGURES]
    rests_on = repr((piles, rules, figures, sorted(stale), sorted(lapsing)))
    digest = hashlib.sha256(rests_on.encode()).hexdigest()
    return PadsNeeded(is_met, _least_lbf(check_piles(unit, piles, rules)), digest)


def with_pads(
    unit: Unit,
    inputs: UnitInputs,
    rating: UnitRating,
    stale: AbstractSet[str],
    lapsing: AbstractSet[str],
) -> Unit:
    """Return a unit with other pads, by the inputs of their rating and what they are rated to.

    stale, lapsing: the lots whose rate is stale now, and those whose will be within the job.
    """
    pads = rated_pads(inputs)
    return replace(
        unit,
        groups=pads.groups,
        usable_travel_in=rating.usable_travel_in,
        travel_uncertainty_in=pads.travel_uncertainty_in,
        confidence=pads.confidence,
        proof=pads.proof,
        standing=rating.standing,
        stale_lots=tuple(sorted(pads.lots & stale)),
        lapsing_lots=tuple(sorted(pads.lots & lapsing)),
        drops_stale=pads.drops_stale,
        stiff_groups=pads.stiff_groups,
        unknown_stiffness=pads.unknown_stiffness,
    )


def _least_lbf(verdict: UnitVerdict) -> float:
    """Return what the pads must carry at the least on the heaviest group of piles, lbf.

    0 where the rules judge by vibration and line pull together.
    """
    checks = [each.check(CheckKey.LINE_PULL) for each in verdict.piles or (verdict,)]
    return max(
        (each.demand for each in checks if each is not None and each.judges and each.demand),
        default=0.0,
    )
