"""The pages of orders of pads: ordered, promised anew, received in parts, cancelled."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.context import system_of
from fleet.fields import show_refusal, whole_number
from fleet.models import PadLot, PadOrder, PadPrice, PadReceipt, Yard
from fleet.pad_orders import cancel_order, order_pads, promise_anew, receive_pads, take_receipt_back
from fleet.people.own_yards import opens_in_own_yards
from fleet.prices import price_of
from fleet.roles import RECORD, manager_required, signed_in, who_words
from fleet.tables import records_page, table_of
from ratings.models import LotRating
from ratings.orders.forms import (
    CancelForm,
    PadOrderForm,
    PromiseForm,
    ReceiptForm,
    TakeBackForm,
)
from ratings.orders.tables import (
    PadOrderFilter,
    PadOrderTable,
    PadPromiseTable,
    PadReceiptTable,
    orders_with_all,
)


@opens_in_own_yards
def orders(request: HttpRequest) -> HttpResponse:
    """Show every order of pads, the newest first."""
    filters = PadOrderFilter(request.GET, queryset=orders_with_all(), request=request)
    table = table_of(request, PadOrderTable, filters.qs)
    return records_page(request, "orders/orders.html", table, filters, {"section": "lots"})


@manager_required
def new_order(request: HttpRequest) -> HttpResponse:
    """Record an order of pads; a lot and a yard named in the address fill the form."""
    form = PadOrderForm(
        request.POST if request.method == "POST" else None,
        initial=_initial(request),
        system=system_of(request),
    )
    if request.method == "POST" and form.is_valid():
        try:
            made = order_pads(by=signed_in(request), **form.order)
        except ValidationError as refusal:
            show_refusal(form, refusal, system_of(request))
        else:
            messages.success(request, f"Order {made.pk} is recorded.")
            return redirect("pad-order", made.pk)
    return render(request, "orders/order_form.html", {"section": "lots", "form": form})


def order(request: HttpRequest, pad_order_id: int) -> HttpResponse:
    """Show an order: what came of it, when the rest is promised; who records adds to it."""
    found = get_object_or_404(orders_with_all(), pk=pad_order_id)
    forms = _forms(request, found)
    if request.method == "POST":
        if not signed_in(request).has_perm(RECORD):
            raise PermissionDenied
        name = next((each for each in forms if each in request.POST), None)
        if name is not None and forms[name].is_valid() and _take(request, found, name, forms[name]):
            return redirect("pad-order", found.pk)
    receipts = found.receipts.select_related("lot", "recorded_by", "taken_back__recorded_by")
    came_of = {each.lot_id for each in found.receipts.standing()}
    rated = LotRating.objects.in_force_by_lot(came_of) if came_of else {}
    price = None
    if found.lot_id is not None:
        price = _price(found.lot_id, found.yard)
    return render(
        request,
        "orders/order.html",
        {
            "section": "lots",
            "order": found,
            "forms": forms,
            "unrated": PadLot.objects.in_use().filter(pk__in=came_of - set(rated)),
            "price": price,
            "is_old_price": price is not None and price.is_old(timezone.localdate()),
            "tables": [
                table_of(request, PadReceiptTable, receipts),
                table_of(request, PadPromiseTable, found.promises.select_related("recorded_by")),
            ],
        },
    )


@manager_required
def take_back(request: HttpRequest, receipt_id: int) -> HttpResponse:
    """Take back a receipt that was wrong."""
    receipt = get_object_or_404(PadReceipt.objects.select_related("order", "lot"), pk=receipt_id)
    form = TakeBackForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            take_receipt_back(receipt=receipt, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal, system_of(request))
        else:
            messages.success(request, f"{receipt.pads} pads of lot {receipt.lot} count no more.")
            return redirect("pad-order", receipt.order_id)
    return render(
        request, "orders/take_back.html", {"section": "lots", "form": form, "receipt": receipt}
    )


def _forms(request: HttpRequest, found: PadOrder) -> dict[str, Any]:
    """Return the forms of an order's page by the name of their button; the one sent is filled."""

    def sent(name: str) -> Any:
        return request.POST if request.method == "POST" and name in request.POST else None

    return {
        "receive": ReceiptForm(sent("receive"), order=found, auto_id="receive_%s"),
        "promise": PromiseForm(sent("promise"), auto_id="promise_%s"),
        "cancel": CancelForm(sent("cancel"), auto_id="cancel_%s"),
    }


def _take(request: HttpRequest, found: PadOrder, name: str, form: Any) -> bool:
    given, by = dict(form.cleaned_data), signed_in(request)
    try:
        match name:
            case "receive":
                came = receive_pads(order=found, by=by, **given)
                said = f"{came.pads} pads of lot {came.lot} are on the shelf of {found.yard}."
            case "promise":
                promise_anew(order=found, by=by, **given)
                said = "The new day is recorded."
            case _:
                cancel_order(order=found, by=by, **given)
                said = "The order is cancelled."
    except ValidationError as refusal:
        show_refusal(form, refusal, system_of(request))
        return False
    messages.success(request, said)
    return True


def _price(lot_id: int, yard: Yard) -> PadPrice | None:
    prices = PadPrice.objects.in_force(timezone.localdate())
    return price_of(prices, lot_id, yard.pk, yard.currency)


def _initial(request: HttpRequest) -> dict[str, Any]:
    today = timezone.localdate()
    given: dict[str, Any] = {"ordered_on": today, "ordered_by": who_words(signed_in(request))[:80]}
    keys = {name: whole_number(request.GET.get(name, "")) for name in ("lot", "yard", "pads")}
    lot = PadLot.objects.in_use().filter(pk=keys["lot"]).first() if keys["lot"] else None
    yards = Yard.objects.filter(retired_on__isnull=True)
    yard = yards.filter(pk=keys["yard"]).first() if keys["yard"] else None
    if yard is None and yards.count() == 1:
        yard = yards.get()
    if lot is not None:
        given |= {"lot": lot.pk, "supplier": lot.supplier}
    if yard is not None:
        given |= {"yard": yard.pk, "currency": yard.currency}
    if keys["pads"] is not None:
        given["pads"] = keys["pads"]
    if lot is not None and yard is not None:
        price = _price(lot.pk, yard)
        # A price of last year is asked for anew, not carried into an order.
        if price is not None and not price.is_old(today):
            given |= {
                "price_each": str(price.amount),
                "promised_on": today + timedelta(days=price.lead_days),
            }
    return given
