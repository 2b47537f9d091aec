from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS
from django.utils import timezone

from fleet.dates import day_words
from fleet.fields import (
    FactForm,
    InstrumentField,
    MeasuredForm,
    MomentField,
    SubmissionForm,
    field_of,
    words_by_field,
)
from ratings.mechanics.bench import Branch, ReadingError
from ratings.models import LoadIndicator, ProofDecision, ProofPull, ProofReading, Tape
from ratings.proof.recording import BranchReading, ProofSetUp, ReadingRefused
from ratings.remarks import refused_sentence

MOST_READINGS = 60

STILL = [("still", "it stood still"), ("vibrating", "it vibrated")]
PADS = [
    ("as recorded", "as the pad map has them"),
    ("otherwise", "otherwise, or not held to it"),
]


class IndicatorField(InstrumentField):
    """A load indicator, with a word on its calibration: a pull on one out of date decides
    nothing.
    """

    def words(self, instrument: LoadIndicator) -> str:
        if instrument.due_on is None or instrument.calibrated_on is None:
            return f"{instrument}, never calibrated"
        overdue = ", OVERDUE" if instrument.due_on < timezone.localdate() else ""
        return f"{instrument}, calibration due {day_words(instrument.due_on)}{overdue}"


class ProofPullForm(FactForm):
    """How, with what and against what a unit was pulled."""

    indicator = IndicatorField(
        label="Load indicator",
        queryset=LoadIndicator.objects.all(),
        empty_label="choose an indicator",
    )
    tape = InstrumentField(label="Tape", queryset=Tape.objects.all(), empty_label="choose a tape")
    pulled_at = MomentField(label="Pulled at", initial=timezone.now)
    is_vibrating = forms.ChoiceField(
        label="The exciter during the pull", choices=STILL, widget=forms.RadioSelect
    )
    are_pads_as_recorded = forms.ChoiceField(
        label="The pads in the unit were", choices=PADS, widget=forms.RadioSelect
    )
    based_on = forms.IntegerField(widget=forms.HiddenInput, min_value=0, label="ledger entry")
    note = forms.CharField(
        label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=2000
    )

    field_order = (
        "indicator",
        "tape",
        "pulled_at",
        "tare_lbf",
        "weight_below_lb",
        "rubber_temperature_f",
        "anchor",
        "witness",
        "is_vibrating",
        "are_pads_as_recorded",
    )

    class Meta:
        model = ProofPull
        fields = (
            "tare_lbf",
            "weight_below_lb",
            "rubber_temperature_f",
            "anchor",
            "witness",
            "note",
        )

    def set_up(self) -> ProofSetUp:
        """Return how the unit was pulled; the form must be valid."""
        given = self.cleaned_data
        return ProofSetUp(
            indicator=given["indicator"],
            tape=given["tape"],
            pulled_at=given["pulled_at"],
            is_vibrating=given["is_vibrating"] == "vibrating",
            are_pads_as_recorded=given["are_pads_as_recorded"] == "as recorded",
            **{name: given[name] for name in self.Meta.fields},
        )

    def take(self, refusal: forms.ValidationError) -> None:
        """Show what the recording refused: at its field, else above the form."""
        for name, words in words_by_field(refusal, self.system).items():
            for each in words:
                self.add_error(name if name in self.fields else None, each)


class ProofReadingForm(MeasuredForm):
    """One reading of load and stretch. A row left blank is no reading."""

    load_lbf = field_of(ProofReading, "load_lbf", required=False)
    stretch_in = field_of(ProofReading, "stretch_in", required=False)
    branch = field_of(ProofReading, "branch", required=False)

    def has_changed(self) -> bool:
        """A row whose load and stretch are blank is no reading, whatever its branch."""
        return any(name in self.changed_data for name in ("load_lbf", "stretch_in"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for field, other in (("load_lbf", "stretch_in"), ("stretch_in", "load_lbf")):
            if field in self.errors or other in self.errors:
                continue
            if cleaned.get(field) is None and cleaned.get(other) is not None:
                self.add_error(field, "This is blank: give both load and stretch, or neither.")
        return cleaned

    @property
    def is_blank(self) -> bool:
        return self.cleaned_data.get("load_lbf") is None

    @property
    def reading(self) -> BranchReading:
        return BranchReading(
            load_lbf=self.cleaned_data["load_lbf"],
            stretch_in=self.cleaned_data["stretch_in"],
            branch=Branch(self.cleaned_data.get("branch") or "loading"),
        )


class BaseProofReadingFormSet(forms.BaseFormSet):  # type: ignore[type-arg]  # takes none at run time
    """The readings of a pull, in the order they were entered."""

    def filled(self) -> list[ProofReadingForm]:
        """Return the rows that hold a reading; the formset must be valid."""
        return [form for form in self.forms if not form.is_blank]

    def given(self) -> Sequence[BranchReading]:
        """Return the readings; the formset must be valid."""
        return [row.reading for row in self.filled()]

    def take(self, trouble: ValueError) -> None:
        """Show what was refused of the readings: at its row, else of them all."""
        words = refused_sentence(trouble, self.form_kwargs["system"])
        if isinstance(trouble, ReadingRefused):
            row = self.filled()[trouble.index]
            for each in words_by_field(trouble.refusal, row.system)[NON_FIELD_ERRORS]:
                row.add_error(trouble.field, each)
        elif isinstance(trouble, ReadingError):
            self.filled()[trouble.index].add_error(trouble.field, words)
        else:
            # As Django itself does for what concerns the set of rows and no one of them.
            self.non_form_errors().append(words)

    @property
    def is_troubled(self) -> bool:
        return bool(self.non_form_errors()) or any(form.errors for form in self.forms)


ProofReadingFormSet = forms.formset_factory(
    ProofReadingForm,
    formset=BaseProofReadingFormSet,
    extra=6,
    max_num=MOST_READINGS,
    validate_max=True,
)


class SetAsideForm(SubmissionForm):
    """Why a softness found counts no more."""

    reason = field_of(ProofDecision, "reason")
