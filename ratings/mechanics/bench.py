"""A bench test: from tape and gauge on a stand to stretch and force of one pad."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from statistics import fmean

from ratings.mechanics.arguments import count, not_negative, positive, set_checked
from ratings.mechanics.gauge import GaugeCorrection
from ratings.mechanics.load_curve import falls
from ratings.mechanics.remarks import Figure, Refused, length, pressure


class CylinderEnd(StrEnum):
    """Which end of the cylinder the gauge's pressure acts on."""

    ROD = "rod"
    BLIND = "blind"


@dataclass(frozen=True)
class Cylinder:
    """A cylinder by its bore and rod, in.

    Raises ValueError for a bore not above 0, a rod below 0 or a rod as wide as the bore.
    """

    bore_in: float
    rod_in: float = 0.0

    def __post_init__(self) -> None:
        bore_in = positive("bore_in", self.bore_in, "in")
        rod_in = not_negative("rod_in", self.rod_in, "in")
        if rod_in >= bore_in:
            raise ValueError(
                f"rod_in is {rod_in:g}: give a rod narrower than the bore of {bore_in:g} in"
            )
        set_checked(self, bore_in=bore_in, rod_in=rod_in)

    def area_in2(self, end: str = "blind") -> float:
        """Return the area the pressure acts on, in².

        The whole bore at the blind end, π/4·D²; the ring round the rod at the rod end,
        π/4·(D² − d²). Raises ValueError for any other end.
        """
        if end not in tuple(CylinderEnd):
            raise ValueError(f"end is {end!r}: give 'blind' or 'rod'")
        rod_squared = self.rod_in * self.rod_in if end == CylinderEnd.ROD else 0.0
        return math.pi / 4.0 * (self.bore_in * self.bore_in - rod_squared)

    def force_lbf(self, pressure_psi: float, end: str = "blind") -> float:
        """Return pressure times area, lbf. Raises ValueError for a pressure below 0."""
        return not_negative("pressure_psi", pressure_psi, "psi") * self.area_in2(end)


@dataclass(frozen=True)
class BenchSetUp:
    """How the pads are held: cylinder and end, pads that share the load, datum and gauge zero.

    tape_datum_in: what the tape reads with the pads at rest.
    gauge_zero_psi: what the gauge reads with no load.
    correction: what the gauge's certificate says its readings are worth; None where they are
    taken as they are.
    Raises ValueError for an unknown end, no pads, or a datum or zero below 0.
    """

    cylinder: Cylinder
    end: str
    pads_in_test: int
    tape_datum_in: float
    gauge_zero_psi: float = 0.0
    correction: GaugeCorrection | None = None

    def __post_init__(self) -> None:
        if self.end not in tuple(CylinderEnd):
            raise ValueError(f"end is {self.end!r}: give 'blind' or 'rod'")
        set_checked(
            self,
            pads_in_test=count("pads_in_test", self.pads_in_test, 1),
            tape_datum_in=not_negative("tape_datum_in", self.tape_datum_in, "in"),
            gauge_zero_psi=not_negative("gauge_zero_psi", self.gauge_zero_psi, "psi"),
        )

    @property
    def lbf_per_psi(self) -> float:
        """Force of one pad for each psi the gauge shows: A/n, lbf/psi."""
        return self.cylinder.area_in2(self.end) / self.pads_in_test

    def pressure_psi(self, gauge_psi: float) -> float:
        """Return the pressure in the cylinder beyond that at rest: gauge − zero, both corrected."""
        if self.correction is None:
            return gauge_psi - self.gauge_zero_psi
        return self.correction.true_psi(gauge_psi) - self.correction.true_psi(self.gauge_zero_psi)


class Branch(StrEnum):
    """Whether the pads were being stretched or let back when a reading was taken."""

    LOADING = "loading"
    UNLOADING = "unloading"


