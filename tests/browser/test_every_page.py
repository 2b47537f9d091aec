from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Page

from tests.browser.chromium import PATIENCE_FOR_A_PAGE_MS, Visit
from tests.browser.watch import DESKTOP, PHONE
from tests.browser.yard import fill_yard
from tests.factories import DispatcherFactory
from tests.site.terms_helped import EXCEPT_PAGES, unhelped

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# What asks the site for more once the page stands.
ASKING = "[hx-trigger*=load]"
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
OPTIONS = {"runOnly": {"type": "tag", "values": WCAG}, "resultTypes": ["violations"]}
BROKEN_REFERENCES = """() => [...document.querySelectorAll('[aria-describedby], [for]')]
  .flatMap(each => (each.getAttribute('aria-describedby') ?? each.getAttribute('for')).split(' '))
  .filter(id => !document.getElementById(id))"""


def walk(visit: Visit, device: dict[str, Any]) -> Any:
    """Go through every page as the keeper, then those others see; yields name and page."""
    visit.watch.expect(400, 403, 404, 409, 410)  # type: ignore[attr-defined]
    keeper, pages = fill_yard()
    page = visit("/sign-in/", **device)
    yield "sign in", page
    page = visit("/policy/", keeper, **device)
    for name, path in pages.items():
        page.goto(path)
        if page.locator(ASKING).count():
            page.wait_for_load_state("networkidle")
        yield name, page
    yield "403", visit(pages["mounting"], DispatcherFactory(), **device)


def violations(page: Page, name: str) -> list[str]:
    """Run axe, put into the page once however often it is run there."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    found = page.evaluate("options => axe.run(options)", OPTIONS)["violations"]
    return [
        f"{name}: {each['id']} at {', '.join(node['target'][0] for node in each['nodes'][:4])}"
        for each in found
    ]


def overflow(page: Page, width: int) -> int:
    page.set_viewport_size({"width": width, "height": 844})
    wide_px: int = page.evaluate("document.documentElement.scrollWidth")
    return wide_px - width


def test_every_page_fits_reads_and_prints_for_everybody(visit: Visit) -> None:
    troubles = []
    for name, page in walk(visit, PHONE):
        if name not in EXCEPT_PAGES:
            # As the site wrote it: parts that come later are pages of their own.
            written = page.context.request.get(page.url, timeout=PATIENCE_FOR_A_PAGE_MS).text()
            troubles += [f"{name}: no help with {each}" for each in unhelped(written)]
        # What stands folded must fit and read as well.
        page.evaluate("document.querySelectorAll('details.section').forEach(s => s.open = true)")
        troubles += [
            f"{name}: {over} px too wide at {width}"
            for width in (320, 390)
            if (over := overflow(page, width)) > 0
        ]
        troubles += [f"{name}: no #{each}" for each in page.evaluate(BROKEN_REFERENCES)]
        troubles += violations(page, f"{name}, light")
        page.set_viewport_size(DESKTOP["viewport"])
        page.emulate_media(color_scheme="dark")
        troubles += violations(page, f"{name}, dark")
        page.emulate_media(media="print", color_scheme="light")
        troubles += violations(page, f"{name}, printed")
        left = page.locator(":is(nav, button:not(.pad-button), a.button, .pad-tools):visible")
        troubles += [f"{name}, printed: shows {each}" for each in left.all_inner_texts()]
        page.emulate_media(media="screen")
        page.set_viewport_size(PHONE["viewport"])
    assert troubles == []
