"""A unit's page at a desk and on a phone: what is in the first screen, and what opens."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from fleet.models.housing import MOST_POSITIONS_PER_SIDE
from tests.browser.chromium import Visit
from tests.browser.watch import PHONE
from tests.builders import Unit, rated_unit
from tests.factories import AuditorFactory
from tests.inspections.field.sent import finding_sent, payload, send, signed_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DESK = {"viewport": {"width": 1280, "height": 800}}
FIRST = ("#stands", ".unit-stands .facts", ".to-do", ".unit-do .button", ".pad-map")
SCREENS_BEFORE_HISTORY = 3


@pytest.fixture
def unit() -> Unit:
    """A short unit of 24 pads, out of balance, its inspections overdue, with a finding open."""
    return short_unit(12)


def short_unit(positions_per_side: int) -> Unit:
    """Short however many pads it has, out of balance, overdue, with a finding open."""
    unsound = {"A1": "cracked", "A2": "missing", "A12": "debonded", "B1": "swollen"}
    unit = rated_unit(
        positions_per_side=positions_per_side,
        listed_lbf=12_000.0 * positions_per_side,
        unsound=unsound,
        in_stock=8,
        is_guided=False,
    )
    sent = payload(
        unit, pads=[], travel_in=None, kind="monthly", hours=100, findings=[finding_sent()]
    )
    assert send(signed_in(unit.manager), sent).status_code == 201
    return unit


def path(unit: Unit) -> str:
    return f"/units/{unit.housing.pk}/"


def bottom_px(page: Page, part: str) -> float:
    # What is folded away has a box too, below what folds it.
    box = page.locator(part).filter(visible=True).last.bounding_box()
    assert box is not None
    return box["y"] + box["height"]


def lines_of(page: Page, part: str) -> set[int]:
    """Return over how many lines the texts of a part run."""
    counted: list[int] = page.locator(part).evaluate_all(
        """all => all.map(each => {
            const range = document.createRange();
            range.selectNodeContents(each);
            return new Set([...range.getClientRects()].map(box => Math.round(box.top))).size;
        })"""
    )
    return set(counted)


@pytest.mark.parametrize("positions_per_side", [12, MOST_POSITIONS_PER_SIDE])
def test_the_first_screen_of_a_desk_holds_what_stands_what_to_do_and_the_pads(
    visit: Visit, positions_per_side: int
) -> None:
    unit = short_unit(positions_per_side)
    page = visit(path(unit), unit.manager, **DESK)
    for words in ("finding open", "Out of balance", "Restore it by the best plan"):
        expect(page.locator(".to-do")).to_contain_text(words)
    assert {part: bottom_px(page, part) for part in FIRST if bottom_px(page, part) > 800} == {}
    assert lines_of(page, ".pad-word") == {1}


def test_a_phone_shows_the_history_after_three_screens_and_breaks_no_pad_s_name(
    visit: Visit, unit: Unit
) -> None:
    page = visit(path(unit), unit.manager, **PHONE)
    top = page.locator("#ledger").bounding_box()
    assert top is not None
    assert top["y"] <= SCREENS_BEFORE_HISTORY * PHONE["viewport"]["height"]
    for width in (390, 320):
        page.set_viewport_size({"width": width, "height": 844})
        assert lines_of(page, ".pad b") == {1}
        assert lines_of(page, ".pad-word") == {1}


def test_a_section_opens_by_key_stays_so_and_opens_for_a_link(visit: Visit, unit: Unit) -> None:
    page = visit(path(unit), unit.manager, **DESK)
    calculation = page.get_by_role("region", name="The calculation")
    findings = page.get_by_role("region", name="Findings")
    expect(calculation).to_be_hidden()
    page.locator("#calculation summary").focus()
    page.keyboard.press("Enter")
    expect(calculation).to_be_visible()
    page.reload()
    expect(calculation).to_be_visible()
    expect(findings).to_be_hidden()
    page.get_by_role("link", name="See findings").click()
    expect(findings).to_be_in_viewport()
    # Closed again and asked for again: the address is the same as it was.
    page.locator("#findings summary").click()
    expect(findings).to_be_hidden()
    page.get_by_role("link", name="See findings").click()
    expect(findings).to_be_in_viewport()
    page.goto(f"{path(unit)}?#entry-1")
    expect(page.locator("#entry-1")).to_be_in_viewport()


def test_every_section_stands_open_on_paper_and_as_it_was_after(visit: Visit, unit: Unit) -> None:
    page = visit(path(unit), AuditorFactory(), **DESK)
    page.emulate_media(media="print")
    expect(page.locator("main details:not([open])")).to_have_count(0)
    page.emulate_media(media="screen")
    expect(page.locator("details.section[open]")).to_have_count(0)
