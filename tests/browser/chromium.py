"""One Chromium for a whole run of tests, wherever they lie, and pages of the site opened in it."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from pytest_django.live_server_helper import LiveServer

from tests.browser.watch import Watch

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
NONE_FOUND = "Browser tests need Chromium: none was found on this machine."
# Long, since a machine with other work to do is slow; what never comes still fails.
PATIENCE_MS = 20_000
# A page whose plan is worked out as it is asked for, on a machine that does much else.
PATIENCE_FOR_A_PAGE_MS = 90_000

Visit = Callable[..., "Page"]


CHROMIUM = next((path for path in map(shutil.which, NAMES) if path), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    # Imported on need: most runs open no browser. And once: a second one in this thread is refused.
    from playwright.sync_api import expect, sync_playwright

    # Playwright keeps an event loop in this thread until it is stopped, so Django takes every
    # query made here for one made in a coroutine. None is: tell it so for as long.
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        expect.set_options(timeout=PATIENCE_MS)
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS))
        yield started
        started.close()


@pytest.fixture
def visit(browser: Browser, live_server: LiveServer) -> Iterator[Visit]:
    """Open a page of the site as a person, on a device; at the end nothing may have gone wrong.

    `visit.watch` is told what a test makes go wrong on purpose.
    """
    watch = Watch()
    contexts = []

    def open_page(path: str, by: User | None = None, **device: Any) -> Page:
        context = browser.new_context(base_url=live_server.url, **device)
        contexts.append(context)
        context.set_default_timeout(PATIENCE_MS)
        context.set_default_navigation_timeout(PATIENCE_FOR_A_PAGE_MS)
        if by is not None:
            context.add_cookies([_session_cookie(by, live_server.url)])
        page = context.new_page()
        watch.over(page)
        page.goto(path)
        return page

    open_page.watch = watch  # type: ignore[attr-defined]
    yield open_page
    for context in contexts:
        context.close()
    # Said in full: pytest spells out no assertion of a file that is loaded as a plug-in.
    assert not watch.troubles, "\n".join(watch.troubles)


def _session_cookie(user: User, url: str) -> Any:
    client = Client()
    client.force_login(user)
    return {"name": "sessionid", "value": client.cookies["sessionid"].value, "url": url}
