"""What a phone sends, read by forms before any of it is recorded."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.utils.dateparse import parse_datetime
from django.utils.timezone import is_aware

from fleet.characters import without_hidden
from fleet.dates import day_words
from fleet.fields import EARLIEST, LARGEST_KEY, MeasuredForm, field_of
from fleet.models import MachineSort
from fleet.models.housing import Condition, Side
from fleet.numbers import quoted
from inspections.count.findings import (
    Answer,
    FoundFault,
    Observations,
    PhotoTaken,
    lacking_of_finding,
)
from inspections.count.forms import SeenForm
from inspections.count.signing import PadSeen, Seen
from inspections.models import Finding, Inspection, ItemAnswer, Photo, Severity
from inspections.models.kind import LONGEST_NAME

MOST_ROWS = 400
# Of a number, a choice, a moment or an id: more of it is none.
LONGEST_FIGURE = 80
MOST_FINDINGS = 32_767


@dataclass
class Sent:
    """An inspection as a phone sent it; times are still by the phone's clock."""

    id: uuid.UUID
    housing_id: int
    signed_by: int
    seen_by_hand: bool
    sent_at: datetime
    seen: Seen


class BadPayload(Exception):
    """What is wrong with it, by field, in words for the person who signed."""

    def __init__(self, errors: Mapping[str, list[str]]) -> None:
        self.errors = dict(errors)
        super().__init__(str(self.errors))


class SentForm(MeasuredForm):
    """A form filled from JSON: numbers as numbers, and nothing but text where text belongs.

    Its numbers are in stored units, whatever units whoever signed reads the site in.
    """

    def __init__(self, row: Mapping[str, Any], prefix: str = "") -> None:
        super().__init__({})
        self.path = prefix
        self.data = {
            name: _typed(field, row[name])
            for name, field in self.fields.items()
            if row.get(name) is not None
        }

    def full_clean(self) -> None:
        super().full_clean()
        for name in self.fields:
            if self.data.get(name) is NOT_TEXT:
                self.errors.pop(name, None)
                self.add_error(name, "This is not text.")

    @property
    def words_by_path(self) -> dict[str, list[str]]:
        """What is wrong, by field as the phone names it."""
        return {
            self.path + ("" if name == NON_FIELD_ERRORS else name): [str(each) for each in words]
            for name, words in self.errors.items()
        }


NOT_TEXT = "\0not text"


def _typed(field: forms.Field, value: Any) -> Any:
    """Return a value of JSON as a form has it: what a person would have typed."""
    if isinstance(field, forms.BooleanField):
        return value is True
    if type(field) is forms.CharField:
        return without_hidden(value) if isinstance(value, str) else NOT_TEXT
    return without_hidden(str(value))[:LONGEST_FIGURE]


class OneOf(forms.ChoiceField):
    """One of a few words."""

    def __init__(self, words: list[str], *, required: bool = True) -> None:
        refusal = f"“%(value)s” won’t do: choose {', '.join(words)}."
        super().__init__(choices=[(word, word) for word in words], required=required)
        self.error_messages |= {"invalid_choice": refusal, "required": refusal % {"value": ""}}


class ZonedMomentField(forms.DateTimeField):
    """A moment with its zone, by a phone's clock."""

    def to_python(self, value: Any) -> datetime | None:
        """Return the moment. Raises ValidationError."""
        try:
            moment = parse_datetime(value or "")
        except ValueError:
            moment = None
        if moment is None or not is_aware(moment):
            raise ValidationError("This is not a date and time with its zone.")
        if moment < EARLIEST:
            raise ValidationError(f"{quoted(value)} is too long ago: give when it happened.")
        return moment


class KeyField(forms.IntegerField):
    """A whole number that stands for a record."""

    default_error_messages = dict.fromkeys(
        ["required", "invalid", "min_value", "max_value"], "This is not a whole number."
    )

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"min_value": 0, "max_value": LARGEST_KEY} | kwargs)


class IdField(forms.UUIDField):
    """An id a phone made."""

    default_error_messages = dict.fromkeys(["required", "invalid"], "This is no id.")


class PhoneForm(SentForm, SeenForm):
    """An inspection from the phone: what the plain form asks too, and what only a phone sends."""

    id = IdField()
    housing = KeyField()
    signed_by = KeyField()
    seen_at = ZonedMomentField()
    sent_at = ZonedMomentField()
    seen_by_hand = forms.BooleanField(required=False)
    kind = forms.CharField(
        max_length=LONGEST_NAME,
        error_messages={"required": "Say what kind of inspection it is."},
    )
    weather = field_of(Inspection, "weather")
    second_look_by = KeyField(required=False)


class PadForm(SentForm):
    """What was seen at one position."""

    side = OneOf(Side.values)
    number = KeyField()
    condition = OneOf(Condition.values)
    lot = KeyField(required=False)


