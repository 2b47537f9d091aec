from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.chromium import Visit
from tests.browser.watch import DESKTOP, standing
from tests.builders import rated_unit
from tests.factories import AuditorFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_auditor_takes_the_history_report_from_the_unit(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/", AuditorFactory(), **DESKTOP)
    link = page.get_by_role("link", name="History report (PDF)")
    with page.expect_response(re.compile(r"history\.pdf$")) as answer:
        link.click()
    assert answer.value.headers["content-type"] == "application/pdf"
    assert page.request.get(answer.value.url).body().startswith(b"%PDF-")


def test_a_printed_unit_keeps_its_standing_and_figures(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/", unit.manager, **DESKTOP)
    page.emulate_media(media="print")
    assert standing(page) == "meets listing"
    expect(page.get_by_role("navigation")).to_be_hidden()
    expect(page.locator("main").get_by_role("link", name="Inspect", exact=True)).to_be_hidden()
    expect(page.get_by_role("region", name="The calculation")).to_be_visible()
