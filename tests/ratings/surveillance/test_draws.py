"""How many pads are still to be drawn, and by when."""

from __future__ import annotations

import uuid
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from fleet import clock
from fleet.models import PadPosition, StockMove
from fleet.stock import move_stock
from ratings.surveillance.draws import DrawsDue, draws_due
from ratings.surveillance.plans import set_plan
from tests.builders import count
from tests.factories import PadLotFactory
from tests.ratings.surveillance.drawn import Bench, day

pytestmark = pytest.mark.django_db


def planned(pads: int = 4, at: datetime | None = None, of_all: bool = False) -> Bench:
    """A lot whose pads fill a housing of eight, and its plan since a day."""
    bench = Bench()
    count(bench.housings[0], bench.by, bench.lot)
    plan(bench, pads, at or day(2024), of_all=of_all)
    return bench


def plan(bench: Bench, pads: int, at: datetime, of_all: bool = False) -> None:
    with clock.set_to(at):
        set_plan(
            submission_id=uuid.uuid4(),
            lot=None if of_all else bench.lot,
            pads_a_year=pads,
            reason="To see it soften.",
            by=bench.by,
        )


@pytest.fixture
def today(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Hold the day that what is due is judged by."""

    def hold(at: datetime) -> None:
        monkeypatch.setattr(
            "ratings.surveillance.draws.timezone.localdate",
            lambda value=None: at.date() if value is None else value.date(),
        )

    return hold


def due(bench: Bench) -> DrawsDue:
    [found] = draws_due([bench.lot])
    return found


def test_the_first_pads_are_due_a_year_after_the_plan(today: Any) -> None:
    bench = planned(4)
    today(day(2024, 6))
    found = due(bench)
    assert (found.owed, found.due_on) == (4, day(2024).date() + timedelta(days=365))
    assert (found.is_overdue, found.is_soon) == (False, False)
    assert found.words == "4 pads to draw by 2 Mar 2025 (0 drawn in the last year)"


@pytest.mark.parametrize(
    ("at", "is_soon", "is_overdue"),
    [(day(2025, 1), False, False), (day(2025, 2), True, False), (day(2025, 4), False, True)],
)
def test_they_are_told_a_month_before_and_overdue_after(
    today: Any, at: datetime, is_soon: bool, is_overdue: bool
) -> None:
    bench = planned(4)
    today(at)
    assert (due(bench).is_soon, due(bench).is_overdue) == (is_soon, is_overdue)


def test_each_pad_drawn_is_one_less_and_they_come_due_again_a_year_after(today: Any) -> None:
    bench = planned(2)
    today(day(2025))
    bench.drawn(1000.0, day(2024, 8), "P1")
    assert (due(bench).owed, due(bench).drawn) == (1, 1)
    bench.drawn(1000.0, day(2024, 11), "P2")
    found = due(bench)
    assert (found.owed, found.due_on) == (1, day(2024, 8).date() + timedelta(days=365))
    assert found.drawn == 2


def test_all_drawn_on_one_day_are_all_due_again_a_year_on(today: Any) -> None:
    bench = planned(2)
    today(day(2025))
    for mark in ("P1", "P2"):
        bench.drawn(1000.0, day(2024, 8), mark)
    assert (due(bench).owed, due(bench).due_on) == (
        2,
        day(2024, 8).date() + timedelta(days=365),
    )


def test_the_same_pad_a_year_later_but_for_a_day_is_drawn_again(today: Any) -> None:
    bench = planned(1)
    today(day(2026))
    bench.drawn(1000.0, day(2024, 8), "P1")
    bench.drawn(1000.0, day(2025, 8) - timedelta(days=1), "P1")
    assert due(bench).due_on == day(2025, 8).date() - timedelta(days=1) + timedelta(days=365)


def test_the_same_pad_tested_twice_in_months_is_drawn_once(today: Any) -> None:
    bench = planned(2)
    today(day(2025))
    for month in (8, 9):
        bench.drawn(1000.0, day(2024, month), "P1")
    assert (due(bench).owed, due(bench).drawn) == (1, 1)


def test_new_pads_are_no_draws(today: Any) -> None:
    bench = planned(2)
    today(day(2025))
    bench.new(1000.0, day(2024, 8), "P1")
    assert due(bench).owed == 2


def test_a_corrected_test_draws_nothing(today: Any) -> None:
    bench = planned(2)
    today(day(2025))
    wrong = bench.drawn(1000.0, day(2024, 8), "P1")
    bench.new(1000.0, day(2024, 8), "P1", corrects=wrong.test)
    assert due(bench).owed == 2


def test_making_the_plan_anew_puts_off_nothing(today: Any) -> None:
    bench = planned(4)
    plan(bench, 6, day(2024, 9))
    plan(bench, 4, day(2025))
    today(day(2025, 4))
    assert due(bench).due_on == day(2024).date() + timedelta(days=365)
    assert due(bench).is_overdue


def test_asking_for_more_leaves_a_year_to_draw_them(today: Any) -> None:
    bench = planned(1)
    today(day(2026, 1))
    bench.drawn(1000.0, day(2025, 8), "P1")
    plan(bench, 3, day(2026, 1))
    assert (due(bench).owed, due(bench).due_on) == (
        3,
        day(2026, 1).date() + timedelta(days=365),
    )


def test_a_lot_fitted_after_the_plan_has_a_year_from_then(today: Any) -> None:
    bench = planned(2, of_all=True)
    today(day(2024, 9))
    for kind, change in ((StockMove.Kind.RECEIVED, 8), (StockMove.Kind.FITTED, -8)):
        move_stock(
            lot_id=bench.lot.pk, kind=kind, change=change, occurred_at=day(2024, 8), by=bench.by
        )
    assert due(bench).due_on == day(2024, 8).date() + timedelta(days=365)


def test_of_a_lot_in_no_housing_nothing_is_asked(today: Any) -> None:
    bench = planned(4)
    PadPosition.objects.filter(lot=bench.lot).update(lot=None, condition="missing")
    today(day(2026))
    assert (due(bench).owed, due(bench).due_on, due(bench).words) == (0, None, "")


def test_no_more_are_asked_than_are_fitted(today: Any) -> None:
    bench = planned(20)
    today(day(2024, 6))
    assert due(bench).owed == 8


@pytest.mark.parametrize("pads", [0, None])
def test_without_a_plan_or_with_a_plan_for_none_nothing_is_asked(pads: int | None) -> None:
    bench = planned(0) if pads == 0 else Bench()
    assert due(bench).due_on is None


def test_the_most_pressing_lot_comes_first(today: Any) -> None:
    late, later = planned(2, day(2023)), planned(2, day(2024))
    today(date_of := day(2025))
    PadLotFactory(mark="0 never fitted")
    assert [each.lot for each in draws_due()][:2] == [late.lot, later.lot]
    assert draws_due()[0].today == date(date_of.year, date_of.month, date_of.day)
