from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from fleet.forms.measured import MeasuredField, MeasuredForm, NumberField
from fleet.forms.moment import MomentField
from fleet.models import PadLot, StockMove
from fleet.quantities import Quantity
from ratings.forms.submission import SubmissionForm

MOST_PADS_MOVED = 10_000


class LotForm(forms.ModelForm):
    """A new lot of pads."""

    hardness_shore_a = NumberField(
        label="Hardness, Shore A", least=0, most=100, required=False, example="60"
    )

    bonded_area_in2 = NumberField(
        label="Bonded area of one pad, in²",
        least=0,
        above_least=True,
        most=2000,
        required=False,
        example="48",
        help_text="With hardness and thickness it tells whether a tested rate is plausible.",
    )
    rubber_thickness_in = NumberField(
        label="Rubber between plates, in",
        least=0,
        above_least=True,
        most=24,
        required=False,
        example="2.5",
    )

    def clean_mark(self) -> str:
        mark: str = self.cleaned_data["mark"]
        alike = PadLot.objects.filter(mark__iexact=mark).first()
        if alike is not None:
            raise forms.ValidationError(
                f"Lot {alike.mark} is on record already: give this one a mark of its own."
            )
        return mark

    class Meta:
        model = PadLot
        fields = [
            "mark",
            "supplier",
            "hardness_shore_a",
            "bonded_area_in2",
            "rubber_thickness_in",
            "note",
        ]


class WantedGainForm(MeasuredForm):
    """By how much testing more pads is to lift what can be promised of any one of a lot."""

    gain = MeasuredField(
        Quantity.RATE, label="Wanted gain", least=0, above_least=True, most=100_000, example="20"
    )


class StockForm(SubmissionForm):
    """Pads that came to the shelf or left it other than by being fitted."""

    kind = forms.ChoiceField(
        label="What happened",
        choices=[
            (StockMove.Kind.RECEIVED.value, "received: pads came in"),
            (StockMove.Kind.SCRAPPED.value, "scrapped: pads left the shelf"),
            (StockMove.Kind.TESTED.value, "tested and not returned"),
            (StockMove.Kind.COUNTED.value, "counted: the shelf holds this many"),
        ],
    )
    pads = NumberField(label="Pads", least=0, most=MOST_PADS_MOVED, whole=True, example="24")
    occurred_at = MomentField(label="When", initial=timezone.now)
    note = forms.CharField(label="Note", required=False, max_length=200)

    def __init__(self, *args: Any, lot: PadLot, **kwargs: Any) -> None:
        self.lot = lot
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        kind, pads = cleaned.get("kind"), cleaned.get("pads")
        if kind is None or pads is None:
            return cleaned
        is_count = kind == StockMove.Kind.COUNTED
        if not is_count and pads == 0:
            self.add_error("pads", "“0” won’t do: give one pad or more.")
        elif is_count and pads == self.lot.in_stock and not self.is_on_record(StockMove):
            self.add_error("pads", f"The books say {pads} too: there is nothing to record.")
        return cleaned
