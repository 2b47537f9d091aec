"""A storm of signings on a site that is killed again and again, and what must then be on record."""

from __future__ import annotations

import http.client
import json
import os
import random
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.commands import ROOT, manage

CLIENTS = 3
LONGEST_SECONDS = 20.0
# Between the first answer after a kill and the next kill.
QUIET_SECONDS = 0.4


@dataclass
class Storm:
    """What was sent, by the key of each, and what was answered."""

    sent: set[str] = field(default_factory=set)
    recorded: dict[str, int] = field(default_factory=dict)
    refused: list[str] = field(default_factory=list)
    broken_off: int = 0
    kills: int = 0


def copied_site(demo: Path, var: Path) -> Path:
    """Copy the demo's database to a folder of its own."""
    var.mkdir(parents=True, exist_ok=True)
    with (
        closing(sqlite3.connect(demo / "ledger.sqlite3")) as source,
        closing(sqlite3.connect(var / "ledger.sqlite3")) as copy,
    ):
        source.backup(copy)
    return var


@contextmanager
def served(var: Path) -> Iterator[tuple[int, dict[str, Any], subprocess.Popen[str]]]:
    """Serve the database kept in var; gives the port, what to sign, and the process to watch."""
    with closing(socket.create_server(("127.0.0.1", 0))) as free:
        port = free.getsockname()[1]
    kept = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.faults.served", str(port)],
        cwd=ROOT,
        env=kept | {"LEDGER_VAR": str(var), "LEDGER_PLAIN_HTTP": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        start_new_session=True,
    )
    try:
        assert process.stdout is not None
        yield port, json.loads(process.stdout.readline()), process
    finally:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()


def rage(var: Path, kills: int, seed: int = 1) -> Storm:
    """Let clients sign while the site is killed so many times, and return what they were told."""
    storm, chance = Storm(), random.Random(seed)
    is_over = threading.Event()
    with served(var) as (port, told, process):
        assert process.stdout is not None
        clients = [
            threading.Thread(target=_sign, args=(port, told, storm, is_over, number))
            for number in range(CLIENTS)
        ]
        serving = int(process.stdout.readline())
        for client in clients:
            client.start()
        try:
            for _ in range(kills):
                _wait_for_an_answer(storm)
                time.sleep(chance.uniform(0.0, QUIET_SECONDS))
                os.kill(serving, signal.SIGKILL)
                storm.kills += 1
                serving = int(process.stdout.readline())
            # The last one is left to prove that the site recovered.
            _wait_for_an_answer(storm)
        finally:
            is_over.set()
            for client in clients:
                client.join(LONGEST_SECONDS)
    return storm


def _wait_for_an_answer(storm: Storm) -> None:
    """Wait until the site that began last has recorded something."""
    before, until = len(storm.recorded), time.monotonic() + LONGEST_SECONDS
    while len(storm.recorded) == before:
        if time.monotonic() > until:
            raise AssertionError(
                f"nothing was recorded after kill {storm.kills}: {storm.refused[-1:]}"
            )
        time.sleep(0.01)


def _sign(
    port: int, told: dict[str, Any], storm: Storm, is_over: threading.Event, number: int
) -> None:
    chance = random.Random(number)
    while not is_over.is_set():
        key, unit = str(uuid.uuid4()), chance.choice(told["units"])
        body = unit | {
            "kind": "pad count",
            "seen_at": datetime.now(UTC).isoformat(),
            # Each differs, so that each posts an entry.
            "travel_in": round(chance.uniform(5.9, 6.1), 3),
            "travel_reason": "Taped again",
            "findings": [
                {
                    "number": 1,
                    "severity": "note",
                    "text": f"Hose rubs, {key}",
                    "act_by": None,
                    "who_acts": "",
                }
            ],
        }
        storm.sent.add(key)
        # As a phone does, half of them are sent again until they are answered.
        for _ in range(8 if chance.random() < 0.5 else 1):
            if _is_answered(port, told["token"], storm, key, body) or is_over.is_set():
                break
            time.sleep(0.05)


def _is_answered(port: int, token: str, storm: Storm, key: str, body: dict[str, Any]) -> bool:
    headers = {
        "Authorization": f"Bearer {token}",
        "Content-Type": "application/json",
        "Idempotency-Key": key,
    }
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=LONGEST_SECONDS)
    try:
        connection.request("POST", "/api/v1/inspections", json.dumps(body), headers)
        answer = connection.getresponse()
        text = answer.read().decode()
        # An answer may be cut off after its head: then it was none.
        told = json.loads(text)
    except (OSError, ValueError, http.client.HTTPException):
        storm.broken_off += 1
        return False
    finally:
        connection.close()
    if answer.status == 201:
        storm.recorded[key] = told["id"]
    else:
        storm.refused.append(f"{answer.status}: {text[:400]}")
    return True


INSPECTED = """
    SELECT i.id, i.submission_id,
        (SELECT count(*) FROM inspections_padcount p WHERE p.inspection_id = i.id),
        (SELECT count(*) FROM inspections_finding f WHERE f.inspection_id = i.id)
    FROM inspections_inspection i
"""


def faults_after(var: Path, storm: Storm) -> list[str]:
    """Say what on record is not as it must be after a storm; nothing where all is."""
    with closing(sqlite3.connect(var / "ledger.sqlite3")) as database:
        (said,) = database.execute("PRAGMA integrity_check").fetchone()
        there = {
            str(uuid.UUID(str(key))): (pk, pads, findings)
            for pk, key, pads, findings in database.execute(INSPECTED)
            if key is not None
        }
    found = [] if said == "ok" else [f"the database is damaged: {said}"]
    for key in storm.sent & there.keys():
        _, pads, findings = there[key]
        if (pads, findings) != (8, 1):
            found.append(f"{key} is half on record: {pads} pads and {findings} findings")
    for key, pk in storm.recorded.items():
        if there.get(key, (None,))[0] != pk:
            found.append(f"{key} was answered as inspection {pk}, and is not on record")
    found += [f"refused with {each}" for each in storm.refused[:5]]
    verified = manage(var, "ledger", "verify")
    if verified.returncode:
        found.append(f"ledger verify: {verified.stdout}{verified.stderr}")
    return found
