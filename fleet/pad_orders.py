"""Pads ordered, promised anew, received and cancelled: by the functions all pages call."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from fleet import clock
from fleet.dates import day_words, moment_words
from fleet.models import (
    PadLot,
    PadOrder,
    PadOrderCancellation,
    PadOrderPromise,
    PadReceipt,
    PadReceiptTakenBack,
    StockMove,
    Yard,
)
from fleet.models.measured_fields import measured_field
from fleet.people.yards import in_yard_of
from fleet.stock import move_stock

# Beyond these a slip in the year is likelier than a delivery.
FURTHEST_BACK = timedelta(days=731)
LONGEST_WAIT = timedelta(days=731)
# Two receipts alike within it are likelier one, recorded twice.
ALIKE_WITHIN = timedelta(days=3)


@dataclass(frozen=True)
class KindOfPad:
    """A kind of pad that is in no yard yet: in words, and what is known of its rubber."""

    words: str
    hardness_shore_a: float | None = None
    bonded_area_in2: float | None = None
    rubber_thickness_in: float | None = None


@in_yard_of("yard")
@transaction.atomic
def order_pads(
    *,
    submission_id: uuid.UUID,
    yard: Yard,
    what: PadLot | KindOfPad,
    pads: int,
    price_each: Decimal | None,
    supplier: str,
    ordered_on: date,
    promised_on: date,
    ordered_by: str,
    by: User,
    currency: str = "",
    supplier_words: str = "",
    is_more: bool = False,
) -> PadOrder:
    """Record that pads were ordered for a yard: of a lot, or of a kind in no yard yet.

    currency: that of the yard where "". is_more: whether they come beside pads of the lot that
    are on order for the yard already. A second copy of a submission changes nothing. Raises
    ValidationError, naming the field, for a number, price, currency or day that can't be, a yard
    or lot out of use, and pads that seem to be ordered already.
    """
    yard = Yard.objects.select_for_update().get(pk=yard.pk)
    known = PadOrder.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    lot, kind = (what, None) if isinstance(what, PadLot) else (None, what)
    _refuse_yard(yard)
    if lot is not None:
        lot = PadLot.objects.select_for_update().get(pk=lot.pk)
        if lot.retired_on is not None:
            raise ValidationError(
                {
                    "lot": f"Lot {lot} is out of use since {day_words(lot.retired_on)}: order "
                    "another, or describe the kind of pad."
                }
            )
    elif kind is not None:
        _refuse_kind(kind)
    measured_field(PadOrder, "pads").refuse_out_of_bounds(pads)
    _refuse_price(price_each, currency, yard)
    _refuse_blank("supplier", supplier, "name who sells them.")
    _refuse_blank("ordered_by", ordered_by, "name who ordered them.")
    _refuse_days(ordered_on, promised_on)
    if lot is not None and not is_more:
        _ask_whether_more(lot, yard)
    order = PadOrder(
        submission_id=submission_id,
        yard=yard,
        lot=lot,
        kind=kind.words.strip() if kind else "",
        hardness_shore_a=kind.hardness_shore_a if kind else None,
        bonded_area_in2=kind.bonded_area_in2 if kind else None,
        rubber_thickness_in=kind.rubber_thickness_in if kind else None,
        pads=pads,
        price_each=price_each or Decimal(0),
        currency=yard.currency,
        supplier=supplier.strip(),
        supplier_words=supplier_words.strip(),
        ordered_on=ordered_on,
        promised_on=promised_on,
        ordered_by=ordered_by.strip(),
        recorded_by=by,
    )
    order.clean_fields(exclude=["lot", "yard", "recorded_by"])
    order.save()
    return order


@in_yard_of("order")
@transaction.atomic
def promise_anew(
    *, submission_id: uuid.UUID, order: PadOrder, promised_on: date, words: str, by: User
) -> PadOrderPromise:
    """Record another day that the supplier promised, and their words.

    A second copy of a submission changes nothing. Raises ValidationError, naming the field, for
    an order of which nothing is still to come, a day that has been or is too far off, or no words.
    """
    locked = _lock(order)
    known = PadOrderPromise.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    _refuse_ended(locked)
    today = clock.today()
    if promised_on < today:
        raise ValidationError(
            {"promised_on": f"{day_words(promised_on)} has been: give a day to come."}
        )
    if promised_on > today + LONGEST_WAIT:
        raise ValidationError(
            {
                "promised_on": f"{day_words(promised_on)} is more than two years off: is the year "
                "right?"
            }
        )
    _refuse_blank("words", words, "say who said so, and why.")
    return PadOrderPromise.objects.create(
        submission_id=submission_id,
        order=locked,
        promised_on=promised_on,
        words=words.strip(),
        recorded_by=by,
    )


@in_yard_of("order")
@transaction.atomic
def cancel_order(
    *, submission_id: uuid.UUID, order: PadOrder, reason: str, by: User
) -> PadOrderCancellation:
    """Record that what is still to come of an order won't come, and why; what came stays.

    The first to cancel it stands. Raises ValidationError where all of it came, or without a reason.
    """
    locked = _lock(order)
    if locked.cancelled is not None:
        return locked.cancelled
    _refuse_ended(locked)
    _refuse_blank("reason", reason, "say why they won’t come.")
    return PadOrderCancellation.objects.create(
        submission_id=submission_id, order=locked, reason=reason.strip(), recorded_by=by
    )


@in_yard_of("order")
@transaction.atomic
def receive_pads(
    *,
    submission_id: uuid.UUID,
    order: PadOrder,
    lot: PadLot,
    pads: int,
    received_at: datetime,
    by: User,
    more_reason: str = "",
    is_new_delivery: bool = False,
    note: str = "",
) -> PadReceipt:
    """Record that pads of an order came, and put them on the shelf of its yard.

    lot: of any mark, since a delivery may be a lot of its own. more_reason: why more came than
    were ordered, asked for where they did. is_new_delivery: that they are none of the pads that
    were put on the shelf since it was ordered. A second copy of a submission changes nothing.
    Raises ValidationError, naming the field, for a cancelled order, a number or time that can't
    be, a lot out of use, more than ordered, or what seems to be recorded already.
    """
    locked = _lock(order)
    known = PadReceipt.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    if locked.cancelled is not None:
        raise ValidationError(_cancelled_words(locked.cancelled))
    measured_field(PadReceipt, "pads").refuse_out_of_bounds(pads)
    day = timezone.localdate(received_at)
    if day > clock.today():
        raise ValidationError({"received_at": f"{moment_words(received_at)} is still to come."})
    if day < locked.ordered_on:
        raise ValidationError(
            {
                "received_at": f"They were ordered on {day_words(locked.ordered_on)}: give when "
                "they came, after that."
            }
        )
    if lot.retired_on is not None:
        raise ValidationError(
            {
                "lot": f"Lot {lot} is out of use since {day_words(lot.retired_on)}: choose the "
                "lot these pads are of, or enter a new one."
            }
        )
    if pads > locked.left and not more_reason.strip():
        raise ValidationError({"more_reason": _more_words(locked, pads)})
    if not is_new_delivery:
        _ask_whether_new(locked, lot, pads, received_at)
    move = move_stock(
        lot_id=lot.pk,
        kind=StockMove.Kind.RECEIVED,
        change=pads,
        occurred_at=received_at,
        by=by,
        note=f"order {locked.pk} from {locked.supplier}"[:200],
        submission_id=uuid.uuid5(submission_id, "move"),
        yard=locked.yard,
    )
    return PadReceipt.objects.create(
        submission_id=submission_id,
        order=locked,
        lot=lot,
        pads=pads,
        received_at=received_at,
        move=move,
        more_reason=more_reason.strip() if pads > locked.left else "",
        note=note.strip(),
        recorded_by=by,
    )


@in_yard_of("receipt")
@transaction.atomic
def take_receipt_back(
    *, submission_id: uuid.UUID, receipt: PadReceipt, reason: str, by: User
) -> PadReceiptTakenBack:
    """Record that pads did not come as a receipt says; they leave the shelf, and the order waits.

    The first to take it back stands. Raises ValidationError without a reason, and NotEnoughInStock
    where the shelf has fewer of them left.
    """
    locked = _lock(receipt.order)
    known = PadReceiptTakenBack.objects.filter(receipt=receipt).first()
    if known is not None:
        return known
    _refuse_blank("reason", reason, "say what is wrong with it.")
    move = move_stock(
        lot_id=receipt.lot_id,
        kind=StockMove.Kind.COUNTED,
        change=-receipt.pads,
        occurred_at=clock.now(),
        by=by,
        note=f"receipt of order {locked.pk} taken back",
        submission_id=uuid.uuid5(submission_id, "move"),
        yard=locked.yard,
    )
    return PadReceiptTakenBack.objects.create(
        submission_id=submission_id,
        receipt=receipt,
        move=move,
        reason=reason.strip(),
        recorded_by=by,
    )


class MayBeOrdered(ValidationError):
    """Pads are said to have come by no order while one is under way that they may be of."""

    def __init__(self, order: PadOrder) -> None:
        self.waits = (
            f"{order.left} pads of order {order.pk} ({order.what}) are still to come to "
            f"{order.yard}"
        )
        super().__init__(
            {
                "is_of_no_order": f"{self.waits}: record these on its page, or say that they are "
                "of no order."
            }
        )


@in_yard_of("yard")
@transaction.atomic
def receive_without_order(
    *,
    lot_id: int,
    pads: int,
    yard: Yard | None,
    occurred_at: datetime,
    by: User,
    is_of_no_order: bool = False,
    note: str = "",
    submission_id: uuid.UUID | None = None,
) -> StockMove:
    """Put pads on a shelf that came by no order; asks whether they are not those of one.

    Of a yard's shelf its orders under way are asked about, of lots and of kinds in no yard yet;
    of the shelf of no yard all orders of the lot. is_of_no_order: said of pads of none of them. A
    second copy of a submission changes nothing. Raises MayBeOrdered where such an order was made
    by the day they came and nobody said so, and ValidationError as move_stock does.
    """
    lot = PadLot.objects.select_for_update().get(pk=lot_id)
    known = StockMove.objects.filter(submission_id=submission_id).first() if submission_id else None
    if known is not None:
        return known
    if not is_of_no_order:
        orders = PadOrder.objects.open().select_related("yard", "lot").order_by("pk")
        orders = orders.filter(ordered_on__lte=timezone.localdate(occurred_at))
        if yard is None:
            orders = orders.filter(lot=lot)
        else:
            orders = orders.filter(Q(lot=lot) | Q(lot=None), yard=yard)
        if (order := orders.first()) is not None:
            raise MayBeOrdered(order)
    return move_stock(
        lot_id=lot_id,
        kind=StockMove.Kind.RECEIVED,
        change=pads,
        occurred_at=occurred_at,
        by=by,
        note=note,
        submission_id=submission_id,
        yard=yard,
    )


def _lock(order: PadOrder) -> PadOrder:
    """Return an order as it is now, held against everybody else."""
    PadOrder.objects.select_for_update().get(pk=order.pk)
    return PadOrder.objects.with_state().select_related("yard", "lot").get(pk=order.pk)


def _refuse_blank(name: str, given: str, wanted: str) -> None:
    if not given.strip():
        raise ValidationError({name: f"This is blank: {wanted}"})


def _refuse_yard(yard: Yard) -> None:
    if yard.retired_on is not None and yard.retired_on <= clock.today():
        raise ValidationError(
            {"yard": f"Yard {yard} is out of use since {day_words(yard.retired_on)}."}
        )
    if not yard.currency:
        raise ValidationError(
            {
                "yard": f"Yard {yard} has no currency yet: give it one under Set-up, then record "
                "the order."
            }
        )


def _refuse_kind(kind: KindOfPad) -> None:
    _refuse_blank("kind", kind.words, "choose a lot, or say what kind of pad it is.")
    for name in ("hardness_shore_a", "bonded_area_in2", "rubber_thickness_in"):
        measured_field(PadOrder, name).refuse_out_of_bounds(getattr(kind, name))


def _refuse_price(price_each: Decimal | None, currency: str, yard: Yard) -> None:
    if price_each is None:
        raise ValidationError({"price_each": "This is blank: give what one pad costs."})
    if price_each < 0:
        raise ValidationError({"price_each": f"“{price_each}” won’t do: give 0 or more."})
    given = currency.strip().upper()
    if given and given != yard.currency:
        raise ValidationError(
            {
                "currency": f"“{currency}” won’t do: yard {yard} pays in {yard.currency}. Give "
                "the price in that, as the bill will have it."
            }
        )


def _refuse_days(ordered_on: date, promised_on: date) -> None:
    today = clock.today()
    if ordered_on > today:
        raise ValidationError(
            {"ordered_on": f"{day_words(ordered_on)} is still to come: record it once ordered."}
        )
    if ordered_on < today - FURTHEST_BACK:
        raise ValidationError(
            {"ordered_on": f"{day_words(ordered_on)} is over two years ago: is the year right?"}
        )
    if promised_on < ordered_on:
        raise ValidationError(
            {
                "promised_on": f"{day_words(promised_on)} is before they were ordered, on "
                f"{day_words(ordered_on)}."
            }
        )
    if promised_on > ordered_on + LONGEST_WAIT:
        raise ValidationError(
            {
                "promised_on": f"{day_words(promised_on)} is over two years after they were "
                "ordered: is the year right?"
            }
        )


def _ask_whether_more(lot: PadLot, yard: Yard) -> None:
    there = PadOrder.objects.open().filter(lot=lot, yard=yard).first()
    if there is not None:
        raise ValidationError(
            {
                "is_more": f"{there.left} pads of lot {lot} are on order for {yard} already "
                f"(order {there.pk}, {day_words(there.ordered_on)}): say that these come beside "
                "them, or leave it at that order."
            }
        )


def _ask_whether_new(order: PadOrder, lot: PadLot, pads: int, received_at: datetime) -> None:
    """Ask whether pads are not those somebody put on record already."""
    twin = (
        order.receipts.standing()
        .filter(
            lot=lot,
            pads=pads,
            received_at__range=(received_at - ALIKE_WITHIN, received_at + ALIKE_WITHIN),
        )
        .first()
    )
    if twin is not None:
        raise ValidationError(
            {
                "is_new_delivery": f"{pads} pads of lot {lot} are on record of this order as come "
                f"on {moment_words(twin.received_at)}: are these others?"
            }
        )
    # Of no receipt: put on the shelf by hand, or found there by a count, since it was ordered.
    loose = (
        StockMove.objects.filter(
            Q(yard=order.yard) | Q(yard=None),
            kind__in=[StockMove.Kind.RECEIVED, StockMove.Kind.COUNTED],
            lot=lot,
            change__gt=0,
            receipt__isnull=True,
        )
        .filter(occurred_at__date__gte=order.ordered_on)
        .first()
    )
    if loose is not None:
        how = "were received" if loose.kind == StockMove.Kind.RECEIVED else "more were counted"
        raise ValidationError(
            {
                "is_new_delivery": f"{loose.change} pads of lot {lot} {how} on "
                f"{day_words(loose.occurred_at)} by no order: are these others?"
            }
        )


def _refuse_ended(order: PadOrder) -> None:
    if order.cancelled is not None:
        raise ValidationError(_cancelled_words(order.cancelled))
    if order.left == 0:
        raise ValidationError(f"All {order.pads} pads of order {order.pk} came: nothing is left.")


def _cancelled_words(cancelled: PadOrderCancellation) -> str:
    return (
        f"Order {cancelled.order_id} was cancelled on {day_words(cancelled.recorded_at)}: "
        f"{cancelled.reason}. Pads that came all the same are received on the page of their lot."
    )


def _more_words(order: PadOrder, pads: int) -> str:
    if order.left == 0:
        return (
            f"All {order.pads} pads of it came already: say why {pads} more did, or check whether "
            "these are recorded."
        )
    return f"{order.left} of {order.pads} are still to come, and {pads} is more: say why."
