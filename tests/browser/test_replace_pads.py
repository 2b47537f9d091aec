from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.chromium import Visit
from tests.browser.watch import DESKTOP, PHONE, standing
from tests.builders import rated_unit

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_pads_from_stock_bring_the_unit_back(visit: Visit, device: dict[str, Any]) -> None:
    unit = rated_unit(unsound={"A1": "missing", "B1": "cracked"}, in_stock=3)
    page = visit(f"/units/{unit.housing.pk}/", unit.manager, **device)
    assert standing(page) == "below listing"
    page.get_by_role("link", name="Replace pads").click()
    expect(page.locator("#preview")).to_contain_text("6 of 8 pads sound")
    for name in ("A1", "B1"):
        page.locator(f"#lot-{name}").select_option(label=f"fit {unit.lot.mark}")
    expect(page.locator("#preview")).to_contain_text("48,000 lbf")
    expect(page.locator("#preview")).to_contain_text("meets listing")
    page.get_by_role("button", name="Sign the replacement").click()
    expect(page.get_by_role("status")).to_contain_text("meets listing")
    assert standing(page) == "meets listing"
    unit.lot.refresh_from_db()
    assert unit.lot.in_stock == 1


def test_more_than_the_shelf_holds_is_refused_and_what_was_chosen_is_kept(visit: Visit) -> None:
    unit = rated_unit(unsound={"A1": "missing", "B1": "missing"}, in_stock=1)
    page = visit(f"/units/{unit.housing.pk}/replace/", unit.manager, **PHONE)
    for name in ("A1", "B1"):
        page.locator(f"#lot-{name}").select_option(label=f"fit {unit.lot.mark}")
    page.get_by_role("button", name="Sign the replacement").click()
    expect(page.get_by_role("alert")).to_be_focused()
    expect(page.locator("#lot-B1")).to_have_value(str(unit.lot.pk))
    unit.lot.refresh_from_db()
    assert unit.lot.in_stock == 1
