"""A job as it is entered: one form and its rows of ground, and the mechanics' Job they make."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.forms import BoundField
from django.utils import timezone

from fleet.dates import day_words
from fleet.fields import EARLIEST, FactForm, MeasuredField, field_of, whole_number
from fleet.models import Yard
from fleet.quantities import Quantity
from ratings.jobs.answer import Question
from ratings.jobs.form_rows import Rows, typed_rows
from ratings.jobs.layers import (
    MOST_LAYERS,
    PREFIX,
    LayerForm,
    LayerFormSet,
    layer_rows,
)
from ratings.jobs.recording import job_of, save_job
from ratings.jobs.rules import rules_in_force
from ratings.jobs.sections import FILLED_BY_SECTION, GENERIC_NAMES, sections_by_name
from ratings.jobs.soil_profiles import find_profile, profile_choices
from ratings.mechanics.extraction.job import Job, PullMethod
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.models import ExtractionJob, PileSection, YardDistance
from ratings.models.choices import PILE_KINDS

FARTHEST_AHEAD = timedelta(days=3660)
DISTANCE = "distance_"
SET_UPS = ("set_up_low", "set_up_expected", "set_up_high")


class DayField(forms.DateField):
    """A day of the trade: none before its age, none beyond ten years from now."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        super().__init__(**kwargs)
        self.error_messages["required"] = "This is blank: give the day."
        self.error_messages["invalid"] = "This is not a day: give one such as 2026-03-14."

    def clean(self, value: Any) -> date | None:
        day: date | None = super().clean(value)
        if day is not None and day < EARLIEST.date():
            raise forms.ValidationError(f"{day_words(day)} is too long ago for this trade.")
        if day is not None and day > timezone.localdate() + FARTHEST_AHEAD:
            raise forms.ValidationError(
                f"{day_words(day)} is more than ten years ahead: give an earlier day."
            )
        return day


# The parts of the form: the title of each and the fields in it.
PARTS = {
    "place": ("Site and days", ("site", "first_day", "last_day", "units_needed", "note")),
    "pile": (
        "Pile",
        ("section", "length_ft", "embedment_ft", "yield_strength_ksi", "is_plugged"),
    ),
    "ground": ("Ground", ("water_depth_ft", *SET_UPS)),
    "crane": (
        "Crane and rigging",
        (
            "capacity_lbf",
            "hook_block_lb",
            "rigging_weight_lb",
            "rigging_limit_lbf",
            "legs",
            "leg_angle_deg",
            "method",
        ),
    ),
    "yards": ("Yards", ("haul_limit_mi",)),
}
# Fields of a part that its first one fills in.
FIGURES = {"pile": ("pile_kind", *FILLED_BY_SECTION, "tension_limit_lbf")}
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


