"""The ground of a job: its layers from the top down, each in a row of the form."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, replace
from typing import Any

from django import forms

from fleet.fields import field_of
from fleet.quantities import Quantity
from ratings.jobs.doubt_words import doubt_sentence
from ratings.jobs.form_rows import BaseRowFormSet, RowForm, Rows
from ratings.jobs.recording import layer_of
from ratings.mechanics import field_tests
from ratings.mechanics.extraction.doubts import Doubt
from ratings.mechanics.extraction.soils import SoilResponse
from ratings.mechanics.soil import (
    WATER_LB_FT3,
    Density,
    Layer,
    LayerFault,
    LayerKind,
    check_profile,
    effective_stress_psf,
    total_stress_psf,
)
from ratings.models import SoilLayer
from ratings.models.choices import DENSITIES, LAYER_KINDS
from ratings.models.job import TESTED

PREFIX = "layer"
MOST_LAYERS = 30
# What typing depths to the millimetre may leave between two layers that are meant to meet.
MEETING_FT = 0.005
ENTERED = "entered"
NO_SOIL = (
    "What this soil keeps of its hold while vibrated is not known: choose a soil of the table, "
    "or “entered below” and give a factor and an amplitude."
)
NO_LAYER = "There is no layer: start from a profile, or give the ground from its top to the toe."
# What some kinds of layer can’t do without, though it is not required of all.
ASKED_FOR = ("undrained_strength_psf", "density", "soil", "vibration_factor", "needed_amplitude_in")
# Where a fault of the mechanics shows in the row.
SHOWN_AT = {"bottom_ft": "thickness_ft"}


# A strength to try the rest of a row with, until the test above it is read.
TRIAL_PSF = 1_000.0


class SoilSelect(forms.Select):
    """A choice of soils, each with the kinds of layer it fits."""

    kinds: dict[str, str] = {}

    def create_option(self, name: str, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **kwargs)
        kinds = self.kinds.get(str(value))
        if kinds is not None:
            option["attrs"]["data-kinds"] = kinds
        return option


class SoilField(forms.ChoiceField):
    """A soil of the yard's table, or one entered."""

    def validate(self, value: Any) -> None:
        try:
            super().validate(value)
        except forms.ValidationError:
            raise forms.ValidationError(
                f"“{str(value)[:40]}” is not in the yard’s table of soils: choose one that is, or "
                "“entered below”."
            ) from None


