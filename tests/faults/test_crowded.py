"""Many at once on SQLite, reading and signing: each is answered, and nothing is lost.

`python -m tests.faults --crowd 64` does the same with as many as you like.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from django.db import connection

from tests.faults.aftermath import faults_after
from tests.faults.crowd import crowd
from tests.faults.sites import copied_site

CLIENTS = 16
SECONDS = 3.0


def test_sixteen_at_once_are_all_answered_and_all_that_was_signed_is_on_record(
    demo_loaded: tuple[Path, str], tmp_path: Path
) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("it is SQLite that lets one write at a time")
    site = copied_site(demo_loaded[0], tmp_path / "site")
    storm = crowd(site, site.prepared(), CLIENTS, SECONDS)
    assert storm.recorded["inspections"]
    assert storm.recorded["pages"]
    assert storm.broken_off == 0
    assert set(storm.statuses) <= {200, 201}
    assert faults_after(site, storm) == []
