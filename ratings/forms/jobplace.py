"""Where and when a job is, how the ground as a whole is, and how far the yards are."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from fleet.dates import day_words
from fleet.forms.measured import MeasuredField, MeasuredForm, NumberField
from fleet.forms.moment import EARLIEST
from fleet.models import Yard
from fleet.quantities import Quantity

FARTHEST_AHEAD = timedelta(days=3660)
DISTANCE = "distance_"
SET_UPS = ("set_up_low", "set_up_expected", "set_up_high")


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


class PlaceFields(MeasuredForm):
    """Where and when, and the yards it could be sent from."""

    site = forms.CharField(
        label="Site",
        max_length=120,
        error_messages={"required": "This is blank: name the site."},
    )
    first_day = DayField(label="First day", initial=timezone.localdate)
    last_day = DayField(label="Last day", initial=timezone.localdate)
    note = forms.CharField(
        label="Note", required=False, widget=forms.Textarea(attrs={"rows": 2}), max_length=2000
    )
    haul_limit_mi = MeasuredField(
        Quantity.DISTANCE,
        label="Farthest haul",
        least=0,
        most=10_000,
        required=False,
        example="150",
        help_text="Units in a yard farther than this don’t suit. Blank: it is all one.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for yard in Yard.objects.all():
            field = MeasuredField(
                Quantity.DISTANCE,
                label=f"Distance of {yard.name}",
                least=0,
                most=10_000,
                required=False,
                example="40",
            )
            field.system = self.system
            self.fields[f"{DISTANCE}{yard.pk}"] = field

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        first_day, last_day = cleaned.get("first_day"), cleaned.get("last_day")
        if first_day is not None and last_day is not None and last_day < first_day:
            self.add_error(
                "last_day",
                f"This is before the first day, {day_words(first_day)}: give that one or later.",
            )
        return cleaned

    @property
    def distance_names(self) -> list[str]:
        return [name for name in self.fields if name.startswith(DISTANCE)]

    @property
    def distances(self) -> dict[int, float]:
        """How far each yard is, mi, where somebody entered it; the form must be valid."""
        return {
            int(name.removeprefix(DISTANCE)): self.cleaned_data[name]
            for name in self.distance_names
            if self.cleaned_data[name] is not None
        }


class GroundFields(MeasuredForm):
    """What concerns all layers."""

    water_depth_ft = MeasuredField(
        Quantity.DEPTH,
        label="Depth of the water level",
        least=-500,
        most=500,
        required=False,
        example="5",
        help_text="Below the ground, with a minus where water stands above it. Blank: no water.",
    )
    set_up_low = NumberField(label="Set-up, low", least=0.1, most=20, initial="1", example="1.0")
    set_up_expected = NumberField(
        label="Set-up, expected", least=0.1, most=20, initial="1", example="1.2"
    )
    set_up_high = NumberField(label="Set-up, high", least=0.1, most=20, initial="1", example="1.5")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        given = [cleaned.get(name) for name in SET_UPS]
        for name, lower, value in zip(SET_UPS[1:], given, given[1:], strict=False):
            if lower is not None and value is not None and value < lower:
                self.add_error(
                    name, f"This is below the one before it, {lower:g}: give them rising."
                )
                break
        return cleaned
