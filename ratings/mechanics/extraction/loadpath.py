"""The path of a pull: weight by weight and force by force from the pile to the hook."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import accumulate

from ratings.mechanics.arguments import not_negative
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.loads import plug_weight_lb
from ratings.mechanics.extraction.policy import ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit


class StepKind(StrEnum):
    """What a step adds: the hold of the ground, or a weight."""

    FORCE = "force"
    WEIGHT = "weight"


@dataclass(frozen=True)
class PathStep:
    """One weight or force, and all from the pile up to it. None where not on record."""

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


def load_path(
    unit: Unit, job: Job, policy: ExtractionPolicy, resistance_lbf: float | None = None
) -> LoadPath:
    """Return the path of one unit on a job.

    resistance_lbf: of the ground, what is expected unless given.
    """
    if resistance_lbf is None:
        held = ground(job, policy).resistance_lbf
    else:
        held = not_negative("resistance_lbf", resistance_lbf, "lbf")
    plug = plug_weight_lb(job)
    parts: list[tuple[str, float | None]] = [("ground", held), ("pile", job.pile.weight_lb)]
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


def _add(total: float | None, force: float | None) -> float | None:
    return None if total is None or force is None else total + force
