"""Read a page's form as a browser would, so that a test sends what the page really holds."""

from __future__ import annotations

import html
import re
from html.parser import HTMLParser
from typing import Any

from django.test import Client

Fields = dict[str, Any]


class _MainForm(HTMLParser):
    """The fields of the first form that posts from within <main>, with their values."""

    def __init__(self) -> None:
        super().__init__()
        self.fields: Fields = {}
        self.is_open = self.is_done = self.is_main = False
        self.is_template = False
        self._select: str | None = None
        self._area: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.is_main = self.is_main or tag == "main"
        if tag == "form" and self.is_main and given.get("method") == "post" and not self.is_done:
            self.is_open = True
        if tag == "template":
            self.is_template = True
        if not self.is_open or self.is_template:
            return
        name = given.get("name", "")
        is_tick = given.get("type") in ("checkbox", "radio")
        if tag == "input" and name and (not is_tick or "checked" in given):
            self.fields[name] = given.get("value", "on" if is_tick else "")
        elif tag == "select" and name:
            self._select = name
        elif tag == "option" and self._select:
            # With none selected a browser takes the first.
            if self._select not in self.fields or "selected" in given:
                self.fields[self._select] = given.get("value", "")
        elif tag == "textarea" and name:
            self._area = name
            self.fields[name] = ""

    def handle_endtag(self, tag: str) -> None:
        if tag == "form" and self.is_open:
            self.is_open, self.is_done = False, True
        elif tag == "template":
            self.is_template = False
        elif tag == "select":
            self._select = None
        elif tag == "textarea":
            self._area = None

    def handle_data(self, data: str) -> None:
        if self._area:
            self.fields[self._area] += data.removeprefix("\n")


def fields_of(response: Any) -> Fields:
    """What the page's form would send if it were sent as it stands."""
    parser = _MainForm()
    parser.feed(response.content.decode())
    assert parser.is_done, "the page has no form that posts"
    parser.fields.pop("csrfmiddlewaretoken", None)
    return parser.fields


def opened(client: Client, url: str) -> Fields:
    """Open a page and return what its form holds."""
    response = client.get(url)
    assert response.status_code == 200
    return fields_of(response)


def all_sound(client: Client, url: str) -> Fields:
    """Open a page with a pad map, and press *All sound*."""
    fields = opened(client, url)
    return fields | {name: "sound" for name in fields if name.startswith("condition-")}


# Help beside a word of the trade, and what it says.
_HELP = re.compile(
    r'<span class="nowrap">([^<]*)<button[^>]* class="term"[^>]*></button></span>'
    r'|<div popover id="term-.*?</div>',
    re.DOTALL,
)


def words(response: Any) -> str:
    """The page's text without its tags and the help with its words, on one line."""
    text = _HELP.sub(r"\1", response.content.decode())
    text = re.sub(r"<(script|style|template|svg).*?</\1>", " ", text, flags=re.S)
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", text))).strip()


def error_at(response: Any, name: str) -> str:
    """The words in the error beside a field, "" where there is none."""
    found = re.search(
        rf'<(p|div)\b[^>]*\bid="id_{re.escape(name)}_error"[^>]*>(.*?)</\1>',
        response.content.decode(),
        re.S,
    )
    return html.unescape(re.sub(r"<[^>]+>", " ", found[2])).strip() if found else ""


def error_at_position(response: Any, name: str) -> str:
    """The words in the error beside a position of the pad map, "" where there is none."""
    for entry in re.findall(r'<li class="pad-entry bad".*?</li>', response.content.decode(), re.S):
        if f'for="condition-{name}"' in entry or f'for="lot-{name}"' in entry:
            return html.unescape(" ".join(re.findall(r'<p class="error">(.*?)</p>', entry, re.S)))
    return ""
