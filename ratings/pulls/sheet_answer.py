"""What the answer a unit was committed on says of a pile of it: its hold, and what hangs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from ratings.mechanics.extraction.ground import Ground, ground
from ratings.mechanics.extraction.job import Job, PileOfJob, PullMethod
from ratings.mechanics.extraction.learning import SoilPart, soil_part
from ratings.mechanics.extraction.record import read_answer
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.supply import line_pull_of
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.soil import LayerFault
from ratings.models import Commitment, JobAnswer


@dataclass(frozen=True)
class AnswerInputs:
    """What an answer was calculated from."""

    unit: Unit
    piles: tuple[PileOfJob, ...]
    policy: ExtractionPolicy

    def pile(self, number: int) -> PileOfJob | None:
        """Return one of its groups of piles by its number, None where there is none."""
        return next((each for each in self.piles if each.number == number), None)


@dataclass(frozen=True)
class HookWeights:
    """Weights on the hook, lb; None where one of them is not recorded.

    unit_lb: hook block, rigging, housing, exciter and clamp. carried_lb: pile and plug.
    above_pads_lb: what of the unit hangs above the pads.
    """

    unit_lb: float | None
    above_pads_lb: float | None
    carried_lb: float

    @property
    def all_lb(self) -> float | None:
        return None if self.unit_lb is None else self.unit_lb + self.carried_lb


@dataclass(frozen=True)
class Hold:
    """What the ground was calculated to hold a pile with, lbf, and the soil that holds most."""

    expected_lbf: float
    low_lbf: float
    high_lbf: float
    part: SoilPart | None


def inputs_of(answer: JobAnswer) -> AnswerInputs:
    """Return what a recorded answer was calculated from.

    Raises KeyError, TypeError or ValueError where the document can't be read as an answer.
    """
    return AnswerInputs(*read_answer(answer.contents))


def answer_of_sheet(made: Commitment, at: datetime | None = None) -> JobAnswer:
    """Return the answer that the sheet of a commitment was of at a moment, now unless given.

    The last it was confirmed on by then, else the one it was committed on.
    """
    confirmed = [each.answer for each in made.confirmations.all()]
    by_then = [each for each in confirmed if at is None or each.recorded_at <= at]
    return max(by_then, key=lambda each: each.recorded_at, default=made.answer)


def hook_weights(asked: AnswerInputs, job: Job) -> HookWeights:
    """Return what hangs on the hook as a pile is pulled."""
    unit, (way, _) = asked.unit, _worse(job, asked.policy)
    crane = job.crane
    housing_lb = unit.housing_weight_lb
    below = (unit.exciter_weight_lb, unit.clamp_weight_lb)
    above_lb = (
        None if housing_lb is None else housing_lb + crane.rigging_weight_lb + crane.hook_block_lb
    )
    unit_lb = None
    if above_lb is not None and None not in below:
        unit_lb = above_lb + sum(each or 0.0 for each in below)
    return HookWeights(unit_lb, above_lb, job.pile.weight_lb + way.plug_weight_lb)


def hold_of(
    asked: AnswerInputs, job: Job, *, is_vibrated: bool, toe_depth_ft: float | None
) -> Hold | None:
    """Return what the ground holds a pile with at a depth of its toe, pulled one way or the other.

    None where the layers say nothing of it, as of vibration in a job for the crane alone.
    """
    method = PullMethod.VIBRATING if is_vibrated else PullMethod.STILL
    pulled = replace(job, method=method)
    try:
        way, found = _worse(pulled, asked.policy, toe_depth_ft)
    except LayerFault:
        return None
    # Nobody saw whether it cored or plugged, and so what the soil did is not known either.
    part = None if way is not pulled else soil_part(found, pulled)
    return Hold(found.resistance_lbf, found.low_lbf, found.high_lbf, part)


def _worse(
    job: Job, policy: ExtractionPolicy, toe_depth_ft: float | None = None
) -> tuple[Job, Ground]:
    """Return the job with the end of its pipe, where that is not known, that asks for more."""
    ways = [(way, ground(way, policy, toe_depth_ft)) for way in job.possible_ends()]
    return max(ways, key=lambda each: each[0].plug_weight_lb + each[1].resistance_lbf)


def pads_pull_lbf(unit: Unit, stretch_in: float) -> float | None:
    """Return what the pads carry at a stretch, lbf, None where they aren't tested so far."""
    usable = unit.usable_travel_in
    if usable is None or not 0.0 < stretch_in <= usable:
        return None
    return line_pull_of(unit, stretch_in).pull_lbf
