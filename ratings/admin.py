from __future__ import annotations

from django.contrib import admin
from django.http import HttpRequest

from fleet.fields import MeasuredModelForm
from ratings.models import Gauge, Tape, TestStand


@admin.register(TestStand)
class TestStandAdmin(admin.ModelAdmin):  # type: ignore[type-arg]  # takes none at run time
    form = MeasuredModelForm
    list_display = ["name", "yard", "bore_in", "rod_in"]

    def has_delete_permission(self, request: HttpRequest, obj: TestStand | None = None) -> bool:
        return False


@admin.register(Gauge)
class GaugeAdmin(admin.ModelAdmin):  # type: ignore[type-arg]  # takes none at run time
    form = MeasuredModelForm
    list_display = ["mark", "yard", "span_psi", "grade", "certificate_number", "due_on"]

    def has_delete_permission(self, request: HttpRequest, obj: Gauge | None = None) -> bool:
        return False


@admin.register(Tape)
class TapeAdmin(admin.ModelAdmin):  # type: ignore[type-arg]  # takes none at run time
    form = MeasuredModelForm
    list_display = ["mark", "yard", "resolution_in"]

    def has_delete_permission(self, request: HttpRequest, obj: Tape | None = None) -> bool:
        return False
