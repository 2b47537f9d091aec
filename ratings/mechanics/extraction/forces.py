"""The checks of force and amplitude: what a pull asks of a unit, and what the unit gives."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ratings.mechanics.extraction.ground import Ground
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.outcomes import Check, CheckKey, Outcome
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.supply import (
    amplitude_on_pile_in,
    capacity_lbf,
    centrifugal_lbf,
    hanging_lb,
    known,
    stretch_while_vibrating_in,
)
from ratings.mechanics.extraction.unit import Unit

# The two jaws of a clamp hold a pile between them, each by friction.
JAWS = 2.0
# Supply may be short of demand in the last bit where both are the same figure.
_HAIR = 1.0 - 1e-12


@dataclass(frozen=True)
class ForceCheck:
    """One check of a unit: its demand is fixed + share × the ground's resistance.

    fixed, supply: lbf, of AMPLITUDE in inches, of ACCELERATION in g; nan where not known.
    share: of the ground's resistance that this check bears, 0 where none.
    judges: whether the verdict rests on it, or it is only shown.
    """

    key: CheckKey
    fixed: float
    share: float
    supply: float
    judges: bool = True

    def demand(self, resistance_lbf: float) -> float:
        """Return what the ground's resistance makes of the demand, nan where not known."""
        return self.fixed + self.share * resistance_lbf

    def margin(self, resistance_lbf: float) -> float:
        """Return supply over demand: infinite where nothing is asked, nan where not known."""
        return self._over(self.demand(resistance_lbf))

    def _over(self, demand: float) -> float:
        if demand != 0.0:
            return self.supply / demand
        return math.nan if math.isnan(self.supply) else math.inf

    def outcome(self, resistance_lbf: float, care_margin: float) -> Outcome:
        """Return how the check comes out; below the care margin it holds only with care."""
        return _outcome(self.margin(resistance_lbf), care_margin)

    def flip_lbf(self, margin: float) -> float:
        """Return the ground's resistance above which supply is short of margin × demand."""
        return (self.supply / margin - self.fixed) / self.share

    def at(self, resistance_lbf: float, care_margin: float) -> Check:
        """Return the check as it comes out at a resistance of the ground."""
        demand = self.demand(resistance_lbf)
        margin = self._over(demand)
        return Check(
            self.key,
            _outcome(margin, care_margin),
            finite(demand),
            finite(self.supply),
            finite(margin),
            self.judges,
        )


def _outcome(margin: float, care_margin: float) -> Outcome:
    if math.isnan(margin):
        return Outcome.UNKNOWN
    if margin < _HAIR:
        return Outcome.FAILS
    return Outcome.CARE if margin < care_margin * _HAIR else Outcome.HOLDS


# From good to bad.
SEVERITY = {outcome: place for place, outcome in enumerate(Outcome)}


def judging_checks(
    unit: Unit, job: Job, policy: ExtractionPolicy, hold: Ground
) -> tuple[ForceCheck, ...]:
    """Return the checks the verdict rests on: those of force_checks that aren't only shown."""
    return tuple(each for each in force_checks(unit, job, policy, hold) if each.judges)


def force_checks(
    unit: Unit, job: Job, policy: ExtractionPolicy, hold: Ground
) -> tuple[ForceCheck, ...]:
    """Return the checks of force, and of amplitude and acceleration where the hammer vibrates.

    At the pads: exciter + clamp + pile + plug + ground, against the working capacity at the
    stretch the unit may be pulled to. At the crane: that + housing + rigging + hook block, against
    the share of its chart a pull may use (the boom recoils when the pile breaks free) or its hoist
    line. On a leg of the rigging: all that hangs from the hook, its own weight too, times the
    leg's factor.
    Once the pile is free pads, crane, rigging and clamp must still lift all that hangs on them:
    of the four the one with the least margin.
    The published criterion (US Army EI 02G001, 1997; UFC 3-220-02) asks that the force of
    vibration exceeds the reduced resistance less the external pull: written here as vibration and
    line pull together against that resistance and all that hangs, which the pads carry first. And
    a least peak acceleration of all that vibrates, centrifugal force over its weight. See
    Criterion for which judges.
    Of a pipe whose end isn't known: each check twice, cored and plugged.
    """
    return asked_of_all(job, policy, hold).of(unit)


