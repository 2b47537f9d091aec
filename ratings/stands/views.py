from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString

from fleet.context import system_of
from fleet.fields import open_to_correction, whole_number
from fleet.models import LongWork
from fleet.quantities import Quantity
from fleet.roles import manager_required, signed_in
from fleet.tables import table_of
from ratings.bench.forms import ReadingFormSet
from ratings.bench.stand_warnings import StandCheck, found_off_words, stand_checks
from ratings.drawing.control_chart import ChartPoint
from ratings.mechanics.agreement import e_n
from ratings.mechanics.bench import ReadingError, reduce_cycle
from ratings.mechanics.gauge import PointError, found_errors
from ratings.mechanics.unit_rating import StaleRates
from ratings.models import (
    Gauge,
    GaugeCalibration,
    RatingPolicy,
    ReferenceCheck,
    ReferencePiece,
    Tape,
    TestStand,
    Thermometer,
)
from ratings.models.policy import policy_in_force
from ratings.pictures import control_charts
from ratings.proposals.acts import SecondPersonNeeded
from ratings.proposals.recording import confirmers
from ratings.proposals.views import may_propose
from ratings.remarks import refused_sentence
from ratings.rerating.long_work import UnderWay, record_or_begin
from ratings.stands.forms import UNITS, GaugeCalibrationForm, PointFormSet, ReferenceCheckForm
from ratings.stands.recall import recall_of
from ratings.stands.recording import (
    CHECK_ACT,
    GAUGE_ACT,
    record_gauge_calibration,
    record_reference_check,
)
from ratings.stands.tables import (
    CalibrationTable,
    CheckTable,
    Comparison,
    ComparisonTable,
    GaugeTable,
    PieceTable,
    StandTable,
    Tool,
    ToolTable,
    TouchedCheckTable,
    TouchedRatingTable,
    TouchedTestTable,
    TouchedUnitTable,
)

# More dots would run into one another.
MOST_ON_A_CHART = 40
# Fields of the certificate's form by what the record calls them.
FORM_NAMES = {"expanded_psi": "expanded"}


def stands(request: HttpRequest) -> HttpResponse:
    """Show the stands, what is read on them, and how each stands with its calibration."""
    tools = [
        Tool(
            kind,
            each.mark,
            each.yard.name,
            each.certificate_number,
            each.calibrated_on,
            each.due_on,
        )
        for kind, model in (("tape", Tape), ("thermometer", Thermometer))
        for each in model.objects.select_related("yard")
    ]
    return render(
        request,
        "stands/stands.html",
        {
            "section": "lots",
            "tables": [
                table_of(request, StandTable, TestStand.objects.select_related("yard")),
                table_of(request, GaugeTable, Gauge.objects.select_related("yard")),
                table_of(request, ToolTable, tools),
                table_of(request, PieceTable, PieceTable.records()),
            ],
        },
    )


@dataclass(frozen=True)
class PieceChart:
    """The control chart of one piece on a stand, and its newest check."""

    piece: ReferencePiece
    graphs: dict[str, SafeString]
    newest: StandCheck
    checks: int


def stand(request: HttpRequest, stand_id: int) -> HttpResponse:
    """Show one stand: its control charts, how it compares with others, and its checks."""
    found = get_object_or_404(TestStand.objects.select_related("yard"), pk=stand_id)
    checks = stand_checks({found.pk})[found.pk]
    today = timezone.localdate()
    return render(
        request,
        "stands/stand.html",
        {
            "section": "lots",
            "stand": found,
            "charts": _charts(checks, found, system_of(request)),
            "last": checks[-1] if checks else None,
            "is_checked_today": bool(checks) and timezone.localdate(checks[-1].at) == today,
            "tables": [
                table_of(request, ComparisonTable, _comparisons(found, checks)),
                table_of(
                    request,
                    CheckTable,
                    found.reference_checks.select_related("piece", "recorded_by"),
                    judged={each.record.pk: each for each in checks},
                ),
            ],
        },
    )


def _charts(checks: list[StandCheck], stand: TestStand, system: str) -> list[PieceChart]:
    by_piece: dict[int, list[StandCheck]] = {}
    for each in checks:
        by_piece.setdefault(each.record.piece_id, []).append(each)
    return [_chart(series, stand, system) for series in by_piece.values()]


def _chart(series: list[StandCheck], stand: TestStand, system: str) -> PieceChart:
    piece = series[-1].record.piece
    points = [
        ChartPoint(
            at=timezone.localtime(each.at),
            rate_lbf_in=each.judged.check.rate_lbf_in,
            is_out=each.judged.is_out,
            centre=each.judged.limits.centre if each.judged.limits else None,
            lower=each.judged.limits.lower if each.judged.limits else None,
            upper=each.judged.limits.upper if each.judged.limits else None,
        )
        for each in series[-MOST_ON_A_CHART:]
    ]
    title = f"Control chart of {piece.mark} on {stand.name}"
    graphs = control_charts(points, title, "The table below holds the checks.", system)
    return PieceChart(piece, graphs, series[-1], len(series))


