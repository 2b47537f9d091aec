from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from fleet.context import system_of
from fleet.fields import show_refusal, whole_number
from fleet.models import LongWork, PadLot, PadOrder, SetUpChange, ShelfCount, StockMove, Yard
from fleet.pad_orders import receive_without_order
from fleet.prices import record_price
from fleet.quantities import count_change_words
from fleet.roles import manager_required, signed_in
from fleet.setup.tables import SetUpChangeTable
from fleet.stock import (
    count_shelf,
    move_between_yards,
    move_stock,
    take_stock,
    whereabouts,
)
from fleet.tables import records_page, table_of
from ratings.ledger.facts import staleness
from ratings.lots.correcting import BEFORE, correct_lot
from ratings.lots.decisions import tests_held
from ratings.lots.entering import enter_lot, keep_lot
from ratings.lots.forms import (
    KeepingForm,
    LotCorrectionForm,
    LotForm,
    MoveYardsForm,
    PadPriceForm,
    StockForm,
    StockTakeForm,
    WantedGainForm,
    has_loose,
)
from ratings.lots.outlook import one_pad_outlook
from ratings.lots.tables import (
    LotCorrectionTable,
    LotFilter,
    LotRatingTable,
    LotTable,
    LotTestTable,
    PadPriceTable,
    StockMoveTable,
    WhereaboutsTable,
    lots_with_rating,
)
from ratings.models import LotRating, RatingPolicy
from ratings.models.policy import policy_in_force
from ratings.proposals.acts import SecondPersonNeeded
from ratings.proposals.views import may_propose
from ratings.rerating.long_work import record_or_begin
from ratings.surveillance.section import section_of


def lots(request: HttpRequest) -> HttpResponse:
    """Show every lot: stock, where its pads are, and its rating."""
    filters = LotFilter(request.GET, queryset=lots_with_rating())
    table = table_of(request, LotTable, filters.qs)
    return records_page(request, "lots/lots.html", table, filters, {"section": "lots"})