@dataclass(frozen=True)
class CycleReading:
    """What tape (in) and gauge (psi) showed, in which run and on which branch of it."""

    tape_in: float
    gauge_psi: float
    run: int = 1
    branch: Branch = Branch.LOADING


@dataclass(frozen=True)
class ReducedReading:
    """One reading and what it comes to for one pad. The rate is None at zero stretch."""

    tape_in: float
    gauge_psi: float
    stretch_in: float
    force_lbf: float
    rate_lbf_in: float | None


class ReadingError(Refused):
    """A reading that can't be: its place in the list given (from 0) and its field."""

    def __init__(self, index: int, field: str, *remark: str | Figure) -> None:
        self.index = index
        self.field = field
        super().__init__(*remark, before=f"reading {index + 1}: ")


@dataclass(frozen=True)
class BranchPair:
    """The force of one pad at a stretch that a run read on both branches, lbf."""

    run: int
    stretch_in: float
    loading_lbf: float
    unloading_lbf: float

    @property
    def mean_lbf(self) -> float:
        """The mean of the branches: seal friction adds to one what it takes from the other."""
        return (self.loading_lbf + self.unloading_lbf) / 2.0


@dataclass(frozen=True)
class Cycle:
    """Reduced readings of a test, in the order given, and what its branches come to.

    pairs: by run and stretch; empty where no unloading branch was read.
    points: (stretch in, force lbf per pad) that a rate is fitted to. With unloading read, the
    branch means; without, the loading readings as they are. None at rest: every curve begins
    there, whatever was read.
    left_out: places (from 0) of readings with stretch that are in no point, since their run has
    no reading on the other branch at their stretch.
    """

    readings: tuple[ReducedReading, ...]
    pairs: tuple[BranchPair, ...]
    points: tuple[tuple[float, float], ...]
    left_out: tuple[int, ...]


@dataclass(frozen=True)
class Hysteresis:
    """The gap between the branches, means over the runs.

    most_lbf, at_stretch_in: the widest gap of loading over unloading, either way, and where.
    most_pct: of full scale, which is the largest loading force, less that at rest if read.
    energy_lost_in_lbf: by one pad in one cycle, between the least and the largest stretch
    read on both branches.
    """

    most_lbf: float
    at_stretch_in: float
    most_pct: float
    energy_lost_in_lbf: float


@dataclass(frozen=True)
class _Step:
    """Readings of one run and branch at one stretch: their places, mean pressure and force."""

    stretch_in: float
    places: tuple[int, ...]
    gauge_psi: float
    force_lbf: float


_Steps = dict[tuple[int, Branch], list[_Step]]


def reduce_cycle(
    set_up: BenchSetUp, readings: Sequence[CycleReading], gauge_resolution_psi: float = 0.0
) -> Cycle:
    """Return stretch and force per pad of each reading, and the means of the branches.

    gauge_resolution_psi: by so much rounding alone can lift an unloading reading over loading.
    Force per pad = (gauge − zero) × area / pads in test, gauge and zero corrected by the gauge's
    certificate where the set-up has it; stretch = tape − datum.
    Raises ReadingError, naming the reading, for a tape below its datum, a gauge below its zero,
    a number, run or branch that can't be, pressure that falls while stretch rises on loading or
    rises while stretch falls on unloading, and unloading above loading: the pads would have
    given energy.
    """
    leave_psi = not_negative("gauge_resolution_psi", gauge_resolution_psi, "psi")
    reduced = tuple(_reduced(set_up, place, reading) for place, reading in enumerate(readings))
    steps = _steps(readings, reduced)
    for (run, branch), branch_steps in steps.items():
        _refuse_turning_pressure(run, branch, branch_steps)
    matched = _matched(steps)
    _refuse_energy_gained(matched, leave_psi)
    pairs = tuple(
        BranchPair(run, up.stretch_in, up.force_lbf, down.force_lbf) for run, up, down in matched
    )
    if not any(branch is Branch.UNLOADING for _, branch in steps):
        points = sorted((r.stretch_in, r.force_lbf) for r in reduced if r.stretch_in > 0.0)
        return Cycle(reduced, (), tuple(points), ())
    used = {place for _, up, down in matched for place in up.places + down.places}
    return Cycle(
        readings=reduced,
        pairs=pairs,
        points=tuple((pair.stretch_in, pair.mean_lbf) for pair in pairs if pair.stretch_in > 0.0),
        left_out=tuple(
            place
            for place, each in enumerate(reduced)
            if place not in used and each.stretch_in > 0.0
        ),
    )


