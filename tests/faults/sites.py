"""Sites with databases of their own, on either engine, to be killed and looked into afterwards."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from random import Random
from tempfile import TemporaryFile, mkdtemp
from typing import Any

import psycopg

from tests.commands import ROOT
from tests.serving import free_port

PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
LONGEST_START_SECONDS = 30.0
LINE_OF_LOG = re.compile(r"^(?=\d{4}-\d\d-\d\d )", re.MULTILINE)
FAILED = "ERROR django.request: Internal Server Error: "


class Site:
    """A site on SQLite, with all that it keeps in a folder."""

    def __init__(self, var: Path) -> None:
        self.var = var
        var.mkdir(parents=True, exist_ok=True)

    @property
    def environment(self) -> dict[str, str]:
        kept = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
        return kept | {"LEDGER_VAR": str(self.var), "LEDGER_PLAIN_HTTP": "1"}

    def run(self, *arguments: str, check: bool = True) -> subprocess.CompletedProcess[str]:
        """Run Python on this site."""
        done = subprocess.run(
            [sys.executable, *arguments],
            cwd=ROOT,
            env=self.environment,
            capture_output=True,
            text=True,
            check=False,
        )
        if check and done.returncode:
            raise AssertionError(f"{arguments}: {done.stdout}{done.stderr}")
        return done

    def prepared(self) -> dict[str, Any]:
        """Make units, people and tokens, and return what clients send with."""
        told: dict[str, Any] = json.loads(self.run("-m", "tests.faults.prepared").stdout)
        return told

    def asked(self, query: str) -> list[tuple[Any, ...]]:
        """Return what the database answers, past the site."""
        with closing(sqlite3.connect(self.var / "ledger.sqlite3")) as database:
            return database.execute(query).fetchall()

    def damage(self) -> str:
        """Return what the engine itself finds broken; "" where nothing is."""
        said = self.asked("PRAGMA integrity_check")[0][0]
        return "" if said == "ok" else str(said)

    def failures(self) -> list[str]:
        """Return what was logged of each page that failed while it was served: its traceback."""
        log = self.var / "served.log"
        lines = LINE_OF_LOG.split(log.read_text()) if log.exists() else []
        return [each.partition(FAILED)[2].strip() for each in lines if FAILED in each]

    def kill_database(self, _chance: Random) -> bool:
        """Kill the database server; False where there is none."""
        return False

    @contextmanager
    def served(self, *before: str, **settings: str) -> Iterator[tuple[int, subprocess.Popen[str]]]:
        """Serve it; gives the port, and the process that prints who serves.

        before: the command that starts Python; settings: what is added to its environment.
        """
        port = free_port()
        process = subprocess.Popen(
            [*before, sys.executable, "-m", "tests.faults.served", str(port)],
            cwd=ROOT,
            env=self.environment | settings,
            stdout=subprocess.PIPE,
            stderr=(self.var / "served.log").open("a"),
            text=True,
            start_new_session=True,
        )
        try:
            yield port, process
        finally:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def copied_site(demo: Path, var: Path) -> Site:
    """Return a site on a copy of the demo's database."""
    site = Site(var)
    with (
        closing(sqlite3.connect(demo / "ledger.sqlite3")) as source,
        closing(sqlite3.connect(var / "ledger.sqlite3")) as copy,
    ):
        source.backup(copy)
    return site


class ClusterSite(Site):
    """A site on a PostgreSQL server of its own, which syncs what it writes and may be killed."""

    def __init__(self, var: Path) -> None:
        super().__init__(var)
        # Not among the site's own: whoever runs the server goes through every folder above.
        self._folder = Path(mkdtemp(prefix="faults-cluster-"))
        if os.getuid() == 0:
            shutil.chown(self._folder, "postgres")
        self.port = free_port()
        self._program(
            "initdb", "-U", "ledger", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8"
        ).check_returncode()
        self._start()

    @property
    def url(self) -> str:
        return f"postgres://ledger@127.0.0.1:{self.port}/postgres"

    @property
    def environment(self) -> dict[str, str]:
        return super().environment | {"DATABASE_URL": self.url}

    def asked(self, query: str) -> list[tuple[Any, ...]]:
        with psycopg.connect(self.url) as database:
            return database.execute(query.encode()).fetchall()

    def damage(self) -> str:
        found = self._program_anywhere(
            *("pg_amcheck", "-h", "127.0.0.1", "-p", str(self.port), "-U", "ledger"),
            *("-d", "postgres", "--install-missing", "--heapallindexed"),
        )
        return "" if found.returncode == 0 else found.stdout + found.stderr

    def filled_like(self, url: str) -> None:
        """Fill it with what another database of this machine holds."""
        dump = self._program_anywhere("pg_dump", "--no-owner", "-d", url)
        dump.check_returncode()
        self._program_anywhere(
            "psql", "-q", "-v", "ON_ERROR_STOP=1", "-d", self.url, told=dump.stdout
        ).check_returncode()

    def kill_database(self, chance: Random) -> bool:
        """Kill the server at once, or let it stop as after a blow, and start it again."""
        if chance.random() < 0.5:
            first = (self._folder / "data/postmaster.pid").read_text().split()[0]
            os.kill(int(first), signal.SIGKILL)
        else:
            self._program("pg_ctl", "stop", "-m", "immediate")
        self._start()
        return True

    def stop(self) -> None:
        """End the server for good, with all it holds."""
        self._program("pg_ctl", "stop", "-m", "immediate")
        shutil.rmtree(self._folder)

    def _start(self) -> None:
        until = time.monotonic() + LONGEST_START_SECONDS
        options = f"-p {self.port} -c unix_socket_directories= -c listen_addresses=127.0.0.1"
        # Until the processes of a server that was killed are gone, no other is let at its data.
        while self._program(
            "pg_ctl", "start", "-w", "-l", str(self._folder / "log"), "-o", options
        ).returncode:
            if time.monotonic() > until:
                raise AssertionError((self._folder / "log").read_text()[-2_000:])
            time.sleep(0.1)

    def _program(self, name: str, *arguments: str) -> subprocess.CompletedProcess[str]:
        return self._program_anywhere(name, *arguments, "-D", str(self._folder / "data"))

    def _program_anywhere(
        self, name: str, *arguments: str, told: str = ""
    ) -> subprocess.CompletedProcess[str]:
        # PostgreSQL refuses to run as root.
        as_other: Sequence[str] = ("runuser", "-u", "postgres", "--") if os.getuid() == 0 else ()
        # What outlives this call must hold none of its pipes.
        with TemporaryFile("w+") as said:
            done = subprocess.run(
                [*as_other, str(PROGRAMS[-1].with_name(name)), *arguments],
                cwd="/",
                input=told,
                stdout=said,
                stderr=subprocess.STDOUT,
                text=True,
                check=False,
            )
            said.seek(0)
            return subprocess.CompletedProcess(done.args, done.returncode, said.read(), "")
