from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from fleet.context import system_of
from fleet.fields import MeasuredForm, open_to_correction, whole_number
from fleet.kept_files import NotKept, open_kept
from fleet.models import LongWork, PadLot
from fleet.numbers import NotANumber, read_number
from fleet.picture import BadUpload
from fleet.quantities import Quantity
from fleet.roles import manager_required, signed_in
from fleet.uploads import JPEG, Form, let_in, picture_anew
from ratings.bench.comparison import LotTests
from ratings.bench.forms import (
    MOST_READINGS,
    BenchTestForm,
    PadForm,
    PadFormSet,
    ReadingForm,
    ReadingFormSet,
)
from ratings.bench.graph import load_graph_figures
from ratings.bench.improving import capacity_gain, priced_lacks
from ratings.bench.readings_table import ORDERS, TableError, understand_table
from ratings.bench.recording import BENCH_ACT, RecordedTest, record_bench_test, unsaved_test
from ratings.bench.reduction import Reduction, energy_lost, plausibility_of, reduce_test
from ratings.bench.stand_warnings import calibrations_that_tell_of, stand_warnings
from ratings.bench.tested_pads import TestedPad, pads_of
from ratings.lot_pools import why_not_for_rating
from ratings.mechanics.bench import Branch, are_in_order
from ratings.mechanics.gauge import PSI_PER, Suspicion, gauge_suspicion
from ratings.models import BenchPad, BenchTest, Gauge
from ratings.models.bench import MOST_PADS_IN_TEST, MOST_SPAN_PSI
from ratings.models.policy import rating_policy
from ratings.pictures import load_graphs
from ratings.proposals.recording import confirmers
from ratings.proposals.views import may_propose
from ratings.read_again import REASON, TICK, NotReadAgain
from ratings.remarks import remark_words
from ratings.rerating.long_work import UnderWay, record_or_begin

MOST_TABLE_BYTES = 1_000_000
# Before it is known how many pads share the load.
FIRST_PAD_ROWS = 2


