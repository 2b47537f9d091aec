"""`python -m tests.faults`: storms, power cuts and crowds as you like, on a demo of its own."""

from __future__ import annotations

import argparse
import os
import signal
import sys
import time
from collections import Counter
from math import inf
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")

from tests.faults.aftermath import faults_after
from tests.faults.crowd import crowd
from tests.faults.power_cut import cut_often, worked
from tests.faults.sites import ClusterSite, Site
from tests.faults.storm import rage

KINDS = ("inspections", "photos", "replacements", "re-ratings", "registers")
WORKED_SECONDS = 20.0
VERIFY_EVERY = 50


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--power-cuts", type=int, help="instead, on SQLite")
    parser.add_argument("--crowd", type=int, help="instead, so many clients at once")
    parser.add_argument(
        "--synchronous",
        choices=["FULL", "NORMAL", "OFF"],
        default="FULL",
        help="as SQLite is told to sync; the site itself tells it FULL",
    )
    parser.add_argument("--minutes", type=float, default=inf, help="after which no more kills")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--engine", choices=["sqlite", "postgresql"], default="sqlite")
    asked = parser.parse_args()
    # Ended from outside too, nothing is left that runs.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    with TemporaryDirectory(prefix="faults-") as folder:
        var = Path(folder) / "site"
        site = ClusterSite(var) if asked.engine == "postgresql" else Site(var)
        try:
            site.run("manage.py", "demo", "--no-serve")
            if asked.power_cuts:
                return _power_cuts(site, asked.power_cuts, asked.seed, asked.synchronous)
            if asked.crowd:
                return _crowd(site, asked.crowd)
            return _storm(site, asked.kills, asked.seed, 60 * asked.minutes)
        finally:
            if isinstance(site, ClusterSite):
                site.stop()


def _storm(site: Site, kills: int, seed: int, most_seconds: float) -> int:
    began = time.monotonic()
    storm = rage(site, site.prepared(), kills, seed, most_seconds)
    faults = faults_after(site, storm)
    print(
        f"{storm.kills} kills, {storm.kills_of_database} of them of the database server, in "
        f"{time.monotonic() - began:.0f} s; answered as recorded: "
        f"{', '.join(map(storm.words, KINDS))}, {storm.rated_beside} of those beside their page; "
        f"{storm.broken_off} answers broken off, {storm.put_off} put off; {len(faults)} faults"
    )
    return _told(faults)


def _power_cuts(site: Site, cuts: int, seed: int, synchronous: str) -> int:
    disk, trace, storm = worked(site, WORKED_SECONDS, FAULTS_SYNCHRONOUS=synchronous)
    found = cut_often(
        disk, trace, cuts, site.var.parent / "cuts", verify_every=VERIFY_EVERY, seed=seed
    )
    print(
        f"{found.made} power cuts of {synchronous} in {WORKED_SECONDS:.0f} s of work, of which the "
        f"clients saw {', '.join(map(storm.words, KINDS[:2]))} answered as recorded, by "
        f"{found.syncs} syncs of files; {len(found.faults)} faults"
    )
    return _told(found.faults)


def _crowd(site: Site, clients: int) -> int:
    storm = crowd(site, site.prepared(), clients, WORKED_SECONDS)
    faults = faults_after(site, storm)
    answers = ", ".join(f"{times} of {status}" for status, times in sorted(storm.statuses.items()))
    print(
        f"{clients} clients at once for {WORKED_SECONDS:.0f} s; answered: "
        f"{storm.words('inspections')}, {storm.words('pages')}; by status: {answers}; "
        f"{storm.broken_off} broken off; longest wait {storm.longest_seconds:.1f} s; "
        f"{len(faults)} faults"
    )
    return _told(faults)


def _told(faults: list[str]) -> int:
    for fault, times in Counter(faults).items():
        print(f"{times} times: {fault}", file=sys.stderr)
    return 1 if faults else 0


if __name__ == "__main__":
    raise SystemExit(main())
