"""What a unit gives: force and amplitude of the hammer, working capacity and stretch of the pads.

Facts that are not recorded are nan here, and so is all that rests on one.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from ratings.mechanics import format_1, format_2, format_3, linepull
from ratings.mechanics.arguments import not_negative, positive
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import LinePull
from ratings.mechanics.uncertainty import coverage_factor

# Standard gravity, 9.80665 m/s² exactly, in inches.
GRAVITY_IN_S2 = 9.80665 / 0.0254
# Halvings of a stretch until it is known to the last digit worth having.
_HALVINGS = 60


def centrifugal_force_lbf(eccentric_moment_lb_in: float, frequency_vpm: float) -> float:
    """Return the largest force of the turning weights, lbf: F = M·ω²/g, ω = 2π·n/60.

    eccentric_moment_lb_in: weight times arm of all eccentrics, lb·in.
    frequency_vpm: vibrations per minute.
    Raises ValueError for a number that can't be.
    """
    moment = not_negative("eccentric_moment_lb_in", eccentric_moment_lb_in, "lb·in")
    return _centrifugal_lbf(moment, not_negative("frequency_vpm", frequency_vpm, "vpm"))


def amplitude_in(eccentric_moment_lb_in: float, vibrating_weight_lb: float) -> float:
    """Return the free amplitude from peak to peak, in: 2·M/W, W all that vibrates.

    Raises ValueError for a number that can't be.
    """
    moment = not_negative("eccentric_moment_lb_in", eccentric_moment_lb_in, "lb·in")
    return _peak_to_peak_in(moment, positive("vibrating_weight_lb", vibrating_weight_lb, "lb"))


def centrifugal_lbf(unit: Unit) -> float:
    """Return a unit's centrifugal force, lbf."""
    return _centrifugal_lbf(known(unit.eccentric_moment_lb_in), known(unit.frequency_vpm))


def hanging_lb(unit: Unit, *carried_lb: float) -> float:
    """Return the weight of what hangs below the pads and shakes: exciter, clamp, what they carry.

    carried_lb: pile and plug, added in this order.
    """
    weight_lb = known(unit.exciter_weight_lb) + known(unit.clamp_weight_lb)
    for each in carried_lb:
        weight_lb += each
    return weight_lb


def amplitude_on_pile_in(unit: Unit, job: Job, plug_lb: float = 0.0) -> float:
    """Return a unit's amplitude from peak to peak on this pile, in, with or without its plug."""
    weight_lb = hanging_lb(unit, job.pile.weight_lb, plug_lb)
    return _peak_to_peak_in(known(unit.eccentric_moment_lb_in), weight_lb)


def stretch_while_vibrating_in(unit: Unit, job: Job) -> float | None:
    """Return the stretch a unit may be pulled to on this job, in; None where not known.

    The usable travel; while vibrating less half the amplitude, so that the housing never meets
    its stops. The amplitude without a plug: it is the larger one. 0 where it takes all.
    """
    stretch = known(unit.usable_travel_in)
    if job.is_vibrating:
        stretch -= amplitude_on_pile_in(unit, job) / 2.0
    return None if math.isnan(stretch) else max(0.0, stretch)


def capacity_lbf(unit: Unit, stretch_in: float) -> float:
    """Return a unit's working capacity at a stretch within its usable travel, lbf, 0 at rest."""
    if unit.rating_format == 1:
        tape_in, confidence = unit.travel_uncertainty_in, unit.confidence
        return format_1.capacity_at(unit.groups, stretch_in, tape_in, confidence)
    return line_pull_of(unit, stretch_in).working_capacity_lbf if stretch_in else 0.0


def line_pull_of(unit: Unit, stretch_in: float) -> LinePull:
    """Return a unit's line pull, with this stretch, above 0, for its travel."""
    tape_in, confidence = unit.travel_uncertainty_in, unit.confidence
    if unit.rating_format == 1:
        found = format_1.line_pull(unit.groups, stretch_in, tape_in, confidence)
        return format_3.bounded(found, unit.proof, confidence) if unit.proof else found
    methods: dict[int, Callable[..., LinePull]] = {2: format_2.line_pull, 3: format_3.line_pull}
    rate = methods.get(unit.rating_format, linepull.line_pull)
    return rate(unit.groups, stretch_in, tape_in, confidence, unit.proof)


