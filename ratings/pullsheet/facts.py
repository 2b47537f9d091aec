"""What a pull sheet says, from the answer a unit was committed on and nothing else."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ratings.extraction.standingfalls import Held
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.curve import demand_curve
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.loadpath import LoadPath, load_path
from ratings.mechanics.extraction.policy import ExtractionPolicy
from ratings.mechanics.extraction.record import read_answer
from ratings.mechanics.extraction.supply import (
    capacity_at,
    stretch_at_pull_in,
    stretch_while_vibrating_in,
)
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.extraction.verdict import UnitVerdict
from ratings.models import Commitment


@dataclass(frozen=True)
class Sheet:
    """A commitment's answer, reckoned again from its document.

    reckoned_in: the usable travel, less half the amplitude while vibrating. stop_in: the stretch
        not to pass, that cut down to what a tape shows. capacity_lbf: working capacity at
        reckoned_in.
    expected_in, capacity_in: stretch at the pull expected, and at the working capacity.
    low_lbf, expected_lbf, high_lbf: pull at the pads over the ground's range.
    hook_stop_lbf: hook load, block and all, at which to stop, whichever limit comes first.
    """

    commitment: Commitment
    unit: Unit
    job: Job
    policy: ExtractionPolicy
    verdict: UnitVerdict
    path: LoadPath
    reckoned_in: float
    stop_in: float
    capacity_lbf: float
    expected_in: float | None
    capacity_in: float | None
    low_lbf: float
    expected_lbf: float
    high_lbf: float
    hook_stop_lbf: float
    void: str
    url: str
    system: str


def read_sheet(held: Held, url: str, system: str) -> Sheet:
    """Read a sheet. held: the commitment as it stands now. url: of the commitment's page."""
    commitment = held.commitment
    unit, job, policy = read_answer(commitment.answer.contents)
    reckoned_in = stretch_while_vibrating_in(unit, job) or 0.0
    capacity_lbf = capacity_at(unit, reckoned_in) or 0.0
    whole = demand_curve(unit, job, policy)[0]
    path = load_path(unit, job, policy)
    return Sheet(
        commitment=commitment,
        unit=unit,
        job=job,
        policy=policy,
        verdict=check(unit, job, policy),
        path=path,
        reckoned_in=reckoned_in,
        stop_in=on_the_tape_in(reckoned_in, system),
        capacity_lbf=capacity_lbf,
        expected_in=stretch_at_pull_in(unit, whole.expected_lbf),
        capacity_in=stretch_at_pull_in(unit, capacity_lbf),
        low_lbf=whole.low_lbf,
        expected_lbf=whole.expected_lbf,
        high_lbf=whole.high_lbf,
        hook_stop_lbf=_hook_stop_lbf(unit, job, capacity_lbf),
        void=void_words(held),
        url=url,
        system=system,
    )


def on_the_tape_in(stretch_in: float, system: str) -> float:
    """Cut a stretch down to the last sixteenth of an inch, or millimetre, that a tape shows."""
    division_in = 0.0625 if system == "us" else 1.0 / 25.4
    return math.floor(stretch_in / division_in + 1e-9) * division_in


def void_words(held: Held) -> str:
    """Return why a sheet holds no more, "" where it does."""
    if not held.commitment.is_in_force:
        return f"the unit was released: {held.commitment.release_reason}"
    if held.out_of_service:
        return f"the unit is out of service: {held.out_of_service}"
    if held.is_moved:
        return f"the housing is no longer on {held.commitment.hammer}"
    return "the unit’s rating has changed since" if held.is_void else ""


def _hook_stop_lbf(unit: Unit, job: Job, capacity_lbf: float) -> float:
    """Return the hook load at which the pads, the rigging or the crane is at its limit."""
    crane = job.crane
    above = (unit.housing_weight_lb or 0.0) + crane.rigging_weight_lb
    limits = [capacity_lbf + above + crane.hook_block_lb]
    if crane.rigging_limit_lbf is not None:
        limits.append(crane.rigging_limit_lbf / crane.leg_factor + crane.hook_block_lb)
    if crane.capacity_lbf is not None:
        limits.append(crane.capacity_lbf)
    return min(limits)


def ground_words_lbf(sheet: Sheet) -> tuple[float, float, float]:
    """Return the ground's resistance, low, expected and high."""
    held = ground(sheet.job, sheet.policy)
    return held.low_lbf, held.resistance_lbf, held.high_lbf
