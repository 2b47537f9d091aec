"""What a pull asks: weights and forces from the pile to the hook, and how they fall as it rises."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate

from ratings.mechanics.extraction.ground import Ground, ground
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

    What the soil within a pipe and other holds add stand each by itself. Of an end not known: as
    it asks more of the pads, cored or plugged.
    Raises LayerFault where the layers give no resistance.
    """
    job, held = _heavier(job, policy)
    parts: list[tuple[str, float | None]] = [
        ("ground", held.outside_lbf),
        *([("soil within", held.inside_lbf)] if held.inside_lbf else []),
        *((str(kind), force_lbf) for kind, force_lbf in held.holds_lbf),
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
    pile; weight and buoyancy are those of the beginning. Of an end not known the greater of both.
    """
    if unit.exciter_weight_lb is None or unit.clamp_weight_lb is None:
        return ()
    ways = [
        (way, hanging_lb(unit, way.pile.weight_lb, way.plug_weight_lb))
        for way in job.possible_ends()
    ]
    points = []
    for piece in range(POINTS):
        left_ft = job.pile.embedment_ft * (POINTS - piece) / POINTS
        lines = []
        for way, hanging in ways:
            held = ground(way, policy, left_ft)
            forces = (held.low_lbf, held.resistance_lbf, held.high_lbf)
            lines.append([hanging + each for each in forces])
        points.append(CurvePoint(left_ft, *(max(each) for each in zip(*lines, strict=True))))
    most = max(hanging for _, hanging in ways)
    return (*points, CurvePoint(0.0, most, most, most))


def _heavier(job: Job, policy: ExtractionPolicy) -> tuple[Job, Ground]:
    """Return the job as it asks most of the pads, and its ground."""
    return max(
        ((way, ground(way, policy)) for way in job.possible_ends()),
        key=lambda each: each[1].resistance_lbf + each[0].plug_weight_lb,
    )


def _add(total: float | None, force: float | None) -> float | None:
    return None if total is None or force is None else total + force
