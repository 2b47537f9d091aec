"""The figures an answer rests on, and how each comes about, to be followed by hand."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from fleet.dates import day_count_words
from fleet.quantities import Quantity, plain_number
from ratings.jobs.answer import UnitAnswer
from ratings.jobs.words import UNKNOWN
from ratings.mechanics.extraction.forces import JAWS
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.holds import OtherHold
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.outcomes import CheckKey
from ratings.mechanics.extraction.rules import BelowListing
from ratings.mechanics.extraction.supply import amplitude_on_pile_in, hanging_lb
from ratings.mechanics.linepull import PadGroup
from ratings.mechanics.soil import Layer, total_stress_psf
from ratings.models.choices import CRITERIA

Words = Callable[[Quantity, float | None], str]


@dataclass(frozen=True)
class Group:
    """Figures that belong together, each a name and its words."""

    name: str
    rows: tuple[tuple[str, str], ...]


def input_groups(answer: UnitAnswer, system: str) -> Iterator[Group]:
    """Yield the inputs of an answer, in the reader's units."""
    job, unit, policy = answer.job, answer.unit, answer.policy
    pile, crane, set_up = job.pile, job.crane, job.set_up

    def words(quantity: Quantity, value: float | None) -> str:
        return UNKNOWN if value is None else quantity.words(value, system)

    def group(name: str, *rows: tuple[str, str] | tuple[str, Quantity, float | None]) -> Group:
        return Group(
            name,
            tuple(row if len(row) == 2 else (row[0], words(row[1], row[2])) for row in rows),
        )

    yield group(
        "The pile",
        ("Kind", pile.kind),
        ("Length", Quantity.DEPTH, pile.length_ft),
        ("Embedment", Quantity.DEPTH, pile.embedment_ft),
        ("Weight", Quantity.LINE_WEIGHT, pile.weight_lb_ft),
        ("Perimeter for friction", Quantity.LENGTH, pile.perimeter_in),
        ("Area", Quantity.AREA, pile.area_in2),
        *([("End", str(pile.end))] if pile.end is not None else []),
        *(
            [("Perimeter within", Quantity.LENGTH, pile.inside_perimeter_in)]
            if pile.inside_perimeter_in
            else []
        ),
        *[
            ("Plugged, area of the plug", Quantity.AREA, area_in2)
            for area_in2 in [pile.plug_area_in2]
            if area_in2
        ],
        ("Yield strength", Quantity.STRENGTH, pile.yield_strength_ksi)
        if pile.tension_limit_lbf is None
        else ("May be pulled with", Quantity.FORCE, pile.tension_limit_lbf),
    )
    depth_ft = job.water_depth_ft
    set_ups = (plain_number(each, 3) for each in (set_up.low, set_up.expected, set_up.high))
    yield group(
        "The ground",
        ("Water", "none" if depth_ft is None else f"at {words(Quantity.DEPTH, depth_ft)}"),
        ("Set-up: low, expected, high", ", ".join(set_ups)),
        *(
            [("Days since it was driven", plain_number(job.days_since_driving, 0))]
            if job.days_since_driving is not None
            else []
        ),
        *((str(each.kind).capitalize(), each.note) for each in job.holds),
        *(
            (f"Layer {number}", "; ".join(_layer(layer, words, job.is_vibrating)))
            for number, layer in enumerate(job.layers, start=1)
        ),
    )
    yield group(
        "The crane",
        ("Its chart allows", Quantity.FORCE, crane.capacity_lbf),
        *[
            (f"Limit of one of {parts} parts of line", Quantity.FORCE, crane.line_limit_lbf)
            for parts in [crane.parts_of_line]
            if parts is not None
        ],
        *([("Stands on", "a barge")] if crane.is_on_barge else []),
        ("Hook block", Quantity.WEIGHT, crane.hook_block_lb),
        ("Rigging", Quantity.WEIGHT, crane.rigging_weight_lb),
        ("Working load limit of a leg", Quantity.FORCE, crane.rigging_limit_lbf),
        ("Legs", f"{crane.legs}, {plain_number(crane.leg_angle_deg, 1)}° from the level"),
        ("How it is pulled", job.method),
    )
    days = unit.days_since_count
    yield group(
        "The unit",
        *((f"Pads of {each.lot or 'no known lot'}", _pads(each, words)) for each in unit.groups),
        ("Usable travel", Quantity.LENGTH, unit.usable_travel_in),
        ("Its standard uncertainty", Quantity.DIAMETER, unit.travel_uncertainty_in),
        ("Confidence", f"{plain_number(unit.confidence * 100.0, 1)} %, one-sided"),
        ("Standing", unit.standing),
        ("Eccentric moment", Quantity.ECCENTRIC_MOMENT, unit.eccentric_moment_lb_in),
        ("Frequency", Quantity.FREQUENCY, unit.frequency_vpm),
        ("Exciter", Quantity.WEIGHT, unit.exciter_weight_lb),
        ("Clamp", Quantity.WEIGHT, unit.clamp_weight_lb),
        ("Clamp force", Quantity.FORCE, unit.clamp_force_lbf),
        ("Housing", Quantity.WEIGHT, unit.housing_weight_lb),
        (
            "Last full count, when it is oldest"
            if unit.is_ahead and not unit.days_held
            else "Last full count, on the first day",
            "never" if days is None else f"{day_count_words(days)} old",
        ),
    )
    low, high, jaws, steel, care = (
        plain_number(each, 3)
        for each in (
            policy.low_factor,
            policy.high_factor,
            policy.jaw_friction,
            policy.steel_share,
            policy.care_margin,
        )
    )
    refuses = policy.below_listing == BelowListing.REFUSE
    named = {each.soil for each in job.layers if each.soil} if job.is_vibrating else set()
    yield group(
        "The yard’s rules",
        ("With care below", f"{care} times the demand"),
        ("Range of the ground", f"{low} to {high} times what is expected"),
        ("Of the crane’s chart a pull may use", plain_number(policy.crane_share, 3)),
        ("How the ground’s hold is judged", CRITERIA[policy.criterion]),
        (
            "Least peak acceleration, where added",
            f"{plain_number(policy.needed_acceleration_g(pile), 2)} g for this pile",
        ),
        ("Friction of the jaws", jaws),
        ("Steel may be pulled to", f"{steel} of its yield strength"),
        ("An inspection holds for", day_count_words(policy.inspection_days)),
        ("A unit below its listing", "does not go out" if refuses else "goes out with care"),
        *(
            (
                each.name.capitalize(),
                f"keeps {plain_number(each.factor, 3)} while vibrated ({each.factor_source})",
            )
            for each in policy.soils
            if each.name in named
        ),
    )


