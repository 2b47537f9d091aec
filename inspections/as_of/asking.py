"""Which day is asked about, and in which sense."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.db import models
from django.db.models import Min
from django.http import HttpRequest
from django.utils import timezone

from fleet.as_of import AsOf
from fleet.dates import day_words, end_of_day
from fleet.fields import PastDayField, PlainText
from fleet.models import Mounting, SuppressorHousing
from inspections.models import Inspection
from ratings.models import LedgerEntry


class Sense(models.TextChoices):
    SO = "so", "what was so, by all that is known now"
    KNOWN = "known", "what was known, by what was on record that day"


class AsOfForm(PlainText, forms.Form):
    """A day that has been, and whether by what is known now, or by what was then."""

    day = PastDayField(label="Day")
    sense = forms.ChoiceField(label="What is told", choices=Sense.choices)
    known_on = PastDayField(
        label="What was so, as known on",
        required=False,
        help_text="Blank for all that is known now.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        # One and the same for all that is asked.
        self.now = timezone.now()
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        day, known_on = cleaned.get("day"), cleaned.get("known_on")
        if day and known_on and known_on < day:
            self.add_error(
                "known_on",
                f"This is before the day asked about, {day_words(day)}: give it later, or leave "
                "it blank.",
            )
        elif known_on and cleaned.get("sense") == Sense.KNOWN and known_on != day:
            self.add_error(
                "known_on",
                "What was known is told by its own day: leave this blank, or ask what was so.",
            )
        return cleaned

    @property
    def as_of(self) -> AsOf:
        """The moment asked about; the form must be valid. Of today, this moment."""
        day, known_on = self.cleaned_data["day"], self.cleaned_data.get("known_on")
        at = self.last_moment(day)
        if self.cleaned_data["sense"] == Sense.KNOWN:
            return AsOf(at, at)
        return AsOf(at, self.last_moment(known_on) if known_on else self.now)

    def last_moment(self, day: date) -> datetime:
        """Return the end of a day, or now where it is not over."""
        return min(end_of_day(day), self.now)

    @property
    def words(self) -> str:
        """What is asked, as a heading says it."""
        day, known_on = self.cleaned_data["day"], self.cleaned_data.get("known_on")
        if self.cleaned_data["sense"] == Sense.KNOWN:
            return f"What was known on {day_words(day)}"
        by = f", as known on {day_words(known_on)}" if known_on else ""
        return f"What was so on {day_words(day)}{by}"

    @property
    def query(self) -> str:
        """How an address asks the same."""
        given = {name: self.cleaned_data.get(name) for name in self.fields}
        return urlencode({name: value for name, value in given.items() if value})

    @property
    def other_query(self) -> str:
        """How an address asks the same day in the other sense."""
        is_known = self.cleaned_data["sense"] == Sense.KNOWN
        sense = Sense.SO if is_known else Sense.KNOWN
        return urlencode({"day": self.cleaned_data["day"], "sense": sense.value})


class TwoDaysForm(AsOfForm):
    """Two days to be held beside each other, in one sense."""

    day = PastDayField(label="One day")
    other = PastDayField(label="The later day")

    field_order = ["day", "other", "sense", "known_on"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        day, other, known_on = (cleaned.get(name) for name in ("day", "other", "known_on"))
        if day and other and other <= day:
            self.add_error(
                "other", f"This is not after the first day, {day_words(day)}: give it later."
            )
        elif other and known_on and known_on < other:
            self.add_error(
                "known_on",
                f"This is before the later day, {day_words(other)}: give it later, or leave it "
                "blank.",
            )
        return cleaned

    @property
    def later(self) -> AsOf:
        """The later moment; the form must be valid."""
        first, at = self.as_of, self.last_moment(self.cleaned_data["other"])
        return AsOf(at, at if first.is_as_known_then else first.known_by)


def form_of(request: HttpRequest, kind: type[AsOfForm] = AsOfForm) -> AsOfForm:
    """Return the form as the address fills it; unbound where it asks nothing yet."""
    asked = request.GET.copy()
    if "day" not in asked:
        return kind(initial={"day": timezone.localdate(), "sense": Sense.SO})
    asked.setdefault("sense", Sense.SO.value)
    return kind(asked)


def nothing_words(as_of: AsOf, housing: SuppressorHousing | None = None) -> str:
    """Say that nothing was on record yet of a day, and when that began; housing: of one unit."""
    whom = f"housing {housing}" if housing is not None else "any unit"
    if housing is not None and housing.retired_on is not None and housing.retired_on <= as_of.day:
        return (
            f"Housing {housing} was out of use on that day, since {day_words(housing.retired_on)}."
        )
    of: dict[str, Any] = {} if housing is None else {"housing": housing}
    happened = {Inspection: "seen_at", Mounting: "mounted_at", LedgerEntry: "recorded_at"}
    if as_of.is_as_known_then:
        # When a mounting came on record its row does not tell.
        happened = {Inspection: "recorded_at", LedgerEntry: "recorded_at"}
    firsts = [
        model._default_manager.filter(**of).aggregate(first=Min(name))["first"]
        for model, name in happened.items()
    ]
    moments = [each for each in firsts if each is not None]
    if not moments:
        lacking = "" if housing is None else ": no count, no move and no entry of its ledger"
        return f"Nothing is on record of {whom} yet{lacking}."
    return (
        f"Nothing is on record of {whom} as of {day_words(as_of.day)}: the first record is of "
        f"{day_words(min(moments))}."
    )
