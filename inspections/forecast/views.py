"""The pages of what is foreseen: of a unit, of the fleet, hours planned, and what came of it."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import date
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from fleet.context import system_of
from fleet.fields import note_refusal, show_refusal, submission_of
from fleet.models import Hire, Mounting, OutOfService, SuppressorHousing, Transfer
from fleet.outages import outages_of_unit
from fleet.roles import manager_required, planner_required, signed_in
from fleet.tables import records_page, table_of
from inspections.forecast.came import came_record, pasts_of, what_came
from inspections.forecast.forecasting import (
    NEAR,
    changes_since,
    forecast_of,
    forecasts_of,
    housings_in_use,
)
from inspections.forecast.forms import PlannedHoursForm, YardForm
from inspections.forecast.held import bins, held_by_days, kept_rows
from inspections.forecast.planned import plan_hours
from inspections.forecast.recording import keep_forecast
from inspections.forecast.replay import Row, rows_of
from inspections.forecast.tables import (
    HeldTable,
    KeptForecastTable,
    PlannedHoursTable,
    UnitForecastTable,
    UnitRow,
    horizon_row,
    horizon_rows,
    lost_words,
    percent_words,
)
from inspections.models import Forecast, ForecastReplay, PlannedHours
from ratings.drawing.calibration_graph import CalibrationPoint
from ratings.mechanics.standing import Standing
from ratings.pictures import calibration_graphs


def unit_forecast(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Show how a unit is likely to stand in the days ahead, and what was kept of it."""
    housing = get_object_or_404(SuppressorHousing.objects.select_related("yard"), pk=housing_id)
    made = forecast_of(housing)
    kept = Forecast.objects.filter(housing=housing).select_related("recorded_by")
    planned = PlannedHours.objects.filter(housing=housing).select_related("recorded_by")
    context = told(made.document) | {
        "section": "board",
        "housing": housing,
        "is_retired": housing.retired_on is not None and housing.retired_on <= timezone.localdate(),
        "seen": made.digest,
        "submission_id": uuid.uuid4(),
        "outages": outages_of_unit(housing),
        "hire": Hire.objects.open_by_housing([housing.pk]).get(housing.pk),
        "transfer": Transfer.objects.open_by_housing([housing.pk]).get(housing.pk),
        "planned": table_of(request, PlannedHoursTable, planned),
        "kept_table": table_of(request, KeptForecastTable, kept),
    }
    return render(request, "forecast/unit.html", context)


def told(document: dict[str, Any]) -> dict[str, Any]:
    """Return what a page shows of a forecast's document."""
    rows = horizon_rows(document)
    count = document["next_count"]
    return {
        "forecast": document,
        "standing": Standing(document["standing"]),
        "is_short": document["standing"] != Standing.MEETS_LISTING.value,
        "horizons": rows,
        "near": next((each for each in rows if each["days"] == NEAR), None),
        "count": count
        and count | {"on": date.fromisoformat(count["day"]), "told": horizon_row(count["outlook"])},
        "lapsed": rows[-1]["lapsed"] if rows else [],
        # Kept forecasts of before the policy was followed told no unit as meeting by such a rate.
        "keeps_lapsed": document["horizons"][-1].get("keeps_lapsed") if rows else None,
        "is_guessed": any(each["is_guessed"] for each in rows),
        "made_on": date.fromisoformat(document["made_on"]),
        "read_on": document["read_on"] and date.fromisoformat(document["read_on"]),
    }


