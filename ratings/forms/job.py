"""A job as it is entered: one form and its rows of ground, and the mechanics' Job they make."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.forms import BoundField

from fleet.keys import whole_number
from ratings.extraction.rules import rules_in_force
from ratings.extraction.stored import distances_of, job_of
from ratings.forms.jobcrane import CraneFields
from ratings.forms.joblayers import (
    MOST_LAYERS,
    PREFIX,
    LayerForm,
    LayerFormSet,
    layer_rows,
)
from ratings.forms.jobpile import PileFields
from ratings.forms.jobplace import DISTANCE, GroundFields, PlaceFields
from ratings.forms.rows import Rows, keep_untouched, typed_rows
from ratings.forms.submission import SubmissionForm
from ratings.mechanics.extraction.job import Crane, Job, Pile, PileKind, PullMethod, SetUp
from ratings.mechanics.extraction.policy import ExtractionPolicy
from ratings.mechanics.soil import Layer
from ratings.models import ExtractionJob
from ratings.models.job import Method
from ratings.recording.job import save_job
from ratings.soilprofiles import find_profile, profile_choices

# Buttons that ask for the form to be drawn anew, unjudged.
REDRAWS = ("more_layers", "insert_layer", "fill_layers")


class JobForm(PlaceFields, PileFields, GroundFields, CraneFields, SubmissionForm):
    """All of a job but its layers; each field bears the name it has on record."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["submission_id"].required = True

    def clean(self) -> dict[str, Any]:
        # First, so that what the other parts compare is what will be kept.
        keep_untouched(self, self.cleaned_data)
        return super().clean()


RECORDED = tuple(name for name in JobForm.base_fields if name != "submission_id")
PLACE = ("site", "first_day", "last_day", "note")
PILE = ("section", "length_ft", "embedment_ft", "yield_strength_ksi", "is_plugged")
PILE_FIGURES = tuple(name for name in PileFields.base_fields if name not in PILE)
GROUND = tuple(GroundFields.base_fields)
CRANE = tuple(CraneFields.base_fields)
NUMBERS_WITHOUT_UNIT = ("set_up_low", "set_up_expected", "set_up_high", "legs", "leg_angle_deg")


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
    After is_valid(): job, first_day, last_day, distances and save().
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
        initial, rows = typed or _on_record(job)
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
            fields["water_depth_ft"], rows = profile.water_depth_ft, layer_rows(profile.layers)
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
            is_vibrating=given["method"] == Method.VIBRATING,
            system=self.system,
        )
        if self.layers.is_troubled:
            return
        try:
            self._job = _job(given, self.layers.profile())
        except ValueError as unforeseen:
            self.form.add_error(None, f"This can’t be reckoned with: {unforeseen}.")

    @property
    def job(self) -> Job:
        assert self._job is not None, "ask after is_valid()"
        return self._job

    @property
    def first_day(self) -> date:
        day: date = self.form.cleaned_data["first_day"]
        return day

    @property
    def last_day(self) -> date:
        day: date = self.form.cleaned_data["last_day"]
        return day

    @property
    def distances(self) -> dict[int, float]:
        return self.form.distances

    def save(self, by: User) -> ExtractionJob:
        """Put the job on record, or change the one there is; it must be valid."""
        given = self.form.cleaned_data
        return save_job(
            submission_id=given["submission_id"],
            job=self.record,
            fields={name: given[name] for name in RECORDED},
            layers=self.job.layers,
            distances=self.distances,
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
        return [
            self._group("place", "Site and days", PLACE),
            self._group("pile", "Pile", PILE, PILE_FIGURES),
            self._group("ground", "Ground", GROUND),
            self._group("crane", "Crane and rigging", CRANE),
            self._group("yards", "Yards", (*self.form.distance_names, "haul_limit_mi")),
        ]

    def _group(
        self, key: str, title: str, names: tuple[str, ...], figures: tuple[str, ...] = ()
    ) -> Group:
        of_rows = key == "ground" and self.layers.is_bound and self.layers.is_troubled
        return Group(
            key=key,
            title=title,
            fields=[self.form[name] for name in names],
            figures=[self.form[name] for name in figures],
            is_troubled=of_rows or any(self.form[name].errors for name in (*names, *figures)),
        )


def _troubles(fields: list[BoundField], where: str = "") -> list[Trouble]:
    return [
        Trouble(field.id_for_label, f"{field.label}{where}", str(words))
        for field in fields
        for words in field.errors
    ]


def _on_record(job: ExtractionJob | None) -> tuple[dict[str, Any], Rows]:
    if job is None:
        return {}, []
    initial = {name: getattr(job, name) for name in RECORDED}
    for name in NUMBERS_WITHOUT_UNIT:
        initial[name] = f"{initial[name]:.10g}"
    initial |= {f"{DISTANCE}{yard}": mi for yard, mi in distances_of(job).items()}
    return initial | {"submission_id": job.submission_id}, layer_rows(job_of(job).layers)


def _job(given: Mapping[str, Any], layers: tuple[Layer, ...]) -> Job:
    """Return the job as the mechanics take it."""
    return Job(
        pile=Pile(
            kind=PileKind(given["pile_kind"]),
            weight_lb_ft=given["weight_lb_ft"],
            perimeter_in=given["perimeter_in"],
            length_ft=given["length_ft"],
            embedment_ft=given["embedment_ft"],
            area_in2=given["area_in2"],
            plug_area_in2=(given["plug_area_in2"] or 0.0) if given["is_plugged"] else 0.0,
            yield_strength_ksi=given["yield_strength_ksi"],
            tension_limit_lbf=given["tension_limit_lbf"],
        ),
        layers=layers,
        crane=Crane(
            capacity_lbf=given["capacity_lbf"],
            hook_block_lb=given["hook_block_lb"],
            rigging_weight_lb=given["rigging_weight_lb"],
            rigging_limit_lbf=given["rigging_limit_lbf"],
            legs=given["legs"],
            leg_angle_deg=given["leg_angle_deg"],
        ),
        water_depth_ft=given["water_depth_ft"],
        set_up=SetUp(given["set_up_low"], given["set_up_expected"], given["set_up_high"]),
        method=PullMethod(given["method"]),
        haul_limit_mi=given["haul_limit_mi"],
    )
