"""A phone in a yard: a browser of its own, on a wire that can be cut."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.contrib.auth.models import User
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Dialog, Locator, Page, expect

from tests.browser.watch import PHONE
from tests.browser.wire import Wire

PATIENCE_MS = 10_000


class Phone:
    """Nobody else's cookies, caches or drafts are in it.

    folder: where all of that is kept, so that it is there again when the browser is closed and
        opened. Without one it lasts as long as the browser stays open, and opens far sooner.
    """

    def __init__(
        self, browser: Browser, wire: Wire, options: dict[str, Any], folder: Path | None = None
    ) -> None:
        self.browser, self.wire, self.options, self.folder = browser, wire, options, folder
        self.context: BrowserContext
        self.page: Page
        self.troubles: list[str] = []
        self.room_bytes: int | None = None

    def open(self, path: str = "/field/", **device: Any) -> Page:
        """Start the browser and come to a page."""
        device = PHONE | device | {"base_url": self.wire.url}
        if self.folder is None:
            self.context = self.browser.new_context(**device)
            self.page = self.context.new_page()
        else:
            self.context = self.browser.browser_type.launch_persistent_context(
                self.folder, **self.options, **device
            )
            self.page = self.context.pages[0]
        self.context.set_default_timeout(PATIENCE_MS)
        self.page.on("pageerror", lambda error: self.troubles.append(str(error)))
        if self.wire.is_cut:
            self.context.set_offline(True)
        if self.room_bytes is not None:
            self.limit(self.room_bytes)
        return self.go(path)

    def limit(self, room_bytes: int) -> None:
        """Let the browser believe that the phone has no more room than this."""
        # Held, since the limit ends with the session.
        self.session = self.context.new_cdp_session(self.page)
        given = {"origin": self.wire.url, "quotaSize": room_bytes}
        self.session.send("Storage.overrideQuotaForOrigin", given)

    def go(self, path: str) -> Page:
        self.page.goto(path)
        return self.page

    def close(self) -> None:
        # A test that fails before it opens the phone is told of by its own words alone.
        if hasattr(self, "context"):
            self.context.close()

    def sign_in(self, person: User) -> None:
        """Give the browser a session, as signing in would."""
        client = Client()
        client.force_login(person)
        value = client.cookies["sessionid"].value
        month = self.page.evaluate("Date.now() / 1000 + 30 * 86400")
        self.context.add_cookies(
            [{"name": "sessionid", "value": value, "url": self.wire.url, "expires": month}]
        )

    def ready(self, person: User) -> Page:
        """Come to the page as a person and wait until it opens without signal."""
        page = self.open("/field/")
        self.sign_in(person)
        page.reload()
        expect(page.locator("#signal")).to_contain_text("Opens without signal too")
        # A page that was being opened while the worker started is not yet the worker's.
        return self.go("/field/?again")

    def lose_signal(self) -> None:
        self.wire.cut()
        self.context.set_offline(True)

    def find_signal(self) -> None:
        self.wire.mend()
        self.context.set_offline(False)

    def find_signal_for(self, person: User) -> None:
        """Signal is back, and somebody else holds the phone."""
        self.sign_in(person)
        self.find_signal()
        self.page.goto("about:blank")
        self.go("/field/")


def begin(page: Page, mark: str, kind: str = "pad count") -> None:
    """Open the inspection of a unit, of a kind that has no list unless told otherwise."""
    card = page.locator(".unit-card").filter(has=page.get_by_role("heading", name=mark, exact=True))
    card.locator("a.button").first.click()
    page.get_by_label("Kind").select_option(kind)


def find(page: Page, condition: str, *names: str) -> None:
    """Each pad in two taps: the pad, and what is in it."""
    for name in names:
        page.locator(f"[data-pad={name}]").tap()
        page.locator(f".pad-setters [data-condition={condition}]").tap()


def sign(page: Page) -> None:
    page.get_by_role("button", name="Sign as").tap()


def state(page: Page) -> Locator:
    """What the outbox says of its newest item."""
    return page.locator(".outbox-item .state").first


def sign_and_answer(page: Page, *, accept: bool) -> str:
    """Sign, and answer the question that the page then asks; return the question."""
    asked: list[str] = []

    def answer(dialog: Dialog) -> None:
        asked.append(dialog.message)
        if accept:
            dialog.accept()
        else:
            dialog.dismiss()

    page.once("dialog", answer)
    sign(page)
    # The page keeps the draft before it asks.
    for _ in range(100):
        if asked:
            break
        page.wait_for_timeout(50)
    return asked[0]
