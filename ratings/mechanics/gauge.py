"""How far a pressure gauge may be wrong, what its certificate says of it, and units mistaken."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from ratings.mechanics.arguments import not_negative, number, positive, series, set_checked


class Grade(StrEnum):
    """Accuracy grades of pressure gauges (ASME B40.100), finest first."""

    GRADE_4A = "4A"
    GRADE_3A = "3A"
    GRADE_2A = "2A"
    GRADE_1A = "1A"
    GRADE_A = "A"
    GRADE_B = "B"
    GRADE_C = "C"
    GRADE_D = "D"


# Largest error, % of span: in the outer quarters of the scale and in its middle half. ASME
# B40.100 as recalled, the standard itself not opened.
LARGEST_ERROR_PCT = {
    Grade.GRADE_4A: (0.1, 0.1),
    Grade.GRADE_3A: (0.25, 0.25),
    Grade.GRADE_2A: (0.5, 0.5),
    Grade.GRADE_1A: (1.0, 1.0),
    Grade.GRADE_A: (2.0, 1.0),
    Grade.GRADE_B: (3.0, 2.0),
    Grade.GRADE_C: (4.0, 3.0),
    Grade.GRADE_D: (5.0, 5.0),
}
# Of 1 kPa and 1 bar, from 0.45359237 kg, 9.80665 m/s² and 0.0254 m, all exact by definition.
PSI_PER = {"kPa": 0.1450377377302092, "bar": 14.503773773020923}


@dataclass(frozen=True)
class Suspicion:
    """The unit of measure that readings given as psi look like, by its symbol, and why."""

    symbol: str
    why: str


def worst_error_psi(grade: str, span_psi: float, pressure_psi: float) -> float:
    """Return the largest error, ± psi, that a gauge of this grade may have at a pressure.

    On the border of the middle half the larger of the two counts. Raises ValueError for a
    grade that doesn't exist and a pressure beyond the gauge's range.
    """
    known = _grade(grade)
    span, pressure = _within_range(span_psi, pressure_psi)
    ends_pct, middle_pct = LARGEST_ERROR_PCT[known]
    in_middle = 0.25 * span < pressure < 0.75 * span
    return (middle_pct if in_middle else ends_pct) / 100.0 * span


def is_below_a_quarter(span_psi: float, pressure_psi: float) -> bool:
    """Say whether a gauge shows so little of its span that its error weighs heavy there.

    Raises ValueError for a pressure beyond the gauge's range.
    """
    span, pressure = _within_range(span_psi, pressure_psi)
    return pressure < 0.25 * span


def gauge_suspicion(gauge_psi: Sequence[float], span_psi: float) -> Suspicion | None:
    """Return the unit of measure that readings given as psi look like, None where psi looks right.

    kPa where the largest lies beyond the gauge's span as psi and within it as kPa; bar where
    it lies within a quarter of the span as psi and in the upper three quarters as bar. A
    suspicion only: nothing is converted unasked.
    """
    span = positive("span_psi", span_psi, "psi")
    largest = max(series("gauge_psi", gauge_psi, "psi"), default=0.0)
    if span < largest and largest * PSI_PER["kPa"] <= span:
        why = f"{largest:g} psi is beyond the gauge's {span:g} psi, {largest:g} kPa is not"
        return Suspicion("kPa", why)
    as_bar = largest * PSI_PER["bar"]
    if 0.25 * span <= as_bar <= span:
        why = (
            f"{largest:g} psi is {100.0 * largest / span:.2g} % of the gauge's {span:g} psi, "
            f"{largest:g} bar is {100.0 * as_bar / span:.2g} %"
        )
        return Suspicion("bar", why)
    return None


# Two points say nothing of what lies between them.
LEAST_POINTS = 3
# Of its span: a gauge of 2,000 psi is calibrated to 138 bar, which is 2,001.5 psi.
HIGHEST_POINT = 1.05
# A gauge left further off than this share of its span measures nothing: a figure was misread.
MOST_LEFT_ERROR = 0.10


@dataclass(frozen=True)
class CalibrationPoint:
    """A pressure that a laboratory applied to a gauge, and what the gauge showed there, psi.

    as_found_psi: as it came; None where that was not read. as_left_psi: as it went back; None
    where nothing was adjusted, and so it went back as it came.
    """

    applied_psi: float
    as_found_psi: float | None = None
    as_left_psi: float | None = None

    @property
    def indicated_psi(self) -> float | None:
        """What the gauge has shown there since the calibration."""
        return self.as_found_psi if self.as_left_psi is None else self.as_left_psi


class PointError(ValueError):
    """A point of a certificate that can't be: its place in the list (from 0) and its field."""

    def __init__(self, index: int, field: str, message: str) -> None:
        self.index, self.field, self.trouble = index, field, message
        super().__init__(f"point {index + 1}: {message}")