class LayerForm(RowForm, forms.ModelForm):  # type: ignore[type-arg]  # takes none at run time
    """One layer. It begins where the one above ends."""

    kind = forms.ChoiceField(
        label="Kind",
        choices=[("", "choose"), *LAYER_KINDS.items()],
        error_messages={"required": "This is blank: choose what the layer is."},
    )
    thickness_ft = field_of(
        SoilLayer, "top_ft", label="Thickness", least=0.1, example="15", required=True, help_text=""
    )
    density = forms.ChoiceField(
        label="Density class",
        choices=[("", "choose"), *DENSITIES.items()],
        required=False,
        help_text="For the beta method.",
    )
    # A doubt of a field is told beside it, while it is typed too.
    may_be_doubted = True
    soil = SoilField(label="Soil under vibration", required=False, widget=SoilSelect)
    field_order = ("kind", "top_ft", "thickness_ft")

    class Meta:
        model = SoilLayer
        fields = (
            "kind",
            "top_ft",
            "unit_weight_lb_ft3",
            "undrained_strength_psf",
            "density",
            *TESTED,
            "friction_psf",
            "soil",
            "vibration_factor",
            "needed_amplitude_in",
        )

    def __init__(self, *args: Any, soils: Sequence[SoilResponse] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.fields:
            # The style sheet shows a field of another method only where something stands in it.
            self.fields[name].widget.attrs.setdefault("placeholder", " ")
            self.fields[name].is_asked_for = name in ASKED_FOR  # type: ignore[attr-defined]
        self.soils = {soil.name: soil for soil in soils}
        # What a test gave, and by which correlation: on record, or read now.
        self.found: tuple[Density | float | None, str] = (
            self.initial.get("found"),
            str(self.initial.get("correlation") or ""),
        )
        soil: Any = self.fields["soil"]
        soil.choices = [
            ("", "choose"),
            *((name, name) for name in self.soils),
            (ENTERED, "entered below"),
        ]
        soil.widget.kinds = {
            name: " ".join(each.kinds) for name, each in self.soils.items() if each.kinds
        }

    def _post_clean(self) -> None:
        """Leave alone the record that a form of a model fills and checks."""

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not self.errors:
            self._check_method()
            self._check_soil(cleaned)
        return cleaned

    @property
    def is_tested(self) -> bool:
        """Whether a test stands in for what its method needs."""
        given = self.cleaned_data
        lacks = {
            LayerKind.COHESIVE: given["undrained_strength_psf"] is None,
            LayerKind.GRANULAR: not given["density"],
        }.get(LayerKind(given["kind"]), False)
        return lacks and (given["spt_blows_ft"] is not None or given["cone_psf"] is not None)

    @property
    def found_words(self) -> str:
        """What a test gave, in the reader's units, "" where none was read."""
        value, correlation = self.found
        if not correlation:
            return ""
        if isinstance(value, float):
            return f"{Quantity.STRESS.words(value, self.system)}: {correlation}"
        return f"{value or ''}: {correlation}"

    def read_test(self, above: Sequence[Layer], water_depth_ft: float | None) -> None:
        """Take density or strength from the test of this row where neither was given.

        above: the layers above it. What the correlation can't take is shown at the test's field.
        """
        given, self.found = self.cleaned_data, (None, "")
        if not self.is_tested:
            return
        trial = self.layer(above[-1].bottom_ft if above else 0.0)
        stack, middle_ft = [*above, trial], (trial.top_ft + trial.bottom_ft) / 2.0
        by_cone = given["cone_psf"] is not None
        at = "cone_psf" if by_cone else "spt_blows_ft"
        try:
            if trial.kind is LayerKind.GRANULAR:
                silty = given["is_silty"]
                density = (
                    field_tests.density_from_cpt(
                        given[at], effective_stress_psf(stack, water_depth_ft, middle_ft), silty
                    )
                    if by_cone
                    else field_tests.density_from_spt(given[at], silty)
                )
                self._take(density.density, density.name, density.source, density.doubt, at)
            else:
                strength = (
                    field_tests.strength_from_cpt(given[at], total_stress_psf(stack, middle_ft))
                    if by_cone
                    else field_tests.strength_from_spt(given[at])
                )
                self._take(
                    strength.strength_psf, strength.name, strength.source, strength.doubt, at
                )
        except ValueError as refusal:
            said = str(refusal).partition(": ")[2] or str(refusal)
            self.add_error(at, f"This won’t do: {said}.")

    def _take(self, value: Density | float, name: str, source: str, doubt: str, at: str) -> None:
        by = "cone" if at == "cone_psf" else f"{self.cleaned_data[at]:g} blows per foot"
        words = f"{name} by {by}, {source}. {doubt}".strip()
        self.found = (value, words[:300])

    def _check_soil(self, given: dict[str, Any]) -> None:
        soil = self.soils.get(given["soil"])
        kind = LayerKind(given["kind"])
        if soil is not None and soil.kinds and kind not in soil.kinds:
            fitting = [name for name, each in self.soils.items() if kind in each.kinds]
            listed = f"choose one that is, such as “{fitting[0]}”" if fitting else "choose another"
            self.add_error(
                "soil",
                f"“{soil.name}” is no soil of a layer that is {LAYER_KINDS[kind]}: {listed}, or "
                "“entered below”.",
            )

    def _check_method(self) -> None:
        """Ask for what the method of this kind of layer has no value without."""
        alone = self.layer(0.0)
        try:
            check_profile([replace(alone, top_ft=0.0)], None, 0.0)
        except LayerFault as fault:
            self.add_error(SHOWN_AT.get(fault.field, fault.field), str(fault))

    def check_vibration(self) -> None:
        """Ask for what the soil does under vibration where neither chosen nor entered."""
        given = self.cleaned_data
        has_soil = given["soil"] not in ("", ENTERED)
        has_factor = given["vibration_factor"] is not None
        if not has_soil and not has_factor:
            entered = given["soil"] == ENTERED
            self.add_error(
                "vibration_factor" if entered else "soil",
                "This is blank: give a factor such as 0.2." if entered else NO_SOIL,
            )
        elif not has_soil and given["needed_amplitude_in"] is None:
            self.add_error(
                "needed_amplitude_in",
                "This is blank: give the amplitude that moves a pile in this soil, or choose a "
                "soil of the table.",
            )

    def layer(self, above_ft: float) -> Layer:
        """Return the layer as the mechanics take it; the row must be without errors."""
        given = self.cleaned_data
        row = SoilLayer(**{name: given[name] for name in self.Meta.fields})
        if self.is_tested:
            found = self.found[0]
            if row.kind == LayerKind.COHESIVE:
                row.undrained_strength_psf = found if isinstance(found, float) else TRIAL_PSF
            else:
                row.density = found if isinstance(found, Density) else Density.MEDIUM_DENSE_SAND
        if row.top_ft is None or abs(row.top_ft - above_ft) < MEETING_FT:
            row.top_ft = above_ft
        row.bottom_ft = row.top_ft + given["thickness_ft"]
        if row.kind != LayerKind.COHESIVE:
            row.undrained_strength_psf = None
        if row.kind != LayerKind.GRANULAR:
            row.density = ""
        if row.soil == ENTERED:
            row.soil = ""
        return layer_of(row)


class BaseLayerFormSet(BaseRowFormSet):
    """The ground from its top to the toe."""

    def clean(self) -> None:
        if self.management_form.is_valid() and not self.filled():
            self._show(0, "kind", NO_LAYER)

    def profile(self) -> tuple[Layer, ...]:
        """Return the layers; every row must be without errors."""
        layers: list[Layer] = []
        for row in self.filled():
            layers.append(row.layer(layers[-1].bottom_ft if layers else 0.0))
        return tuple(layers)

    def read_tests(self, water_depth_ft: float | None) -> None:
        """Take from penetration tests what was not given; every row must be without errors."""
        layers: list[Layer] = []
        for row in self.filled():
            row.read_test(layers, water_depth_ft)
            if row.errors:
                return
            layers.append(row.layer(layers[-1].bottom_ft if layers else 0.0))

    def tests(self) -> list[dict[str, Any]]:
        """Return what a penetration test gave of each layer, by the record's fields."""
        return [
            {name: row.cleaned_data[name] for name in TESTED} | {"correlation": row.found[1]}
            for row in self.filled()
        ]

    def show_doubts(self, doubts: Iterable[Doubt], rows: Sequence[Any]) -> list[str]:
        """Set doubts beside the fields they are of, and return those of no field.

        rows: of the layers the doubts number.
        """
        of_none = []
        for doubt in doubts:
            place, field = doubt.layer, SHOWN_AT.get(doubt.field, doubt.field)
            if place is None or place >= len(rows) or field not in rows[place].fields:
                of_none.append(doubt_sentence(doubt, rows[0].system if rows else "us"))
                continue
            shown = rows[place][field]
            shown.doubts = [
                *getattr(shown, "doubts", []),
                doubt_sentence(doubt, rows[place].system),
            ]
        return of_none

    def check(
        self, *, water_depth_ft: float | None, embedment_ft: float, is_vibrating: bool, system: str
    ) -> None:
        """Show at its row what won't do of the layers together; each must do by itself."""
        rows, layers = self.filled(), self.profile()
        try:
            check_profile(layers, water_depth_ft, embedment_ft)
        except LayerFault as fault:
            words = fault_words(fault, layers, embedment_ft, system)
            self._show(fault.layer, SHOWN_AT.get(fault.field, fault.field), words)
        for row, layer in zip(rows, layers, strict=True):
            if is_vibrating and layer.top_ft < embedment_ft:
                row.check_vibration()

    def _show(self, place: int, field: str, words: str) -> None:
        rows = self.filled() or self.forms
        if not rows:
            raise forms.ValidationError(words)
        rows[place].add_error(field, words)


LayerFormSet = forms.formset_factory(
    LayerForm,
    formset=BaseLayerFormSet,
    max_num=MOST_LAYERS,
    absolute_max=MOST_LAYERS + 1,
    validate_max=True,
    can_delete=True,
)


def recorded_rows(layers: Iterable[SoilLayer]) -> Rows:
    """Return layers on record as the rows of the form, with the tests they rest on.

    What a test gave is not shown as given: it is read from the test again.
    """
    rows = []
    for layer in layers:
        (row,) = layer_rows([layer_of(layer)])
        row |= {name: getattr(layer, name) for name in (*TESTED, "correlation")}
        if layer.correlation:
            of_method = "undrained_strength_psf" if layer.kind == LayerKind.COHESIVE else "density"
            row["found"] = row[of_method]
            row[of_method] = None if of_method != "density" else ""
        rows.append(row)
    return rows


def layer_rows(layers: Iterable[Layer]) -> Rows:
    """Return layers as the rows of the form; each begins where the one above ends."""
    return [
        asdict(layer)
        | {
            "top_ft": None,
            "thickness_ft": layer.bottom_ft - layer.top_ft,
            "soil": layer.soil or ("" if layer.vibration_factor is None else ENTERED),
        }
        for layer in layers
    ]


def fault_words(
    fault: LayerFault, layers: Sequence[Layer], embedment_ft: float, system: str
) -> str:
    """Return what is wrong with a layer among the others, in the reader's units."""

    def depth(feet: float) -> str:
        return Quantity.DEPTH.words(feet, system, 4)

    layer = layers[fault.layer]
    if fault.field == "bottom_ft":
        return (
            f"The layers end at {depth(layer.bottom_ft)} and the toe is at {depth(embedment_ft)}: "
            "make this one thicker or add one."
        )
    if fault.field == "top_ft":
        above_ft = layers[fault.layer - 1].bottom_ft if fault.layer else 0.0
        top, above = depth(layer.top_ft), depth(above_ft)
        if layer.top_ft < above_ft:
            return (
                f"This layer begins at {top}, within the one above, which ends at {above}: leave "
                "this blank to begin it there."
            )
        return (
            f"Nothing is given from {above} to {top}: leave this blank to begin the layer at "
            f"{above}, or put one between."
        )
    if fault.field == "unit_weight_lb_ft3":
        given, water = (
            Quantity.UNIT_WEIGHT.words(weight, system, 3)
            for weight in (layer.unit_weight_lb_ft3, WATER_LB_FT3)
        )
        return (
            f"{given} is lighter than the water this layer stands in: give the total unit weight, "
            f"{water} or more."
        )
    return str(fault)
