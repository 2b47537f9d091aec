"""Rows recorded together come to what they would one by one, and each costs the same."""

from __future__ import annotations

import random
import uuid
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import connection, transaction

from fleet import together
from fleet.models import PadPosition, SuppressorHousing
from inspections.count import signing
from inspections.count.newest_facts import settle
from inspections.count.signing import PadSeen, Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.exchange.acts import NEW, put_on_record
from inspections.exchange.incoming import REFUSED, _take, take_register, try_register
from inspections.exchange.rows import Row
from inspections.models import Inspection
from ratings.ledger.posting import post
from ratings.models import LedgerEntry
from ratings.mounting import mount_housing
from tests.builders import MONDAY, Unit, rated_unit
from tests.factories import HammerFactory, HousingFactory, ManagerFactory, PadLotFactory

pytestmark = pytest.mark.django_db
BEGUN = datetime(2024, 1, 1, 12, tzinfo=UTC)
Pads = Mapping[tuple[str, int], str]
SIDES = [(side, number) for side in "AB" for number in range(1, 5)]


def hung(mark: str) -> SuppressorHousing:
    housing = HousingFactory(mark=mark, positions_per_side=4)
    hammer = HammerFactory(mark=f"V-{mark}", yard=housing.yard)
    mount_housing(housing=housing, hammer=hammer, at=BEGUN, by=ManagerFactory())
    return housing


def row_of(
    mark: str,
    day: int,
    line: int,
    condition: str = "sound",
    others: Pads | None = None,
    **values: Any,
) -> Row:
    """A count of every pad, the first in a condition, and others in theirs."""
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
    conditions = dict.fromkeys(SIDES, "sound") | {SIDES[0]: condition} | dict(others or {})
    parts = [
        Row(
            "pads",
            line,
            {"count": said["count"], "side": s, "number": n, "condition": c, "lot": ""},
        )
        for (s, n), c in conditions.items()
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


def rows_after_monday(unit: Unit) -> list[Row]:
    """A pad found cracked, then missing with another, then sound.

    The last gives no reason, and saw one more pad cracked.
    """

    def row(line: int, condition: str, others: Pads | None = None, **values: Any) -> Row:
        at = MONDAY + timedelta(days=line)
        made = row_of(
            unit.housing.mark, 0, line, condition, others, seen_at=at, travel_in=6.0, **values
        )
        made.keeps_lots = True
        return made

    return [
        row(1, "cracked"),
        row(2, "missing", {("A", 2): "missing"}),
        row(3, "sound", {("B", 2): "cracked"}),
    ]


def come_to(record: Callable[[], object], unit: Unit) -> dict[str, Any]:
    """What a unit is after something is recorded, of which nothing is kept."""
    entries = LedgerEntry.objects.filter(housing=unit.housing).order_by("sequence")
    told = "cause", "standing", "working_capacity_lbf", "sound_pads", "occurred_at"
    with transaction.atomic():
        record()
        found = {"pads": state_of(unit.housing), "entries": list(entries.values_list(*told))}
        transaction.set_rollback(True)
    return found


def one_by_one(rows: list[Row], by: User) -> None:
    """Record rows with nothing held from one to the next."""
    for row in rows:
        with suppress(ValidationError), transaction.atomic():
            put_on_record(row, by)


def test_a_row_that_says_sound_without_a_reason_loses_nothing_else_that_it_saw() -> None:
    unit, by = rated_unit(), ManagerFactory()
    cracked, _, sound = rows_after_monday(unit)

    def look() -> None:
        take_register([cracked, sound], by)
        pads = {
            (pad.side, pad.number): pad for pad in PadPosition.objects.filter(housing=unit.housing)
        }
        assert pads["B", 2].condition == "cracked"
        assert pads["A", 1].condition == "cracked"
        assert pads["A", 1].said_sound_at == sound.values["seen_at"]
        head = LedgerEntry.objects.filter(housing=unit.housing).latest("sequence")
        assert head.sound_pads == 6
        settled = state_of(unit.housing)
        settle(unit.housing)
        assert state_of(unit.housing) == settled

    taken = come_to(look, unit)
    assert taken == come_to(lambda: one_by_one([cracked, sound], by), unit)


def test_a_row_refused_leaves_nothing_behind_in_the_rows_after_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit, by = rated_unit(), ManagerFactory()
    rows = rows_after_monday(unit)
    rows[2].values["sound_again_reason"] = "Wiped clean: only dirt"

    def refuse_second(*given: Any, occurred_at: datetime, **named: Any) -> Any:
        """Refuse a row once its pads were settled."""
        if occurred_at == rows[1].values["seen_at"]:
            raise ValidationError("It can't be posted.")
        return post(*given, occurred_at=occurred_at, **named)

    monkeypatch.setattr(signing, "post", refuse_second)

    def take() -> None:
        trial = _take(rows, by)
        assert [fate.outcome for fate in trial.fates] == [NEW, REFUSED, NEW]

    taken = come_to(take, unit)
    assert taken == come_to(lambda: one_by_one(rows, by), unit)
    assert taken == come_to(lambda: one_by_one([rows[0], rows[2]], by), unit)


def test_the_ledger_reads_as_if_rows_were_signed_one_by_one() -> None:
    unit, by = rated_unit(), ManagerFactory()
    rows = rows_after_monday(unit)
    before = LedgerEntry.objects.count()
    taken = come_to(lambda: take_register(rows, by), unit)
    assert len(taken["entries"]) == before + len(rows)
    assert taken == come_to(lambda: one_by_one(rows, by), unit)


def test_a_machine_is_locked_before_its_lots_are_read() -> None:
    unit, by = rated_unit(), ManagerFactory()
    row = rows_after_monday(unit)[0]
    with queries() as told:
        take_register([row], by)
    locked = next(
        place for place, sql in enumerate(told) if 'WHERE "fleet_suppressorhousing"."id" =' in sql
    )
    read = next(place for place, sql in enumerate(told) if 'FROM "inspections_padcount"' in sql)
    assert locked < read


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
