"""Certificates of gauges: what is refused, what a test keeps, what a gauge found off touches."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.models import PadLot
from ratings.bench.reduction import reduce_test
from ratings.bench.stand_warnings import stand_warnings
from ratings.ledger.facts import FOUND_OFF
from ratings.lots import doubts
from ratings.mechanics.bench import CycleReading
from ratings.mechanics.gauge import PointError
from ratings.models import BenchTest, GaugeCalibration, LedgerEntry, TestStand
from ratings.stands.recall import recall_of
from tests.all_tables import changed, everything
from tests.builders import MONDAY, bench_test, count, drafted_test, rated_unit
from tests.factories import GaugeFactory, PadLotFactory, TestStandFactory
from tests.stand_builders import OFF, RIGHT, calibrate, check_stand

pytestmark = pytest.mark.django_db

JANUARY, JUNE = date(2026, 1, 12), date(2026, 6, 1)


def warnings(test: BenchTest) -> str:
    return " ".join(stand_warnings([BenchTest.objects.get(pk=test.pk)])[0])


def test_a_test_is_reduced_by_the_certificate_of_its_day(manager: User) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    calibrate(
        gauge, manager, on=JANUARY, points=((0, 0, None), (1000, 1010, None), (2000, 2020, None))
    )
    readings = [CycleReading(11.0, 505.0), CycleReading(12.0, 1010.0)]
    test = drafted_test(PadLotFactory(), manager, gauge=gauge, readings=readings).test
    on_record = BenchTest.objects.get(pk=test.pk)
    area_in2 = on_record.set_up.cylinder.area_in2()
    forces = [each.force_lbf for each in reduce_test(on_record, on_record.measured, 5.0).readings]
    assert forces == pytest.approx([500.0 * area_in2, 1000.0 * area_in2])
    assert on_record.is_for_rating
    names = {line.name for line in reduce_test(on_record, on_record.measured, 5.0).budget.lines}
    assert "gauge certificate" in names
    assert "gauge accuracy" not in names


def test_a_later_certificate_changes_no_test_on_record(manager: User) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    first = calibrate(gauge, manager, on=JANUARY)
    test = drafted_test(PadLotFactory(), manager, gauge=gauge).test
    before = reduce_test(test, test.measured, 5.0).fit.rate_lbf_in
    calibrate(gauge, manager, on=JUNE, points=((0, 0, 0), (1000, 1005, 995), (2000, 2005, 1990)))
    again = BenchTest.objects.get(pk=test.pk)
    assert again.gauge_calibration_id == first.pk
    assert reduce_test(again, again.measured, 5.0).fit.rate_lbf_in == before


def test_a_test_entered_late_takes_the_certificate_of_its_own_day(manager: User) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    first = calibrate(gauge, manager, on=JANUARY)
    calibrate(gauge, manager, on=JUNE)
    gauge.refresh_from_db()
    assert gauge.calibrated_on == JUNE
    assert drafted_test(PadLotFactory(), manager, gauge=gauge).test.gauge_calibration == first


def test_the_first_certificate_on_record_loses_nothing_that_the_gauge_bore(manager: User) -> None:
    gauge = GaugeFactory(
        certificate_number="OLD-1", calibrated_on=date(2026, 1, 5), due_on=date(2027, 1, 5)
    )
    calibrate(gauge, manager, on=JUNE)
    gauge.refresh_from_db()
    test = drafted_test(PadLotFactory(), manager, gauge=gauge).test
    assert test.gauge_certificate == "OLD-1"
    assert test.is_for_rating
    assert test.gauge_correction is None


def test_old_tests_without_points_are_reduced_by_grade_as_ever(manager: User) -> None:
    test = drafted_test(PadLotFactory(), manager).test
    assert test.gauge_correction is None
    names = {line.name for line in reduce_test(test, test.measured, 5.0).budget.lines}
    assert "gauge accuracy" in names


def test_a_second_copy_of_a_certificate_changes_nothing(manager: User) -> None:
    gauge, key = GaugeFactory(calibrated_on=None, due_on=None), uuid.uuid4()
    first = calibrate(gauge, manager, submission_id=key)
    before = everything()
    assert calibrate(gauge, manager, submission_id=key, points=OFF) == first
    assert changed(before) == set()


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"certificate_number": " "}, "certificate_number", "This is blank"),
        ({"certificate_number": "c-other"}, "certificate_number", "as gauge G-other’s: whose"),
        ({"certificate_number": "C-own"}, "certificate_number", "on record already"),
        ({"serial_number": ""}, "serial_number", "has SN 77. Copy it"),
        ({"serial_number": "SN 78"}, "serial_number", "this certificate is of another gauge"),
        ({"due_on": JUNE}, "due_on", "This is not after 1 Jun 2026"),
        ({"on": date(2999, 1, 1)}, "calibrated_on", "1 Jan 2999 is in the future"),
        ({"expanded_psi": None}, "expanded_psi", "points are given: give the uncertainty"),
        ({"coverage_factor": None}, "coverage_factor", "give the k beside"),
        ({"points": (), "expanded_psi": 2.0}, "expanded_psi", "There are no points"),
        ({"no_found_reason": "none"}, "no_found_reason", "As found is given"),
        (
            {
                "points": ((0, None, 0), (1000, None, 1001), (2000, None, 2000)),
                "no_found_reason": "",
            },
            "no_found_reason",
            "Nothing is given as found",
        ),
    ],
)
def test_a_certificate_that_cannot_be_is_refused_by_field(
    manager: User, given: dict[str, Any], field: str, words: str
) -> None:
    other = GaugeFactory(mark="G-other", calibrated_on=None, due_on=None)
    calibrate(other, manager, certificate_number="C-OTHER")
    gauge = GaugeFactory(serial_number="SN 77", calibrated_on=None, due_on=None)
    calibrate(gauge, manager, certificate_number="C-own", serial_number="sn 77")
    sent: dict[str, Any] = {"on": JUNE, "serial_number": "SN 77"} | given
    before = everything()
    with pytest.raises(ValidationError) as refused:
        calibrate(gauge, manager, **sent)
    assert words in refused.value.message_dict[field][0]
    assert changed(before) == set()


def test_points_in_bar_are_refused(manager: User) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    with pytest.raises(ValueError, match="look like bar, not psi"):
        calibrate(gauge, manager, points=((0, 0, None), (70, 70.2, None), (138, 138.3, None)))
    with pytest.raises(PointError):
        calibrate(gauge, manager, points=((0, 0, None), (2500, 2500, None), (2600, 2600, None)))
    assert not GaugeCalibration.objects.exists()


def test_a_gauge_found_off_puts_every_test_since_its_last_calibration_in_doubt(
    manager: User,
) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    calibrate(gauge, manager, on=JANUARY)
    before_last = drafted_test(
        PadLotFactory(), manager, gauge=gauge, at=MONDAY - timedelta(days=60)
    ).test
    touched = drafted_test(PadLotFactory(), manager, gauge=gauge).test
    other = drafted_test(PadLotFactory(), manager).test
    found = calibrate(gauge, manager, on=JUNE, points=OFF)
    after = drafted_test(
        PadLotFactory(), manager, gauge=gauge, at=datetime(2026, 7, 1, 9, tzinfo=UTC)
    ).test
    assert found.is_found_off
    assert found.found_error_psi == 24.0
    assert list(found.touched_tests) == [touched]
    assert (
        "found off on 1 Jun 2026: error up to 24 psi, at 1,000 psi, where its grade allows 10"
        in warnings(touched)
    )
    for test in (before_last, other, after):
        assert "found off" not in warnings(test)


def test_checks_by_reference_pieces_are_touched_as_tests_are(manager: User) -> None:
    stand: TestStand = TestStandFactory()
    gauge = GaugeFactory(yard=stand.yard, calibrated_on=None, due_on=None)
    calibrate(gauge, manager, on=JANUARY)
    touched = check_stand(stand, manager, gauge=gauge)
    check_stand(stand, manager)
    found = calibrate(gauge, manager, on=JUNE, points=OFF)
    check_stand(stand, manager, gauge=gauge, at=datetime(2026, 7, 1, 9, tzinfo=UTC))
    assert list(found.touched_checks) == [touched]
    assert list(recall_of(found).checks) == [touched]


def test_what_a_calibration_between_found_right_is_in_no_doubt(manager: User) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    calibrate(gauge, manager, on=JANUARY)
    early = drafted_test(PadLotFactory(), manager, gauge=gauge).test
    calibrate(gauge, manager, on=date(2026, 4, 1), points=RIGHT)
    late = drafted_test(
        PadLotFactory(), manager, gauge=gauge, at=datetime(2026, 5, 1, 9, tzinfo=UTC)
    ).test
    calibrate(gauge, manager, on=JUNE, points=OFF)
    assert "found off" not in warnings(early)
    assert "found off" in warnings(late)


def test_a_test_of_the_morning_is_touched_by_the_calibration_of_its_afternoon(
    manager: User,
) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    calibrate(gauge, manager, on=JANUARY)
    test = drafted_test(PadLotFactory(), manager, gauge=gauge).test
    calibrate(gauge, manager, on=MONDAY.date(), points=OFF)
    assert "found off on 2 Mar 2026" in warnings(test)


def test_units_rated_on_a_gauge_found_off_say_so_and_go_on_counting(manager: User) -> None:
    unit = rated_unit()
    test = BenchTest.objects.get(lot=unit.lot)
    before = unit.housing.ledger_entries.count()
    calibrate(test.gauge, manager, on=JUNE, points=OFF)
    entry = unit.housing.ledger_entries.order_by("-sequence").first()
    assert entry is not None
    assert entry.sequence == before + 1
    assert FOUND_OFF in entry.inputs["lots"][0]["stale"]
    assert "error up to 24 psi" in entry.cause_words
    assert entry.pull_lbf is not None


def test_a_certificate_put_right_takes_the_doubt_away_again(manager: User) -> None:
    unit = rated_unit()
    test = BenchTest.objects.get(lot=unit.lot)
    wrong = calibrate(test.gauge, manager, on=JUNE, points=OFF)
    calibrate(
        test.gauge,
        manager,
        on=JUNE,
        corrects=wrong,
        certificate_number=wrong.certificate_number,
    )
    assert "found off" not in warnings(test)
    entry = LedgerEntry.objects.filter(housing=unit.housing).latest("sequence")
    assert FOUND_OFF not in entry.inputs["lots"][0]["stale"]
    assert "within its grade" in entry.cause_words


def test_a_gauge_within_its_grade_posts_nothing(manager: User) -> None:
    unit = rated_unit()
    before = unit.housing.ledger_entries.count()
    calibrate(BenchTest.objects.get(lot=unit.lot).gauge, manager, on=JUNE)
    assert unit.housing.ledger_entries.count() == before


def test_a_unit_inspected_after_posts_no_second_entry_for_the_same_doubt(manager: User) -> None:
    unit = rated_unit()
    calibrate(BenchTest.objects.get(lot=unit.lot).gauge, manager, on=JUNE, points=OFF)
    entries = unit.housing.ledger_entries.count()
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    assert unit.housing.ledger_entries.count() == entries


def test_nothing_read_as_found_is_said_of_the_tests_before(manager: User) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    calibrate(gauge, manager, on=JANUARY)
    test = drafted_test(PadLotFactory(), manager, gauge=gauge).test
    calibrate(
        gauge, manager, on=JUNE, points=((0, None, 0), (1000, None, 1001), (2000, None, 2000))
    )
    assert "calibrated next on 1 Jun 2026 with nothing read as found" in warnings(test)


def test_a_certificate_that_came_after_the_test_is_said(manager: User) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    calibrate(gauge, manager, on=JANUARY)
    test = drafted_test(PadLotFactory(), manager, gauge=gauge).test
    late = calibrate(gauge, manager, on=date(2026, 2, 20))
    words = f"Certificate {late.certificate_number} of its gauge, of 20 Feb 2026, came on record"
    assert words in warnings(test)


def test_a_certificate_corrected_since_is_said_of_the_tests_it_reduced(manager: User) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    wrong = calibrate(gauge, manager, on=JANUARY)
    test = drafted_test(PadLotFactory(), manager, gauge=gauge).test
    calibrate(gauge, manager, on=JANUARY, corrects=wrong)
    assert "was corrected since" in warnings(test)


def test_readings_beyond_the_certificate_are_said(manager: User) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    calibrate(gauge, manager, points=((0, 0, None), (250, 250, None), (500, 501, None)))
    readings = [CycleReading(10.0 + x, 200.0 * x) for x in (1, 2, 3, 4)]
    test = drafted_test(PadLotFactory(), manager, gauge=gauge, readings=readings).test
    assert "read to 800 psi and its certificate ends at 501" in warnings(test)


def test_the_drift_between_two_certificates_is_kept_with_the_second(manager: User) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    first = calibrate(gauge, manager, on=JANUARY)
    second = calibrate(
        gauge, manager, on=JUNE, points=((0, 0, None), (1000, 1006, None), (2000, 2003, None))
    )
    assert first.drift_psi is None
    # 1,006 shown would have been read as 1,000 + 4·1,000/1,001.
    assert second.drift_psi == pytest.approx(4.0 * 1000.0 / 1001.0)
    at = datetime(2026, 7, 1, 9, tzinfo=UTC)
    test = drafted_test(PadLotFactory(), manager, gauge=gauge, at=at).test
    names = {line.name for line in reduce_test(test, test.measured, 5.0).budget.lines}
    assert "gauge drift" in names


def test_whoever_approves_sees_that_the_gauge_was_found_off(manager: User) -> None:
    lot: PadLot = PadLotFactory()
    rated = bench_test(lot, manager)
    calibrate(rated.test.gauge, manager, on=JUNE, points=OFF)
    found = doubts.doubts_of(rated.rating, doubts.tests_behind(rated.rating, "us"))
    assert any("found off on 1 Jun 2026" in each for each in found)
