"""The pages of transfers between yards."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.context import system_of
from fleet.fields import show_refusal, whole_number
from fleet.models import Transfer, YardHaul
from fleet.people.own_yards import opens_in_own_yards
from fleet.roles import PLAN, planner_required, signed_in
from fleet.tables import records_page, table_of
from ratings.models import TransportRules
from ratings.transfers.forms import (
    HAMMER,
    HOUSING,
    ArrivalForm,
    CancelForm,
    TransferForm,
    TransportRulesForm,
    YardHaulForm,
)
from ratings.transfers.recording import (
    cancel_transfer,
    plan_transfer,
    record_arrival,
    record_yard_haul,
)
from ratings.transfers.tables import (
    TransferFilter,
    TransferTable,
    TransportRulesTable,
    YardHaulTable,
    ended_words,
)
from ratings.transport import change_transport_rules, transport_in_force


@opens_in_own_yards
def transfers(request: HttpRequest) -> HttpResponse:
    """Show every transfer, those that leave last first."""
    found = Transfer.objects.select_related("origin", "goal", "housing", "hammer", "end")
    filters = TransferFilter(request.GET, queryset=found, request=request)
    table = table_of(request, TransferTable, filters.qs)
    return records_page(request, "transfers/transfers.html", table, filters, {"section": "jobs"})


@planner_required
def new_transfer(request: HttpRequest) -> HttpResponse:
    """Plan a transfer."""
    form = TransferForm(
        request.POST if request.method == "POST" else None,
        initial=_initial(request),
        system=system_of(request),
    )
    if request.method == "POST" and form.is_valid():
        given = dict(form.cleaned_data)
        given.pop("what")
        try:
            made = plan_transfer(**given, **form.moved, by=signed_in(request))
        except ValidationError as refusal:
            show_refusal(form, refusal, form.system)
        else:
            messages.success(request, f"{made.what} has its {made.words}.")
            return redirect("transfer", made.pk)
    return render(request, "transfers/transfer_form.html", {"section": "jobs", "form": form})


def _initial(request: HttpRequest) -> dict[str, Any]:
    for kind in (HOUSING, HAMMER):
        key = whole_number(request.GET.get(kind, ""))
        if key is not None:
            return {"what": f"{kind}-{key}"}
    return {}


def transfer(request: HttpRequest, transfer_id: int) -> HttpResponse:
    """Show one transfer; who plans records that it came, or cancels it."""
    found = get_object_or_404(
        Transfer.objects.select_related(
            "origin", "goal", "housing", "hammer", "end__recorded_by", "end__hammer", "recorded_by"
        ),
        pk=transfer_id,
    )
    is_cancelled = "cancel" in request.POST
    sent = request.POST if request.method == "POST" else None
    arrival = ArrivalForm(None if is_cancelled else sent, transfer=found, prefix="arrival")
    cancel = CancelForm(sent if is_cancelled else None, prefix="cancel")
    if request.method == "POST":
        _refuse_readers(request)
        form, record = (cancel, cancel_transfer) if is_cancelled else (arrival, record_arrival)
        if form.is_valid():
            try:
                record(transfer=found, by=signed_in(request), **form.cleaned_data)
            except ValidationError as refusal:
                show_refusal(form, refusal, form.system)
            else:
                found.refresh_from_db()
                messages.success(request, ended_words(found))
                return redirect("transfer", found.pk)
    link = getattr(found, "for_job", None)
    return render(
        request,
        "transfers/transfer.html",
        {
            "section": "jobs",
            "transfer": found,
            "job": link.job if link else None,
            "arrival": arrival,
            "cancel": cancel,
        },
    )


def yard_hauls(request: HttpRequest) -> HttpResponse:
    """Show how far yards are from each other; who plans records a distance."""
    form = YardHaulForm(
        request.POST if request.method == "POST" else None, system=system_of(request)
    )
    if request.method == "POST":
        _refuse_readers(request)
        if form.is_valid():
            try:
                made = record_yard_haul(by=signed_in(request), **form.cleaned_data)
            except ValidationError as refusal:
                show_refusal(form, refusal, form.system)
            else:
                messages.success(
                    request, f"{made.one_yard} and {made.other_yard}: the distance is recorded."
                )
                return redirect("yard-hauls")
    found = YardHaul.objects.select_related("one_yard", "other_yard", "recorded_by")
    return render(
        request,
        "transfers/yard_hauls.html",
        {"section": "jobs", "form": form, "table": table_of(request, YardHaulTable, found)},
    )


def transport_rules(request: HttpRequest) -> HttpResponse:
    """Show how many days a haul takes; who plans may change it."""
    in_force = transport_in_force()
    form = TransportRulesForm(
        request.POST if request.method == "POST" else None,
        initial={"miles_a_day": in_force.miles_a_day, "least_days": in_force.least_days},
        system=system_of(request),
    )
    if request.method == "POST":
        _refuse_readers(request)
        if form.is_valid():
            change_transport_rules(by=signed_in(request), **form.cleaned_data)
            messages.success(request, "The transport rules are in force.")
            return redirect("transport-rules")
    return render(
        request,
        "transfers/transport_rules.html",
        {
            "section": "jobs",
            "form": form,
            "rules": in_force,
            "table": table_of(
                request,
                TransportRulesTable,
                TransportRules.objects.select_related("recorded_by"),
            ),
        },
    )


def _refuse_readers(request: HttpRequest) -> None:
    if not signed_in(request).has_perm(PLAN):
        raise PermissionDenied