def _layer(layer: Layer, words: Words, is_vibrating: bool) -> Iterator[str]:
    top, bottom = (words(Quantity.DEPTH, each) for each in (layer.top_ft, layer.bottom_ft))
    yield f"{layer.kind}, {top} to {bottom}"
    yield words(Quantity.UNIT_WEIGHT, layer.unit_weight_lb_ft3)
    if layer.undrained_strength_psf is not None:
        yield f"undrained strength {words(Quantity.STRESS, layer.undrained_strength_psf)}"
    if layer.density is not None:
        yield layer.density
    if layer.friction_psf is not None:
        yield f"friction entered {words(Quantity.STRESS, layer.friction_psf)}"
    if is_vibrating and layer.soil:
        yield layer.soil
    if is_vibrating and layer.vibration_factor is not None:
        yield f"share kept entered {plain_number(layer.vibration_factor, 3)}"
    if is_vibrating and layer.needed_amplitude_in is not None:
        yield f"amplitude entered {words(Quantity.DIAMETER, layer.needed_amplitude_in)}"


def _pads(group: PadGroup, words: Words) -> str:
    curve = "load curve of its readings, " if group.curve is not None else ""
    off_pct = 100.0 * (1.0 - group.kept_share)
    price = f"; {plain_number(off_pct, 1)} % off for what its tests left out" if off_pct else ""
    return (
        f"{group.count} sound; {curve}{words(Quantity.RATE, group.rate_lbf_in)} each, ±"
        f"{words(Quantity.RATE, group.standard_error_lbf_in)} shared and ±"
        f"{words(Quantity.RATE, group.spread_lbf_in)} from pad to pad (standard uncertainties); "
        f"tested to {words(Quantity.LENGTH, group.tested_stretch_in)}{price}"
    )


@dataclass(frozen=True)
class Line:
    """One figure: its name, how it comes about, with its numbers put in, and what it comes to."""

    name: str
    formula: str
    numbers: str
    result: str


# The line that says what holds the pile in all.
HOLD_LINE = "What the ground holds with"


