"""What people are qualified for: recorded, withdrawn, and asked for where an act needs it."""

from __future__ import annotations

import uuid
from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.dates import day_words
from fleet.fields import FactForm, PastDayField, SubmissionForm, field_of
from fleet.models import Qualification, QualificationWithdrawal
from fleet.people.yards import in_every_yard
from fleet.roles import manager_required, signed_in, who_words

Purpose = Qualification.Purpose


@in_every_yard
@transaction.atomic
def record_qualification(
    *,
    submission_id: uuid.UUID,
    holder: User,
    purpose: str,
    certificate: str,
    issued_on: date,
    expires_on: date | None,
    by: User,
) -> Qualification:
    """Record what somebody is qualified for. A second copy of a submission changes nothing.

    Raises ValidationError naming the field: where it ends before it begins, nothing is named, or
    they are let in no more.
    """
    known = Qualification.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    if not certificate.strip():
        raise ValidationError({"certificate": "This is blank: say by what they are qualified."})
    if expires_on is not None and expires_on < issued_on:
        raise ValidationError(
            {
                "expires_on": f"{day_words(expires_on)} is before {day_words(issued_on)}, since "
                "when it holds: give a later day, or leave it blank."
            }
        )
    if not holder.is_active:
        raise ValidationError(f"{who_words(holder)} signs in no more: let them in first.")
    return Qualification.objects.create(
        submission_id=submission_id,
        holder=holder,
        purpose=purpose,
        certificate=certificate.strip(),
        issued_on=issued_on,
        expires_on=expires_on,
        recorded_by=by,
    )


@in_every_yard
@transaction.atomic
def withdraw_qualification(
    *, submission_id: uuid.UUID, qualification: Qualification, reason: str, by: User
) -> QualificationWithdrawal:
    """Say that a qualification holds no longer; the first to say so stands.

    What was done by it stays as it was done. Raises ValidationError where no reason is given.
    """
    known = QualificationWithdrawal.objects.filter(qualification=qualification).first()
    if known is not None:
        return known
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why it holds no longer."})
    return QualificationWithdrawal.objects.create(
        submission_id=submission_id,
        qualification=qualification,
        reason=reason.strip(),
        recorded_by=by,
    )


def qualification_of(person: User, purpose: str, day: date) -> Qualification:
    """Return by what somebody is qualified for something on a day, the newest.

    Raises ValidationError that says what they have and since when it does not hold.
    """
    found = Qualification.objects.valid_on(day, purpose).filter(holder=person).first()
    if found is not None:
        return found
    name, what = who_words(person), Purpose(purpose).label
    last = (
        person.qualifications.filter(purpose=purpose)
        .select_related("withdrawal")
        .order_by("-expires_on", "-pk")
        .first()
    )
    if last is None:
        why = f"has no qualification for {what} on record"
    elif hasattr(last, "withdrawal"):
        why = f"had a qualification for {what}, withdrawn {day_words(last.withdrawal.recorded_at)}"
    elif last.expires_on is not None and last.expires_on < day:
        why = f"was qualified for {what} until {day_words(last.expires_on)} only"
    else:
        why = f"is qualified for {what} from {day_words(last.issued_on)} only"
    raise ValidationError(
        f"{name} {why}, so not on {day_words(day)}: choose another person, or record a "
        "qualification that holds on the person’s page."
    )


def refuse_unqualified(person: User, purpose: str, day: date) -> None:
    """Raise ValidationError where somebody is not qualified on a day: what they lack, who is."""
    try:
        qualification_of(person, purpose, day)
    except ValidationError as refusal:
        held = Qualification.objects.valid_on(day, purpose).select_related("holder")
        names = sorted({who_words(each.holder) for each in held})
        have = f"Qualified that day: {', '.join(names)}." if names else "Nobody is, that day."
        raise ValidationError(f"{refusal.messages[0]} {have}") from None


class QualificationForm(FactForm):
    """What somebody is qualified for."""

    issued_on = PastDayField(label="Since")

    class Meta:
        model = Qualification
        fields = ("purpose", "certificate", "issued_on", "expires_on")
        widgets = {"expires_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}


class WithdrawalForm(SubmissionForm):
    """Why a qualification holds no longer."""

    reason = field_of(QualificationWithdrawal, "reason", label="Why it holds no longer")


@manager_required
def new_qualification(request: HttpRequest, user_id: int) -> HttpResponse:
    """Record what somebody is qualified for."""
    holder = get_object_or_404(User, pk=user_id)
    form = QualificationForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            record_qualification(holder=holder, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            messages.success(request, "The qualification is on record.")
            return redirect("person", holder.pk)
    title = f"What {who_words(holder)} is qualified for"
    return _form_page(request, form, title, "Record it", holder)


@manager_required
def withdraw(request: HttpRequest, qualification_id: int) -> HttpResponse:
    """Say that a qualification holds no longer."""
    found = get_object_or_404(Qualification.objects.select_related("holder"), pk=qualification_id)
    form = WithdrawalForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            withdraw_qualification(qualification=found, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            messages.success(request, "It holds no longer; what was done by it stays.")
            return redirect("person", found.holder_id)
    title = f"Withdraw: {found.get_purpose_display()}, {found}"
    return _form_page(request, form, title, "Withdraw it", found.holder)


def _form_page(
    request: HttpRequest, form: forms.BaseForm, title: str, button: str, holder: User
) -> HttpResponse:
    context: dict[str, Any] = {
        "section": "set-up",
        "form": form,
        "title": title,
        "button": button,
        "holder": holder,
        "today": timezone.localdate(),
    }
    return render(request, "people/qualification_form.html", context)
