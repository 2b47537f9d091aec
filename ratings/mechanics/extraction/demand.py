"""What a pull asks: weights and forces from the pile to the hook, and how they fall as it rises."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate

from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.supply import hanging_lb
from ratings.mechanics.extraction.unit import Unit

# Points of a curve of demand below full embedment.
POINTS = 24


@dataclass(frozen=True)
class PathStep:
    """One weight or force, and all from the pile up to it. None where not recorded."""

    name: str
    force_lbf: float | None
    total_lbf: float | None


@dataclass(frozen=True)
class LoadPath:
    """The steps from the pile up, and the totals where something must bear them."""

    steps: tuple[PathStep, ...]
    at_pads_lbf: float | None
    at_hook_lbf: float | None
    at_crane_lbf: float | None


def load_path(unit: Unit, job: Job, policy: ExtractionPolicy) -> LoadPath:
    """Return the path of one unit on a job, at the resistance expected of the ground, lbf.

    Raises LayerFault where the layers give no resistance.
    """
    parts: list[tuple[str, float | None]] = [
        ("ground", ground(job, policy).resistance_lbf),
        ("pile", job.pile.weight_lb),
        *([("plug", job.plug_weight_lb)] if job.plug_weight_lb else []),
        ("clamp", unit.clamp_weight_lb),
        ("exciter", unit.exciter_weight_lb),
        ("housing", unit.housing_weight_lb),
        ("rigging", job.crane.rigging_weight_lb),
        ("hook block", job.crane.hook_block_lb),
    ]
    totals = list(accumulate((force for _, force in parts), _add))
    steps = tuple(
        PathStep(name, force, total) for (name, force), total in zip(parts, totals, strict=True)
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
    hanging = hanging_lb(unit, job.pile.weight_lb, job.plug_weight_lb)
    points = []
    for piece in range(POINTS):
        left_ft = job.pile.embedment_ft * (POINTS - piece) / POINTS
        hold = ground(job, policy, left_ft)
        forces = (hold.low_lbf, hold.resistance_lbf, hold.high_lbf)
        points.append(CurvePoint(left_ft, *(hanging + each for each in forces)))
    return (*points, CurvePoint(0.0, hanging, hanging, hanging))


def _add(total: float | None, force: float | None) -> float | None:
    return None if total is None or force is None else total + force