class AnswerForm(SentForm):
    """What was said of one item of a checklist."""

    key = field_of(ItemAnswer, "key", error_messages={"required": "This item has no name."})
    part = field_of(ItemAnswer, "part", required=False)
    text = field_of(ItemAnswer, "text", required=False)
    state = OneOf(ItemAnswer.State.values)
    reason = field_of(ItemAnswer, "reason")

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        is_off = given.get("state") == ItemAnswer.State.NOT_APPLICABLE
        if is_off and not given.get("reason", "-"):
            self.add_error("reason", "Say why this does not apply.")
        return given


class FindingForm(SentForm):
    """Something found wrong: all but the least grave says who must act, and by when."""

    number = KeyField(max_value=MOST_FINDINGS)
    severity = OneOf(Severity.values)
    text = field_of(Finding, "text", error_messages={"required": "Say what was found."})
    item_key = field_of(Finding, "item_key")
    act_by = forms.DateField(
        required=False,
        input_formats=["%Y-%m-%d"],
        error_messages={"invalid": "This is not a day: give one such as 2026-03-14."},
    )
    who_acts = field_of(Finding, "who_acts")
    # Of a phone's page older than this was asked there is none: its words then tell.
    machine = OneOf(MachineSort.values, required=False)

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        lacks = lacking_of_finding(
            given.get("severity", Severity.MONITOR),
            text="-",
            who_acts=given.get("who_acts", ""),
            act_by=given.get("act_by"),
        )
        # What can't be read is refused for that already.
        for name in given.keys() & lacks.keys():
            self.add_error(name, lacks[name])
        return given


class PhotoForm(SentForm):
    """A photo, named before its file has come."""

    id = IdField()
    caption = field_of(Photo, "caption")
    finding = KeyField(required=False)


def _pad_seen(side: str, number: int, condition: str, lot: int | None) -> PadSeen:
    return PadSeen(side, number, condition, lot)


# By the list they come in: the form that reads a row, and what it says.
ROWS: dict[str, tuple[type[SentForm], Callable[..., Any]]] = {
    "pads": (PadForm, _pad_seen),
    "answers": (AnswerForm, Answer),
    "findings": (FindingForm, FoundFault),
    "photos": (PhotoForm, PhotoTaken),
}


def read_payload(data: Any) -> Sent:
    """Return what was sent. Raises BadPayload naming every field that won't do."""
    if not isinstance(data, dict):
        raise BadPayload({"": ["This is not an inspection."]})
    form = PhoneForm(data)
    errors = form.words_by_path
    rows = {
        name: read_rows(name, *of_it, data.get(name) or [], errors) for name, of_it in ROWS.items()
    }
    if errors:
        raise BadPayload(errors)
    given = form.cleaned_data
    observations = Observations(rows["answers"], rows["findings"], rows["photos"])
    errors = dict(_wrong_together(observations, given["seen_at"]))
    if errors:
        raise BadPayload(errors)
    return Sent(
        id=given["id"],
        housing_id=given["housing"],
        signed_by=given["signed_by"],
        seen_by_hand=given["seen_by_hand"],
        sent_at=given["sent_at"],
        seen=form.seen(
            pads=rows["pads"],
            kind=given["kind"],
            weather=given["weather"],
            observations=observations,
        ),
    )


def read_rows(
    name: str,
    row_form: type[SentForm],
    says: Callable[..., Any],
    rows: Any,
    errors: dict[str, list[str]],
) -> list[Any]:
    """Return what each row of a list says; what is wrong with any goes among the errors."""
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        errors[name] = ["This is not a list."]
        return []
    if len(rows) > MOST_ROWS:
        errors[name] = [f"This has {len(rows):,} rows: {MOST_ROWS} at the most."]
        return []
    read = [row_form(row, f"{name}.{place}.") for place, row in enumerate(rows)]
    for form in read:
        errors |= form.words_by_path
    return [says(**form.cleaned_data) for form in read if not form.errors]


def _wrong_together(
    observations: Observations, seen_at: datetime
) -> Iterator[tuple[str, list[str]]]:
    """What no row tells by itself: one given twice, or that names what isn't there."""
    keys: dict[str, list[Any]] = {
        "answers": [answer.key for answer in observations.answers],
        "findings": [found.number for found in observations.findings],
        "photos": [photo.id for photo in observations.photos],
    }
    for name, given in keys.items():
        if len(set(given)) < len(given):
            yield name, ["One of these is given twice: give each once."]
    if {photo.finding for photo in observations.photos} - {None, *keys["findings"]}:
        yield "photos", ["A photo belongs to a finding that isn’t there."]
    # By the day of whoever signed, which another zone may call the day after.
    earliest = seen_at.date() - timedelta(days=1)
    for place, found in enumerate(observations.findings):
        if found.act_by is not None and found.act_by < earliest:
            words = f"{day_words(found.act_by)} is before it was seen: give a day to come."
            yield f"findings.{place}.act_by", [words]
    items = {found.item_key for found in observations.findings}
    for place, answer in enumerate(observations.answers):
        if answer.state == ItemAnswer.State.FINDING and answer.key not in items:
            words = "Say what was found, as a finding of this item."
            yield f"answers.{place}.state", [words]
