"""Whether a housing is guided: what was said of it, and how the unit is rated by it."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.context import system_of
from fleet.dates import moment_words
from fleet.fields import FactForm, MomentField, open_to_correction, whole_number
from fleet.housings import lock_housing
from fleet.models import HousingGuide, SuppressorHousing
from fleet.models.housing_guide import guide_words
from fleet.people.own_yards import OwnYardsTable
from fleet.people.yards import in_yard_of
from fleet.roles import manager_required, signed_in
from fleet.tables import Column, MomentColumn, PersonColumn, table_of
from ratings.ledger.facts import gather
from ratings.ledger.posting import Cause, entries_caused_by, post
from ratings.mechanics.unit_rating import UnitRating, rate_unit
from ratings.models import What
from ratings.proposals.acts import (
    Act,
    Arguments,
    SecondPersonNeeded,
    asks_where_it_corrects,
    second_person,
    stand_words,
)
from ratings.proposals.views import may_propose

ANSWERS = {
    "yes": "guided: rods or slides keep the housing level, so both sides stretch alike",
    "no": "not guided: nothing keeps it level, or nobody can say what does",
}


class GuideForm(FactForm):
    """Whether a housing is guided, since when, and what shows it."""

    # Neither is chosen beforehand: one of them lets a lopsided unit pull more.
    is_guided = forms.TypedChoiceField(
        label="The housing is",
        choices=list(ANSWERS.items()),
        coerce=lambda answer: answer == "yes",
        widget=forms.RadioSelect,
        error_messages={"required": "Nothing is chosen: say whether it is guided or not."},
    )
    occurred_at = MomentField(label="Since when, or when it was seen so", initial=timezone.now)

    field_order = ("is_guided", "reason", "occurred_at")

    class Meta:
        model = HousingGuide
        fields = ("reason",)
        error_messages = {"reason": {"required": "This is blank: say what was seen that shows it."}}


def _facts(given: Arguments) -> dict[str, str]:
    housing, corrects = given["housing"], given["corrects"]
    now = HousingGuide.objects.in_force_by_housing([housing.pk]).get(housing.pk)
    return {
        f"what holds of housing {housing}": f"{now.words} (record {now.pk})" if now else "none",
        "the record it corrects": stand_words(HousingGuide, corrects),
    }


def _details(given: Arguments, system: str) -> list[tuple[str, str]]:
    corrects = given["corrects"]
    return [
        ("Housing", str(given["housing"])),
        ("It is", guide_words(given["is_guided"])),
        ("Since", moment_words(given["occurred_at"])),
        ("What shows it", given["reason"]),
        ("Corrects", f"{corrects.words}: {corrects.reason}"),
    ]


GUIDE_ACT = Act(
    What.GUIDE,
    asks=asks_where_it_corrects,
    title=lambda given: (
        f"Correction: housing {given['housing']} is {guide_words(given['is_guided'])}"
    ),
    about=lambda given: given["housing"],
    facts=_facts,
    details=_details,
    page=lambda given: reverse("guide", args=[given["housing"].pk]),
    known=HousingGuide,
    cause=Cause.GUIDE,
)


@second_person(GUIDE_ACT)
@in_yard_of("housing")
@transaction.atomic
def record_guide(
    *,
    submission_id: uuid.UUID,
    housing: SuppressorHousing,
    is_guided: bool,
    reason: str,
    occurred_at: datetime,
    by: User,
    corrects: HousingGuide | None = None,
) -> HousingGuide:
    """Record whether a housing is guided, and rate its unit by what holds then.

    A second copy of a submission changes nothing. What is older than the newest on record goes
    into history and changes no figure.
    Raises ValidationError naming the field where no reason is given, and where the record to be
    corrected is another housing's or was corrected already.
    """
    housing = lock_housing(housing.pk)
    known = HousingGuide.objects.filter(submission_id=submission_id).first()
    if known is not None:
        _refuse_other_housing(known, housing)
        return known
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say what was seen that shows it."})
    if corrects is not None:
        _refuse_correcting(corrects, housing)
    guide = HousingGuide.objects.create(
        submission_id=submission_id,
        housing=housing,
        is_guided=is_guided,
        reason=reason.strip(),
        occurred_at=occurred_at,
        recorded_by=by,
        corrects=corrects,
    )
    post(
        [housing],
        cause=_cause(guide),
        occurred_at=occurred_at,
        by=by,
        corrects=(entries_caused_by(Cause.GUIDE, corrects.pk, [housing.pk]) if corrects else None),
    )
    return guide


def _refuse_other_housing(known: HousingGuide, housing: SuppressorHousing) -> None:
    if known.housing_id != housing.pk:
        raise ValidationError(
            f"This form was sent for housing {known.housing} already: open the page of "
            f"housing {housing} again and send it there."
        )


def _refuse_correcting(wrong: HousingGuide, housing: SuppressorHousing) -> None:
    if wrong.housing_id != housing.pk:
        raise ValidationError(
            f"What is to be corrected was said of housing {wrong.housing}, and this is of "
            f"{housing}: correct it on the page of {wrong.housing}."
        )
    if HousingGuide.objects.filter(corrects=wrong).exists():
        raise ValidationError(
            "Somebody has corrected this since you opened the page: correct what stands now."
        )


def _cause(guide: HousingGuide) -> Cause:
    words = f"Housing {guide.housing} recorded as {guide.words}: {guide.reason}"
    if guide.corrects is not None:
        words += ", correcting an earlier record"
    return Cause(Cause.GUIDE, words, guide.pk)


class GuideTable(OwnYardsTable):
    """What was said of the guides of one housing, the latest first."""

    caption = "Guided or not"
    anchor = "guides"
    empty_words = "Nobody has said that it is guided, so it counts as not guided."
    dated_by = ("occurred_at",)

    occurred_at = MomentColumn("Since")
    is_guided = Column("The housing was")
    reason = Column("What showed it")
    recorded_at = MomentColumn("Recorded")
    by = PersonColumn("By")
    correction = Column("Correction", empty_values=(), orderable=False)

    def render_is_guided(self, record: HousingGuide) -> str:
        return record.words

    def render_correction(self, record: HousingGuide) -> SafeString | str:
        words = "a correction" if record.corrects_id else ""
        if hasattr(record, "corrected_by"):
            end = format_html("<strong>{}</strong>", "corrected since")
        elif self.may_record_in(record.housing.yard_id):
            url = reverse("guide", args=[record.housing_id])
            end = format_html('<a href="{}?corrects={}">Correct it</a>', url, record.pk)
        else:
            return words or "–"
        return format_html("{}{}{}", words, "; " if words else "", end)


@manager_required
@may_propose
def guide(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Say whether a housing is guided; its unit is rated by it at once."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    corrects = _corrected_guide(request, housing)
    data = request.POST if request.method == "POST" else None
    form = GuideForm(data, initial=_initial(corrects), system=system_of(request))
    if request.method == "POST" and form.is_valid():
        try:
            recorded = record_guide(
                submission_id=form.cleaned_data["submission_id"],
                housing=housing,
                is_guided=form.cleaned_data["is_guided"],
                reason=form.cleaned_data["reason"],
                occurred_at=form.cleaned_data["occurred_at"],
                by=signed_in(request),
                corrects=corrects,
            )
        except SecondPersonNeeded:
            raise
        except ValidationError as trouble:
            form.add_error(None, trouble)
        else:
            messages.success(request, _recorded_words(recorded))
            return redirect("unit", housing.pk)
    return render(
        request,
        "ratings/guide_form.html",
        {
            "section": "board",
            "housing": housing,
            "now": HousingGuide.objects.in_force_by_housing([housing.pk]).get(housing.pk),
            "effects": _effects(housing),
            "form": form,
            "corrects": corrects,
            "table": table_of(request, GuideTable, guides_of(housing)),
        },
    )


def guides_of(housing: SuppressorHousing) -> Any:
    """Return what was said of a housing's guides, ready for its table."""
    return housing.guides.select_related("recorded_by", "corrected_by")


