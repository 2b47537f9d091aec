from __future__ import annotations

import logging
import uuid

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from fleet import clock
from fleet.fields import show_refusal
from fleet.models import PadLot, SuppressorHousing, Transfer
from fleet.people.own_yards import opens_in_own_yards
from fleet.roles import RECORD, manager_required, signed_in
from fleet.tables import ChangesTable, records_page, table_of
from fleet.unchanged import as_recorded
from inspections.models import CalendarFeed, Checklist, OwnKind, ServiceSchedule
from inspections.schedule.calendar import (
    calendar_of,
    find_feed,
    holds_to_tell,
    make_feed,
    revoke_feed,
)
from inspections.schedule.checklists import checklists_in_force
from inspections.schedule.due import due_of_fleet, open_findings
from inspections.schedule.forms import ChecklistForm, KindForm, KindSortsForm, ScheduleForm
from inspections.schedule.intervals import rows_in_force
from inspections.schedule.kinds import kind_named, kinds_in_use
from inspections.schedule.pressing import pressing_of_fleet
from inspections.schedule.recording import (
    add_kind,
    change_checklist,
    change_kind,
    change_schedule,
    retire_kind,
)
from inspections.schedule.tables import (
    ChecklistTable,
    DueFilter,
    DueTable,
    FindingTable,
    KindNeedsTable,
    KindSortsTable,
    KindTable,
)
from ratings.jobs.validity import commitments_fallen
from ratings.surveillance.draws import draws_due
from ratings.surveillance.tables import DrawsDueTable
from ratings.surveillance.words import softenings

logger = logging.getLogger(__name__)

# The secret is told once, on the page that comes after it was made.
TOLD_ONCE = "calendar_secret"


@never_cache
@opens_in_own_yards
def due(request: HttpRequest) -> HttpResponse:
    """Show what is due at every unit, the worst first, and the findings still open."""
    secret = request.session.pop(TOLD_ONCE, "")
    address = request.build_absolute_uri(f"/calendar/{secret}.ics") if secret else ""
    filters = DueFilter(
        request.GET,
        queryset=SuppressorHousing.objects.in_use().select_related("yard"),
        request=request,
    )
    known = as_recorded()
    fleet = known.once(pressing_of_fleet)
    if filters.is_narrowing:
        fleet = fleet.narrowed(filters.qs.order_by().values_list("pk", flat=True))
    rows = fleet.asked(filters.asked("state"), filters.asked("kind"))
    own = filters.yards if filters.is_own_alone else None
    draws = (
        known.once(draws_due) if own is None else draws_due(PadLot.objects.in_use().in_yards(own))
    )
    context = {
        "section": "due",
        "has_units": fleet.many_units > 0 or filters.is_narrowing,
        "in_order": fleet.in_order,
        "findings": table_of(request, FindingTable, open_findings(own)),
        "draws": table_of(
            request,
            DrawsDueTable,
            [each for each in draws if each.is_overdue or each.is_soon],
        ),
        "softenings": [each for each in known.once(softenings) if not each.is_taken_up],
        "feed": CalendarFeed.objects.filter(
            user=signed_in(request), revoked_at__isnull=True
        ).first(),
        "address": address,
    }
    table = table_of(request, DueTable, rows)
    return records_page(request, "schedule/due.html", table, filters, context)


@require_POST
def feed(request: HttpRequest) -> HttpResponse:
    """Make a new secret address of the calendar, or revoke it."""
    if "revoke" in request.POST:
        revoke_feed(signed_in(request))
    else:
        request.session[TOLD_ONCE] = make_feed(signed_in(request))
    return redirect("due")


@login_not_required
@never_cache
def calendar(request: HttpRequest, secret: str) -> HttpResponse:
    """Send the calendar to whoever has its secret address."""
    if find_feed(secret) is None:
        logger.warning("calendar refused: its address was never given, or was revoked since")
        raise Http404("There is no calendar here.")
    site = request.build_absolute_uri("/").rstrip("/")
    return HttpResponse(
        calendar_of(
            due_of_fleet(),
            timezone.now(),
            site,
            holds_to_tell(),
            Transfer.objects.open().select_related("origin", "goal", "housing", "hammer"),
            {each.commitment.pk for each in commitments_fallen()},
        ),
        content_type="text/calendar; charset=utf-8",
    )


