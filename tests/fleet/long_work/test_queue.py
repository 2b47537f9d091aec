"""Long work outlasts the page and the process it came from."""

from __future__ import annotations

import os
import socket
import threading
from collections.abc import Callable
from datetime import timedelta
from io import StringIO
from threading import Event
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command
from django.db import DatabaseError
from django.utils import timezone

from fleet.long_work import acts, queue
from fleet.models import LongWork, LongWorker

pytestmark = pytest.mark.django_db
ELSEWHERE = "another-machine:12:345"
# Most tests begin nothing beside themselves.
THREAD = queue.start


class Telling:
    """A work that keeps what was done, and fails where it is told to."""

    def __init__(self) -> None:
        self.done: list[dict[str, Any]] = []
        self.given_up: list[str] = []

    def do(self, arguments: dict[str, Any], tell: Callable[[int], None]) -> None:
        if arguments.get("fails"):
            raise OSError("no room")
        tell(3)
        self.done.append({"of": arguments["of"]})

    def give_up(self, _arguments: dict[str, Any], words: str) -> bool:
        self.given_up.append(words)
        return True


@pytest.fixture
def telling(monkeypatch: pytest.MonkeyPatch) -> Telling:
    found = Telling()
    monkeypatch.setattr(queue, "act_of", lambda _what: found)
    return found


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> list[Callable[[], None]]:
    found: list[Callable[[], None]] = []
    monkeypatch.setattr(queue, "start", found.append)
    return found


@pytest.fixture
def work(manager: User, telling: Telling, begun: list[Callable[[], None]]) -> LongWork:
    return LongWork.objects.create(what="telling", arguments={"of": 1}, asked_by=manager)


