"""Enter in a one-line field presses the first button of a form: that one never signs."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from django.test import Client
from django.urls import reverse

from tests.builders import rated_unit

pytestmark = pytest.mark.django_db


class FirstButtons(HTMLParser):
    """The attributes of the first button of each form of a page that a person fills in."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[dict[str, str | None]] = []
        self.is_sought = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "form":
            self.is_sought = given.get("method") == "post" and "action" not in given
        elif tag == "button" and self.is_sought and given.get("type") != "button":
            self.found.append(given)
            self.is_sought = False


PAGES = {
    "count-pads": "housing",
    "replace-pads": "housing",
    "take-out-of-service": "housing",
    "guide": "housing",
    "mounting": "housing",
    "new-proof-pull": "housing",
    "new-listing": "hammer",
    "policy": "",
    "new-pad-order": "",
}


@pytest.mark.parametrize("name", PAGES)
def test_enter_signs_nothing(name: str) -> None:
    unit = rated_unit()
    client = Client()
    client.force_login(unit.manager)
    machine = PAGES[name]
    page = client.get(reverse(name, args=[getattr(unit, machine).pk] if machine else []))
    first = FirstButtons()
    first.feed(page.content.decode())
    assert first.found
    for button in first.found:
        assert "disabled" in button or button.get("name") == "show"
