"""DEVELOPERS.md names only what is there."""

from __future__ import annotations

import re
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
# A path of ours in backticks: a folder, or a file, perhaps with a test's name after it.
NAMED = re.compile(
    r"`((?:fleet|ratings|inspections|tests|fixtures)/[\w./-]*|\.ci/[\w./-]+)(?:::\w+)?`"
)


def named_paths() -> list[str]:
    return NAMED.findall((PROJECT / "DEVELOPERS.md").read_text())


def test_every_path_it_names_exists() -> None:
    named = named_paths()
    assert len(named) > 30
    assert [path for path in named if not (PROJECT / path).exists()] == []


def test_every_folder_of_the_apps_is_named() -> None:
    """What a newcomer finds, the map tells: but for what every Django app has."""
    usual = {"migrations", "templates", "templatetags", "static", "management", "models"}
    folders = {
        f"{app}/{folder.name}/"
        for app in ("fleet", "ratings", "inspections")
        for folder in (PROJECT / app).iterdir()
        if folder.is_dir() and folder.name not in usual and any(folder.glob("*.py"))
    }
    assert folders - set(named_paths()) == set()


def test_its_example_of_one_test_is_a_test() -> None:
    text = (PROJECT / "DEVELOPERS.md").read_text()
    example = re.search(r"`\.venv/bin/pytest (tests/[\w./]+)::(\w+)`", text)
    assert example is not None
    assert f"def {example[2]}(" in (PROJECT / example[1]).read_text()
