"""The piles of a job: groups of like ones, each in a row of the form."""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Mapping
from typing import Any, ClassVar

from django import forms
from django.forms.formsets import DELETION_FIELD_NAME

from fleet.fields import MeasuredField
from fleet.quantities import Quantity
from ratings.jobs.form_rows import BaseRowFormSet, RowForm, Rows
from ratings.jobs.sections import FILLED_BY_SECTION, find_section
from ratings.mechanics.extraction.job import PileEnd, PileKind
from ratings.models import PileGroup, PileSection
from ratings.models.choices import PILE_ENDS, PILE_KINDS

PREFIX = "pile"
MOST_GROUPS = 12
# The element of the page that lists every section once, for the rows of all groups.
SECTION_LIST = "pile-section-names"
# What of a row is asked for wherever there is a pile, and what a section fills in.
FIRST = (
    "section",
    "count",
    "label",
    "length_ft",
    "embedment_ft",
    "yield_strength_ksi",
    "end",
    "is_plugged",
)
FIGURES = ("kind", *FILLED_BY_SECTION, "inside_perimeter_in", "tension_limit_lbf")
# What must be the section's own; the friction perimeter and the plug may be judged otherwise.
OF_THE_SECTION = ("area_in2", "weight_lb_ft")
CLOSE = 0.01
# A figure this near the table's is the table's, rounded in the reader's units.
ROUNDING = 1e-4
NO_PILE = "There is no pile: choose a section, or enter one below, with its length and embedment."
NO_END = (
    "This is blank: say how the lower end of the pipe is. What of the soil within it holds or "
    "weighs can be more than all the rest."
)
ASKED_FOR = ("section", "kind", "weight_lb_ft", "perimeter_in", "count", "end")
COMES_WITHIN = (PileEnd.OPEN_PLUGGED, PileEnd.OPEN_UNKNOWN)
RUBS_WITHIN = (PileEnd.OPEN_CORED, PileEnd.OPEN_UNKNOWN)


class SectionField(forms.CharField):
    """A section by its name, chosen from the page's list or typed."""

    widget = forms.TextInput(attrs={"list": SECTION_LIST, "autocomplete": "off"})

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.sections: Mapping[str, PileSection] = {}
        self.kept: Collection[str] = ()

    def clean(self, value: Any) -> str:
        text: str = super().clean(value)
        if not text or text in self.kept:
            return text
        found = find_section(text, self.sections)
        if found is None:
            raise forms.ValidationError(
                f"“{text[:40]}” is not in the table of sections: choose one of the list, or leave "
                "this blank and enter the figures below."
            )
        return found.name


