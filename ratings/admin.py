from __future__ import annotations

from django.contrib import admin
from django.http import HttpRequest

from fleet.admin import KeptForGood, SetUpForm, WithFigures
from ratings.models import Gauge, LoadIndicator, ReferencePiece, Tape, TestStand, Thermometer


@admin.register(TestStand)
class TestStandAdmin(WithFigures):
    list_display = ["name", "yard", "bore_in", "rod_in", "bore_measured_on"]


@admin.register(Gauge)
class GaugeAdmin(WithFigures):
    list_display = ["mark", "yard", "span_psi", "grade", "certificate_number", "due_on"]

    def get_readonly_fields(self, request: HttpRequest, obj: Gauge | None = None) -> list[str]:
        """Certificates on record say these: what they said of old tests must not be overwritten."""
        has_certificates = obj is not None and obj.calibrations.exists()
        return ["certificate_number", "calibrated_on", "due_on"] if has_certificates else []


@admin.register(Tape)
class TapeAdmin(WithFigures):
    list_display = ["mark", "yard", "resolution_in", "due_on"]


@admin.register(Thermometer)
class ThermometerAdmin(KeptForGood):
    form = SetUpForm
    list_display = ["mark", "yard", "due_on"]


@admin.register(ReferencePiece)
class ReferencePieceAdmin(KeptForGood):
    form = SetUpForm
    list_display = ["mark", "yard", "kind"]


@admin.register(LoadIndicator)
class LoadIndicatorAdmin(WithFigures):
    list_display = ["mark", "yard", "kind", "accuracy_pct", "resolution_lbf", "due_on"]
