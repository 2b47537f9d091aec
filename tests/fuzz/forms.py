"""The forms of the site as its pages hold them, sent again with some of it broken."""

from __future__ import annotations

import random
import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import timedelta
from html.parser import HTMLParser
from typing import Any, NamedTuple
from urllib.parse import parse_qsl, quote_from_bytes, urljoin, urlsplit

from django.test import Client
from django.urls import Resolver404, resolve
from django.utils import timezone
from hypothesis import strategies as st

from ratings.bench.views import REWRITES
from ratings.jobs.forms import REDRAWS
from tests.fuzz.held import Held, marks, names_a_field, says_why
from tests.fuzz.values import values

Text = str | bytes


class File(NamedTuple):
    """A file that is sent."""

    name: str
    content: bytes
    kind: str = "application/octet-stream"


Pair = tuple[str, Text | File]


@dataclass
class Field:
    """A field of a form: what stands in it, and what may be chosen."""

    name: str
    kind: str
    value: str = ""
    is_on: bool = True
    choices: list[str] = field(default_factory=list)


@dataclass
class Sendable:
    """A form of a page. button: what sends it; is_look: what is shown as it is filled in."""

    name: str
    action: str
    page: str
    fields: list[Field] = field(default_factory=list)
    buttons: list[tuple[str, str]] = field(default_factory=list)
    before: set[str] = field(default_factory=set)
    is_look: bool = False

    def __str__(self) -> str:
        return f"{self.name} {self.action} as on {self.page}"


def named(path: str) -> str:
    """The name of a page by its address, "" for none."""
    try:
        return resolve(urlsplit(path).path).url_name or ""
    except Resolver404:
        return ""


