"""What a rehearsal says of the units it moves, and whom it holds up meanwhile."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.utils import timezone

from fleet.aside import on_a_copy
from inspections.exchange import acts, incoming
from inspections.exchange.incoming import try_register
from inspections.exchange.rows import Row
from inspections.models import Inspection
from ratings.mechanics.standing import Standing
from tests.builders import Unit, count, rated_unit
from tests.factories import ManagerFactory
from tests.inspections.exchange.test_many_rows import row_of


def count_of(unit: Unit, condition: str) -> Row:
    """A count of today in which every pad is in a condition."""
    row = row_of(unit.housing.mark, 0, 1, seen_at=timezone.now() - timedelta(minutes=1))
    row.values["travel_in"] = unit.housing.travel_in
    row.parts = [
        Row(
            "pads",
            1,
            {
                "count": row.values["count"],
                "side": side,
                "number": number,
                "condition": condition,
                "lot": "",
            },
        )
        for side, number in unit.housing.position_keys
    ]
    return row


@pytest.mark.django_db
def test_a_rehearsal_names_a_unit_that_would_meet_its_listing_no_more() -> None:
    unit = rated_unit()
    unit.housing.refresh_from_db()
    head = unit.housing.current_rating.head
    trial = try_register([count_of(unit, "cracked")], ManagerFactory())
    (moved,) = trial.moves
    assert (moved.housing, moved.before.standing) == (unit.housing.mark, head.standing)
    assert moved.before.capacity_lbf == head.working_capacity_lbf
    assert moved.after.standing != Standing.MEETS_LISTING
    assert moved.stops is (head.standing == Standing.MEETS_LISTING)
    assert not Inspection.objects.filter(seen_at__date=timezone.localdate()).exists()


@pytest.mark.django_db
def test_a_rehearsal_names_no_unit_that_another_moves_meanwhile(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    own, others, by = rated_unit(), rated_unit(), ManagerFactory()
    record: Callable[..., Any] = acts.put_on_record

    def meanwhile(*given: Any) -> Any:
        count(others.housing, others.manager, others.lot, unsound={"A1": "cracked"})
        return record(*given)

    monkeypatch.setattr(incoming, "put_on_record", meanwhile)
    trial = try_register([count_of(own, "cracked")], by)
    assert [each.housing for each in trial.moves] == [own.housing.mark]


@pytest.mark.django_db(transaction=True)
def test_somebody_signs_while_a_register_is_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("others are held up on SQLite alone, where one writer locks all")
    unit = rated_unit()
    unit.housing.refresh_from_db()
    by, told = ManagerFactory(), []
    path = connection.settings_dict["NAME"]
    record: Callable[..., Any] = acts.put_on_record

    def meanwhile(*given: Any) -> Any:
        outcome = record(*given)
        with closing(sqlite3.connect(path, timeout=0)) as another:
            another.execute("UPDATE fleet_yard SET place = 'signed meanwhile'")
            another.commit()
            told.append(outcome)
        return outcome

    monkeypatch.setattr(incoming, "put_on_record", meanwhile)
    trial = try_register([count_of(unit, "cracked")], by)
    assert (trial.news, told) == (1, ["new"])
    assert Inspection.objects.filter(seen_at__date=timezone.localdate()).count() == 0
    unit.housing.yard.refresh_from_db()
    assert unit.housing.yard.place == "signed meanwhile"


@pytest.mark.django_db(transaction=True)
def test_a_copy_is_gone_after_an_error_and_so_is_one_left_behind() -> None:
    if connection.vendor != "sqlite":
        pytest.skip("only SQLite is copied")
    folder = Path(connection.settings_dict["NAME"]).parent
    old, new = (folder / name for name in ("trial-old", "trial-new"))
    for each in (old, new):
        each.mkdir()
    os.utime(old, (0, 0))
    copies: list[Path] = []

    def fail() -> None:
        with on_a_copy():
            copies.append(Path(connection.settings_dict["NAME"]))
            assert copies[0].is_file()
            raise ValueError("It can't be tried.")

    with pytest.raises(ValueError, match="can't be tried"):
        fail()
    assert copies[0].parent.parent == folder
    assert not copies[0].parent.exists()
    assert not old.exists()
    assert new.exists()
    new.rmdir()
