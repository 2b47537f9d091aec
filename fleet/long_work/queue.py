"""Long work waits in the database, so that it outlasts the page and the process it came from.

A worker takes it up, and tells from time to time how far it is. What a worker died over is taken up
once more, then given up in words. Where no worker runs, a thread of the site does it at once.
"""

from __future__ import annotations

import logging
import os
import socket
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from threading import Event, Lock, Thread
from typing import Any

from django.contrib.auth.models import User
from django.db import Error, connection, transaction
from django.db.models import F, Q
from django.http import HttpRequest
from django.utils import timezone

from fleet.aside import NoRoom
from fleet.journal.who import at_work
from fleet.long_work.acts import FIRST, UNTIL_SEEN, act_of
from fleet.models.long_work import SILENT, LongWork, LongWorker
from fleet.troubles import PASSING, READ_ONLY_WORDS, TOO_LONG_WORDS, Matter, matter_with

logger = logging.getLogger(__name__)

MOST_TIMES = 2
KEPT_FOR = timedelta(days=7)
# What comes first waits so long for a worker that is busy; then the site does it.
FIRST_WAITS = timedelta(seconds=5)
TOLD_EVERY_SECONDS = 1.0
# A work that the records did not take, such as where others held them, is done again.
TRIES_TO_DO, DONE_AGAIN_AFTER_SECONDS = 12, 10.0
# That a work is over is tried to be told so often, so long apart: others may hold the records.
TRIES_TO_END, TRIED_EVERY_SECONDS = 60, 5.0
BROKEN = "Something went wrong on our side, and nothing was kept of it."
NOT_TAKEN = (
    "The records did not take it, however often it was tried: others were writing, or they did not "
    "answer. Nothing was kept of it: begin it again."
)
_WORDS = {
    Matter.FULL: str(NoRoom()),
    Matter.READ_ONLY: READ_ONLY_WORDS,
    Matter.HELD: NOT_TAKEN,
    Matter.TOO_LONG: TOO_LONG_WORDS,
    Matter.GONE: NOT_TAKEN,
}
DIED = "The machine stopped twice while it was done, and nothing was kept of it."

# Keys of the works that this very process does: that it lives is no word of them.
_in_own_hands: set[int] = set()
_doing_first = Lock()
# Of what does long work until it is done, such as a thread of the site.
_never = Event()


class _Stopped(Exception):
    """This process is to end, and what it is at must wait for the records."""


def start(work: Callable[[], object]) -> None:
    """Do work beside the request that asked for it."""

    def run() -> None:
        try:
            work()
        except Error as trouble:
            if matter_with(trouble) not in PASSING:
                raise
            # It still waits: whoever asks how far it is has it begun again.
            logger.warning("no long work was taken up, the records did not answer: %s", trouble)
        finally:
            connection.close()

    Thread(target=run, name="long work", daemon=True).start()


def ask(what: str, arguments: dict[str, Any], *, by: User, about: str = "") -> LongWork:
    """Have a long work done, once what is being recorded now is on record.

    What does it finds its own key beside its arguments, as “work”. about: of what one such work
    alone may be under way; raises IntegrityError where one is.
    """
    forget_old()
    work = LongWork.objects.create(what=what, arguments=arguments, asked_by=by, about=about)
    transaction.on_commit(_see_that_it_is_begun)
    return work


def forget_old() -> None:
    """Let go of works that ended long ago, but for what somebody must have seen before."""
    old = LongWork.objects.filter(ended_at__lt=timezone.now() - KEPT_FOR)
    for what, on_record in UNTIL_SEEN.items():
        unseen = Q(what=what, is_told=False) & ~Q(result__has_key=on_record)
        old = old.exclude(unseen)
    old.delete()


def _see_that_it_is_begun() -> None:
    if not is_worker_there():
        start(do_all_there_is)


def look_after(work: LongWork) -> None:
    """Have a work done that nobody does any more, for the page that waits for it."""
    waits = FIRST_WAITS if work.what in FIRST else SILENT
    is_old = work.asked_at < timezone.now() - waits
    if work.is_over or (not work.worker and not is_old) or (work.worker and is_in_hands(work)):
        return
    if work.what in FIRST:
        start(_do_what_comes_first)
    else:
        _see_that_it_is_begun()


def is_worker_there() -> bool:
    """Whether a process is there that does long work and nothing else."""
    heard = LongWorker.objects.filter(heard_at__gt=timezone.now() - SILENT)
    return any(_may_live(worker.name) for worker in heard)


