"""Lines of the journal as rows of a table, between any two of their numbers or days."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.db.models import QuerySet
from django.utils import timezone

from fleet.dates import day_words
from fleet.fields import NumberField, PastDayField, PlainText
from fleet.models import Leaf
from fleet.roles import who_words
from fleet.signers import name_then_of, names_read_once

AT_ONCE = 2_000
MOST_LINES = 2**53
NOBODY = "nobody: a command, or before signing in"
HEADER = (
    "line",
    "at",
    "who",
    "kind",
    "key",
    "what",
    "changed",
    "leaf_hash",
    "document",
)


class LinesForm(PlainText, forms.Form):
    """From which line or day of the journal to which; all of it where nothing is given."""

    first = NumberField(
        label="From line", least=0, most=MOST_LINES, whole=True, example="0", required=False
    )
    last = NumberField(
        label="To line", least=0, most=MOST_LINES, whole=True, example="5000", required=False
    )
    since = PastDayField(label="From day", required=False)
    until = PastDayField(label="To day", required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        first, last = cleaned.get("first"), cleaned.get("last")
        if first is not None and last is not None and last < first:
            self.add_error("last", f"This is before line {first}: give a later one.")
        since, until = cleaned.get("since"), cleaned.get("until")
        if since and until and until < since:
            self.add_error("until", f"This is before {day_words(since)}: give a later day.")
        return cleaned

    def lines(self) -> QuerySet[Leaf]:
        """Return the lines asked for, in their places."""
        asked = self.cleaned_data
        lines = Leaf.objects.filter(place__isnull=False).order_by("place")
        if asked["first"] is not None:
            lines = lines.filter(place__gte=asked["first"])
        if asked["last"] is not None:
            lines = lines.filter(place__lte=asked["last"])
        return within_days(lines, asked["since"], asked["until"])


def within_days(lines: QuerySet[Leaf], since: date | None, until: date | None) -> QuerySet[Leaf]:
    """Return those of some lines that were written on days, both included, by the yard's clock."""
    if since is not None:
        lines = lines.filter(recorded_at__gte=_begin(since))
    if until is not None:
        lines = lines.filter(recorded_at__lt=_begin(until + timedelta(days=1)))
    return lines


def _begin(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time.min))


def told_by(leaf: Leaf) -> dict[str, Any]:
    """Return what a leaf's own text says; of one that can't be read as much as its columns do."""
    try:
        told = json.loads(leaf.document)
        if isinstance(told, dict) and isinstance(told.get("row") or {}, dict):
            return told
    except ValueError:
        pass
    return {"model": leaf.model, "key": leaf.row_key, "what": leaf.what, "row": {}, "by": None}


class Names:
    """Who is who, read once for many lines."""

    def __init__(self) -> None:
        self.now = {user.pk: who_words(user) for user in User.objects.all()}

    def then(self, person_id: Any, at: datetime) -> str:
        """Return what somebody was called at a moment, and now where that differs."""
        if person_id is None:
            return NOBODY
        name = self.now.get(person_id)
        return f"person {person_id}" if name is None else name_then_of(person_id, name, at)


def rows_of(lines: QuerySet[Leaf]) -> Iterator[list[Any]]:
    """Yield each line as HEADER has it; held are no more of them than are read at once."""
    with names_read_once():
        names = Names()
        for leaf in lines.iterator(AT_ONCE):
            told = told_by(leaf)
            yield [
                leaf.place,
                leaf.recorded_at,
                names.then(told.get("by"), leaf.recorded_at),
                leaf.model,
                leaf.row_key,
                leaf.what,
                ", ".join(told.get("changed") or ()),
                leaf.leaf_hash,
                leaf.document,
            ]
