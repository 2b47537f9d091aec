"""Yard set-up: what there is, never what it can pull.

Nothing a ledger entry rests on can be changed here: marks and pad positions are fixed once
recorded, and mountings, stock, listings, tests and counts have pages of their own.
"""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from fleet.context import system_of
from fleet.forms.plaintext import PlainModelForm
from fleet.forms.setup import FiguresForm, HammerForm, HousingForm
from fleet.models import Hammer, SuppressorHousing, Yard
from fleet.register import enter_housing

admin.site.site_header = "Line-Pull Ledger: yard set-up"
admin.site.site_title = "Yard set-up"
admin.site.index_title = "What the yard owns"


class KeptForGood(admin.ModelAdmin):  # type: ignore[type-arg]  # takes none at run time
    """A record that is never deleted: papers name it."""

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class WithFigures(KeptForGood):
    """A record with figures, entered in the reader's units."""

    def get_form(
        self, request: HttpRequest, obj: Any = None, change: bool = False, **kwargs: Any
    ) -> type[FiguresForm]:
        made = super().get_form(request, obj, change, **kwargs)
        assert issubclass(made, FiguresForm)
        made.system = system_of(request)
        return made


@admin.register(Yard)
class YardAdmin(KeptForGood):
    form = PlainModelForm
    list_display = ["name", "place"]


@admin.register(Hammer)
class HammerAdmin(WithFigures):
    form = HammerForm
    list_display = ["mark", "make", "type_name", "yard"]
    list_filter = ["yard"]
    search_fields = ["mark", "make", "type_name", "serial_number"]
    fieldsets = [
        (None, {"fields": ["yard", "mark", "make", "type_name", "serial_number", "note"]}),
        (
            "For extractions",
            {
                "fields": [
                    "eccentric_moment_lb_in",
                    "frequency_vpm",
                    "exciter_weight_lb",
                    "clamp_weight_lb",
                    "clamp_force_lbf",
                    "figures_source",
                ],
                "description": "Leave blank what nobody has read off yet: the checks that need "
                "it then say that it is not known.",
            },
        ),
    ]

    def get_readonly_fields(self, request: HttpRequest, obj: Hammer | None = None) -> list[str]:
        return ["mark"] if obj else []


@admin.register(SuppressorHousing)
class SuppressorHousingAdmin(WithFigures):
    form = HousingForm
    list_display = ["mark", "yard", "positions_per_side", "design_travel_in", "bumper"]
    list_filter = ["yard"]
    search_fields = ["mark", "serial_number"]

    def get_readonly_fields(
        self, request: HttpRequest, obj: SuppressorHousing | None = None
    ) -> list[str]:
        return ["mark", "positions_per_side"] if obj else []

    def save_model(
        self, request: HttpRequest, obj: SuppressorHousing, form: Any, change: bool
    ) -> None:
        if change:
            # Only what was changed here: a count signed this moment may be moving the travel.
            obj.save(update_fields=form.changed_data)
        else:
            enter_housing(obj)
