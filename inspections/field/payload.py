"""What a phone sends, checked field by field before any of it is put on record."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any, TypeVar

from django.utils.dateparse import parse_date, parse_datetime
from django.utils.timezone import is_aware

from fleet.characters import without_hidden
from fleet.dates import day_words
from fleet.fields import EARLIEST
from fleet.models.housing import LARGEST_TRAVEL_IN, LEAST_TRAVEL_IN, Condition, Side
from fleet.numbers import NotANumber, quoted, read_number
from inspections.count.observations import Answer, Found, PhotoTaken, Said
from inspections.count.recording import PadSeen
from inspections.models import ItemAnswer, Severity
from inspections.models.kind import LONGEST_NAME

T = TypeVar("T")

MOST_NOTE, MOST_WORDS, MOST_LINE = 2000, 1000, 200
MOST_ROWS = 400


@dataclass
class Sent:
    """An inspection as a phone sent it; times are still by the phone's clock."""

    id: uuid.UUID
    housing_id: int
    signed_by: int
    seen_at: datetime
    seen_by_hand: bool
    sent_at: datetime
    kind: str
    pads: list[PadSeen]
    travel_in: float | None
    travel_reason: str
    hours: float | None
    weather: str
    note: str
    said: Said


class BadPayload(Exception):
    """What is wrong with it, by field, in words for the person who signed."""

    def __init__(self, errors: Mapping[str, list[str]]) -> None:
        self.errors = dict(errors)
        super().__init__(str(self.errors))


@dataclass
class _Reader:
    """Reads values by name and gathers what is wrong with them."""

    data: Mapping[str, Any]
    path: str = ""
    errors: dict[str, list[str]] = field(default_factory=dict)

    def fail(self, name: str, words: str) -> None:
        self.errors.setdefault(self.path + name, []).append(words)

    def text(self, name: str, most: int, *, needed: str = "") -> str:
        value = self.data.get(name) or ""
        if not isinstance(value, str):
            self.fail(name, "This is not text.")
            return ""
        value = without_hidden(value).strip()
        if len(value) > most:
            self.fail(name, f"This has {len(value):,} characters: {most:,} at the most.")
        if needed and not value:
            self.fail(name, needed)
        return value

    def number(self, name: str, least: float, most: float, example: str) -> float | None:
        value = self.data.get(name)
        if value is None or value == "":
            return None
        if isinstance(value, str):
            try:
                value = read_number(value, example, least=least, most=most)
            except NotANumber as error:
                self.fail(name, f"{error}.")
                return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.fail(name, f"{quoted(str(value))} is not a number: give one such as {example}.")
            return None
        if not least <= value <= most:
            self.fail(name, f"{value:g} won’t do: give {least:g} to {most:,g}.")
            return None
        return float(value)

    def whole(self, name: str) -> int:
        value = self.data.get(name)
        if isinstance(value, bool) or not isinstance(value, int):
            self.fail(name, "This is not a whole number.")
            return 0
        return value

    def moment(self, name: str) -> datetime:
        value = self.data.get(name)
        read = _parsed(parse_datetime, value)
        if read is None or not is_aware(read):
            self.fail(name, "This is not a date and time with its zone.")
            return EARLIEST
        if read < EARLIEST:
            self.fail(name, f"{quoted(str(value))} is too long ago: give when it happened.")
        return read

    def day(self, name: str) -> date | None:
        value = self.data.get(name)
        if not value:
            return None
        read = _parsed(parse_date, value)
        if read is None:
            self.fail(name, "This is not a day: give one such as 2026-03-14.")
        return read

    def key(self, name: str) -> uuid.UUID:
        try:
            return uuid.UUID(str(self.data.get(name)))
        except ValueError:
            self.fail(name, "This is no id.")
            return uuid.UUID(int=0)

    def choice(self, name: str, choices: list[str]) -> str:
        value = self.data.get(name)
        if value not in choices:
            self.fail(name, f"“{str(value)[:24]}” won’t do: choose {', '.join(choices)}.")
            return choices[0]
        return str(value)

    def rows(self, name: str) -> list[_Reader]:
        value = self.data.get(name) or []
        if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
            self.fail(name, "This is not a list.")
            return []
        if len(value) > MOST_ROWS:
            self.fail(name, f"This has {len(value):,} rows: {MOST_ROWS} at the most.")
            return []
        return [
            _Reader(row, f"{self.path}{name}.{place}.", self.errors)
            for place, row in enumerate(value)
        ]


