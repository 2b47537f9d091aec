"""A proof pull typed in by hand, on a desk and on a phone."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from ratings.models import ProofPull
from tests.browser.chromium import Visit
from tests.browser.watch import PHONE
from tests.builders import pull_readings, rated_unit
from tests.factories import LoadIndicatorFactory, TapeFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("device", [{}, PHONE], ids=["desktop", "phone"])
def test_rows_are_added_as_they_are_needed_and_the_unit_is_held_to_the_pull(
    visit: Visit, device: dict[str, object]
) -> None:
    unit = rated_unit()
    LoadIndicatorFactory(), TapeFactory()
    page = visit(f"/units/{unit.housing.pk}/proof-pull/", unit.manager, **device)
    page.get_by_label("Load indicator").select_option(index=1)
    page.get_by_label("Tape", exact=True).select_option(index=1)
    page.get_by_label("Indicator with the unit hanging free").fill("0")
    page.get_by_label("What it was pulled against").fill("Dead man 2, rated 200 tons")
    page.get_by_label("it stood still").check()
    page.get_by_label("as the pad map has them").check()
    page.get_by_role("button", name="More rows").click()
    expect(page.locator("#id_r-6-load_lbf")).to_be_focused()
    for row, reading in enumerate(pull_readings(unit.housing, 0.7)):
        page.locator(f"#id_r-{row}-load_lbf").fill(f"{reading.load_lbf:.0f}")
        page.locator(f"#id_r-{row}-stretch_in").fill(f"{reading.stretch_in:g}")
        page.locator(f"#id_r-{row}-branch").select_option(reading.branch.value)
    page.get_by_role("button", name="Record the pull").click()
    expect(page.get_by_text("The unit is rated by it.")).to_be_visible()
    assert ProofPull.objects.get().readings.count() == 9
