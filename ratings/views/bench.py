from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.context import system_of
from fleet.keys import whole_number
from fleet.models import PadLot
from fleet.roles import manager_required, signed_in
from ratings.drawing.loadgraph import LoadGraphFigures
from ratings.forms.bench import MOST_READINGS, BenchTestForm, ReadingForm, ReadingFormSet
from ratings.forms.submission import open_to_correction
from ratings.ledger.facts import policy_in_force
from ratings.ledger.posting import Cause
from ratings.mechanics.bench import are_in_order
from ratings.models import BenchTest, LedgerEntry, RatingPolicy
from ratings.pictures import load_graphs
from ratings.recording.bench import Reduction, record_bench_test, reduce_test

CURVE_PIECES = 48


@manager_required
def new_test(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Enter a bench test; on save the lot is rated and every unit that holds it."""
    lot = get_object_or_404(PadLot, pk=lot_id)
    corrects = _corrected_test(request, lot)
    system = system_of(request)
    form, readings = _bound_or_fresh(request, corrects, system)
    reduction = None
    if request.method == "POST":
        reduction = _reduced(form, readings)
        if reduction is not None and "more_rows" not in request.POST:
            return _save(request, lot, form, readings, corrects)
        if "more_rows" in request.POST:
            form, readings = _with_more_rows(request, system)
    return render(
        request,
        "ratings/bench_test_form.html",
        {
            "section": "lots",
            "lot": lot,
            "form": form,
            "readings": readings,
            "corrects": corrects,
            **_preview_context(reduction, system),
        },
    )


@manager_required
def preview(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Show what the readings typed so far come to. Saves nothing."""
    get_object_or_404(PadLot, pk=lot_id)
    system = system_of(request)
    form = BenchTestForm(request.POST, system=system)
    readings = ReadingFormSet(request.POST, prefix="r", form_kwargs={"system": system})
    reduction = _reduced(form, readings)
    context = _preview_context(reduction, system)
    context |= {"form": form, "readings": readings}
    return render(request, "ratings/bench_preview.html", context)


def test(request: HttpRequest, test_id: int) -> HttpResponse:
    """Show a bench test on record: set-up, readings as entered, and what they came to."""
    found = get_object_or_404(
        BenchTest.objects.select_related("lot", "stand", "recorded_by", "rating", "corrects"),
        pk=test_id,
    )
    system = system_of(request)
    reduction = reduce_test(found.set_up, found.measured, _linearity_limit_pct())
    entries = LedgerEntry.objects.filter(cause=Cause.LOT_RATED, cause_record=found.pk)
    return render(
        request,
        "ratings/bench_test.html",
        {
            "section": "lots",
            "test": found,
            "entries": entries.select_related("housing"),
            **_preview_context(reduction, system),
        },
    )


def _linearity_limit_pct() -> float:
    return policy_in_force(RatingPolicy.objects.first()).linearity_limit_pct


def _corrected_test(request: HttpRequest, lot: PadLot) -> BenchTest | None:
    key = whole_number(request.GET.get("corrects", ""))
    if key is None:
        return None
    is_open = open_to_correction(request.POST.get("submission_id", ""))
    return get_object_or_404(BenchTest, is_open, pk=key, lot=lot)


def _bound_or_fresh(
    request: HttpRequest, corrects: BenchTest | None, system: str
) -> tuple[BenchTestForm, Any]:
    data = request.POST if request.method == "POST" else None
    initial, rows = _initial(corrects)
    form = BenchTestForm(data, initial=initial, system=system)
    readings = ReadingFormSet(data, initial=rows, prefix="r", form_kwargs={"system": system})
    return form, readings


def _initial(corrects: BenchTest | None) -> tuple[dict[str, Any], list[Any]]:
    if corrects is None:
        return {}, []
    names = ("end", "pads_in_test", "tape_datum_in", "gauge_zero_psi", "tested_at")
    initial = {name: getattr(corrects, name) for name in names} | {"stand": corrects.stand_id}
    return initial, list(corrects.readings.values("tape_in", "gauge_psi"))


def _with_more_rows(request: HttpRequest, system: str) -> tuple[BenchTestForm, Any]:
    """Keep everything typed, as typed and not yet judged, and give eight rows more."""
    given = whole_number(request.POST.get("r-TOTAL_FORMS", "")) or 0
    rows = range(min(given, MOST_READINGS))
    typed = [
        {name: request.POST.get(f"r-{row}-{name}", "") for name in ReadingForm.base_fields}
        for row in rows
    ]
    readings = ReadingFormSet(initial=typed, prefix="r", form_kwargs={"system": system})
    return BenchTestForm(initial=request.POST.dict(), system=system), readings


def _reduced(form: BenchTestForm, readings: Any) -> Reduction | None:
    # Both are asked, so that the page shows all that is wrong at once.
    if not all([form.is_valid(), readings.is_valid()]):
        return None
    reduction: Reduction | None = readings.reduce(form.set_up(), _linearity_limit_pct())
    return reduction


def _save(
    request: HttpRequest,
    lot: PadLot,
    form: BenchTestForm,
    readings: Any,
    corrects: BenchTest | None,
) -> HttpResponse:
    cleaned = form.cleaned_data
    measured = [row.reading for row in readings.filled()]
    rated = record_bench_test(
        submission_id=cleaned["submission_id"],
        lot=lot,
        stand=cleaned["stand"],
        end=cleaned["end"],
        pads_in_test=cleaned["pads_in_test"],
        tape_datum_in=cleaned["tape_datum_in"],
        gauge_zero_psi=cleaned["gauge_zero_psi"],
        tested_at=cleaned["tested_at"],
        readings=measured,
        by=signed_in(request),
        note=cleaned["note"],
        corrects=corrects,
    )
    units = len(rated.entries)
    messages.success(
        request,
        f"Bench test {rated.test.pk} is on record and lot {lot} is rated by it. "
        f"Units re-rated: {units}.",
    )
    if not are_in_order(measured):
        messages.info(request, "The readings were out of order and were sorted by tape.")
    return redirect("bench-test", rated.test.pk)


def _preview_context(reduction: Reduction | None, system: str) -> dict[str, Any]:
    if reduction is None:
        return {"reduction": None}
    limit_pct = _linearity_limit_pct()
    fit = reduction.fit
    tested_in = fit.tested_stretch_in
    # Rounding must not take the last point a hair beyond the tested stretch.
    stretches = [
        min(tested_in * piece / CURVE_PIECES, tested_in) for piece in range(CURVE_PIECES + 1)
    ]
    figures = LoadGraphFigures(
        points=tuple((each.stretch_in, each.force_lbf) for each in reduction.readings),
        rate_lbf_in=fit.rate_lbf_in,
        tested_stretch_in=fit.tested_stretch_in,
        curve_points=(
            ()
            if fit.is_linear
            else tuple((stretch, reduction.curve.force_lbf(stretch)) for stretch in stretches)
        ),
        band_lbf=limit_pct / 100.0 * max(each.force_lbf for each in reduction.readings),
        units=system,
    )
    return {
        "reduction": reduction,
        "limit_pct": limit_pct,
        "graphs": load_graphs(figures, "Load against stretch"),
    }
