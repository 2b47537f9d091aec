"""What of the calendar is shown."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from fleet.dates import day_count_words, day_words
from fleet.fields import DayField, PlainText
from fleet.models import Yard

SPANS = {"14": "two weeks", "31": "a month"}
DEFAULT_SPAN = "14"
MOST_DAYS_FREE = 366


class CalendarForm(PlainText, forms.Form):
    """From which day, how many, which units, and whether only those free on some days."""

    start = DayField(label="From", required=False)
    span = forms.ChoiceField(label="Show", choices=SPANS, required=False)
    yard = forms.ModelChoiceField(
        label="Yard", queryset=Yard.objects.all(), required=False, empty_label="any"
    )
    search = forms.CharField(label="Unit", required=False, max_length=80)
    free_from = DayField(label="Free and may go from", required=False)
    free_to = DayField(label="to", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["search"].widget.attrs["placeholder"] = "mark or hammer"
        for field in self.fields.values():
            # They narrow what is shown, and nobody asks for any of them.
            field.is_asked_for = True  # type: ignore[attr-defined]

    def clean_start(self) -> date:
        return self.cleaned_data["start"] or timezone.localdate()

    def clean_span(self) -> str:
        return self.cleaned_data["span"] or DEFAULT_SPAN

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        first, last = cleaned.get("free_from"), cleaned.get("free_to")
        if "free_from" in self.errors or "free_to" in self.errors:
            return cleaned
        if first is None and last is not None:
            self.add_error("free_from", "This is blank: give the first day it must be free on.")
        elif first is not None:
            last = cleaned["free_to"] = last or first
            if last < first:
                self.add_error(
                    "free_to", f"This is before the first day, {day_words(first)}: give it later."
                )
            elif (last - first).days >= MOST_DAYS_FREE:
                self.add_error(
                    "free_to",
                    f"That is {day_count_words((last - first).days + 1)}: give "
                    f"{MOST_DAYS_FREE} at the most.",
                )
        return cleaned

    @property
    def days(self) -> tuple[date, date]:
        """The first day and the last that are shown; the form must be valid."""
        start = self.cleaned_data["start"]
        return start, start + timedelta(days=int(self.cleaned_data["span"]) - 1)

    @property
    def free_days(self) -> tuple[date, date] | None:
        """On which days a unit must be free, None where that isn't asked."""
        first, last = self.cleaned_data.get("free_from"), self.cleaned_data.get("free_to")
        return (first, last) if first and last else None