def schedule(request: HttpRequest) -> HttpResponse:
    """Show how often each kind is due; a manager may change it."""
    rows = rows_in_force()
    form = ScheduleForm(
        request.POST if request.method == "POST" else None, kinds=kinds_in_use(), in_force=rows
    )
    if request.method == "POST":
        _refuse_readers(request)
        if form.is_valid():
            change_schedule(
                submission_id=form.cleaned_data["submission_id"],
                rows=form.rows,
                reason=form.cleaned_data["reason"],
                by=signed_in(request),
            )
            messages.success(request, "The schedule is in force.")
            return redirect("schedule")
    return render(
        request,
        "schedule/schedule.html",
        {
            "section": "due",
            "rows": rows,
            "form": form,
            "table": table_of(
                request, ChangesTable, ServiceSchedule.objects.select_related("recorded_by")
            ),
        },
    )


def checklists(request: HttpRequest) -> HttpResponse:
    """Show the list of every kind."""
    return render(
        request,
        "schedule/checklists.html",
        {"section": "due", "lists": checklists_in_force().values()},
    )


def checklist(request: HttpRequest, name: str) -> HttpResponse:
    """Edit the list of one kind, and show who changed it before."""
    in_force = checklists_in_force().get(name)
    if in_force is None:
        raise Http404("There is no such kind of inspection.")
    form = ChecklistForm(request.POST if request.method == "POST" else None, in_force=in_force)
    if request.method == "POST":
        _refuse_readers(request)
        if form.is_valid():
            change_checklist(
                submission_id=form.cleaned_data["submission_id"],
                kind=kind_named(name),
                items=form.cleaned_data["lines"],
                reason=form.cleaned_data["reason"],
                by=signed_in(request),
            )
            messages.success(request, f"The list for {in_force.kind} is in force.")
            return redirect("checklists")
    return render(
        request,
        "schedule/checklist.html",
        {
            "section": "due",
            "in_force": in_force,
            "form": form,
            "table": table_of(
                request,
                ChecklistTable,
                Checklist.objects.filter(**kind_named(name).columns).select_related("recorded_by"),
            ),
        },
    )


def _refuse_readers(request: HttpRequest) -> None:
    if not signed_in(request).has_perm(RECORD):
        raise PermissionDenied


@manager_required
def kinds(request: HttpRequest) -> HttpResponse:
    """Show the kinds of inspection the yard added; add another."""
    form = KindForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            kind = add_kind(by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            words = f"“{kind}” is added. Say here what is looked at, and under Schedule how often."
            messages.success(request, words)
            return redirect("checklist", kind.name)
    return render(
        request,
        "schedule/kinds.html",
        {
            "section": "due",
            "form": form,
            "table": table_of(
                request,
                KindTable,
                OwnKind.objects.with_changes().select_related(
                    "recorded_by", "retirement__recorded_by"
                ),
            ),
        },
    )


@manager_required
def kind_sorts(request: HttpRequest, kind_id: int) -> HttpResponse:
    """Change what a kind of the yard's own looks at and needs, and show who changed it before."""
    kind = get_object_or_404(OwnKind.objects.with_changes(), pk=kind_id)
    form = KindSortsForm(
        request.POST if request.method == "POST" else None,
        initial={"looks_at": kind.sorts, "needs": kind.needs},
    )
    if request.method == "POST" and form.is_valid():
        try:
            changed = change_kind(kind=kind, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal, form.system)
        else:
            words = "is so from now on" if changed else "was so already"
            messages.success(request, f"“{kind}” {words}.")
            return redirect("kinds")
    tables = [
        table_of(request, KindSortsTable, kind.sorts_changes.select_related("recorded_by")),
        table_of(request, KindNeedsTable, kind.needs_changes.select_related("recorded_by")),
    ]
    context = {"section": "due", "kind": kind, "form": form, "tables": tables}
    return render(request, "schedule/kind_sorts.html", context)


@manager_required
@require_POST
def retire(request: HttpRequest, kind_id: int) -> HttpResponse:
    """Retire a kind: no phone offers it any more, and nothing of it is due."""
    kind = get_object_or_404(OwnKind, pk=kind_id)
    retire_kind(submission_id=uuid.uuid4(), kind=kind, at=clock.now(), by=signed_in(request))
    messages.success(request, f"“{kind}” is retired. What is on record of it stays.")
    return redirect("kinds")