def stretch_at_pull_in(unit: Unit, pull_lbf: float) -> float | None:
    """Return the stretch at which the pads carry a pull, in, by the best estimate.

    Of the lots that count at the usable travel. None where the unit is unrated, or would need
    more than that travel. Raises ValueError for a pull below 0.
    """
    usable, pull = unit.usable_travel_in, not_negative("pull_lbf", pull_lbf, "lbf")
    groups = [each for each in unit.groups if each.tested_stretch_in >= known(usable)]

    ratio = min(1.0, unit.proof.ratio) if unit.proof else 1.0

    def is_short(stretch_in: float) -> bool:
        return ratio * linepull.pull_at(groups, stretch_in) < pull

    if usable is None or is_short(usable):
        return None
    low, high = 0.0, usable
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if is_short(middle) else (low, middle)
    return high


def stop_stretch_in(unit: Unit, pull_lbf: float) -> float | None:
    """Return the stretch at which the pads may already carry a pull, in: where to stop before it.

    By the upper bound of every pad fitted, sound or not, and of a unit that was found stiffer
    than its pads, by that. Infinite where they reach the pull nowhere in the usable travel. None
    where it isn't known: a pad fitted has no rate, or the pull lies beyond what one was tested
    to. Raises ValueError for a pull below 0.
    """
    pull = not_negative("pull_lbf", pull_lbf, "lbf")
    if not is_stop_known(unit, pull):
        return None
    low, high = 0.0, _farthest_known_in(unit)
    if not _reaches(unit, high, pull):
        return math.inf
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (low, middle) if _reaches(unit, middle, pull) else (middle, high)
    return low


def is_stop_known(unit: Unit, pull_lbf: float) -> bool:
    """Return whether it is known at which stretch to stop before a pull, if at any.

    Raises ValueError for a pull below 0.
    """
    usable, pull = unit.usable_travel_in, not_negative("pull_lbf", pull_lbf, "lbf")
    if usable is None or unit.unknown_stiffness != "" or not unit.stiff_groups:
        return False
    farthest = _farthest_known_in(unit)
    return usable <= farthest or _reaches(unit, farthest, pull)


def _farthest_known_in(unit: Unit) -> float:
    """Return the farthest stretch in the usable travel that all pads fitted were tested to, in."""
    return min(
        known(unit.usable_travel_in), *(each.tested_stretch_in for each in unit.stiff_groups)
    )


def _reaches(unit: Unit, stretch_in: float, pull_lbf: float) -> bool:
    """Return whether all pads together may carry a pull at a stretch already."""
    # Answers that rest on the first method told no stop: what they hold now is the second's.
    most_pull_at = linepull.most_pull_at if unit.rating_format > 2 else format_2.most_pull_at
    most = most_pull_at(unit.stiff_groups, stretch_in, unit.travel_uncertainty_in, unit.confidence)
    return most is None or _stiffer(unit) * most >= pull_lbf


def _stiffer(unit: Unit) -> float:
    """Return how many times stiffer than its pads a unit may be, by a proof pull; never below 1."""
    if unit.proof is None:
        return 1.0
    freedom = unit.proof.degrees_of_freedom
    factor = coverage_factor(unit.confidence, math.inf if freedom is None else freedom)
    return max(1.0, unit.proof.ratio * (1.0 + factor * unit.proof.standard_share))


def known(fact: float | None) -> float:
    """Return a fact as a number, nan where it is not recorded."""
    return math.nan if fact is None else fact


def _centrifugal_lbf(moment_lb_in: float, frequency_vpm: float) -> float:
    turning = 2.0 * math.pi * frequency_vpm / 60.0
    return moment_lb_in * turning * turning / GRAVITY_IN_S2


def _peak_to_peak_in(moment_lb_in: float, weight_lb: float) -> float:
    return 2.0 * moment_lb_in / weight_lb