def lot(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Show one lot: its tests, its stock moves, and every housing that holds it."""
    found = get_object_or_404(PadLot, pk=lot_id)
    wanted = WantedGainForm(
        request.GET if "gain" in request.GET else None, system=system_of(request)
    )
    rating = LotRating.objects.in_force_by_lot([found.pk]).get(found.pk)
    places, changes = whereabouts(found), SetUpChange.objects.of(found)
    policy = policy_in_force(RatingPolicy.objects.first())
    return render(
        request,
        "lots/lot.html",
        {
            "section": "lots",
            "lot": found,
            "rating": rating,
            "limit_pct": policy.linearity_limit_pct,
            "spread_pct": policy.pad_spread_pct,
            "on_order": PadOrder.objects.open().filter(lot=found).select_related("yard")[:10],
            "waiting": LotRating.objects.waiting().filter(lot=found).last(),
            "stale": staleness(rating, policy, timezone.now()) if rating else "",
            "outlook": one_pad_outlook(found, _wanted_gain(wanted)),
            "wanted": wanted,
            "watch": section_of(request, found),
            "held": tests_held(found),
            "retired": (
                changes.filter(kind=SetUpChange.Kind.RETIRED).first() if found.retired_on else None
            ),
            "is_left": found.retired_on is not None and bool(places),
            "tables": [
                table_of(
                    request,
                    LotRatingTable,
                    found.ratings.with_state().select_related("recorded_by"),
                    in_use=rating.pk if rating else None,
                ),
                table_of(
                    request,
                    LotTestTable,
                    found.bench_tests.select_related("stand", "recorded_by", "corrected_by"),
                ),
                table_of(request, WhereaboutsTable, places),
                table_of(
                    request, PadPriceTable, found.prices.select_related("recorded_by", "yard")
                ),
                table_of(
                    request, StockMoveTable, found.moves.select_related("recorded_by", "yard")
                ),
                table_of(
                    request,
                    LotCorrectionTable,
                    found.corrections.select_related("recorded_by"),
                ),
                *(
                    [
                        table_of(
                            request,
                            SetUpChangeTable,
                            changes.select_related("recorded_by"),
                            model=PadLot,
                        )
                    ]
                    if changes.exists()
                    else []
                ),
            ],
            "today": timezone.localdate(),
        },
    )


def _wanted_gain(form: WantedGainForm) -> float | None:
    return form.cleaned_data["gain"] if form.is_bound and form.is_valid() else None


@manager_required
def new_lot(request: HttpRequest) -> HttpResponse:
    """Enter a lot. It is unrated until a bench test of it is on record."""
    data = request.POST if request.method == "POST" else None
    order = _order_named(request)
    form = LotForm(data, initial=_as_ordered(order), system=system_of(request))
    if request.method == "POST" and form.is_valid():
        try:
            entered = enter_lot(lot=form.instance, by=signed_in(request))
        except ValidationError as refusal:
            show_refusal(form, refusal, system_of(request))
        else:
            messages.success(
                request,
                f"Lot {entered} is recorded. It counts for nothing until it is bench-tested.",
            )
            return redirect("lot", entered.pk) if order is None else redirect("pad-order", order.pk)
    return render(request, "lots/lot_form.html", {"section": "lots", "form": form, "order": order})


def _order_named(request: HttpRequest) -> PadOrder | None:
    """Return the order whose pads are of the lot to be entered, where the address names one."""
    key = whole_number(request.GET.get("order", ""))
    return PadOrder.objects.filter(pk=key).select_related("lot").first() if key else None


def _as_ordered(order: PadOrder | None) -> dict[str, Any]:
    """Return what is known of a lot that came of an order: its supplier, and rubber as ordered."""
    if order is None:
        return {}
    known: Any = order.lot or order
    rubber = ("hardness_shore_a", "bonded_area_in2", "rubber_thickness_in")
    return {"supplier": order.supplier} | {name: getattr(known, name) for name in rubber}


@manager_required
def stock(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Record pads that came to the shelf or left it."""
    found = get_object_or_404(PadLot, pk=lot_id)
    data = request.POST if request.method == "POST" else None
    form = StockForm(data, lot=found, system=system_of(request))
    if request.method == "POST" and form.is_valid():
        try:
            _record(found, form.cleaned_data, signed_in(request))
        except ValidationError as trouble:
            by_field = hasattr(trouble, "error_dict")
            form.add_error(None if by_field else "pads", trouble)
        else:
            found.refresh_from_db()
            messages.success(request, f"Lot {found} now has {found.in_stock} in stock.")
            return redirect("lot", found.pk)
    return render(request, "lots/stock_form.html", {"section": "lots", "lot": found, "form": form})


def _record(lot: PadLot, cleaned: dict[str, Any], by: User) -> None:
    kind, pads = cleaned["kind"], cleaned["pads"]
    names = ("occurred_at", "note", "submission_id", "yard")
    common: dict[str, Any] = {"lot_id": lot.pk, "by": by} | {name: cleaned[name] for name in names}
    if kind == StockMove.Kind.COUNTED:
        count_shelf(pads=pads, has_loose=has_loose(cleaned), **common)
    elif kind == StockMove.Kind.RECEIVED:
        receive_without_order(pads=pads, is_of_no_order=cleaned["is_of_no_order"], **common)
    else:
        move_stock(kind=kind, change=-pads, **common)


@manager_required
def price(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Record what a pad of a lot costs from a day on."""
    found = get_object_or_404(PadLot, pk=lot_id)
    form = PadPriceForm(
        request.POST if request.method == "POST" else None,
        initial={"valid_from": timezone.localdate()},
    )
    if request.method == "POST" and form.is_valid():
        try:
            recorded = record_price(lot_id=found.pk, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal, system_of(request))
        else:
            messages.success(request, f"On record: {recorded}.")
            return redirect(f"{reverse('lot', args=[found.pk])}#prices")
    return render(
        request,
        "lots/price_form.html",
        {
            "section": "lots",
            "lot": found,
            "form": form,
            "without_currency": Yard.objects.filter(retired_on__isnull=True, currency=""),
        },
    )


LOTS_ON_A_STOCK_TAKE = 50


@manager_required
def stock_take(request: HttpRequest) -> HttpResponse:
    """Count a yard’s shelf, page by page; differences are posted when all of a page is good."""
    yards = list(Yard.objects.filter(retired_on__isnull=True))
    wanted = request.GET.get("yard", "")
    yard = next((each for each in yards if str(each.pk) == wanted), yards[0] if yards else None)
    word = request.GET.get("search", "").replace("\0", "")
    lots = PadLot.objects.in_use().filter(Q(mark__icontains=word) | Q(supplier__icontains=word))
    page = Paginator(lots, LOTS_ON_A_STOCK_TAKE).get_page(request.GET.get("page"))
    form = _stock_take_form(request, yard, page) if yard else None
    if yard and form and request.method == "POST" and form.is_valid():
        try:
            moves = take_stock(
                yard=yard,
                counts=form.counts,
                occurred_at=form.cleaned_data["occurred_at"],
                by=signed_in(request),
                submission_id=form.cleaned_data["submission_id"],
                has_loose=has_loose(form.cleaned_data),
            )
        except ValidationError as refusal:
            form.add_error(None, refusal.messages)
        else:
            posted = ", ".join(f"{move.lot} {count_change_words(move.change)}" for move in moves)
            words = f"Differences posted: {posted}." if moves else "All as booked."
            if has_loose(form.cleaned_data):
                words += " The pads of these lots that were in no yard are booked here now."
            messages.success(request, f"Stock of {yard} taken. {words}")
            if page.has_next():
                query = request.GET.copy()
                query["page"] = str(page.next_page_number())
                return redirect(f"{reverse('stock-take')}?{query.urlencode()}")
            return redirect("lots")
    return render(
        request,
        "lots/stock_take.html",
        {
            "section": "lots",
            "yards": yards,
            "yard": yard,
            "form": form,
            "page": page,
            "word": word,
        },
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
        "lots/move_yards.html",
        {"section": "lots", "lot": lot, "form": form, "shelves": shelves},
    )


def _stock_take_form(request: HttpRequest, yard: Yard, page: Iterable[PadLot]) -> StockTakeForm:
    lots = list(page)
    if request.method == "POST":
        # Those the form was sent with: what stands on a page may be others by now.
        sent = [whole_number(name.removeprefix("lot_")) for name in request.POST]
        keys = [key for key in sent if key is not None]
        lots = list(PadLot.objects.in_use().filter(pk__in=keys))
    here, loose = (
        dict(ShelfCount.objects.filter(yard=each, lot__in=lots).values_list("lot_id", "pads"))
        for each in (yard, None)
    )
    books = [(lot, here.get(lot.pk, 0), loose.get(lot.pk, 0)) for lot in lots]
    return StockTakeForm(request.POST if request.method == "POST" else None, books=books)


@manager_required
def keeping(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Change when to order more of a lot, and until when it may lie on a shelf."""
    found = get_object_or_404(PadLot, pk=lot_id)
    form = KeepingForm(request.POST if request.method == "POST" else None, instance=found)
    if request.method == "POST" and form.is_valid():
        try:
            keep_lot(lot_id=found.pk, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal, system_of(request))
        else:
            messages.success(
                request, f"Reorder point and use-by day of lot {found} are as given now."
            )
            return redirect("lot", found.pk)
    return render(
        request, "lots/keeping_form.html", {"section": "lots", "lot": found, "form": form}
    )


@manager_required
@may_propose
def correct(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Put right what is on record of a lot's rubber."""
    found = get_object_or_404(PadLot, pk=lot_id)
    form = LotCorrectionForm(
        request.POST if request.method == "POST" else None,
        initial={name: getattr(found, name) for name in BEFORE},
        system=system_of(request),
    )
    if request.method == "POST" and form.is_valid():
        try:
            done = record_or_begin(
                correct_lot,
                {"lot_id": found.pk, **form.cleaned_data},
                by=signed_in(request),
                title=f"Correction of the rubber of lot {found}",
                about=found,
                page=reverse("lot", args=[found.pk]),
                form=form,
                system=system_of(request),
            )
        except SecondPersonNeeded:
            raise
        except ValidationError as trouble:
            form.add_error(None, trouble)
        else:
            if isinstance(done, LongWork):
                return redirect("rerating", done.pk)
            messages.success(request, f"What is on record of lot {found} is corrected.")
            return redirect("lot", found.pk)
    return render(
        request, "lots/correct_form.html", {"section": "lots", "lot": found, "form": form}
    )
