from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.context import system_of
from fleet.models import PadLot, SuppressorHousing
from fleet.models.housing import UNSOUND, Condition
from fleet.outages import outages_of_unit
from fleet.roles import manager_required, signed_in
from fleet.units import Hung, hung_on_housing
from inspections.count.correcting import Corrected, corrected_record
from inspections.count.forms import InspectionForm, PadMap, ledger_sequence, moment_typed
from inspections.count.list_form import ListForm
from inspections.count.newest_facts import said_sound_again
from inspections.count.preview import Foreseen, preview_inspection
from inspections.count.signing import (
    Correction,
    Seen,
    Signed,
    cautions_of,
    meters_needed,
    sign_inspection,
)
from inspections.count.submission import ChangedMeanwhile, already_signed
from inspections.models import Inspection, InspectionKind, ItemAnswer, PadReplacement
from inspections.schedule.checklists import checklists_in_force
from inspections.schedule.kinds import NEED_WORDS, kind_named, kinds_in_use
from ratings.ledger.posting import Cause
from ratings.proposals.acts import SecondPersonNeeded
from ratings.proposals.recording import confirmers
from ratings.proposals.views import may_propose

# The button that draws the form again with the line pull it would give, and signs nothing.
SHOW = "show"


@manager_required
@may_propose
def count_pads(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Inspect a unit, or correct an inspection, by the plain form; signing re-rates it at once."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    corrected = corrected_record(request, housing)
    # A correction may name what was there then, used up since.
    lots = PadLot.objects.all() if corrected else PadLot.objects.to_choose()
    pad_map = PadMap(housing, lots)
    # What hung on it at the time that is typed, as signing has it.
    seen_at = corrected.at if corrected else moment_typed(request.POST.get("seen_at"))
    hung = hung_on_housing(housing, seen_at)
    kind = _kind_asked(request, corrected)
    form = _form(request, housing, corrected, hung)
    listed = _list_form(request, kind, corrected, hung)
    foreseen = None
    if request.method == "POST":
        pad_map.read(request.POST)
        if SHOW in request.POST:
            foreseen = _foresee(request, housing, form, pad_map, corrected, kind)
        elif all([form.is_valid(), pad_map.is_valid, listed.is_valid()]):
            signed = _sign(request, housing, form, pad_map, corrected, kind, listed)
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
            "listed": listed,
            "kind": kind,
            "kinds": kinds_in_use(),
            "needs": _needs(kind, hung) if corrected is None else [],
            "pad_map": pad_map,
            "conditions": Condition.choices,
            "corrected": corrected,
            "rating": foreseen.rating if foreseen else None,
            "cautions": foreseen.cautions if foreseen else (),
            "travel_troubles": form.travel_troubles if foreseen else [],
            "is_counted": bool(pad_map.pads_seen),
            "outage": next(iter(outages_of_unit(housing)), None),
            "unsound": housing.positions.filter(condition__in=UNSOUND),
        },
    )


def _foresee(
    request: HttpRequest,
    housing: SuppressorHousing,
    form: InspectionForm,
    pad_map: PadMap,
    corrected: Corrected | None,
    kind: str,
) -> Foreseen:
    """What signing would give of what is typed so far, at the time that is typed."""
    correction = None
    if corrected is not None:
        correction = Correction("preview", corrected.inspection, corrected.replacement)
    seen = Seen(
        seen_at=corrected.at if corrected else form.moment_typed,
        pads=pad_map.pads_seen,
        travel_in=form.travel_typed_in,
        kind=kind,
    )
    return preview_inspection(
        housing=housing, seen=seen, by=signed_in(request), correction=correction
    )


def _kind_asked(request: HttpRequest, corrected: Corrected | None) -> str:
    """The name of the kind that is asked for, a plain pad count where none is.

    Corrected, it is still the inspection of its kind that was made. Raises Http404.
    """
    if corrected is not None:
        before = corrected.inspection
        return before.kind_name if before else InspectionKind.PAD_COUNT.value
    asked = request.GET.get("kind", InspectionKind.PAD_COUNT.value)
    if asked not in {kind.name for kind in kinds_in_use()}:
        raise Http404("There is no such kind of inspection.")
    return asked


