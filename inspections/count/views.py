from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.context import system_of
from fleet.models import PadLot, SuppressorHousing
from fleet.models.housing import Condition
from fleet.roles import manager_required, signed_in
from fleet.service import open_spell
from inspections.count.correcting import Corrected, corrected_record
from inspections.count.forms import InspectionForm, PadMap, ledger_sequence
from inspections.count.preview import preview_rating
from inspections.count.recording import (
    Correction,
    PadSeen,
    Seen,
    Signed,
    sign_inspection,
)
from inspections.count.submission import ChangedMeanwhile, already_signed
from inspections.models import Inspection, InspectionKind, ItemAnswer, PadReplacement


@manager_required
def count_pads(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Count the pads and tape the travel of a unit; signing re-rates it at once."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    corrected = corrected_record(request, housing)
    pad_map = PadMap(housing, PadLot.objects.all())
    form = _form(request, housing, corrected)
    if request.method == "POST":
        pad_map.read(request.POST, conditions=True)
        if all([form.is_valid(), pad_map.is_valid]) and not _is_empty(form, pad_map):
            signed = _sign(request, housing, form, pad_map, corrected)
            if signed is not None:
                _say(request, signed)
                return redirect("unit", housing.pk)
            form.rebase(housing)
    else:
        pad_map.fill(_known(housing, corrected))
    return render(
        request,
        "count/count.html",
        {
            "section": "board",
            "housing": housing,
            "form": form,
            "pad_map": pad_map,
            "conditions": Condition.choices,
            "corrected": corrected,
            "spell": open_spell(housing),
            "unsound": housing.positions.exclude(condition__in=["", Condition.SOUND]),
        },
    )


def _is_empty(form: InspectionForm, pad_map: PadMap) -> bool:
    """Say so where nothing was entered, and whether it is so."""
    given = [form.cleaned_data[name] for name in ("travel_in", "hours", "note")]
    if pad_map.is_counted or any(value not in (None, "") for value in given):
        return False
    form.add_error(None, "Nothing was entered: count the pads, tape the travel or read the meter.")
    return True


@manager_required
def preview(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Show the line pull that the map and travel typed so far would give. Saves nothing."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    pad_map = PadMap(housing, PadLot.objects.all())
    pad_map.read(request.POST, conditions=False)
    pads = {
        (cell.side, cell.number): (cell.condition, cell.lot_id if cell.condition else None)
        for cell in pad_map.cells
        if pad_map.is_counted
    }
    return render(
        request,
        "count/preview.html",
        {"rating": preview_rating(housing, pads, _travel_typed(request, housing))},
    )


def _travel_typed(request: HttpRequest, housing: SuppressorHousing) -> float | None:
    """Return the travel as far as it can be read; signing says what is wrong with it."""
    form = InspectionForm(
        request.POST, housing=housing, is_correction=False, system=system_of(request)
    )
    try:
        travel_in: float | None = form.fields["travel_in"].clean(form["travel_in"].value())
    except ValidationError:
        return None
    return travel_in


def _form(
    request: HttpRequest, housing: SuppressorHousing, corrected: Corrected | None
) -> InspectionForm:
    initial: dict[str, Any] = {"based_on": ledger_sequence(housing)}
    if corrected is not None:
        initial["seen_at"] = corrected.at
        if corrected.inspection is not None:
            reading = corrected.inspection.hour_reading
            initial["travel_in"] = corrected.inspection.travel_in
            # As it can be sent back: every digit, no thousands set off.
            initial["hours"] = repr(reading.hours).removesuffix(".0") if reading else None
    return InspectionForm(
        request.POST if request.method == "POST" else None,
        housing=housing,
        is_correction=corrected is not None,
        initial=initial,
        system=system_of(request),
    )


def _known(
    housing: SuppressorHousing, corrected: Corrected | None
) -> dict[tuple[str, int], tuple[str, int | None]]:
    """What the map starts from: nothing counted yet; for a correction what was recorded."""
    if corrected is None:
        return {(each.side, each.number): ("", each.lot_id) for each in housing.positions.all()}
    if corrected.inspection is not None:
        return {
            (pad.side, pad.number): (pad.condition, pad.lot_id)
            for pad in corrected.inspection.pads.all()
        }
    assert corrected.entry is not None
    keys = dict(PadLot.objects.values_list("mark", "pk"))
    return {
        (pad["side"], pad["number"]): (pad["condition"], keys.get(pad["lot"]))
        for pad in corrected.entry.inputs["positions"]
    }


def _sign(
    request: HttpRequest,
    housing: SuppressorHousing,
    form: InspectionForm,
    pad_map: PadMap,
    corrected: Corrected | None,
) -> Signed | None:
    cleaned = form.cleaned_data
    correction, before = None, corrected.inspection if corrected else None
    if corrected is not None:
        correction = Correction(
            cleaned["correction_reason"], corrected.inspection, corrected.replacement
        )
    try:
        return sign_inspection(
            housing=housing,
            submission=form.submission(),
            seen=Seen(
                seen_at=cleaned["seen_at"],
                pads=[
                    PadSeen(cell.side, cell.number, cell.condition, cell.lot_id)
                    for cell in pad_map.cells
                    if pad_map.is_counted
                ],
                travel_in=cleaned["travel_in"],
                travel_reason=cleaned["travel_reason"],
                hours=cleaned["hours"],
                note=cleaned["note"],
                # Corrected, it is still the inspection of its kind that was made.
                kind=before.kind_name if before else InspectionKind.PAD_COUNT,
                weather=before.weather if before else "",
            ),
            by=signed_in(request),
            correction=correction,
        )
    except ValidationError as trouble:
        form.take(trouble)
    except ChangedMeanwhile as trouble:
        form.add_error(None, str(trouble))
    return None


def _say(request: HttpRequest, signed: Signed) -> None:
    if signed.is_copy:
        messages.warning(request, already_signed(signed.inspection.recorded_at))
        return
    if open_spell(signed.inspection.housing):
        messages.info(request, "It is still out of service: release it once it is fit to go out.")
    if signed.entry is None:
        messages.success(
            request,
            f"The {'correction' if signed.inspection.is_correction else 'inspection'} is on "
            "record. It changed no figure of the line pull, so the ledger stands.",
        )
        return
    standing = signed.entry.judged
    say = messages.warning if standing.is_flagged else messages.success
    say(request, f"Signed. The unit is now: {standing} (ledger entry {signed.entry.sequence}).")


def inspection(request: HttpRequest, inspection_id: int) -> HttpResponse:
    """Show an inspection as it was signed."""
    found = get_object_or_404(
        Inspection.objects.select_related(
            "housing",
            "own_kind",
            "recorded_by",
            "hour_reading__hammer",
            "corrects",
            "corrects_replacement",
        ),
        pk=inspection_id,
    )
    pads = list(found.pads.select_related("lot"))
    sides = {side: [pad for pad in pads if pad.side == side] for side in ("A", "B")}
    return render(
        request,
        "count/inspection.html",
        {
            "section": "board",
            "inspection": found,
            "sides": sides,
            "answers": _by_part(found.answers.all()),
            "findings": found.findings.select_related(
                "housing", "inspection__recorded_by", "closing__recorded_by"
            ).prefetch_related("photos__held"),
            "photos": found.photos.filter(finding__isnull=True).select_related("held"),
            "today": timezone.localdate(),
        },
    )


def _by_part(answers: Iterable[ItemAnswer]) -> list[ItemAnswer]:
    """Answers of one part together, parts in the order the list first names them."""
    listed = list(answers)
    first = {answer.part: place for place, answer in reversed(list(enumerate(listed)))}
    return sorted(listed, key=lambda answer: first[answer.part])


def replacement(request: HttpRequest, replacement_id: int) -> HttpResponse:
    """Show a pad replacement as it was signed."""
    found = get_object_or_404(
        PadReplacement.objects.select_related("housing", "recorded_by"), pk=replacement_id
    )
    return render(
        request,
        "count/replacement.html",
        {
            "section": "board",
            "replacement": found,
            "pads": found.pads.select_related("lot", "removed_lot"),
        },
    )
