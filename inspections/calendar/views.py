"""The calendar of units by days, over all jobs."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from fleet.dates import days_words
from fleet.models import SuppressorHousing
from inspections.calendar.days import State, days_of
from inspections.calendar.forms import CalendarForm
from ratings.plan.free import freedom

UNITS_ON_A_PAGE = 25


def units_calendar(request: HttpRequest) -> HttpResponse:
    """Show what every unit does day by day, and which are free."""
    asked = request.GET.copy()
    asked.setdefault("start", timezone.localdate().isoformat())
    form = CalendarForm(asked)
    context: dict[str, Any] = {"section": "jobs", "form": form, "states": list(State)}
    if form.is_valid():
        context |= _shown(request, form)
    return render(request, "calendar/calendar.html", context)


def _shown(request: HttpRequest, form: CalendarForm) -> dict[str, Any]:
    first_day, last_day = form.days
    housings = SuppressorHousing.objects.in_use().select_related("yard").order_by("mark")
    if form.cleaned_data["yard"]:
        housings = housings.filter(yard=form.cleaned_data["yard"])
    if word := form.cleaned_data["search"]:
        on_hammer = Q(mountings__removed_at__isnull=True, mountings__hammer__mark__icontains=word)
        housings = housings.filter(Q(mark__icontains=word) | on_hammer).distinct()
    units, kept_out = list(housings), 0
    to_do: dict[int, str] = {}
    if form.free_days:
        found = freedom(*form.free_days)
        to_do = {key: each.to_do for key, each in found.items() if not each.why_not}
        free = [unit for unit in units if unit.pk in to_do]
        units, kept_out = free, len(units) - len(free)
    page = Paginator(units, UNITS_ON_A_PAGE).get_page(request.GET.get("page"))
    span = (last_day - first_day).days + 1
    return {
        "page": page,
        "rows": [
            (row, to_do.get(row.housing.pk, "")) for row in days_of(list(page), first_day, last_day)
        ],
        "days": [_Day(first_day + timedelta(days=n)) for n in range(span)],
        "shown_days": days_words(first_day, last_day),
        "is_month": span > 14,
        "kept_out": kept_out,
        "free_days": days_words(*form.free_days) if form.free_days else "",
        "before": _turned(request, first_day - timedelta(days=span)),
        "after": _turned(request, first_day + timedelta(days=span)),
    }


def _turned(request: HttpRequest, start: date) -> str:
    query = request.GET.copy()
    query["start"] = start.isoformat()
    return f"?{query.urlencode()}"


class _Day:
    """A column of the calendar."""

    def __init__(self, day: date) -> None:
        self.day = day
        self.is_today = day == timezone.localdate()
        self.is_weekend = day.weekday() >= 5
