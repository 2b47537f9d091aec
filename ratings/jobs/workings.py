"""The figures an answer rests on, and how each comes about, to be followed by hand."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from fleet.dates import day_count_words
from fleet.units import Quantity, plain_number
from ratings.jobs.answer import UnitAnswer
from ratings.jobs.words import UNKNOWN
from ratings.mechanics.extraction.forces import JAWS
from ratings.mechanics.extraction.policy import BelowListing
from ratings.mechanics.extraction.supply import amplitude_on_pile_in, hanging_lb
from ratings.mechanics.extraction.verdict import CheckKey
from ratings.mechanics.linepull import PadGroup
from ratings.mechanics.soil import Layer, total_stress_psf

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
    unit = answer.unit
    for group in unit.groups:
        yield f"Pads of {group.lot or 'no known lot'}", _pad_words(group, words)
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


def _pad_words(group: PadGroup, words: Words) -> str:
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
    refuses = policy.below_listing == BelowListing.REFUSE
    yield "A unit below its listing", "does not go out" if refuses else "goes out with care"
    if not answer.job.is_vibrating:
        return
    named = {layer.soil for layer in answer.job.layers if layer.soil}
    for soil in policy.soils:
        if soil.name in named:
            kept = plain_number(soil.factor, 3)
            yield soil.name.capitalize(), f"keeps {kept} while vibrated ({soil.factor_source})"


@dataclass(frozen=True)
class Line:
    """One figure: its name, how it comes about, with its numbers put in, and what it comes to."""

    name: str
    formula: str
    numbers: str
    result: str


@dataclass(frozen=True)
class _Writer:
    """Figures as the lines write them: finely enough to be followed by hand."""

    system: str

    def force(self, lbf: float) -> str:
        return Quantity.FORCE.words(lbf, self.system, 0 if self.system == "us" else 2)

    def length(self, inches: float) -> str:
        return Quantity.LENGTH.words(inches, self.system, 3 if self.system == "us" else 1)

    def sum(self, *parts: float) -> str:
        return " + ".join(self.force(part) for part in parts if part)


def workings(answer: UnitAnswer, system: str) -> tuple[Line, ...]:
    """Return the lines from the hammer's figures to each demand and supply.

    A line that rests on a figure not on record is left out; its check says which that is.
    """
    write = _Writer(system)
    return (
        *_vibration(answer, write),
        *_pads(answer, write),
        *_path(answer, write),
        *_grip(answer, write),
        *_range(answer, write),
    )


def _vibration(answer: UnitAnswer, write: _Writer) -> Iterator[Line]:
    unit, system, carried_lb = answer.unit, write.system, answer.job.pile.weight_lb
    moment = Quantity.ECCENTRIC_MOMENT.words(unit.eccentric_moment_lb_in or 0.0, system)
    shaking_lbf, shaken_in = answer.supply(CheckKey.CENTRIFUGAL), answer.supply(CheckKey.AMPLITUDE)
    if shaking_lbf is not None:
        # In SI the moment is one of mass, and needs no g.
        formula = "M·ω²/g, ω = 2π·n/60" if system == "us" else "M·ω², ω = 2π·n"
        gravity = " / 386.09 in/s²" if system == "us" else ""
        per_minute = Quantity.FREQUENCY.words(unit.frequency_vpm or 0.0, system)
        turning = f"2π × {per_minute}" + (" / 60" if system == "us" else "")
        numbers = f"{moment} × ({turning})²{gravity}"
        yield Line("Centrifugal force", formula, numbers, write.force(shaking_lbf))
    if shaken_in is None:
        return
    plug_lb = answer.job.plug_weight_lb
    bare_in = amplitude_on_pile_in(unit, answer.job)
    shaken: tuple[tuple[str, str, float, float], ...] = (
        ("Amplitude, peak to peak", "clamp and pile", 0.0, bare_in),
    )
    if plug_lb:
        shaken = (
            ("Amplitude without the plug, peak to peak", "clamp and pile", 0.0, bare_in),
            ("Amplitude with it", "clamp, pile and plug", plug_lb, shaken_in),
        )
    for name, weighed, more_lb, comes_to_in in shaken:
        weight = Quantity.WEIGHT.words(hanging_lb(unit, carried_lb, more_lb), system)
        formula = f"2·M/W, W = exciter, {weighed}"
        yield Line(name, formula, f"2 × {moment} / {weight}", write.length(comes_to_in))


def _pads(answer: UnitAnswer, write: _Writer) -> Iterator[Line]:
    pull, usable_in = answer.pull, answer.unit.usable_travel_in
    if pull is None or usable_in is None:
        return
    stretch_in = pull.usable_travel_in
    yield Line(
        "Stretch of this pull",
        "usable travel less half the amplitude" if answer.job.is_vibrating else "usable travel",
        f"{write.length(usable_in)} − {write.length(usable_in - stretch_in)}",
        write.length(stretch_in),
    )
    yield Line(
        "Line pull there",
        "Σ pads × load curve at that stretch",
        " + ".join(
            f"{each.group.count} × {write.force(each.force_per_pad_lbf)} (lot {each.group.lot})"
            for each in pull.groups
            if each.group.count
        ),
        write.force(pull.pull_lbf),
    )
    yield Line(
        "Working capacity there",
        f"P − t·u, one-sided {plain_number(answer.unit.confidence * 100.0, 1)} %",
        f"{write.force(pull.pull_lbf)} − {plain_number(pull.coverage_factor, 3)} × "
        f"{write.force(pull.standard_uncertainty_lbf)}",
        write.force(pull.working_capacity_lbf),
    )


def _path(answer: UnitAnswer, write: _Writer) -> Iterator[Line]:
    path, pile, crane = answer.path, answer.job.pile, answer.job.crane
    force_lbf = {step.name: step.force_lbf or 0.0 for step in path.steps}
    below = [each for each in ("ground", "pile", "plug", "clamp", "exciter") if each in force_lbf]
    if "plug" in force_lbf:
        column_psf = total_stress_psf(answer.job.layers, pile.embedment_ft)
        yield Line(
            "Plug",
            "its area × weight of the ground down to the toe, water in it included",
            f"{Quantity.AREA.words(pile.plug_area_in2, write.system)} × "
            f"{Quantity.STRESS.words(column_psf, write.system)}",
            write.force(force_lbf["plug"]),
        )
    if path.at_pads_lbf is None:
        return
    numbers = write.sum(*(force_lbf[name] for name in below))
    yield Line("At the pads", " + ".join(below), numbers, write.force(path.at_pads_lbf))
    if path.at_crane_lbf is None:
        return
    above = ("housing", "rigging", "hook block")
    yield Line(
        "At the crane",
        f"at the pads + {' + '.join(above)}",
        write.sum(path.at_pads_lbf, *(force_lbf[name] for name in above)),
        write.force(path.at_crane_lbf),
    )
    on_leg_lbf = answer.demand(CheckKey.RIGGING)
    if path.at_hook_lbf is not None and on_leg_lbf is not None:
        yield Line(
            "On a leg of the rigging",
            "at the crane less hook block, over legs × sin of their angle from the level",
            f"{write.force(path.at_hook_lbf)} / ({crane.bearing_legs} × sin "
            f"{plain_number(crane.leg_angle_deg, 1)}°)",
            write.force(on_leg_lbf),
        )


def _grip(answer: UnitAnswer, write: _Writer) -> Iterator[Line]:
    unit, pile, policy = answer.unit, answer.job.pile, answer.policy
    at_head_lbf, shaking_lbf = answer.demand(CheckKey.CLAMP), answer.supply(CheckKey.CENTRIFUGAL)
    if at_head_lbf is not None:
        plug_lb = answer.job.plug_weight_lb
        hangs = "pile + plug" if plug_lb else "pile"
        formula = f"ground + {hangs}"
        numbers = write.sum(answer.ground.resistance_lbf, pile.weight_lb, plug_lb)
        if shaking_lbf is not None:
            shaken = f"({hangs})" if plug_lb else hangs
            formula += f" + centrifugal force × {shaken} / all that vibrates"
            numbers += (
                f" + {write.force(shaking_lbf)} × {write.force(pile.weight_lb + plug_lb)} / "
                f"{write.force(hanging_lb(unit, pile.weight_lb, plug_lb))}"
            )
        yield Line("At the clamp and the pile’s head", formula, numbers, write.force(at_head_lbf))
    grip_lbf, limit_lbf = answer.supply(CheckKey.CLAMP), answer.supply(CheckKey.TENSION)
    if grip_lbf is not None:
        friction = plain_number(policy.jaw_friction, 3)
        yield Line(
            "Grip of the clamp",
            "2 jaws × friction × clamp force",
            f"{JAWS:.0f} × {friction} × {write.force(unit.clamp_force_lbf or 0.0)}",
            write.force(grip_lbf),
        )
    if limit_lbf is not None and pile.tension_limit_lbf is None:
        strength = Quantity.STRENGTH.words(pile.yield_strength_ksi or 0.0, write.system)
        area = Quantity.AREA.words(pile.area_in2 or 0.0, write.system)
        yield Line(
            "What the pile may be pulled with",
            "share of the yield strength × area",
            f"{plain_number(policy.steel_share, 3)} × {strength} × {area}",
            write.force(limit_lbf),
        )


def _range(answer: UnitAnswer, write: _Writer) -> Iterator[Line]:
    ground, set_up, policy = answer.ground, answer.job.set_up, answer.policy
    for name, factor, end, end_lbf in (
        ("Ground, low", policy.low_factor, set_up.low, ground.low_lbf),
        ("Ground, high", policy.high_factor, set_up.high, ground.high_lbf),
    ):
        yield Line(
            name,
            "expected × factor of the rules × set-up over the one expected",
            f"{write.force(ground.resistance_lbf)} × {plain_number(factor, 3)} × "
            f"{plain_number(end, 3)} / {plain_number(set_up.expected, 3)}",
            write.force(end_lbf),
        )