@dataclass(frozen=True)
class _Way:
    """What a job asks of every unit alike, as the pile may turn out to be; nan where not known.

    factor: load of one leg of the rigging as a share of the whole. grip_lbf: of the clamp for each
    lbf of its force. is_alone: whether line pull and vibration are judged each by itself.
    """

    job: Job
    plug_lb: float
    carried_lb: float
    allowed_lbf: float
    factor: float
    rigging_limit_lbf: float
    tension_lbf: float
    grip_lbf: float
    needed_amplitude_in: float
    needed_g: float
    is_alone: bool

    def checks(self, unit: Unit) -> list[ForceCheck]:
        """Return the checks of one unit."""
        job, crane, carried_lb, is_alone = self.job, self.job.crane, self.carried_lb, self.is_alone
        at_pads = hanging_lb(unit, carried_lb)
        stretch_in = stretch_while_vibrating_in(unit, job)
        pads_lbf = math.nan if stretch_in is None else capacity_lbf(unit, stretch_in)
        at_hook = at_pads + known(unit.housing_weight_lb) + crane.rigging_weight_lb
        at_crane, at_leg = at_hook + crane.hook_block_lb, self.factor * at_hook
        allowed_lbf, leg_lbf = self.allowed_lbf, self.rigging_limit_lbf
        checks = [
            ForceCheck(CheckKey.LINE_PULL, at_pads, 1.0, pads_lbf, is_alone),
            ForceCheck(CheckKey.CRANE, at_crane, 1.0, allowed_lbf),
            ForceCheck(CheckKey.RIGGING, at_leg, self.factor, leg_lbf),
        ]
        # Shaking takes of the centrifugal force what pile and plug are of all that vibrates.
        shaken = 0.0
        if job.is_vibrating:
            shaking_lbf = centrifugal_lbf(unit)
            shaken = shaking_lbf * carried_lb / at_pads
            amplitude, needed_in = (
                amplitude_on_pile_in(unit, job, self.plug_lb),
                self.needed_amplitude_in,
            )
            peak_g = shaking_lbf / at_pads
            checks += [
                ForceCheck(CheckKey.CENTRIFUGAL, 0.0, 1.0, shaking_lbf, is_alone),
                ForceCheck(CheckKey.AMPLITUDE, needed_in, 0.0, amplitude),
                ForceCheck(CheckKey.TOGETHER, at_pads, 1.0, pads_lbf + shaking_lbf, not is_alone),
                ForceCheck(CheckKey.ACCELERATION, self.needed_g, 0.0, peak_g, not is_alone),
            ]
        grip = self.grip_lbf * known(unit.clamp_force_lbf)
        # The clamp and the pile's head bear pile, plug and ground, and shake pile and plug.
        checks += [
            ForceCheck(CheckKey.CLAMP, shaken + carried_lb, 1.0, grip),
            ForceCheck(CheckKey.TENSION, shaken + carried_lb, 1.0, self.tension_lbf),
            _lift(
                (at_pads, pads_lbf), (at_crane, allowed_lbf), (at_leg, leg_lbf), (carried_lb, grip)
            ),
        ]
        return checks


@dataclass(frozen=True)
class Asked:
    """What a job asks of every unit alike, worked out once for all of them.

    hold: the ground's on the pile. ways: as the pile may turn out to be.
    """

    job: Job
    policy: ExtractionPolicy
    hold: Ground
    ways: tuple[_Way, ...]

    def of(self, unit: Unit) -> tuple[ForceCheck, ...]:
        """Return the checks of one unit, as force_checks does."""
        if len(self.ways) == 1:
            return tuple(self.ways[0].checks(unit))
        return tuple(
            _of_the_whole(each, way.job, self.hold)
            for way in self.ways
            for each in way.checks(unit)
        )


def asked_of_all(job: Job, policy: ExtractionPolicy, hold: Ground) -> Asked:
    """Return what a job asks of every unit alike. hold: the ground's on its pile."""
    return Asked(job, policy, hold, tuple(_way(each, policy, hold) for each in job.possible_ends()))


def _way(job: Job, policy: ExtractionPolicy, hold: Ground) -> _Way:
    pile, crane, plug_lb = job.pile, job.crane, job.plug_weight_lb
    return _Way(
        job=job,
        plug_lb=plug_lb,
        carried_lb=pile.weight_lb + plug_lb,
        allowed_lbf=known(crane.allowed_lbf(policy.crane_share)),
        factor=crane.leg_factor,
        rigging_limit_lbf=known(crane.rigging_limit_lbf),
        tension_lbf=known(pile.allowed_tension_lbf(policy.steel_share)),
        grip_lbf=JAWS * policy.jaw_friction,
        needed_amplitude_in=hold.needed_amplitude_in,
        needed_g=policy.needed_acceleration_g(pile),
        is_alone=not (policy.adds_forces and job.is_vibrating),
    )


def _lift(*borne: tuple[float, float]) -> ForceCheck:
    """Return the check of lifting it once free: of (load, limit) the least margin, lbf.

    One that isn't known leaves all of it unknown, unless another fails.
    """
    known_of = [each for each in borne if not math.isnan(each[0] + each[1])]
    load, limit = min(known_of, key=_margin_of, default=(math.nan, math.nan))
    if len(known_of) < len(borne) and not limit < load * _HAIR:
        load = limit = math.nan
    return ForceCheck(CheckKey.LIFT, load, 0.0, limit)


def _margin_of(borne: tuple[float, float]) -> float:
    load, limit = borne
    return limit / load if load else math.inf


def worst_of_each(
    checks: Sequence[ForceCheck], resistance_lbf: float, care_margin: float
) -> tuple[Check, ...]:
    """Return every check as it comes out at a resistance, of two with one key the worse."""
    found: dict[CheckKey, Check] = {}
    for each in checks:
        check = each.at(resistance_lbf, care_margin)
        other = found.setdefault(each.key, check)
        if other is not check and _badness(check) > _badness(other):
            found[each.key] = check
    return tuple(found.values())


def _badness(check: Check) -> tuple[int, float]:
    margin = math.inf if check.margin is None else check.margin
    return SEVERITY[check.outcome], -margin


def _of_the_whole(check: ForceCheck, way: Job, hold: Ground) -> ForceCheck:
    """Return a check of a plugged pipe by a resistance that has the soil within in it.

    Friction without is the share k of the friction of this pull, other holds H stay whole: of a
    resistance R the pipe bears k·(R − H) + H.
    """
    friction_lbf = hold.outside_lbf + hold.inside_lbf
    if way.pile.cored_perimeter_in or not friction_lbf:
        return check
    kept = hold.outside_lbf / friction_lbf
    held_lbf = math.fsum(force_lbf for _, force_lbf in hold.holds_lbf)
    fixed = check.fixed + check.share * (1.0 - kept) * held_lbf
    return replace(check, fixed=fixed, share=check.share * kept)


def finite(value: float) -> float | None:
    """Return a figure, None where it is not known or there is no end to it."""
    return value if math.isfinite(value) else None
