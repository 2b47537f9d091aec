"""The rules the yard judges extractions by: in force, edited, and their page."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import asdict, replace
from itertools import combinations
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.models import User
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from fleet.context import system_of
from fleet.dates import day_count_words
from fleet.fields import FactForm, field_of
from fleet.people.yards import in_every_yard
from fleet.roles import RECORD, signed_in
from fleet.tables import ChangesTable, Column, table_of
from ratings.by_name import made_by_name
from ratings.jobs.form_rows import BaseRowFormSet, RowForm, Rows, typed_rows
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.soils import DEFAULT_SOILS, SoilResponse
from ratings.mechanics.soil import LayerKind
from ratings.models import ExtractionRules, SoilLayer
from ratings.models.choices import BELOW_LISTING, CRITERIA


def rules_in_force() -> ExtractionPolicy:
    """Return the rules recorded last; the defaults where there are none."""
    return rules_of(ExtractionRules.objects.first())


def rules_of(row: ExtractionRules | None) -> ExtractionPolicy:
    """Return stored rules as the mechanics take them; the defaults for none."""
    if row is None:
        return ExtractionPolicy()
    soils = tuple(SoilResponse(**soil) for soil in row.soils)
    return made_by_name(ExtractionPolicy, row, soils=soils)


PREFIX = "soil"
MOST_SOILS = 60


def _fits(kinds: Iterable[LayerKind]) -> str:
    """Return kinds of layer as one choice names them."""
    return "+".join(each.value for each in LayerKind if each in tuple(kinds))


FITS = {
    _fits(kinds): "any layer" if len(kinds) == len(LayerKind) else " or ".join(kinds)
    for many in (3, 2, 1)
    for kinds in combinations(LayerKind, many)
}


class RulesForm(FactForm):
    """What holds whatever the soil."""

    below_listing = forms.ChoiceField(label="A unit below its listing", choices=BELOW_LISTING)
    criterion = forms.ChoiceField(
        label="How the ground’s hold is judged",
        choices=CRITERIA,
        help_text="Both are shown on every answer; this one gives the verdict. Added together is "
        "the published one, and needs the least accelerations below. Each alone is stricter: what "
        "one of the two lacks the other does not make good, and the pull still holds should the "
        "hammer falter.",
    )

    class Meta:
        model = ExtractionRules
        fields = (
            "care_margin",
            "low_factor",
            "high_factor",
            "jaw_friction",
            "steel_share",
            "crane_share",
            "criterion",
            "open_acceleration_g",
            "closed_acceleration_g",
            "massive_acceleration_g",
            "inspection_days",
            "longest_hold_days",
            "below_listing",
            "reason",
        )

    def __init__(self, *args: Any, in_force: ExtractionPolicy, **kwargs: Any) -> None:
        self.in_force = in_force
        initial = asdict(in_force) | (kwargs.pop("initial", None) or {})
        super().__init__(*args, initial=initial, **kwargs)

    @property
    def is_sent_again(self) -> bool:
        return self.is_on_record(ExtractionRules)

    def policy(self, soils: tuple[SoilResponse, ...]) -> ExtractionPolicy:
        """Return the rules entered, with this table of soils; the form must be valid."""
        given = self.cleaned_data
        kept = {name: given[name] for name in asdict(self.in_force) if name in given}
        return replace(self.in_force, soils=soils, **kept)


class SoilRow(RowForm):
    """How one soil answers vibration, each figure with its source."""

    name = forms.CharField(label="Soil", max_length=80)
    factor = field_of(SoilLayer, "vibration_factor", label="Factor", required=True, help_text="")
    factor_source = forms.CharField(label="Source of the factor", max_length=160)
    needed_amplitude_in = field_of(SoilLayer, "needed_amplitude_in", required=True, help_text="")
    amplitude_source = forms.CharField(label="Source of the amplitude", max_length=160)
    fits = forms.ChoiceField(
        label="Layers it fits",
        required=False,
        choices={"": "as its name says, else any layer", **FITS},
    )

    @property
    def soil(self) -> SoilResponse:
        """The soil entered; the row must be without errors."""
        given = {name: self.cleaned_data[name] for name in SoilRow.base_fields}
        fits = given.pop("fits")
        kinds = tuple(LayerKind(each) for each in fits.split("+")) if fits else ()
        return SoilResponse(**given, kinds=kinds)


def _row_of(soil: SoilResponse) -> dict[str, Any]:
    row = asdict(soil)
    return row | {"fits": _fits(row.pop("kinds"))}


class BaseSoilFormSet(BaseRowFormSet):
    """The table of soils."""

    def clean(self) -> None:
        seen: set[str] = set()
        for row in self.filled():
            name = row.cleaned_data.get("name")
            if name in seen:
                row.add_error("name", f"“{name}” is in the table already: name this one otherwise.")
            seen.add(name)
        if not seen:
            raise forms.ValidationError("No soil is left: keep or give one at the least.")

    def soils(self) -> tuple[SoilResponse, ...]:
        """Return the soils entered; the rows must be valid."""
        return tuple(row.soil for row in self.filled())


SoilFormSet = forms.formset_factory(
    SoilRow,
    formset=BaseSoilFormSet,
    max_num=MOST_SOILS,
    absolute_max=MOST_SOILS + 1,
    validate_max=True,
    can_delete=True,
)


def soils_that_lack(names: Iterable[str]) -> list[SoilResponse]:
    """Return the soils people name, each with its source, that a table doesn't have."""
    known = {name.strip() for name in names}
    return [soil for soil in DEFAULT_SOILS if soil.name not in known]


