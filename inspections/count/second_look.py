"""A second look at pads that an inspection says are sound again, signed by another person."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db.models import Exists, OuterRef, Prefetch, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet import together
from fleet.fields import SubmissionForm, field_of
from fleet.housings import lock_housing
from fleet.models import PadPosition
from fleet.models.housing import UNSOUND, Condition
from fleet.people.yards import in_yard_of
from fleet.roles import RECORD, manager_required, signed_in, who_words
from fleet.signers import signer_words
from inspections.count.newest_facts import said_sound_again, settle
from inspections.count.signing import waiting_words
from inspections.models import Inspection, PadCount, SecondLook
from ratings.ledger.posting import Cause, post


@in_yard_of("inspection")
@together.all_or_nothing()
def sign_second_look(
    *, submission_id: uuid.UUID, inspection: Inspection, is_agreed: bool, reason: str, by: User
) -> SecondLook:
    """Record what another person found of pads that an inspection said are sound again.

    Agreed, they count as sound from the inspection on; else as before, until they are replaced or
    looked at anew. The first to sign stands; a second copy changes nothing. Raises ValidationError
    where whoever signed the inspection signs, another was chosen to look, no reason is given, or
    nothing waits.
    """
    if inspection.housing_id is None:
        raise ValidationError("There are no pads at this machine to look at.")
    housing = lock_housing(inspection.housing_id)
    known = SecondLook.objects.filter(inspection=inspection).first()
    if known is not None:
        return known
    if trouble := who_trouble(inspection, by):
        raise ValidationError(trouble)
    waiting = said_sound_again(housing, inspection)
    if not waiting:
        raise ValidationError("No pad of this inspection waits for a second look any more.")
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say what you saw of these pads."})
    look = SecondLook.objects.create(
        submission_id=submission_id,
        inspection=inspection,
        is_agreed=is_agreed,
        reason=reason.strip(),
        recorded_by=by,
    )
    settle(housing, newly=look)
    post(
        [housing],
        cause=Cause(Cause.SECOND_LOOK, _words(look, waiting), inspection.pk),
        occurred_at=inspection.seen_at,
        by=by,
    )
    return look


def who_trouble(inspection: Inspection, by: User) -> str:
    """Return why somebody may not give the second look at an inspection, "" where they may."""
    if by.pk == inspection.recorded_by_id:
        return "You signed this inspection yourself: the second look is another person’s."
    chosen = inspection.second_look_by
    if chosen is not None and chosen.pk != by.pk and _may_still(chosen):
        return f"{who_words(chosen)} was chosen to look at these pads: they sign it."
    return ""


def _may_still(person: User) -> bool:
    return person.is_active and person.has_perm(RECORD)


def _words(look: SecondLook, waiting: dict[tuple[str, int], str]) -> str:
    first = look.inspection
    why = first.sound_again_reason
    reasons = f"“{why}”; second look: “{look.reason}”" if why else f"second look: “{look.reason}”"
    return (
        f"Sound again with no new pad, was {waiting_words(waiting)}; by "
        f"{signer_words(first)} and {signer_words(look)}: {reasons}"
    )


def second_looks_wanted() -> QuerySet[Inspection]:
    """Return the inspections that say of pads counting as unsound that they are sound.

    The newest count of each such unit, with all that a list says of one.
    """
    # Two counts may be seen in one minute: it waits for the one that calls this very pad sound.
    waiting = PadPosition.objects.filter(
        said_sound_at=OuterRef("inspection__seen_at"),
        housing=OuterRef("inspection__housing"),
        side=OuterRef("side"),
        number=OuterRef("number"),
        condition__in=UNSOUND,
    )
    called_sound = PadCount.objects.filter(
        Exists(waiting), inspection=OuterRef("pk"), condition=Condition.SOUND
    )
    # Few pads wait: their moments lead straight to the inspections, of however many there are.
    moments = PadPosition.objects.filter(said_sound_at__isnull=False, condition__in=UNSOUND)
    found: QuerySet[Inspection] = (
        Inspection.objects.standing()
        .filter(
            Exists(called_sound),
            seen_at__in=moments.order_by().values("said_sound_at"),
            second_look__isnull=True,
        )
        .select_related("housing", "recorded_by", "second_look_by")
        .prefetch_related(
            Prefetch(
                "housing__positions",
                PadPosition.objects.filter(
                    said_sound_at__isnull=False, condition__in=UNSOUND
                ).order_by("side", "number"),
                to_attr="pads_said_sound",
            )
        )
        .order_by("seen_at", "pk")
    )
    return found


def pads_to_look_at(found: Any) -> str:
    """Name the pads that an inspection of second_looks_wanted waits for, such as "A3 swollen"."""
    return waiting_words(
        {
            (pad.side, pad.number): pad.condition
            for pad in found.housing.pads_said_sound
            if pad.said_sound_at == found.seen_at
        }
    )


class SecondLookForm(SubmissionForm):
    """Whether the pads are sound, and what was seen."""

    is_agreed = forms.TypedChoiceField(
        label="What you found",
        choices=[("yes", "They are sound"), ("no", "They are not: they count as before")],
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
    )
    reason = field_of(
        SecondLook,
        "reason",
        label="What you saw of each",
        help_text="Such as “both wiped clean and pried at: the edge of A3 was paint”.",
    )


@manager_required
def second_look(request: HttpRequest, inspection_id: int) -> HttpResponse:
    """Let another person sign whether pads said to be sound again are."""
    found = get_object_or_404(
        Inspection.objects.select_related("housing", "recorded_by", "second_look_by"),
        pk=inspection_id,
    )
    form = SecondLookForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid() and _sign(request, found, form):
        return redirect("unit", found.housing_id)
    waiting = said_sound_again(found.housing, found) if found.housing else {}
    context: dict[str, Any] = {
        "section": "board",
        "inspection": found,
        "form": form,
        "waiting": waiting_words(waiting),
        "trouble": who_trouble(found, signed_in(request)),
    }
    return render(request, "count/second_look.html", context)


def _sign(request: HttpRequest, inspection: Inspection, form: SecondLookForm) -> bool:
    try:
        look = sign_second_look(inspection=inspection, by=signed_in(request), **form.cleaned_data)
    except ValidationError as trouble:
        form.add_error(None, trouble)
        return False
    if look.is_agreed:
        messages.success(request, "Signed: these pads count as sound again.")
    else:
        messages.warning(request, "Signed: these pads count as before.")
    return True
