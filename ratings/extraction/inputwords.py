"""What an answer rests on, figure by figure: the pile, the ground, the crane, the unit, the rules.

With the formulas beside it, enough to reckon the answer again by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from fleet.dates import day_count_words
from fleet.quantities import Quantity, plain_number
from ratings.extraction.amounts import UNKNOWN
from ratings.extraction.answer import UnitAnswer
from ratings.mechanics.extraction.policy import REFUSE
from ratings.mechanics.linepull import PadGroup
from ratings.mechanics.soil import Layer

Words = Callable[[Quantity, float | None], str]


@dataclass(frozen=True)
class Group:
    """Figures that belong together, each a name and its words."""

    name: str
    rows: tuple[tuple[str, str], ...]


def input_groups(answer: UnitAnswer, system: str) -> Iterator[Group]:
    """Yield the inputs of an answer, in the reader's units."""

    def words(quantity: Quantity, value: float | None) -> str:
        return UNKNOWN if value is None else quantity.words(value, system)

    yield Group("The pile", tuple(_pile(answer, words)))
    yield Group("The ground", tuple(_ground(answer, words)))
    yield Group("The crane", tuple(_crane(answer, words)))
    yield Group("The unit", tuple(_unit(answer, words)))
    yield Group("The yard’s rules", tuple(_rules(answer)))


def _pile(answer: UnitAnswer, words: Words) -> Iterator[tuple[str, str]]:
    pile = answer.job.pile
    yield "Kind", pile.kind
    yield "Length", words(Quantity.DEPTH, pile.length_ft)
    yield "Embedment", words(Quantity.DEPTH, pile.embedment_ft)
    yield "Weight", words(Quantity.LINE_WEIGHT, pile.weight_lb_ft)
    yield "Perimeter for friction", words(Quantity.LENGTH, pile.perimeter_in)
    yield "Area", words(Quantity.AREA, pile.area_in2)
    if pile.plug_area_in2:
        yield "Plugged, area of the plug", words(Quantity.AREA, pile.plug_area_in2)
    if pile.tension_limit_lbf is not None:
        yield "May be pulled with", words(Quantity.FORCE, pile.tension_limit_lbf)
    else:
        yield "Yield strength", words(Quantity.STRENGTH, pile.yield_strength_ksi)


def _ground(answer: UnitAnswer, words: Words) -> Iterator[tuple[str, str]]:
    job = answer.job
    depth = job.water_depth_ft
    yield "Water", "none" if depth is None else f"at {words(Quantity.DEPTH, depth)}"
    set_up = job.set_up
    factors = (plain_number(each, 3) for each in (set_up.low, set_up.expected, set_up.high))
    yield "Set-up: low, expected, high", ", ".join(factors)
    for number, layer in enumerate(job.layers, start=1):
        yield f"Layer {number}", _layer(layer, words, job.is_vibrating)


def _layer(layer: Layer, words: Words, is_vibrating: bool) -> str:
    top, bottom = (words(Quantity.DEPTH, each) for each in (layer.top_ft, layer.bottom_ft))
    parts = [
        f"{layer.kind}, {top} to {bottom}",
        words(Quantity.UNIT_WEIGHT, layer.unit_weight_lb_ft3),
    ]
    if layer.undrained_strength_psf is not None:
        strength = words(Quantity.STRESS, layer.undrained_strength_psf)
        parts.append(f"undrained strength {strength}")
    if layer.density is not None:
        parts.append(layer.density)
    if layer.friction_psf is not None:
        parts.append(f"friction entered {words(Quantity.STRESS, layer.friction_psf)}")
    if is_vibrating:
        parts += _vibrated(layer, words)
    return "; ".join(parts)


def _vibrated(layer: Layer, words: Words) -> Iterator[str]:
    if layer.soil:
        yield layer.soil
    if layer.vibration_factor is not None:
        yield f"share kept entered {plain_number(layer.vibration_factor, 3)}"
    if layer.needed_amplitude_in is not None:
        yield f"amplitude entered {words(Quantity.DIAMETER, layer.needed_amplitude_in)}"


def _crane(answer: UnitAnswer, words: Words) -> Iterator[tuple[str, str]]:
    crane = answer.job.crane
    yield "Its chart allows", words(Quantity.FORCE, crane.capacity_lbf)
    yield "Hook block", words(Quantity.WEIGHT, crane.hook_block_lb)
    yield "Rigging", words(Quantity.WEIGHT, crane.rigging_weight_lb)
    yield "Working load limit of a leg", words(Quantity.FORCE, crane.rigging_limit_lbf)
    yield "Legs", f"{crane.legs}, {plain_number(crane.leg_angle_deg, 1)}° from the level"
    yield "How it is pulled", answer.job.method


def _unit(answer: UnitAnswer, words: Words) -> Iterator[tuple[str, str]]:
    unit = answer.candidate.unit
    for group in unit.groups:
        yield f"Pads of {group.lot or 'no known lot'}", _pads(group, words)
    yield "Usable travel", words(Quantity.LENGTH, unit.usable_travel_in)
    yield "Its standard uncertainty", words(Quantity.DIAMETER, unit.travel_uncertainty_in)
    yield "Confidence", f"{plain_number(unit.confidence * 100.0, 1)} %, one-sided"
    yield "Standing", unit.standing
    yield "Eccentric moment", words(Quantity.ECCENTRIC_MOMENT, unit.eccentric_moment_lb_in)
    yield "Frequency", words(Quantity.FREQUENCY, unit.frequency_vpm)
    yield "Exciter", words(Quantity.WEIGHT, unit.exciter_weight_lb)
    yield "Clamp", words(Quantity.WEIGHT, unit.clamp_weight_lb)
    yield "Clamp force", words(Quantity.FORCE, unit.clamp_force_lbf)
    yield "Housing", words(Quantity.WEIGHT, unit.housing_weight_lb)
    days = unit.days_since_inspection
    old = "never" if days is None else f"{day_count_words(days)} old"
    yield "Last inspection, on the first day", old


def _pads(group: PadGroup, words: Words) -> str:
    curve = "load curve of its readings, " if group.curve is not None else ""
    return (
        f"{group.count} sound; {curve}{words(Quantity.RATE, group.rate_lbf_in)} each, ±"
        f"{words(Quantity.RATE, group.standard_error_lbf_in)} shared and ±"
        f"{words(Quantity.RATE, group.spread_lbf_in)} from pad to pad (standard uncertainties); "
        f"tested to {words(Quantity.LENGTH, group.tested_stretch_in)}"
    )


def _rules(answer: UnitAnswer) -> Iterator[tuple[str, str]]:
    policy = answer.policy
    yield "With care below", f"{plain_number(policy.care_margin, 3)} times the demand"
    low, high = (plain_number(each, 3) for each in (policy.low_factor, policy.high_factor))
    yield "Range of the ground", f"{low} to {high} times what is expected"
    yield "Friction of the jaws", plain_number(policy.jaw_friction, 3)
    yield "Steel may be pulled to", f"{plain_number(policy.steel_share, 3)} of its yield strength"
    yield "An inspection holds for", f"{policy.inspection_days} days"
    refuses = policy.below_listing == REFUSE
    yield "A unit below its listing", "does not go out" if refuses else "goes out with care"
    if not answer.job.is_vibrating:
        return
    named = {layer.soil for layer in answer.job.layers if layer.soil}
    for soil in policy.soils:
        if soil.name in named:
            kept = plain_number(soil.factor, 3)
            yield soil.name.capitalize(), f"keeps {kept} while vibrated ({soil.factor_source})"