class PileForm(RowForm, forms.ModelForm):  # type: ignore[type-arg]  # takes none at run time
    """One group of like piles."""

    section = SectionField(
        label="Section",
        required=False,
        max_length=200,
        help_text=str(PileGroup._meta.get_field("section").help_text),
    )
    kind = forms.ChoiceField(
        label="Kind of pile",
        choices=[("", "that of the section"), *PILE_KINDS.items()],
        required=False,
    )
    end = forms.ChoiceField(
        label="Lower end of the pipe",
        choices=[("", "choose"), *PILE_ENDS.items()],
        required=False,
        help_text=str(PileGroup._meta.get_field("end").help_text),
    )

    class Meta:
        model = PileGroup
        fields = (*FIRST, *FIGURES)
        error_messages: ClassVar = {"label": {"max_length": "60 characters at the most."}}

    field_order = (*FIRST, *FIGURES)

    def __init__(
        self,
        *args: Any,
        sections: Mapping[str, PileSection] | None = None,
        kept: Collection[str] = (),
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.sections = sections or {}
        section: Any = self.fields["section"]
        section.sections, section.kept = self.sections, kept
        for name in ASKED_FOR:
            # A section has them or they are asked for, so the label must not say optional.
            self.fields[name].is_asked_for = True  # type: ignore[attr-defined]
        strengths = [Quantity.STRENGTH.words(ksi, self.system) for ksi in (36.0, 50.0)]
        self.fields["yield_strength_ksi"].help_text = (
            f"Of steel: {strengths[0]} for A36, {strengths[1]} for A572 grade 50. Blank: the check "
            "of tension is not known."
        )

    def has_changed(self) -> bool:
        """Whether anything stands in the row but the count of one it begins with."""
        return any(
            given not in ("", "1") if name == "count" else given
            for name in self.fields
            if name != DELETION_FIELD_NAME
            for given in [str(self[name].data or "").strip()]
        )

    def _post_clean(self) -> None:
        """Leave alone the record that a form of a model fills and checks."""

    @property
    def first_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in FIRST]

    @property
    def figures(self) -> list[forms.BoundField]:
        return [self[name] for name in FIGURES]

    @property
    def are_figures_open(self) -> bool:
        """Whether they must be seen: no section is chosen that fills them, or one is wrong."""
        return not self["section"].value() or any(each.errors for each in self.figures)

    @property
    def columns(self) -> dict[str, Any]:
        """What was entered, by the names of the record's fields; the row must be without errors."""
        return {name: self.cleaned_data[name] for name in self.Meta.fields}

    def clean_count(self) -> int:
        return int(self.cleaned_data["count"] or 1)

    def clean(self) -> dict[str, Any]:
        # First, so that what is compared is what will be kept.
        cleaned = super().clean()
        section = self.sections.get(cleaned.get("section") or "")
        if section is not None:
            self._take(section, cleaned)
        self._ask_for_blanks(cleaned)
        self._check_embedment(cleaned)
        self._check_soil_within(cleaned)
        return cleaned

    def _take(self, section: PileSection, cleaned: dict[str, Any]) -> None:
        """Fill what was left blank from the section, and refuse what is not the section's."""
        if cleaned.get("kind") and cleaned["kind"] != section.kind:
            self.add_error(
                "kind",
                f"The section “{section.name}” is of the kind {PILE_KINDS[section.kind]}: "
                "choose that, or enter the section below.",
            )
        elif "kind" in cleaned:
            cleaned["kind"] = section.kind
        for name in FILLED_BY_SECTION:
            of_table = getattr(section, name)
            given = cleaned.get(name, of_table)
            if given is None or abs(given - of_table) <= ROUNDING * of_table:
                cleaned[name] = of_table
            elif name in OF_THE_SECTION and abs(given - of_table) > CLOSE * of_table:
                self.add_error(name, self._not_of(section, name))

    def _not_of(self, section: PileSection, name: str) -> str:
        field = self.fields[name]
        assert isinstance(field, MeasuredField)
        words = field.quantity.words(getattr(section, name), self.system)
        return (
            f"The section “{section.name}” has {words}: leave this blank to take that, or leave "
            "the section blank."
        )

    def _ask_for_blanks(self, cleaned: dict[str, Any]) -> None:
        if "kind" in cleaned and not cleaned["kind"]:
            self.add_error("kind", "This is blank: choose a section or what the pile is.")
        for name in ("weight_lb_ft", "perimeter_in"):
            if name in cleaned and cleaned[name] is None:
                field = self.fields[name]
                example = field.prepare_value(float(field.example))  # type: ignore[attr-defined]
                self.add_error(
                    name, f"This is blank: choose a section or give a number such as {example}."
                )

    def _check_embedment(self, cleaned: dict[str, Any]) -> None:
        embedment_ft, length_ft = cleaned.get("embedment_ft"), cleaned.get("length_ft")
        if embedment_ft is not None and length_ft is not None and embedment_ft > length_ft:
            length = Quantity.DEPTH.words(length_ft, self.system, 4)
            self.add_error(
                "embedment_ft",
                f"This is deeper than the pile is long, {length}: give no more than its length.",
            )

    def _check_soil_within(self, cleaned: dict[str, Any]) -> None:
        """Ask what the soil within a pipe does; of another kind, take no end at all."""
        kind = cleaned.get("kind")
        if kind and kind != PileKind.PIPE:
            cleaned["end"], cleaned["inside_perimeter_in"] = "", None
        elif kind:
            cleaned["is_plugged"] = False
            if not cleaned.get("end") and "end" in cleaned:
                self.add_error("end", NO_END)
        comes_within = cleaned.get("is_plugged") or cleaned.get("end") in COMES_WITHIN
        if comes_within and "plug_area_in2" in cleaned and not cleaned["plug_area_in2"]:
            self.add_error(
                "plug_area_in2",
                "This is blank: give the area of the soil that comes out within the pile.",
            )
        self._check_inside(cleaned)

    def _check_inside(self, cleaned: dict[str, Any]) -> None:
        inside_in, plug_in2 = cleaned.get("inside_perimeter_in"), cleaned.get("plug_area_in2")
        if cleaned.get("end") in RUBS_WITHIN and not inside_in and not plug_in2:
            if "inside_perimeter_in" in cleaned and "plug_area_in2" not in self.errors:
                self.add_error(
                    "inside_perimeter_in",
                    "This is blank: give what the soil within rubs on, or the area of the plug of "
                    "a round pipe.",
                )
            return
        outside_in = cleaned.get("perimeter_in")
        if cleaned.get("end") not in (*RUBS_WITHIN, *COMES_WITHIN) or outside_in is None:
            return
        around_in = inside_in or round_pipe_inside_in(plug_in2 or 0.0)
        if around_in >= outside_in:
            outside, inside = (
                Quantity.LENGTH.words(each, self.system) for each in (outside_in, around_in)
            )
            self.add_error(
                "inside_perimeter_in" if inside_in else "plug_area_in2",
                f"Inside the pipe would measure {inside} around and outside {outside}: give less.",
            )


