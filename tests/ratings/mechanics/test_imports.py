"""The mechanics stand by themselves."""

from __future__ import annotations

import os
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest

import ratings.mechanics

PROGRAM = """
import importlib, sys
for name in sys.argv[1:]:
    importlib.import_module(name)
print(sorted({"django", "numpy", "scipy"} & set(sys.modules)))
"""
MODULES = [
    module.name
    for module in pkgutil.walk_packages(ratings.mechanics.__path__, "ratings.mechanics.")
]


def printed_by(program: str, *arguments: str) -> str:
    """Run a program in a Python of its own that knows no Django settings."""
    environment = {k: v for k, v in os.environ.items() if k != "DJANGO_SETTINGS_MODULE"}
    environment["PYTHONPATH"] = str(Path(ratings.mechanics.__path__[0]).parents[1])
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_all_of_the_mechanics_imports_without_django_settings_and_loads_no_numpy() -> None:
    assert "ratings.mechanics.unit_rating" in MODULES
    assert printed_by(PROGRAM, *MODULES) == "[]"


def test_a_light_module_loads_no_module_of_the_public_face() -> None:
    program = (
        "import sys; from ratings.mechanics.standing import judge;"
        "print([name for name in sys.modules if name.startswith('ratings.mechanics.')])"
    )
    light = ["ratings.mechanics.arguments", "ratings.mechanics.standing"]
    assert printed_by(program) == str(light)


@pytest.mark.parametrize("name", ratings.mechanics.__all__)
def test_each_public_name_is_had_from_the_package(name: str) -> None:
    found = getattr(ratings.mechanics, name)
    assert found.__name__ == name
    assert found.__module__ in MODULES


def test_the_package_lists_what_can_be_had_from_it() -> None:
    assert set(ratings.mechanics.__all__) <= set(dir(ratings.mechanics))


def test_no_module_hides_a_public_name() -> None:
    assert not {name.rpartition(".")[2] for name in MODULES} & set(ratings.mechanics.__all__)


def test_a_name_that_is_not_there_is_refused_as_by_any_module() -> None:
    with pytest.raises(AttributeError, match=r"'ratings\.mechanics' has no attribute 'pulls'"):
        ratings.mechanics.pulls  # noqa: B018
