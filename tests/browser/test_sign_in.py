from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.chromium import Visit
from tests.browser.watch import DESKTOP, PHONE
from tests.builders import rated_unit
from tests.factories import UserFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_a_visitor_signs_in_and_comes_to_the_page_asked_for(
    visit: Visit, device: dict[str, Any]
) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/", **device)
    expect(page).to_have_title("Sign in · Line-Pull Ledger")
    page.get_by_label("Username").fill(unit.manager.username)
    page.get_by_label("Password").fill("line-pull-test")
    page.get_by_role("button", name="Sign in").click()
    expect(page.locator("h1")).to_contain_text(unit.housing.mark)


def test_a_wrong_password_is_said_and_focus_goes_to_the_words(visit: Visit) -> None:
    person = UserFactory()
    page = visit("/sign-in/", **PHONE)
    page.get_by_label("Username").fill(person.username)
    page.get_by_label("Password").fill("not it")
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("alert")).to_be_focused()
    expect(page.get_by_role("alert")).to_contain_text("You are not signed in.")
    expect(page.get_by_label("Username")).to_have_value(person.username)
