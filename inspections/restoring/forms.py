from __future__ import annotations

from typing import Any

from django import forms

from fleet.fields import PlainText
from fleet.models import Yard
from inspections.models.restoring import GOAL_WORDS

CHOICES = list(GOAL_WORDS.items())


class RestoreForm(PlainText, forms.Form):
    """What a plan is to be best at, of which yard, and what it may draw on."""

    goal = forms.ChoiceField(label="Best at", choices=CHOICES)
    yard = forms.ModelChoiceField(
        label="Units of",
        queryset=Yard.objects.filter(retired_on__isnull=True),
        required=False,
        empty_label="all yards",
    )
    take = forms.BooleanField(
        label="Take pads from other units",
        required=False,
        help_text="Of spare housings, and of short units that no job holds, in the same yard.",
    )
    buy = forms.BooleanField(
        label="Buy pads too", required=False, help_text="Of lots that have a price and a rate."
    )

    def __init__(self, *args: Any, of_unit: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.is_asked_for = True  # type: ignore[attr-defined]
        if of_unit:
            del self.fields["yard"]
            self.fields["goal"].choices = CHOICES[:2]  # type: ignore[attr-defined]
