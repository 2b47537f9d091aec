"""manage.py run in a process of its own, on a SQLite database of its own."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import Any

from django.conf import settings

ROOT = Path(settings.BASE_DIR)
HEADS = (
    "SELECT h.mark, c.sequence, c.head_hash FROM ratings_currentrating c "
    "JOIN fleet_suppressorhousing h ON h.id = c.housing_id ORDER BY h.mark"
)


def manage(var: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run manage.py on the database kept in var, whichever the tests themselves run on."""
    kept = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=kept | {"LEDGER_VAR": str(var)},
        capture_output=True,
        text=True,
        check=False,
    )


def rows(var: Path, query: str) -> list[tuple[Any, ...]]:
    """Return what the database kept in var answers to a query."""
    with sqlite3.connect(var / "ledger.sqlite3") as database:
        return database.execute(query).fetchall()