class JobForm(FactForm):
    """All of a job but its layers; each field bears the name it has on record."""

    first_day = DayField(label="First day", initial=timezone.localdate)
    last_day = DayField(label="Last day", initial=timezone.localdate)
    note = forms.CharField(
        label="Note", required=False, widget=forms.Textarea(attrs={"rows": 2}), max_length=2000
    )
    section = forms.ChoiceField(
        label="Section",
        required=False,
        widget=SectionSelect,
        help_text="Fills in kind, area, weight, perimeter and plug.",
    )
    pile_kind = forms.ChoiceField(
        label="Kind of pile",
        choices=[("", "that of the section"), *PILE_KINDS.items()],
        required=False,
    )

    class Meta:
        model = ExtractionJob
        fields = (
            *(name for _title, names in PARTS.values() for name in names),
            *(name for names in FIGURES.values() for name in names),
        )
        error_messages: ClassVar = {"site": {"required": "This is blank: name the site."}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sections = sections_by_name()
        for name in ("section", "pile_kind", "weight_lb_ft", "perimeter_in"):
            # A section has them or they are asked for, so the label must not say optional.
            self.fields[name].is_asked_for = True  # type: ignore[attr-defined]
        field: Any = self.fields["section"]
        field.choices = section_choices(self.sections, str(self.initial.get("section") or ""))
        field.widget.fills = {name: self._fill(each) for name, each in self.sections.items()}
        strengths = [Quantity.STRENGTH.words(ksi, self.system) for ksi in (36.0, 50.0)]
        self.fields["yield_strength_ksi"].help_text = (
            f"Of steel: {strengths[0]} for A36, {strengths[1]} for A572 grade 50. Blank: the check "
            "of tension is not known."
        )
        for yard in Yard.objects.all():
            distance = field_of(
                YardDistance, "distance_mi", label=f"Distance of {yard.name}", required=False
            )
            distance.system = self.system
            self.fields[f"{DISTANCE}{yard.pk}"] = distance

    def _fill(self, section: PileSection) -> str:
        """Return what choosing a section fills in, as the fields write it."""
        shown = {
            name: self.fields[name].prepare_value(getattr(section, name))
            for name in FILLED_BY_SECTION
        }
        return json.dumps({"pile_kind": section.kind, **shown})

    @property
    def distance_names(self) -> list[str]:
        return [name for name in self.fields if name.startswith(DISTANCE)]

    @property
    def distances(self) -> dict[int, float]:
        """How far each yard is, mi, where somebody entered it; the form must be valid."""
        return {
            int(name.removeprefix(DISTANCE)): self.cleaned_data[name]
            for name in self.distance_names
            if self.cleaned_data[name] is not None
        }

    @property
    def columns(self) -> dict[str, Any]:
        """What was entered, by the names of the record's fields; the form must be valid."""
        return {name: self.cleaned_data[name] for name in self.Meta.fields}

    def clean_units_needed(self) -> int:
        return self.cleaned_data["units_needed"] or 1

    def clean_hook_block_lb(self) -> float:
        return self.cleaned_data["hook_block_lb"] or 0.0

    def clean_rigging_weight_lb(self) -> float:
        return self.cleaned_data["rigging_weight_lb"] or 0.0

    def clean(self) -> dict[str, Any]:
        # First, so that what is compared is what will be kept.
        cleaned = super().clean()
        self._check_days(cleaned)
        section = self.sections.get(cleaned.get("section") or "")
        if section is not None:
            self._take(section, cleaned)
        self._ask_for_blanks(cleaned)
        self._check_embedment(cleaned)
        self._check_set_up(cleaned)
        self._check_rigging(cleaned)
        return cleaned

    def _check_days(self, cleaned: dict[str, Any]) -> None:
        first_day, last_day = cleaned.get("first_day"), cleaned.get("last_day")
        if first_day is not None and last_day is not None and last_day < first_day:
            self.add_error(
                "last_day",
                f"This is before the first day, {day_words(first_day)}: give that one or later.",
            )

    def _take(self, section: PileSection, cleaned: dict[str, Any]) -> None:
        """Fill what was left blank from the section, and refuse what is not the section's."""
        if cleaned.get("pile_kind") and cleaned["pile_kind"] != section.kind:
            self.add_error(
                "pile_kind",
                f"The section “{section.name}” is of the kind {PILE_KINDS[section.kind]}: "
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

    def _not_of(self, section: PileSection, name: str) -> str:
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

    def _check_embedment(self, cleaned: dict[str, Any]) -> None:
        embedment_ft, length_ft = cleaned.get("embedment_ft"), cleaned.get("length_ft")
        if embedment_ft is not None and length_ft is not None and embedment_ft > length_ft:
            length = Quantity.DEPTH.words(length_ft, self.system, 4)
            self.add_error(
                "embedment_ft",
                f"This is deeper than the pile is long, {length}: give no more than its length.",
            )

    def _check_set_up(self, cleaned: dict[str, Any]) -> None:
        for before, name in pairwise(SET_UPS):
            lower, value = cleaned.get(before), cleaned.get(name)
            if lower is not None and value is not None and value < lower:
                self.add_error(
                    name, f"This is below the one before it, {lower:g}: give them rising."
                )
                break

    def _check_rigging(self, cleaned: dict[str, Any]) -> None:
        limit_lbf, weight_lb = cleaned.get("rigging_limit_lbf"), cleaned.get("rigging_weight_lb")
        if limit_lbf is not None and weight_lb is not None and limit_lbf < weight_lb:
            # A leg that can't hold the rigging itself holds nothing.
            self.add_error(
                "rigging_limit_lbf",
                "This is below the rigging’s own weight of "
                f"{Quantity.WEIGHT.words(weight_lb, self.system)}: read the tag again or correct "
                "the weight.",
            )


def section_choices(sections: Mapping[str, PileSection], kept: str = "") -> list[tuple[str, Any]]:
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


# Buttons that ask for the form to be drawn again, unjudged.
REDRAWS = ("more_layers", "insert_layer", "fill_layers")


@dataclass(frozen=True)
class Trouble:
    """What stands in the way of an answer: the id of its field, its label, and the words."""

    at: str
    label: str
    words: str


@dataclass(frozen=True)
class Group:
    """A part of the form that folds.

    figures: fields that the first of the others fills in, folded by themselves.
    is_troubled: something in it is wrong.
    """

    key: str
    title: str
    fields: list[BoundField]
    figures: list[BoundField]
    is_troubled: bool

    @property
    def all_fields(self) -> list[BoundField]:
        return self.fields + self.figures

    @property
    def is_open(self) -> bool:
        """Whether it is to be seen without being asked for: most jobs need no distances."""
        return self.is_troubled or self.key != "yards"

    @property
    def are_figures_open(self) -> bool:
        """Whether they must be seen: none is chosen that fills them, or one is wrong."""
        return not self.fields[0].value() or any(each.errors for each in self.figures)


class JobEntry:
    """A job's form and layers, judged together.

    data: what was sent, None for a blank form or that of a job on record.
    After is_valid(): job, question and save().
    """

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        job: ExtractionJob | None = None,
        system: str = "us",
        typed: tuple[dict[str, Any], Rows] | None = None,
    ) -> None:
        """typed: fields and rows to be shown unjudged in place of those on record."""
        self.record, self.system, self._data = job, system, data
        self.policy: ExtractionPolicy = rules_in_force()
        initial, rows = typed or (on_record(job) if job else ({}, []))
        self.form = JobForm(data, initial=initial, system=system)
        self.layers: Any = LayerFormSet(
            data,
            initial=rows,
            prefix=PREFIX,
            form_kwargs={"system": system, "soils": [soil.name for soil in self.policy.soils]},
        )
        self._job: Job | None = None
        self._is_judged = False

    @classmethod
    def redrawn(cls, data: Any, *, job: ExtractionJob | None, system: str) -> JobEntry:
        """Keep all that was typed, unjudged, with the layers the button asked for."""
        fields: dict[str, Any] = {name: data.get(name) for name in data}
        rows = typed_rows(data, LayerForm, PREFIX, MOST_LAYERS)
        profile = find_profile(data.get("profile", "")) if "fill_layers" in data else None
        if profile is not None:
            fields["water_depth_ft"], rows = profile.water_depth_ft, layer_rows(profile.ground)
        place = whole_number(data.get("insert_layer", ""))
        if "more_layers" in data or place is not None:
            at = len(rows) if place is None else min(place, len(rows))
            rows = [*rows[:at], {}, *rows[at:]][:MOST_LAYERS]
        return cls(job=job, system=system, typed=(fields, rows))

    @property
    def job_id(self) -> int | None:
        """The job on record this is, as the page says that sent it."""
        if self.record is not None:
            return self.record.pk
        return whole_number(str((self._data or {}).get("job", "")))

    @property
    def profiles(self) -> list[tuple[str, Any]]:
        return profile_choices()

    @property
    def chosen_profile(self) -> str:
        return str(self.form.initial.get("profile") or (self._data or {}).get("profile", ""))

    def is_valid(self) -> bool:
        if not self._is_judged:
            self._is_judged = True
            # Both are asked, so that the page shows all that is wrong at once.
            if all([self.form.is_valid(), self.layers.is_valid()]):
                self._judge()
        return self._job is not None

    def _judge(self) -> None:
        given = self.form.cleaned_data
        self.layers.check(
            water_depth_ft=given["water_depth_ft"],
            embedment_ft=given["embedment_ft"],
            is_vibrating=given["method"] == PullMethod.VIBRATING,
            system=self.system,
        )
        if self.layers.is_troubled:
            return
        try:
            self._job = job_of(ExtractionJob(**self.form.columns), self.layers.profile())
        except ValueError as unforeseen:
            self.form.add_error(None, f"This can’t be calculated with: {unforeseen}.")

    @property
    def job(self) -> Job:
        assert self._job is not None, "ask after is_valid()"
        return self._job

    @property
    def question(self) -> Question:
        """What the form asks; it must be valid. A job's own commitments don't count."""
        given, key = self.form.cleaned_data, self.record.pk if self.record else None
        days = (given["first_day"], given["last_day"])
        return Question(self.job, *days, self.form.distances, key)

    def save(self, by: User) -> ExtractionJob:
        """Record the job, or change the one there is; it must be valid."""
        return save_job(
            submission_id=self.form.cleaned_data["submission_id"],
            job=self.record,
            fields=self.form.columns,
            layers=self.job.layers,
            distances=self.form.distances,
            by=by,
        )

    def refuse(self, trouble: ValidationError) -> None:
        """Show at its field why the job could not be saved."""
        self.form.add_error(None, trouble)
        self._job = None

    @property
    def errors(self) -> list[Trouble]:
        """All that stands in the way of an answer, in the order of the form."""
        if not self.form.is_bound or self.is_valid():
            return []
        groups = [field for group in self.groups for field in group.all_fields]
        hidden = self.form.hidden_fields()
        return [
            *(Trouble("job-form", "Job", str(words)) for words in self.form.non_field_errors()),
            *_troubles([*groups, *hidden]),
            *(Trouble("ground-layers", "Layers", str(w)) for w in self.layers.non_form_errors()),
            *(
                trouble
                for number, row in self.layers.standing()
                for trouble in _troubles(row.visible_fields(), f" of layer {number}")
            ),
        ]

    @property
    def groups(self) -> list[Group]:
        """The parts of the form, in the order a dispatcher learns them."""
        self.is_valid()
        groups = []
        for key, (title, names) in PARTS.items():
            first = self.form.distance_names if key == "yards" else ()
            fields = [self.form[name] for name in (*first, *names)]
            figures = [self.form[name] for name in FIGURES.get(key, ())]
            of_rows = key == "ground" and self.layers.is_bound and self.layers.is_troubled
            is_troubled = of_rows or any(field.errors for field in fields + figures)
            groups.append(Group(key, title, fields, figures, is_troubled))
        return groups


def _troubles(fields: list[BoundField], where: str = "") -> list[Trouble]:
    return [
        Trouble(field.id_for_label, f"{field.label}{where}", str(words))
        for field in fields
        for words in field.errors
    ]


def on_record(job: ExtractionJob) -> tuple[dict[str, Any], Rows]:
    """Return what the form shows of a job on record, and its rows of ground."""
    fields = {name: getattr(job, name) for name in (*JobForm.Meta.fields, "submission_id")}
    fields |= {f"{DISTANCE}{yard}": miles for yard, miles in job.distances_mi.items()}
    return fields, layer_rows(job_of(job).layers)