def _list_form(
    request: HttpRequest, kind: str, corrected: Corrected | None, hung: Hung
) -> ListForm:
    """The list of the kind, bound once it is to be signed. A correction leaves the list be."""
    in_force = checklists_in_force().get(kind) if corrected is None else None
    is_sent = request.method == "POST" and SHOW not in request.POST and corrected is None
    return ListForm(
        request.POST if is_sent else None if corrected is None else {},
        items=in_force.items if in_force else (),
        machines=hung.by_sort,
        # What was typed is shown again, and judged only once it is signed.
        initial=request.POST.dict() if SHOW in request.POST else None,
    )


def _needs(kind: str, hung: Hung) -> list[str]:
    """What an inspection of the kind must hold to count as one, in words."""
    needed = meters_needed(hung, kind)
    words = [NEED_WORDS[need] for need in kind_named(kind).needs]
    meters = [
        f"the meter of the {machine} read"
        for name, machine in (("hours", "hammer"), ("pack_hours", "power pack"))
        if name in needed
    ]
    return words + meters


def _form(
    request: HttpRequest, housing: SuppressorHousing, corrected: Corrected | None, hung: Hung
) -> InspectionForm:
    initial: dict[str, Any] = {"based_on": ledger_sequence(housing)}
    if corrected is not None:
        initial["seen_at"] = corrected.at
        initial["note"] = corrected.note
        if corrected.inspection is not None:
            reading = corrected.inspection.hour_reading
            initial["travel_in"] = corrected.inspection.travel_in
            # As it can be sent back: every digit, no thousands set off.
            initial["hours"] = repr(reading.hours).removesuffix(".0") if reading else None
            of_pack = corrected.inspection.pack_hour_reading
            initial["pack_hours"] = repr(of_pack.hours).removesuffix(".0") if of_pack else None
            initial["weather"] = corrected.inspection.weather
    is_sent = request.method == "POST" and SHOW not in request.POST
    if SHOW in request.POST:
        # What was typed is shown again, and judged only once it is signed.
        typed = {name: given for name, given in request.POST.items() if name != "seen_at"}
        initial |= typed if corrected else request.POST.dict()
    return InspectionForm(
        request.POST if is_sent else None,
        housing=housing,
        by=signed_in(request),
        is_correction=corrected is not None,
        hammer=hung.hammer,
        power_pack=hung.power_pack,
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
    kind: str,
    listed: ListForm,
) -> Signed | None:
    correction = None
    if corrected is not None:
        reason = form.cleaned_data["correction_reason"]
        correction = Correction(reason, corrected.inspection, corrected.replacement)
    try:
        return sign_inspection(
            housing=housing,
            submission=form.submission(),
            seen=form.seen(
                pad_map.pads_seen,
                kind=kind,
                weather=form.cleaned_data["weather"],
                observations=listed.observations(),
            ),
            by=signed_in(request),
            correction=correction,
        )
    except SecondPersonNeeded:
        raise
    except ValidationError as trouble:
        form.take(trouble, pad_map)
    except ChangedMeanwhile as trouble:
        form.add_error(None, str(trouble))
    return None


def _say(request: HttpRequest, signed: Signed) -> None:
    if signed.is_copy:
        messages.warning(request, already_signed(signed.inspection.recorded_at))
        return
    housing = signed.inspection.housing
    if housing is not None and outages_of_unit(housing):
        messages.info(request, "It is still out of service: release it once it is fit to go out.")
    for caution in signed.cautions:
        messages.warning(request, caution)
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
            "hammer",
            "clamp",
            "power_pack",
            "own_kind",
            "pack_hour_reading",
            "recorded_by",
            "hour_reading__hammer",
            "corrects",
            "corrects_replacement",
            "second_look__recorded_by",
            "second_look_by",
        ),
        pk=inspection_id,
    )
    pads = list(found.pads.select_related("lot"))
    waiting = said_sound_again(found.housing, found) if found.housing else {}
    sides = {side: [pad for pad in pads if pad.side == side] for side in ("A", "B")}
    return render(
        request,
        "count/inspection.html",
        {
            "section": "board",
            "inspection": found,
            "confirmed_by": confirmers(Cause.PAD_COUNT, [found.pk]).get(found.pk),
            "sides": sides,
            "cautions": cautions_of(found, waiting),
            "waits": bool(waiting),
            "answers": _by_part(found.answers.all()),
            "findings": found.findings.select_related(
                "hammer",
                "housing",
                "clamp",
                "power_pack",
                "inspection__recorded_by",
                "closing__recorded_by",
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
