from __future__ import annotations

from django.contrib import admin
from django.http import HttpRequest

from ratings.models import TestStand


@admin.register(TestStand)
class TestStandAdmin(admin.ModelAdmin):
    list_display = ["name", "yard", "bore_in", "rod_in"]

    def has_delete_permission(self, request: HttpRequest, obj: TestStand | None = None) -> bool:
        return False
