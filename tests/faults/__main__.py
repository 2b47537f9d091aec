"""`python -m tests.faults --kills 300`: a storm as long as you like, on a demo of its own."""

from __future__ import annotations

import argparse
import os
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")

from tests.faults.aftermath import faults_after
from tests.faults.sites import ClusterSite, Site
from tests.faults.storm import rage

KINDS = ("inspections", "photos", "replacements", "re-ratings", "registers")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--engine", choices=["sqlite", "postgresql"], default="sqlite")
    asked = parser.parse_args()
    with TemporaryDirectory(prefix="faults-") as folder:
        var = Path(folder) / "site"
        site = ClusterSite(var) if asked.engine == "postgresql" else Site(var)
        try:
            return _storm(site, asked.kills, asked.seed)
        finally:
            if isinstance(site, ClusterSite):
                site.stop()


def _storm(site: Site, kills: int, seed: int) -> int:
    site.run("manage.py", "demo", "--no-serve")
    began = time.monotonic()
    storm = rage(site, site.prepared(), kills, seed)
    faults = faults_after(site, storm)
    print(
        f"{storm.kills} kills, {storm.kills_of_database} of them of the database server, in "
        f"{time.monotonic() - began:.0f} s; answered as recorded: "
        f"{', '.join(map(storm.words, KINDS))}; {storm.broken_off} answers broken off, "
        f"{storm.put_off} put off; {len(faults)} faults"
    )
    for fault in faults:
        print(fault, file=sys.stderr)
    return 1 if faults else 0


if __name__ == "__main__":
    raise SystemExit(main())
