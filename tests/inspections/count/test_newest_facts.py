from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from itertools import permutations

import pytest

from fleet.models import PadLot
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.submission import Submission
from ratings.models import CurrentRating
from tests.builders import MONDAY, Unit, bench_test, count, rated_unit, receive
from tests.factories import PadLotFactory

pytestmark = pytest.mark.django_db
State = tuple[dict[str, tuple[str, str | None]], float | None]


def state(unit: Unit) -> State:
    unit.housing.refresh_from_db()
    positions = unit.housing.positions.select_related("lot")
    return (
        {str(each): (each.condition, each.lot.mark if each.lot else None) for each in positions},
        unit.housing.travel_in,
    )


def counted(unit: Unit, day: int, faults: dict[str, str], travel_in: float | None) -> None:
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound=faults,
        travel_in=travel_in,
        at=MONDAY + timedelta(days=day),
    )


def replaced(unit: Unit, day: int, side: str, number: int, lot: PadLot) -> None:
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=MONDAY + timedelta(days=day),
        pads=[PadFitted(side, number, lot.pk)],
        by=unit.manager,
    )


def story(unit: Unit, other: PadLot) -> list[Callable[[], None]]:
    """Two counts with a repair after each: A1 and A2 got new pads, the last count saw B1 gone."""
    return [
        lambda: counted(unit, 1, {"A1": "cracked", "A2": "cracked"}, 5.0),
        lambda: replaced(unit, 2, "A", 1, other),
        lambda: counted(unit, 3, {"A2": "debonded", "B1": "missing"}, None),
        lambda: replaced(unit, 4, "A", 2, other),
    ]


@pytest.mark.parametrize("order", list(permutations(range(4))))
def test_the_same_facts_in_any_order_leave_the_same_unit(order: tuple[int, ...]) -> None:
    unit, other = rated_unit(), PadLotFactory()
    bench_test(other, unit.manager, rate_lbf_in=800)
    receive(other, unit.manager, 2)
    facts = story(unit, other)
    for place in order:
        facts[place]()
    positions, travel_in = state(unit)
    # The count of day 3 saw the first lot in A1, whatever was fitted on day 2.
    expected: dict[str, tuple[str, str | None]] = dict.fromkeys(positions, ("sound", unit.lot.mark))
    expected |= {"A2": ("sound", other.mark), "B1": ("missing", None)}
    assert positions == expected
    assert travel_in == 5.0
    head = CurrentRating.objects.get(housing=unit.housing).head
    assert head.pull_lbf == pytest.approx(6 * 1000 * 5 + 800 * 5)


def test_of_two_counts_at_the_same_time_the_one_recorded_later_stands() -> None:
    unit = rated_unit()
    counted(unit, 1, {"A1": "cracked"}, 5.0)
    counted(unit, 1, {"A2": "cracked"}, 4.0)
    positions, travel_in = state(unit)
    assert positions["A1"][0] == "sound"
    assert positions["A2"][0] == "cracked"
    assert travel_in == 4.0


def test_a_position_says_when_its_fact_was_seen() -> None:
    unit = rated_unit(in_stock=1)
    replaced(unit, 2, "B", 3, unit.lot)
    at = {str(each): each.seen_at for each in unit.housing.positions.all()}
    assert at["B3"] == MONDAY + timedelta(days=2)
    assert at["B2"] == MONDAY
