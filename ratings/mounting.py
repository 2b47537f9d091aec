"""Moving a suppressor housing to another hammer, or taking it off."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet import together
from fleet.dates import moment_words
from fleet.fields import MeasuredForm, MomentField, whole_number
from fleet.housings import HAMMER_OF, ON_A_ROAD, ON_HIRE, lock_every_housing, once_all_are_locked
from fleet.machines.forms import chosen_hammer
from fleet.models import Hammer, Hire, Mounting, SuppressorHousing, Transfer
from fleet.models.retirable import refuse_out_of_use
from fleet.people.yards import in_yard_of, lock_and_look_again
from fleet.questions import Question, among
from fleet.roles import manager_required, signed_in
from fleet.units import put_to_machines_of_then, yards_apart
from ratings.ledger.posting import Cause, post


class MountingForm(MeasuredForm):
    """Which hammer a housing goes on, and when."""

    hammer = forms.ModelChoiceField(
        label="Hammer",
        queryset=Hammer.objects.filter(retired_on__isnull=True),
        required=False,
        empty_label="none: take it off",
        help_text="A housing that is on that hammer now comes off it at the same time.",
    )
    at = MomentField(label="When", initial=timezone.now)


def _parted(given: Mapping[str, Any]) -> Iterator[Any]:
    """What comes apart as a housing is put on a hammer, or taken off."""
    either = Q(housing=given["housing"])
    if given["hammer"] is not None:
        either |= Q(hammer=given["hammer"])
    for mounting in Mounting.objects.current().filter(either).select_related("hammer", "housing"):
        yield mounting.hammer
        yield mounting.housing


@in_yard_of("housing", "hammer", _parted)
@transaction.atomic
def mount_housing(
    *, housing: SuppressorHousing, hammer: Hammer | None, at: datetime, by: User
) -> Mounting | None:
    """Mount a housing on a hammer, or on none, ending what stood before for both of them.

    Raises ValidationError naming the field where the time or the hammer can't be.
    """
    # All of them: which other housing it concerns is only known once none can move.
    lock_every_housing()
    lock_and_look_again()
    displaced = _mounted(hammer=hammer) if hammer else None
    moved = {housing.pk} | ({displaced.housing_id} if displaced else set())
    before = _mounted(housing=housing)
    if (before.hammer if before else None) == hammer:
        where = f"on {hammer}" if hammer else "off every hammer"
        raise ValidationError({"hammer": f"Housing {housing} is {where} already: choose another."})
    if hammer is not None:
        refuse_out_of_use(timezone.localdate(at), housing=housing, hammer=hammer)
    _refuse_before_last_move(housing, hammer, at)
    _refuse_on_its_way(moved, hammer)
    _refuse_on_hire(moved, before.hammer if before else None, hammer)
    for mounting in (before, displaced):
        if mounting is not None:
            _end(mounting, at)
    mounting = None
    if hammer is not None:
        mounting = Mounting.objects.create(housing=housing, hammer=hammer, mounted_at=at)
    for key in moved:
        together.forget((HAMMER_OF, key))
    concerned = _HOUSINGS.ask(keys=moved)
    for each in concerned:
        put_to_machines_of_then(each.inspections.filter(seen_at__gte=at), by=by)
    post(
        concerned,
        cause=Cause(Cause.MOUNTING, _words(housing, hammer)),
        occurred_at=at,
        by=by,
    )
    return mounting


def _words(housing: SuppressorHousing, hammer: Hammer | None) -> str:
    if hammer is None:
        return f"Housing {housing} taken off its hammer"
    return f"Housing {housing} mounted on hammer {hammer}"


def _mounted(
    *, housing: SuppressorHousing | None = None, hammer: Hammer | None = None
) -> Mounting | None:
    if housing is not None:
        return _OF_HOUSING.first(housing=housing)
    return _OF_HAMMER.first(hammer=hammer)


def _today(**whose: Any) -> QuerySet[Mounting]:
    return Mounting.objects.current().select_related("hammer", "housing").filter(**whose)[:1]


_OF_HOUSING = Question(lambda housing: _today(housing=housing))
_OF_HAMMER = Question(lambda hammer: _today(hammer=hammer))
_HOUSINGS = Question(
    lambda keys: SuppressorHousing.objects.filter(among("pk", keys)).order_by("pk")
)


def _end(mounting: Mounting, at: datetime) -> None:
    if at < mounting.mounted_at:
        raise ValidationError(
            {
                "at": f"Housing {mounting.housing} was mounted on {mounting.hammer} only on "
                f"{moment_words(mounting.mounted_at)}: give a later time."
            }
        )
    mounting.removed_at = at
    mounting.save(update_fields=["removed_at"])


def _came_off_after(housing: Any, hammer: Any, at: Any) -> QuerySet[Mounting]:
    """Return mountings of either that ended after a moment, the last to end first."""
    either = Q(housing=housing) if hammer is None else Q(housing=housing) | Q(hammer=hammer)
    ended = Mounting.objects.filter(either, removed_at__gt=at)
    return ended.select_related("hammer", "housing").order_by("-removed_at")[:1]


_LAST_OFF = Question(_came_off_after)


def _refuse_before_last_move(
    housing: SuppressorHousing, hammer: Hammer | None, at: datetime
) -> None:
    """What came off earlier can't have been elsewhere meanwhile."""
    last = _LAST_OFF.first(housing=housing, hammer=hammer, at=at)
    if last is not None and last.removed_at is not None:
        raise ValidationError(
            {
                "at": f"Housing {last.housing} came off {last.hammer} only on "
                f"{moment_words(last.removed_at)}: give a later time."
            }
        )


