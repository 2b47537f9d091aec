"""A site served by gunicorn as its own configuration has it, until who needs it is done."""

from __future__ import annotations

import http.client
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import IO

ROOT = Path(__file__).resolve().parents[1]
LONGEST_START_SECONDS = 60.0
LONGEST_END_SECONDS = 60.0


def free_port() -> int:
    """Return a port that nobody listens on."""
    with closing(socket.create_server(("127.0.0.1", 0))) as free:
        found: int = free.getsockname()[1]
    return found


@contextmanager
def served_by_gunicorn(
    environment: Mapping[str, str], *options: str, said: IO[str] | None = None
) -> Iterator[int]:
    """Serve the site of an environment on a port of its own, and give the port.

    options: of gunicorn, beside the site's own configuration. said: where it writes its errors.
    """
    port = free_port()
    program = [sys.executable, "-m", "gunicorn", "--config", "python:fleet.config.gunicorn"]
    bound = ["--bind", f"127.0.0.1:{port}", "fleet.config.wsgi"]
    with running([*program, *options, *bound], port, environment=environment, said=said):
        yield port


@contextmanager
def running(
    command: Sequence[str],
    port: int,
    *,
    environment: Mapping[str, str] | None = None,
    said: IO[str] | None = None,
) -> Iterator[None]:
    """Run what answers for a site on a port, from when the site is ready there; then end it."""
    process = subprocess.Popen(command, cwd=ROOT, env=environment, stderr=said)
    try:
        _wait_until_ready(port)
        yield
    finally:
        process.terminate()
        process.wait(LONGEST_END_SECONDS)


def _wait_until_ready(port: int) -> None:
    until = time.monotonic() + LONGEST_START_SECONDS
    while not _is_ready(port):
        if time.monotonic() > until:
            raise RuntimeError(f"no site was ready on port {port} in time")
        time.sleep(0.2)


def _is_ready(port: int) -> bool:
    asked = http.client.HTTPConnection("127.0.0.1", port, timeout=LONGEST_START_SECONDS)
    with closing(asked):
        try:
            asked.request("GET", "/ready/")
            return asked.getresponse().status == 200
        except (OSError, http.client.HTTPException):
            return False
