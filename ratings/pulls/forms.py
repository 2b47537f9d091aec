from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django import forms

from fleet.fields import FactForm, SubmissionForm, words_by_field
from ratings.models import LearningRules
from ratings.pulls.lessons import LearningPolicy


class LearningForm(FactForm):
    """How much pulls weigh."""

    class Meta:
        model = LearningRules
        fields = ("prior_pulls", "least_share_pct", "least_jobs", "reason")

    def __init__(self, *args: Any, in_force: LearningPolicy, **kwargs: Any) -> None:
        super().__init__(*args, initial=asdict(in_force), **kwargs)

    def policy(self) -> LearningPolicy:
        """Return what was entered; the form must be valid."""
        given = self.cleaned_data
        return LearningPolicy(
            given["prior_pulls"], given["least_share_pct"], int(given["least_jobs"])
        )

    def clean_least_jobs(self) -> float:
        jobs: float = self.cleaned_data["least_jobs"]
        if jobs != int(jobs):
            raise forms.ValidationError(f"“{jobs:g}” is not a whole number.")
        return jobs

    def take(self, refusal: forms.ValidationError) -> None:
        """Show what was refused: at its field, else above the form."""
        for name, words in words_by_field(refusal, self.system).items():
            for each in words:
                self.add_error(name if name in self.fields else None, each)


class TakeForm(SubmissionForm):
    """An engineer's word that a factor learned may be used, on what was shown."""

    soil = forms.CharField(widget=forms.HiddenInput, max_length=80)
    factor = forms.FloatField(widget=forms.HiddenInput)
    source = forms.CharField(widget=forms.HiddenInput, max_length=160)
    reason = forms.CharField(
        label="What you looked at, and why it may be used",
        max_length=200,
        error_messages={"required": "This is blank: say what you looked at."},
    )

    def take(self, refusal: forms.ValidationError) -> None:
        """Show what was refused: at its field, else above the form."""
        for name, words in words_by_field(refusal, self.system).items():
            for each in words:
                self.add_error(name if name in self.fields else None, each)
