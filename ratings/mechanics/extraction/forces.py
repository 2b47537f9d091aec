"""The checks of force and amplitude: what is asked of every unit, and what each gives."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ratings.mechanics.extraction.columns import Columns
from ratings.mechanics.extraction.ground import Ground
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.loads import plug_weight_lb, tension_limit_lbf
from ratings.mechanics.extraction.policy import ExtractionPolicy
from ratings.mechanics.extraction.supply import (
    amplitudes_in,
    centrifugal_forces_lbf,
    stretches_in,
)
from ratings.mechanics.extraction.verdict import CheckKey

if TYPE_CHECKING:
    from ratings.mechanics.extraction.columns import Numbers

# The two jaws of a clamp hold a pile between them, each by friction.
JAWS = 2.0


@dataclass(frozen=True)
class Asked:
    """One check of every unit: demand = fixed + share × the ground's resistance.

    share: of the ground's resistance that this check bears, 0 where none.
    """

    key: CheckKey
    fixed: Numbers
    share: float
    supply: Numbers

    def demand(self, resistance_lbf: float) -> Numbers:
        return self.fixed + self.share * resistance_lbf

    def flip_lbf(self, margin: float) -> Numbers:
        """Return the ground's resistance above which supply is short of margin × demand."""
        return (self.supply / margin - self.fixed) / self.share


def force_checks(
    columns: Columns, job: Job, policy: ExtractionPolicy, held: Ground
) -> tuple[Asked, ...]:
    """Return the checks of force, and of amplitude where the hammer vibrates.

    At the pads: exciter + clamp + pile + plug + ground, against the working capacity at the
    stretch the unit may be pulled to. At the crane: that + housing + rigging + hook block. On a
    leg of the rigging: all that hangs from the hook, its own weight too, times the leg's factor.
    """
    plug_lb = plug_weight_lb(job)
    carried_lb = job.pile.weight_lb + plug_lb
    at_pads = columns.of("exciter_weight_lb") + columns.of("clamp_weight_lb") + carried_lb
    crane = job.crane
    at_hook = at_pads + columns.of("housing_weight_lb") + crane.rigging_weight_lb
    capacity = columns.pads.capacity_lbf(stretches_in(columns, job))
    checks = [
        Asked(CheckKey.LINE_PULL, at_pads, 1.0, capacity),
        Asked(
            CheckKey.CRANE, at_hook + crane.hook_block_lb, 1.0, _alike(columns, crane.capacity_lbf)
        ),
        Asked(
            CheckKey.RIGGING,
            crane.leg_factor * at_hook,
            crane.leg_factor,
            _alike(columns, crane.rigging_limit_lbf),
        ),
    ]
    if job.is_vibrating:
        checks += _vibration_checks(columns, job, held, plug_lb)
    return (*checks, *_grip_checks(columns, job, policy, carried_lb))


def _vibration_checks(columns: Columns, job: Job, held: Ground, plug_lb: float) -> list[Asked]:
    return [
        Asked(CheckKey.CENTRIFUGAL, _alike(columns, 0.0), 1.0, centrifugal_forces_lbf(columns)),
        Asked(
            CheckKey.AMPLITUDE,
            _alike(columns, held.needed_amplitude_in),
            0.0,
            amplitudes_in(columns, job, plug_lb),
        ),
    ]


def _grip_checks(
    columns: Columns, job: Job, policy: ExtractionPolicy, carried_lb: float
) -> list[Asked]:
    """The clamp and the pile's head bear pile, plug and ground, and shake pile and plug.

    Shaking takes of the centrifugal force what pile and plug are of all that vibrates.
    """
    shaken = _alike(columns, 0.0)
    if job.is_vibrating:
        vibrating = columns.of("exciter_weight_lb") + columns.of("clamp_weight_lb") + carried_lb
        shaken = centrifugal_forces_lbf(columns) * carried_lb / vibrating
    grip = JAWS * policy.jaw_friction * columns.of("clamp_force_lbf")
    limit = _alike(columns, tension_limit_lbf(job, policy.steel_share))
    return [
        Asked(CheckKey.CLAMP, shaken + carried_lb, 1.0, grip),
        Asked(CheckKey.TENSION, shaken + carried_lb, 1.0, limit),
    ]


def _alike(columns: Columns, value: float | None) -> Numbers:
    import numpy as np

    return np.full(len(columns), math.nan if value is None else value)