def workings(answer: UnitAnswer, system: str) -> tuple[Line, ...]:
    """Return the lines from the hammer's figures to each demand and supply.

    A line that rests on a figure not on record is left out; its check says which that is.
    """
    write = _Writer(system)
    return (
        *_of_the_unit(answer, write),
        *_of_the_ground(answer, write),
        *_of_the_pull(answer, write),
        *_of_the_criterion_added(answer, write),
        *_of_the_lift(answer, write),
    )


@dataclass(frozen=True)
class _Writer:
    """Figures as the lines write them: finely enough to be followed by hand."""

    system: str

    def force(self, lbf: float) -> str:
        return Quantity.FORCE.words(lbf, self.system, 0 if self.system == "us" else 2)

    def length(self, inches: float) -> str:
        return Quantity.LENGTH.words(inches, self.system, 3 if self.system == "us" else 1)

    def per_foot(self, lbf_ft: float) -> str:
        if self.system == "us":
            return f"{plain_number(lbf_ft, 1)} lbf/ft"
        return f"{plain_number(lbf_ft * 4.4482216152605 / 304.8, 3)} kN/m"

    def sum(self, *parts: float) -> str:
        return " + ".join(self.force(part) for part in parts if part)


def _of_the_unit(answer: UnitAnswer, write: _Writer) -> Iterator[Line]:
    """Yield what the hammer and the pads give on this pile."""
    unit, job, system = answer.unit, answer.job, write.system
    moment = Quantity.ECCENTRIC_MOMENT.words(unit.eccentric_moment_lb_in or 0.0, system)
    shaking_lbf, shaken_in = answer.supply(CheckKey.CENTRIFUGAL), answer.supply(CheckKey.AMPLITUDE)
    if shaking_lbf is not None:
        per_minute = Quantity.FREQUENCY.words(unit.frequency_vpm or 0.0, system)
        # In SI the moment is one of mass, and needs no g.
        formula, numbers = (
            ("M·ω²/g, ω = 2π·n/60", f"{moment} × (2π × {per_minute} / 60)² / 386.09 in/s²")
            if system == "us"
            else ("M·ω², ω = 2π·n", f"{moment} × (2π × {per_minute})²")
        )
        yield Line("Centrifugal force", formula, numbers, write.force(shaking_lbf))
    if shaken_in is not None:
        plug_lb, bare_in = job.plug_weight_lb, amplitude_on_pile_in(unit, job)
        without = " without the plug" if plug_lb else ""
        shaken = [(f"Amplitude{without}, peak to peak", "clamp and pile", 0.0, bare_in)]
        if plug_lb:
            shaken.append(("Amplitude with it", "clamp, pile and plug", plug_lb, shaken_in))
        for name, weighed, more_lb, comes_to_in in shaken:
            weight_lb = hanging_lb(unit, job.pile.weight_lb, more_lb)
            yield Line(
                name,
                f"2·M/W, W = exciter, {weighed}",
                f"2 × {moment} / {Quantity.WEIGHT.words(weight_lb, system)}",
                write.length(comes_to_in),
            )
    pull, usable_in = answer.pull, unit.usable_travel_in
    if pull is None or usable_in is None:
        return
    stretch_in = pull.usable_travel_in
    yield Line(
        "Stretch of this pull",
        "usable travel less half the amplitude" if job.is_vibrating else "usable travel",
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
        f"P − t·u, one-sided {plain_number(unit.confidence * 100.0, 1)} %",
        f"{write.force(pull.pull_lbf)} − {plain_number(pull.coverage_factor, 3)} × "
        f"{write.force(pull.standard_uncertainty_lbf)}",
        write.force(pull.working_capacity_lbf),
    )


def _of_the_ground(answer: UnitAnswer, write: _Writer) -> Iterator[Line]:
    """Yield what holds the pile: friction without and within, and all that holds it besides."""
    hold, job = answer.ground, answer.job
    kind = "vibrated" if job.is_vibrating else "static"
    parts = [("friction without", hold.outside_lbf)]
    if hold.inside_lbf:
        pile = job.pile
        parts.append(("friction within", hold.inside_lbf))
        yield Line(
            "Friction on the soil within",
            f"{kind} friction of every piece × perimeter within / (perimeter + perimeter within)",
            f"{write.force(hold.outside_lbf + hold.inside_lbf)} × "
            f"{write.length(pile.cored_perimeter_in)} / ({write.length(pile.perimeter_in)} + "
            f"{write.length(pile.cored_perimeter_in)})",
            write.force(hold.inside_lbf),
        )
    for each in job.holds:
        if each.is_known:
            yield _hold_line(each, job, write)
    parts += [(str(name), lbf) for name, lbf in hold.holds_lbf]
    yield Line(
        HOLD_LINE,
        " + ".join(name for name, _ in parts),
        " + ".join(write.force(lbf) for _, lbf in parts),
        write.force(hold.resistance_lbf),
    )


