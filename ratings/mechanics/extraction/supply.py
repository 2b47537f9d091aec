"""What a unit gives: working capacity at a stretch, and the stretch it may be pulled to."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from ratings.mechanics.arguments import not_negative
from ratings.mechanics.extraction.columns import Columns
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.extraction.vibration import GRAVITY_IN_S2
from ratings.mechanics.linepull import pull_at

if TYPE_CHECKING:
    from ratings.mechanics.extraction.columns import Numbers

# Halvings of a stretch until it is known to the last digit worth having.
_HALVINGS = 60


def amplitudes_in(columns: Columns, job: Job, carried_lb: float = 0.0) -> Numbers:
    """Return each unit's amplitude from peak to peak on this pile, in: 2·M/W.

    W: exciter, clamp and pile, and whatever else is carried along.
    """
    weight_lb = (
        columns.of("exciter_weight_lb")
        + columns.of("clamp_weight_lb")
        + job.pile.weight_lb
        + carried_lb
    )
    return 2.0 * columns.of("eccentric_moment_lb_in") / weight_lb


def centrifugal_forces_lbf(columns: Columns) -> Numbers:
    """Return each unit's centrifugal force, lbf: M·ω²/g."""
    turning = 2.0 * math.pi * columns.of("frequency_vpm") / 60.0
    return columns.of("eccentric_moment_lb_in") * turning * turning / GRAVITY_IN_S2


def stretches_in(columns: Columns, job: Job) -> Numbers:
    """Return the stretch each unit may be pulled to, in; nan where not known.

    The usable travel; while vibrating less half the amplitude, so that the housing never meets
    its stops. The amplitude without a plug: it is the larger one.
    """
    usable = columns.of("usable_travel_in")
    return usable - amplitudes_in(columns, job) / 2.0 if job.is_vibrating else usable


def stretch_while_vibrating_in(unit: Unit, job: Job) -> float | None:
    """Return the stretch one unit may be pulled to on this job, in; None where not known."""
    stretch = float(stretches_in(Columns((unit,)), job)[0])
    return None if math.isnan(stretch) else max(0.0, stretch)


def capacity_at(unit: Unit, stretch_in: float) -> float | None:
    """Return a unit's working capacity at a stretch, lbf; None where it is unrated.

    Raises ValueError for a stretch beyond its usable travel.
    """
    if unit.usable_travel_in is None:
        return None
    at = not_negative("stretch_in", stretch_in, "in")
    if at > unit.usable_travel_in:
        raise ValueError(
            f"stretch_in is {at:g}: give 0 to the usable travel of {unit.usable_travel_in:g} in"
        )
    import numpy as np

    return float(Columns((unit,)).pads.capacity_lbf(np.array([at]))[0])


def stretch_at_pull_in(unit: Unit, pull_lbf: float) -> float | None:
    """Return the stretch at which the pads carry a pull, in, by the best estimate.

    None where the unit is unrated, or would need more than its usable travel.
    """
    usable, pull = unit.usable_travel_in, not_negative("pull_lbf", pull_lbf, "lbf")
    if usable is None or pull_at(unit.groups, usable) < pull:
        return None
    low, high = 0.0, usable
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if pull_at(unit.groups, middle) < pull else (low, middle)
    return high
