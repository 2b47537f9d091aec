"""Replacing pads from stock: recorded in one act with what was fitted, and its page."""

from __future__ import annotations

import uuid
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib import messages
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet import together
from fleet.context import system_of
from fleet.fields import MomentField
from fleet.housings import lock_housing
from fleet.models import PadLot, PadPosition, ShelfCount, SuppressorHousing
from fleet.people.yards import in_yard_of, on_record_in
from fleet.roles import manager_required, signed_in
from fleet.stock import fit_from_stock
from inspections.count.forms import PadMap, ReplacementForm, ledger_sequence
from inspections.count.newest_facts import settle
from inspections.count.preview import rated
from inspections.count.sets import PadSet, fill
from inspections.count.submission import (
    ChangedMeanwhile,
    Submission,
    already_signed,
    pads_troubles,
    refuse_if_changed,
    refuse_other_machine,
)
from inspections.models import PadReplacement, RepairOrder, ReplacedPad, RestorePlan
from ratings.ledger.posting import Cause, post
from ratings.mechanics.unit_rating import UnitRating
from ratings.models import LedgerEntry


@dataclass(frozen=True)
class PadFitted:
    """A pad of a stocked lot put into a position."""

    side: str
    number: int
    lot_id: int


@dataclass(frozen=True)
class Replaced:
    """A replacement on record, and the ledger entry it posted."""

    replacement: PadReplacement
    entry: LedgerEntry | None
    is_copy: bool = False


@in_yard_of("housing", known=on_record_in("inspections.PadReplacement"))
@together.all_or_nothing()
def sign_replacement(
    *,
    housing: SuppressorHousing,
    submission: Submission,
    fitted_at: datetime,
    pads: Sequence[PadFitted],
    by: User,
    note: str = "",
) -> Replaced:
    """Move pads from stock into positions and the unit's figures with them, in one transaction.

    A second copy of a submission changes nothing. Raises ValidationError where a position
    or a lot can't be, or a lot has too few in stock; ChangedMeanwhile where another signed in
    between. Then nothing is kept.
    """
    housing = lock_housing(housing.pk)
    known = PadReplacement.objects.filter(submission_id=submission.submission_id).first()
    if known is not None:
        refuse_other_machine(known.housing, housing)
        return Replaced(known, None, is_copy=True)
    refuse_if_changed(housing, submission)
    replacement = _write(housing, submission, fitted_at, pads, by, note)
    _take_from_stock(replacement, pads, by)
    entries = post(
        [housing],
        cause=Cause(Cause.PAD_REPLACEMENT, _words(pads), replacement.pk),
        occurred_at=fitted_at,
        by=by,
    )
    return Replaced(replacement, entries[0] if entries else None)


def preview_replacement(
    *, housing: SuppressorHousing, fitted_at: datetime, pads: Sequence[PadFitted], by: User
) -> UnitRating:
    """Return what a unit would be rated at with these pads fitted. Saves nothing.

    Raises ValidationError where a position or a lot can't be.
    """
    with transaction.atomic():
        housing = lock_housing(housing.pk)
        if pads:
            _write(housing, Submission(uuid.uuid4()), fitted_at, pads, by)
        rating = rated(housing)
        transaction.set_rollback(True)
    return rating


def _write(
    housing: SuppressorHousing,
    submission: Submission,
    fitted_at: datetime,
    pads: Sequence[PadFitted],
    by: User,
    note: str = "",
) -> PadReplacement:
    """Write a replacement, and bring the housing to what the newest facts then say."""
    before = _positions_to_fill(housing, pads, fitted_at)
    replacement = PadReplacement.objects.create(
        submission_id=submission.submission_id,
        housing=housing,
        fitted_at=fitted_at,
        note=note,
        recorded_by=by,
    )
    ReplacedPad.objects.bulk_create(
        ReplacedPad(
            replacement=replacement,
            side=pad.side,
            number=pad.number,
            lot_id=pad.lot_id,
            removed_condition=before[pad.side, pad.number].condition,
            removed_lot_id=before[pad.side, pad.number].lot_id,
        )
        for pad in pads
    )
    settle(housing, newly=replacement)
    return replacement


def _positions_to_fill(
    housing: SuppressorHousing, pads: Sequence[PadFitted], fitted_at: datetime
) -> dict[tuple[str, int], PadPosition]:
    if not pads:
        raise ValidationError({"pads": "No position was given a pad: choose at least one."})
    if troubles := pads_troubles(housing, pads, fitted_at):
        raise ValidationError({"pads": troubles})
    return {(position.side, position.number): position for position in housing.positions.all()}