def read_payload(data: Any) -> Sent:
    """Return what was sent. Raises BadPayload naming every field that won't do."""
    if not isinstance(data, dict):
        raise BadPayload({"": ["This is not an inspection."]})
    reader = _Reader(data)
    sent = Sent(
        id=reader.key("id"),
        housing_id=reader.whole("housing"),
        signed_by=reader.whole("signed_by"),
        seen_at=reader.moment("seen_at"),
        seen_by_hand=data.get("seen_by_hand") is True,
        sent_at=reader.moment("sent_at"),
        kind=reader.text("kind", LONGEST_NAME, needed="Say what kind of inspection it is."),
        pads=[_pad(row) for row in reader.rows("pads")],
        travel_in=reader.number("travel_in", LEAST_TRAVEL_IN, LARGEST_TRAVEL_IN, "5.5"),
        travel_reason=reader.text("travel_reason", MOST_LINE),
        hours=reader.number("hours", 0.0, 1_000_000.0, "1240.5"),
        weather=reader.text("weather", 80),
        note=reader.text("note", MOST_NOTE),
        said=Said(
            answers=[_answer(row) for row in reader.rows("answers")],
            findings=[_found(row) for row in reader.rows("findings")],
            photos=[_photo(row) for row in reader.rows("photos")],
        ),
    )
    _check_together(reader, sent)
    if reader.errors:
        raise BadPayload(reader.errors)
    return sent


def _parsed(parse: Callable[[str], T | None], value: Any) -> T | None:
    try:
        return parse(value) if isinstance(value, str) else None
    except ValueError:
        return None


def _pad(row: _Reader) -> PadSeen:
    return PadSeen(
        side=row.choice("side", Side.values),
        number=row.whole("number"),
        condition=row.choice("condition", Condition.values),
        lot_id=None if row.data.get("lot") is None else row.whole("lot"),
    )


def _answer(row: _Reader) -> Answer:
    state = row.choice("state", ItemAnswer.State.values)
    is_off = state == ItemAnswer.State.NOT_APPLICABLE
    return Answer(
        key=row.text("key", 40, needed="This item has no name."),
        part=row.text("part", 40),
        text=row.text("text", MOST_LINE),
        state=state,
        reason=row.text(
            "reason", MOST_LINE, needed="Say why this does not apply." if is_off else ""
        ),
    )


def _found(row: _Reader) -> Found:
    severity = row.choice("severity", Severity.values)
    needs_act = severity != Severity.NOTE
    found = Found(
        number=row.whole("number"),
        severity=severity,
        text=row.text("text", MOST_WORDS, needed="Say what was found."),
        item_key=row.text("item_key", 40),
        act_by=row.day("act_by"),
        who_acts=row.text("who_acts", 80, needed="Say who must act." if needs_act else ""),
    )
    if needs_act and found.act_by is None and f"{row.path}act_by" not in row.errors:
        row.fail("act_by", "Say by when it must be acted on.")
    return found


def _photo(row: _Reader) -> PhotoTaken:
    finding = None if row.data.get("finding") is None else row.whole("finding")
    return PhotoTaken(row.key("id"), row.text("caption", MOST_LINE), finding)


def _check_together(reader: _Reader, sent: Sent) -> None:
    _refuse_twice(reader, "answers", [answer.key for answer in sent.said.answers])
    _refuse_twice(reader, "findings", [found.number for found in sent.said.findings])
    _refuse_twice(reader, "photos", [photo.id for photo in sent.said.photos])
    known = {found.number for found in sent.said.findings} | {None}
    if any(photo.finding not in known for photo in sent.said.photos):
        reader.fail("photos", "A photo belongs to a finding that isn’t there.")
    _refuse_acting_before_it_was_seen(reader, sent)
    items = {found.item_key for found in sent.said.findings}
    for place, answer in enumerate(sent.said.answers):
        if answer.state == ItemAnswer.State.FINDING and answer.key not in items:
            reader.fail(f"answers.{place}.state", "Say what was found, as a finding of this item.")


def _refuse_acting_before_it_was_seen(reader: _Reader, sent: Sent) -> None:
    # By the day of whoever signed, which another zone may call the day after.
    earliest = sent.seen_at.date() - timedelta(days=1)
    for place, found in enumerate(sent.said.findings):
        if found.act_by is not None and found.act_by < earliest:
            reader.fail(
                f"findings.{place}.act_by",
                f"{day_words(found.act_by)} is before it was seen: give a day to come.",
            )


def _refuse_twice(reader: _Reader, name: str, keys: list[Any]) -> None:
    if len(set(keys)) < len(keys):
        reader.fail(name, "One of these is given twice: give each once.")
