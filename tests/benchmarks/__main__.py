"""Every promise of speed, measured: `python -m tests.benchmarks` prints NAME RATIO GOAL.

Each ratio is of two works run in turn in this one run, since machines differ. To standard error
goes what was measured, how long it took, and how much memory; where that grows by more than is
promised, it ends with 1.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

NAMES = (
    "board_page",
    "board_growth",
    "due_growth",
    "unit_growth",
    "rerate",
    "verify",
    "sign",
    "sign_growth",
    "extraction",
    "history",
    "history_growth",
    "import",
    "export",
    "pack",
    "start",
)


def main() -> None:
    """Run the benchmarks asked for, in the order of their list."""
    asked = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    asked.add_argument(
        "--only", action="append", metavar="NAME", choices=NAMES, help="may be given again"
    )
    asked.add_argument("--fast", action="store_true", help="small sizes: does each still run?")
    asked.add_argument(
        "--like", default="", metavar="DATABASE", help="a migrated, empty database to copy"
    )
    given = asked.parse_args()
    with TemporaryDirectory(prefix="benchmarks-") as folder:
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
        # Photos and the secret key too lie in a folder that goes at the end.
        os.environ |= {"LEDGER_VAR": folder, "LEDGER_PLAIN_HTTP": "1"}
        broken = _run(given.only or NAMES, Path(folder), is_fast=given.fast, like=given.like)
    if broken:
        raise SystemExit("More memory than promised:\n" + "\n".join(broken))


def _run(
    names: list[str] | tuple[str, ...], folder: Path, *, is_fast: bool, like: str
) -> list[str]:
    """Print the ratio of each, and return which promises of memory did not hold."""
    import django

    django.setup()
    # What registers benchmarks reads models, and so comes after.
    from tests.benchmarks import (
        extraction,
        histories,
        ledger,
        pages,
        phone,
        register,
        signing,
        start,
    )
    from tests.benchmarks.databases import Databases
    from tests.benchmarks.measuring import BENCHMARKS, Run

    del extraction, histories, ledger, pages, phone, register, signing, start
    databases, broken = Databases(folder, like), []
    try:
        for name in names:
            found = BENCHMARKS[name]
            print(f"{name}: {found.what}", file=sys.stderr, flush=True)
            begun = perf_counter()
            run = Run(databases, is_fast)
            pairs = found.measure(run)
            run.tell(f"{pairs.words(*found.sides)}; {perf_counter() - begun:.0f} s in all")
            print(f"{name} {pairs.ratio:.2f} {found.goal}", flush=True)
            broken += run.broken
    finally:
        databases.close()
    return broken


if __name__ == "__main__":
    main()
