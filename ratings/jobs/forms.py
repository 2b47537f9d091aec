"""A job as it is entered: one form and its rows of ground, and the mechanics' Job they make."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from itertools import pairwise
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.forms import BoundField
from django.utils import timezone

from fleet.dates import day_words, moment_words
from fleet.fields import DayField, FactForm, field_of, whole_number
from fleet.models import Yard
from fleet.quantities import Quantity
from fleet.signers import signer_words
from ratings.jobs.answer import Question
from ratings.jobs.candidates import watch_of
from ratings.jobs.form_rows import Rows, typed_rows
from ratings.jobs.history import Difference, differences
from ratings.jobs.holds import MOST_HOLDS, HoldForm, HoldFormSet, hold_rows
from ratings.jobs.holds import PREFIX as HOLD
from ratings.jobs.layers import (
    MOST_LAYERS,
    PREFIX,
    LayerForm,
    LayerFormSet,
    layer_rows,
    recorded_rows,
)
from ratings.jobs.piles import (
    MOST_GROUPS,
    PileForm,
    PileFormSet,
    pile_rows,
    section_fills,
)
from ratings.jobs.piles import PREFIX as PILE
from ratings.jobs.recording import JobChangedMeanwhile, jobs_of, layer_of, save_job
from ratings.jobs.rules import rules_in_force
from ratings.jobs.sections import sections_by_name
from ratings.jobs.soil_profiles import find_profile, profile_choices
from ratings.mechanics.extraction.doubts import layer_doubts
from ratings.mechanics.extraction.holds import HoldKind, OtherHold
from ratings.mechanics.extraction.job import Job, PileOfJob, PullMethod
from ratings.mechanics.extraction.left_out import has_closed_toe, suggested_toe_suction
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.set_up_by_time import suggested_set_up
from ratings.models import ExtractionJob, LoadIndicator, PileGroup, YardDistance

DISTANCE = "distance_"
SET_UPS = ("set_up_low", "set_up_expected", "set_up_high")


# How far from the middle of the crane a boom may begin: common practice, no published source.
PIVOT_FT = 15.0
# Parts of the form that most jobs do without.
FOLDED = ("yards", "holds")


# The parts of the form: the title of each and the fields in it.
PARTS = {
    "place": (
        "Site and days",
        (
            "site",
            "address",
            "first_day",
            "last_day",
            "units_needed",
            "headroom_ft",
            "vibration_limit_in_s",
            "vibration_note",
            "note",
        ),
    ),
    "pile": ("Piles", ()),
    "ground": ("Ground", ("water_depth_ft", "days_since_driving", *SET_UPS)),
    "holds": ("Other holds", ("frost_days",)),
    "crane": (
        "Crane and rigging",
        (
            "capacity_lbf",
            "radius_ft",
            "boom_ft",
            "is_on_barge",
            "barge_note",
            "parts_of_line",
            "line_limit_lbf",
            "hook_block_lb",
            "rigging_weight_lb",
            "rigging_limit_lbf",
            "legs",
            "leg_angle_deg",
            "method",
            "indicator",
        ),
    ),
    "yards": ("Yards", ("haul_limit_mi",)),
}


class JobForm(FactForm):
    """All of a job but its layers; each field bears the name it has on record."""

    first_day = DayField(label="First day", initial=timezone.localdate)
    last_day = DayField(label="Last day", initial=timezone.localdate)
    indicator = forms.ModelChoiceField(
        LoadIndicator.objects.all(),
        label="Load indicator that watches the pull",
        required=False,
        empty_label="not said yet",
        help_text=str(ExtractionJob._meta.get_field("indicator").help_text),
        error_messages={
            "invalid_choice": "There is no such load indicator: choose one of the list."
        },
    )
    note = forms.CharField(
        label="Note", required=False, widget=forms.Textarea(attrs={"rows": 2}), max_length=2000
    )

    class Meta:
        model = ExtractionJob
        fields = tuple(name for _title, names in PARTS.values() for name in names)
        error_messages: ClassVar = {"site": {"required": "This is blank: name the site."}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # One out of use stays where it was chosen before.
        chosen = whole_number(str(self.initial.get("indicator") or ""))
        indicator = self.fields["indicator"]
        assert isinstance(indicator, forms.ModelChoiceField)
        indicator.queryset = LoadIndicator.objects.filter(Q(retired_on=None) | Q(pk=chosen))
        for yard in Yard.objects.filter(retired_on__isnull=True):
            distance = field_of(
                YardDistance, "distance_mi", label=f"Distance of {yard.name}", required=False
            )
            distance.system = self.system
            self.fields[f"{DISTANCE}{yard.pk}"] = distance

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
        self._check_set_up(cleaned)
        self._check_rigging(cleaned)
        self._check_crane(cleaned)
        return cleaned

    def _check_days(self, cleaned: dict[str, Any]) -> None:
        first_day, last_day = cleaned.get("first_day"), cleaned.get("last_day")
        if first_day is not None and last_day is not None and last_day < first_day:
            self.add_error(
                "last_day",
                f"This is before the first day, {day_words(first_day)}: give that one or later.",
            )

    def _check_set_up(self, cleaned: dict[str, Any]) -> None:
        for before, name in pairwise(SET_UPS):
            lower, value = cleaned.get(before), cleaned.get(name)
            if lower is not None and value is not None and value < lower:
                self.add_error(
                    name, f"This is below the one before it, {lower:g}: give them rising."
                )
                break

    def _check_crane(self, cleaned: dict[str, Any]) -> None:
        radius_ft, boom_ft = cleaned.get("radius_ft"), cleaned.get("boom_ft")
        if radius_ft is not None and boom_ft is not None and radius_ft > boom_ft + PIVOT_FT:
            self.add_error(
                "radius_ft",
                "This is farther out than a boom of "
                f"{Quantity.DEPTH.words(boom_ft, self.system)} reaches: are the two changed over?",
            )
        if cleaned.get("barge_note") and not cleaned.get("is_on_barge"):
            self.add_error(
                "barge_note",
                "This is of a barge: tick that the crane stands on one, or leave this blank.",
            )

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


# Buttons that ask for the form to be drawn again, unjudged.
REDRAWS = (
    "more_layers",
    "insert_layer",
    "fill_layers",
    "more_piles",
    "more_holds",
    "add_toe_suction",
    "suggest_set_up",
    "take_set_up",
)


@dataclass(frozen=True)
class Trouble:
    """What stands in the way of an answer: the id of its field, its label, and the words."""

    at: str
    label: str
    words: str


@dataclass(frozen=True)
class Group:
    """A part of the form that folds. is_troubled: something in it is wrong."""

    key: str
    title: str
    fields: list[BoundField]
    is_troubled: bool

    @property
    def is_open(self) -> bool:
        """Whether it is to be seen without being asked for."""
        return self.is_troubled or self.key not in FOLDED


@dataclass(frozen=True)
class Typed:
    """What a form shows unjudged: its fields by name, its rows of piles, of ground, of holds."""

    fields: dict[str, Any] = field(default_factory=dict)
    piles: Rows = field(default_factory=list)
    layers: Rows = field(default_factory=list)
    holds: Rows = field(default_factory=list)


@dataclass(frozen=True)
class SetUpSuggested:
    """A set-up that may be taken, or why none can be suggested: words.

    values: low, expected and high, None with words alone.
    """

    words: str
    values: tuple[float, ...] | None = None


@dataclass(frozen=True)
class Conflict:
    """What somebody else saved since a form was drawn: the version, by whom and when.

    differences: what is on record now, then what is typed in the form.
    """

    version: int
    by: User
    at: datetime
    differences: list[Difference]

    @property
    def who(self) -> str:
        return signer_words(self, "by", "at")

    @property
    def when(self) -> str:
        return moment_words(self.at)


class JobEntry:
    """A job's form, its piles and layers, judged together.

    data: what was sent, None for a blank form or that of a job on record.
    After is_valid(): piles_asked, question and save().
    """

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        job: ExtractionJob | None = None,
        system: str = "us",
        typed: Typed | None = None,
    ) -> None:
        """typed: fields and rows to be shown unjudged in place of those on record."""
        self.record, self.system, self._data = job, system, data
        self.policy: ExtractionPolicy = rules_in_force()
        shown = typed or (on_record(job) if job else Typed())
        self.form = JobForm(data, initial=shown.fields, system=system)
        self.sections = sections_by_name()
        kept = {group.section for group in job.pile_groups.all()} if job else set()
        self.piles: Any = PileFormSet(
            data,
            initial=shown.piles,
            prefix=PILE,
            form_kwargs={"system": system, "sections": self.sections, "kept": kept},
        )
        self.layers: Any = LayerFormSet(
            data,
            initial=shown.layers,
            prefix=PREFIX,
            form_kwargs={"system": system, "soils": self.policy.soils},
        )
        self.holds: Any = HoldFormSet(
            data, initial=shown.holds, prefix=HOLD, form_kwargs={"system": system}
        )
        self.drawn_with = self._version_drawn_with(shown.fields)
        self.conflict: Conflict | None = None
        self.suggested: SetUpSuggested | None = None
        self.ground_doubts: list[str] = []
        if data is None and typed is None and job is not None:
            self._doubt_recorded(job)
        self._piles: tuple[PileOfJob, ...] | None = None
        self._is_judged = False

    @classmethod
    def redrawn(cls, data: Any, *, job: ExtractionJob | None, system: str) -> JobEntry:
        """Keep all that was typed, unjudged, with the layers the button asked for."""
        fields: dict[str, Any] = {name: data.get(name) for name in data}
        rows = typed_rows(data, LayerForm, PREFIX, MOST_LAYERS)
        piles = typed_rows(data, PileForm, PILE, MOST_GROUPS)
        if "more_piles" in data:
            piles = [*piles, {}][:MOST_GROUPS]
        profile = find_profile(data.get("profile", "")) if "fill_layers" in data else None
        if profile is not None:
            fields["water_depth_ft"], rows = profile.water_depth_ft, layer_rows(profile.ground)
        place = whole_number(data.get("insert_layer", ""))
        if "more_layers" in data or place is not None:
            at = len(rows) if place is None else min(place, len(rows))
            rows = [*rows[:at], {}, *rows[at:]][:MOST_LAYERS]
        holds = typed_rows(data, HoldForm, HOLD, MOST_HOLDS)
        if "more_holds" in data:
            holds = [*holds, {}][:MOST_HOLDS]
        if "add_toe_suction" in data:
            offered = cls(data, job=job, system=system).toe_suction
            typed = [row for row in holds if any(str(each).strip() for each in row.values())]
            if offered is not None:
                holds = [*typed, asdict(offered)][:MOST_HOLDS]
        suggested = None
        if "suggest_set_up" in data or "take_set_up" in data:
            suggested = cls(data, job=job, system=system).suggest_set_up()
            if "take_set_up" in data and suggested.values:
                fields |= dict(zip(SET_UPS, map(str, suggested.values), strict=True))
        drawn = cls(job=job, system=system, typed=Typed(fields, piles, rows, holds))
        drawn.suggested = suggested
        return drawn

    def suggest_set_up(self) -> SetUpSuggested:
        """Return the set-up that the days since driving suggest for the deepest piles, in words."""
        self.is_valid()
        given = self.form.cleaned_data
        days = given.get("days_since_driving")
        if days is None:
            return SetUpSuggested("Give the days since it was driven, then ask again.")
        try:
            embedment_ft = max(
                row.cleaned_data["embedment_ft"] for row in self.piles.filled() if row.is_valid()
            )
            if self.layers.is_troubled:
                raise ValueError("a layer is not right yet")
            help_ = suggested_set_up(
                self.layers.profile(), given.get("water_depth_ft"), embedment_ft, days
            )
        except (KeyError, ValueError):
            return SetUpSuggested(
                "It rests on the layers and the embedment: put them right, then ask again."
            )
        values = tuple(
            round(each, 2) for each in (help_.set_up.low, help_.set_up.expected, help_.set_up.high)
        )
        return SetUpSuggested(f"{help_.sentence} ({help_.source})", values)

    @property
    def job_id(self) -> int | None:
        """The job on record this is, as the page says that sent it."""
        if self.record is not None:
            return self.record.pk
        return whole_number(str((self._data or {}).get("job", "")))

    def _version_drawn_with(self, shown: Mapping[str, Any]) -> int:
        """Return the version of the job that what is typed was typed over.

        0, which no job has, where the form doesn't say: it is then never saved over another's.
        """
        if self.record is None:
            return 0
        given = shown if self._data is None else self._data
        if "version" not in given:
            return self.record.version if self._data is None else 0
        return whole_number(str(given["version"])) or 0

    def save_over(self, version: int) -> None:
        """Let it be saved over a version that was shown beside what is typed here."""
        self.drawn_with = version

    @property
    def section_fills(self) -> list[tuple[str, str]]:
        """Every section's name and what it fills in, once for all rows."""
        return section_fills(self.sections, self.system)

    @property
    def profiles(self) -> list[tuple[str, Any]]:
        return profile_choices()

    @property
    def chosen_profile(self) -> str:
        return str(self.form.initial.get("profile") or (self._data or {}).get("profile", ""))

    def is_valid(self) -> bool:
        if not self._is_judged:
            self._is_judged = True
            # All are asked, so that the page shows all that is wrong at once.
            parts = (self.form, self.piles, self.layers, self.holds)
            judged = [part.is_valid() for part in parts]
            if all(judged):
                self._judge()
        return self._piles is not None

    def _judge(self) -> None:
        given = self.form.cleaned_data
        self.layers.read_tests(given["water_depth_ft"])
        if self.layers.is_troubled:
            return
        deepest_ft = max(row.cleaned_data["embedment_ft"] for row in self.piles.filled())
        is_vibrating = given["method"] == PullMethod.VIBRATING
        self.layers.check(
            water_depth_ft=given["water_depth_ft"],
            embedment_ft=deepest_ft,
            is_vibrating=is_vibrating,
            system=self.system,
        )
        if self.layers.is_troubled:
            return
        try:
            self._piles = jobs_of(
                ExtractionJob(**self.form.columns),
                [PileGroup(**columns) for columns in self.piles.columns],
                self.layers.profile(),
                self.holds.holds(),
            )
        except ValueError as unforeseen:
            self.form.add_error(None, f"This can’t be calculated with: {unforeseen}.")

        doubts = layer_doubts(
            self.layers.profile(), given["water_depth_ft"], self.policy, is_vibrating, deepest_ft
        )
        self.ground_doubts = self.layers.show_doubts(doubts, self.layers.filled())

    def _doubt_recorded(self, job: ExtractionJob) -> None:
        """Set beside the fields what is doubtful of the ground on record."""
        groups = job.pile_groups.all()
        doubts = layer_doubts(
            [layer_of(each) for each in job.layers.all()],
            job.water_depth_ft,
            self.policy,
            job.method == PullMethod.VIBRATING,
            max((group.embedment_ft for group in groups), default=None),
        )
        self.ground_doubts = self.layers.show_doubts(doubts, self.layers.forms)

    @property
    def piles_asked(self) -> tuple[PileOfJob, ...]:
        """Each group of piles as the mechanics take it; the form must be valid."""
        assert self._piles is not None, "ask after is_valid()"
        return self._piles

    @property
    def toe_suction(self) -> OtherHold | None:
        """What suction may hold at the toe of the piles, to be added to the holds and judged.

        Of the group it holds with most. None where no closed toe stands in clay, where a figure
        for it stands among the holds, and where the form is not right yet.
        """
        if not self.is_valid():
            return None
        if any(each.kind is HoldKind.TOE_SUCTION and each.is_known for each in self.job.holds):
            return None
        closed = [each.job for each in self.piles_asked if has_closed_toe(each.job.pile)]
        found = [hold for job in closed if (hold := suggested_toe_suction(job)) is not None]
        most = max(found, key=lambda hold: hold.force_lbf or 0.0, default=None)
        # No finer than anybody knows it.
        return most and replace(most, force_lbf=float(math.ceil(most.force_lbf or 0.0)))

    @property
    def job(self) -> Job:
        """The first group of piles; the form must be valid."""
        return self.piles_asked[0].job

    @property
    def question(self) -> Question:
        """What the form asks; it must be valid. A job's own commitments don't count."""
        given, key = self.form.cleaned_data, self.record.pk if self.record else None
        days = (given["first_day"], given["last_day"])
        watch = watch_of(given["indicator"], given["last_day"])
        return Question(self.piles_asked, *days, self.form.distances, key, watch)

    def saved_by(self, by: User) -> ExtractionJob:
        """Record the job, or change the one there is; it must be valid."""
        return save_job(
            submission_id=self.form.cleaned_data["submission_id"],
            job=self.record,
            fields=self.form.columns,
            piles=self.piles.columns,
            layers=self.job.layers,
            distances=self.form.distances,
            holds=self.holds.holds(),
            tests=self.layers.tests(),
            drawn_with=self.drawn_with if self.record else None,
            by=by,
        )

    def refuse_for(self, changed: JobChangedMeanwhile) -> None:
        """Show what somebody else saved meanwhile beside what is typed here."""
        current = ExtractionJob.objects.select_related("changed_by").get(pk=changed.job_id)
        self.conflict = Conflict(
            version=current.version,
            by=current.changed_by,
            at=current.changed_at,
            differences=differences(changed.theirs, changed.yours, self.system),
        )

    def refuse(self, trouble: ValidationError) -> None:
        """Show at its field why the job could not be saved."""
        self.form.add_error(None, trouble)
        self._piles = None

    @property
    def errors(self) -> list[Trouble]:
        """All that stands in the way of an answer, in the order of the form."""
        if not self.form.is_bound or self.is_valid():
            return []
        of_part = {group.key: _troubles(group.fields) for group in self.groups}
        hidden = self.form.hidden_fields()
        return [
            *(Trouble("job-form", "Job", str(words)) for words in self.form.non_field_errors()),
            *of_part.pop("place"),
            *(Trouble("job-piles", "Piles", str(w)) for w in self.piles.non_form_errors()),
            *(
                trouble
                for number, row in self.piles.standing()
                for trouble in _troubles(
                    row.visible_fields(),
                    f" of pile group {number}" if self.piles.is_several else "",
                )
            ),
            *(
                trouble
                for number, row in self.holds.standing()
                for trouble in _troubles(row.visible_fields(), f" of hold {number}")
            ),
            *(Trouble("job-holds", "Other holds", str(w)) for w in self.holds.non_form_errors()),
            *(trouble for troubles in of_part.values() for trouble in troubles),
            *_troubles(hidden),
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
            rows = {"pile": self.piles, "ground": self.layers, "holds": self.holds}.get(key)
            of_rows = rows is not None and rows.is_bound and rows.is_troubled
            is_troubled = of_rows or any(field.errors for field in fields)
            groups.append(Group(key, title, fields, is_troubled))
        return groups


def _troubles(fields: list[BoundField], where: str = "") -> list[Trouble]:
    return [
        Trouble(field.id_for_label, f"{field.label}{where}", str(words))
        for field in fields
        for words in field.errors
    ]


def on_record(job: ExtractionJob) -> Typed:
    """Return what the form shows of a job on record, and its rows of piles and ground."""
    fields = {name: getattr(job, name) for name in (*JobForm.Meta.fields, "submission_id")}
    fields["indicator"] = job.indicator_id
    fields |= {f"{DISTANCE}{yard}": miles for yard, miles in job.distances_mi.items()}
    return Typed(
        fields,
        pile_rows(job.pile_groups.all()),
        recorded_rows(job.layers.all()),
        hold_rows(job.holds.all()),
    )
