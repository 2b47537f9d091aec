"""Rows recorded together come to what they would one by one, and each costs the same."""

from __future__ import annotations

import random
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection

from fleet import together
from fleet.models import PadPosition, SuppressorHousing
from inspections.count.newest_facts import settle
from inspections.count.signing import PadSeen, Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.exchange.incoming import REFUSED, take_register, try_register
from inspections.exchange.rows import Row
from inspections.models import Inspection
from ratings.models import LedgerEntry
from ratings.mounting import mount_housing
from tests.builders import rated_unit
from tests.factories import HammerFactory, HousingFactory, ManagerFactory, PadLotFactory

pytestmark = pytest.mark.django_db
BEGUN = datetime(2024, 1, 1, 12, tzinfo=UTC)
SIDES = [(side, number) for side in "AB" for number in range(1, 5)]


def hung(mark: str) -> SuppressorHousing:
    housing = HousingFactory(mark=mark, positions_per_side=4)
    hammer = HammerFactory(mark=f"V-{mark}", yard=housing.yard)
    mount_housing(housing=housing, hammer=hammer, at=BEGUN, by=ManagerFactory())
    return housing


def row_of(mark: str, day: int, line: int, condition: str = "sound", **values: Any) -> Row:
    """A count of every pad, the first in a condition."""
    said = {
        "count": f"{mark} {line}",
        "housing": mark,
        "hammer": "",
        "clamp": "",
        "power_pack": "",
        "seen_at": BEGUN + timedelta(days=day),
        "kind": "pad count",
        "travel_in": 7.5 + line % 3 / 10,
        "travel_reason": "",
        "hours": None,
        "pack_hours": None,
        "weather": "",
        "note": "",
        "sound_again_reason": "",
        **values,
    }
    parts = [
        Row(
            "pads",
            line,
            {"count": said["count"], "side": s, "number": n, "condition": c, "lot": ""},
        )
        for (s, n), c in zip(SIDES, [condition, *["sound"] * 7], strict=True)
    ]
    return Row("counts", line, said, parts)


@contextmanager
def queries() -> Iterator[list[str]]:
    told: list[str] = []

    def tell(execute: Callable[..., Any], sql: str, *rest: Any) -> Any:
        told.append(sql)
        return execute(sql, *rest)

    with connection.execute_wrapper(tell):
        yield told


def state_of(housing: SuppressorHousing) -> list[tuple[Any, ...]]:
    fields = "side", "number", "condition", "lot", "seen_at", "was", "said_sound_at"
    housing.refresh_from_db()
    pads = PadPosition.objects.filter(housing=housing).order_by("side", "number")
    return [*pads.values_list(*fields), (housing.travel_in, housing.travel_seen_at)]


@pytest.mark.parametrize("seed", range(6))
def test_rows_recorded_together_leave_a_housing_as_its_facts_say(seed: int) -> None:
    chance, housing, by = random.Random(seed), hung("H-1"), ManagerFactory()
    lots = [PadLotFactory().pk, PadLotFactory().pk, None]
    before = [chance.randrange(40) for _ in range(3)]
    days = [*before, *(chance.randrange(40) for _ in range(14))]
    signed: list[Inspection] = []

    def sign(day: int) -> None:
        pads = [
            PadSeen(s, n, condition, None if condition == "missing" else chance.choice(lots))
            for s, n in SIDES
            for condition in [chance.choice(["sound", "sound", "cracked", "missing"])]
        ]
        seen = Seen(
            BEGUN + timedelta(days=day),
            pads if chance.random() < 0.8 else [],
            travel_in=chance.choice([None, 7.0, 7.25]),
            note="seen",
            sound_again_reason="Wiped clean: only dirt",
        )
        done = sign_inspection(
            housing=housing, submission=Submission(uuid.uuid4()), seen=seen, by=by
        )
        signed.append(done.inspection)

    for day in before:
        sign(day)
    with together.recorded_together():
        for day in days[3:]:
            sign(day)
        together_came_to = state_of(housing)
    settle(housing)
    assert together_came_to == state_of(housing)


def test_a_row_refused_leaves_nothing_behind_in_the_rows_after_it() -> None:
    housing, by = hung("H-1"), ManagerFactory()
    rows = [
        row_of("H-1", 1, 1, "cracked", hours=100.0),
        row_of("H-1", 2, 2, "missing", hours=50.0),
        row_of("H-1", 3, 3, "cracked"),
    ]
    trial = try_register(rows, by)
    assert [fate.outcome for fate in trial.fates].count(REFUSED) == 1
    take_register([rows[0], rows[2]], by)
    together_came_to = state_of(housing)
    settle(housing)
    assert together_came_to == state_of(housing)


def test_the_ledger_reads_as_if_rows_were_signed_one_by_one() -> None:
    unit, by = rated_unit(), ManagerFactory()
    mark = unit.housing.mark
    per_side = unit.housing.positions_per_side
    rows = []
    for line, condition in enumerate(("cracked", "cracked", "sound"), start=1):
        row = row_of(mark, 10 * line, line, condition)
        row.parts = [part for part in row.parts if part.values["number"] <= per_side]
        rows.append(row)
    before = LedgerEntry.objects.count()
    take_register(rows, by)
    heads = LedgerEntry.objects.order_by("pk").values_list("cause_record", flat=True)[before:]
    seen = Inspection.objects.filter(seen_at__lt=BEGUN + timedelta(days=31)).order_by("seen_at")
    assert set(heads) <= {each.pk for each in seen}


def test_a_row_costs_the_same_however_many_went_before_it() -> None:
    hung("H-1")
    by = ManagerFactory()
    few = [row_of("H-1", day, day, "cracked") for day in range(1, 6)]
    many = [row_of("H-1", day, day, "cracked") for day in range(1, 26)]
    with queries() as of_few:
        try_register(few, by)
    with queries() as of_many:
        try_register(many, by)
    rows_of_pads = sum("inspections_padcount" in sql and "SELECT" in sql for sql in of_many)
    assert len(of_many) <= 5.5 * len(of_few)
    # One look a row; a second where the trial is no copy of the database, as on PostgreSQL.
    assert rows_of_pads <= 2 * len(many) + 2
