from __future__ import annotations

import math
import uuid
from datetime import timedelta
from typing import Any

import pytest

from fleet.models import PadLot
from ratings.ledger.facts import current_lot_ratings
from ratings.mechanics.bench import BenchReading, ReadingError
from ratings.models import BenchTest, CurrentRating, LedgerEntry, LotRating
from ratings.recording.bench import record_bench_test
from tests.builders import MONDAY, Unit, bench_test, count, rated_unit
from tests.factories import ManagerFactory, PadLotFactory
from tests.factories import TestStandFactory as StandFactory
from tests.recording.everything import changed, everything

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + timedelta(days=1)
RISING = [BenchReading(11.0, 100.0), BenchReading(12.0, 200.0)]


def record(lot: PadLot, **more: Any) -> Any:
    what = {
        "submission_id": uuid.uuid4(),
        "end": "rod",
        "pads_in_test": 2,
        "tape_datum_in": 10.0,
        "gauge_zero_psi": 0.0,
        "tested_at": TUESDAY,
        "readings": RISING,
    }
    if "stand" not in more:
        more["stand"] = StandFactory(bore_in=4.0, rod_in=2.0)
    if "by" not in more:
        more["by"] = ManagerFactory()
    return record_bench_test(lot=lot, **what | more)


def rate_in_force(lot: PadLot) -> float:
    return current_lot_ratings([lot.pk])[lot.pk].rate_lbf_in


def head(unit: Unit) -> LedgerEntry:
    return CurrentRating.objects.get(housing=unit.housing).head


def test_the_lot_is_rated_by_area_zero_and_pads_that_share_the_load() -> None:
    lot = PadLotFactory()
    record(lot, gauge_zero_psi=20.0, readings=[BenchReading(11, 120), BenchReading(12, 220)])
    # 100 psi each inch on the ring of a 4 in bore round a 2 in rod, shared by two.
    assert rate_in_force(lot) == pytest.approx(100 * math.pi / 4 * (16 - 4) / 2)


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
    lot, submission_id, stand = PadLotFactory(), uuid.uuid4(), StandFactory()
    by = ManagerFactory()
    first = record(lot, submission_id=submission_id, stand=stand, by=by)
    before = everything()
    second = record(lot, submission_id=submission_id, stand=stand, by=by, pads_in_test=1)
    assert second.test == first.test
    assert changed(before) == set()


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ([BenchReading(9.0, 100.0), RISING[1]], "below the datum"),
        ([BenchReading(11.0, 300.0), RISING[1]], "pressure falls"),
        ([RISING[0]], "give two or more"),
        ([], "give two or more"),
        ([BenchReading(10.0, 5.0), BenchReading(10.0, 6.0)], "0 in every reading"),
        ([BenchReading(math.nan, 5.0), RISING[1]], "give a finite number"),
        ([BenchReading(11.0, -5.0), RISING[1]], "give 0 psi or more"),
        ([BenchReading(11.0, 1e-300), BenchReading(12.0, 1e-300)], "force"),
        ([BenchReading(10.0 + 1e-9, 1e4), BenchReading(10.0 + 2e-9, 2e4)], "below 1,000,000,000"),
        ([BenchReading(14.0, 1e6), BenchReading(18.0, 2e6)], "force_lbf is"),
    ],
)
def test_readings_that_cannot_be_reduced_leave_nothing_behind(
    readings: list[BenchReading], words: str
) -> None:
    unit, stand, by = rated_unit(), StandFactory(), ManagerFactory()
    before = everything()
    with pytest.raises(ValueError, match=words):
        record(unit.lot, readings=readings, stand=stand, by=by)
    assert changed(before) == set()


def test_a_reading_that_cannot_be_says_which_one_it_is() -> None:
    with pytest.raises(ReadingError) as trouble:
        record(PadLotFactory(), readings=[RISING[0], BenchReading(9.5, 10.0)])
    assert (trouble.value.index, trouble.value.field) == (1, "tape_in")
    assert not BenchTest.objects.exists()


