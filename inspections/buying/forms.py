from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from fleet.dates import day_words
from fleet.fields import PlainText
from fleet.models import Yard
from inspections.models.restoring import GOALS

FURTHEST = timedelta(days=731)


class SeasonForm(PlainText, forms.Form):
    """Of which yard, until when, and what the plan for short units is to be best at."""

    yard = forms.ModelChoiceField(
        label="For",
        queryset=Yard.objects.filter(retired_on__isnull=True),
        required=False,
        empty_label="all yards",
    )
    until = forms.DateField(
        label="Until",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={
            "required": "This is blank: give the last day of the season.",
            "invalid": "This is not a day: give one such as 2027-03-14.",
        },
    )
    goal = forms.ChoiceField(label="Short units by", choices=GOALS[:2])

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["yard"].is_asked_for = True  # type: ignore[attr-defined]

    def clean_until(self) -> date:
        until: date = self.cleaned_data["until"]
        today = timezone.localdate()
        if until <= today:
            raise forms.ValidationError(f"{day_words(until)} is not to come: give a later day.")
        if until > today + FURTHEST:
            raise forms.ValidationError(
                f"{day_words(until)} is over two years off: give an earlier day."
            )
        return until