def _effects(housing: SuppressorHousing) -> list[tuple[str, UnitRating]]:
    """Return how the unit would be rated today as guided and as not, each with its words."""
    inputs = gather([housing])[housing.pk].inputs
    return [
        (guide_words(is_guided), rate_unit(replace(inputs, is_guided=is_guided)))
        for is_guided in (True, False)
    ]


def _recorded_words(recorded: HousingGuide) -> str:
    """Return what is said of a record just made: where a later one holds, that too."""
    housing = recorded.housing
    words = f"Housing {housing} is recorded as {recorded.words}."
    holds = HousingGuide.objects.in_force_by_housing([housing.pk])[housing.pk]
    if holds.pk != recorded.pk:
        words += (
            f" The later record of {moment_words(holds.occurred_at)} still holds: {holds.words}."
        )
    return words


def _corrected_guide(request: HttpRequest, housing: SuppressorHousing) -> HousingGuide | None:
    key = whole_number(request.GET.get("corrects", ""))
    if key is None:
        return None
    is_open = open_to_correction(request.POST.get("submission_id", ""))
    return get_object_or_404(HousingGuide, is_open, pk=key, housing=housing)


def _initial(corrects: HousingGuide | None) -> dict[str, Any]:
    if corrects is None:
        return {}
    return {
        "is_guided": "yes" if corrects.is_guided else "no",
        "reason": corrects.reason,
        "occurred_at": corrects.occurred_at,
    }
