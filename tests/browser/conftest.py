from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.contrib.auth.models import User
from django.test import Client
from playwright.sync_api import Browser, Page, sync_playwright
from pytest_django.live_server_helper import LiveServer

from tests.browser.phone import Phone
from tests.browser.watch import Watch
from tests.browser.wire import Wire
from tests.factories import ManagerFactory

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
PATIENCE_MS = 8000

Visit = Callable[..., Page]


CHROMIUM = next((path for path in map(shutil.which, NAMES) if path), None)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup() -> None:
    """Without a Chromium these tests are skipped, in one line; under CI they fail."""
    # Here and not in a fixture, so that the summary folds all of them into one line.
    if CHROMIUM is None:
        (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)(NONE_FOUND)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    # Playwright keeps an event loop in this thread until it is stopped, so Django takes every
    # query made here for one made in a coroutine. None is: tell it so for as long.
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
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
    assert watch.troubles == []


@pytest.fixture
def phone(browser: Browser, live_server: LiveServer) -> Iterator[Phone]:
    """A phone on a wire that can be cut; at the end its page may have thrown nothing."""
    yield from _phone(browser, live_server)


@pytest.fixture
def other_phone(browser: Browser, live_server: LiveServer) -> Iterator[Phone]:
    """A second one, on a wire of its own."""
    yield from _phone(browser, live_server)


@pytest.fixture
def lasting_phone(browser: Browser, live_server: LiveServer, tmp_path: Path) -> Iterator[Phone]:
    """A phone that keeps what is in it when its browser is closed and opened."""
    yield from _phone(browser, live_server, tmp_path / "phone")


def _phone(
    browser: Browser, live_server: LiveServer, folder: Path | None = None
) -> Iterator[Phone]:
    site = urlsplit(live_server.url)
    wire = Wire(site.hostname or "localhost", site.port or 80)
    options = {"executable_path": CHROMIUM, "args": list(ARGUMENTS)}
    given = Phone(browser, wire, options, folder)
    yield given
    given.close()
    wire.close()
    assert given.troubles == []


def _session_cookie(user: User, url: str) -> Any:
    client = Client()
    client.force_login(user)
    return {"name": "sessionid", "value": client.cookies["sessionid"].value, "url": url}


@pytest.fixture
def keeper(transactional_db: None) -> User:
    """An equipment manager."""
    return ManagerFactory()
