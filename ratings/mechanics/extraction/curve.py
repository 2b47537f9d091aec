"""How the demand falls as the pile comes out, and from where a unit would suit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ratings.mechanics.extraction.columns import Columns
from ratings.mechanics.extraction.forces import Asked, force_checks
from ratings.mechanics.extraction.ground import ground, range_factors
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.loads import plug_weight_lb
from ratings.mechanics.extraction.policy import ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit

POINTS = 24
# Halvings of the embedment: to a few thousandths of an inch in any pile.
_HALVINGS = 24


@dataclass(frozen=True)
class CurvePoint:
    """Demand at the pads with so much of the pile left in the ground."""

    embedment_ft: float
    low_lbf: float
    expected_lbf: float
    high_lbf: float


def demand_curve(unit: Unit, job: Job, policy: ExtractionPolicy) -> tuple[CurvePoint, ...]:
    """Return the demand at the pads from full embedment until the toe is free.

    Nothing where the weights that hang below the pads aren't on record. A plug stays in the
    pile; weight and buoyancy are those of the beginning.
    """
    if unit.exciter_weight_lb is None or unit.clamp_weight_lb is None:
        return ()
    hanging_lb = (
        unit.exciter_weight_lb + unit.clamp_weight_lb + job.pile.weight_lb + plug_weight_lb(job)
    )
    low, high = range_factors(job, policy)
    return tuple(
        CurvePoint(left_ft, hanging_lb + low * held, hanging_lb + held, hanging_lb + high * held)
        for left_ft, held in _held(job, policy)
    )


def embedment_to_suit_ft(
    unit: Unit, job: Job, policy: ExtractionPolicy, margin: float = 1.0
) -> float | None:
    """Return the largest embedment at which every check of force holds with a margin, ft.

    The job's own where they hold as it is. None where they hold at none, or can't be reckoned.
    The amplitude the soil needs is taken as at full embedment.
    """
    at_full = ground(job, policy)
    asked = force_checks(Columns((unit,)), job, policy, at_full)
    if _suits(asked, at_full.resistance_lbf, margin):
        return job.pile.embedment_ft
    if not _suits(asked, 0.0, margin):
        return None
    low_ft, high_ft = 0.0, job.pile.embedment_ft
    for _ in range(_HALVINGS):
        middle_ft = (low_ft + high_ft) / 2.0
        suits = _suits(asked, ground(job, policy, middle_ft).resistance_lbf, margin)
        low_ft, high_ft = (middle_ft, high_ft) if suits else (low_ft, middle_ft)
    return low_ft


def _held(job: Job, policy: ExtractionPolicy) -> list[tuple[float, float]]:
    full_ft = job.pile.embedment_ft
    lefts = [full_ft * (POINTS - piece) / POINTS for piece in range(POINTS)]
    held = [(left_ft, ground(job, policy, left_ft).resistance_lbf) for left_ft in lefts]
    return [*held, (0.0, 0.0)]


def _suits(asked: Sequence[Asked], resistance_lbf: float, margin: float) -> bool:
    """Say whether every check holds; one that isn't known doesn't."""
    return all(bool((each.supply >= margin * each.demand(resistance_lbf)).all()) for each in asked)