@dataclass(frozen=True)
class GaugeCorrection:
    """What a certificate says a gauge's readings are worth.

    points: (shown, applied), psi, both rising, three or more.
    expanded_psi, coverage_factor: the certificate's expanded uncertainty and its k.
    drift_psi: by how much the certificate before it was wrong by the time of this one; None
    where there was none to tell.
    Raises ValueError where any of it can't be.
    """

    points: tuple[tuple[float, float], ...]
    expanded_psi: float
    coverage_factor: float
    drift_psi: float | None = None

    def __post_init__(self) -> None:
        points = tuple((number("shown", p), number("applied", a)) for p, a in self.points)
        if len(points) < LEAST_POINTS:
            raise ValueError(f"points has {len(points)}: give {LEAST_POINTS} or more")
        for (p0, a0), (p1, a1) in pairwise(points):
            if p1 <= p0 or a1 <= a0:
                raise ValueError(
                    f"points go from {p0:g} psi shown at {a0:g} applied to {p1:g} at {a1:g}: "
                    "give points that rise in both"
                )
        set_checked(
            self,
            points=points,
            expanded_psi=positive("expanded_psi", self.expanded_psi, "psi"),
            coverage_factor=positive("coverage_factor", self.coverage_factor, ""),
        )
        if self.drift_psi is not None:
            set_checked(self, drift_psi=not_negative("drift_psi", self.drift_psi, "psi"))

    @property
    def standard_psi(self) -> float:
        """Standard uncertainty of a correction, U/k."""
        return self.expanded_psi / self.coverage_factor

    def true_psi(self, shown_psi: float) -> float:
        """Return the pressure that made the gauge show this much, psi.

        Linear between two points of the certificate. Beyond the first and the last the gauge is
        taken to be as far off as it was there: `covers` says where that is so.
        """
        shown = number("shown_psi", shown_psi)
        (first, first_applied), (last, last_applied) = self.points[0], self.points[-1]
        if shown <= first:
            return first_applied + (shown - first)
        if shown >= last:
            return last_applied + (shown - last)
        place = bisect_right(self.points, shown, key=lambda point: point[0])
        (p0, a0), (p1, a1) = self.points[place - 1], self.points[place]
        return a0 + (a1 - a0) * (shown - p0) / (p1 - p0)

    def covers(self, pressure_psi: float) -> bool:
        """Say whether a pressure lies between the least and the greatest that was applied."""
        hair = 1e-9 * self.points[-1][1]
        return self.points[0][1] - hair <= pressure_psi <= self.points[-1][1] + hair


@dataclass(frozen=True)
class FoundError:
    """How far a gauge was off as found at a pressure, psi, and how far its grade lets it be."""

    applied_psi: float
    error_psi: float
    allowed_psi: float

    @property
    def is_beyond(self) -> bool:
        # The hair is the rounding of the difference, not a leave.
        return abs(self.error_psi) > self.allowed_psi + 1e-9 * max(self.applied_psi, 1.0)


def check_points(points: Sequence[CalibrationPoint], span_psi: float) -> None:
    """Refuse points that no certificate of a gauge of this span can have.

    Raises PointError, naming the point and its field, for a pressure below 0 or beyond the
    span, as found or as left given at some points only, what doesn't rise, and a gauge left
    off by more than a tenth of its span; ValueError for fewer than three points, and for
    pressures that look like another unit of measure.
    """
    span = positive("span_psi", span_psi, "psi")
    if len(points) < LEAST_POINTS:
        raise ValueError(
            f"{len(points) or 'no'} point{'' if len(points) == 1 else 's'} given: give "
            f"{LEAST_POINTS} or more, from near 0 to the highest pressure the gauge is used at"
        )
    _refuse_other_units(max(each.applied_psi for each in points), span)
    for name, words in (("as_found_psi", "as found"), ("as_left_psi", "as left")):
        _refuse_some_only(points, name, words)
    for place, point in enumerate(points):
        if not 0.0 <= point.applied_psi <= HIGHEST_POINT * span:
            raise PointError(
                place,
                "applied_psi",
                f"{point.applied_psi:g} psi applied is beyond the gauge’s 0 to {span:g} psi: "
                "read the certificate again, or look whether it is this gauge’s",
            )
        _refuse_far_off(place, point, span)
    for place, (before, after) in enumerate(pairwise(points), start=1):
        _refuse_fall(place, before, after)


