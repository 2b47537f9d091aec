"""Killed in the middle of work: nothing is half on record, and nothing that was answered is lost.

`python -m tests.faults --kills 300` does the same as often as you like.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import pytest
from django.db import connection

from tests.faults.aftermath import faults_after
from tests.faults.sites import PROGRAMS, ClusterSite, Site, copied_site
from tests.faults.storm import rage

KILLS = 10


@pytest.fixture
def site(request: pytest.FixtureRequest, tmp_path: Path, django_db_setup: None) -> Iterator[Site]:
    """A site of its own, on the engine that the tests run on."""
    if connection.vendor == "sqlite":
        yield copied_site(request.getfixturevalue("demo_loaded")[0], tmp_path / "site")
        return
    if not PROGRAMS:
        pytest.skip("no server can be started to be killed")
    found = ClusterSite(tmp_path / "site")
    try:
        given = {name: quote(str(each)) for name, each in connection.settings_dict.items()}
        account = f"{given['USER']}:{given['PASSWORD']}@{given['HOST']}:{given['PORT']}"
        found.filled_like(f"postgres://{account}/{given['NAME']}")
        yield found
    finally:
        found.stop()


def test_ten_kills_in_a_storm_leave_every_submission_whole_or_absent(site: Site) -> None:
    storm = rage(site, site.prepared(), KILLS)
    assert storm.kills == KILLS
    # Some were cut off in the middle, or nothing was tried.
    assert storm.broken_off
    assert faults_after(site, storm) == []


def test_a_page_that_failed_while_served_is_told_with_its_traceback(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    assert site.failures() == []
    (site.var / "served.log").write_text(
        "2026-11-28 00:54:34,501 INFO fleet.views: refused\n"
        "2026-11-28 00:54:40,689 ERROR django.request: Internal Server Error: /lots/3/\n"
        "Traceback (most recent call last):\nValueError: share is 1: give no more than 1\n"
        "2026-11-28 00:54:41,001 ERROR django.request: Service Unavailable: /\n"
        "Traceback (most recent call last):\nOperationalError: database is locked\n"
    )
    assert site.failures() == [
        "/lots/3/\nTraceback (most recent call last):\nValueError: share is 1: give no more than 1"
    ]
