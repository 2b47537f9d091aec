"""Templates are held to the width of the code. djlint says the rest."""

from __future__ import annotations

from pathlib import Path

import pytest

PROJECT = Path(__file__).parents[2]
TEMPLATES = sorted(
    template
    for app in ("fleet", "ratings", "inspections")
    for template in (PROJECT / app).glob("**/templates/**/*.html")
)
WIDTH = 100


def test_templates_are_found() -> None:
    assert len(TEMPLATES) > 50


@pytest.mark.parametrize(
    "template", TEMPLATES, ids=lambda path: path.relative_to(PROJECT).as_posix()
)
def test_no_line_of_a_template_is_wider_than_the_code(template: Path) -> None:
    lines = template.read_text(encoding="utf-8").splitlines()
    wide = [number for number, line in enumerate(lines, 1) if len(line) > WIDTH]
    assert not wide, f"lines {wide} are longer than {WIDTH} characters"
