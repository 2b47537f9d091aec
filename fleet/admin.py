"""Yard set-up: what there is, never what it can pull.

Nothing a ledger entry rests on can be changed here: marks and pad positions are fixed once
recorded, and mountings, stock, listings, tests and counts have pages of their own.
"""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib import admin
from django.http import HttpRequest

from fleet.context import system_of
from fleet.fields import MeasuredField, PlainModelForm
from fleet.housings import enter_housing
from fleet.models import Hammer, SuppressorHousing, Yard
from fleet.units import Quantity

NO_SOURCE = (
    "This is blank, but figures are given: say where they were read, such as the data plate, and "
    "who read it when."
)


class FigureField(MeasuredField):
    """A measured number that may be blank where nobody has read it off yet."""

    def __init__(self, quantity: Quantity, **kwargs: Any) -> None:
        super().__init__(quantity, required=False, **kwargs)

    def has_changed(self, initial: Any, data: Any) -> bool:
        shown = "" if initial is None else self.prepare_value(initial)
        return bool(shown != (data or "").strip())


class FiguresForm(PlainModelForm):
    """A form whose figures speak the reader's units, each label with its unit.

    Which model and which of its other fields, the admin says.
    """

    system: ClassVar[str] = "us"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, FigureField):
                field.system = self.system
                field.label = f"{field.label}, {field.unit}"

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for name, field in self.fields.items():
            # Shown rounded: what nobody touched keeps every digit.
            if isinstance(field, FigureField) and name not in self.changed_data:
                cleaned[name] = getattr(self.instance, name)
        return cleaned


class HammerForm(FiguresForm):
    """A hammer and the figures on its data plate."""

    eccentric_moment_lb_in = FigureField(
        Quantity.ECCENTRIC_MOMENT,
        label="Eccentric moment",
        least=0,
        above_least=True,
        most=100_000,
        example="4400",
        help_text="Of all the eccentric weights together: weight times the throw of its centre.",
    )
    frequency_vpm = FigureField(
        Quantity.FREQUENCY,
        label="Frequency",
        least=100,
        most=10_000,
        example="1600",
        help_text="The fastest the exciter turns while it pulls.",
    )
    exciter_weight_lb = FigureField(
        Quantity.WEIGHT,
        label="Exciter weight",
        least=0,
        above_least=True,
        most=500_000,
        example="8000",
        help_text="All that hangs below the pads and shakes, without the clamp.",
    )
    clamp_weight_lb = FigureField(
        Quantity.WEIGHT,
        label="Clamp weight",
        least=0,
        most=100_000,
        example="2000",
        help_text="0 where it is counted in the exciter’s weight.",
    )
    clamp_force_lbf = FigureField(
        Quantity.FORCE,
        label="Clamp force",
        least=0,
        above_least=True,
        most=5_000_000,
        example="250000",
        help_text="With which the jaws press on the pile.",
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        has_figures = any(
            cleaned.get(name) is not None
            for name, field in self.fields.items()
            if isinstance(field, FigureField)
        )
        if has_figures and not cleaned.get("figures_source"):
            self.add_error("figures_source", NO_SOURCE)
        return cleaned


class HousingForm(FiguresForm):
    """A housing and its weight."""

    weight_lb = FigureField(
        Quantity.WEIGHT,
        label="Weight with its pads",
        least=0,
        above_least=True,
        most=200_000,
        example="4000",
        help_text="The crane and its rigging hold it, the pads don’t. Blank where nobody has "
        "weighed it.",
    )


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
