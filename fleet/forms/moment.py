"""When something happened: a past moment, entered as local time."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from fleet.dates import day_words, moment_words

EARLIEST = datetime(1950, 1, 1, tzinfo=UTC)
# A phone's clock may run a little ahead of the server's.
CLOCK_LEEWAY = timedelta(minutes=10)


class MomentField(forms.DateTimeField):
    """A moment that is past and within the age of the trade."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault(
            "widget",
            forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        )
        super().__init__(**kwargs)
        self.error_messages["required"] = "This is blank: give the date and time."
        self.error_messages["invalid"] = (
            "This is not a date and time: give one such as 2026-03-14 09:30."
        )

    def clean(self, value: Any) -> Any:
        moment = super().clean(value)
        if moment is None:
            return None
        if moment > timezone.now() + CLOCK_LEEWAY:
            raise forms.ValidationError(
                f"{moment_words(moment)} is in the future: give when it happened."
            )
        if moment < EARLIEST:
            raise forms.ValidationError(
                f"{day_words(moment)} is too long ago: give when it happened."
            )
        return moment


class PastDayField(forms.DateField):
    """A day that is not in the future."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        super().__init__(**kwargs)
        self.error_messages["required"] = "This is blank: give the day."
        self.error_messages["invalid"] = "This is not a day: give one such as 2026-03-14."

    def clean(self, value: Any) -> date | None:
        day: date | None = super().clean(value)
        if day is not None and day > timezone.localdate():
            raise forms.ValidationError(
                f"{day_words(day)} is in the future: give a day that has been."
            )
        if day is not None and day < EARLIEST.date():
            raise forms.ValidationError(f"{day_words(day)} is too long ago for this trade.")
        return day
