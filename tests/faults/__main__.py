"""`python -m tests.faults --kills 300`: a storm as long as you like, on a demo of its own."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")

from tests.commands import manage
from tests.faults.storm import copied_site, faults_after, rage


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    with TemporaryDirectory(prefix="faults-") as folder:
        demo, var = Path(folder) / "demo", Path(folder) / "site"
        demo.mkdir()
        loaded = manage(demo, "demo", "--no-serve")
        if loaded.returncode:
            print(loaded.stderr, file=sys.stderr)
            return 1
        storm = rage(copied_site(demo, var), asked.kills, asked.seed)
        faults = faults_after(var, storm)
    print(
        f"{storm.kills} kills, {len(storm.sent)} inspections sent, {len(storm.recorded)} answered "
        f"as recorded, {storm.broken_off} answers broken off, {len(faults)} faults"
    )
    for fault in faults:
        print(fault, file=sys.stderr)
    return 1 if faults else 0


if __name__ == "__main__":
    raise SystemExit(main())
