"""A lot is rated again while inspections arrive: none fails, and none is left on the old rate.

`python -m tests.faults.rerating --units 2000` does the same with a large yard.
"""

from __future__ import annotations

import subprocess
import sys

from django.conf import settings
from django.db import connection


def test_inspections_that_arrive_while_a_lot_is_rated_are_all_on_record_at_the_new_rate(
    django_db_setup: None,
) -> None:
    # PostgreSQL copies no database that somebody is connected to.
    connection.close()
    like = str(connection.settings_dict["NAME"])
    asked = ["--units", "60", "--signers", "2", "--like", like]
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults.rerating", *asked],
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    # From fifty on, they are worked out before anything is locked.
    assert "60 units rated again in " in done.stdout
    assert done.stdout.strip().endswith(" 0 faults")
