"""Checks of a stand by a reference piece, and what they say of the tests made on it."""

from __future__ import annotations

import uuid
from datetime import date, timedelta

import pytest
from django.contrib.auth.models import User

from ratings.bench.stand_warnings import stand_checks, stand_warnings
from ratings.mechanics.bench import CycleReading, ReadingError
from ratings.mechanics.remarks import Refused
from ratings.models import BenchTest, ReferenceCheck, ReferencePiece, TestStand
from ratings.stands.recording import CheckSetUp, record_reference_check
from tests.all_tables import changed, everything
from tests.builders import MONDAY, drafted_test
from tests.factories import (
    GaugeFactory,
    PadLotFactory,
    ReferencePieceFactory,
    TapeFactory,
    TestStandFactory,
    ThermometerFactory,
)
from tests.stand_builders import check_stand

pytestmark = pytest.mark.django_db


@pytest.fixture
def stand() -> TestStand:
    return TestStandFactory(bore_measured_on=date(2025, 1, 1))


@pytest.fixture
def piece() -> ReferencePiece:
    return ReferencePieceFactory()


def made_test(stand: TestStand, manager: User, **more: object) -> BenchTest:
    """A test with a tape and a thermometer in calibration, unless told otherwise."""
    dates = {"calibrated_on": date(2025, 6, 1), "due_on": date(2027, 6, 1)}
    given = {"tape": TapeFactory(**dates), "thermometer": ThermometerFactory(**dates)} | more
    return drafted_test(PadLotFactory(), manager, stand=stand, **given).test  # type: ignore[arg-type]


def warnings(test: BenchTest) -> str:
    return " ".join(stand_warnings([BenchTest.objects.get(pk=test.pk)])[0])


def test_a_check_comes_to_the_rate_of_its_piece(stand: TestStand, manager: User) -> None:
    check = check_stand(stand, manager, rate_lbf_in=512.0)
    on_record = ReferenceCheck.objects.get(pk=check.pk)
    assert on_record.rate_lbf_in == pytest.approx(512.0)
    assert on_record.expanded_lbf_in > on_record.own_lbf_in > 0.0
    assert on_record.readings.count() == 4


def test_a_second_copy_of_a_check_changes_nothing(stand: TestStand, manager: User) -> None:
    key = uuid.uuid4()
    first = check_stand(stand, manager, submission_id=key)
    before = everything()
    given = {"piece": first.piece, "gauge": first.gauge, "tape": first.tape}
    assert check_stand(stand, manager, submission_id=key, rate_lbf_in=900, **given) == first  # type: ignore[arg-type]
    assert changed(before) == set()


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ([CycleReading(11, 100), CycleReading(12, 90)], "pressure falls"),
        ([CycleReading(9, 100), CycleReading(12, 200)], "below the datum"),
        ([CycleReading(11, 100), CycleReading(12, 2100)], "beyond the gauge's range"),
        ([CycleReading(11, 100), CycleReading(11, 101)], "every reading is at one stretch"),
        ([], "no readings given: give two or more"),
    ],
)
def test_readings_that_cannot_be_are_refused(
    stand: TestStand,
    piece: ReferencePiece,
    manager: User,
    readings: list[CycleReading],
    words: str,
) -> None:
    gauge, tape = GaugeFactory(), TapeFactory()
    before = everything()
    with pytest.raises(ValueError, match=words) as refused:
        record_reference_check(
            submission_id=uuid.uuid4(),
            stand=stand,
            set_up=CheckSetUp(gauge, tape, piece, "blind", 10.0, MONDAY),
            readings=readings,
            by=manager,
        )
    is_of_the_whole = words.startswith(("every reading is", "no readings"))
    assert isinstance(refused.value, ReadingError) is not is_of_the_whole
    assert type(refused.value) is Refused or not is_of_the_whole
    assert changed(before) == set()


def test_a_test_on_a_day_without_a_check_says_so(
    stand: TestStand, piece: ReferencePiece, manager: User
) -> None:
    check_stand(stand, manager, piece=piece, at=MONDAY - timedelta(days=1))
    assert "No reference piece was pulled on the stand that day" in warnings(
        made_test(stand, manager)
    )


def test_a_test_after_a_good_check_of_its_day_says_nothing(
    stand: TestStand, piece: ReferencePiece, manager: User
) -> None:
    check_stand(stand, manager, piece=piece, at=MONDAY - timedelta(hours=1))
    assert warnings(made_test(stand, manager)) == ""


def test_a_check_made_after_the_test_is_no_check_before_it(
    stand: TestStand, piece: ReferencePiece, manager: User
) -> None:
    check_stand(stand, manager, piece=piece, at=MONDAY + timedelta(hours=1))
    assert "only after the test, at " in warnings(made_test(stand, manager))