def _refuse_on_hire(housing_ids: set[int], *hammers: Hammer | None) -> None:
    """What is with a hirer, or agreed to go there, keeps hanging together until it is back."""
    if not once_all_are_locked(ON_HIRE, Hire.objects.open().exists):
        return
    either = Q(housing__in=housing_ids) | Q(hammer__in=[each for each in hammers if each])
    for each in Hire.objects.open().filter(either).select_related("housing"):
        what = "take it back" if each.is_out else "cancel that"
        raise ValidationError(
            {"hammer": f"{each.housing} has its {each.words}: {what} first, under Hire."}
        )


_ALONE = Question(lambda hammer: Transfer.objects.open().filter(hammer=hammer, housing=None))


def _refuse_on_its_way(housing_ids: set[int], hammer: Hammer | None) -> None:
    """What is on a road is moved to no hammer, and a hammer to be sent by itself gets none."""
    of_units = Transfer.objects.open().filter(housing__isnull=False)
    is_any = once_all_are_locked(ON_A_ROAD, of_units.exists)
    for each in Transfer.objects.open_by_housing(housing_ids).values() if is_any else ():
        if each.has_left:
            raise ValidationError(
                {
                    "hammer": f"{each.what} is on its {each.words}: record its arrival, or cancel "
                    "that transfer, first."
                }
            )
    alone = _ALONE.ask(hammer=hammer) if hammer else []
    for each in alone:
        raise ValidationError(
            {
                "hammer": f"Hammer {hammer} is to go by itself from {each.origin} to {each.goal}, "
                f"{each.days}: record its arrival, or cancel that transfer, first."
            }
        )


def _asked_hammer(request: HttpRequest) -> int | None:
    """Return the hammer that a link fills in beforehand."""
    return whole_number(request.GET.get("hammer", ""))


@manager_required
def mounting(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Move a housing to another hammer, or take it off."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    current = housing.mountings.current().select_related("hammer").first()
    form = MountingForm(
        request.POST if request.method == "POST" else None,
        initial={"hammer": _asked_hammer(request) or (current.hammer_id if current else None)},
    )
    chosen, is_shown = chosen_hammer(request, form)
    if request.method == "POST" and not is_shown and form.is_valid():
        try:
            mount_housing(
                housing=housing,
                hammer=form.cleaned_data["hammer"],
                at=form.cleaned_data["at"],
                by=signed_in(request),
            )
        except ValidationError as trouble:
            form.add_error(None, trouble)
        else:
            messages.success(request, f"The mounting of housing {housing} is recorded.")
            put_on = form.cleaned_data["hammer"]
            if put_on and (apart := yards_apart(housing, put_on)):
                messages.warning(request, apart)
            return redirect("unit", housing.pk)
    return render(
        request,
        "ratings/mounting_form.html",
        {
            "section": "board",
            "housing": housing,
            "current": current,
            "form": form,
            "chosen": chosen,
            "is_shown": is_shown,
        },
    )
