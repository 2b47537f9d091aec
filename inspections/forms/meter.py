from __future__ import annotations

from django import forms
from django.utils import timezone

from fleet.forms.measured import NumberField
from fleet.forms.moment import MomentField
from ratings.forms.submission import SubmissionForm


class MeterForm(SubmissionForm):
    """A meter that was changed or set back."""

    changed_at = MomentField(label="Changed at", initial=timezone.now)
    old_hours = NumberField(
        label="Last hours the old meter showed", least=0, most=1_000_000, example="5120.4"
    )
    new_hours = NumberField(
        label="First hours the new meter showed", least=0, most=1_000_000, example="0"
    )
    reason = forms.CharField(label="Why", max_length=200)
