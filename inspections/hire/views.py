"""The pages of hires: let, handed out, taken back; and of hammers that are not ours."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.context import system_of
from fleet.fields import show_refusal, whole_number
from fleet.kept_files import open_kept
from fleet.models import Hire
from fleet.models.housing import Condition
from fleet.picture import NoPicture
from fleet.roles import RECORD, manager_required, signed_in
from fleet.tables import records_page, table_of
from inspections.hire import foreign, hand_overs
from inspections.hire.foreign import add_check_photo, copied, record_check
from inspections.hire.forms import (
    CancelForm,
    ForeignCheckForm,
    HandOverForm,
    HireForm,
    PhotoForm,
)
from inspections.hire.hand_overs import CAUTIONS, HandedBoth, hand_overs_of
from inspections.hire.recording import (
    add_photo,
    agree_hire,
    cancel_hire,
    full_inspections,
    hand_over,
)
from inspections.hire.tables import (
    ForeignCheckFilter,
    ForeignCheckTable,
    HireFilter,
    HireTable,
    newest_first,
)
from inspections.models import ForeignCheck, ForeignCheckPhoto, HandOver, HandOverPhoto
from ratings.mechanics.standing import Standing
from ratings.proposals.acts import SecondPersonNeeded
from ratings.proposals.views import may_propose
from ratings.record.giving import send_paper


def hires(request: HttpRequest) -> HttpResponse:
    """Show every hire, those that are open first."""
    filters = HireFilter(request.GET, queryset=newest_first(Hire.objects.all()))
    table = table_of(request, HireTable, filters.qs)
    return records_page(request, "hire/hires.html", table, filters, {"section": "jobs"})


@manager_required
def new_hire(request: HttpRequest) -> HttpResponse:
    """Let a unit to somebody."""
    asked = whole_number(request.GET.get("housing", ""))
    form = HireForm(request.POST if request.method == "POST" else None, initial={"housing": asked})
    if request.method == "POST" and form.is_valid():
        try:
            made = agree_hire(by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal, system_of(request))
        else:
            messages.success(request, f"{made.housing} has its {made.words}.")
            return redirect("hire", made.pk)
    return render(request, "hire/hire_form.html", {"section": "jobs", "form": form})


def hire(request: HttpRequest, hire_id: int) -> HttpResponse:
    """Show a hire, both its hand-overs and what differs; who records hands over or cancels."""
    found = get_object_or_404(newest_first(Hire.objects.all()), pk=hire_id)
    both = hand_overs_of(found)
    forms = _forms(request, found, both)
    if request.method == "POST":
        if not signed_in(request).has_perm(RECORD):
            raise PermissionDenied
        name = next((each for each in forms if each in request.POST), None)
        is_valid = name is not None and forms[name].is_valid()
        if name and is_valid and _take(request, found, both, name, forms[name]):
            return redirect("hire", found.pk)
    return render(
        request,
        "hire/hire.html",
        {
            "section": "jobs",
            "hire": found,
            "both": both,
            "forms": forms,
            "newest": next(iter(full_inspections(found.housing)), None),
        },
    )


def hand_over_paper(request: HttpRequest, hire_id: int) -> HttpResponse:
    """Print a hire's hand-overs, side by side, with lines to sign on."""
    found = get_object_or_404(newest_first(Hire.objects.all()), pk=hire_id)
    # Imported on need: the site must not wait for the PDF library at start.
    from inspections.hire.paper import hand_over_pdf

    return send_paper(
        request,
        hand_overs.KIND,
        found.pk,
        f"hire-{found.pk}.pdf",
        lambda stamp: hand_over_pdf(found, system_of(request), stamp),
    )


def photo(request: HttpRequest, hand_over_photo_id: uuid.UUID) -> FileResponse:
    """Send a photo of a hand-over; there is no other way to it."""
    kept = get_object_or_404(HandOverPhoto, pk=hand_over_photo_id)
    return FileResponse(open_kept(kept.file), content_type="image/jpeg")


def foreign_checks(request: HttpRequest) -> HttpResponse:
    """Show the checks of hammers that are not ours which nothing corrects."""
    standing = ForeignCheck.objects.standing().select_related("recorded_by")
    filters = ForeignCheckFilter(request.GET, queryset=standing)
    table = table_of(request, ForeignCheckTable, filters.qs)
    return records_page(request, "hire/foreign_checks.html", table, filters, {"section": "jobs"})


@manager_required
@may_propose
def new_foreign_check(request: HttpRequest) -> HttpResponse:
    """Check a hammer that is not ours, or put an earlier check of one right."""
    key = whole_number(request.GET.get("corrects", ""))
    corrects = get_object_or_404(ForeignCheck, pk=key) if key is not None else None
    form = ForeignCheckForm(
        request.POST if request.method == "POST" else None,
        is_correction=corrects is not None,
        initial=copied(corrects) if corrects else None,
        system=system_of(request),
    )
    if request.method == "POST" and form.is_valid():
        try:
            made = record_check(by=signed_in(request), corrects=corrects, **form.cleaned_data)
        except SecondPersonNeeded:
            raise
        except ValidationError as refusal:
            show_refusal(form, refusal, system_of(request))
        else:
            messages.success(request, f"Check {made.pk} is recorded, apart from the fleet.")
            return redirect("foreign-check", made.pk)
    return render(
        request,
        "hire/foreign_check_form.html",
        {"section": "jobs", "form": form, "corrects": corrects},
    )


