"""One plain extraction, by numbers that are easy to retrace, and many drawn at random."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, TypeVar

from hypothesis import strategies as st

from ratings.mechanics.extraction.holds import HoldKind, OtherHold
from ratings.mechanics.extraction.job import (
    Crane,
    Job,
    Pile,
    PileEnd,
    PileKind,
    PileOfJob,
    PullMethod,
    SetUp,
)
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.soils import DEFAULT_SOILS
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import PadGroup
from ratings.mechanics.load_curve import monotone_curve
from ratings.mechanics.soil import BETAS, Layer, LayerKind
from ratings.mechanics.standing import Standing

T = TypeVar("T")

POLICY = ExtractionPolicy()

PILE = Pile(
    PileKind.H,
    weight_lb_ft=80.0,
    perimeter_in=60.0,
    length_ft=50.0,
    embedment_ft=40.0,
    area_in2=20.0,
    yield_strength_ksi=50.0,
)
CRANE = Crane(
    capacity_lbf=100_000.0 / 0.75,
    hook_block_lb=1_500.0,
    rigging_weight_lb=500.0,
    rigging_limit_lbf=90e3,
)
# By hand: 500 psf · 5 ft of perimeter · 40 ft = 100,000 lbf at rest, 20,000 lbf vibrated.
GROUND = (
    Layer(
        LayerKind.OTHER,
        0.0,
        40.0,
        120.0,
        friction_psf=500.0,
        vibration_factor=0.2,
        needed_amplitude_in=0.2,
    ),
)
JOB = Job(PILE, GROUND, CRANE)

# By hand: pads of 1,000 lbf/in without any doubt, 24 of them, 5 in: 120,000 lbf.
PADS = PadGroup(24, 1_000.0, 6.0)
UNIT = Unit(
    mark="Plain",
    groups=(PADS,),
    usable_travel_in=5.0,
    standing=Standing.MEETS_LISTING,
    eccentric_moment_lb_in=3_500.0,
    frequency_vpm=1_500.0,
    exciter_weight_lb=8_000.0,
    clamp_weight_lb=2_000.0,
    clamp_force_lbf=300_000.0,
    housing_weight_lb=3_000.0,
    days_since_count=3,
    clamp_kinds=tuple(PileKind),
)


def one(job: Job = JOB) -> tuple[PileOfJob, ...]:
    """A job of one group of piles, of a single pile."""
    return (PileOfJob(1, "", 1, job),)


def held_by(resistance_lbf: float, job: Job = JOB) -> Job:
    """The plain job in ground that holds its pile with so much while vibrated."""
    shaft_ft2 = job.pile.perimeter_in / 12.0 * job.pile.embedment_ft
    layer = replace(GROUND[0], friction_psf=resistance_lbf / shaft_ft2, vibration_factor=1.0)
    return replace(job, layers=(layer,))


def with_pile(job: Job = JOB, **changes: Any) -> Job:
    return replace(job, pile=replace(job.pile, **changes))


def with_crane(job: Job = JOB, **changes: Any) -> Job:
    return replace(job, crane=replace(job.crane, **changes))


densities = st.sampled_from(sorted(BETAS))
soils = st.sampled_from([each.name for each in DEFAULT_SOILS])


@st.composite
def layers(draw: st.DrawFn, kinds: tuple[LayerKind, ...] = tuple(LayerKind)) -> tuple[Layer, ...]:
    """Ground that would do with its water anywhere."""
    top_ft, drawn = 0.0, []
    for _ in range(draw(st.integers(1, 4))):
        kind = draw(st.sampled_from(kinds))
        bottom_ft = top_ft + draw(st.floats(0.5, 40.0))
        layer = Layer(kind, top_ft, bottom_ft, draw(st.floats(62.4, 145.0)), soil=draw(soils))
        if kind is LayerKind.COHESIVE:
            layer = replace(layer, undrained_strength_psf=draw(st.floats(50.0, 8_000.0)))
        elif kind is LayerKind.GRANULAR:
            layer = replace(layer, density=draw(densities))
        else:
            layer = replace(layer, friction_psf=draw(st.floats(0.0, 3_000.0)))
        drawn.append(layer)
        top_ft = bottom_ft
    return tuple(drawn)


waters = st.one_of(st.none(), st.floats(-20.0, 120.0))


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    ground = draw(layers())
    embedment_ft = draw(st.floats(0.1, 1.0)) * ground[-1].bottom_ft
    low, expected, high = sorted(draw(st.tuples(*[st.floats(0.5, 3.0)] * 3)))
    pile = Pile(
        kind=draw(st.sampled_from(PileKind)),
        weight_lb_ft=draw(st.floats(5.0, 400.0)),
        perimeter_in=draw(st.floats(10.0, 200.0)),
        length_ft=embedment_ft + draw(st.floats(0.0, 60.0)),
        embedment_ft=embedment_ft,
        area_in2=draw(maybe(st.floats(2.0, 200.0))),
        plug_area_in2=draw(st.one_of(st.just(0.0), st.floats(1.0, 2_000.0))),
        yield_strength_ksi=draw(maybe(st.floats(30.0, 65.0))),
        tension_limit_lbf=draw(maybe(st.floats(1e3, 1e6))),
    )
    crane = Crane(
        capacity_lbf=draw(maybe(st.floats(1e4, 1e6))),
        hook_block_lb=draw(st.floats(0.0, 5_000.0)),
        rigging_weight_lb=draw(st.floats(0.0, 2_000.0)),
        rigging_limit_lbf=draw(maybe(st.floats(2e3, 5e5))),
        legs=draw(st.integers(1, 4)),
        leg_angle_deg=draw(st.floats(30.0, 90.0)),
    )
    return Job(
        pile,
        ground,
        crane,
        draw(waters),
        SetUp(low, expected, high),
        draw(st.sampled_from(PullMethod)),
        draw(maybe(st.floats(0.0, 500.0))),
    )


@st.composite
def holds(draw: st.DrawFn) -> OtherHold:
    """What else holds a pile, in all or for each foot, or only noted."""
    name, most = draw(st.sampled_from([("force_lbf", 2e4), ("per_ft_lbf", 300.0)]))
    force = draw(maybe(st.floats(0.0, most)))
    return OtherHold(draw(st.sampled_from(HoldKind)), note="as drawn", **{name: force})


@st.composite
def jobs_with_holds(draw: st.DrawFn) -> Job:
    """Jobs as jobs() draws them, with the end of a pipe and what else holds."""
    job = draw(jobs())
    return replace(
        job,
        pile=draw(ends(job.pile)),
        holds=tuple(draw(st.lists(holds(), max_size=2))),
        days_since_driving=draw(maybe(st.floats(0.0, 20_000.0))),
    )


@st.composite
def ends(draw: st.DrawFn, pile: Pile) -> Pile:
    """The pile with an end it may have, if it is a pipe."""
    end = draw(st.sampled_from([None, *PileEnd])) if pile.kind is PileKind.PIPE else None
    share = draw(st.floats(0.5, 0.99))
    inside_in = 0.0 if end is None else share * pile.perimeter_in
    plug_in2 = pile.plug_area_in2 or (0.0 if end is None else share * 100.0)
    return replace(pile, end=end, inside_perimeter_in=inside_in, plug_area_in2=plug_in2)


def maybe(numbers: st.SearchStrategy[T]) -> st.SearchStrategy[T | None]:
    """One of these, or less often none."""
    return st.one_of(numbers, numbers, numbers, st.none())


@st.composite
def groups(draw: st.DrawFn) -> PadGroup:
    rate = draw(st.floats(200.0, 3_000.0))
    tested = draw(st.floats(2.0, 8.0))
    curve = None
    if draw(st.booleans()):
        shares = [0.25, 0.5, 0.75, 1.0]
        bends = sorted(draw(st.tuples(*[st.floats(0.2, 2.0)] * 4)))
        curve = monotone_curve(
            [share * tested for share in shares],
            [rate * share * tested * bend for share, bend in zip(shares, bends, strict=True)],
        )
    return PadGroup(
        draw(st.integers(0, 30)),
        rate,
        tested,
        # None, or one whose square is a number still.
        draw(st.one_of(st.just(0.0), st.floats(1e-9, 0.05))) * rate,
        draw(st.one_of(st.just(0.0), st.floats(1e-9, 0.10))) * rate,
        draw(st.one_of(st.just(float("inf")), st.integers(1, 60).map(float))),
        curve,
        draw(st.sampled_from(["P1", "P2", "P3"])),
        draw(st.one_of(st.just(float("inf")), st.integers(1, 60).map(float))),
    )


@st.composite
def units(draw: st.DrawFn) -> Unit:
    pads = tuple(draw(st.lists(groups(), max_size=3)))
    tested = min((group.tested_stretch_in for group in pads), default=6.0)
    return Unit(
        mark=draw(st.sampled_from(["U1", "U2", "U3"])),
        groups=pads,
        usable_travel_in=draw(maybe(st.floats(0.2, 1.0).map(lambda share: share * tested))),
        travel_uncertainty_in=draw(st.sampled_from([0.0, 0.036])),
        confidence=draw(st.sampled_from([0.9, 0.95, 0.99])),
        standing=draw(st.sampled_from(Standing)),
        eccentric_moment_lb_in=draw(maybe(st.floats(500.0, 10_000.0))),
        frequency_vpm=draw(maybe(st.floats(900.0, 2_400.0))),
        exciter_weight_lb=draw(maybe(st.floats(1_000.0, 20_000.0))),
        clamp_weight_lb=draw(maybe(st.floats(0.0, 6_000.0))),
        clamp_force_lbf=draw(maybe(st.floats(2e4, 6e5))),
        housing_weight_lb=draw(maybe(st.floats(500.0, 10_000.0))),
        stale_lots=draw(st.sampled_from([(), ("P1",)])),
        days_since_count=draw(st.one_of(st.none(), st.integers(0, 90))),
        clamp_kinds=draw(maybe(st.lists(st.sampled_from(PileKind), unique=True).map(tuple))),
        days_held=draw(st.integers(0, 60)),
        is_ahead=draw(st.booleans()),
        lapsing_lots=draw(st.sampled_from([(), ("P2",)])),
        drops_stale=draw(st.booleans()),
        out_of_service=draw(st.sampled_from(["", "cracked bumper"])),
        committed=draw(st.sampled_from(["", "Ferry slip"])),
        distance_mi=draw(maybe(st.floats(0.0, 900.0))),
    )