def _hold_line(hold: OtherHold, job: Job, write: _Writer) -> Line:
    embedment_ft = job.pile.embedment_ft
    name, result = str(hold.kind).capitalize(), write.force(hold.force_at_lbf(embedment_ft))
    if hold.per_ft_lbf is None:
        return Line(name, f"as entered: {hold.note}", result, result)
    length_ft = min(embedment_ft, hold.length_ft or embedment_ft)
    numbers = (
        f"{write.per_foot(hold.per_ft_lbf)} × {Quantity.DEPTH.words(length_ft, write.system, 2)}"
    )
    return Line(name, f"for each foot as entered × its length: {hold.note}", numbers, result)


def _of_the_criterion_added(answer: UnitAnswer, write: _Writer) -> Iterator[Line]:
    """Yield the published criterion: vibration and line pull added, and the peak acceleration."""
    both_lbf, shaking_lbf = answer.supply(CheckKey.TOGETHER), answer.supply(CheckKey.CENTRIFUGAL)
    if both_lbf is not None and shaking_lbf is not None:
        yield Line(
            "Vibration and line pull together",
            "working capacity at this stretch + centrifugal force",
            write.sum(both_lbf - shaking_lbf, shaking_lbf),
            write.force(both_lbf),
        )
    peak_g = answer.supply(CheckKey.ACCELERATION)
    if peak_g is not None and shaking_lbf is not None:
        job = answer.job
        # Of a pipe whose end isn't known, the way that comes to it.
        weights_lb = [
            hanging_lb(answer.unit, way.pile.weight_lb + way.plug_weight_lb)
            for way in job.possible_ends()
        ]
        weight_lb = min(weights_lb, key=lambda each: abs(shaking_lbf / each - peak_g))
        yield Line(
            "Peak acceleration",
            "centrifugal force / all that vibrates",
            f"{write.force(shaking_lbf)} / {Quantity.WEIGHT.words(weight_lb, write.system)}",
            f"{plain_number(peak_g, 2)} g",
        )


def _of_the_lift(answer: UnitAnswer, write: _Writer) -> Iterator[Line]:
    """Yield what hangs once the pile is free, where it is lifted with least to spare."""
    found = answer.verdict.check(CheckKey.LIFT)
    if found is None or found.demand is None or found.supply is None:
        return
    yield Line(
        "Lifting it once free",
        "of pads, crane, rigging and clamp the one with least to spare: what hangs on it without "
        "the ground, against what it bears",
        f"{write.force(found.supply)} / {write.force(found.demand)}",
        f"{plain_number(found.margin or 0.0, 2)}×",
    )