def test_an_error_in_one_unit_s_ledger_undoes_the_rating_of_the_lot(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit, by, stand = rated_unit(), ManagerFactory(), StandFactory()
    before = everything()

    def fail(_: Any) -> None:
        assert LotRating.objects.filter(lot=unit.lot).count() == 2
        raise RuntimeError("the reckoning broke")

    monkeypatch.setattr("ratings.ledger.posting.rate_unit", fail)
    with pytest.raises(RuntimeError):
        record(unit.lot, stand=stand, by=by)
    assert changed(before) == set()


def test_every_housing_that_holds_the_lot_is_re_rated_by_the_same_test() -> None:
    first, second = rated_unit(), rated_unit()
    count(second.housing, second.manager, first.lot, at=TUESDAY)
    rated = bench_test(first.lot, first.manager, rate_lbf_in=900, at=TUESDAY)
    assert {entry.housing_id for entry in rated.entries} == {first.housing.pk, second.housing.pk}
    assert head(first).pull_lbf == head(second).pull_lbf == pytest.approx(8 * 900 * 6)
    assert {entry.contents["cause"]["record"] for entry in rated.entries} == {rated.test.pk}


def test_an_unsound_pad_of_the_lot_counts_as_held() -> None:
    unit = rated_unit(unsound={"A1": "cracked"})
    other = PadLotFactory()
    count(unit.housing, unit.manager, other, unsound={"A1": "cracked"}, at=TUESDAY)
    rated = bench_test(other, unit.manager, rate_lbf_in=900, at=TUESDAY)
    assert [entry.housing for entry in rated.entries] == [unit.housing]


def test_a_correcting_test_takes_the_place_of_the_one_it_corrects() -> None:
    unit = rated_unit()
    wrong = bench_test(unit.lot, unit.manager, rate_lbf_in=2000, at=TUESDAY)
    # Dated before the test it corrects, and in force all the same.
    right = bench_test(
        unit.lot,
        unit.manager,
        rate_lbf_in=950,
        at=MONDAY + timedelta(hours=1),
        corrects=wrong.test,
    )
    assert rate_in_force(unit.lot) == pytest.approx(950)
    assert head(unit).pull_lbf == pytest.approx(8 * 950 * 6)
    assert right.entries[0].corrects == wrong.entries[0]
    assert "corrects bench test" in right.entries[0].cause_words


def test_a_test_that_corrects_an_older_one_leaves_a_newer_one_in_force() -> None:
    unit = rated_unit()
    first = unit.lot.bench_tests.get()
    bench_test(unit.lot, unit.manager, rate_lbf_in=900, at=TUESDAY)
    bench_test(unit.lot, unit.manager, rate_lbf_in=800, at=MONDAY, corrects=first)
    assert rate_in_force(unit.lot) == pytest.approx(900)


def test_a_corrected_test_stays_on_record_with_its_readings() -> None:
    lot, manager = PadLotFactory(), ManagerFactory()
    wrong = bench_test(lot, manager, rate_lbf_in=2000).test
    right = bench_test(lot, manager, rate_lbf_in=950, corrects=wrong).test
    wrong.refresh_from_db()
    assert wrong.corrected_by == right
    assert wrong.readings.count() == 4
    assert wrong.rating.rate_lbf_in == pytest.approx(2000)


def test_the_ledger_keeps_which_test_each_rate_came_from() -> None:
    unit = rated_unit()
    again = bench_test(unit.lot, unit.manager, rate_lbf_in=900, at=TUESDAY)
    tests = head(unit).contents["provenance"]["bench_tests"]
    assert tests == {unit.lot.mark: again.test.pk}


def test_a_lot_tested_to_a_short_stretch_limits_the_unit_to_it() -> None:
    unit = rated_unit()
    bench_test(unit.lot, unit.manager, to_in=4.0, at=TUESDAY)
    assert head(unit).usable_travel_in == 4.0
    assert head(unit).results["limited_by"] == "tested stretch"
