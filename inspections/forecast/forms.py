from __future__ import annotations

from typing import Any

from django import forms

from fleet.fields import FactForm
from fleet.models import Yard
from inspections.models import PlannedHours


class PlannedHoursForm(FactForm):
    """From which day to which a unit is to work how much, and how that is known."""

    stands_still = forms.BooleanField(
        label="It stands still", required=False, help_text="To be ticked where you give 0 hours."
    )

    class Meta:
        model = PlannedHours
        fields = ["first_day", "last_day", "hours", "per", "reason"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("first_day", "last_day"):
            self.fields[name].widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
            self.fields[name].error_messages["required"] = "This is blank: give the day."
            self.fields[name].error_messages["invalid"] = (
                "This is not a day: give one such as 2026-03-14."
            )


class YardForm(forms.Form):
    """Whose units are foreseen."""

    yard = forms.ModelChoiceField(
        label="Units of",
        queryset=Yard.objects.filter(retired_on__isnull=True),
        required=False,
        empty_label="all yards",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["yard"].is_asked_for = True  # type: ignore[attr-defined]
