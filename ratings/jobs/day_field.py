"""The day of a job, as its forms ask it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from fleet.dates import day_words
from fleet.fields import EARLIEST

FARTHEST_AHEAD = timedelta(days=3660)


class DayField(forms.DateField):
    """A day of the trade: none before its age, none beyond ten years from now."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        super().__init__(**kwargs)
        self.error_messages["required"] = "This is blank: give the day."
        self.error_messages["invalid"] = "This is not a day: give one such as 2026-03-14."

    def clean(self, value: Any) -> date | None:
        day: date | None = super().clean(value)
        if day is not None and day < EARLIEST.date():
            raise forms.ValidationError(f"{day_words(day)} is too long ago for this trade.")
        if day is not None and day > timezone.localdate() + FARTHEST_AHEAD:
            raise forms.ValidationError(
                f"{day_words(day)} is more than ten years ahead: give an earlier day."
            )
        return day