def correction_of(
    points: Sequence[CalibrationPoint],
    expanded_psi: float,
    coverage_factor: float,
    drift_psi: float | None = None,
) -> GaugeCorrection:
    """Return the correction by what the gauge shows since the calibration.

    Raises ValueError as GaugeCorrection does, and for a point with neither reading.
    """
    pairs = []
    for place, point in enumerate(points):
        if point.indicated_psi is None:
            raise PointError(place, "as_left_psi", "neither as found nor as left is given")
        pairs.append((point.indicated_psi, point.applied_psi))
    return GaugeCorrection(tuple(pairs), expanded_psi, coverage_factor, drift_psi)


def found_errors(
    points: Sequence[CalibrationPoint], grade: str, span_psi: float
) -> tuple[FoundError, ...]:
    """Return how far the gauge was off as found, beside what its grade allows at that pressure.

    Shown less applied. Empty where nothing was read as found. Raises ValueError as
    worst_error_psi does.
    """
    return tuple(
        FoundError(
            point.applied_psi,
            point.as_found_psi - point.applied_psi,
            worst_error_psi(grade, span_psi, min(point.applied_psi, span_psi)),
        )
        for point in points
        if point.as_found_psi is not None
    )


def drift_since(before: GaugeCorrection, points: Sequence[CalibrationPoint]) -> float | None:
    """Return by how much an earlier certificate's correction was wrong at the next calibration.

    The largest difference, psi, either way, between the pressure it would have given for what
    the gauge showed as found and the pressure applied. None where nothing was read as found.
    """
    off = [
        abs(before.true_psi(point.as_found_psi) - point.applied_psi)
        for point in points
        if point.as_found_psi is not None
    ]
    return max(off, default=None)


def _refuse_other_units(largest: float, span: float) -> None:
    """A laboratory goes far up the scale: look in which unit of measure it would have."""
    if 0.25 * span <= largest <= HIGHEST_POINT * span:
        return
    for symbol, factor in PSI_PER.items():
        if 0.25 * span <= largest * factor <= HIGHEST_POINT * span:
            raise ValueError(
                f"the pressures applied look like {symbol}, not psi: the largest, {largest:g}, is "
                f"{largest * factor:.4g} psi if it is {symbol}, and the gauge goes to {span:g}. "
                "Say which unit the certificate is in"
            )


def _refuse_some_only(points: Sequence[CalibrationPoint], name: str, words: str) -> None:
    lacking = [place for place, point in enumerate(points) if getattr(point, name) is None]
    if lacking and len(lacking) < len(points):
        raise PointError(
            lacking[0], name, f"{words} is blank here and given at other points: give all or none"
        )
    if lacking and name == "as_left_psi" and points[0].as_found_psi is None:
        raise PointError(
            0, "as_found_psi", "give what the gauge showed, as found, as left, or both"
        )


def _refuse_far_off(place: int, point: CalibrationPoint, span: float) -> None:
    shown = point.indicated_psi
    assert shown is not None
    off = shown - point.applied_psi
    if abs(off) > MOST_LEFT_ERROR * span:
        name = "as_found_psi" if point.as_left_psi is None else "as_left_psi"
        raise PointError(
            place,
            name,
            f"the gauge would be left {abs(off):g} psi off at {point.applied_psi:g} psi, more "
            f"than a tenth of its {span:g} psi: read the certificate again; a gauge so far off "
            "is no gauge to test with",
        )


def _refuse_fall(place: int, before: CalibrationPoint, after: CalibrationPoint) -> None:
    if after.applied_psi <= before.applied_psi:
        raise PointError(
            place,
            "applied_psi",
            f"{after.applied_psi:g} psi applied comes after {before.applied_psi:g}: give the "
            "points once each, from the least to the greatest",
        )
    for name in ("as_found_psi", "as_left_psi"):
        was, now = getattr(before, name), getattr(after, name)
        if was is not None and now is not None and now <= was:
            raise PointError(
                place,
                name,
                f"the gauge shows {now:g} psi at {after.applied_psi:g} applied and {was:g} at "
                f"{before.applied_psi:g}: it can’t fall or stay while the pressure rises",
            )


def _grade(grade: str) -> Grade:
    if grade not in tuple(Grade):
        raise ValueError(f"grade is {grade!r}: give one of {', '.join(Grade)}")
    return Grade(grade)


def _within_range(span_psi: float, pressure_psi: float) -> tuple[float, float]:
    span = positive("span_psi", span_psi, "psi")
    pressure = not_negative("pressure_psi", pressure_psi, "psi")
    if pressure > span:
        raise ValueError(
            f"pressure_psi is {pressure:g}, beyond the gauge's range of {span:g} psi: read it "
            "again, or say which gauge was used"
        )
    return span, pressure
