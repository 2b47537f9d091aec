"""What a browser says went wrong, and the devices people hold."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import Page

# What htmx logs as it drops a question that a newer one replaces. Any other end of a question has
# a line of its own beside "afterRequest".
DROPPED = ("htmx:afterRequest,", "htmx:sendAbort,")

DESKTOP: dict[str, Any] = {"viewport": {"width": 1280, "height": 900}}
PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844},
    "has_touch": True,
    "is_mobile": True,
}


@dataclass
class Watch:
    """Collects console errors, uncaught exceptions, failed requests and refusals."""

    troubles: list[str] = field(default_factory=list)
    expected: set[int] = field(default_factory=set)

    def expect(self, *statuses: int) -> None:
        """These refusals are what the test is about."""
        self.expected |= set(statuses)

    def over(self, page: Page) -> None:
        page.on("console", lambda said: self._console(said.type, said.text))
        page.on("pageerror", lambda error: self.troubles.append(f"exception: {error}"))
        page.on("requestfailed", lambda request: self._failed(request.url, request.failure))
        page.on("response", lambda response: self._response(response.url, response.status))

    def _console(self, kind: str, text: str) -> None:
        if kind != "error" or text.startswith(DROPPED):
            return
        if not any(f"status of {status}" in text for status in self.expected):
            self.troubles.append(f"console: {text}")

    def _failed(self, url: str, failure: str | None) -> None:
        # Whoever leaves a page, signs twice or takes a download cuts a request short.
        if failure != "net::ERR_ABORTED":
            self.troubles.append(f"failed: {url} ({failure})")

    def _response(self, url: str, status: int) -> None:
        if status >= 400 and status not in self.expected:
            self.troubles.append(f"refused: {url} ({status})")


def press(page: Page, selector: str, times: int = 1) -> None:
    """Tap with a thumb where there is one, else click."""
    target = page.locator(selector)
    for _ in range(times):
        if page.evaluate("navigator.maxTouchPoints > 0"):
            target.tap()
        else:
            target.click()


def standing(page: Page) -> str:
    """The standing that a unit's page shows at its head."""
    return page.locator(".judged > .standing").inner_text()
