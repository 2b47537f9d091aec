from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.chromium import Visit
from tests.browser.test_bench_test import fill_reading, fill_readings, fill_set_up
from tests.browser.watch import PHONE, standing
from tests.builders import rated_unit
from tests.factories import ManagerFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PLAIN = {**PHONE, "java_script_enabled": False}


def test_pads_are_counted_by_the_selects(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/", unit.manager, **PLAIN)
    page.locator("main").get_by_role("link", name="Inspect", exact=True).click()
    page.get_by_label("A1 condition").select_option("cracked")
    page.get_by_label("B4 condition").select_option("missing")
    page.get_by_label("Every position left open is sound").check()
    page.get_by_role("button", name="Show the line pull").click()
    expect(page.locator("#preview")).to_contain_text("6 of 8 pads sound")
    assert unit.housing.inspections.count() == 1
    page.get_by_role("button", name="Sign the inspection").click()
    expect(page.get_by_role("status")).to_contain_text("below listing")
    assert standing(page) == "below listing"


def test_pads_are_replaced(visit: Visit) -> None:
    unit = rated_unit(unsound={"A1": "missing", "A2": "missing"}, in_stock=2)
    page = visit(f"/units/{unit.housing.pk}/replace/", unit.manager, **PLAIN)
    for name in ("A1", "A2"):
        page.locator(f"#lot-{name}").select_option(str(unit.lot.pk))
    page.get_by_role("button", name="Sign the replacement").click()
    assert standing(page) == "meets listing"


def test_more_rows_from_the_server_keep_what_was_typed_and_judge_nothing(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/lots/{unit.lot.pk}/bench-test/", unit.manager, **PLAIN)
    before = page.locator("#reading-rows tr").count()
    fill_reading(page, 2, "12.5", "oops")
    page.get_by_label("Pads sharing the load").fill("3")
    page.get_by_role("button", name="More rows").click()
    expect(page.locator("#reading-rows tr")).to_have_count(before + 8)
    expect(page.get_by_role("alert")).to_have_count(0)
    expect(page.get_by_label("Tape of reading 2", exact=True)).to_have_value("12.5")
    expect(page.get_by_label("Gauge of reading 2", exact=True)).to_have_value("oops")
    expect(page.get_by_label("Pads sharing the load")).to_have_value("3")

    fill_set_up(page)
    fill_reading(page, 2, "", "")
    fill_readings(page, 500, first=before + 3)
    page.get_by_role("button", name="Record the test").click()
    expect(page.get_by_role("status")).to_contain_text("until a second person approves it")
    page = visit(page.url, ManagerFactory(), **PLAIN)
    page.get_by_label("I have read the doubts above").check()
    page.get_by_role("button", name="Approve the rating").click()
    expect(page.get_by_role("status")).to_contain_text("1 ledger entry posted")
    page.goto(f"/units/{unit.housing.pk}/")
    assert standing(page) == "below listing"


def test_the_board_is_filtered_by_its_button(visit: Visit) -> None:
    short, good = rated_unit(listed_lbf=60_000), rated_unit()
    page = visit("/", good.manager, **PLAIN)
    page.get_by_label("Standing", exact=True).select_option("below listing")
    page.get_by_role("button", name="Filter").click()
    expect(page.locator("td.c-mark a")).to_have_text([short.housing.mark])
