"""Answers of formats 1 and 2: judged for ever as they were then, to the last digit.

There was one pile to a job, its end not asked; standing, inspection and the like were checks among
the forces; the whole of the crane's chart was allowed, and one criterion was known.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from ratings.mechanics.extraction.forces import JAWS, ForceCheck, finite
from ratings.mechanics.extraction.ground import Ground, ground
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.outcomes import (
    Check,
    CheckKey,
    Condition,
    ConditionKey,
    ConditionState,
    Outcome,
    UnitVerdict,
    Verdict,
)
from ratings.mechanics.extraction.rules import BelowListing, ExtractionPolicy
from ratings.mechanics.extraction.supply import (
    amplitude_on_pile_in,
    capacity_lbf,
    centrifugal_lbf,
    hanging_lb,
    known,
    stretch_while_vibrating_in,
)
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.standing import Standing

_SEVERITY = {outcome: place for place, outcome in enumerate(Outcome)}
_VERDICTS = dict(zip(Outcome, Verdict, strict=True))
_MARGIN_WITHOUT = {Outcome.FAILS: 0.0, Outcome.UNKNOWN: 0.0, Outcome.CARE: 1.0}
_STATES = {
    Outcome.HOLDS: ConditionState.HOLDS,
    Outcome.CARE: ConditionState.CARE,
    # A standing that was not known let no unit go.
    Outcome.UNKNOWN: ConditionState.BLOCKS,
    Outcome.FAILS: ConditionState.BLOCKS,
}
# As checks were called then, in their order: of two alike the first governed.
_ORDER = (
    *("line pull at the pads", "hook load on the crane", "rigging", "centrifugal force"),
    *("amplitude", "clamp grip", "tension in the pile", "standing", "inspection", "service"),
    *("rating", "dates", "distance"),
)


@dataclass(frozen=True)
class _Check:
    """One check as it was written."""

    key: str
    outcome: Outcome
    demand: float | None = None
    supply: float | None = None
    margin: float | None = None


@dataclass(frozen=True)
class VerdictThen:
    """A verdict in the shape it was written in: forces and states in one list of checks."""

    mark: str
    verdict: Verdict
    governing: str
    margin: float | None
    checks: tuple[_Check, ...]
    low: Verdict
    high: Verdict
    flip_lbf: float | None
    care_flip_lbf: float | None

    @property
    def record(self) -> dict[str, Any]:
        """The verdict as JSON values, word for word as it was written."""
        return asdict(self) | {
            "verdict": str(self.verdict),
            "low": str(self.low),
            "high": str(self.high),
            "checks": [asdict(each) | {"outcome": str(each.outcome)} for each in self.checks],
        }

    @property
    def as_now(self) -> UnitVerdict:
        """The verdict as pages show one now: forces and conditions apart, its words as they were.

        What governs is the force that did, where a state did then.
        """
        names = {str(key) for key in CheckKey}
        of_force = [each for each in self.checks if each.key in names]
        governing = min(of_force, key=_governs)
        return UnitVerdict(
            mark=self.mark,
            verdict=self.verdict,
            governing=CheckKey(governing.key),
            margin=governing.margin,
            checks=tuple(
                Check(CheckKey(each.key), each.outcome, each.demand, each.supply, each.margin)
                for each in of_force
            ),
            low=self.low,
            high=self.high,
            flip_lbf=self.flip_lbf,
            care_flip_lbf=self.care_flip_lbf,
            conditions=tuple(
                Condition(ConditionKey(each.key), _STATES[each.outcome], each.demand, each.supply)
                for each in self.checks
                if each.key not in names
            ),
        )


def check_then(unit: Unit, job: Job, policy: ExtractionPolicy) -> VerdictThen:
    """Judge a unit by the method of formats 1 and 2. Raises LayerFault as ground does."""
    hold, care = ground(job, policy), policy.care_margin
    forces, states = _force_checks(unit, job, policy, hold), _state_checks(unit, job, policy)
    checks = (*(_at(each, hold.resistance_lbf, care) for each in forces), *states)
    governing = min(checks, key=_governs)

    def flip_lbf(margin: float) -> float | None:
        flips = [each.flip_lbf(margin) for each in forces if each.share]
        found = [flip for flip in flips if not math.isnan(flip)]
        return finite(max(min(found, default=math.inf), 0.0))

    low, high = (
        _worst([*(each.outcome(end, care) for each in forces), *(each.outcome for each in states)])
        for end in (hold.low_lbf, hold.high_lbf)
    )
    return VerdictThen(
        mark=unit.mark,
        verdict=_worst([each.outcome for each in checks]),
        governing=governing.key,
        margin=governing.margin,
        checks=checks,
        low=low,
        high=high,
        flip_lbf=flip_lbf(1.0),
        care_flip_lbf=flip_lbf(care),
    )


def _force_checks(
    unit: Unit, job: Job, policy: ExtractionPolicy, hold: Ground
) -> tuple[ForceCheck, ...]:
    plug_lb = job.plug_weight_lb
    carried_lb = job.pile.weight_lb + plug_lb
    at_pads = hanging_lb(unit, carried_lb)
    stretch_in = stretch_while_vibrating_in(unit, job)
    pads_lbf = math.nan if stretch_in is None else capacity_lbf(unit, stretch_in)
    crane = job.crane
    at_hook = at_pads + known(unit.housing_weight_lb) + crane.rigging_weight_lb
    factor = crane.leg_factor
    checks = [
        ForceCheck(CheckKey.LINE_PULL, at_pads, 1.0, pads_lbf),
        ForceCheck(CheckKey.CRANE, at_hook + crane.hook_block_lb, 1.0, known(crane.capacity_lbf)),
        ForceCheck(CheckKey.RIGGING, factor * at_hook, factor, known(crane.rigging_limit_lbf)),
    ]
    shaken = 0.0
    if job.is_vibrating:
        shaking_lbf = centrifugal_lbf(unit)
        shaken = shaking_lbf * carried_lb / at_pads
        amplitude = amplitude_on_pile_in(unit, job, plug_lb)
        checks += [
            ForceCheck(CheckKey.CENTRIFUGAL, 0.0, 1.0, shaking_lbf),
            ForceCheck(CheckKey.AMPLITUDE, hold.needed_amplitude_in, 0.0, amplitude),
        ]
    grip = JAWS * policy.jaw_friction * known(unit.clamp_force_lbf)
    limit = known(job.pile.allowed_tension_lbf(policy.steel_share))
    return (
        *checks,
        ForceCheck(CheckKey.CLAMP, shaken + carried_lb, 1.0, grip),
        ForceCheck(CheckKey.TENSION, shaken + carried_lb, 1.0, limit),
    )


def _state_checks(unit: Unit, job: Job, policy: ExtractionPolicy) -> tuple[_Check, ...]:
    days, most_days = unit.days_since_count, policy.inspection_days
    is_due = days is None or days > most_days
    checks = [
        _Check("standing", _standing(unit, policy)),
        _Check(
            "inspection",
            Outcome.FAILS if is_due else Outcome.HOLDS,
            None if days is None else float(days),
            float(most_days),
        ),
        _Check("service", Outcome.FAILS if unit.out_of_service else Outcome.HOLDS),
        _Check("rating", Outcome.CARE if unit.stale_lots else Outcome.HOLDS),
        _Check("dates", Outcome.FAILS if unit.committed else Outcome.HOLDS),
    ]
    away_mi, limit_mi = unit.distance_mi, job.haul_limit_mi
    if away_mi is not None:
        is_far = limit_mi is not None and away_mi > limit_mi
        outcome = Outcome.CARE if is_far else Outcome.HOLDS
        checks.append(_Check("distance", outcome, away_mi, limit_mi))
    return tuple(checks)


def _standing(unit: Unit, policy: ExtractionPolicy) -> Outcome:
    if unit.standing is Standing.MEETS_LISTING:
        return Outcome.HOLDS
    if unit.standing is Standing.UNRATED:
        return Outcome.UNKNOWN
    if unit.standing is Standing.BELOW_LISTING and policy.below_listing == BelowListing.REFUSE:
        return Outcome.FAILS
    return Outcome.CARE


def _at(each: ForceCheck, resistance_lbf: float, care_margin: float) -> _Check:
    found = each.at(resistance_lbf, care_margin)
    return _Check(str(found.key), found.outcome, found.demand, found.supply, found.margin)


def _worst(outcomes: Sequence[Outcome]) -> Verdict:
    return _VERDICTS[max(outcomes, key=_SEVERITY.__getitem__)]


def _governs(check: _Check) -> tuple[int, float, int]:
    margin = check.margin
    if margin is None:
        margin = _MARGIN_WITHOUT.get(check.outcome, math.inf)
    return -_SEVERITY[check.outcome], margin, _ORDER.index(check.key)
