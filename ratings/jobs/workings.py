"""The figures an answer rests on, and how each comes about, to be followed by hand."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from fleet.dates import day_count_words
from fleet.units import Quantity, plain_number
from ratings.jobs.answer import UnitAnswer
from ratings.jobs.words import UNKNOWN
from ratings.mechanics.extraction.demand import plug_weight_lb, tension_limit_lbf
from ratings.mechanics.extraction.forces import JAWS, finite
from ratings.mechanics.extraction.policy import BelowListing
from ratings.mechanics.extraction.supply import amplitude_in, centrifugal_lbf, hanging_lb
from ratings.mechanics.extraction.verdict import CheckKey
from ratings.mechanics.linepull import PadGroup, line_pull
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
    unit = answer.candidate.unit
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
    """One figure: what it is, its formula in words and with its numbers, what it comes to."""

    name: str
    formula: str
    numbers: str
    result: str


def reckoning(answer: UnitAnswer, system: str) -> tuple[Line, ...]:
    """Return the lines from the hammer's figures to each demand and supply.

    A line that rests on a figure not on record is left out; its check says which that is.
    """
    words = _Words(answer, system)
    made = (
        *_vibration(answer, words),
        *_pad_lines(answer, words),
        *_path(answer, words),
        *_grip(answer, words),
        *_range(answer, words),
    )
    return tuple(line for line in made if line is not None)


@dataclass(frozen=True)
class _Words:
    """Figures as the lines write them."""

    answer: UnitAnswer
    system: str

    def force(self, lbf: float) -> str:
        return Quantity.FORCE.words(lbf, self.system, 0 if self.system == "us" else 2)

    def length(self, inches: float) -> str:
        return Quantity.LENGTH.words(inches, self.system, 3 if self.system == "us" else 1)

    def sum(self, *parts: float) -> str:
        return " + ".join(self.force(part) for part in parts if part)

    @property
    def vibrating_lb(self) -> float | None:
        """All that vibrates: exciter, clamp and pile; None where not recorded."""
        return finite(hanging_lb(self.answer.candidate.unit, self.answer.job.pile.weight_lb))

    @property
    def centrifugal_lbf(self) -> float | None:
        return finite(centrifugal_lbf(self.answer.candidate.unit))


def _vibration(answer: UnitAnswer, words: _Words) -> list[Line | None]:
    if not answer.job.is_vibrating:
        return []
    return [_centrifugal(answer, words), *_amplitudes(answer, words)]


def _centrifugal(answer: UnitAnswer, words: _Words) -> Line | None:
    unit, system, force_lbf = answer.candidate.unit, words.system, words.centrifugal_lbf
    if force_lbf is None or unit.eccentric_moment_lb_in is None or unit.frequency_vpm is None:
        return None
    moment = Quantity.ECCENTRIC_MOMENT.words(unit.eccentric_moment_lb_in, system)
    # In SI the moment is one of mass, and needs no g.
    formula = "M·ω²/g, ω = 2π·n/60" if system == "us" else "M·ω², ω = 2π·n"
    gravity = " / 386.09 in/s²" if system == "us" else ""
    per_minute = Quantity.FREQUENCY.words(unit.frequency_vpm, system)
    turning = f"2π × {per_minute}" + (" / 60" if system == "us" else "")
    return Line(
        "Centrifugal force", formula, f"{moment} × ({turning})²{gravity}", words.force(force_lbf)
    )


def _amplitudes(answer: UnitAnswer, words: _Words) -> list[Line | None]:
    moment, weight_lb = answer.candidate.unit.eccentric_moment_lb_in, words.vibrating_lb
    if moment is None or weight_lb is None:
        return []
    plug_lb = plug_weight_lb(answer.job)
    bare = _amplitude(
        "Amplitude, peak to peak", "exciter, clamp and pile", moment, weight_lb, words
    )
    if not plug_lb:
        return [bare]
    of = "exciter, clamp, pile and plug"
    return [
        _amplitude("Amplitude without the plug, peak to peak", "exciter, clamp and pile", moment,
                   weight_lb, words),
        _amplitude("Amplitude with it", of, moment, weight_lb + plug_lb, words),
    ]  # fmt: skip


def _amplitude(name: str, of: str, moment: float, weight_lb: float, words: _Words) -> Line:
    moment_words = Quantity.ECCENTRIC_MOMENT.words(moment, words.system)
    weight = Quantity.WEIGHT.words(weight_lb, words.system)
    return Line(
        name,
        f"2·M/W, W = {of}",
        f"2 × {moment_words} / {weight}",
        words.length(amplitude_in(moment, weight_lb)),
    )


def _pad_lines(answer: UnitAnswer, words: _Words) -> list[Line | None]:
    unit, stretch_in = answer.candidate.unit, answer.stretch_in
    if unit.usable_travel_in is None or not stretch_in:
        return []
    pull = line_pull(
        unit.groups,
        stretch_in,
        travel_uncertainty_in=unit.travel_uncertainty_in,
        confidence=unit.confidence,
    )
    stretch = Line(
        "Stretch of this pull",
        "usable travel less half the amplitude" if answer.job.is_vibrating else "usable travel",
        f"{words.length(unit.usable_travel_in)} − "
        f"{words.length(unit.usable_travel_in - stretch_in)}",
        words.length(stretch_in),
    )
    carried = Line(
        "Line pull there",
        "Σ pads × load curve at that stretch",
        " + ".join(
            f"{each.group.count} × {words.force(each.force_per_pad_lbf)} (lot {each.group.lot})"
            for each in pull.groups
            if each.group.count
        ),
        words.force(pull.pull_lbf),
    )
    capacity = Line(
        "Working capacity there",
        f"P − t·u, one-sided {plain_number(unit.confidence * 100.0, 1)} %",
        f"{words.force(pull.pull_lbf)} − {plain_number(pull.coverage_factor, 3)} × "
        f"{words.force(pull.standard_uncertainty_lbf)}",
        words.force(pull.working_capacity_lbf),
    )
    return [stretch, carried, capacity]


def _path(answer: UnitAnswer, words: _Words) -> list[Line | None]:
    steps = {step.name: step.force_lbf or 0.0 for step in answer.path.steps}
    crane, path = answer.job.crane, answer.path
    below = [
        steps[name] for name in ("ground", "pile", "plug", "clamp", "exciter") if name in steps
    ]
    lines: list[Line | None] = []
    if "plug" in steps:
        lines.append(_plug(answer, words))
    if path.at_pads_lbf is not None:
        names = f"ground + pile{' + plug' if 'plug' in steps else ''} + clamp + exciter"
        lines.append(Line("At the pads", names, words.sum(*below), words.force(path.at_pads_lbf)))
    if path.at_pads_lbf is not None and path.at_crane_lbf is not None:
        above = [steps[name] for name in ("housing", "rigging", "hook block")]
        lines.append(
            Line(
                "At the crane",
                "at the pads + housing + rigging + hook block",
                words.sum(path.at_pads_lbf, *above),
                words.force(path.at_crane_lbf),
            )
        )
    on_leg = answer.verdict.check(CheckKey.RIGGING)
    if path.at_hook_lbf is not None and on_leg is not None and on_leg.demand is not None:
        legs = crane.bearing_legs
        lines.append(
            Line(
                "On a leg of the rigging",
                "at the crane less hook block, over legs × sin of their angle from the level",
                f"{words.force(path.at_hook_lbf)} / ({legs} × sin "
                f"{plain_number(crane.leg_angle_deg, 1)}°)",
                words.force(on_leg.demand),
            )
        )
    return lines


def _plug(answer: UnitAnswer, words: _Words) -> Line:
    area_in2 = answer.job.pile.plug_area_in2
    plug_lb = plug_weight_lb(answer.job)
    column_psf = total_stress_psf(answer.job.layers, answer.job.pile.embedment_ft)
    return Line(
        "Plug",
        "its area × weight of the ground down to the toe, water in it included",
        f"{Quantity.AREA.words(area_in2, words.system)} × "
        f"{Quantity.STRESS.words(column_psf, words.system)}",
        words.force(plug_lb),
    )


def _grip(answer: UnitAnswer, words: _Words) -> list[Line | None]:
    job, policy, clamp_lbf = answer.job, answer.policy, answer.candidate.unit.clamp_force_lbf
    friction = plain_number(policy.jaw_friction, 3)
    lines: list[Line | None] = [_at_head(answer, words)]
    grip = answer.verdict.check(CheckKey.CLAMP)
    if clamp_lbf is not None and grip is not None and grip.supply is not None:
        lines.append(
            Line(
                "Grip of the clamp",
                "2 jaws × friction × clamp force",
                f"{JAWS:.0f} × {friction} × {words.force(clamp_lbf)}",
                words.force(grip.supply),
            )
        )
    limit_lbf, pile = tension_limit_lbf(job, policy.steel_share), job.pile
    if limit_lbf is None or pile.tension_limit_lbf is not None:
        return lines
    share = plain_number(policy.steel_share, 3)
    strength = Quantity.STRENGTH.words(pile.yield_strength_ksi or 0.0, words.system)
    area = Quantity.AREA.words(pile.area_in2 or 0.0, words.system)
    lines.append(
        Line(
            "What the pile may be pulled with",
            "share of the yield strength × area",
            f"{share} × {strength} × {area}",
            words.force(limit_lbf),
        )
    )
    return lines


def _at_head(answer: UnitAnswer, words: _Words) -> Line | None:
    check = answer.verdict.check(CheckKey.CLAMP)
    if check is None or check.demand is None:
        return None
    job, held_lbf = answer.job, answer.ground.resistance_lbf
    plug_lb = plug_weight_lb(job)
    carried_lb = job.pile.weight_lb + plug_lb
    hangs = "pile + plug" if plug_lb else "pile"
    shaken = f"({hangs})" if plug_lb else hangs
    formula, numbers = f"ground + {hangs}", words.sum(held_lbf, job.pile.weight_lb, plug_lb)
    centrifugal_lbf, weight_lb = words.centrifugal_lbf, words.vibrating_lb
    if job.is_vibrating and centrifugal_lbf is not None and weight_lb is not None:
        formula += f" + centrifugal force × {shaken} / all that vibrates"
        numbers += (
            f" + {words.force(centrifugal_lbf)} × {words.force(carried_lb)} / "
            f"{words.force(weight_lb + plug_lb)}"
        )
    return Line("At the clamp and the pile’s head", formula, numbers, words.force(check.demand))


def _range(answer: UnitAnswer, words: _Words) -> list[Line | None]:
    held_lbf, set_up, policy = answer.ground.resistance_lbf, answer.job.set_up, answer.policy
    ends = (
        ("Ground, low", policy.low_factor, set_up.low, answer.ground.low_lbf),
        ("Ground, high", policy.high_factor, set_up.high, answer.ground.high_lbf),
    )
    return [
        Line(
            name,
            "expected × factor of the rules × set-up over the one expected",
            f"{words.force(held_lbf)} × {plain_number(factor, 3)} × {plain_number(end, 3)} / "
            f"{plain_number(set_up.expected, 3)}",
            words.force(end_lbf),
        )
        for name, factor, end, end_lbf in ends
    ]
