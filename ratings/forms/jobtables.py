"""What a yard adds to the tables jobs start from: a pile section, a soil template."""

from __future__ import annotations

from django import forms

from fleet.characters import check_name
from fleet.forms.measured import MeasuredField, MeasuredForm
from fleet.forms.plaintext import PlainText
from fleet.quantities import Quantity
from ratings.models import PileSection, SoilTemplate
from ratings.models.pilesection import PileKind
from ratings.piles.table import GENERIC_NAMES


class PileSectionForm(MeasuredForm):
    """A section the yard meets often."""

    name = forms.CharField(
        label="Name", max_length=80, help_text="As it is to be chosen.", validators=[check_name]
    )
    kind = forms.ChoiceField(label="Kind of pile", choices=PileKind)
    area_in2 = MeasuredField(
        Quantity.AREA, label="Area of its material", least=0.5, most=20_000, example="15.5"
    )
    weight_lb_ft = MeasuredField(
        Quantity.LINE_WEIGHT, label="Weight", least=1, most=20_000, example="53"
    )
    perimeter_in = MeasuredField(
        Quantity.LENGTH,
        label="Perimeter for friction",
        least=1,
        most=4_000,
        example="47.65",
        help_text="What the ground rubs on; of an H-pile commonly the box, 2(d + b).",
    )
    plug_area_in2 = MeasuredField(
        Quantity.AREA,
        label="Area of the plug",
        least=0,
        most=20_000,
        required=False,
        example="126",
        help_text="Of the soil within, should it come out plugged.",
    )
    source = forms.CharField(
        label="Source", max_length=160, help_text="Where these figures are from."
    )

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if name in GENERIC_NAMES or PileSection.objects.filter(name=name).exists():
            raise forms.ValidationError(f"“{name}” is in the table already: give another name.")
        return name

    def clean_plug_area_in2(self) -> float:
        return self.cleaned_data["plug_area_in2"] or 0.0


class SoilTemplateForm(PlainText, forms.Form):
    """A name for a job's ground, so that others can start from it."""

    name = forms.CharField(
        label="Name", max_length=80, help_text="As it is to be chosen.", validators=[check_name]
    )
    note = forms.CharField(
        label="Note",
        required=False,
        max_length=200,
        help_text="Such as the borings it rests on.",
    )

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if SoilTemplate.objects.filter(name=name).exists():
            raise forms.ValidationError(f"“{name}” is taken: give another name.")
        return name
