from __future__ import annotations

from django.contrib import admin

from fleet.admin import WithFigures
from ratings.models import Gauge, Tape, TestStand


@admin.register(TestStand)
class TestStandAdmin(WithFigures):
    list_display = ["name", "yard", "bore_in", "rod_in"]


@admin.register(Gauge)
class GaugeAdmin(WithFigures):
    list_display = ["mark", "yard", "span_psi", "grade", "certificate_number", "due_on"]


@admin.register(Tape)
class TapeAdmin(WithFigures):
    list_display = ["mark", "yard", "resolution_in"]
