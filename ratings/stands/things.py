"""Test stands and all that is read on them: what is asked of each when it is set up."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.dates import day_words
from fleet.setup.forms import ThingForm, day_field
from fleet.setup.things import Thing
from ratings.models import Gauge, LoadIndicator, ReferencePiece, Tape, TestStand, Thermometer

CERTIFICATE = "As on its certificate. Blank where there is none."
CALIBRATED = "The day on its certificate."
DUE = "The day its certificate runs out. What is read on it after that rates nothing."
CERTIFICATE_FIELDS = ("certificate_number", "calibrated_on", "due_on")


class TestStandForm(ThingForm):
    """A stand and its cylinder."""

    __test__ = False

    bore_measured_on = day_field(
        "Bore and rod measured on", help_text="The day they were last measured, not read in a list."
    )

    class Meta:
        model = TestStand
        fields = (
            "yard",
            "name",
            "bore_in",
            "bore_tolerance_in",
            "rod_in",
            "rod_tolerance_in",
            "bore_measured_on",
            "bore_measured_by",
            "note",
        )
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}
        help_texts = {
            "name": "As people call it, such as Shed bench.",
            "note": "What else whoever tests on it should know.",
        }


class CalibratedForm(ThingForm):
    """An instrument with the calibration it has now."""

    calibrated_on = day_field("Calibrated on", help_text=CALIBRATED)
    due_on = day_field("Calibration due on", help_text=DUE, may_be_to_come=True)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        calibrated_on, due_on = cleaned.get("calibrated_on"), cleaned.get("due_on")
        if calibrated_on and due_on and due_on <= calibrated_on:
            self.add_error(
                "due_on",
                f"This is not after {day_words(calibrated_on)}, when it was calibrated: give the "
                "day it is due again.",
            )
        return cleaned


def _help(**more: str) -> dict[str, str]:
    return {
        "mark": "What is painted or engraved on it, such as SG-1.",
        "certificate_number": CERTIFICATE,
        **more,
    }


class GaugeForm(CalibratedForm):
    """A pressure gauge."""

    class Meta:
        model = Gauge
        fields = (
            "yard",
            "mark",
            "span_psi",
            "grade",
            "resolution_psi",
            "serial_number",
            *CERTIFICATE_FIELDS,
        )
        help_texts = _help(
            span_psi="From 0 to the last number on its dial.",
            grade="As on its dial or certificate.",
            resolution_psi="Half a division where you read between the marks.",
        )


class TapeForm(CalibratedForm):
    """A tape or rule."""

    class Meta:
        model = Tape
        fields = ("yard", "mark", "resolution_in", *CERTIFICATE_FIELDS)
        help_texts = _help(resolution_in="Its finest division that you read, such as 1/16.")


class ThermometerForm(CalibratedForm):
    """A thermometer."""

    class Meta:
        model = Thermometer
        fields = ("yard", "mark", *CERTIFICATE_FIELDS)
        help_texts = _help()


class LoadIndicatorForm(CalibratedForm):
    """A load cell, or the indicator of a crane."""

    class Meta:
        model = LoadIndicator
        fields = ("yard", "mark", "kind", "accuracy_pct", "resolution_lbf", *CERTIFICATE_FIELDS)
        help_texts = _help(kind="What it is.", resolution_lbf="The finest step it shows.")


class ReferencePieceForm(ThingForm):
    """A pad or spring set aside to be pulled before the tests of a day."""

    class Meta:
        model = ReferencePiece
        fields = ("yard", "mark", "kind", "note")
        help_texts = {
            "mark": "What is painted on it, such as REF-1.",
            "note": "Where it lies, and what it was before.",
        }


def kept_by_certificates(gauge: Any) -> tuple[str, ...]:
    """Certificates on record say these: what they said of old tests is not overwritten."""
    return CERTIFICATE_FIELDS if gauge.calibrations.exists() else ()


STAND = Thing(
    model=TestStand,
    name="test stand",
    plural="test stands",
    folder="test-stands",
    form=TestStandForm,
    lead="A bench that stretches pads with a hydraulic cylinder. Bore and rod make pressure into "
    "force: measure them, and say how sure that is.",
    shown=("bore_in", "rod_in", "bore_measured_on"),
    effect="Tests on record keep the bore and rod they were reduced by.",
    more=("stand", "Checks of this stand", ()),
)
GAUGE = Thing(
    model=Gauge,
    name="gauge",
    plural="gauges",
    folder="gauges",
    form=GaugeForm,
    lead="The pressure gauge of a stand. Its certificate with all its points is recorded on its "
    "page, once it is on record here.",
    shown=("span_psi", "grade", "due_on"),
    fixed=kept_by_certificates,
    effect="Tests on record keep the gauge as it was that day. Once a certificate is on record, "
    "the dates follow the newest one.",
    more=("gauge", "Certificates of this gauge", ()),
)
TAPE = Thing(
    model=Tape,
    name="tape",
    plural="tapes",
    folder="tapes",
    form=TapeForm,
    lead="A tape or rule that stretch and travel are read on.",
    shown=("resolution_in", "due_on"),
)
THERMOMETER = Thing(
    model=Thermometer,
    name="thermometer",
    plural="thermometers",
    folder="thermometers",
    form=ThermometerForm,
    lead="What the temperature of rubber is read on: cold rubber is stiffer.",
    shown=("due_on",),
)
PIECE = Thing(
    model=ReferencePiece,
    name="reference piece",
    plural="reference pieces",
    folder="reference-pieces",
    form=ReferencePieceForm,
    lead="A pad or steel spring kept for nothing but to be pulled before the first test of a day: "
    "it shows that a stand measures as it did.",
    shown=("kind", "note"),
)
INDICATOR = Thing(
    model=LoadIndicator,
    name="load indicator",
    plural="load indicators",
    folder="load-indicators",
    form=LoadIndicatorForm,
    lead="A load cell or a crane’s own indicator: what a whole unit is pulled against, and what "
    "watches a pull at the pile.",
    shown=("kind", "accuracy_pct", "due_on"),
    effect="Proof pulls on record keep the indicator as it was that day.",
)
INSTRUMENTS = (STAND, GAUGE, TAPE, THERMOMETER, PIECE, INDICATOR)
