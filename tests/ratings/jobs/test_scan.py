"""Units by checks as one table: margins, shapes, and what only may go."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.test import Client

from fleet import config
from ratings.jobs.may_go import may_go_of
from ratings.jobs.scan import SHORT_NAMES, columns, scan_row
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.outcomes import (
    CheckKey,
    ConditionState,
    Outcome,
    Verdict,
)
from ratings.templatetags.answers import shape
from tests.job_builders import commit, extraction_job, figured_unit
from tests.ratings.jobs.asked_job import answer, form_of, rows
from tests.ratings.mechanics.pulls import JOB, UNIT
from tests.site.html_form import words

SITE_CSS = Path(config.__file__).parent.parent / "static" / "fleet" / "site.css"


def test_every_check_has_a_column_and_what_is_only_shown_comes_last() -> None:
    assert set(SHORT_NAMES) == set(CheckKey)
    found = columns([check(UNIT, JOB)])
    assert [each.judges for each in found] == sorted((each.judges for each in found), reverse=True)
    assert {each.key for each in found if not each.judges} == {
        CheckKey.TOGETHER,
        CheckKey.ACCELERATION,
    }


def test_a_row_shades_what_governs_alone() -> None:
    verdict = check(UNIT, JOB)
    of = columns([verdict])
    row = scan_row(verdict, UNIT, of, may_go_of(verdict, UNIT))
    assert [column.key for column, cell in zip(of, row.cells, strict=True) if cell.governs] == [
        verdict.governing
    ]
    assert all(cell.margin for cell in row.cells)


def test_four_verdicts_have_four_shapes() -> None:
    assert len({shape(each) for each in Verdict}) == 4
    assert len({shape(each) for each in Outcome}) == 4
    assert len({shape(each) for each in ConditionState}) == 4


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition of relative luminance)."""
    shares = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in shares
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize("state", ["good", "care", "first", "unknown", "warn"])
def test_the_colour_of_a_state_stands_off_from_every_ground(state: str, scheme: int) -> None:
    css = SITE_CSS.read_text()
    colour = re.findall(rf"--{state}: (#\w{{6}});", css)[scheme]
    for ground in ("paper", "sheet", "tint"):
        # WCAG 2.2 AA, 1.4.3: 4.5 to 1 for text.
        assert contrast(colour, re.findall(rf"--{ground}: (#\w{{6}});", css)[scheme]) >= 4.5


@pytest.mark.django_db
def test_only_what_may_go_is_shown_where_asked_and_keeps_its_place(
    dispatcher_client: Client,
) -> None:
    held, free = figured_unit(rate_lbf_in=1500.0), figured_unit()
    commit(held, extraction_job(site="Dolphin 9"))
    fields = form_of(dispatcher_client, extraction_job())
    assert len(rows(answer(dispatcher_client, fields))) == 2
    page = answer(dispatcher_client, fields, only="going")
    (row,) = rows(page)
    assert row.split()[:2] == ["1", free.housing.mark]
    assert "1 of 2 units" in words(page)


@pytest.mark.django_db
def test_where_nothing_may_go_it_says_so(dispatcher_client: Client) -> None:
    figured_unit()
    fields = form_of(dispatcher_client, extraction_job(capacity_lbf=20_000.0))
    page = words(answer(dispatcher_client, fields, only="going"))
    assert "No unit may go as it stands. Show every unit" in page


@pytest.mark.django_db
@pytest.mark.parametrize("only", ["all of them", "GOING", "9" * 5000])
def test_a_filter_nobody_offers_shows_every_unit(dispatcher_client: Client, only: str) -> None:
    figured_unit()
    fields = form_of(dispatcher_client, extraction_job())
    assert len(rows(answer(dispatcher_client, fields, only=only))) == 1


@pytest.mark.django_db
def test_a_held_unit_comes_after_one_that_may_go_however_strong(dispatcher_client: Client) -> None:
    held, free = figured_unit(rate_lbf_in=1500.0), figured_unit()
    commit(held, extraction_job(site="Dolphin 9"))
    told = rows(answer(dispatcher_client, form_of(dispatcher_client, extraction_job())))
    assert [row.split()[1] for row in told] == [free.housing.mark, held.housing.mark]
    assert "do not send held by Dolphin 9" in told[1]