def test_a_check_of_another_stand_is_none_of_this_one(
    stand: TestStand, piece: ReferencePiece, manager: User
) -> None:
    check_stand(TestStandFactory(), manager, piece=piece, at=MONDAY - timedelta(hours=1))
    assert "No reference piece" in warnings(made_test(stand, manager))


def settled(stand: TestStand, piece: ReferencePiece, manager: User) -> None:
    """Five days of good checks before the day of the test."""
    gauge = GaugeFactory()
    for day, rate in enumerate((500.0, 502.0, 499.0, 501.0, 500.0)):
        at = MONDAY - timedelta(days=9 - day)
        check_stand(stand, manager, piece=piece, at=at, rate_lbf_in=rate, gauge=gauge)


def test_a_test_after_a_check_out_of_its_limits_says_so(
    stand: TestStand, piece: ReferencePiece, manager: User
) -> None:
    settled(stand, piece, manager)
    check_stand(stand, manager, piece=piece, at=MONDAY - timedelta(hours=1), rate_lbf_in=560.0)
    found = warnings(made_test(stand, manager))
    assert "The last check of the stand before it, on 2 Mar 2026, was out of its limits" in found
    assert f"{piece.mark} gave 560 lbf/in, limits 4" in found


def test_a_check_out_of_its_limits_puts_the_tests_before_it_in_doubt_too(
    stand: TestStand, piece: ReferencePiece, manager: User
) -> None:
    settled(stand, piece, manager)
    check_stand(stand, manager, piece=piece, at=MONDAY - timedelta(hours=1))
    test = made_test(stand, manager)
    assert warnings(test) == ""
    check_stand(stand, manager, piece=piece, at=MONDAY + timedelta(days=1), rate_lbf_in=560.0)
    assert "may have been wrong in this test already" in warnings(test)


def test_a_check_corrected_since_counts_no_more(
    stand: TestStand, piece: ReferencePiece, manager: User
) -> None:
    settled(stand, piece, manager)
    at = MONDAY - timedelta(hours=1)
    wrong = check_stand(stand, manager, piece=piece, at=at, rate_lbf_in=560.0)
    check_stand(stand, manager, piece=piece, at=at, rate_lbf_in=500.0, corrects=wrong)
    assert warnings(made_test(stand, manager)) == ""


def test_each_piece_has_a_chart_of_its_own_on_each_stand(
    stand: TestStand, piece: ReferencePiece, manager: User
) -> None:
    settled(stand, piece, manager)
    other = ReferencePieceFactory()
    check_stand(stand, manager, piece=other, rate_lbf_in=900.0)
    check_stand(TestStandFactory(), manager, piece=piece, rate_lbf_in=700.0)
    found = stand_checks({stand.pk})[stand.pk]
    assert [each.judged.is_out for each in found] == [False] * 6


def test_tape_and_bore_that_nobody_calibrated_are_said_in_one_sentence(manager: User) -> None:
    stand = TestStandFactory()
    check_stand(stand, manager, at=MONDAY - timedelta(hours=1))
    test = made_test(stand, manager, tape=TapeFactory(mark="T-x"), thermometer=None)
    assert warnings(test) == (
        "Not known to be right that day: tape T-x has no calibration on record; nobody is on "
        "record as having measured bore and rod; no thermometer is named."
    )


def test_a_tape_and_a_thermometer_overdue_are_said_by_the_day_of_the_test(
    stand: TestStand, manager: User
) -> None:
    check_stand(stand, manager, at=MONDAY - timedelta(hours=1))
    overdue = {"calibrated_on": date(2024, 1, 1), "due_on": date(2026, 3, 1)}
    tape, thermometer = TapeFactory(**overdue), ThermometerFactory(**overdue)
    given = {"tape": tape, "thermometer": thermometer, "rubber_temperature_f": 68.0}
    test = made_test(stand, manager, **given)
    # What was calibrated since does not make the test of then a good one.
    for each in (tape, thermometer):
        each.calibrated_on, each.due_on = date(2026, 3, 3), date(2027, 3, 3)
        each.save()
    found = warnings(test)
    assert f"tape {tape.mark} was due for calibration on 1 Mar 2026" in found
    assert f"thermometer {thermometer.mark} was due for calibration on 1 Mar 2026" in found


def test_all_tests_of_a_rating_are_looked_at_in_a_fixed_number_of_queries(
    stand: TestStand, manager: User, django_assert_num_queries: object
) -> None:
    lot, gauge = PadLotFactory(), GaugeFactory()
    for number in range(4):
        at = MONDAY + timedelta(days=number)
        drafted_test(lot, manager, stand=stand, gauge=gauge, at=at)
    tests = list(BenchTest.objects.select_related("tape", "thermometer"))
    with django_assert_num_queries(3):  # type: ignore[operator]
        assert len(stand_warnings(tests)) == 4
