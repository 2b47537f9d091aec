"""The pile of a job: its section from the table or entered, its length and how deep it stands."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from django import forms

from fleet.forms.measured import MeasuredField, MeasuredForm
from fleet.quantities import Quantity
from ratings.models.pilesection import PileKind
from ratings.piles.section import Section
from ratings.piles.table import GENERIC_NAMES, sections_by_name

FILLED_BY_SECTION = ("area_in2", "weight_lb_ft", "perimeter_in", "plug_area_in2")
# What must be the section's own; the friction perimeter and the plug may be judged otherwise.
OF_THE_SECTION = ("area_in2", "weight_lb_ft")
CLOSE = 0.01
# A figure this near the table's is the table's, rounded in the reader's units.
ROUNDING = 1e-4
KIND_TITLES = {"H": "H-piles", "pipe": "Pipes", "sheet pair": "Sheet pairs"}


class SectionSelect(forms.Select):
    """A choice of sections, each with what it fills in."""

    fills: Mapping[str, str] = {}

    def create_option(self, name: str, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **kwargs)
        fills = self.fills.get(str(value))
        if fills is not None:
            option["attrs"]["data-fill"] = fills
        return option


class PileFields(MeasuredForm):
    """What is pulled."""

    section = forms.ChoiceField(
        label="Section",
        required=False,
        help_text="Fills in kind, area, weight, perimeter and plug.",
    )
    pile_kind = forms.ChoiceField(
        label="Kind of pile",
        choices=[("", "that of the section"), *PileKind.choices],
        required=False,
    )
    length_ft = MeasuredField(
        Quantity.DEPTH, label="Length of the pile", least=0.5, most=500, example="50"
    )
    embedment_ft = MeasuredField(
        Quantity.DEPTH,
        label="Embedment",
        least=0.5,
        most=500,
        example="40",
        help_text="From the ground to the toe.",
    )
    area_in2 = MeasuredField(
        Quantity.AREA,
        label="Area of its material",
        least=0.5,
        most=20_000,
        required=False,
        example="15.5",
    )
    weight_lb_ft = MeasuredField(
        Quantity.LINE_WEIGHT, label="Weight", least=1, most=20_000, required=False, example="53"
    )
    perimeter_in = MeasuredField(
        Quantity.LENGTH,
        label="Perimeter for friction",
        least=1,
        most=4_000,
        required=False,
        example="47.65",
        help_text="What the ground rubs on. For H-piles the table has the box, 2(d + b).",
    )
    is_plugged = forms.BooleanField(label="It comes out plugged with soil", required=False)
    plug_area_in2 = MeasuredField(
        Quantity.AREA,
        label="Area of the plug",
        least=0,
        most=20_000,
        required=False,
        example="126",
        help_text="Of the soil within, across; its weight comes up with the pile.",
    )
    yield_strength_ksi = MeasuredField(
        Quantity.STRENGTH, label="Yield strength", least=1, most=200, required=False, example="50"
    )
    tension_limit_lbf = MeasuredField(
        Quantity.FORCE,
        label="Tension limit",
        least=100,
        most=100_000_000,
        required=False,
        example="100000",
        help_text="Where somebody gives one. Timber and concrete need it: without it the check "
        "of tension is not known.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sections = sections_by_name()
        for name in ("section", "pile_kind", "weight_lb_ft", "perimeter_in"):
            # A section has them or they are asked for, so the label must not say optional.
            self.fields[name].is_asked_for = True  # type: ignore[attr-defined]
        field = self.fields["section"]
        kept = self.initial.get("section") or ""
        field.choices = section_choices(self.sections, str(kept))  # type: ignore[attr-defined]
        field.widget = SectionSelect(choices=field.choices)  # type: ignore[attr-defined]
        field.widget.fills = {name: self._fill(each) for name, each in self.sections.items()}
        strengths = [Quantity.STRENGTH.words(ksi, self.system) for ksi in (36.0, 50.0)]
        self.fields["yield_strength_ksi"].help_text = (
            f"Of steel: {strengths[0]} for A36, {strengths[1]} for A572 grade 50. Blank: the check "
            "of tension is not known."
        )

    def _fill(self, section: Section) -> str:
        """Return what choosing a section fills in, as the fields write it."""
        shown = {
            name: self.fields[name].prepare_value(getattr(section, name))
            for name in FILLED_BY_SECTION
        }
        return json.dumps({"pile_kind": section.kind, **shown})

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        section = self.sections.get(cleaned.get("section") or "")
        if section is not None:
            self._take(section, cleaned)
        self._ask_for_blanks(cleaned)
        embedment_ft, length_ft = cleaned.get("embedment_ft"), cleaned.get("length_ft")
        if embedment_ft is not None and length_ft is not None and embedment_ft > length_ft:
            length = Quantity.DEPTH.words(length_ft, self.system, 4)
            self.add_error(
                "embedment_ft",
                f"This is deeper than the pile is long, {length}: give no more than its length.",
            )
        return cleaned

    def _take(self, section: Section, cleaned: dict[str, Any]) -> None:
        """Fill what was left blank from the section, and refuse what is not the section's."""
        if cleaned.get("pile_kind") and cleaned["pile_kind"] != section.kind:
            self.add_error(
                "pile_kind",
                f"The section “{section.name}” is of the kind {PileKind(section.kind).label}: "
                "choose that, or enter the section below.",
            )
        elif "pile_kind" in cleaned:
            cleaned["pile_kind"] = section.kind
        for name in FILLED_BY_SECTION:
            of_table = getattr(section, name)
            given = cleaned.get(name, of_table)
            if given is None or abs(given - of_table) <= ROUNDING * of_table:
                cleaned[name] = of_table
            elif name in OF_THE_SECTION and abs(given - of_table) > CLOSE * of_table:
                self.add_error(name, self._not_of(section, name))

    def _not_of(self, section: Section, name: str) -> str:
        field = self.fields[name]
        assert isinstance(field, MeasuredField)
        words = field.quantity.words(getattr(section, name), self.system)
        return (
            f"The section “{section.name}” has {words}: leave this blank to take that, or choose "
            "“entered below” as the section."
        )

    def _ask_for_blanks(self, cleaned: dict[str, Any]) -> None:
        if "pile_kind" in cleaned and not cleaned["pile_kind"]:
            self.add_error("pile_kind", "This is blank: choose a section or what the pile is.")
        for name in ("weight_lb_ft", "perimeter_in"):
            if name in cleaned and cleaned[name] is None:
                field = self.fields[name]
                example = field.prepare_value(float(field.example))  # type: ignore[attr-defined]
                self.add_error(
                    name, f"This is blank: choose a section or give a number such as {example}."
                )
        if (
            cleaned.get("is_plugged")
            and "plug_area_in2" in cleaned
            and not cleaned["plug_area_in2"]
        ):
            self.add_error(
                "plug_area_in2",
                "This is blank: give the area of the soil that comes out within the pile.",
            )


def section_choices(sections: Mapping[str, Section], kept: str = "") -> list[tuple[str, Any]]:
    """Return the sections as choices, the yard's own first, then by kind.

    kept: what a saved job has, though it may no longer be in the table.
    """
    own = [(name, name) for name in sections if name not in GENERIC_NAMES]
    choices: list[tuple[str, Any]] = [("", "entered below")]
    if kept and kept not in sections:
        choices.append((kept, f"{kept} (no longer in the table)"))
    if own:
        choices.append(("The yard’s own", own))
    for kind, title in KIND_TITLES.items():
        of_kind = [
            (n, n) for n, each in sections.items() if each.kind == kind and n in GENERIC_NAMES
        ]
        choices.append((title, of_kind))
    return choices
