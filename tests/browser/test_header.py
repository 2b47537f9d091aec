"""The head of every page: one row at every width, nothing cut, its menu by keyboard."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.chromium import Visit
from tests.browser.watch import DESKTOP, PHONE
from tests.builders import rated_unit

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

ONE_ROW_PX = 60
CUT = """() => [...document.querySelectorAll('.site-head *')].filter(each => {
  const box = each.getBoundingClientRect();
  return each.checkVisibility() && box.width > 0 && (box.right > innerWidth + 0.5 || box.left < 0);
}).map(each => `${each.tagName}: ${each.textContent.trim()}`)"""


def test_the_head_is_one_row_at_every_width_and_nothing_of_it_is_cut(visit: Visit) -> None:
    page = visit("/policy/", rated_unit().manager, **PHONE)
    for width in (320, 390, 768, 1199, 1200, 1280):
        page.set_viewport_size({"width": width, "height": 844})
        box = page.locator(".site-head").bounding_box()
        assert box is not None
        assert box["height"] <= ONE_ROW_PX, width
        assert page.evaluate(CUT) == [], width
        page.locator(".site-menu summary").click()
        assert page.evaluate(CUT) == [], width
        assert page.evaluate("document.documentElement.scrollWidth") == width
        page.locator(".site-menu summary").click()


def test_the_menu_opens_by_keyboard_leads_on_and_closes_by_escape(visit: Visit) -> None:
    page = visit("/policy/", rated_unit().manager, **PHONE)
    summary = page.locator(".site-menu summary")
    summary.focus()
    page.keyboard.press("Enter")
    transfers = page.get_by_role("link", name="Transfers")
    expect(transfers).to_be_visible()
    page.keyboard.press("Escape")
    expect(transfers).to_be_hidden()
    expect(summary).to_be_focused()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Waiting for me")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("Waiting for me")


def test_the_box_finds_at_a_desk_and_its_button_leads_there_on_a_phone(visit: Visit) -> None:
    unit = rated_unit()
    page = visit("/policy/", unit.manager, **DESKTOP)
    page.get_by_label("Find a mark").fill(unit.housing.mark)
    page.keyboard.press("Enter")
    page.get_by_role("link", name=f"Housing {unit.housing.mark}").click()
    expect(page.locator("h1")).to_contain_text(unit.housing.mark)
    page.set_viewport_size(PHONE["viewport"])
    page.get_by_role("button", name="Find").click()
    expect(page.locator("#asked")).to_be_focused()
