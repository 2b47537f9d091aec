"""How much a machine carries: `python -m tests.benchmarks.carrying --units 1000 --seconds 60`.

A yard is served as the page on deployment says, on a database of its own; signers send inspections
without a pause, readers ask for pages without a pause, all on the machine that serves. With
DATABASE_URL, on a database made on that server and dropped after. It prints what went through, how
long each waited, and by how much the database grew with each inspection. These are seconds and
bytes of the machine it runs on: no ratio, and no test asserts any.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import shutil
import statistics
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.parse import urlsplit, urlunsplit

from tests.serving import served_by_gunicorn

WORKERS, THREADS = 3, 4
LONGEST_SECONDS = 60.0
PAGES = ("board", "due", "unit")


@dataclass
class Waits:
    """How long each answer of a sort took, s, and what was answered otherwise than hoped for."""

    took_s: dict[str, list[float]] = field(default_factory=dict)
    other: dict[str, int] = field(default_factory=dict)

    def note(self, what: str, seconds: float, status: int | str, hoped: int) -> None:
        """Count an answer, or what came instead of one."""
        if status == hoped:
            self.took_s.setdefault(what, []).append(seconds)
        else:
            key = f"{what}: {status}"
            self.other[key] = self.other.get(key, 0) + 1

    def words(self, what: str, seconds: float) -> str:
        """Say how many there were and how long they waited."""
        took = sorted(self.took_s.get(what, []))
        if not took:
            return f"{what}: none answered"
        high = took[min(len(took) - 1, int(0.95 * len(took)))]
        return (
            f"{what}: {len(took):,} answered, {len(took) / seconds:.1f} a second; waited "
            f"{1000 * statistics.median(took):,.0f} ms in the middle, 95 % at most "
            f"{1000 * high:,.0f} ms, longest {took[-1]:.2f} s"
        )


@dataclass(frozen=True)
class Yard:
    """What clients need to know of the yard that is served."""

    token: str
    session: str
    units: list[dict[str, Any]]


def main() -> int:
    """Fill a yard, serve it, storm it, and print what came of it."""
    asked = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.carrying", description=__doc__.splitlines()[0]
    )
    asked.add_argument("--units", type=int, default=1_000)
    asked.add_argument("--entries", type=int, default=50, help="in the ledger of each beforehand")
    asked.add_argument("--signers", type=int, default=8)
    asked.add_argument("--readers", type=int, default=4)
    asked.add_argument("--seconds", type=float, default=60.0)
    given = asked.parse_args()
    with TemporaryDirectory(prefix="carrying-") as folder:
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
        os.environ |= {"LEDGER_VAR": folder, "LEDGER_PLAIN_HTTP": "1"}
        return _run(given, Path(folder))


def _run(given: argparse.Namespace, folder: Path) -> int:
    import django

    django.setup()
    from tests.benchmarks.databases import Databases
    from tests.benchmarks.yards import yard

    databases = Databases(folder)
    try:
        filled = databases.filled("served", lambda: yard(given.units, entries_each=given.entries))
        with filled.used() as held:
            told = _what_clients_need(held)
        name = str(filled.connection.settings_dict["NAME"])
        filled.connection.close()
        before = _bytes_of(filled)
        with _served(folder, name) as port:
            waits = _storm(port, told, given)
        grown = _bytes_of(filled) - before
    finally:
        databases.close()
    signed = len(waits.took_s.get("signing", []))
    engine = "SQLite" if filled.connection.vendor == "sqlite" else "PostgreSQL"
    print(
        f"{engine}, {given.units:,} units with {given.entries:,} entries each, {given.signers} "
        f"signers and {given.readers} readers for {given.seconds:.0f} s"
    )
    for what in ("signing", *PAGES):
        print(f"  {waits.words(what, given.seconds)}")
    if signed:
        print(f"  the database grew by {grown / signed / 1024:.0f} KiB with each inspection")
    for what, times in sorted(waits.other.items()):
        print(f"  otherwise: {what}, {times} times")
    return 1 if waits.other else 0


def _what_clients_need(held: Any) -> Yard:
    from django.test import Client

    from tests.inspections.api.asking import token_of
    from tests.inspections.field.sent import pads_sent

    client = Client(headers={"host": "localhost"})
    client.force_login(held.manager)
    units = [
        {"housing": housing.pk, "pads": pads_sent(housing, held.lot)} for housing in held.housings
    ]
    return Yard(token_of(held.manager).secret, client.cookies["sessionid"].value, units)


def _bytes_of(filled: Any) -> int:
    """Return how large a database is, all that waits to be written into it included."""
    connection = filled.connection
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            cursor.execute("PRAGMA page_count")
            pages = cursor.fetchone()[0]
            cursor.execute("PRAGMA page_size")
            found = pages * cursor.fetchone()[0]
        else:
            cursor.execute("SELECT pg_database_size(current_database())")
            found = cursor.fetchone()[0]
    connection.close()
    return int(found)


@contextmanager
def _served(folder: Path, name: str) -> Iterator[int]:
    """Serve a database as the page on deployment says, and give the port."""
    site = folder / "site"
    site.mkdir()
    if (key := folder / "secret_key").exists():
        # The session made here is to hold there.
        shutil.copy(key, site / key.name)
    environment = os.environ | {"LEDGER_VAR": str(site), "LEDGER_PLAIN_HTTP": "1"}
    if url := environment.get("DATABASE_URL"):
        environment["DATABASE_URL"] = urlunsplit(urlsplit(url)._replace(path=f"/{name}"))
    else:
        (site / "ledger.sqlite3").symlink_to(name)
    limits = ["--workers", str(WORKERS), "--threads", str(THREADS), "--log-level", "critical"]
    with served_by_gunicorn(environment, *limits) as port:
        yield port


def _ask(
    port: int, method: str, path: str, headers: dict[str, str], body: str | None = None
) -> tuple[int, bytes]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=LONGEST_SECONDS)
    with closing(connection):
        connection.request(method, path, body, {"Host": "localhost"} | headers)
        answer = connection.getresponse()
        return answer.status, answer.read()


def _storm(port: int, told: Yard, given: argparse.Namespace) -> Waits:
    waits, lock = Waits(), threading.Lock()
    until = time.monotonic() + given.seconds

    def go_on(number: int, ask: Callable[[random.Random], tuple[str, int | str, int]]) -> None:
        chance = random.Random(number)
        while time.monotonic() < until:
            begun = time.monotonic()
            what, status, hoped = ask(chance)
            took = time.monotonic() - begun
            with lock:
                waits.note(what, took, status, hoped)

    def sign(chance: random.Random) -> tuple[str, int | str, int]:
        return "signing", _signed(port, told, chance), 201

    def read(chance: random.Random) -> tuple[str, int | str, int]:
        page = chance.choice(PAGES)
        unit = chance.choice(told.units)["housing"]
        path = {"board": "/", "due": _path("due"), "unit": _path("unit", unit)}[page]
        headers = {"Cookie": f"sessionid={told.session}"}
        return page, _status(port, "GET", path, headers), 200

    works = [*([sign] * given.signers), *([read] * given.readers)]
    threads = [
        threading.Thread(target=go_on, args=(number, work)) for number, work in enumerate(works)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return waits


def _path(name: str, *arguments: Any) -> str:
    from django.urls import reverse

    return reverse(name, args=arguments)


def _signed(port: int, told: Yard, chance: random.Random) -> int | str:
    body = chance.choice(told.units) | {
        "kind": "pad count",
        "seen_at": datetime.now(UTC).isoformat(),
        # Each differs, so that each posts an entry.
        "travel_in": round(chance.uniform(4.0, 6.0), 3),
        "travel_reason": "Taped again",
    }
    headers = {
        "Authorization": f"Bearer {told.token}",
        "Content-Type": "application/json",
        "Idempotency-Key": str(uuid.uuid4()),
    }
    return _status(port, "POST", "/api/v1/inspections", headers, json.dumps(body))


def _status(
    port: int, method: str, path: str, headers: dict[str, str], body: str | None = None
) -> int | str:
    try:
        return _ask(port, method, path, headers, body)[0]
    except (OSError, http.client.HTTPException) as error:
        return type(error).__name__


if __name__ == "__main__":
    raise SystemExit(main())