def _take_from_stock(replacement: PadReplacement, pads: Sequence[PadFitted], by: User) -> None:
    # In the order of their keys, so that two replacements never wait for each other in a ring.
    for lot_id, count in sorted(Counter(pad.lot_id for pad in pads).items()):
        fit_from_stock(
            lot_id=lot_id,
            pads=count,
            yard=replacement.housing.yard,
            occurred_at=replacement.fitted_at,
            by=by,
            note=f"pad replacement {replacement.pk} on {replacement.housing}",
        )


def _words(pads: Sequence[PadFitted]) -> str:
    places = ", ".join(
        f"{pad.side}{pad.number}" for pad in sorted(pads, key=lambda pad: (pad.side, pad.number))
    )
    return f"{len(pads)} pad{'' if len(pads) == 1 else 's'} fitted from stock at {places}"


@manager_required
def replace_pads(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Fit pads from stock into positions; stock and figures move together."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    pad_map = PadMap(housing, PadLot.objects.in_use())
    data = request.POST if request.method == "POST" else None
    form = ReplacementForm(
        data, initial={"based_on": ledger_sequence(housing)}, system=system_of(request)
    )
    stocked, troubles = _stocked(housing), list[str]()
    if request.method == "POST":
        pad_map.read(request.POST)
        if all([form.is_valid(), pad_map.is_valid]):
            replaced = _sign(request, housing, form, pad_map)
            if replaced is not None:
                _say(request, replaced)
                order = _order_carried_out(housing, _pads_fitted(pad_map))
                if order is not None:
                    messages.info(request, f"Repair order {order.pk} is still open: close it now.")
                    return redirect("repair-order", order.pk)
                return redirect("unit", housing.pk)
            form.rebase(housing)
    else:
        troubles = fill(pad_map, request.GET, housing, dict(stocked))
    fitted = {(each.side, each.number): each for each in housing.positions.select_related("lot")}
    return render(
        request,
        "count/replace.html",
        {
            "section": "board",
            "housing": housing,
            "form": form,
            "pad_map": pad_map,
            "sides": {
                side: [(cell, fitted[cell.side, cell.number]) for cell in cells]
                for side, cells in pad_map.sides.items()
            },
            "stocked": stocked,
            "sets": PadSet.choices,
            "set_lot": request.GET.get("lot", ""),
            "troubles": troubles,
            "filled": sum(bool(cell.lot) for cell in pad_map.cells) if not form.is_bound else 0,
        },
    )


@manager_required
def preview(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Show the line pull that the pads chosen so far would give. Saves nothing."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    pad_map = PadMap(housing, PadLot.objects.in_use())
    pad_map.read(request.POST)
    try:
        rating = preview_replacement(
            housing=housing,
            fitted_at=_typed_moment(request),
            pads=_pads_fitted(pad_map),
            by=signed_in(request),
        )
    except ValidationError as refusal:
        return render(request, "count/preview.html", {"travel_troubles": refusal.messages})
    return render(request, "count/preview.html", {"rating": rating, "is_counted": True})


def _typed_moment(request: HttpRequest) -> datetime:
    """When the pads are fitted by what is typed so far, now where that is no moment yet."""
    try:
        return MomentField().clean(request.POST.get("fitted_at", "")) or timezone.now()
    except ValidationError:
        return timezone.now()


def _pads_fitted(pad_map: PadMap) -> list[PadFitted]:
    return [PadFitted(cell.side, cell.number, int(cell.lot)) for cell in pad_map.cells if cell.lot]


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
            pads=_pads_fitted(pad_map),
            by=signed_in(request),
            note=form.cleaned_data["note"],
        )
    except ValidationError as trouble:
        form.take(trouble, pad_map)
    except ChangedMeanwhile as trouble:
        form.add_error(None, str(trouble))
    return None


def _order_carried_out(housing: SuppressorHousing, pads: Sequence[PadFitted]) -> RepairOrder | None:
    """Return the open repair order whose plan has just these pads, None where none has."""
    fitted = {(each.side, each.number, each.lot_id) for each in pads}
    for order in RepairOrder.objects.open().filter(housing=housing):
        plan = RestorePlan.objects.of_order(order)
        if plan is not None and plan.places(housing.pk) <= fitted:
            return order
    return None


def _say(request: HttpRequest, replaced: Replaced) -> None:
    if replaced.is_copy:
        messages.warning(request, already_signed(replaced.replacement.recorded_at))
        return
    if replaced.entry is None:
        messages.success(request, "The replacement is recorded.")
        return
    standing = replaced.entry.judged
    say = messages.warning if standing.is_flagged else messages.success
    say(
        request,
        f"Signed. The unit is now: {standing} (ledger entry {replaced.entry.sequence}).",
    )