def _comparisons(stand: TestStand, checks: list[StandCheck]) -> list[Comparison]:
    """Hold the newest check of each piece here against its newest on every other stand."""
    here = {each.record.piece_id: each.record for each in checks}
    newest: dict[tuple[int, int], ReferenceCheck] = {}
    others = ReferenceCheck.objects.standing().filter(piece__in=here).exclude(stand=stand)
    for each in others.select_related("stand").order_by("checked_at", "pk"):
        newest[each.piece_id, each.stand_id] = each
    found = []
    for (piece, _), other in newest.items():
        own = here[piece]
        number = e_n(own.rate_lbf_in, own.expanded_lbf_in, other.rate_lbf_in, other.expanded_lbf_in)
        found.append(Comparison(own.piece.mark, other, number, own.gauge_id == other.gauge_id))
    return found


@manager_required
@may_propose
def new_check(request: HttpRequest, stand_id: int) -> HttpResponse:
    """Record a check of a stand by a reference piece."""
    found = get_object_or_404(TestStand, pk=stand_id)
    corrects = _corrected(request, found.reference_checks)
    data, system = request.POST if request.method == "POST" else None, system_of(request)
    form = ReferenceCheckForm(data, initial=_check_initial(corrects), system=system)
    rows = (
        list(corrects.readings.values("tape_in", "gauge_psi", "run", "branch")) if corrects else []
    )
    readings: Any = ReadingFormSet(data, initial=rows, prefix="r", form_kwargs={"system": system})
    if request.method == "POST" and all([form.is_valid(), readings.is_valid()]):
        filled = readings.filled()
        try:
            check = record_reference_check(
                submission_id=form.cleaned_data["submission_id"],
                stand=found,
                set_up=form.set_up(),
                readings=[row.reading for row in filled],
                by=signed_in(request),
                corrects=corrects,
            )
        except SecondPersonNeeded:
            raise
        except ValidationError as refusal:
            form.add_error(None, refusal.messages)
        except ReadingError as error:
            filled[error.index].add_error(error.field, refused_sentence(error, system))
        except ValueError as error:
            readings.non_form_errors().append(refused_sentence(error, system))
        else:
            return _after_check(request, check)
    return render(
        request,
        "stands/check_form.html",
        {
            "section": "lots",
            "stand": found,
            "form": form,
            "rows": readings,
            "corrects": corrects,
        },
    )


def _check_initial(corrects: ReferenceCheck | None) -> dict[str, Any]:
    if corrects is None:
        return {}
    return {name: getattr(corrects, name) for name in ReferenceCheckForm.Meta.fields}


def _after_check(request: HttpRequest, check: ReferenceCheck) -> HttpResponse:
    judged = {each.record.pk: each for each in stand_checks({check.stand_id})[check.stand_id]}
    if judged[check.pk].judged.is_out:
        messages.warning(
            request,
            f"The check is recorded and out of its limits: {judged[check.pk].words}. Find out why "
            "before anything is tested on this stand.",
        )
    else:
        rate = Quantity.RATE.words(check.rate_lbf_in, system_of(request), 1)
        messages.success(request, f"The check is recorded: {check.piece.mark} gave {rate}.")
    return redirect("stand", check.stand_id)


def reference_check(request: HttpRequest, check_id: int) -> HttpResponse:
    """Show one check of a stand, its readings as entered and what they come to."""
    found = get_object_or_404(
        ReferenceCheck.objects.select_related(
            "stand", "piece", "gauge", "tape", "recorded_by", "corrects", "corrected_by"
        ),
        pk=check_id,
    )
    measured = [row.measured for row in found.readings.all()]
    cycle = reduce_cycle(found.set_up, measured, found.gauge_resolution_psi)
    judged = {each.record.pk: each for each in stand_checks({found.stand_id})[found.stand_id]}
    return render(
        request,
        "stands/check.html",
        {
            "section": "lots",
            "check": found,
            "confirmed_by": confirmers(CHECK_ACT.cause, [found.pk]).get(found.pk),
            "judged": judged.get(found.pk),
            "rows": list(zip(measured, cycle.readings, strict=True)),
        },
    )


def gauge(request: HttpRequest, gauge_id: int) -> HttpResponse:
    """Show one gauge, its certificates, and what it was found off by."""
    found = get_object_or_404(Gauge.objects.select_related("yard"), pk=gauge_id)
    calibrations = found.calibrations.select_related("recorded_by", "corrected_by")
    newest = calibrations.standing().order_by("-calibrated_on", "-pk").first()
    return render(
        request,
        "stands/gauge.html",
        {
            "section": "lots",
            "gauge": found,
            "newest": newest,
            "found_off": found_off_words(newest) if newest and newest.is_found_off else "",
            "today": timezone.localdate(),
            "table": table_of(request, CalibrationTable, calibrations),
        },
    )