class _Page(HTMLParser):
    """Reads every form that posts from a page, and by which names it is asked."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.page = page
        self.forms: list[Sendable] = []
        self.asked: set[str] = set()
        self._by_id: dict[str, Sendable] = {}
        self._loose: list[tuple[str, Field]] = []
        self._looks: list[tuple[Sendable | None, str]] = []
        self._form: Sendable | None = None
        self._is_asking = False
        self._is_template = 0
        self._select: Field | None = None
        self._area: Field | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self._is_template += tag == "template"
        if self._is_template:
            return
        if tag == "form":
            self._open(given)
        elif tag == "a":
            self._link(given.get("href", ""))
        if "hx-post" in given:
            self._looks.append((self._form, given["hx-post"]))
        if tag in {"input", "select", "textarea", "button"}:
            self._take(tag, given)
        elif tag == "option" and self._select is not None:
            self._select.choices.append(given.get("value", ""))
            if "selected" in given or len(self._select.choices) == 1:
                self._select.value = given.get("value", "")

    def _open(self, given: dict[str, str]) -> None:
        self._is_asking = given.get("method", "get").lower() != "post"
        if self._is_asking:
            self._form = None
            return
        action = urljoin(self.page, given.get("action", "") or self.page)
        self._form = Sendable(named(action), action, self.page)
        self.forms.append(self._form)
        if "id" in given:
            self._by_id[given["id"]] = self._form

    def _link(self, href: str) -> None:
        parts = urlsplit(urljoin(self.page, href))
        if parts.path == urlsplit(self.page).path:
            self.asked.update(name for name, _ in parse_qsl(parts.query, keep_blank_values=True))

    def _take(self, tag: str, given: dict[str, str]) -> None:
        name, kind = given.get("name", ""), given.get("type", "text" if tag == "input" else tag)
        if not name or name == "csrfmiddlewaretoken":
            return
        whose = self._by_id.get(given["form"]) if "form" in given else self._form
        if tag == "button" or kind == "submit":
            if whose is not None:
                whose.buttons.append((name, given.get("value", "")))
            return
        kind = given.get("inputmode", kind) if kind == "text" else kind
        made = Field(name, kind, given.get("value", ""))
        if kind in {"checkbox", "radio"}:
            made.value = given.get("value", "on")
            made.is_on = "checked" in given
        if tag == "select":
            self._select = made
        elif tag == "textarea":
            self._area = made
        if whose is not None:
            whose.fields.append(made)
        elif "form" in given:
            self._loose.append((given["form"], made))
        elif self._is_asking:
            self.asked.add(name)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form, self._is_asking = None, False
        elif tag == "template":
            self._is_template -= 1
        elif tag == "select":
            self._select = None
        elif tag == "textarea":
            self._area = None

    def handle_data(self, data: str) -> None:
        if self._area is not None:
            self._area.value += data.removeprefix("\n")

    def close(self) -> None:
        super().close()
        for whose, made in self._loose:
            if whose in self._by_id:
                self._by_id[whose].fields.append(made)
        for form, to in self._looks:
            path = urljoin(self.page, to)
            look = Sendable(named(path), path, self.page, is_look=True)
            if form is not None:
                look = replace(look, fields=form.fields, buttons=form.buttons)
            self.forms.append(look)


_OF_FORMS = re.compile(
    r"<form\b.*?</form>|<template\b.*?</template>|<[^>]*\bhx-post=[^>]*>"
    r'|<(select|textarea|button)\b[^>]* form="[^>]*>.*?</\1>|<input\b[^>]* form="[^>]*>'
    r'|<a\b[^>]*href="[^"]*\?[^>]*>',
    re.DOTALL,
)


def read_page(page: str, answer: Any) -> tuple[list[Sendable], set[str]]:
    """Return the forms that a page holds, and by which names it is asked in its address."""
    parser = _Page(page)
    text = answer.content.decode()
    # Of the page nothing else is read: a parser takes long over a large one.
    parser.feed(" ".join(each[0] for each in _OF_FORMS.finditer(text)))
    parser.close()
    before = marks(text)
    for form in parser.forms:
        form.before = before
    return parser.forms, parser.asked


def filled(form: Sendable, chance: random.Random, is_filled: bool) -> list[Pair]:
    """What a browser would send; where blank, what somebody may well type."""
    sent: list[Pair] = []
    groups: dict[str, list[Field]] = {}
    for each in form.fields:
        if each.kind == "radio":
            groups.setdefault(each.name, []).append(each)
        elif each.kind == "file":
            sent.append((each.name, File("", b"")))
        elif each.kind == "checkbox":
            if each.is_on or (is_filled and chance.random() < 0.6):
                sent.append((each.name, each.value))
        else:
            sent.append((each.name, _typed(each, chance) if is_filled else each.value))
    for name, group in groups.items():
        chosen = [each for each in group if each.is_on]
        if is_filled and not (chosen and chance.random() < 0.5):
            chosen = [chance.choice(group)]
        sent += [(name, each.value) for each in chosen[:1]]
    return sent


def _typed(each: Field, chance: random.Random) -> str:
    if each.kind == "hidden" or (each.value and chance.random() < 0.8):
        return each.value
    today = timezone.localdate()
    if each.kind == "select":
        return chance.choice([choice for choice in each.choices if choice] or [""])
    if each.kind == "date":
        days = chance.choice([-400, -3, 0, 1, 40])
        return (today + timedelta(days=days)).isoformat()
    if each.kind == "datetime-local":
        return f"{timezone.localtime():%Y-%m-%dT%H:%M}"
    if each.kind in {"decimal", "number"}:
        return chance.choice(["1", "2", "5.5", "10", "60", "400", "12,000", "5 1/2"])
    if each.kind == "numeric":
        return chance.choice(["1", "2", "4", "12"])
    return {"email": "kay@saltmere.example", "password": "line-pull-test"}.get(
        each.kind, chance.choice(["As read on the plate", "Mend the swivel", "Q-7"])
    )


FILES = st.sampled_from(
    [
        File("x.png", b"\x89PNG\r\n\x1a\n<svg/>", "image/png"),
        File("x.pdf", b"%PDF-1.7\n%%EOF", "application/pdf"),
        File("x.jpg", b"\xff\xd8\xff\xe0" + b"\0" * 400, "image/jpeg"),
        File("x.html", b"<script>alert(1)</script>", "text/html"),
        File("x.zip", b"PK\x05\x06" + b"\0" * 18, "application/zip"),
        File("x.zip", b"PK\x03\x04" + b"\xff" * 60, "application/zip"),
        File("../../x\0.csv", b"mark,yard\n\xff\xfe,\0\n", "text/csv"),
        File("\u202egpj.exe", b"MZ", "text/csv"),
        File("", b"", ""),
        File("x" * 400 + ".csv", b"a;b\n1;2\n" * 50, "text/csv"),
    ]
)
DROPPED, DOUBLED, ABSENT = "dropped", "doubled", "blank"


@st.composite
def broken(draw: st.DrawFn, form: Sendable, most: int = 4) -> list[Pair]:
    """A form as it may come: filled in or not, with some of it broken."""
    chance = random.Random(draw(st.integers(0, 2**30)))
    sent = filled(form, chance, is_filled=draw(st.booleans()))
    for _ in range(draw(st.integers(0, most))):
        if not sent:
            break
        place = draw(st.integers(0, len(sent) - 1))
        name, was = sent[place]
        act = draw(st.sampled_from(["put"] * 6 + [DROPPED, DOUBLED, ABSENT, "other", "file"]))
        if isinstance(was, File) or act == "file":
            sent[place] = name, draw(FILES)
        elif act == DROPPED:
            del sent[place]
        elif act == DOUBLED:
            sent.append((name, draw(values)))
        elif act == ABSENT:
            sent[place] = name, ""
        elif act == "other":
            sent[place] = name, chance.choice(_choices(form) or ["1"])
        else:
            sent[place] = name, draw(values)
    if draw(st.integers(0, 9)) == 0:
        sent.append((draw(st.sampled_from(STRAY)), draw(values)))
    if form.buttons:
        sent.append(draw(st.sampled_from(form.buttons)))
    return sent


STRAY = (
    "submission_id",
    "lot-A99",
    "condition-A1",
    "condition-\0",
    "r-TOTAL_FORMS",
    "form-TOTAL_FORMS",
    "r-199-tape_in",
    "layer-0-kind",
    "act",
    "take",
    "show",
    "more_rows",
    "corrects",
    "next",
    "\0",
    "x" * 5_000,
)


def _choices(form: Sendable) -> list[str]:
    """What may be chosen elsewhere on the page: of another kind here, or of another unit."""
    return [choice for each in form.fields for choice in each.choices if choice]


def _bytes(text: Text) -> bytes:
    return text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")


def body_of(sent: Iterable[Pair]) -> tuple[bytes, str]:
    """A form as it goes over the wire, bytes that are no text among it, and its content type."""
    pairs = list(sent)
    if not any(isinstance(value, File) for _, value in pairs):
        plain = [(_bytes(name), _bytes(value)) for name, value in pairs]  # type: ignore[arg-type]
        parts = [quote_from_bytes(name) + "=" + quote_from_bytes(value) for name, value in plain]
        return "&".join(parts).encode(), "application/x-www-form-urlencoded"
    mark = b"--a-mark-that-parts-fields"
    lines = []
    for name, value in pairs:
        quoted = _bytes(name).replace(b'"', b"%22").replace(b"\r", b"").replace(b"\n", b"")
        said = b'Content-Disposition: form-data; name="' + quoted + b'"'
        if isinstance(value, File):
            said += b'; filename="' + _bytes(value.name).replace(b'"', b"%22") + b'"'
            said += b"\r\nContent-Type: " + value.kind.encode()
        content = value.content if isinstance(value, File) else _bytes(value)
        lines += [mark, b"\r\n", said, b"\r\n\r\n", content, b"\r\n"]
    return b"".join([*lines, mark, b"--\r\n"]), f"multipart/form-data; boundary={mark[2:].decode()}"


def post(client: Client, path: str, sent: Iterable[Pair], *, is_look: bool = False) -> Any:
    """Send a form as a browser would."""
    content, kind = body_of(sent)
    headers = {"HX-Request": "true"} if is_look else {}
    return client.post(path, content, content_type=kind, headers=headers)


def shown(sent: Iterable[Pair], form: Sendable | None = None) -> str:
    """What is sent in words, long values cut short; of a form, what differs from its page."""
    told = []
    stood = {(each.name, each.value) for each in form.fields} if form else set()
    for name, value in sent:
        if (name, value) in stood:
            continue
        words = f"file {value.name[:20]!r}" if isinstance(value, File) else repr(value)
        told.append(f"{name[:60]}={words if len(words) < 60 else words[:57] + '…'}")
    return " ".join(told)


# Buttons that draw the form again, unjudged, or only show what would come of it.
LOOKS = {*REDRAWS, *REWRITES, "known_soils", "more_soils", "read_table", "show"}
# Of buttons of one name, those that do: an archive is tried, or left.
LOOKS_BY_VALUE = {("act", "try"), ("act", "drop")}


def is_look(name: Text, value: Text | File) -> bool:
    """Whether a field of this name asks that the form be only shown."""
    return name in LOOKS or (name, value) in LOOKS_BY_VALUE


def hold(held: Held, form: Sendable, sent: list[Pair]) -> None:
    """Send a form, and hold its answer to what must hold of all. Raises Fault."""
    with held.case(f"{form}: {shown(sent, form)}") as case:
        answer = case.ask(lambda: post(held.client(), form.action, sent, is_look=form.is_look))
        is_page = "html" in answer.get("Content-Type", "")
        if answer.status_code in {302, 303} or "HX-Redirect" in answer:
            return
        if answer.status_code == 200 and not is_page:
            # A file that was asked for.
            return
        if form.name in TOLD_ONCE and not marks(answer.text) - form.before:
            return
        case.nothing_changed()
        if form.is_look or any(is_look(*pair) for pair in sent):
            return
        if form.name not in SHOWN and not says_why(answer, form.before):
            raise case.fault(f"answered {answer.status_code} and says not why")
        if form.name not in SHOWN and not names_a_field(answer, form.before):
            told = sorted(marks(answer.text) - form.before) if is_page else answer.text[:300]
            raise case.fault(f"answered {answer.status_code} and names no field: {told}")


# Pages that show what was made, this once, in the answer to the form.
TOLD_ONCE = {
    "new-passkey",
    "new-recovery-codes",
    "person-password",
    "new-person",
    "new-token",
    "calendar-feed",
    "set-up-second-step",
}
# Pages that a form asks to show something, and that are no refusal; with what is shown.
SHOWN: dict[str, str] = {"plan": "which units would go to which job"}