@manager_required
@require_POST
def keep(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Keep the forecast of a unit as it is shown."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    try:
        kept = keep_forecast(
            submission_id=submission_of(request.POST),
            housing=housing,
            by=signed_in(request),
            seen=request.POST.get("seen", ""),
        )
    except ValidationError as refusal:
        note_refusal(*refusal.messages)
        messages.warning(request, " ".join(refusal.messages))
        return redirect("unit-forecast", housing.pk)
    messages.success(request, "The forecast is kept. It will be held to what comes.")
    return redirect("forecast", kept.pk)


@planner_required
def new_planned_hours(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Record what a unit is to work from one day to another."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    form = PlannedHoursForm(
        request.POST if request.method == "POST" else None,
        initial={"first_day": timezone.localdate()},
    )
    if request.method == "POST" and form.is_valid():
        try:
            planned = plan_hours(housing=housing, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal, system_of(request))
        else:
            messages.success(request, f"On record: {planned}.")
            return redirect(f"{reverse('unit-forecast', args=[housing.pk])}#planned")
    return render(
        request,
        "forecast/hours_form.html",
        {"section": "board", "housing": housing, "form": form},
    )


def fleet_forecast(request: HttpRequest) -> HttpResponse:
    """List the units, those likeliest to fall short soon first."""
    form = YardForm(request.GET)
    yard = form.cleaned_data["yard"] if form.is_valid() else None
    housings = [
        each
        for each in housings_in_use(timezone.localdate())
        if yard is None or each.yard_id == yard.pk
    ]
    made = forecasts_of(housings, with_count=False)
    out = set(OutOfService.objects.open().with_unit().values_list("unit_today", flat=True))
    mounted = set(Mounting.objects.current().values_list("housing_id", flat=True))
    rows = sorted(
        (
            UnitRow(each, made[each.pk], is_out=each.pk in out, is_spare=each.pk not in mounted)
            for each in housings
        ),
        key=lambda row: row.order,
    )
    table = table_of(request, UnitForecastTable, rows)
    context = {"section": "board", "form": form}
    return records_page(request, "forecast/fleet.html", table, None, context)


def kept_forecast(request: HttpRequest, forecast_id: int) -> HttpResponse:
    """Show a forecast as it was kept, whether it still holds, and what came of it."""
    kept = get_object_or_404(
        Forecast.objects.select_related("housing__yard", "recorded_by", "entry"), pk=forecast_id
    )
    days = pasts_of(kept)
    outcomes = [
        {
            "days": past.days,
            "day": past.day,
            "short": "short already" if past.is_short_at_once else percent_words(past.short),
            "expected": lost_words((past.expected, past.low, past.high)),
            "why": came if isinstance(came, str) else "",
            "came": None if isinstance(came, str) else came_record(came),
            "counted_on": None if isinstance(came, str) else came.counted_on,
        }
        for past, came in zip(days, what_came(days), strict=True)
    ]
    context = told(kept.document) | {
        "section": "board",
        "housing": kept.housing,
        "kept": kept,
        "changed": changes_since(kept),
        "outcomes": outcomes,
    }
    return render(request, "forecast/kept.html", context)


def held(request: HttpRequest) -> HttpResponse:
    """Show how good forecasts were: those kept, and those made again of past months."""
    # Those that came first: of the others there is nothing to say yet.
    rows = sorted(kept_rows(), key=lambda row: isinstance(row.came, str))
    replay = ForecastReplay.objects.select_related("recorded_by").first()
    again = rows_of(replay) if replay else []
    table = table_of(request, HeldTable, rows)
    context = {
        "section": "board",
        "replay": replay,
        "parts": [
            _part("Forecasts that were kept", "kept", rows),
            _part("Made again of past months", "again", again),
        ],
    }
    return records_page(request, "forecast/held.html", table, None, context)


def _part(title: str, key: str, rows: Sequence[Row]) -> dict[str, Any]:
    found = bins(rows)
    points = tuple(
        CalibrationPoint(
            each.many,
            100.0 * each.predicted,
            100.0 * each.share,
            100.0 * each.low,
            100.0 * each.high,
        )
        for each in found
    )
    return {
        "title": title,
        "key": key,
        "rows": len(rows),
        "by_days": [each for each in held_by_days(rows) if each.told],
        "bins": [
            {
                "many": each.many,
                "predicted": percent_words(each.predicted),
                "came": f"{each.came} of {each.many}",
                "band": f"{percent_words(each.low)} to {percent_words(each.high)}",
            }
            for each in found
        ],
        "graphs": calibration_graphs(points, title) if points else None,
    }