def do_all_there_is(stop: Event = _never) -> int:
    """Do all that waits, one after the other until it is to stop, and return how many it were."""
    many = 0
    while not stop.is_set() and (work := take_up(stop=stop)) is not None:
        do(work, stop)
        many += 1
    return many


def _do_what_comes_first() -> None:
    """Do what others must not wait for, and leave the rest to the workers.

    Every page that waits asks for it, every two seconds: once at a time is enough.
    """
    if not _doing_first.acquire(blocking=False):
        return
    try:
        while (work := take_up(first_alone=True)) is not None:
            do(work)
    finally:
        _doing_first.release()


def take_up(*, first_alone: bool = False, stop: Event = _never) -> LongWork | None:
    """Take up the first work that nobody does; None where there is none.

    What was begun too often by workers that died is given up. first_alone: whether only of what
    comes first. stop: set where this process is to end.
    """
    while True:
        work = _taken_up(first_alone)
        if work is None:
            return None
        if work.times_begun <= MOST_TIMES:
            return work
        if not _end(work, DIED, stop):
            return None


def _taken_up(first_alone: bool) -> LongWork | None:
    work = None
    try:
        with transaction.atomic():
            work = _first_that_nobody_does(first_alone)
            if work is None:
                return None
            # Before anybody else of this process can see that it took it up.
            _in_own_hands.add(work.pk)
            work.times_begun += 1
            work.worker, work.heard_at, work.done = own_name(), timezone.now(), 0
            work.save(update_fields=["times_begun", "worker", "heard_at", "done"])
    except Error:
        if work is not None:
            _in_own_hands.discard(work.pk)
        raise
    return work


def _first_that_nobody_does(first_alone: bool) -> LongWork | None:
    there = LongWork.objects.filter(ended_at=None).select_for_update(skip_locked=True)
    if first_alone:
        there = there.filter(what__in=FIRST)
    in_turn = sorted(there, key=lambda work: (work.what not in FIRST, work.pk))
    return next((work for work in in_turn if not is_in_hands(work)), None)


def is_in_hands(work: LongWork) -> bool:
    """Whether somebody does a work: took it up, and may live."""
    if work.worker == own_name():
        return work.pk in _in_own_hands
    is_silent = work.heard_at is None or work.heard_at < timezone.now() - SILENT
    return bool(work.worker) and _may_live(work.worker, is_silent=is_silent)


def do(work: LongWork, stop: Event = _never) -> None:
    """Do a work that was taken up, to its end or its failure.

    stop: set where this process is to end: a work that must wait for the records is then left.
    """
    done, is_over = 0, Event()

    def add(number: int) -> None:
        nonlocal done
        done += number

    def once() -> None:
        nonlocal done
        done = 0
        # Leaves of the journal name who asked for it, as if they had waited.
        request = HttpRequest()
        request.user = work.asked_by
        with at_work(request):
            act_of(work.what).do({**work.arguments, "work": work.pk}, add)

    # By a connection of its own: the one that works may see a single moment, or hold back its own.
    start(lambda: _tell_until(is_over, lambda: _tell(work, done)))
    trouble = ""
    try:
        _until_taken(once, work, stop)
    except _Stopped:
        _leave(work)
        return
    except Exception as fault:
        # Whatever went wrong, the page must not wait for it for ever.
        logger.exception("%s not done", work)
        trouble = _words(fault)
    finally:
        is_over.set()
    work.done = done
    _end(work, trouble, stop)


def _until_taken(once: Callable[[], None], work: LongWork, stop: Event) -> None:
    """Do a work, and again while others hold the records or they do not answer.

    Raises what else goes wrong, and what goes wrong at last; _Stopped where it is to stop before.
    """
    for tried in range(1, TRIES_TO_DO + 1):
        try:
            once()
            return
        except Error as trouble:
            if tried == TRIES_TO_DO or matter_with(trouble) not in PASSING:
                raise
            logger.warning("%s is done again: %s", work, trouble)
            if wait_for_the_records(DONE_AGAIN_AFTER_SECONDS, stop):
                raise _Stopped from trouble


def _words(fault: Exception) -> str:
    """Say why a work was not done, for the page that waits for it."""
    matter = matter_with(fault)
    return BROKEN if matter is None else _WORDS[matter]


def _leave(work: LongWork) -> None:
    """Leave a work to be taken up anew; that this process ended is no sign that it died over it."""
    try:
        found = LongWork.objects.filter(pk=work.pk, worker=own_name(), ended_at=None)
        found.update(worker="", heard_at=None, times_begun=F("times_begun") - 1)
    except Error:
        # Others find that this process is gone.
        logger.warning("%s could not be left to others", work, exc_info=True)
    finally:
        _in_own_hands.discard(work.pk)


