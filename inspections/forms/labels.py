from __future__ import annotations

from django import forms

from fleet.forms.measured import NumberField
from fleet.models import PadLot, SuppressorHousing
from inspections.labels.stock import STOCKS


class LabelsForm(forms.Form):
    """Which labels, on what stock."""

    housings = forms.ModelMultipleChoiceField(
        label="Housings",
        queryset=SuppressorHousing.objects.all(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    lots = forms.ModelMultipleChoiceField(
        label="Pad lots",
        queryset=PadLot.objects.all(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    stock = forms.ChoiceField(
        label="Label stock", choices=[(key, stock.name) for key, stock in STOCKS.items()]
    )
    skip = NumberField(
        label="Labels used up on the first sheet",
        least=0,
        most=29,
        whole=True,
        required=False,
        example="0",
    )

    def clean_skip(self) -> int:
        return self.cleaned_data["skip"] or 0

    def clean(self) -> None:
        super().clean()
        chosen = self.cleaned_data
        if not self.errors and not chosen.get("housings") and not chosen.get("lots"):
            raise forms.ValidationError("Nothing is chosen: tick a housing or a lot.")
        stock = STOCKS.get(chosen.get("stock", ""))
        if stock is not None and chosen.get("skip", 0) >= stock.many:
            self.add_error("skip", f"This stock has {stock.many} labels to a sheet: give fewer.")
