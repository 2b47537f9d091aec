"""Clients that send slowly, stop midway or go away: others are served, and nothing is half kept.

On gunicorn, set up as the site's own configuration has it, and behind nginx as the page on
deployment sets it up.
"""

from __future__ import annotations

import json
import os
import shutil
import socket
import uuid
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from django.db import connection

from fleet.config import gunicorn
from tests.faults.clients import CSRF, Program, Storm
from tests.faults.sites import Site, copied_site
from tests.serving import free_port, running, served_by_gunicorn

SILENT_SECONDS = 1.5
# So long whoever asks waits for an answer, and ten times as long none of the slow is given up where
# they are to hold nobody up by themselves: who waits for them gets none.
LONGEST_SECONDS = 60.0
MOVES = "SELECT count(*) FROM fleet_stockmove"
INSPECTIONS = "SELECT count(*) FROM inspections_inspection"
REFUSALS = "SELECT count(*) FROM fleet_refusal"


@pytest.fixture(scope="module")
def site(demo_loaded: tuple[Path, str], tmp_path_factory: pytest.TempPathFactory) -> Site:
    if connection.vendor != "sqlite":
        pytest.skip("the demo is on SQLite")
    return copied_site(demo_loaded[0], tmp_path_factory.mktemp("slow") / "site")


@pytest.fixture(scope="module")
def told(site: Site) -> dict[str, Any]:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
    return site.prepared()


@contextmanager
def served(site: Site, silent_seconds: float) -> Iterator[int]:
    """Serve a site by gunicorn as its configuration has it, on a port of its own."""
    settings = {"HOME": str(site.var), "LEDGER_SILENT_SECONDS": str(silent_seconds)}
    with (
        (site.var / "served.log").open("a") as said,
        served_by_gunicorn(site.environment | settings, said=said) as port,
    ):
        yield port


@contextmanager
def proxied(folder: Path, port: int) -> Iterator[int]:
    """Put nginx before a port, set up as the page on deployment has it, but for HTTPS."""
    own = free_port()
    names = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    paths = "".join(f"{name}_temp_path {folder / name};" for name in names)
    as_root = "user root;" if os.getuid() == 0 else ""
    (folder / "nginx.conf").write_text(
        f"""{as_root} daemon off; pid {folder / "pid"}; error_log {folder / "log"}; events {{}}
        http {{ {paths} access_log off; server {{
          listen 127.0.0.1:{own};
          client_max_body_size 64m;
          location / {{
            proxy_pass http://127.0.0.1:{port};
            proxy_set_header Host $host;
            proxy_read_timeout 120s;
          }}
        }} }}"""
    )
    program = shutil.which("nginx") or ""
    with running([program, "-p", str(folder), "-c", str(folder / "nginx.conf")], own):
        yield own


def request(method: str, path: str, body: bytes, headers: dict[str, str]) -> bytes:
    """Return a whole request as it goes over the line."""
    head = {"Host": "127.0.0.1", "Content-Length": str(len(body)), "Connection": "close"} | headers
    lines = [f"{method} {path} HTTP/1.1", *(f"{name}: {value}" for name, value in head.items())]
    return "\r\n".join([*lines, "", ""]).encode() + body


def connected(port: int) -> socket.socket:
    return socket.create_connection(("127.0.0.1", port), timeout=LONGEST_SECONDS)


def answered(port: int, sent: bytes, *, goes_away: bool = False) -> bytes:
    """Send something, close the sending side where the client goes away, and read the answer."""
    with closing(connected(port)) as line:
        line.sendall(sent)
        if goes_away:
            line.shutdown(socket.SHUT_WR)
        came = b""
        while piece := line.recv(65536):
            came += piece
        return came


def of_a_page(told: dict[str, Any], path: str, fields: dict[str, str]) -> bytes:
    """Return a form as the page of somebody signed in sends it."""
    session = told["people"][1]["session"]
    headers = {
        "Cookie": f"sessionid={session}; csrftoken={CSRF}",
        "Content-Type": "application/x-www-form-urlencoded",
    }
    body = urlencode({"csrfmiddlewaretoken": CSRF, **fields}).encode()
    return request("POST", path, body, headers)


def stock_left(told: dict[str, Any]) -> bytes:
    """Return pads taken off a shelf by the page; the number of them stands last."""
    fields = {"submission_id": str(uuid.uuid4()), "kind": "scrapped"}
    fields |= {"occurred_at": "2026-01-02T10:00", "note": "Split", "pads": "10"}
    return of_a_page(told, f"/lots/{told['lots'][0]}/stock/", fields)


def inspection(told: dict[str, Any]) -> bytes:
    """Return an inspection as a program sends it."""
    key = str(uuid.uuid4())
    what = Program(0, told, Storm(), 0).inspection(key)
    headers = {"Authorization": f"Bearer {told['token']}", "Idempotency-Key": key}
    headers["Content-Type"] = "application/json"
    return request("POST", "/api/v1/inspections", json.dumps(what).encode(), headers)


def counts(site: Site) -> list[Any]:
    return [site.asked(query)[0][0] for query in (MOVES, INSPECTIONS, REFUSALS)]


def test_who_goes_away_or_falls_silent_midway_leaves_nothing_and_holds_nobody_up(
    site: Site, told: dict[str, Any]
) -> None:
    before = counts(site)
    with served(site, SILENT_SECONDS) as port, ExitStack() as held:
        for whole in (stock_left(told), inspection(told)):
            cut = answered(port, whole[:-1], goes_away=True)
            assert cut.startswith(b"HTTP/1.1 408"), cut
            assert b"did not come whole" in cut
        # As many as there are threads, and as many again who do not even finish the head.
        threads = gunicorn.workers * gunicorn.threads
        for sent in (stock_left(told)[:-1], b"POST /register/ HTTP/1.1\r\nHost: 127"):
            for _ in range(threads):
                line = held.enter_context(closing(connected(port)))
                line.sendall(sent)
        assert counts(site) == before
        assert answered(port, inspection(told)).startswith(b"HTTP/1.1 201")
        after = counts(site)
        assert after == [before[0], before[1] + 1, before[2]]
    assert site.failures() == []


@pytest.mark.skipif(not shutil.which("nginx"), reason="without nginx no proxy collects")
def test_behind_the_proxy_many_slow_uploads_keep_nobody_waiting_and_are_taken_once_whole(
    site: Site, told: dict[str, Any], tmp_path: Path
) -> None:
    before = counts(site)
    with (
        served(site, 10 * LONGEST_SECONDS) as port,
        proxied(tmp_path, port) as front,
        ExitStack() as held,
    ):
        slow = []
        for _ in range(2 * gunicorn.workers * gunicorn.threads):
            line = held.enter_context(closing(connected(front)))
            whole = stock_left(told)
            line.sendall(whole[:-20])
            slow.append((line, whole[-20:]))
        for _ in range(3):
            for place, (line, rest) in enumerate(slow):
                line.sendall(rest[:2])
                slow[place] = line, rest[2:]
            assert answered(front, inspection(told)).startswith(b"HTTP/1.1 201")
        assert counts(site) == [before[0], before[1] + 3, before[2]]
        line, rest = slow[0]
        line.sendall(rest)
        assert line.recv(65536).startswith(b"HTTP/1.1 302")
    # The others went away with half of it unsent.
    assert counts(site) == [before[0] + 1, before[1] + 3, before[2]]