class BasePileFormSet(BaseRowFormSet):
    """The groups of piles, at least one."""

    def _construct_form(self, i: int, **kwargs: Any) -> Any:
        # Of a single row, left blank, each thing it needs is asked for at its field.
        alone = i == 0 and self.total_form_count() == 1
        return super()._construct_form(i, **kwargs | ({"empty_permitted": False} if alone else {}))

    def clean(self) -> None:
        if self.management_form.is_valid() and not self.filled():
            if not self.forms:
                raise forms.ValidationError(NO_PILE)
            self.forms[0].add_error("section", NO_PILE)

    @property
    def columns(self) -> list[dict[str, Any]]:
        """The groups by the names of the record's fields; every row must be without errors."""
        return [row.columns for row in self.filled()]

    @property
    def is_several(self) -> bool:
        """Whether messages must say of which group they are."""
        return len(self.forms) > 1


PileFormSet = forms.formset_factory(
    PileForm,
    formset=BasePileFormSet,
    max_num=MOST_GROUPS,
    absolute_max=MOST_GROUPS + 1,
    validate_max=True,
    can_delete=True,
)


def round_pipe_inside_in(plug_area_in2: float) -> float:
    """Return the perimeter inside a round pipe of an area within: 2√(π·area), in."""
    return 2.0 * math.sqrt(math.pi * plug_area_in2)


def pile_rows(groups: Collection[PileGroup]) -> Rows:
    """Return groups on record as the rows of the form."""
    return [{name: getattr(group, name) for name in PileForm.Meta.fields} for group in groups]


def section_fills(sections: Mapping[str, PileSection], system: str) -> list[tuple[str, str]]:
    """Return each section's name and what choosing it fills in, as the fields of a row write it."""
    form = PileForm(system=system)
    return [
        (
            name,
            json.dumps(
                {"kind": section.kind}
                | {
                    column: form.fields[column].prepare_value(getattr(section, column))
                    for column in FILLED_BY_SECTION
                }
            ),
        )
        for name, section in sections.items()
    ]
