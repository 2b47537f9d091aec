from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.apps import apps
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet import clock, unchanged
from fleet.journal.scope import is_journaled
from fleet.journal.sequence import give_places
from fleet.models import Yard
from fleet.models.leaf import Leaf
from fleet.unchanged import as_recorded
from inspections.first_steps.steps import done_on_record
from inspections.schedule.pressing import pressing_of_fleet
from inspections.units.board import fleet_told, rows_told, worst_first
from ratings.surveillance.draws import draws_due
from ratings.surveillance.words import softenings
from tests.builders import Unit, rated_unit
from tests.factories import YardFactory

KEPT: dict[Callable[..., Any], Callable[[Unit], tuple[Any, ...]]] = {
    **dict.fromkeys(
        (pressing_of_fleet, fleet_told, worst_first, draws_due, softenings, done_on_record),
        lambda unit: (),
    ),
    rows_told: lambda unit: ((unit.housing.pk,), "us"),
}
# Written only beside rows that are journaled, in one transaction with them.
BESIDE_JOURNALED = {"fleet_padposition", "ratings_currentrating"}

asked: list[int] = []


def how_many_yards() -> int:
    """Return how many yards there are, and note that it was asked."""
    asked.append(1)
    return Yard.objects.count()


def how_many_yards_named(name: str) -> int:
    """Return how many yards bear a name, and note that it was asked."""
    asked.append(1)
    return Yard.objects.filter(name=name).count()


def known() -> int:
    return as_recorded().once(how_many_yards)


@pytest.fixture(autouse=True)
def _nothing_known() -> Iterator[None]:
    asked.clear()
    unchanged.forget()
    yield
    unchanged.forget()


@pytest.mark.django_db(transaction=True)
def test_it_is_found_once_until_something_is_recorded() -> None:
    YardFactory()
    assert [known(), known()] == [1, 1]
    assert len(asked) == 1
    YardFactory()
    assert [known(), known()] == [2, 2]
    assert len(asked) == 2


@pytest.mark.django_db(transaction=True)
def test_a_change_and_a_removal_are_recorded_too() -> None:
    yard = YardFactory()
    known()
    Yard.objects.filter(pk=yard.pk).update(place="By the other quay")
    known()
    assert len(asked) == 2
    yard.delete()
    assert known() == 0


@pytest.mark.django_db(transaction=True)
def test_a_transaction_that_ends_after_later_ones_is_seen() -> None:
    newest = Leaf.objects.order_by("-pk")[0]
    line = {"model": "fleet.yard", "row_key": "0", "what": Leaf.What.RECORDED, "document": "{}"}

    def write(number: int) -> None:
        Leaf.objects.create(
            pk=newest.pk + number, leaf_hash=f"{number:064}", recorded_at=clock.now(), **line
        )

    write(5)
    known()
    write(1)
    known()
    assert len(asked) == 2


@pytest.mark.django_db(transaction=True)
def test_lines_that_are_given_their_places_change_nothing() -> None:
    YardFactory()
    known()
    give_places()
    known()
    assert len(asked) == 1


@pytest.mark.django_db(transaction=True)
def test_it_is_found_once_for_each_thing_it_is_asked_with() -> None:
    YardFactory(name="Quay")
    kept = as_recorded()
    assert [kept.once(how_many_yards_named, name) for name in ("Quay", "Pier", "Quay")] == [1, 0, 1]
    assert len(asked) == 2


@pytest.mark.django_db(transaction=True)
def test_on_another_day_it_is_found_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    YardFactory()
    known()
    tomorrow = timezone.localdate() + timedelta(days=1)
    monkeypatch.setattr(timezone, "localdate", lambda: tomorrow)
    known()
    assert len(asked) == 2


@pytest.mark.django_db(transaction=True)
def test_what_was_altered_behind_the_sites_back_shows_a_minute_later(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    YardFactory()
    known()
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM fleet_yard")
    assert known() == 1
    later = time.monotonic() + unchanged.KEPT_SECONDS
    monkeypatch.setattr(unchanged, "monotonic", lambda: later)
    assert known() == 0


@pytest.mark.django_db(transaction=True)
def test_what_a_transaction_wrote_and_undid_is_not_kept() -> None:
    YardFactory()
    known()
    with transaction.atomic():
        YardFactory()
        assert known() == 2
        transaction.set_rollback(True)
    assert known() == 1


@pytest.mark.django_db(transaction=True)
def test_what_is_asked_of_a_past_moment_is_not_kept() -> None:
    YardFactory()
    with clock.set_to(clock.now() - timedelta(days=3)):
        known()
    known()
    assert len(asked) == 2


@pytest.mark.django_db
@pytest.mark.parametrize("find", KEPT)
def test_what_is_kept_asks_only_of_what_the_journal_tells(find: Callable[..., Any]) -> None:
    given = KEPT[find](rated_unit())
    with CaptureQueriesContext(connection) as queries:
        find(*given)
    tables = {
        name
        for each in queries.captured_queries
        for name in re.findall(r'(?:FROM|JOIN) "(\w+)"', each["sql"])
    }
    by_table = {model._meta.db_table: model for model in apps.get_models(True)}
    assert tables
    assert {name for name in tables if not is_journaled(by_table[name])} <= BESIDE_JOURNALED


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("page", ["board", "due"])
def test_pages_keep_nothing_else(page: str) -> None:
    client = Client()
    client.force_login(rated_unit().manager)
    client.get(reverse(page))
    (kept,) = (found._known for found in unchanged._by_database.values())
    assert kept
    assert {find for find, *_ in kept} <= set(KEPT)
