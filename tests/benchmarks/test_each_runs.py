"""Each benchmark runs, on small yards. What it measures there says nothing."""

from __future__ import annotations

import subprocess
import sys

from django.conf import settings
from django.db import connection

from tests.benchmarks.__main__ import NAMES


def test_each_benchmark_prints_its_name_a_ratio_and_its_goal_and_nothing_else(
    django_db_setup: None,
) -> None:
    # PostgreSQL copies no database that somebody is connected to.
    connection.close()
    like = str(connection.settings_dict["NAME"])
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks", "--fast", "--like", like],
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    printed = [line.split() for line in done.stdout.splitlines()]
    assert [name for name, _, _ in printed] == list(NAMES)
    for _, ratio, goal in printed:
        assert float(ratio) > 0.0
        assert float(goal) > 1.0
