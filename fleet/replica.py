"""A replica of the records, from which pages are read that lists and looks fill, where one is set.

Only the pages named here, only where it is known how far the replica is behind, and only within a
stated age: else they are read from the records themselves, as all others are, and whatever is read
in order to record. A figure of before may lift a load that the figure of now would not: so the page
says of when it is, and whoever has just recorded something reads the records for a while.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.core.exceptions import MiddlewareNotUsed
from django.db import DEFAULT_DB_ALIAS, DatabaseError, InterfaceError, connections
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

logger = logging.getLogger(__name__)

REPLICA = "replica"
# By name of url: they show, and nothing is signed by them. No paper is among them, a history
# neither: what a paper says when it is given out is put on record. Nor is a file to be saved,
# which does not say of when it is.
PAGES = frozenset(
    {
        "as-of-differences",
        "board",
        "board-as-of",
        "due",
        "fleet-forecast",
        "hires",
        "jobs",
        "lots",
        "machine-list",
        "pulls",
        "repairs",
        "search",
        "transfers",
        "unit-records",
        "units-calendar",
        "who-did-what",
        "who-did-what-list",
    }
)
APPS = frozenset({"fleet", "ratings", "inspections"})
SAFE = {"GET", "HEAD"}
# Whoever recorded something reads the records for longer than a page may be behind.
RECORDED, OWN_SECONDS_MORE = "recorded_lately", 20
# It is asked how old the replica is once in so long, and one that fails is left alone for longer.
ASKED_FOR_SECONDS, LEFT_ALONE_SECONDS = 1.0, 10.0
# A page says how old it is from here on: below, nobody could have seen it otherwise.
SAID_FROM_SECONDS = 1.0
# By what PostgreSQL tells a database, and its copies, from every other.
WHICH = "current_database(), (SELECT system_identifier FROM pg_control_system())"

# On the request, for the page.
READ_AS_OF = "read_as_of"

_is_read: ContextVar[bool] = ContextVar("replica", default=False)


class Router:
    """Sends what a page of those named reads to the replica, and all else to the records."""

    def db_for_read(self, model: Any, **_: Any) -> str:
        """Who may do what, and who is signed in, is never read from the replica."""
        return REPLICA if _is_read.get() and model._meta.app_label in APPS else DEFAULT_DB_ALIAS

    def db_for_write(self, model: Any, **_: Any) -> str:
        """Write to the records, also what was read from the replica."""
        return DEFAULT_DB_ALIAS

    def allow_relation(self, *_: Any, **__: Any) -> bool:
        """Both hold the same rows."""
        return True

    def allow_migrate(self, db: str, *_: Any, **__: Any) -> bool:
        """Its tables come with the rest."""
        return db != REPLICA


@contextmanager
def read_from_replica() -> Iterator[None]:
    """Read from the replica for as long as the block runs."""
    token = _is_read.set(True)
    try:
        yield
    finally:
        _is_read.reset(token)


@dataclass
class _Known:
    """How old the replica was when it was last asked, None where it can't be told."""

    age_seconds: float | None
    asked_at: float

    def lasts(self) -> float:
        return LEFT_ALONE_SECONDS if self.age_seconds is None else ASKED_FOR_SECONDS


_known: _Known | None = None


def age_seconds() -> float | None:
    """Return how old what the replica shows may be, None where that can't be told.

    Asked once a second for the whole process; in between it is taken to have stood still.
    """
    global _known
    now = time.monotonic()
    if _known is None or now - _known.asked_at > _known.lasts():
        try:
            age = ask_age_seconds()
        except (DatabaseError, InterfaceError) as trouble:
            logger.warning("the replica is not read: %s", " ".join(str(trouble).split()))
            age = None
        _known = _Known(age, now)
    if _known.age_seconds is None:
        return None
    return _known.age_seconds + (now - _known.asked_at)


def ask_age_seconds() -> float | None:
    """Ask both servers how old what the replica shows is; None where they can't tell.

    It is up to date where it has replayed all that the records had written before it was asked;
    else as old as the last transaction that it replayed. That alone would call a replica old where
    nobody records anything.
    """
    replica = connections[REPLICA]
    if replica.vendor != "postgresql":
        return None
    with connections[DEFAULT_DB_ALIAS].cursor() as cursor:
        cursor.execute(f"SELECT {WHICH}, pg_current_wal_lsn()::text")
        *records, written = cursor.fetchone()
    with replica.cursor() as cursor:
        cursor.execute(
            f"SELECT {WHICH}, pg_is_in_recovery(), pg_last_wal_replay_lsn() >= %s::pg_lsn, "
            "extract(epoch FROM clock_timestamp() - pg_last_xact_replay_timestamp())",
            [written],
        )
        *copied, is_replica, is_up_to_date, age = cursor.fetchone()
    # How far one has come tells nothing of another server, or another database, than it copies.
    if not is_replica or copied != records:
        return None
    if is_up_to_date:
        return 0.0
    # Clocks that differ make nothing younger than it is.
    return None if age is None else max(float(age), 0.0)


class ReadFromReplica:
    """Lets the pages named read from the replica, and says on them of when they are."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        if not settings.READS_REPLICA:
            raise MiddlewareNotUsed
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if request.method not in SAFE:
            response.set_cookie(
                RECORDED,
                "1",
                max_age=settings.REPLICA_SECONDS + OWN_SECONDS_MORE,
                secure=settings.SESSION_COOKIE_SECURE,
                httponly=True,
                samesite="Lax",
            )
        return response

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        match = request.resolver_match
        if match is None or match.url_name not in PAGES or request.method not in SAFE:
            return None
        if RECORDED in request.COOKIES:
            return None
        age = age_seconds()
        if age is None or age > settings.REPLICA_SECONDS:
            return None
        if age >= SAID_FROM_SECONDS:
            setattr(request, READ_AS_OF, timezone.now() - timedelta(seconds=age))
        try:
            with read_from_replica():
                response: HttpResponse = view(request, *args, **kwargs)
        except (DatabaseError, InterfaceError) as trouble:
            # It fell away, or replayed over what was being read: the records have it all.
            logger.warning("the replica was given up: %s", " ".join(str(trouble).split()))
            setattr(request, READ_AS_OF, None)
            return None
        return response
