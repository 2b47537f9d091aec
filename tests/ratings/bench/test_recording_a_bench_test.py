from __future__ import annotations

import math
import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from fleet.models import PadLot
from ratings.bench.recording import RecordedTest
from ratings.mechanics.bench import Branch, CycleReading, ReadingError
from ratings.models import BenchTest, CurrentRating, LedgerEntry, LotRating
from tests.all_tables import changed, everything
from tests.builders import MONDAY, Unit, bench_test, drafted_test, rated_unit
from tests.factories import GaugeFactory, ManagerFactory, PadLotFactory, TapeFactory
from tests.factories import TestStandFactory as StandFactory

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + timedelta(days=1)
RISING = [CycleReading(11.0, 100.0), CycleReading(12.0, 200.0)]


def record(lot: PadLot, **more: Any) -> RecordedTest:
    """Two pads on the rod end, on a Tuesday, unless told otherwise."""
    plain: dict[str, Any] = {"end": "rod", "pads_in_test": 2, "at": TUESDAY, "readings": RISING}
    more = plain | more
    by = more.pop("by", None) or ManagerFactory()
    more["stand"] = more.pop("stand", None) or StandFactory(bore_in=4.0, rod_in=2.0)
    return drafted_test(lot, by, **more)


def drafted_rate(lot: PadLot) -> float:
    return lot.ratings.latest("pk").rate_lbf_in


def rate_in_force(lot: PadLot) -> float:
    return LotRating.objects.in_force_by_lot([lot.pk])[lot.pk].rate_lbf_in


def head(unit: Unit) -> LedgerEntry:
    return CurrentRating.objects.get(housing=unit.housing).head


def test_the_lot_is_rated_by_area_zero_and_pads_that_share_the_load() -> None:
    lot = PadLotFactory()
    record(lot, gauge_zero_psi=20.0, readings=[CycleReading(11, 120), CycleReading(12, 220)])
    # 100 psi each inch on the ring of a 4 in bore round a 2 in rod, shared by two.
    assert drafted_rate(lot) == pytest.approx(100 * math.pi / 4 * (16 - 4) / 2)


def test_the_cylinder_is_kept_as_it_was_that_day() -> None:
    stand = StandFactory(bore_in=4.0, rod_in=1.0)
    test = record(PadLotFactory(), stand=stand).test
    stand.bore_in = 6.0
    stand.save()
    test.refresh_from_db()
    assert (test.bore_in, test.rod_in) == (4.0, 1.0)
    assert test.set_up.cylinder.bore_in == 4.0


def test_the_readings_are_kept_in_the_order_they_were_entered() -> None:
    backwards = RISING[::-1]
    test = record(PadLotFactory(), readings=backwards).test
    assert test.measured == backwards


def test_a_second_copy_of_a_test_changes_nothing() -> None:
    lot, by = PadLotFactory(), ManagerFactory()
    with_ = {"stand": StandFactory(rod_in=2.0), "gauge": GaugeFactory(), "tape": TapeFactory()}
    submission_id = uuid.uuid4()
    first = record(lot, submission_id=submission_id, by=by, **with_)
    before = everything()
    second = record(lot, submission_id=submission_id, by=by, pads_in_test=1, **with_)
    assert (second.test, second.draft) == (first.test, first.draft)
    assert changed(before) == set()


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ([CycleReading(9.0, 100.0), RISING[1]], "below the datum"),
        ([CycleReading(11.0, 300.0), RISING[1]], "pressure falls"),
        ([RISING[0]], "give two or more"),
        ([], "give two or more"),
        ([CycleReading(10.0, 5.0), CycleReading(10.0, 6.0)], "0 in every reading"),
        ([CycleReading(math.nan, 5.0), RISING[1]], "give a finite number"),
        ([CycleReading(11.0, -5.0), RISING[1]], "give 0 psi or more"),
        ([CycleReading(11.0, 1e-300), CycleReading(12.0, 1e-300)], "force"),
        ([CycleReading(10.0 + 1e-9, 1e4), CycleReading(10.0 + 2e-9, 2e4)], "below 1,000,000,000"),
        ([CycleReading(14.0, 1e6), CycleReading(18.0, 2e6)], "beyond the gauge's range"),
        ([RISING[0], CycleReading(12, 20_001)], "beyond the gauge's range"),
        ([*RISING, CycleReading(12, 210, branch=Branch.UNLOADING)], "more energy than they took"),
        ([CycleReading(12, 210, branch=Branch.UNLOADING), *RISING], "more energy than they took"),
    ],
)
def test_readings_that_cannot_be_reduced_leave_nothing_behind(
    readings: list[CycleReading], words: str
) -> None:
    unit, by = rated_unit(), ManagerFactory()
    with_ = {
        "stand": StandFactory(rod_in=2.0),
        "gauge": GaugeFactory(span_psi=20_000.0),
        "tape": TapeFactory(),
    }
    before = everything()
    with pytest.raises(ValueError, match=words):
        record(unit.lot, readings=readings, by=by, **with_)
    assert changed(before) == set()


