"""A worker whose records are locked or gone lives on, and does the next work once they answer."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from threading import Event
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import InterfaceError, OperationalError, connection, connections

from fleet.long_work import queue
from fleet.models import LongWork
from fleet.troubles import READ_ONLY_WORDS, TOO_LONG_WORDS
from tests.factories import ManagerFactory

pytestmark = pytest.mark.django_db(transaction=True)
WAITS_MS = 50


class Over(Event):
    """Over once a work was done; until then it lets go wrong what is to, while nothing waits."""

    def __init__(self, go_wrong: Callable[[], None]) -> None:
        super().__init__()
        self._go_wrong = go_wrong

    def wait(self, *_: Any, **__: Any) -> bool:
        if LongWork.objects.filter(ended_at__isnull=False).exists():
            self.set()
        else:
            self._go_wrong()
        return self.is_set()


class Doing:
    """A work that is done as often as it is told to fail, and once more."""

    def __init__(self, *troubles: Exception) -> None:
        self.troubles = list(troubles)
        self.given_up: list[str] = []

    def do(self, _arguments: dict[str, Any], _tell: Callable[[int], None]) -> None:
        if self.troubles:
            raise self.troubles.pop()

    def give_up(self, _arguments: dict[str, Any], words: str) -> bool:
        self.given_up.append(words)
        return True


@pytest.fixture
def by(monkeypatch: pytest.MonkeyPatch) -> User:
    monkeypatch.setattr(queue, "start", lambda _work: None)
    return ManagerFactory()


def lock_all() -> Callable[[], None]:
    """Hold the one lock of SQLite, for longer than anybody waits; returns what lets it go."""
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA busy_timeout = {WAITS_MS}")
    other = sqlite3.connect(connection.settings_dict["NAME"], isolation_level=None)
    other.execute("BEGIN IMMEDIATE")

    def let_go() -> None:
        other.close()
        connection.close()

    return let_go


def cut_off() -> Callable[[], None]:
    """End the line to PostgreSQL from its side, as its restart does."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_backend_pid()")
        (process,) = cursor.fetchone()
    real: Any = connections["default"]
    other = type(real)(real.settings_dict, "default")
    with other.cursor() as cursor:
        cursor.execute("SELECT pg_terminate_backend(%s)", [process])
    other.close()
    return lambda: None


def test_a_worker_that_idles_outlives_records_that_do_not_answer(
    by: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    go_wrong = lock_all if connection.vendor == "sqlite" else cut_off
    ends: list[Callable[[], None]] = []
    waited: list[float] = []
    wait = queue.wait_for_the_records

    def wait_for_the_records(seconds: float, _stop: Event) -> bool:
        waited.append(seconds)
        ends.pop()()
        wait(0.0, Event())
        LongWork.objects.create(what="doing", arguments={}, asked_by=by)
        return False

    doing = Doing()
    monkeypatch.setattr(queue, "act_of", lambda _what: doing)
    monkeypatch.setattr(queue, "wait_for_the_records", wait_for_the_records)
    queue.serve(Over(lambda: ends.append(go_wrong())))
    assert waited == [queue.TRIED_EVERY_SECONDS]
    assert [work.trouble for work in LongWork.objects.all()] == [""]


@pytest.mark.parametrize(
    ("trouble", "many", "told"),
    [
        (OperationalError("database is locked"), 1, ""),
        (InterfaceError("connection already closed"), 1, ""),
        (OperationalError("database is locked"), queue.TRIES_TO_DO, queue.NOT_TAKEN),
        (OperationalError("No such file or directory"), queue.TRIES_TO_DO, queue.NOT_TAKEN),
        (OperationalError("database or disk is full"), 1, "The disk that holds the records"),
        (OperationalError("attempt to write a readonly database"), 1, READ_ONLY_WORDS),
        (OperationalError("canceling statement due to statement timeout"), 1, TOO_LONG_WORDS),
        (OperationalError("no such table: fleet_yard"), 1, queue.BROKEN),
        (ValueError("of the program"), 1, queue.BROKEN),
    ],
)
def test_a_work_is_done_again_where_what_is_the_matter_with_the_records_passes(
    by: User, trouble: Exception, many: int, told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    doing = Doing(*[trouble] * many)
    monkeypatch.setattr(queue, "act_of", lambda _what: doing)
    monkeypatch.setattr(queue, "DONE_AGAIN_AFTER_SECONDS", 0.0)
    work = LongWork.objects.create(what="doing", arguments={}, asked_by=by)
    assert queue.do_all_there_is() == 1
    work.refresh_from_db()
    assert work.is_over
    assert work.trouble.startswith(told)
    assert doing.given_up == ([work.trouble] if told else [])


@pytest.mark.parametrize("begun_before", [0, 1])
def test_a_worker_that_is_to_end_leaves_what_must_wait_for_the_records_to_be_taken_up_anew(
    by: User, begun_before: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Though a worker died over it before, that this one ended is not the second time."""
    doing = Doing(OperationalError("database is locked"))
    monkeypatch.setattr(queue, "act_of", lambda _what: doing)
    asked = {"arguments": {}, "asked_by": by, "times_begun": begun_before}
    work, after_it = (LongWork.objects.create(what="doing", **asked) for _ in range(2))
    stop = Event()
    monkeypatch.setattr(queue, "_close_what_broke", stop.set)
    # It would wait for ten seconds.
    assert queue.do_all_there_is(stop) == 1
    for each in (work, after_it):
        each.refresh_from_db()
        assert (each.worker, each.times_begun, each.is_over) == ("", begun_before, False)
    assert queue.do_all_there_is() == 2
    assert doing.given_up == []


def test_a_worker_that_is_to_end_waits_no_more_to_tell_that_a_work_is_over(
    by: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(queue, "act_of", lambda _what: Doing())
    work = LongWork.objects.create(what="doing", arguments={}, asked_by=by)
    stop = Event()

    def tell_the_end(*_: Any) -> None:
        stop.set()
        raise OperationalError("database is locked")

    with monkeypatch.context() as patch:
        patch.setattr(queue, "_tell_the_end", tell_the_end)
        assert queue.do_all_there_is(stop) == 1
    work.refresh_from_db()
    assert (work.worker, work.times_begun, work.is_over) == ("", 0, False)
    assert queue.do_all_there_is() == 1
