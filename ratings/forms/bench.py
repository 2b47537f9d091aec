from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from fleet.forms.measured import MeasuredField, MeasuredForm, NumberField
from fleet.forms.moment import MomentField
from fleet.quantities import Quantity
from ratings.forms.submission import SubmissionForm
from ratings.mechanics.bench import BenchReading, BenchSetUp, ReadingError
from ratings.mechanics.cylinder import Cylinder
from ratings.models import TestStand
from ratings.models.bench import CylinderEnd
from ratings.recording.bench import Reduction, reduce_test

MOST_TAPE_IN = 1200.0
MOST_GAUGE_PSI = 20_000.0
MOST_READINGS = 200


class BenchTestForm(SubmissionForm):
    """How the pads were held when they were tested."""

    stand = forms.ModelChoiceField(
        label="Test stand", queryset=TestStand.objects.all(), empty_label="choose a stand"
    )
    end = forms.ChoiceField(label="Pressure acts on", choices=CylinderEnd)
    pads_in_test = NumberField(
        label="Pads sharing the load", least=1, most=40, whole=True, example="2"
    )
    tape_datum_in = MeasuredField(
        Quantity.LENGTH,
        label="Tape at rest (datum)",
        least=0,
        most=MOST_TAPE_IN,
        example="12.5",
        help_text="What the tape reads before the pads are stretched.",
    )
    gauge_zero_psi = MeasuredField(
        Quantity.PRESSURE,
        label="Gauge at rest (zero)",
        least=0,
        most=MOST_GAUGE_PSI,
        initial=0.0,
        example="0",
        help_text="What the gauge reads with no load on the pads.",
    )
    tested_at = MomentField(label="Tested at", initial=timezone.now)
    note = forms.CharField(
        label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=2000
    )

    def set_up(self) -> BenchSetUp:
        """Return what the readings are reduced with; the form must be valid."""
        stand: TestStand = self.cleaned_data["stand"]
        return BenchSetUp(
            cylinder=Cylinder(stand.bore_in, stand.rod_in),
            end=self.cleaned_data["end"],
            pads_in_test=self.cleaned_data["pads_in_test"],
            tape_datum_in=self.cleaned_data["tape_datum_in"],
            gauge_zero_psi=self.cleaned_data["gauge_zero_psi"],
        )


class ReadingForm(MeasuredForm):
    """One reading of tape and gauge. A row left blank is no reading."""

    tape_in = MeasuredField(
        Quantity.LENGTH, label="Tape", least=0, most=MOST_TAPE_IN, required=False, example="13.5"
    )
    gauge_psi = MeasuredField(
        Quantity.PRESSURE,
        label="Gauge",
        least=0,
        most=MOST_GAUGE_PSI,
        required=False,
        example="200",
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for field, other in (("tape_in", "gauge_psi"), ("gauge_psi", "tape_in")):
            if field in self.errors or other in self.errors:
                continue
            if cleaned.get(field) is None and cleaned.get(other) is not None:
                self.add_error(field, "This is blank: give both tape and gauge, or neither.")
        return cleaned

    @property
    def is_blank(self) -> bool:
        return self.cleaned_data.get("tape_in") is None

    @property
    def reading(self) -> BenchReading:
        return BenchReading(self.cleaned_data["tape_in"], self.cleaned_data["gauge_psi"])


class BaseReadingFormSet(forms.BaseFormSet):
    """The readings of a test, in the order they were entered."""

    def filled(self) -> list[ReadingForm]:
        """Return the rows that hold a reading; the formset must be valid."""
        return [form for form in self.forms if not form.is_blank]

    def reduce(self, set_up: BenchSetUp, linearity_limit_pct: float) -> Reduction | None:
        """Return what the readings come to, or None with the trouble shown at its row."""
        rows = self.filled()
        try:
            if len(rows) < 2:
                raise ValueError(
                    f"{len(rows) or 'No'} reading{'' if len(rows) == 1 else 's'} given: "
                    "give two or more."
                )
            return reduce_test(set_up, [row.reading for row in rows], linearity_limit_pct)
        except ReadingError as error:
            rows[error.index].add_error(error.field, _sentence(error.trouble))
        except ValueError as error:
            # As Django itself does for what concerns the set of rows and no one of them.
            self.non_form_errors().append(_sentence(str(error)))
        return None

    @property
    def is_troubled(self) -> bool:
        return bool(self.non_form_errors()) or any(form.errors for form in self.forms)


ReadingFormSet = forms.formset_factory(
    ReadingForm, formset=BaseReadingFormSet, extra=8, max_num=MOST_READINGS, validate_max=True
)


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:] + ("" if text.endswith(".") else ".")