def test_a_reading_that_cannot_be_says_which_one_it_is() -> None:
    with pytest.raises(ReadingError) as trouble:
        record(PadLotFactory(), readings=[RISING[0], CycleReading(9.5, 10.0)])
    assert (trouble.value.index, trouble.value.field) == (1, "tape_in")
    assert not BenchTest.objects.exists()


def test_a_test_drafts_a_rating_and_changes_no_unit() -> None:
    unit = rated_unit()
    before = everything()
    recorded = drafted_test(unit.lot, unit.manager, rate_lbf_in=900, at=TUESDAY)
    assert recorded.draft is not None
    assert recorded.draft.state == "draft"
    assert rate_in_force(unit.lot) == pytest.approx(1000)
    assert not changed(before) & {"ratings.LedgerEntry", "ratings.CurrentRating"}


def test_a_correcting_test_takes_the_place_of_the_one_it_corrects() -> None:
    unit = rated_unit()
    wrong = bench_test(unit.lot, unit.manager, rate_lbf_in=2000, at=TUESDAY)
    assert rate_in_force(unit.lot) == pytest.approx(1500)
    right = bench_test(unit.lot, unit.manager, rate_lbf_in=950, at=MONDAY, corrects=wrong.test)
    assert rate_in_force(unit.lot) == pytest.approx(975)
    assert head(unit).pull_lbf == pytest.approx(8 * 975 * 6)
    assert wrong.test not in right.rating.tests.all()


def test_a_corrected_test_stays_on_record_with_its_readings_and_its_rating() -> None:
    lot, manager = PadLotFactory(), ManagerFactory()
    wrong = bench_test(lot, manager, rate_lbf_in=2000)
    right = bench_test(lot, manager, rate_lbf_in=950, corrects=wrong.test)
    wrong.test.refresh_from_db()
    assert wrong.test.corrected_by == right.test
    assert wrong.test.readings.count() == 8
    assert wrong.test.ratings.get().rate_lbf_in == pytest.approx(2000)
    assert right.rating.rate_lbf_in == pytest.approx(950)


def test_a_test_is_corrected_once() -> None:
    lot, manager = PadLotFactory(), ManagerFactory()
    wrong = drafted_test(lot, manager).test
    drafted_test(lot, manager, corrects=wrong)
    with pytest.raises(IntegrityError), transaction.atomic():
        drafted_test(lot, manager, corrects=wrong)
    assert BenchTest.objects.count() == 2


def test_gauge_and_tape_are_kept_as_they_were_that_day() -> None:
    gauge, tape = GaugeFactory(), TapeFactory()
    test = record(PadLotFactory(), gauge=gauge, tape=tape).test
    certificate, was = gauge.certificate_number, test.instruments
    gauge.grade, gauge.span_psi, gauge.due_on = "D", 9000.0, date(2021, 1, 1)
    gauge.certificate_number = "another"
    gauge.save()
    tape.resolution_in = 1.0
    tape.save()
    test.refresh_from_db()
    assert test.instruments == was
    assert test.gauge_certificate == certificate
    assert test.is_for_rating


