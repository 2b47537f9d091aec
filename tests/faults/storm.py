"""A storm of work on a site that is killed again and again, and what must then be on record."""

from __future__ import annotations

import os
import signal
import threading
import time
from contextlib import ExitStack
from math import inf
from random import Random
from typing import Any

from tests.faults.clients import CLIENTS, LONGEST_SECONDS, Storm
from tests.faults.prepared import MOST_AT_ONCE
from tests.faults.sites import Site

# Between the first answer after a kill and the next kill, at most: long enough now and then that
# what takes longest gets through.
QUIET_SECONDS = (0.2, 0.4, 0.4, 0.4, 3.0)
# How often it is the database server that is killed, where there is one.
OF_THE_DATABASE = 0.5


def rage(
    site: Site, told: dict[str, Any], kills: int, seed: int = 1, most_seconds: float = inf
) -> Storm:
    """Let clients work while the site is killed so many times, and return what they were told.

    most_seconds: after which it is killed no more.
    """
    storm, chance, until = Storm(), Random(seed), time.monotonic() + most_seconds
    with ExitStack() as held:
        port, process = held.enter_context(site.served(FAULTS_MOST_AT_ONCE=str(MOST_AT_ONCE)))
        assert process.stdout is not None
        clients = [
            threading.Thread(target=client(port, told, storm, number).work)
            for number, client in enumerate(CLIENTS)
        ]
        serving = int(process.stdout.readline())
        for each in clients:
            each.start()
        try:
            for _ in range(kills):
                _wait_for_an_answer(storm)
                time.sleep(chance.uniform(0.0, chance.choice(QUIET_SECONDS)))
                if chance.random() < OF_THE_DATABASE and site.kill_database(chance):
                    storm.kills_of_database += 1
                else:
                    os.kill(serving, signal.SIGKILL)
                    serving = int(process.stdout.readline())
                storm.kills += 1
                if time.monotonic() > until:
                    break
            # The last one is left to prove that the site recovered.
            _wait_for_an_answer(storm)
        finally:
            storm.is_over.set()
            for each in clients:
                each.join(2 * LONGEST_SECONDS)
    return storm


def _wait_for_an_answer(storm: Storm) -> None:
    """Wait until something is recorded anew."""
    before, until = storm.all_recorded, time.monotonic() + 2 * LONGEST_SECONDS
    while storm.all_recorded == before:
        if time.monotonic() > until:
            raise AssertionError(
                f"nothing was recorded after kill {storm.kills}: {storm.refused[-3:]}"
            )
        time.sleep(0.01)