class RulesEntry:
    """The form of the rules and its table of soils, judged together."""

    def __init__(
        self,
        data: Any = None,
        *,
        in_force: ExtractionPolicy,
        system: str,
        typed: tuple[dict[str, Any], Rows] | None = None,
    ) -> None:
        initial, rows = typed or ({}, [_row_of(soil) for soil in in_force.soils])
        self.form = RulesForm(data, initial=initial, in_force=in_force, system=system)
        self.soils: Any = SoilFormSet(
            data, initial=rows, prefix=PREFIX, form_kwargs={"system": system}
        )

    @classmethod
    def with_more_rows(cls, data: Any, *, in_force: ExtractionPolicy, system: str) -> RulesEntry:
        """Keep all that was typed, unjudged, and add a blank row, or the soils that lack."""
        rows = typed_rows(data, SoilRow, PREFIX, MOST_SOILS - 1)
        if "known_soils" in data:
            rows += [_row_of(soil) for soil in soils_that_lack(str(row["name"]) for row in rows)]
        else:
            rows.append({})
        fields = {name: data.get(name) for name in data}
        return cls(in_force=in_force, system=system, typed=(fields, rows))

    def is_valid(self) -> bool:
        # Both are asked, so that the page shows all that is wrong at once.
        if not all([self.form.is_valid(), self.soils.is_valid()]):
            return False
        if self.policy == self.form.in_force and not self.form.is_sent_again:
            self.form.add_error(None, "Nothing differs from the rules now in force: change one.")
        return self.form.is_valid()

    @property
    def policy(self) -> ExtractionPolicy:
        """The rules entered; both parts must be valid."""
        return self.form.policy(self.soils.soils())


@in_every_yard
@transaction.atomic
def change_rules(
    *, submission_id: uuid.UUID, policy: ExtractionPolicy, reason: str, by: User
) -> ExtractionRules:
    """Put rules in force. Answers on record keep those they were given by.

    A second copy of a submission changes nothing.
    """
    known = ExtractionRules.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    return ExtractionRules.objects.create(
        submission_id=submission_id,
        **asdict(policy),
        reason=reason,
        recorded_by=by,
    )


class RulesTable(ChangesTable):
    """Every set of rules there was."""

    figures = Column("Figures", empty_values=(), orderable=False, css="small")

    def render_figures(self, record: ExtractionRules) -> str:
        return (
            f"care below {record.care_margin:g}, range {record.low_factor:g} to "
            f"{record.high_factor:g}, jaws {record.jaw_friction:g}, steel {record.steel_share:g}, "
            f"crane {record.crane_share:g} of its chart, {record.criterion}, accelerations "
            f"{record.open_acceleration_g:g}, {record.closed_acceleration_g:g} and "
            f"{record.massive_acceleration_g:g} g, "
            f"hold {day_count_words(record.longest_hold_days)}, "
            f"inspection {day_count_words(record.inspection_days)}, below listing "
            f"{record.get_below_listing_display()}, {len(record.soils)} soils"
        )


def extraction_rules(request: HttpRequest) -> HttpResponse:
    """Show how extractions are judged, and earlier rules; a manager may change them."""
    rows = ExtractionRules.objects.select_related("recorded_by")
    in_force, system = rules_of(rows.first()), system_of(request)
    is_sent = request.method == "POST"
    if is_sent and not signed_in(request).has_perm(RECORD):
        raise PermissionDenied
    if "more_soils" in request.POST or "known_soils" in request.POST:
        entry = RulesEntry.with_more_rows(request.POST, in_force=in_force, system=system)
    else:
        entry = RulesEntry(request.POST if is_sent else None, in_force=in_force, system=system)
    if is_sent and entry.form.is_bound and entry.is_valid():
        change_rules(
            submission_id=entry.form.cleaned_data["submission_id"],
            policy=entry.policy,
            reason=entry.form.cleaned_data["reason"],
            by=signed_in(request),
        )
        messages.success(
            request,
            "The rules are in force. What units were committed on before stays as it was judged.",
        )
        return redirect("extraction-rules")
    return render(
        request,
        "jobs/rules.html",
        {
            "section": "jobs",
            "in_force": in_force,
            "criterion": CRITERIA[in_force.criterion],
            "lacking": soils_that_lack(soil.name for soil in in_force.soils),
            "soils": [(soil, FITS[_fits(soil.kinds)]) for soil in in_force.soils],
            "table": table_of(request, RulesTable, rows),
            "entry": entry,
            "form": entry.form,
            "is_editing": is_sent,
        },
    )