@pytest.mark.parametrize(
    "calibration",
    [
        {"calibrated_on": date(2025, 1, 1), "due_on": date(2026, 3, 2)},
        {"calibrated_on": date(2026, 3, 4), "due_on": date(2027, 3, 4)},
        {"calibrated_on": None},
        {"due_on": None},
    ],
    ids=["overdue", "not yet", "never", "no due date"],
)
def test_a_test_on_a_gauge_out_of_calibration_is_kept_and_rates_nothing(
    calibration: dict[str, Any],
) -> None:
    unit = rated_unit()
    gauge = GaugeFactory(**calibration)
    kept = drafted_test(unit.lot, unit.manager, rate_lbf_in=500, at=TUESDAY, gauge=gauge).test
    assert not kept.is_for_rating
    assert kept.readings.count() == 8
    later = drafted_test(unit.lot, unit.manager, rate_lbf_in=1000, at=TUESDAY).draft
    assert later is not None
    assert kept not in later.tests.all()
    assert later.rate_lbf_in == pytest.approx(1000)


def test_a_gauge_is_in_calibration_from_the_first_day_to_the_last() -> None:
    for calibrated, due in ((3, 9), (1, 3)):
        gauge = GaugeFactory(calibrated_on=date(2026, 3, calibrated), due_on=date(2026, 3, due))
        assert record(PadLotFactory(), gauge=gauge).test.is_for_rating


def test_a_lot_whose_only_test_is_out_of_calibration_gets_no_draft() -> None:
    lot = PadLotFactory()
    recorded = record(lot, gauge=GaugeFactory(due_on=date(2021, 1, 1)))
    assert recorded.draft is None
    assert not lot.ratings.exists()


def test_run_branch_and_how_it_was_done_are_kept() -> None:
    up = [CycleReading(12, 100, 2), CycleReading(14, 200, 2)]
    down = [CycleReading(14, 196, 2, Branch.UNLOADING), CycleReading(12, 96, 2, Branch.UNLOADING)]
    lot = PadLotFactory()
    test = record(
        lot,
        readings=up + down,
        conditioning_cycles=3,
        rubber_temperature_f=71.0,
        tape_after_in=10.25,
        arrangement="side by side",
        witness="Odo",
    ).test
    test.refresh_from_db()
    assert test.measured == up + down
    assert (test.conditioning_cycles, test.rubber_temperature_f) == (3, 71.0)
    assert test.permanent_set_in == pytest.approx(0.25)
    assert (test.arrangement, test.witness) == ("side by side", "Odo")
    # The mean of the branches at 2 in is 98 psi, at 4 in 198 psi.
    area_in2 = math.pi / 4 * (16 - 4)
    expected = area_in2 / 2 * (2 * 98 + 4 * 198) / (4 + 16)
    assert drafted_rate(lot) == pytest.approx(expected)


def test_a_lot_tested_to_a_short_stretch_limits_the_unit_to_it() -> None:
    unit = rated_unit()
    wrong = unit.lot.bench_tests.get()
    bench_test(unit.lot, unit.manager, to_in=4.0, at=TUESDAY, corrects=wrong)
    assert head(unit).usable_travel_in == 4.0
    assert head(unit).results["limited_by"] == "tested stretch"


def test_the_rod_end_of_a_stand_without_rod_is_refused() -> None:
    stand, lot, by = StandFactory(rod_in=0.0), PadLotFactory(), ManagerFactory()
    gauge, tape = GaugeFactory(), TapeFactory()
    before = everything()
    with pytest.raises(ValidationError) as refused:
        record(lot, stand=stand, by=by, gauge=gauge, tape=tape)
    assert "has a rod of 0 in on record" in refused.value.message_dict["end"][0]
    assert changed(before) == set()
    assert record(lot, stand=stand, end="blind").test.end == "blind"
