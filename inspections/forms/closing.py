from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from fleet.dates import moment_words
from fleet.forms.moment import MomentField
from inspections.models import Finding
from ratings.forms.submission import SubmissionForm


class ClosingForm(SubmissionForm):
    """What was done about a finding."""

    closed_at = MomentField(label="Done at", initial=timezone.now)
    done = forms.CharField(
        label="What was done, and by whom",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args: Any, finding: Finding, **kwargs: Any) -> None:
        self.finding = finding
        super().__init__(*args, **kwargs)

    def clean_closed_at(self) -> Any:
        closed_at = self.cleaned_data["closed_at"]
        if closed_at < self.finding.inspection.seen_at:
            found = moment_words(self.finding.inspection.seen_at)
            raise forms.ValidationError(
                f"This is before it was found, on {found}: give when it was done."
            )
        return closed_at
