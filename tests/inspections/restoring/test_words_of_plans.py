"""What a plan may say: it never advises to take out a bumper or to alter a housing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings

ROOT = Path(settings.BASE_DIR)
# Everything a plan says stands in these.
SPOKEN = sorted(
    [
        *(ROOT / "inspections/restoring").rglob("*.html"),
        *(ROOT / "inspections/restoring").glob("*.py"),
        ROOT / "inspections/units/templates/units/advice.html",
        ROOT / "ratings/mechanics/restoring.py",
    ]
)
ALTERS = re.compile(
    r"bumper|stops?\b.*\b(out|off|away)|(alter|cut|grind|drill|weld|lengthen|shim)\w*\b.*\bhousing",
    re.IGNORECASE,
)
FORBIDS = re.compile(
    r"^(it )?never alters? a housing (or|and never) takes? out a bumper", re.IGNORECASE
)


def sentences(path: Path) -> list[str]:
    """The sentences of a file, without its tags and the line breaks within them."""
    text = re.sub(r"<[^>]*>|{%.*?%}|{{.*?}}", " ", path.read_text(encoding="utf-8"))
    return [each.strip() for each in re.split(r"[.:;]\s", re.sub(r"\s+", " ", text))]


@pytest.mark.parametrize("path", SPOKEN, ids=lambda path: path.name)
def test_no_plan_advises_to_take_out_a_bumper_or_to_alter_a_housing(path: Path) -> None:
    advised = [each for each in sentences(path) if ALTERS.search(each)]
    assert [each for each in advised if not FORBIDS.search(each)] == []


def test_what_would_be_such_advice_is_seen() -> None:
    for words in ("Take the bumper out", "Grind the housing down", "Take the stops off"):
        assert ALTERS.search(words)
        assert not FORBIDS.search(words)
