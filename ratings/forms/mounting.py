from __future__ import annotations

from django import forms
from django.utils import timezone

from fleet.forms.measured import MeasuredForm
from fleet.forms.moment import MomentField
from fleet.models import Hammer


class MountingForm(MeasuredForm):
    """Which hammer a housing goes on, and when."""

    hammer = forms.ModelChoiceField(
        label="Hammer",
        queryset=Hammer.objects.all(),
        required=False,
        empty_label="none: take it off",
        help_text="A housing that is on that hammer now comes off it at the same time.",
    )
    at = MomentField(label="When", initial=timezone.now)