def test_where_no_worker_runs_the_site_does_it(
    manager: User,
    telling: Telling,
    begun: list[Callable[[], None]],
    django_capture_on_commit_callbacks: Any,
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        work = queue.ask("telling", {"of": 1}, by=manager)
    begun[0]()
    work.refresh_from_db()
    assert telling.done == [{"of": 1}]
    assert (work.done, work.trouble, work.is_over) == (3, "", True)


def test_where_a_worker_runs_it_is_left_to_it(
    manager: User, begun: list[Callable[[], None]], django_capture_on_commit_callbacks: Any
) -> None:
    LongWorker.objects.create(name=ELSEWHERE, heard_at=timezone.now())
    with django_capture_on_commit_callbacks(execute=True):
        queue.ask("telling", {}, by=manager)
    assert begun == []


def test_one_that_fails_is_given_up_in_words_and_not_tried_again(
    work: LongWork, telling: Telling
) -> None:
    LongWork.objects.update(arguments={"fails": True})
    assert queue.do_all_there_is() == 1
    assert queue.do_all_there_is() == 0
    work.refresh_from_db()
    assert telling.given_up == [work.trouble] == [queue.BROKEN]


def test_one_that_stands_though_it_seemed_to_fail_is_told_without_trouble(
    work: LongWork, telling: Telling, monkeypatch: pytest.MonkeyPatch
) -> None:
    LongWork.objects.update(arguments={"fails": True})
    monkeypatch.setattr(telling, "give_up", lambda *_: False)
    assert queue.do_all_there_is() == 1
    work.refresh_from_db()
    assert (work.trouble, work.is_over) == ("", True)


@pytest.mark.parametrize(
    ("worker", "silent", "is_taken"),
    [
        ("", False, True),
        (ELSEWHERE, False, False),
        (ELSEWHERE, True, True),
        # Of this machine it is looked up, however long a lock keeps it from saying that it lives.
        (f"{socket.gethostname()}:{os.getpid()}:1", False, True),
        (f"{socket.gethostname()}:1:{queue._began(1)}", True, False),
        (queue.own_name(), False, True),
    ],
    # The names hold the number of a process, which is another in each that runs tests.
    ids=["nobody", "elsewhere", "elsewhere, silent", "here, gone", "here, alive", "own, let go"],
)
def test_it_is_taken_from_a_worker_that_died_and_from_no_other(
    work: LongWork, worker: str, silent: bool, is_taken: bool
) -> None:
    heard = timezone.now() - timedelta(hours=silent)
    LongWork.objects.update(worker=worker, heard_at=heard, times_begun=1)
    assert (queue.take_up() is not None) is is_taken


def test_one_over_which_workers_died_twice_is_given_up(work: LongWork, telling: Telling) -> None:
    LongWork.objects.update(
        worker=ELSEWHERE, heard_at=timezone.now() - timedelta(hours=1), times_begun=2
    )
    assert queue.take_up() is None
    assert telling.given_up == [queue.DIED]
    assert telling.done == []


def test_a_page_that_waits_has_orphaned_work_done(
    work: LongWork, begun: list[Callable[[], None]], telling: Telling
) -> None:
    queue.look_after(work)
    assert begun == []
    work.worker, work.heard_at = f"{socket.gethostname()}:{os.getpid()}:1", timezone.now()
    work.save()
    queue.look_after(work)
    begun[0]()
    assert telling.done == [{"of": 1}]


def test_what_comes_first_is_taken_up_before_what_waited_longer(
    work: LongWork, manager: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(queue, "FIRST", {"urgent"})
    urgent = LongWork.objects.create(what="urgent", arguments={}, asked_by=manager)
    assert queue.take_up() == urgent
    assert queue.take_up() == work


def test_what_comes_first_is_done_by_the_site_where_the_worker_is_busy(
    work: LongWork,
    telling: Telling,
    begun: list[Callable[[], None]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    LongWorker.objects.create(name=ELSEWHERE, heard_at=timezone.now())
    work.asked_at -= queue.FIRST_WAITS
    queue.look_after(work)
    assert begun == []
    monkeypatch.setattr(queue, "FIRST", {work.what})
    queue.look_after(work)
    begun[0]()
    assert telling.done == [{"of": 1}]


def test_a_worker_is_known_while_it_runs(work: LongWork, telling: Telling) -> None:
    class Over(Event):
        """Over as soon as nothing waits, and then asked whether a worker is there."""

        was_there = False

        def wait(self, *_: Any, **__: Any) -> bool:
            self.was_there = queue.is_worker_there()
            self.set()
            return True

    over = Over()
    queue.serve(over)
    assert telling.done == [{"of": 1}]
    assert over.was_there
    assert not queue.is_worker_there()


def test_a_command_does_what_waits_once(work: LongWork) -> None:
    out = StringIO()
    call_command("worker", "--once", stdout=out)
    assert out.getvalue() == "1 long work done.\n"


def test_every_long_work_there_is_has_what_does_it_and_what_ends_it() -> None:
    for what in ("history", "sheet", "register", "export", "rerating"):
        act = acts.act_of(what)
        assert callable(act.do)
        assert callable(act.give_up)


def test_a_work_of_another_release_ends_in_words(
    manager: User, begun: list[Callable[[], None]]
) -> None:
    work = LongWork.objects.create(what="of tomorrow", arguments={}, asked_by=manager)
    queue.do(work)
    work.refresh_from_db()
    assert work.trouble == queue.BROKEN


def test_that_it_is_over_is_told_as_soon_as_the_records_take_it(
    work: LongWork, telling: Telling, monkeypatch: pytest.MonkeyPatch
) -> None:
    busy, told = [DatabaseError("database is locked")], queue._tell_the_end

    def tell_the_end(*args: Any) -> None:
        if busy:
            raise busy.pop()
        told(*args)

    monkeypatch.setattr(queue, "_tell_the_end", tell_the_end)
    monkeypatch.setattr(queue, "TRIED_EVERY_SECONDS", 0.0)
    assert queue.do_all_there_is() == 1
    work.refresh_from_db()
    assert (busy, work.is_over, telling.done) == ([], True, [{"of": 1}])


def test_what_this_process_does_nobody_else_of_it_takes_up(work: LongWork) -> None:
    assert queue.take_up() == work
    assert queue.take_up() is None


def test_the_site_leaves_to_the_workers_what_does_not_come_first(
    work: LongWork,
    manager: User,
    telling: Telling,
    begun: list[Callable[[], None]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(queue, "FIRST", {"urgent"})
    asked_at = timezone.now() - queue.FIRST_WAITS
    urgent = LongWork.objects.create(
        what="urgent", arguments={"of": 2}, asked_by=manager, asked_at=asked_at
    )
    queue.look_after(urgent)
    begun[0]()
    assert telling.done == [{"of": 2}]
    work.refresh_from_db()
    assert not work.is_over


def test_a_thread_that_the_records_do_not_answer_says_so_and_leaves_the_work_waiting(
    work: LongWork, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def locked(first_alone: bool) -> None:
        raise DatabaseError("database is locked")

    monkeypatch.setattr(queue, "_taken_up", locked)
    THREAD(queue.do_all_there_is)
    for thread in threading.enumerate():
        if thread.name == "long work":
            thread.join()
    assert "no long work was taken up, the records did not answer" in caplog.text
    work.refresh_from_db()
    assert not work.worker
