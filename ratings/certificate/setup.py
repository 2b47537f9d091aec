"""How one test was made: where, when, with what, in what state the rubber was."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from reportlab.platypus import Flowable

from fleet.dates import day_words, moment_words
from fleet.quantities import Quantity
from ratings.certificate.facts import Certificate
from ratings.certificate.layout import SECTION, Fact, facts_in_pairs
from ratings.certificate.units import Units
from ratings.models import BenchTest
from ratings.paper.style import SMALL, paragraph
from ratings.paper.words import who_words

UNKNOWN = "not on record"


def set_up_section(certificate: Certificate, test: BenchTest) -> Iterator[Flowable]:
    units = certificate.units
    yield paragraph(f"Test {test.pk}: where, when and how", SECTION)
    yield facts_in_pairs(
        [*_place(test), *_cylinder(test, units), *_gauge(test, units), *_rubber(test, units)]
    )
    if test.note:
        yield paragraph(f"Note: {test.note}", SMALL)
    corrected_by = getattr(test, "corrected_by", None)
    if corrected_by is not None:
        yield paragraph(f"Test {test.pk} was corrected later by test {corrected_by.pk}.", bold=True)


def _place(test: BenchTest) -> list[Fact]:
    return [
        ("Yard and stand", f"{test.stand.yard.name}, {test.stand.name}"),
        ("Tested", f"{moment_words(test.tested_at)} by {who_words(test.recorded_by)}"),
        ("Witness", test.witness or "none named"),
        ("Photo of set-up", "on record" if test.photo else "none"),
        ("Pads in test", str(test.pads_in_test)),
        ("Arrangement", test.arrangement or UNKNOWN),
    ]


def _cylinder(test: BenchTest, units: Units) -> list[Fact]:
    facts = [
        ("Cylinder end", test.get_end_display()),
        ("Bore", _within(test.bore_in, test.bore_tolerance_in, units)),
    ]
    if test.rod_in:
        facts.append(("Rod", _within(test.rod_in, test.rod_tolerance_in, units)))
    return facts


def _gauge(test: BenchTest, units: Units) -> list[Fact]:
    in_calibration = "in calibration" if test.is_for_rating else "NOT in calibration"
    return [
        (
            "Gauge",
            f"{test.gauge.mark}, 0 to {units.pressure_words(test.gauge_span_psi)}, grade "
            f"{test.gauge_grade} (ASME B40.100), read to "
            f"{units.pressure_words(test.gauge_resolution_psi)}",
        ),
        (
            "Calibration",
            f"certificate {test.gauge_certificate or UNKNOWN}; on "
            f"{_day(test.gauge_calibrated_on)}, due {_day(test.gauge_due_on)}; "
            f"{in_calibration} on the day of the test",
        ),
        ("Gauge zero p₀", units.pressure_words(test.gauge_zero_psi)),
        ("Tape", f"{test.tape.mark}, read to {units.length_words(test.tape_resolution_in)}"),
        ("Tape datum", units.length_words(test.tape_datum_in)),
    ]


def _rubber(test: BenchTest, units: Units) -> list[Fact]:
    set_in, warmth = test.permanent_set_in, test.rubber_temperature_f
    return [
        ("Conditioning", f"{test.conditioning_cycles} cycles before the first reading"),
        (
            "Rubber temperature",
            UNKNOWN if warmth is None else Quantity.TEMPERATURE.words(warmth, units.system),
        ),
        ("Permanent set", "not taped" if set_in is None else units.length_words(set_in, 3)),
    ]


def _within(diameter_in: float, tolerance_in: float, units: Units) -> str:
    return f"{units.length_words(diameter_in, 6)} ± {units.length_words(tolerance_in, 3)}"


def _day(day: date | None) -> str:
    return UNKNOWN if day is None else f"{day_words(day)}"
