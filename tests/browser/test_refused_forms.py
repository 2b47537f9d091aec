from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.chromium import Visit
from tests.browser.watch import DESKTOP, PHONE
from tests.builders import Unit, rated_unit

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# Of every field said to be wrong, the words it is described by; null where there are none.
WORDS_AT_FIELDS = """() => [...document.querySelectorAll('[aria-invalid=true]')].map(field =>
  (field.getAttribute('aria-describedby') ?? '').split(' ')
    .map(id => document.getElementById(id)?.textContent.trim() ?? null))"""


def refused(page: Page, button: str) -> list[list[str]]:
    """Send the form; return the words at each wrong field, once focus is on the summary."""
    page.get_by_role("button", name=button).click()
    expect(page.locator("main [role=alert]").first).to_be_focused()
    expect(page.locator("main [role=alert]").first).to_contain_text("Nothing was saved.")
    found: list[list[str]] = page.evaluate(WORDS_AT_FIELDS)
    assert all(all(words) for words in found)
    return found


def test_a_count(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **PHONE)
    page.get_by_label("Travel, taped").fill("−3")
    page.get_by_label("Hour meter").fill("many")
    assert len(refused(page, "Sign the inspection")) == 2
    expect(page.get_by_label("Travel, taped")).to_have_value("−3")


def test_a_position_not_counted_is_reached_from_the_summary(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **PHONE)
    for name in ("A1", "A2", "A3", "A4", "B1", "B3", "B4"):
        page.get_by_label(f"{name} condition").select_option("sound")
    refused(page, "Sign the inspection")
    page.get_by_role("link", name="B2").click()
    expect(page.locator("select#condition-B2")).to_be_focused()
    described = page.locator("select#condition-B2").get_attribute("aria-describedby")
    expect(page.locator(f"#{described}")).to_contain_text("B2 was not counted")


def test_a_replacement_of_nothing(visit: Visit) -> None:
    unit = rated_unit(in_stock=2)
    page = visit(f"/units/{unit.housing.pk}/replace/", unit.manager, **DESKTOP)
    refused(page, "Sign the replacement")


def test_the_set_up_of_a_bench_test(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/lots/{unit.lot.pk}/bench-test/", unit.manager, **DESKTOP)
    page.get_by_label("Pressure acts on").select_option("blind")
    page.get_by_label("Test stand").select_option(index=1)
    page.get_by_label("Gauge", exact=True).select_option(index=1)
    page.get_by_label("Tape", exact=True).select_option(index=1)
    page.get_by_label("Pads sharing the load").fill("1e308")
    page.get_by_label("Tape at rest").fill("x")
    assert len(refused(page, "Record the test")) == 2


def test_the_readings_of_a_bench_test(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/lots/{unit.lot.pk}/bench-test/", unit.manager, **DESKTOP)
    page.get_by_label("Pressure acts on").select_option("blind")
    page.get_by_label("Test stand").select_option(index=1)
    page.get_by_label("Gauge", exact=True).select_option(index=1)
    page.get_by_label("Tape", exact=True).select_option(index=1)
    page.get_by_label("Pads sharing the load").fill("1")
    page.get_by_label("Tape at rest").fill("10")
    page.get_by_label("Tape of reading 1").fill("nan")
    page.get_by_label("Gauge of reading 1").fill("100")
    assert len(refused(page, "Record the test")) == 1
    page.get_by_role("link", name="Tape of reading 1").click()
    expect(page.get_by_label("Tape of reading 1")).to_be_focused()


@pytest.mark.parametrize(
    ("path", "label", "typed", "button"),
    [
        ("/hammers/{0.hammer.pk}/listing/", "Listed rating", "-1", "Record the listing"),
        ("/policy/", "Confidence", "100", "Put in force"),
        ("/lots/{0.lot.pk}/stock/", "Pads", "1.5", "Record the move"),
        ("/lots/new/", "Hardness", "hard", "Enter the lot"),
        ("/units/{0.housing.pk}/guide/", "What shows it", "   ", "Record it"),
        ("/units/{0.housing.pk}/mounting/", "When", "2999-01-01T00:00", "Record the move"),
    ],
)
def test_a_plain_form(visit: Visit, path: str, label: str, typed: str, button: str) -> None:
    unit: Unit = rated_unit()
    page = visit(path.format(unit), unit.manager, **DESKTOP)
    for blank in page.locator("main [required]").all():
        if blank.get_attribute("type") in ("text", "date") and not blank.input_value():
            blank.fill("2020-01-01")
        elif blank.get_attribute("type") == "radio":
            blank.check()
    # What explains a term is labelled with its word too: only the field is filled in.
    field = page.get_by_label(label, exact=label == "Pads").and_(page.locator("input, textarea"))
    field.fill(typed)
    assert len(refused(page, button)) >= 1
