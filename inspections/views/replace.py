from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.context import system_of
from fleet.models import PadLot, ShelfCount, SuppressorHousing
from fleet.models.housing import Condition
from fleet.roles import manager_required, signed_in
from inspections.forms.padmap import PadMap
from inspections.forms.signing import ReplacementForm, ledger_sequence
from inspections.preview import preview_rating
from inspections.recording.replacement import PadFitted, Replaced, sign_replacement
from inspections.recording.submission import ChangedMeanwhile, already_signed


@manager_required
def replace_pads(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Fit pads from stock into positions; stock and figures move together."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    pad_map = PadMap(housing, PadLot.objects.all())
    data = request.POST if request.method == "POST" else None
    form = ReplacementForm(
        data, initial={"based_on": ledger_sequence(housing)}, system=system_of(request)
    )
    if request.method == "POST":
        pad_map.read(request.POST, conditions=False)
        if all([form.is_valid(), pad_map.is_valid]):
            replaced = _sign(request, housing, form, pad_map)
            if replaced is not None:
                _say(request, replaced)
                return redirect("unit", housing.pk)
            form.rebase(housing)
    fitted = {(each.side, each.number): each for each in housing.positions.select_related("lot")}
    return render(
        request,
        "inspections/replace_pads.html",
        {
            "section": "board",
            "housing": housing,
            "form": form,
            "pad_map": pad_map,
            "sides": {
                side: [(cell, fitted[cell.side, cell.number]) for cell in cells]
                for side, cells in pad_map.sides.items()
            },
            "stocked": _stocked(housing),
        },
    )


@manager_required
def preview(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Show the line pull that the pads chosen so far would give. Saves nothing."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    pad_map = PadMap(housing, PadLot.objects.all())
    pad_map.read(request.POST, conditions=False)
    pads = {
        (cell.side, cell.number): (Condition.SOUND.value, cell.lot_id)
        for cell in pad_map.cells
        if cell.lot_id is not None
    }
    return render(
        request, "inspections/preview.html", {"rating": preview_rating(housing, pads, None)}
    )


def _stocked(housing: SuppressorHousing) -> list[tuple[PadLot, int]]:
    """The lots that can be fitted here, and how many pads of each: this yard's, and the loose."""
    shelves = ShelfCount.objects.filter(
        Q(yard=housing.yard) | Q(yard__isnull=True), pads__gt=0
    ).select_related("lot")
    here: dict[PadLot, int] = {}
    for shelf in shelves:
        here[shelf.lot] = here.get(shelf.lot, 0) + shelf.pads
    return sorted(here.items(), key=lambda pair: pair[0].mark)


def _sign(
    request: HttpRequest, housing: SuppressorHousing, form: ReplacementForm, pad_map: PadMap
) -> Replaced | None:
    try:
        return sign_replacement(
            housing=housing,
            submission=form.submission(),
            fitted_at=form.cleaned_data["fitted_at"],
            pads=[
                PadFitted(cell.side, cell.number, cell.lot_id)
                for cell in pad_map.cells
                if cell.lot_id is not None
            ],
            by=signed_in(request),
            note=form.cleaned_data["note"],
        )
    except ValidationError as trouble:
        form.take(trouble)
    except ChangedMeanwhile as trouble:
        form.add_error(None, str(trouble))
    return None


def _say(request: HttpRequest, replaced: Replaced) -> None:
    if replaced.is_copy:
        messages.warning(request, already_signed(replaced.replacement.recorded_at))
        return
    if replaced.entry is None:
        messages.success(request, "The replacement is on record.")
        return
    standing = replaced.entry.judged
    say = messages.warning if standing.is_flagged else messages.success
    say(
        request,
        f"Signed. The unit is now: {standing} (ledger entry {replaced.entry.sequence}).",
    )
