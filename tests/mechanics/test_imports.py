"""The mechanics stand by themselves."""

from __future__ import annotations

import os
import pkgutil
import subprocess
import sys
from pathlib import Path

import ratings.mechanics

PROGRAM = """
import importlib, sys
for name in sys.argv[1:]:
    importlib.import_module(name)
print(sorted({"django", "scipy"} & set(sys.modules)))
"""


def test_all_of_the_mechanics_imports_without_django_settings_and_loads_no_scipy() -> None:
    names = [
        module.name
        for module in pkgutil.walk_packages(ratings.mechanics.__path__, "ratings.mechanics.")
    ]
    assert "ratings.mechanics.unitrating" in names
    environment = {k: v for k, v in os.environ.items() if k != "DJANGO_SETTINGS_MODULE"}
    environment["PYTHONPATH"] = str(Path(ratings.mechanics.__path__[0]).parents[1])
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, *names],
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[]"
