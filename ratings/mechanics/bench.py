"""From tape and gauge on a test stand to stretch and force of one pad."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from ratings.mechanics.arguments import count, not_negative, settle
from ratings.mechanics.cylinder import ENDS, Cylinder
from ratings.mechanics.levels import falls, mean


@dataclass(frozen=True)
class BenchReading:
    """What tape (in) and gauge (psi) showed at one moment."""

    tape_in: float
    gauge_psi: float


@dataclass(frozen=True)
class BenchSetUp:
    """How the pads are held: cylinder and end, pads that share the load, datum and gauge zero.

    tape_datum_in: what the tape reads with the pads at rest.
    gauge_zero_psi: what the gauge reads with no load.
    Raises ValueError for an unknown end, no pads, or a datum or zero below 0.
    """

    cylinder: Cylinder
    end: str
    pads_in_test: int
    tape_datum_in: float
    gauge_zero_psi: float = 0.0

    def __post_init__(self) -> None:
        if self.end not in ENDS:
            raise ValueError(f"end is {self.end!r}: give 'blind' or 'rod'")
        settle(
            self,
            pads_in_test=count("pads_in_test", self.pads_in_test, 1),
            tape_datum_in=not_negative("tape_datum_in", self.tape_datum_in, "in"),
            gauge_zero_psi=not_negative("gauge_zero_psi", self.gauge_zero_psi, "psi"),
        )


@dataclass(frozen=True)
class ReducedReading:
    """One reading and what it comes to for one pad. The rate is None at zero stretch."""

    tape_in: float
    gauge_psi: float
    stretch_in: float
    force_lbf: float
    rate_lbf_in: float | None


class ReadingError(ValueError):
    """A reading that can't be: its place in the list given (from 0) and its field."""

    def __init__(self, index: int, field: str, message: str) -> None:
        self.index = index
        self.field = field
        self.trouble = message
        super().__init__(f"reading {index + 1}: {message}")


def reduce_readings(
    set_up: BenchSetUp, readings: Sequence[BenchReading]
) -> tuple[ReducedReading, ...]:
    """Return stretch and force per pad of each reading, in the order of stretch.

    Force per pad = (gauge − zero) × area / pads in test; stretch = tape − datum.
    Raises ReadingError for a tape below its datum, a gauge below its zero, a number that
    can't be, and pressure that falls while stretch rises.
    """
    reduced = [reduce_reading(set_up, index, reading) for index, reading in enumerate(readings)]
    order = sorted(
        range(len(reduced)),
        key=lambda index: (reduced[index].stretch_in, reduced[index].force_lbf),
    )
    _refuse_falling_pressure(reduced, order)
    return tuple(reduced[index] for index in order)


def are_in_order(readings: Iterable[BenchReading]) -> bool:
    """Say whether the tape never goes back from one reading to the next."""
    tapes = [reading.tape_in for reading in readings]
    return tapes == sorted(tapes)


def reduce_reading(set_up: BenchSetUp, index: int, reading: BenchReading) -> ReducedReading:
    """Return stretch and force per pad of one reading, which stands at this place from 0.

    Raises ReadingError for a tape below its datum, a gauge below its zero, and a number that
    can't be.
    """
    tape_in = _checked(index, "tape_in", reading.tape_in, "in")
    gauge_psi = _checked(index, "gauge_psi", reading.gauge_psi, "psi")
    if tape_in < set_up.tape_datum_in:
        raise ReadingError(
            index,
            "tape_in",
            f"tape {tape_in:g} in is below the datum of {set_up.tape_datum_in:g} in: "
            "read the tape again or mend the datum",
        )
    if gauge_psi < set_up.gauge_zero_psi:
        raise ReadingError(
            index,
            "gauge_psi",
            f"gauge {gauge_psi:g} psi is below its zero of {set_up.gauge_zero_psi:g} psi: "
            "read the gauge again or mend its zero",
        )
    stretch_in = tape_in - set_up.tape_datum_in
    pressure_psi = gauge_psi - set_up.gauge_zero_psi
    force_lbf = set_up.cylinder.force_lbf(pressure_psi, set_up.end) / set_up.pads_in_test
    rate_lbf_in = force_lbf / stretch_in if stretch_in > 0.0 else None
    return ReducedReading(tape_in, gauge_psi, stretch_in, force_lbf, rate_lbf_in)


def _checked(index: int, field: str, value: float, unit: str) -> float:
    try:
        return not_negative(field, value, unit)
    except ValueError as error:
        raise ReadingError(index, field, str(error)) from None


def _refuse_falling_pressure(reduced: list[ReducedReading], order: list[int]) -> None:
    steps: dict[float, list[int]] = {}
    for index in order:
        steps.setdefault(reduced[index].stretch_in, []).append(index)
    highest: ReducedReading | None = None
    for stretch_in, indexes in steps.items():
        level = _level([reduced[index] for index in indexes])
        # By force, as the load curve judges: what passes here must pass there.
        if highest is not None and falls(highest.force_lbf, level.force_lbf):
            raise ReadingError(
                indexes[0],
                "gauge_psi",
                f"pressure falls from {highest.gauge_psi:g} to {level.gauge_psi:g} psi while the "
                f"stretch rises from {highest.stretch_in:g} to {stretch_in:g} in: read both again",
            )
        if highest is None or level.force_lbf >= highest.force_lbf:
            highest = level


def _level(alike: Sequence[ReducedReading]) -> ReducedReading:
    first = alike[0]
    return replace(
        first,
        gauge_psi=mean([each.gauge_psi for each in alike]),
        force_lbf=mean([each.force_lbf for each in alike]),
    )
