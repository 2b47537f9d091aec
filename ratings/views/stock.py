from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.models import PadLot, ShelfCount, Yard
from fleet.roles import manager_required, signed_in
from fleet.stock import move_between_yards, take_stock
from ratings.forms.lots import KeepingForm
from ratings.forms.stocktake import MoveYardsForm, StockTakeForm


@manager_required
def stock_take(request: HttpRequest) -> HttpResponse:
    """Count a yard's shelf; differences are posted when all of it is good."""
    yards = list(Yard.objects.all())
    wanted = request.GET.get("yard", "")
    yard = next((each for each in yards if str(each.pk) == wanted), yards[0] if yards else None)
    form = _form(request, yard) if yard else None
    if yard and form and request.method == "POST" and form.is_valid():
        moves = take_stock(
            yard=yard,
            counts=form.counts,
            occurred_at=form.cleaned_data["occurred_at"],
            by=signed_in(request),
            submission_id=form.cleaned_data["submission_id"],
            with_loose=form.cleaned_data.get("loose") == "here",
        )
        posted = ", ".join(f"{move.lot} {move.change:+d}" for move in moves)
        words = f"Differences posted: {posted}." if moves else "All as booked."
        if form.cleaned_data.get("loose") == "here":
            words += " The pads of these lots that were in no yard are booked here now."
        messages.success(request, f"Stock of {yard} taken. {words}")
        return redirect("lots")
    return render(
        request,
        "ratings/stock_take.html",
        {"section": "lots", "yards": yards, "yard": yard, "form": form},
    )


@manager_required
def move_yards(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Move pads of a lot to another yard's shelf."""
    lot = get_object_or_404(PadLot, pk=lot_id)
    form = MoveYardsForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            move_between_yards(lot_id=lot.pk, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            form.add_error("pads", refusal)
        else:
            messages.success(request, "The pads are on the other yard’s shelf.")
            return redirect("lot", lot.pk)
    shelves = ShelfCount.objects.filter(lot=lot, pads__gt=0).select_related("yard")
    return render(
        request,
        "ratings/move_yards.html",
        {"section": "lots", "lot": lot, "form": form, "shelves": shelves},
    )


def _form(request: HttpRequest, yard: Yard) -> StockTakeForm:
    here, loose = (
        dict(ShelfCount.objects.filter(yard=each).values_list("lot_id", "pads"))
        for each in (yard, None)
    )
    books = [(lot, here.get(lot.pk, 0), loose.get(lot.pk, 0)) for lot in PadLot.objects.all()]
    return StockTakeForm(request.POST if request.method == "POST" else None, books=books)


@manager_required
def keeping(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Change when to order more of a lot, and until when it may lie on a shelf."""
    found = get_object_or_404(PadLot, pk=lot_id)
    form = KeepingForm(request.POST if request.method == "POST" else None, instance=found)
    if request.method == "POST" and form.is_valid():
        # Only these two: a move posted this moment may be changing the stock.
        found.save(update_fields=form.Meta.fields)
        messages.success(request, f"Reorder point and use-by day of lot {found} are as given now.")
        return redirect("lot", found.pk)
    return render(
        request, "ratings/keeping_form.html", {"section": "lots", "lot": found, "form": form}
    )
