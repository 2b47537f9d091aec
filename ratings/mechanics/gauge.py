"""How far a pressure gauge may be wrong, and whether it was read in another unit of measure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from ratings.mechanics.arguments import not_negative, positive, series


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