@manager_required
@may_propose
def new_calibration(request: HttpRequest, gauge_id: int) -> HttpResponse:
    """Record a gauge's certificate."""
    found = get_object_or_404(Gauge, pk=gauge_id)
    corrects = _corrected(request, found.calibrations)
    data, system = request.POST if request.method == "POST" else None, system_of(request)
    initial, rows = _calibration_initial(corrects)
    form = GaugeCalibrationForm(data, initial=initial, system=system)
    points: Any = PointFormSet(data, initial=rows, prefix="p", form_kwargs={"system": system})
    if request.method == "POST" and all([form.is_valid(), points.is_valid()]):
        filled = points.filled()
        per_unit = UNITS[form.cleaned_data["unit"]]
        try:
            calibration = record_or_begin(
                record_gauge_calibration,
                {
                    "submission_id": form.cleaned_data["submission_id"],
                    "gauge": found,
                    "certificate": form.certificate([row.point(per_unit) for row in filled]),
                    "corrects": corrects,
                },
                by=signed_in(request),
                title=f"Certificate of gauge {found.mark}",
                about=found,
                page=reverse("gauge", args=[found.pk]),
                form=form,
                system=system,
                form_names=FORM_NAMES,
            )
        except PointError as error:
            name = error.field.removesuffix("_psi")
            filled[error.index].add_error(name, _sentence(error.trouble))
        except SecondPersonNeeded:
            raise
        except UnderWay as refusal:
            form.add_error(None, refusal)
        except ValidationError as refusal:
            for name, given in refusal.message_dict.items():
                form.add_error(FORM_NAMES.get(name, name), given)
        except ValueError as error:
            points.non_form_errors().append(_sentence(str(error)))
        else:
            if isinstance(calibration, LongWork):
                return redirect("rerating", calibration.pk)
            return _after_calibration(request, calibration)
    return render(
        request,
        "stands/calibration_form.html",
        {
            "section": "lots",
            "gauge": found,
            "form": form,
            "rows": points,
            "corrects": corrects,
        },
    )


def _calibration_initial(
    corrects: GaugeCalibration | None,
) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    if corrects is None:
        return {}, []
    names = set(GaugeCalibrationForm.base_fields) - {"submission_id", "unit", "expanded"}
    initial = {name: getattr(corrects, name) for name in names}
    rows = [
        {"applied": each.applied_psi, "as_found": each.as_found_psi, "as_left": each.as_left_psi}
        for each in corrects.calibration_points
    ]
    return initial | {"unit": "psi", "expanded": corrects.expanded_psi}, rows


def _after_calibration(request: HttpRequest, calibration: GaugeCalibration) -> HttpResponse:
    if not calibration.is_found_off:
        messages.success(request, f"Certificate {calibration.certificate_number} is recorded.")
        return redirect("gauge-calibration", calibration.pk)
    messages.warning(
        request,
        f"Certificate {calibration.certificate_number} is recorded. The gauge was found off: "
        f"{found_off_words(calibration)}. Look at all that it touched.",
    )
    return redirect("recall", calibration.pk)


def calibration(request: HttpRequest, calibration_id: int) -> HttpResponse:
    """Show one certificate of a gauge, point by point."""
    found = _calibration(calibration_id)
    points, of = found.calibration_points, found.gauge
    errors = {each.applied_psi: each for each in found_errors(points, of.grade, of.span_psi)}
    rows = [
        {
            "point": point,
            "error": errors.get(point.applied_psi),
            "correction": point.applied_psi - (point.indicated_psi or 0.0),
        }
        for point in points
    ]
    return render(
        request,
        "stands/calibration.html",
        {
            "section": "lots",
            "calibration": found,
            "confirmed_by": confirmers(GAUGE_ACT.cause, [found.pk]).get(found.pk),
            "rows": rows,
            "found_off": found_off_words(found) if found.is_found_off else "",
        },
    )


def recall(request: HttpRequest, calibration_id: int) -> HttpResponse:
    """Show every test, check, rating and unit that a gauge touched since the calibration before."""
    found = _calibration(calibration_id)
    touched = recall_of(found)
    policy = policy_in_force(RatingPolicy.objects.first())
    return render(
        request,
        "stands/recall.html",
        {
            "section": "lots",
            "calibration": found,
            "found_off": found_off_words(found) if found.is_found_off else "",
            "is_dropped": policy.stale_rates == StaleRates.DROP,
            "tables": [
                table_of(
                    request,
                    TouchedTestTable,
                    touched.tests.select_related("lot", "stand", "corrected_by"),
                ),
                table_of(
                    request,
                    TouchedCheckTable,
                    touched.checks.select_related("piece", "stand", "corrected_by"),
                ),
                table_of(
                    request,
                    TouchedRatingTable,
                    touched.ratings.with_state().select_related("lot"),
                ),
                table_of(request, TouchedUnitTable, touched.units.select_related("yard")),
            ],
        },
    )


def _calibration(key: int) -> GaugeCalibration:
    return get_object_or_404(
        GaugeCalibration.objects.select_related("gauge", "recorded_by", "corrects", "corrected_by"),
        pk=key,
    )


def _corrected(request: HttpRequest, records: Any) -> Any:
    """Return the record that the form corrects, None where it is a new one."""
    key = whole_number(request.GET.get("corrects", ""))
    if key is None:
        return None
    is_open = open_to_correction(request.POST.get("submission_id", ""))
    return get_object_or_404(records, is_open, pk=key)


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:] + ("" if text.endswith(".") else ".")
