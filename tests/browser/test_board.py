from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.chromium import Visit
from tests.browser.watch import DESKTOP, PHONE
from tests.builders import Unit, rated_unit

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


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
    page.get_by_label("Search").press_sequentially(short.hammer.mark)
    expect(page.locator("td.c-mark a")).to_have_text([short.housing.mark])
    page.get_by_label("Search").fill("nothing of that name")
    expect(page.locator("#records")).to_contain_text("No unit matches")
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


def test_a_unit_takes_little_room_on_a_phone(visit: Visit, pair: tuple[Unit, Unit]) -> None:
    page = visit("/", pair[0].manager, **PHONE)
    for card in page.locator("tbody tr").all():
        box = card.bounding_box()
        assert box is not None
        assert box["height"] <= 300


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