def _of_the_pull(answer: UnitAnswer, write: _Writer) -> Iterator[Line]:
    """Yield what the pull asks from the pads to the hook, and at the clamp; the ground's range."""
    path, job, policy, system = answer.path, answer.job, answer.policy, write.system
    pile, crane, set_up, plug_lb = job.pile, job.crane, job.set_up, job.plug_weight_lb
    force_lbf = {step.name: step.force_lbf or 0.0 for step in path.steps}
    above = ("housing", "rigging", "hook block")
    below = [name for name in force_lbf if name not in above]
    if plug_lb:
        column_psf = total_stress_psf(job.layers, pile.embedment_ft)
        yield Line(
            "Plug",
            "its area × weight of the ground down to the toe, water in it included",
            f"{Quantity.AREA.words(pile.plug_area_in2, system)} × "
            f"{Quantity.STRESS.words(column_psf, system)}",
            write.force(plug_lb),
        )
    if path.at_pads_lbf is not None:
        numbers = write.sum(*(force_lbf[name] for name in below))
        yield Line("At the pads", " + ".join(below), numbers, write.force(path.at_pads_lbf))
    if path.at_pads_lbf is not None and path.at_crane_lbf is not None:
        yield Line(
            "At the crane",
            f"at the pads + {' + '.join(above)}",
            write.sum(path.at_pads_lbf, *(force_lbf[name] for name in above)),
            write.force(path.at_crane_lbf),
        )
    allowed_lbf = answer.supply(CheckKey.CRANE)
    if allowed_lbf is not None and crane.capacity_lbf is not None:
        share = f"{plain_number(policy.crane_share, 3)} × {write.force(crane.capacity_lbf)}"
        line_lbf = crane.hoist_limit_lbf
        yield Line(
            "What the crane may be pulled with",
            "share of its chart"
            + ("" if line_lbf is None else ", or parts of line × limit of one, the less"),
            share
            if line_lbf is None
            else f"{share}, or {crane.parts_of_line} × {write.force(crane.line_limit_lbf or 0.0)}",
            write.force(allowed_lbf),
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
    at_head_lbf, shaking_lbf = answer.demand(CheckKey.CLAMP), answer.supply(CheckKey.CENTRIFUGAL)
    if at_head_lbf is not None:
        held_lbf, plug_lb = _at_the_head(answer)
        hangs, shaken = ("pile + plug", "(pile + plug)") if plug_lb else ("pile", "pile")
        other = " and other holds" if answer.ground.holds_lbf else ""
        formula = f"ground{other} + {hangs}"
        numbers = write.sum(held_lbf, pile.weight_lb, plug_lb)
        if shaking_lbf is not None:
            formula += f" + centrifugal force × {shaken} / all that vibrates"
            numbers += (
                f" + {write.force(shaking_lbf)} × {write.force(pile.weight_lb + plug_lb)} / "
                f"{write.force(hanging_lb(answer.unit, pile.weight_lb, plug_lb))}"
            )
        yield Line("At the clamp and the pile’s head", formula, numbers, write.force(at_head_lbf))
    grip_lbf, limit_lbf = answer.supply(CheckKey.CLAMP), answer.supply(CheckKey.TENSION)
    if grip_lbf is not None:
        yield Line(
            "Grip of the clamp",
            "2 jaws × friction × clamp force",
            f"{JAWS:.0f} × {plain_number(policy.jaw_friction, 3)} × "
            f"{write.force(answer.unit.clamp_force_lbf or 0.0)}",
            write.force(grip_lbf),
        )
    if limit_lbf is not None and pile.tension_limit_lbf is None:
        strength = Quantity.STRENGTH.words(pile.yield_strength_ksi or 0.0, system)
        yield Line(
            "What the pile may be pulled with",
            "share of the yield strength × area",
            f"{plain_number(policy.steel_share, 3)} × {strength} × "
            f"{Quantity.AREA.words(pile.area_in2 or 0.0, system)}",
            write.force(limit_lbf),
        )
    other_lbf = math.fsum(force for _, force in answer.ground.holds_lbf)
    for name, factor, end, end_lbf in (
        ("Ground, low", policy.low_factor, set_up.low, answer.ground.low_lbf),
        ("Ground, high", policy.high_factor, set_up.high, answer.ground.high_lbf),
    ):
        yield Line(
            name,
            "friction expected × factor of the rules × set-up over the one expected"
            f"{', + other holds' if other_lbf else ''}",
            f"{write.force(answer.ground.resistance_lbf - other_lbf)} × {plain_number(factor, 3)} "
            f"× {plain_number(end, 3)} / {plain_number(set_up.expected, 3)}"
            f"{f' + {write.force(other_lbf)}' if other_lbf else ''}",
            write.force(end_lbf),
        )


def _at_the_head(answer: UnitAnswer) -> tuple[float, float]:
    """Return what of ground and plug the clamp bears, of an end not known as it asks more there."""
    job, demand_lbf = answer.job, answer.demand(CheckKey.CLAMP) or 0.0
    shaking_lbf = answer.supply(CheckKey.CENTRIFUGAL) or 0.0

    def is_off_by(way: Job) -> float:
        carried_lb = way.pile.weight_lb + way.plug_weight_lb
        shaken_lbf = 0.0
        if shaking_lbf:
            shaken_lbf = shaking_lbf * carried_lb / hanging_lb(answer.unit, carried_lb)
        held_lbf = ground(way, answer.policy).resistance_lbf
        return abs(held_lbf + carried_lb + shaken_lbf - demand_lbf)

    borne = min(job.possible_ends(), key=is_off_by)
    return ground(borne, answer.policy).resistance_lbf, borne.plug_weight_lb