@manager_required
@may_propose
def new_test(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Enter a bench test; on save it is on record and a rating is drafted from it."""
    lot = get_object_or_404(PadLot, pk=lot_id)
    corrects = _corrected_test(request, lot)
    system = system_of(request)
    form, pads, readings = _bound_or_fresh(request, corrects, system)
    # Before the reduction: it takes a reading it refuses out of the form's cleaned data.
    suspicion = _suspicion(form, readings)
    reduction, table_troubles, understood = None, [], ""
    if request.method == "POST" and (asked := REWRITES.keys() & request.POST.keys()):
        try:
            rows, understood = REWRITES[min(asked)](request)
        except TableError as trouble:
            rows = _typed(request)
            table_troubles = trouble.messages
        form, pads, readings = _rewritten(request, rows, system)
    elif request.method == "POST":
        reduction = _reduced(lot, form, pads, readings, corrects)
        if reduction is not None:
            try:
                return _save(request, lot, form, pads, readings, corrects)
            except NotReadAgain as refusal:
                form.refuse(refusal, system)
            except UnderWay as refusal:
                form.add_error(None, refusal)
    return render(
        request,
        "bench/test_form.html",
        {
            "section": "lots",
            "lot": lot,
            "form": form,
            "pads": pads,
            "readings": readings,
            "corrects": corrects,
            "table_troubles": table_troubles,
            "table_understood": understood,
            "table_orders": ORDERS,
            "table_order": request.POST.get("table_order", ""),
            "is_rewritten": bool(REWRITES.keys() & request.POST.keys()),
            "suspicion": suspicion,
            **_preview_context(reduction, system),
        },
    )


@manager_required
def preview(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Show what the readings typed so far come to. Saves nothing."""
    lot = get_object_or_404(PadLot, pk=lot_id)
    corrects = _corrected_test(request, lot)
    system = system_of(request)
    form = BenchTestForm(request.POST, system=system)
    pads: Any = PadFormSet(request.POST, prefix="p", form_kwargs={"system": system})
    readings = ReadingFormSet(request.POST, prefix="r", form_kwargs={"system": system})
    suspicion = _suspicion(form, readings)
    reduction = _reduced(lot, form, pads, readings, corrects)
    context = _preview_context(reduction, system)
    if reduction is not None:
        typed = unsaved_test(lot, form.set_up())
        typed.corrects = corrects
        context |= _plausibility_context(typed, reduction, system)
        of_lot = LotTests(lot, rating_policy())
        context |= _gain_context(typed, reduction, of_lot, pads.tested())
        (context["stand_warnings"],) = stand_warnings([typed], system)
    context |= {"form": form, "pads": pads, "readings": readings, "suspicion": suspicion}
    return render(request, "bench/preview.html", context)


def test(request: HttpRequest, test_id: int) -> HttpResponse:
    """Show a bench test on record: set-up, readings as entered, and what they came to."""
    found = get_object_or_404(
        BenchTest.objects.select_related(
            "lot", "stand", "gauge", "tape", "thermometer", "recorded_by", "corrects"
        ),
        pk=test_id,
    )
    system = system_of(request)
    policy = rating_policy()
    own = reduce_test(found, found.measured, policy.linearity_limit_pct)
    of_lot = LotTests(found.lot, policy)
    reduction = of_lot.compared(found, own, pads_of(found), system)
    (of_the_stand,) = stand_warnings([found], system_of(request))
    return render(
        request,
        "bench/test.html",
        {
            "section": "lots",
            "test": found,
            "confirmed_by": confirmers(BENCH_ACT.cause, [found.pk]).get(found.pk),
            "stand_warnings": of_the_stand,
            "told_by": calibrations_that_tell_of([found]).get(found.pk),
            "ratings": found.ratings.with_state(),
            "pads": found.pads.select_related("housing"),
            **_plausibility_context(found, reduction, system),
            **_preview_context(reduction, system),
            **_gain_context(found, reduction, of_lot, pads_of(found)),
        },
    )


def photo(request: HttpRequest, test_id: int) -> HttpResponse:
    """Send the photo of a test's set-up; there is no other way to it.

    One kept before photos were made anew is so as it is sent; what is no picture is never shown.
    """
    found = get_object_or_404(BenchTest.objects.exclude(photo=""), pk=test_id)
    if not found.photo:
        raise NotKept("No photo was kept of this test.")
    with open_kept(found.photo) as opened:
        made = picture_anew(opened.read())
    if made is None:
        raise NotKept("What was kept of this test’s photo is no picture.")
    return HttpResponse(made, content_type=JPEG)


def _linearity_limit_pct() -> float:
    return rating_policy().linearity_limit_pct


def _corrected_test(request: HttpRequest, lot: PadLot) -> BenchTest | None:
    key = whole_number(request.GET.get("corrects", ""))
    if key is None:
        return None
    is_open = open_to_correction(request.POST.get("submission_id", ""))
    return get_object_or_404(BenchTest, is_open, pk=key, lot=lot)


def _bound_or_fresh(
    request: HttpRequest, corrects: BenchTest | None, system: str
) -> tuple[BenchTestForm, Any, Any]:
    data = request.POST if request.method == "POST" else None
    initial, pad_rows, rows = _initial(corrects)
    form = BenchTestForm(data, request.FILES or None, initial=initial, system=system)
    pads = PadFormSet(data, initial=pad_rows, prefix="p", form_kwargs={"system": system})
    readings = ReadingFormSet(data, initial=rows, prefix="r", form_kwargs={"system": system})
    return form, pads, readings


def _initial(corrects: BenchTest | None) -> tuple[dict[str, Any], Rows, Rows]:
    if corrects is None:
        return {}, [{}] * FIRST_PAD_ROWS, []
    names = set(BenchTestForm.base_fields) - {"submission_id", "photo", TICK, REASON}
    initial = {name: getattr(corrects, name) for name in names}
    known = {pad.number: pad for pad in corrects.pads.all()}
    pad_rows = [
        _pad_row(known[number]) if number in known else {}
        for number in range(1, corrects.pads_in_test + 1)
    ]
    readings = corrects.readings.values("tape_in", "gauge_psi", "run", "branch")
    return initial, pad_rows, [dict(row) for row in readings]


def _pad_row(pad: BenchPad) -> dict[str, Any]:
    own = {name: getattr(pad, name) for name in PadForm.base_fields}
    return own | {"housing": pad.housing_id, "position": pad.place}


Rows = list[dict[str, Any]]


def _typed(request: HttpRequest) -> Rows:
    """Return the readings as typed and not yet judged."""
    return _typed_rows(request, "r", ReadingForm, MOST_READINGS)


def _typed_pads(request: HttpRequest) -> Rows:
    """Return the pads as typed and not yet judged, a row for each that shared the load."""
    rows = _typed_rows(request, "p", PadForm, MOST_PADS_IN_TEST)
    shared = whole_number(request.POST.get("pads_in_test", "")) or 0
    return rows + [{}] * (min(shared, MOST_PADS_IN_TEST) - len(rows))


def _typed_rows(request: HttpRequest, prefix: str, form: type[MeasuredForm], most: int) -> Rows:
    given = whole_number(request.POST.get(f"{prefix}-TOTAL_FORMS", "")) or 0
    return [
        {name: request.POST.get(f"{prefix}-{row}-{name}", "") for name in form.base_fields}
        for row in range(min(given, most))
    ]


def _from_table(request: HttpRequest) -> tuple[Rows, str]:
    """Return the rows of the table pasted or sent, in the reader's units, and how it was read."""
    sent = request.FILES.get("table_file")
    if sent is not None and (sent.size or 0) > MOST_TABLE_BYTES:
        raise TableError([f"The file is larger than {MOST_TABLE_BYTES // 1000} kB: send fewer."])
    given: str | bytes = request.POST.get("table", "")
    if sent is not None:
        try:
            given = let_in(sent.read(), Form.TABLES).content
        except BadUpload as refusal:
            raise TableError([str(refusal)]) from None
    table = understand_table(given, request.POST.get("table_order", ""))
    system = system_of(request)
    rows = [
        {
            "tape_in": _shown(Quantity.LENGTH, row.tape_in, system),
            "gauge_psi": _shown(Quantity.PRESSURE, row.gauge_psi, system),
            "run": str(row.run),
            "branch": row.branch,
        }
        for row in table.rows
    ]
    return rows, table.understood


def _converted(request: HttpRequest) -> Rows:
    """Return the rows with each gauge reading turned from the unit named into psi."""
    factor = PSI_PER.get(request.POST["convert"], 1.0)
    rows = _typed(request)
    for row in rows:
        try:
            given = read_number(row["gauge_psi"], "200", least=0.0, most=MOST_SPAN_PSI / factor)
        except NotANumber:
            continue
        row["gauge_psi"] = f"{given * factor:.6g}"
    return rows


REWRITES = {
    "convert": lambda request: (_converted(request), ""),
    "more_rows": lambda request: (_typed(request), ""),
    "pad_rows": lambda request: (_typed(request), ""),
    "take_table": _from_table,
}


def _shown(quantity: Quantity, stored: float, system: str) -> str:
    return f"{quantity.shown(stored, system):.6g}"


def _rewritten(request: HttpRequest, rows: Rows, system: str) -> tuple[BenchTestForm, Any, Any]:
    """Keep all that was typed in the form, not judged, beside these rows and eight blank ones."""
    read_in = {"system": system}
    form = BenchTestForm(initial=request.POST.dict(), system=system)
    pads = PadFormSet(initial=_typed_pads(request), prefix="p", form_kwargs=read_in)
    return form, pads, ReadingFormSet(initial=rows, prefix="r", form_kwargs=read_in)


def _suspicion(form: BenchTestForm, readings: Any) -> Suspicion | None:
    """Return the unit the gauge readings look like, where it isn't psi.

    Only of readings typed as psi: an SI reader types kPa, and they are psi by now.
    """
    if form.system != "us":
        return None
    if not form.is_bound:
        return None
    form.is_valid(), readings.is_valid()
    if not isinstance(form.cleaned_data.get("gauge"), Gauge):
        return None
    shown = [
        row.cleaned_data["gauge_psi"]
        for row in readings
        if getattr(row, "cleaned_data", {}).get("gauge_psi") is not None
    ]
    return gauge_suspicion(shown, form.cleaned_data["gauge"].span_psi) if shown else None


def _reduced(
    lot: PadLot, form: BenchTestForm, pads: Any, readings: Any, corrects: BenchTest | None
) -> Reduction | None:
    # All are asked, so that the page shows all that is wrong at once.
    if not all([form.is_valid(), pads.is_valid(), readings.is_valid()]):
        return None
    if not pads.can_be(form.cleaned_data["pads_in_test"]):
        return None
    test = unsaved_test(lot, form.set_up())
    test.corrects = corrects
    policy = rating_policy()
    is_sent_again = form.is_on_record(BenchTest)
    own = readings.reduce(test, policy.linearity_limit_pct, is_sent_again=is_sent_again)
    if own is None:
        return None
    return LotTests(lot, policy).compared(test, own, pads.tested(), form.system)


def _save(
    request: HttpRequest,
    lot: PadLot,
    form: BenchTestForm,
    pads: Any,
    readings: Any,
    corrects: BenchTest | None,
) -> HttpResponse:
    measured = [row.reading for row in readings.filled()]
    given = {
        "submission_id": form.cleaned_data["submission_id"],
        "lot": lot,
        "set_up": form.set_up(pads.tested()),
        "readings": measured,
        "corrects": corrects,
        **form.read_again,
    }
    recorded: RecordedTest | LongWork
    if corrects is None:
        recorded = record_bench_test(**given, by=signed_in(request))
    else:
        recorded = record_or_begin(
            record_bench_test,
            given,
            by=signed_in(request),
            title=f"Correction of bench test {corrects.pk} of lot {lot}",
            about=lot,
            page=reverse("bench-test", args=[corrects.pk]),
            form=form,
            system=form.system,
        )
    if isinstance(recorded, LongWork):
        return redirect("rerating", recorded.pk)
    if recorded.draft is None:
        messages.warning(
            request,
            f"Bench test {recorded.test.pk} is recorded, not for rating: "
            f"{why_not_for_rating(recorded.test, rating_policy())}.",
        )
        return redirect("bench-test", recorded.test.pk)
    messages.success(
        request,
        f"Bench test {recorded.test.pk} is recorded and rating {recorded.draft.pk} is drafted. "
        "It rates no unit until a second person approves it.",
    )
    if not are_in_order(each for each in measured if each.branch is Branch.LOADING):
        messages.info(request, "The readings were out of order and were sorted by tape.")
    return redirect("lot-rating", recorded.draft.pk)


def _gain_context(
    test: BenchTest, reduction: Reduction, of_lot: LotTests, pads: Sequence[TestedPad]
) -> dict[str, Any]:
    policy = of_lot.policy
    return {
        "capacity_gain": capacity_gain(test, reduction, policy),
        "lacks": priced_lacks(test, reduction, policy, of_lot, pads),
    }


def _plausibility_context(test: BenchTest, reduction: Reduction, system: str) -> dict[str, Any]:
    found = plausibility_of(test, reduction.fit.rate_lbf_in, system)
    explanations = found.explanations if found else ()
    return {
        "plausibility": found,
        "explanations": [
            (remark_words(each.remark, system), each.rate_lbf_in) for each in explanations
        ],
    }


def _preview_context(reduction: Reduction | None, system: str) -> dict[str, Any]:
    if reduction is None:
        return {"reduction": None}
    limit_pct = _linearity_limit_pct()
    figures = load_graph_figures(reduction, limit_pct, system)
    return {
        "reduction": reduction,
        "mistakes": [remark_words(each, system) for each in reduction.mistakes],
        "budget": reduction.told_budget(system),
        "energy_lost": reduction.hysteresis and energy_lost(reduction.hysteresis, system),
        "limit_pct": limit_pct,
        "graphs": load_graphs(figures, "Load against stretch"),
    }
