from __future__ import annotations

from functools import partial
from typing import Any

from django import forms
from django.utils import timezone

from fleet.fields import (
    FactForm,
    InstrumentField,
    MeasuredForm,
    MomentField,
    NumberField,
    PastDayField,
    SubmissionForm,
    field_of,
)
from fleet.models.retirable import refuse_out_of_use
from ratings.mechanics.gauge import PSI_PER, CalibrationPoint
from ratings.models import Gauge, GaugeCalibration, ReferenceCheck, ReferencePiece, Tape
from ratings.models.choices import CYLINDER_END_CHOICES, NO_CYLINDER_END
from ratings.stands.recording import Certificate, CheckSetUp

# How many psi one of it is.
UNITS = {"psi": 1.0, "bar": PSI_PER["bar"], "kPa": PSI_PER["kPa"], "MPa": 1000.0 * PSI_PER["kPa"]}
MOST_POINTS = 30
MOST_PRESSURE = 200_000.0


def pressure_field(label: str) -> NumberField:
    """Return a field of a pressure in the certificate's unit of measure."""
    return NumberField(
        label=label, least=0, most=MOST_PRESSURE, example="1000", required=False, help_text=""
    )


class GaugeCalibrationForm(SubmissionForm):
    """What the certificate of a gauge says, but for its points."""

    certificate_number = field_of(GaugeCalibration, "certificate_number")
    laboratory = field_of(GaugeCalibration, "laboratory")
    serial_number = field_of(GaugeCalibration, "serial_number")
    calibrated_on = PastDayField(label="Calibrated on")
    due_on = forms.DateField(
        label="Due again on",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={
            "required": "This is blank: give the day.",
            "invalid": "This is not a day: give one such as 2026-03-14.",
        },
    )
    unit = forms.ChoiceField(
        label="Pressures on the certificate are in",
        choices=[("", "choose a unit"), *((each, each) for each in UNITS)],
        error_messages={"required": "Choose the unit that the certificate is in."},
    )
    expanded = NumberField(
        label="Expanded uncertainty, in that unit",
        least=0,
        above_least=True,
        most=MOST_PRESSURE,
        example="5",
        required=False,
        help_text="The largest of the points, where each has its own.",
    )
    coverage_factor = field_of(GaugeCalibration, "coverage_factor", initial=2.0)
    no_found_reason = field_of(
        GaugeCalibration,
        "no_found_reason",
        help_text="Only where the certificate has no readings as found, such as: new gauge.",
    )
    note = field_of(GaugeCalibration, "note")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not cleaned.get("expanded"):
            # It is filled in beforehand, and says nothing by itself.
            cleaned["coverage_factor"] = None
        return cleaned

    def certificate(self, points: list[CalibrationPoint]) -> Certificate:
        """Return the certificate in psi; the form must be valid."""
        given = dict(self.cleaned_data)
        per_unit, expanded = UNITS[given.pop("unit")], given.pop("expanded")
        given.pop("submission_id")
        return Certificate(
            points=tuple(points),
            expanded_psi=None if expanded is None else expanded * per_unit,
            **given,
        )


class PointForm(MeasuredForm):
    """A point of a certificate, in its own unit of measure. A row left blank is no point."""

    applied = pressure_field("Applied")
    as_found = pressure_field("As found")
    as_left = pressure_field("As left")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("applied") is None and "applied" not in self.errors and not self.is_blank:
            self.add_error("applied", "This is blank: give the pressure that was applied.")
        return cleaned

    @property
    def is_blank(self) -> bool:
        names = ("applied", "as_found", "as_left")
        return all(self.cleaned_data.get(name) is None for name in names)

    def point(self, psi_per_unit: float) -> CalibrationPoint:
        """Return the point in psi; the form must be valid and not blank."""
        applied, found, left = (
            None if value is None else value * psi_per_unit
            for value in (self.cleaned_data[name] for name in ("applied", "as_found", "as_left"))
        )
        assert applied is not None
        return CalibrationPoint(applied, found, left)


class BasePointFormSet(forms.BaseFormSet):  # type: ignore[type-arg]  # takes none at run time
    """The points of a certificate, from the least to the greatest."""

    def filled(self) -> list[PointForm]:
        """Return the rows that hold a point; the formset must be valid."""
        return [form for form in self.forms if not form.is_blank]


PointFormSet = forms.formset_factory(
    PointForm, formset=BasePointFormSet, extra=11, max_num=MOST_POINTS, validate_max=True
)


class ReferenceCheckForm(FactForm):
    """How a reference piece was pulled on a stand."""

    piece = InstrumentField(
        label="Reference piece",
        queryset=ReferencePiece.objects.all(),
        empty_label="choose a piece",
    )
    gauge = InstrumentField(
        label="Gauge", queryset=Gauge.objects.all(), empty_label="choose a gauge"
    )
    tape = InstrumentField(label="Tape", queryset=Tape.objects.all(), empty_label="choose a tape")
    end = forms.ChoiceField(
        label="Pressure acts on", choices=CYLINDER_END_CHOICES, error_messages=NO_CYLINDER_END
    )
    checked_at = MomentField(label="Checked at", initial=timezone.now)

    class Meta:
        model = ReferenceCheck
        fields = [
            "piece",
            "gauge",
            "tape",
            "end",
            "tape_datum_in",
            "gauge_zero_psi",
            "checked_at",
            "temperature_f",
            "note",
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if checked_at := cleaned.get("checked_at"):
            used = {name: cleaned.get(name) for name in ("piece", "gauge", "tape")}
            self.hold_to(partial(refuse_out_of_use, timezone.localdate(checked_at), **used))
        return cleaned

    def set_up(self) -> CheckSetUp:
        """Return how the check was made; the form must be valid."""
        return CheckSetUp(**{name: self.cleaned_data[name] for name in self.Meta.fields})
