"""The site is killed in the middle of signings: nothing is half on record, and nothing is lost.

`python -m tests.faults --kills 300` does the same as often as you like.
"""

from __future__ import annotations

from pathlib import Path

from tests.faults.storm import copied_site, faults_after, rage

KILLS = 10


def test_ten_kills_in_a_storm_of_signings_leave_every_submission_whole_or_absent(
    demo_loaded: tuple[Path, str], tmp_path: Path
) -> None:
    var = copied_site(demo_loaded[0], tmp_path / "site")
    storm = rage(var, KILLS)
    assert storm.kills == KILLS
    # Some were cut off in the middle, or nothing was tried.
    assert storm.broken_off
    assert faults_after(var, storm) == []