def _end(work: LongWork, trouble: str, stop: Event) -> bool:
    """Tell that a work is over, however long that takes: its page would else wait for ever.

    Where it can't be told, it is done again: a second time finds what is on record. Returns whether
    it was told.
    """
    try:
        for _ in range(TRIES_TO_END):
            try:
                _tell_the_end(work, trouble)
                return True
            except Error:
                logger.warning("that %s is over could not be told", work, exc_info=True)
                if wait_for_the_records(TRIED_EVERY_SECONDS, stop):
                    _leave(work)
                    break
        return False
    finally:
        _in_own_hands.discard(work.pk)


def wait_for_the_records(seconds: float, stop: Event) -> bool:
    """Wait before what the records did not take is tried again, over a line that works.

    Returns at once, and True, where it is to stop.
    """
    _close_what_broke()
    return stop.wait(seconds)


def _close_what_broke() -> None:
    """Let go of a line to the records that is broken; the next to ask makes another."""
    if not connection.in_atomic_block:
        connection.close_if_unusable_or_obsolete()


@transaction.atomic
def _tell_the_end(work: LongWork, trouble: str) -> None:
    if trouble and not _is_given_up(work, trouble):
        # Only the answer to its last try was lost: what came of it stands.
        trouble = ""
    LongWork.objects.filter(pk=work.pk, ended_at=None).update(
        done=work.done, ended_at=timezone.now(), trouble=trouble
    )


def _is_given_up(work: LongWork, trouble: str) -> bool:
    """Let the pages of a work say why nothing came of it, and return whether nothing did."""
    try:
        return act_of(work.what).give_up({**work.arguments, "work": work.pk}, trouble)
    except Error:
        raise
    except Exception:
        logger.exception("%s not given up in words", work)
        return True


def _tell(work: LongWork, done: int) -> None:
    LongWork.objects.filter(pk=work.pk, ended_at=None).update(done=done, heard_at=timezone.now())


def _tell_until(is_over: Event, tell: Callable[[], None]) -> None:
    while not is_over.wait(TOLD_EVERY_SECONDS):
        try:
            tell()
        except Error:
            # The work itself may hold the one lock of SQLite: that it lives, its machine tells.
            logger.debug("how far long work is was not told", exc_info=True)
            _close_what_broke()


def serve(is_over: Event, every_seconds: float = 1.0) -> None:
    """Do long work as it comes, until it is over; while the records do not answer, wait."""
    name = own_name()

    def tell() -> None:
        LongWorker.objects.update_or_create(name=name, defaults={"heard_at": timezone.now()})

    told_to = Event()
    start(lambda: _tell_until(told_to, tell))
    is_known = was_away = False
    try:
        while not is_over.is_set():
            try:
                if not is_known:
                    LongWorker.objects.filter(heard_at__lt=timezone.now() - SILENT).delete()
                    tell()
                    is_known = True
                many = do_all_there_is(is_over)
                if was_away:
                    logger.warning("the records answer again: long work goes on")
                was_away = False
                if not many:
                    is_over.wait(every_seconds)
            except Error as trouble:
                logger.warning("long work waits: %s", trouble, exc_info=not was_away)
                was_away = True
                wait_for_the_records(TRIED_EVERY_SECONDS, is_over)
    finally:
        told_to.set()
        try:
            LongWorker.objects.filter(name=name).delete()
        except Error:
            # Others find that it is gone: by its machine, or since it is silent.
            logger.warning("that this worker ended could not be told", exc_info=True)


# Who does it: host, process, and when that began, since numbers of processes come again.


def own_name() -> str:
    """Return the name of this process, as no other has it."""
    return f"{socket.gethostname()}:{os.getpid()}:{_began(os.getpid())}"


def _began(process: int) -> str:
    """Return when a process of this machine began, in its own count; "" of one that is gone."""
    try:
        told = Path(f"/proc/{process}/stat").read_text()
    except OSError:
        return "-" if not Path("/proc/self/stat").exists() and _is_there(process) else ""
    return told.rpartition(")")[2].split()[19]


def _is_there(process: int) -> bool:
    try:
        os.kill(process, 0)
    except OSError:
        return False
    return True


def _may_live(name: str, *, is_silent: bool = False) -> bool:
    """Whether a process may live: one of this machine is looked up, another must be heard of."""
    host, _, rest = name.partition(":")
    process, _, began = rest.partition(":")
    if host == socket.gethostname() and process.isdigit():
        return _began(int(process)) == began
    return not is_silent
