"""Nothing ever comes behind a cursor that was given out, however long it took to be recorded."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection, transaction

from inspections.api import settled
from inspections.models import Photo
from tests.builders import count, rated_unit
from tests.factories import AuditorFactory, YardFactory
from tests.inspections.api.asking import Program, program_of

on_postgresql = pytest.mark.skipif(
    "connection.vendor != 'postgresql'", reason="SQLite lets one write at a time"
)


def read(program: Program, path: str, **asked: Any) -> tuple[list[Any], str | None]:
    """The keys of a page, and its cursor."""
    answer = program.get(path, asked)
    assert answer.status_code == 200, answer.content
    return [row["id"] for row in answer.json()["items"]], answer.json()["next"]


@contextmanager
def slow_writer() -> Iterator[tuple[int, threading.Event]]:
    """In the block somebody else is recording a yard that is not there to be read yet.

    Its key, and what lets it be recorded.
    """
    begun, go_on, keys = threading.Event(), threading.Event(), list[int]()

    def write() -> None:
        try:
            with transaction.atomic():
                keys.append(YardFactory().pk)
                begun.set()
                go_on.wait(20)
        finally:
            begun.set()
            connection.close()

    thread = threading.Thread(target=write)
    thread.start()
    begun.wait(20)
    try:
        yield keys[0], go_on
    finally:
        go_on.set()
        thread.join(20)


@pytest.fixture
def _impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    cache.clear()
    monkeypatch.setattr(settled, "MOST_SECONDS", 0.1)


@on_postgresql
@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("_impatient")
def test_what_is_still_being_recorded_holds_back_what_came_after_it() -> None:
    program, first = program_of(AuditorFactory()), YardFactory().pk
    assert read(program, "yards") == ([first], None)
    with slow_writer() as (late, _):
        after = YardFactory().pk
        assert after > late
        for order in ("oldest", "newest"):
            assert read(program, "yards", limit=1, order=order) == ([first], None)
    keys, cursor = read(program, "yards", limit=1)
    found = list(keys)
    while cursor is not None:
        keys, cursor = read(program, "yards", limit=1, cursor=cursor)
        found += keys
    assert found == [first, late, after]


@on_postgresql
@pytest.mark.django_db(transaction=True)
def test_a_list_waits_for_who_is_about_to_be_done() -> None:
    program = program_of(AuditorFactory())
    with slow_writer() as (late, go_on):
        after = YardFactory().pk
        threading.Timer(0.3, go_on.set).start()
        assert read(program, "yards")[0] == [late, after]


@on_postgresql
@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("_impatient")
def test_where_nobody_knows_how_far_can_be_read_it_is_said_to_ask_again() -> None:
    program = program_of(AuditorFactory())
    with slow_writer():
        answer = program.get("yards")
        assert (answer.status_code, answer["Retry-After"]) == (503, "10")
        assert answer["Content-Type"] == "application/problem+json"
        # Of another table it is known.
        assert read(program, "hammers") == ([], None)


@pytest.mark.django_db
def test_records_with_keys_of_a_phone_go_by_when_they_came() -> None:
    unit, program = rated_unit(), program_of(AuditorFactory())
    inspection = count(unit.housing, unit.manager, unit.lot).inspection
    keys = [uuid.UUID(int=number) for number in (9, 3, 6)]
    for key in keys:
        Photo.objects.create(pk=key, inspection=inspection)
    told = [str(key) for key in keys]
    first, cursor = read(program, "photos", limit=2)
    assert first == told[:2]
    Photo.objects.create(pk=uuid.UUID(int=1), inspection=inspection)
    rest = read(program, "photos", limit=2, cursor=cursor)[0]
    assert rest == [told[2], str(uuid.UUID(int=1))]
    assert read(program, "photos", order="newest", limit=2)[0] == rest[::-1]
