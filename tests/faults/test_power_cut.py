"""The power is cut while people sign: whatever was answered as recorded is there, and all is whole.

`python -m tests.faults --power-cuts 300` cuts it as often as you like.
"""

from __future__ import annotations

import shutil
from copy import deepcopy
from pathlib import Path

import pytest
from django.db import connection

from tests.faults.power_cut import cut_often, worked
from tests.faults.sites import copied_site

CUTS = 40
SECONDS = 3.0


@pytest.mark.skipif(not shutil.which("strace"), reason="without strace no write is seen")
def test_after_a_power_cut_all_that_was_answered_is_there_where_the_disk_syncs_and_not_else(
    demo_loaded: tuple[Path, str], tmp_path: Path
) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL writes by processes of its own")
    site = copied_site(demo_loaded[0], tmp_path / "site")
    disk, trace, storm = worked(site, SECONDS)
    assert not storm.refused
    deaf = deepcopy(disk)
    found = cut_often(disk, trace, CUTS, tmp_path / "cuts", verify_every=CUTS)
    assert found.faults == []
    assert found.most_answered
    assert found.most_whole
    # The same moments on a disk that says it synced and did not: the check sees what is lost.
    lost = cut_often(deaf, trace, CUTS, tmp_path / "lost", verify_every=CUTS + 1, heeds_syncs=False)
    assert any("answered as recorded are lost" in each for each in lost.faults)
    assert any("photos answered as whole" in each for each in lost.faults)