def hysteresis(pairs: Iterable[BranchPair]) -> Hysteresis:
    """Return the gap between the branches and the energy lost between them.

    Energy by the trapezium rule, Σ (g₀ + g₁)/2·(x₁ − x₀) of the gap g over the stretch x.
    Raises ValueError with no pair, and where no force rises to measure the gap by.
    """
    means = _means_over_runs(pairs)
    if not means:
        raise ValueError("pairs is empty: give readings of both branches at one stretch or more")
    gaps = [(x, up - down) for x, up, down in means]
    # The first of equal gaps, whatever their last bit.
    at_stretch_in, widest = max(gaps, key=lambda each: abs(each[1]))
    lowest = means[0][1] if len(means) > 1 and means[0][0] == 0.0 else 0.0
    full_scale = max(up for _, up, _ in means) - lowest
    if full_scale <= 0.0:
        raise ValueError("loading_lbf is 0 in every pair: give at least one with force")
    energy = math.fsum((g0 + g1) / 2.0 * (x1 - x0) for (x0, g0), (x1, g1) in pairwise(gaps))
    return Hysteresis(abs(widest), at_stretch_in, 100.0 * abs(widest) / full_scale, energy)


def are_in_order(readings: Iterable[CycleReading]) -> bool:
    """Say whether the tape never goes back from one reading to the next."""
    tapes = [reading.tape_in for reading in readings]
    return tapes == sorted(tapes)


def _checked(place: int, field: str, value: float, symbol: str) -> float:
    try:
        return not_negative(field, value, symbol)
    except ValueError as error:
        raise ReadingError(place, field, str(error)) from None


def _reduced(set_up: BenchSetUp, place: int, reading: CycleReading) -> ReducedReading:
    try:
        count("run", reading.run, 1)
    except ValueError as error:
        raise ReadingError(place, "run", str(error)) from None
    if reading.branch not in tuple(Branch):
        raise ReadingError(
            place, "branch", f"branch is {reading.branch!r}: give 'loading' or 'unloading'"
        )
    tape_in = _checked(place, "tape_in", reading.tape_in, "in")
    gauge_psi = _checked(place, "gauge_psi", reading.gauge_psi, "psi")
    if tape_in < set_up.tape_datum_in:
        raise ReadingError(
            place,
            "tape_in",
            "tape ",
            length(tape_in),
            " is below the datum of ",
            length(set_up.tape_datum_in),
            ": read the tape again or correct the datum",
        )
    if gauge_psi < set_up.gauge_zero_psi:
        raise ReadingError(
            place,
            "gauge_psi",
            "gauge ",
            pressure(gauge_psi),
            " is below its zero of ",
            pressure(set_up.gauge_zero_psi),
            ": read the gauge again or correct its zero",
        )
    stretch_in = tape_in - set_up.tape_datum_in
    pressure_psi = set_up.pressure_psi(gauge_psi)
    force_lbf = set_up.cylinder.force_lbf(pressure_psi, set_up.end) / set_up.pads_in_test
    rate_lbf_in = force_lbf / stretch_in if stretch_in > 0.0 else None
    return ReducedReading(tape_in, gauge_psi, stretch_in, force_lbf, rate_lbf_in)


