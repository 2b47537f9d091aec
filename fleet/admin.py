"""Yard set-up: what there is, never what it can pull.

Nothing a ledger entry rests on can be changed here: marks and pad positions are fixed once
recorded, and mountings, stock, listings, tests and counts have pages of their own.
"""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.db.models import Model
from django.http import HttpRequest

from fleet.context import system_of
from fleet.fields import MeasuredField, MeasuredModelForm
from fleet.housings import enter_housing
from fleet.models import Hammer, SuppressorHousing, Yard
from fleet.models.machine import NO_SOURCE
from fleet.models.measured_fields import Measured
from fleet.quantities import plain_number


class SetUpForm(MeasuredModelForm):
    """A form in the yard set-up, whose pages write no unit beside a label."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, MeasuredField):
                field.label = f"{field.label}, {field.unit}"


class HammerForm(SetUpForm):
    """A hammer and the figures on its data plate."""

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        figures = (name for name in self.fields if isinstance(self.fields[name], MeasuredField))
        has_figures = any(cleaned.get(name) is not None for name in figures)
        if has_figures and not cleaned.get("figures_source"):
            self.add_error("figures_source", NO_SOURCE)
        return cleaned


admin.site.site_header = "Line-Pull Ledger: yard set-up"
admin.site.site_title = "Yard set-up"
admin.site.index_title = "What the yard owns"


class KeptForGood(admin.ModelAdmin):  # type: ignore[type-arg]  # takes none at run time
    """A record that is never deleted: papers name it."""

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class WithFigures(KeptForGood):
    """A record with figures, entered and listed in the reader's units."""

    form = SetUpForm

    def get_list_display(self, request: HttpRequest) -> Any:
        system = system_of(request)
        names = super().get_list_display(request)
        return [_in_system(self.model, str(name), system) for name in names]

    def get_form(
        self, request: HttpRequest, obj: Any = None, change: bool = False, **kwargs: Any
    ) -> type[SetUpForm]:
        made = super().get_form(request, obj, change, **kwargs)
        assert issubclass(made, SetUpForm)
        made.system = system_of(request)
        return made


def _in_system(model: type[Model], name: str, system: str) -> Any:
    """Return a column of a list: a measured one with its unit, in a system; others as named."""
    field = model._meta.get_field(name)
    quantity = getattr(field, "quantity", None)
    if not isinstance(field, Measured) or quantity is None:
        return name

    @admin.display(description=f"{field.verbose_name}, {quantity.symbol(system)}", ordering=name)
    def shown(record: Model) -> str | None:
        value = getattr(record, name)
        return None if value is None else plain_number(quantity.shown(value, system), 4)

    return shown


def _yard_if_on_its_way(thing: Hammer | SuppressorHousing) -> list[str]:
    """Return the yard as a field to be left alone while a transfer is to change it."""
    return ["yard"] if thing.transfers.filter(end__isnull=True).exists() else []


@admin.register(Yard)
class YardAdmin(KeptForGood):
    form = MeasuredModelForm
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
                    "figures_source",
                ],
                "description": "Leave blank what nobody has read off yet: the checks that need "
                "it then say that it is not known.",
            },
        ),
    ]

    def get_readonly_fields(self, request: HttpRequest, obj: Hammer | None = None) -> list[str]:
        return ["mark", *_yard_if_on_its_way(obj)] if obj else []


@admin.register(SuppressorHousing)
class SuppressorHousingAdmin(WithFigures):
    list_display = ["mark", "yard", "positions_per_side", "design_travel_in", "bumper"]
    list_filter = ["yard"]
    search_fields = ["mark", "serial_number"]

    def get_readonly_fields(
        self, request: HttpRequest, obj: SuppressorHousing | None = None
    ) -> list[str]:
        return ["mark", "positions_per_side", *_yard_if_on_its_way(obj)] if obj else []

    def save_model(
        self, request: HttpRequest, obj: SuppressorHousing, form: Any, change: bool
    ) -> None:
        if change:
            # Only what was changed here: a count signed this moment may be moving the travel.
            obj.save(update_fields=form.changed_data)
        else:
            enter_housing(obj)
