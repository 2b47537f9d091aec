"""Set-up forms of what the extraction check reckons with, in the reader's units."""

from __future__ import annotations

from typing import Any, ClassVar

from fleet.forms.measured import MeasuredField
from fleet.forms.plaintext import PlainModelForm
from fleet.quantities import Quantity

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
