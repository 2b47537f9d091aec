from __future__ import annotations

from django import forms
from django.utils import timezone

from fleet.forms.measured import MeasuredForm
from fleet.forms.moment import MomentField
from ratings.forms.submission import SubmissionForm


class TakeOutForm(SubmissionForm):
    """Since when a unit is out of service, and why."""

    since = MomentField(label="Out of service since", initial=timezone.now)
    reason = forms.CharField(
        label="Why it is taken out",
        max_length=200,
        help_text="What was seen, and what it waits for. The board and every job show it.",
    )


class ReleaseToServiceForm(MeasuredForm):
    """When a unit is released to service, and why it may go out again."""

    at = MomentField(label="Released at", initial=timezone.now)
    reason = forms.CharField(
        label="Why it may go out again", max_length=200, help_text="What was done, and by whom."
    )
    qualified_person = forms.CharField(
        label="Qualified person who found it fit",
        max_length=80,
        help_text="By certificate, training or long practice able to judge this repair.",
    )
