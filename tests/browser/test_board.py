from __future__ import annotations

import re
import uuid
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from fleet.outages import take_out_of_service
from tests.browser.chromium import Visit
from tests.browser.watch import DESKTOP, PHONE
from tests.builders import Unit, rated_unit
from tests.factories import HousingFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


# What is cut off in a row, but for the yard beside a mark that leaves it no room.
CUT = """() => [...document.querySelectorAll('#records td, #records td .line:not(.faint)')]
  .filter(each => each.checkVisibility() && each.scrollWidth > each.clientWidth + 1)
  .map(each => each.innerText)"""


def marks(page: Page) -> list[str]:
    return page.locator("td.c-mark a").all_inner_texts()


@pytest.fixture
def pair() -> tuple[Unit, Unit]:
    """A unit that is short, and one that is good."""
    return rated_unit(listed_lbf=60_000), rated_unit(listed_lbf=40_000)


@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_filters_narrow_the_board_without_a_reload(
    visit: Visit, pair: tuple[Unit, Unit], device: dict[str, Any]
) -> None:
    short, good = pair
    page = visit("/", good.manager, **device)
    assert marks(page) == [short.housing.mark, good.housing.mark]
    page.evaluate("document.body.dataset.kept = 'yes'")

    page.get_by_label("Standing", exact=True).select_option("meets listing")
    expect(page.locator("td.c-mark a")).to_have_text([good.housing.mark])
    expect(page).to_have_url(re.compile("standing=meets"))
    page.get_by_label("Standing", exact=True).select_option("")
    expect(page.locator("td.c-mark a")).to_have_count(2)
    page.get_by_label("Search", exact=True).press_sequentially(short.hammer.mark)
    expect(page.locator("td.c-mark a")).to_have_text([short.housing.mark])
    page.get_by_label("Search", exact=True).fill("nothing of that name")
    expect(page.locator("#records")).to_contain_text("No unit matches")
    expect(page.get_by_role("link", name="in the whole ledger")).to_be_visible()
    assert page.evaluate("document.body.dataset.kept") == "yes"


@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_a_heading_sorts_and_a_filter_keeps_the_order(
    visit: Visit, pair: tuple[Unit, Unit], device: dict[str, Any]
) -> None:
    short, good = pair
    page = visit("/", good.manager, **device)
    page.locator("thead a", has_text="Listed").first.click()
    expect(page.locator("th[aria-sort=ascending]")).to_contain_text("Listed")
    assert marks(page) == [good.housing.mark, short.housing.mark]
    page.get_by_label("Mounted").select_option("yes")
    expect(page).to_have_url(re.compile("mounted=yes"))
    expect(page.locator("td.c-mark a")).to_have_text([good.housing.mark, short.housing.mark])


def heights(page: Page) -> list[float]:
    boxes = [row.bounding_box() for row in page.locator("tbody tr").all()]
    return [box["height"] for box in boxes if box is not None]


def test_fifteen_units_stand_on_one_screen_at_two_lines_each_and_small_on_a_phone(
    visit: Visit,
) -> None:
    """Also where each has more to say of it than there is room for."""
    units = [rated_unit(listed_lbf=60_000, unsound={"A1": "cracked"}) for _ in range(5)]
    for number in range(10):
        HousingFactory(mark=f"A-LONG-MARK-OF-A-HOUSING-{number}")
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=units[0].housing,
        since=timezone.now(),
        reason="A crack at the yoke weld that somebody must look at before it goes out again.",
        by=units[0].manager,
    )
    page = visit("/", units[0].manager, **DESKTOP)
    page.set_viewport_size({"width": 1280, "height": 1080})
    rows = page.locator("tbody tr")
    expect(rows).to_have_count(15)
    # Two lines of text at the size of the board, and the room around them.
    assert max(heights(page)) <= 50
    last = rows.last.bounding_box()
    assert last is not None
    assert last["y"] + last["height"] <= 1080
    for width in (390, 320):
        page.set_viewport_size({"width": width, "height": 844})
        assert max(heights(page)) <= 140, width
        assert page.evaluate(CUT) == [], width


def test_a_unit_opens_from_the_board(visit: Visit, pair: tuple[Unit, Unit]) -> None:
    short, _ = pair
    page = visit("/", short.manager, **DESKTOP)
    page.get_by_role("link", name=short.housing.mark).click()
    expect(page.locator("h1")).to_have_text(
        f"Housing {short.housing.mark} on hammer {short.hammer.mark}"
    )
    expect(page.locator("main")).to_contain_text("8")
    page.locator("#calculation summary").click()
    expect(page.get_by_role("region", name="The calculation")).to_contain_text("48,000 lbf")
