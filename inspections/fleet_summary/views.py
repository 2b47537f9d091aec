from __future__ import annotations

from datetime import timedelta
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from fleet.context import system_of
from fleet.dates import day_words
from fleet.fields import PastDayField, PlainText
from fleet.models import Yard
from fleet.roles import signed_in, who_words
from inspections.fleet_summary.facts import fleet_summary, fleet_summary_stated
from ratings.record.giving import send_paper

YEAR = timedelta(days=365)
MOST_DAYS = 3_660


class SummaryForm(PlainText, forms.Form):
    """Which days, and whose units."""

    first = PastDayField(label="From")
    last = PastDayField(label="To")
    yard = forms.ModelChoiceField(
        label="Yard", queryset=Yard.objects.all(), required=False, empty_label="all yards"
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        first, last = cleaned.get("first"), cleaned.get("last")
        if first and last and last < first:
            self.add_error(
                "last", f"This is before the first day, {day_words(first)}: give it later."
            )
        elif first and last and (last - first).days > MOST_DAYS:
            self.add_error(
                "first", f"These are more than {MOST_DAYS:,} days: give a later first day."
            )
        return cleaned


def summary(request: HttpRequest) -> HttpResponse:
    """Ask for which days and whose units; once asked, print the fleet summary."""
    today = timezone.localdate()
    form = SummaryForm(
        request.GET if "first" in request.GET else None,
        initial={"first": today - YEAR, "last": today, "yard": request.GET.get("yard")},
    )
    if not form.is_valid():
        return render(request, "fleet_summary/form.html", {"section": "board", "form": form})
    # Imported on need: the site must not wait for the PDF library at start.
    from inspections.fleet_summary.paper import fleet_summary_pdf

    first, last, yard = (form.cleaned_data[name] for name in ("first", "last", "yard"))
    found, where = fleet_summary(first, last, yard), yard.name if yard else "all yards"
    return send_paper(
        request,
        "fleet summary",
        f"{first} {last} {yard.pk if yard else ''}".strip(),
        f"fleet-summary-{last}.pdf",
        lambda stamp: fleet_summary_pdf(
            found,
            where=where,
            system=system_of(request),
            printed_at=timezone.now(),
            printed_by=who_words(signed_in(request)),
            stamp=stamp,
        ),
        fleet_summary_stated(found, where, system_of(request)),
    )
