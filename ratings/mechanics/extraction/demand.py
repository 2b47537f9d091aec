"""What a pull asks: weights and forces from the pile to the hook, and how they fall as it rises."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import accumulate

from ratings.mechanics.extraction.ground import ground, range_factors
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.policy import ExtractionPolicy
from ratings.mechanics.extraction.supply import hanging_lb
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.soil import total_stress_psf

SQUARE_INCHES_PER_SQUARE_FOOT = 144.0
# Points of a curve of demand below full embedment.
POINTS = 24


class StepKind(StrEnum):
    """What a step adds: the hold of the ground, or a weight."""

    FORCE = "force"
    WEIGHT = "weight"


@dataclass(frozen=True)
class PathStep:
    """One weight or force, and all from the pile up to it. None where not recorded."""

    name: str
    force_lbf: float | None
    total_lbf: float | None
    kind: StepKind = StepKind.WEIGHT


@dataclass(frozen=True)
class LoadPath:
    """The steps from the pile up, and the totals where something must bear them."""

    steps: tuple[PathStep, ...]
    at_pads_lbf: float | None
    at_hook_lbf: float | None
    at_crane_lbf: float | None


def plug_weight_lb(job: Job) -> float:
    """Return the weight of the soil carried in a plugged pile, lb.

    Its area times the total weight of the ground down to the toe, water in it included: it
    comes out full, and no deduction is made for water below the level.
    """
    if job.pile.plug_area_in2 == 0.0:
        return 0.0
    column_psf = total_stress_psf(job.layers, job.pile.embedment_ft)
    return job.pile.plug_area_in2 / SQUARE_INCHES_PER_SQUARE_FOOT * column_psf


def tension_limit_lbf(job: Job, steel_share: float) -> float | None:
    """Return what the pile may be pulled with, lbf; None where nobody gave what it rests on.

    What somebody gave for this pile, else for steel its share of the yield strength over its
    area (0.6·F_y·A by default: allowable stress in tension, AISC).
    """
    pile = job.pile
    if pile.tension_limit_lbf is not None:
        return pile.tension_limit_lbf
    if not pile.kind.is_steel or pile.area_in2 is None or pile.yield_strength_ksi is None:
        return None
    return steel_share * pile.yield_strength_ksi * 1000.0 * pile.area_in2


def load_path(unit: Unit, job: Job, policy: ExtractionPolicy) -> LoadPath:
    """Return the path of one unit on a job, at the resistance expected of the ground, lbf.

    Raises LayerFault where the layers give no resistance.
    """
    resistance = ground(job, policy).resistance_lbf
    plug = plug_weight_lb(job)
    parts: list[tuple[str, float | None]] = [("ground", resistance), ("pile", job.pile.weight_lb)]
    if plug:
        parts.append(("plug", plug))
    parts += [
        ("clamp", unit.clamp_weight_lb),
        ("exciter", unit.exciter_weight_lb),
        ("housing", unit.housing_weight_lb),
        ("rigging", job.crane.rigging_weight_lb),
        ("hook block", job.crane.hook_block_lb),
    ]
    totals = list(accumulate((force for _, force in parts), _add))
    steps = tuple(
        PathStep(name, force, total, StepKind.FORCE if name == "ground" else StepKind.WEIGHT)
        for (name, force), total in zip(parts, totals, strict=True)
    )
    at = {step.name: step.total_lbf for step in steps}
    return LoadPath(steps, at["exciter"], at["rigging"], at["hook block"])


@dataclass(frozen=True)
class CurvePoint:
    """Demand at the pads with so much of the pile left in the ground."""

    embedment_ft: float
    low_lbf: float
    expected_lbf: float
    high_lbf: float


def demand_curve(unit: Unit, job: Job, policy: ExtractionPolicy) -> tuple[CurvePoint, ...]:
    """Return the demand at the pads from full embedment until the toe is free.

    Nothing where the weights that hang below the pads aren't recorded. A plug stays in the
    pile; weight and buoyancy are those of the beginning.
    """
    if unit.exciter_weight_lb is None or unit.clamp_weight_lb is None:
        return ()
    hanging = hanging_lb(unit, job.pile.weight_lb, plug_weight_lb(job))
    low, high = range_factors(job, policy)
    full_ft = job.pile.embedment_ft
    lefts_ft = [full_ft * (POINTS - piece) / POINTS for piece in range(POINTS)]
    resistances = [(left_ft, ground(job, policy, left_ft).resistance_lbf) for left_ft in lefts_ft]
    return tuple(
        CurvePoint(left_ft, hanging + low * lbf, hanging + lbf, hanging + high * lbf)
        for left_ft, lbf in [*resistances, (0.0, 0.0)]
    )


def _add(total: float | None, force: float | None) -> float | None:
    return None if total is None or force is None else total + force
