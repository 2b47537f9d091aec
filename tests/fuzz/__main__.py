"""`python -m tests.fuzz --cases 5000`: as many cases as you like, from a seed of your own."""

from __future__ import annotations

import argparse
from pathlib import Path

import pytest

from tests.fuzz.run import PLUGIN, Run


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=5_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="a word in the name of a test")
    asked = parser.parse_args()

    class Plugin(Run):
        """What the tests look up."""

    plugin = Plugin(asked.cases, asked.seed)
    tests = Path(__file__).with_name("test_fuzz.py")
    told = [
        "-q",
        "-s",
        "-p",
        "no:cacheprovider",
        str(tests),
        *(["-k", asked.only] if asked.only else []),
    ]

    class Named:
        def pytest_configure(self, config: pytest.Config) -> None:
            config.pluginmanager.register(plugin, PLUGIN)

    return int(pytest.main(told, plugins=[Named()]))


if __name__ == "__main__":
    raise SystemExit(main())
