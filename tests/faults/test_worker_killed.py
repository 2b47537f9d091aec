"""A worker is killed in the middle of a long register: nothing stands, and it is done anew."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from django.db import connection

from tests.commands import ROOT
from tests.faults.sites import Site, copied_site

ROWS = 400
LONGEST_SECONDS = 60.0
ASKED = f"""
import django
django.setup()
from django.contrib.auth.models import User
from fleet.models import LongWork
from fleet.numbers import Decimals
from inspections.exchange import long_register
by = User.objects.get(username="odo")
rows = [(n, {{"name": f"Storm {{n}}"}}, Decimals.POINT) for n in range(1, {ROWS} + 1)]
name = long_register.keep(by, {{"yards": rows}})
arguments = {{"by": by.pk, "what": long_register.TAKE, "name": name, "rows": {ROWS}}}
LongWork.objects.create(what=long_register.WHAT, arguments=arguments, asked_by=by)
"""
YARDS = "SELECT count(*) FROM fleet_yard WHERE name LIKE 'Storm %'"
WORK = "SELECT times_begun, trouble, ended_at IS NOT NULL FROM fleet_longwork ORDER BY id DESC"


def test_what_a_killed_worker_was_at_is_done_once_by_the_next(
    demo_loaded: tuple[Path, str], tmp_path: Path
) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("the demo is on SQLite")
    site = copied_site(demo_loaded[0], tmp_path / "site")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
    site.run("-c", ASKED)
    worker = subprocess.Popen(
        [sys.executable, "manage.py", "worker"],
        cwd=ROOT,
        env=site.environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        _wait_until_begun(site)
    finally:
        worker.send_signal(signal.SIGKILL)
        worker.wait()
    assert site.asked(WORK)[0] == (1, "", 0)
    assert site.asked(YARDS) == [(0,)]
    site.run("manage.py", "worker", "--once")
    assert site.asked(WORK)[0] == (2, "", 1)
    assert site.asked(YARDS) == [(ROWS,)]
    assert len(site.asked("SELECT id FROM inspections_takenimport WHERE name = 'Register'")) == 1


def _wait_until_begun(site: Site) -> None:
    until = time.monotonic() + LONGEST_SECONDS
    while site.asked(WORK)[0][0] == 0:
        assert time.monotonic() < until
        time.sleep(0.02)
