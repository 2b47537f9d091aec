"""What the certificate of a rating prints of its gauge's own certificate and of its tools."""

from __future__ import annotations

import math
import re
from datetime import date

import pytest
from django.contrib.auth.models import User

from tests.builders import drafted_test
from tests.factories import GaugeFactory, PadLotFactory, TapeFactory, ThermometerFactory
from tests.ratings.certificate.printed import NUMBER, text
from tests.stand_builders import calibrate

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("system", ["us", "si"])
def test_the_printed_points_give_the_printed_force(manager: User, system: str) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    points = ((0.0, 0.0, None), (500.0, 512.0, None), (1000.0, 1020.0, None))
    calibrate(gauge, manager, points=points, certificate_number="K-77")
    draft = drafted_test(PadLotFactory(), manager, gauge=gauge).draft
    assert draft is not None
    found = text(draft, system)
    pairs = re.findall(rf"{NUMBER} for {NUMBER}", found)
    assert len(pairs) == 3
    (p0, a0), (p1, a1) = ([float(each.replace(",", "")) for each in pair] for pair in pairs[1:])
    # The last reading, 8 in of stretch, corrected between the two points it lies between.
    area, pressure = math.pi / 4 * 4.0**2, 1.0
    if system == "si":
        # kPa on mm² are thousandths of a newton.
        area, pressure = area * 25.4**2 / 1000.0, 6.894757
    shown = 8.0 * 1000.0 / (math.pi / 4 * 4.0**2) * pressure
    force = (a0 + (a1 - a0) * (shown - p0) / (p1 - p0)) * area
    figures = (each.replace(",", "") for each in re.findall(NUMBER, found))
    printed = [float(each) for each in figures if each.strip("-")]
    assert any(each == pytest.approx(force, rel=1e-5) for each in printed)
    assert "by its certificate K-77" in found


def test_a_gauge_read_as_it_is_prints_no_correction(manager: User) -> None:
    draft = drafted_test(PadLotFactory(), manager).draft
    assert draft is not None
    assert "Gauge correction" not in text(draft)


def test_tape_thermometer_and_bore_print_when_they_were_looked_at(manager: User) -> None:
    dates = {"calibrated_on": date(2026, 1, 5), "due_on": date(2027, 1, 5)}
    tape = TapeFactory(certificate_number="T-9", **dates)
    draft = drafted_test(
        PadLotFactory(), manager, tape=tape, thermometer=ThermometerFactory(mark="TH-4", **dates)
    ).draft
    assert draft is not None
    found = text(draft)
    assert "certificate T-9, calibrated 5 Jan 2026, due 5 Jan 2027" in found
    assert "TH-4; calibrated 5 Jan 2026, due 5 Jan 2027" in found
    assert "Bore measured not on record" in found
