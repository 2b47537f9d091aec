"""Two who write at once, on PostgreSQL: SQLite has one writer at a time."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from django.db import connection, connections, transaction

Act = Callable[[], Any]
PATIENCE_SECONDS = 15.0


def held_up_by(first: Act, act: Act) -> Any:
    """What an act came to, or the exception it ended in, that waited for what another did first.

    What was done first is kept only once the other waits for it.
    """

    def run() -> Any:
        try:
            return act()
        except Exception as trouble:
            return trouble
        finally:
            connections.close_all()

    with ThreadPoolExecutor(1) as pool:
        with transaction.atomic():
            first()
            outcome = pool.submit(run)
            until = time.monotonic() + PATIENCE_SECONDS
            while not _somebody_waits_for_us():
                assert not outcome.done(), f"it waited for no lock: {outcome.result()}"
                assert time.monotonic() < until, "it neither waits for a lock nor ends"
                time.sleep(0.01)
        return outcome.result(timeout=PATIENCE_SECONDS)


def _somebody_waits_for_us() -> bool:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT EXISTS (SELECT FROM pg_locks WHERE NOT granted "
            "AND pg_backend_pid() = ANY (pg_blocking_pids(pid)))"
        )
        (waits,) = cursor.fetchone()
    return bool(waits)