def _steps(readings: Sequence[CycleReading], reduced: Sequence[ReducedReading]) -> _Steps:
    """Group by run and branch, then by stretch, in the order of stretch."""
    groups: dict[tuple[int, Branch], dict[float, list[int]]] = {}
    for place, reading in enumerate(readings):
        group = groups.setdefault((int(reading.run), Branch(reading.branch)), {})
        group.setdefault(reduced[place].stretch_in, []).append(place)
    return {
        key: [_step(reduced, stretch_in, group[stretch_in]) for stretch_in in sorted(group)]
        for key, group in sorted(groups.items())
    }


def _step(reduced: Sequence[ReducedReading], stretch_in: float, places: list[int]) -> _Step:
    return _Step(
        stretch_in=stretch_in,
        places=tuple(places),
        gauge_psi=fmean([reduced[place].gauge_psi for place in places]),
        force_lbf=fmean([reduced[place].force_lbf for place in places]),
    )


def _refuse_turning_pressure(run: int, branch: Branch, steps: list[_Step]) -> None:
    ordered = steps if branch is Branch.LOADING else steps[::-1]
    turn, way = ("falls", "rises") if branch is Branch.LOADING else ("rises", "falls")
    # By force, as the load curve judges, and against the furthest so far.
    furthest: _Step | None = None
    for step in ordered:
        if furthest is not None and _turns(branch, furthest.force_lbf, step.force_lbf):
            raise ReadingError(
                step.places[0],
                "gauge_psi",
                f"pressure {turn} from ",
                pressure(furthest.gauge_psi),
                " to ",
                pressure(step.gauge_psi),
                f" while the stretch {way} from ",
                length(furthest.stretch_in),
                " to ",
                length(step.stretch_in),
                f" on the {branch} branch of run {run}: read both again",
            )
        if furthest is None or (step.force_lbf >= furthest.force_lbf) == (turn == "falls"):
            furthest = step


def _turns(branch: Branch, before_lbf: float, after_lbf: float) -> bool:
    if branch is Branch.LOADING:
        return falls(before_lbf, after_lbf)
    return falls(after_lbf, before_lbf)


def _matched(steps: _Steps) -> list[tuple[int, _Step, _Step]]:
    """Pair loading with unloading at each stretch that a run read on both."""
    matched = []
    for (run, branch), down_steps in steps.items():
        if branch is Branch.LOADING:
            continue
        up = {step.stretch_in: step for step in steps.get((run, Branch.LOADING), [])}
        common = [(up[step.stretch_in], step) for step in down_steps if step.stretch_in in up]
        if not common:
            raise ReadingError(
                down_steps[0].places[0],
                "branch",
                f"run {run} has no stretch read on both branches: read unloading at the "
                "stretches of loading, or leave it out",
            )
        matched += [(run, loading, unloading) for loading, unloading in common]
    return matched


def _refuse_energy_gained(matched: list[tuple[int, _Step, _Step]], leave_psi: float) -> None:
    for run, up, down in matched:
        if falls(down.gauge_psi, up.gauge_psi + leave_psi):
            raise ReadingError(
                down.places[0],
                "gauge_psi",
                "unloading shows ",
                pressure(down.gauge_psi),
                " at ",
                length(up.stretch_in),
                ", above the ",
                pressure(up.gauge_psi),
                f" of loading in run {run}: the pads would have given back more energy than they "
                "took. Read both again, or correct which branch is which",
            )


def _means_over_runs(pairs: Iterable[BranchPair]) -> list[tuple[float, float, float]]:
    groups: dict[float, list[BranchPair]] = {}
    for pair in pairs:
        groups.setdefault(pair.stretch_in, []).append(pair)
    return [
        (
            stretch_in,
            fmean([pair.loading_lbf for pair in groups[stretch_in]]),
            fmean([pair.unloading_lbf for pair in groups[stretch_in]]),
        )
        for stretch_in in sorted(groups)
    ]
