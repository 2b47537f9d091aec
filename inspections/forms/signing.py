from __future__ import annotations

import uuid
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils import timezone

from fleet.dates import moment_words
from fleet.forms.measured import MeasuredField, NumberField, words_by_field
from fleet.forms.moment import MomentField
from fleet.models import SuppressorHousing
from fleet.models.housing import LARGEST_TRAVEL_IN, LEAST_TRAVEL_IN
from fleet.quantities import Quantity
from inspections.models import Inspection
from inspections.models.inspection import LONGEST_TRAVEL_REASON
from inspections.recording.submission import Submission
from ratings.forms.submission import SubmissionForm
from ratings.models import CurrentRating


def ledger_sequence(housing: SuppressorHousing) -> int:
    """Return the number of the unit's last ledger entry, 0 where there is none."""
    rating = CurrentRating.objects.filter(housing=housing).first()
    return rating.sequence if rating else 0


class SigningForm(SubmissionForm):
    """What a form signed at a unit carries: its id, and the ledger entry it was based on."""

    based_on = forms.IntegerField(widget=forms.HiddenInput, min_value=0, label="ledger entry")

    def rebase(self, housing: SuppressorHousing) -> None:
        """Keep what was typed, on the state of the unit that the person is now shown."""
        data = cast(QueryDict, self.data).copy()
        data["based_on"] = str(ledger_sequence(housing))
        self.data = data

    def take(self, trouble: ValidationError) -> None:
        """Show what a signing refused: at its field, or above the form where it has none."""
        for name, words in words_by_field(trouble, self.system).items():
            for each in words:
                self.add_error(name if name in self.fields else None, each)

    def submission(self) -> Submission:
        """Return the signing's identity; the form must be valid."""
        submission_id: uuid.UUID = self.cleaned_data["submission_id"]
        return Submission(submission_id, self.cleaned_data["based_on"])


class InspectionForm(SigningForm):
    """What was seen at a housing, besides its pads."""

    seen_at = MomentField(label="Seen at", initial=timezone.now)
    late_record = forms.BooleanField(
        label="Enter it late, at its own time",
        required=False,
        help_text="It goes into the history at its own time and changes no newer fact.",
    )
    travel_in = MeasuredField(
        Quantity.LENGTH,
        label="Travel, taped from rest to the stops",
        least=LEAST_TRAVEL_IN,
        most=LARGEST_TRAVEL_IN,
        required=False,
        example="5.5",
        help_text="Leave blank where it was not taped.",
    )
    travel_reason = forms.CharField(
        label="Why the travel is beyond the design travel",
        required=False,
        max_length=LONGEST_TRAVEL_REASON,
    )
    hours = NumberField(
        label="Hour meter", least=0, most=1_000_000, required=False, example="1240.5"
    )
    note = forms.CharField(
        label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=2000
    )
    correction_reason = forms.CharField(label="What was wrong", max_length=200)

    def __init__(
        self, *args: Any, housing: SuppressorHousing, is_correction: bool, **kwargs: Any
    ) -> None:
        self.housing = housing
        super().__init__(*args, **kwargs)
        if is_correction:
            # It puts right what was seen then, so it keeps that time.
            self.fields["seen_at"].disabled = True
            del self.fields["late_record"]
        else:
            del self.fields["correction_reason"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        self._check_newer(cleaned)
        return cleaned

    @property
    def needs_travel_reason(self) -> bool:
        """Whether the page must ask why the travel is what it is."""
        return bool(self["travel_reason"].value()) or "travel_reason" in self.errors

    def _check_newer(self, cleaned: dict[str, Any]) -> None:
        seen_at = cleaned.get("seen_at")
        if seen_at is None or "late_record" not in self.fields or cleaned.get("late_record"):
            return
        newer = Inspection.objects.filter(housing=self.housing, seen_at__gt=seen_at).first()
        if newer is not None:
            self.add_error(
                "seen_at",
                f"A newer inspection, of {moment_words(newer.seen_at)}, is "
                "on record: mend the time, or tick “Enter it late”.",
            )

    @property
    def needs_late_record(self) -> bool:
        """Whether the page must offer to enter the record late."""
        return "late_record" in self.fields and (
            bool(self["late_record"].value()) or "seen_at" in self.errors
        )


class ReplacementForm(SigningForm):
    """When pads were fitted."""

    fitted_at = MomentField(label="Fitted at", initial=timezone.now)
    note = forms.CharField(
        label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=2000
    )
