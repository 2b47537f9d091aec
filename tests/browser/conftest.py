from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Browser
from pytest_django.live_server_helper import LiveServer

from tests.browser.chromium import ARGUMENTS, CHROMIUM, NONE_FOUND
from tests.browser.phone import Phone
from tests.browser.wire import Wire
from tests.factories import ManagerFactory


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup() -> None:
    """Without a Chromium these tests are skipped, in one line; under CI they fail."""
    # Here and not in a fixture, so that the summary folds all of them into one line.
    if CHROMIUM is None:
        (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)(NONE_FOUND)


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


@pytest.fixture
def keeper(transactional_db: None) -> User:
    """An equipment manager."""
    return ManagerFactory()