def foreign_check(request: HttpRequest, foreign_check_id: int) -> HttpResponse:
    """Show what a hammer that is not ours comes to, what that rests on, and its photos."""
    check = _check(foreign_check_id)
    is_sent = request.method == "POST"
    if is_sent and not signed_in(request).has_perm(RECORD):
        raise PermissionDenied
    form = PhotoForm(request.POST if is_sent else None, request.FILES if is_sent else None)
    if is_sent and form.is_valid() and _keep_photo(request, check, form):
        return redirect("foreign-check", check.pk)
    return render(
        request,
        "hire/foreign_check.html",
        {
            "section": "jobs",
            "check": check,
            "results": check.results,
            "standing": Standing(check.results["standing"]),
            "counted": counted(check),
            "photos": check.photos.all(),
            "photo_form": form,
            "cautions": CAUTIONS,
        },
    )


def _keep_photo(request: HttpRequest, check: ForeignCheck, form: PhotoForm) -> bool:
    given = dict(form.cleaned_data)
    try:
        add_check_photo(
            photo_id=given.pop("submission_id"),
            check=check,
            sent=given.pop("photo").read(),
            by=signed_in(request),
            **given,
        )
    except NoPicture as refusal:
        form.add_error("photo", str(refusal))
        return False
    except ValidationError as refusal:
        show_refusal(form, refusal, system_of(request))
        return False
    messages.success(request, "The photo is kept.")
    return True


def foreign_check_photo(request: HttpRequest, foreign_photo_id: uuid.UUID) -> FileResponse:
    """Send a photo of a hammer that is not ours; there is no other way to it."""
    kept = get_object_or_404(ForeignCheckPhoto, pk=foreign_photo_id)
    return FileResponse(open_kept(kept.file), content_type="image/jpeg")


def foreign_check_paper(request: HttpRequest, foreign_check_id: int) -> HttpResponse:
    """Print a check of a hammer that is not ours."""
    check = _check(foreign_check_id)
    from inspections.hire.paper import foreign_check_pdf

    return send_paper(
        request,
        foreign.KIND,
        check.pk,
        f"not-ours-{check.pk}.pdf",
        lambda stamp: foreign_check_pdf(check, system_of(request), stamp),
    )


def counted(check: ForeignCheck) -> list[tuple[str, int, int]]:
    """Return each condition with how many pads of side A and of side B are in it."""
    return [
        (each.label, getattr(check, f"{each.value}_a"), getattr(check, f"{each.value}_b"))
        for each in Condition
    ]


def _check(key: int) -> ForeignCheck:
    related = ("rating__lot", "corrects", "corrected_by", "recorded_by")
    return get_object_or_404(ForeignCheck.objects.select_related(*related), pk=key)


def _forms(request: HttpRequest, hire: Hire, both: HandedBoth) -> dict[str, Any]:
    """Return the forms of a hire's page by the name of their button; the one sent is filled."""

    def sent(name: str) -> Any:
        return request.POST if request.method == "POST" and name in request.POST else None

    made: dict[str, Any] = {"hand_over": HandOverForm(sent("hand_over"))}
    if both.sides:
        files = request.FILES if sent("photo_of") is not None else None
        made["photo_of"] = PhotoForm(sent("photo_of"), files)
    if not hire.left_on:
        made["cancel"] = CancelForm(sent("cancel"))
    return made


def _take(request: HttpRequest, hire: Hire, both: HandedBoth, name: str, form: Any) -> bool:
    given, by = dict(form.cleaned_data), signed_in(request)
    try:
        match name:
            case "hand_over":
                # Which way it goes the page said that the form was opened on.
                way = HandOver.Way.BACK if request.POST["hand_over"] == "back" else "out"
                hand_over(hire=hire, way=way, by=by, **given)
                said = "It is taken back." if way == HandOver.Way.BACK else "It is handed out."
            case "photo_of":
                photo_id = given.pop("submission_id")
                last = both.sides[-1].hand_over
                sent = given.pop("photo").read()
                add_photo(photo_id=photo_id, hand_over=last, by=by, sent=sent, **given)
                said = "The photo is kept."
            case _:
                cancel_hire(hire=hire, reason=given["reason"], by=by)
                said = "The hire is cancelled."
    except NoPicture as refusal:
        form.add_error("photo", str(refusal))
        return False
    except ValidationError as refusal:
        show_refusal(form, refusal, system_of(request))
        return False
    messages.success(request, said)
    return True
