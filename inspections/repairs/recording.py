"""Order a repair, record what it took and cost, and close it: by the functions all pages call."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.db import transaction

from fleet import clock
from fleet.dates import day_words, moment_words
from fleet.models.machine import column_of
from fleet.outages import lock_machine
from fleet.people.yards import in_yard_of, lock_and_look_again
from fleet.uploads import Form, let_in
from inspections.models import (
    Finding,
    RepairClosing,
    RepairLine,
    RepairLineTakenBack,
    RepairOrder,
    RepairPhoto,
)
from inspections.service.recording import close_finding

# Beyond these a slip in a month or a year is likelier than a plan.
FURTHEST_AHEAD = timedelta(days=366)
FURTHEST_BACK = timedelta(days=366)
MOST_PHOTOS = 40


@in_yard_of("machine")
@transaction.atomic
def order_repair(
    *,
    submission_id: uuid.UUID,
    machine: Any,
    what: str,
    who: str,
    planned_on: date,
    by: User,
    parts_needed: str = "",
    finding: Finding | None = None,
) -> RepairOrder:
    """Order a repair of a machine, of what was found there or by hand.

    A second copy of a submission changes nothing. Raises ValidationError, naming the field, where
    nothing is said to be done or nobody to do it, the day can't be, the machine is out of use, or
    the finding is of another machine, closed, or ordered already.
    """
    locked = lock_machine(machine)
    known: RepairOrder | None = RepairOrder.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    _refuse_blank("what", what, "say what is to be done.")
    _refuse_blank("who", who, "name who does it.")
    _refuse_day(planned_on)
    if locked.retired_on is not None and locked.retired_on <= clock.today():
        raise ValidationError(
            {
                "machine": f"{locked} is out of use since {day_words(locked.retired_on)}: put it "
                "back in use first, or choose another machine."
            }
        )
    if finding is not None:
        _refuse_finding(finding, locked)
    made: RepairOrder = RepairOrder.objects.create(
        submission_id=submission_id,
        finding=finding,
        what=what.strip(),
        who=who.strip(),
        planned_on=planned_on,
        parts_needed=parts_needed.strip(),
        recorded_by=by,
        **column_of(locked),
    )
    return made


@in_yard_of("order")
@transaction.atomic
def add_line(
    *,
    submission_id: uuid.UUID,
    order: RepairOrder,
    kind: str,
    text: str,
    amount: Decimal,
    by: User,
    price_each: Decimal | None = None,
) -> RepairLine:
    """Record a part used or hours worked in a repair, priced in the currency of its yard.

    Also of an order that is done: a bill may come later. A second copy of a submission changes
    nothing. Raises ValidationError, naming the field, for a cancelled order, an amount or a price
    that can't be, or a price where the yard has no currency.
    """
    locked = _lock(order)
    known = RepairLine.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    _refuse_cancelled(locked)
    currency = locked.machine.yard.currency if price_each is not None else ""
    if price_each is not None and not currency:
        raise ValidationError(
            {
                "price_each": f"Yard {locked.machine.yard} has no currency yet: give it one under "
                "Set-up, or leave the price blank."
            }
        )
    line = RepairLine(
        submission_id=submission_id,
        order=locked,
        kind=kind,
        text=text.strip(),
        amount=amount,
        price_each=price_each,
        currency=currency,
        recorded_by=by,
    )
    line.clean_fields(exclude=["order", "recorded_by"])
    line.save()
    return line


@in_yard_of("line")
@transaction.atomic
def take_back_line(
    *, submission_id: uuid.UUID, line: RepairLine, reason: str, by: User
) -> RepairLineTakenBack:
    """Record that a line of a repair was wrong; it stays in view and counts no more.

    The first to take it back stands. Raises ValidationError where no reason is given.
    """
    _lock(line.order)
    known = RepairLineTakenBack.objects.filter(line=line).first()
    if known is not None:
        return known
    _refuse_blank("reason", reason, "say what is wrong with it.")
    return RepairLineTakenBack.objects.create(
        submission_id=submission_id, line=line, reason=reason.strip(), recorded_by=by
    )


@in_yard_of("order")
@transaction.atomic
def add_photo(
    *, photo_id: uuid.UUID, order: RepairOrder, when: str, sent: bytes, by: User, caption: str = ""
) -> RepairPhoto:
    """Keep a photo of a machine before or after its repair, made anew without its tags.

    A second copy changes nothing. Raises ValidationError for too many of one order or a cancelled
    one, and NoPicture where it is none.
    """
    locked = _lock(order)
    known = RepairPhoto.objects.filter(pk=photo_id).first()
    if known is not None:
        return known
    _refuse_cancelled(locked)
    if locked.photos.count() >= MOST_PHOTOS:
        raise ValidationError({"photo": f"{MOST_PHOTOS} photos are here: no order takes more."})
    picture = let_in(sent, Form.PICTURE)
    return RepairPhoto.objects.create(
        pk=photo_id,
        order=locked,
        when=when,
        caption=caption.strip(),
        file=ContentFile(picture.content, name=f"{photo_id}.jpg"),
        sha256=picture.sha256,
        width=picture.width,
        height=picture.height,
        recorded_by=by,
    )


@in_yard_of("order")
@transaction.atomic
def finish_repair(
    *,
    submission_id: uuid.UUID,
    order: RepairOrder,
    ended_at: datetime,
    text: str,
    done_by: str,
    closes_finding: bool,
    by: User,
) -> RepairClosing:
    """Record that a repair is done; it closes what it was ordered for, where that is said too.

    It changes no pad, no travel and no figure, and releases nothing: what was fitted is recorded
    by a replacement, and a machine out of service is released by itself. The first to end an order
    stands, and a second copy changes nothing. Raises ValidationError, naming the field, where
    nothing is said, nobody did it, the time lies before it was found, or the order was cancelled.
    """
    locked = _lock(order)
    if locked.ended is not None:
        if locked.ended.kind == RepairClosing.Kind.DONE:
            return locked.ended
        raise ValidationError(_cancelled_words(locked))
    _refuse_blank("text", text, "say what was done.")
    _refuse_blank("done_by", done_by, "name who did it.")
    found = locked.finding
    if found is not None and ended_at < found.inspection.seen_at:
        raise ValidationError(
            {
                "ended_at": f"This is before it was found, on "
                f"{moment_words(found.inspection.seen_at)}: give when it was done."
            }
        )
    closing = _end(locked, submission_id, RepairClosing.Kind.DONE, ended_at, text, by, done_by)
    if found is not None and closes_finding:
        close_finding(
            submission_id=uuid.uuid5(submission_id, "finding"),
            finding=found,
            closed_at=ended_at,
            done=f"{text.strip()} (by {done_by.strip()}, repair order {locked.pk})"[:1000],
            by=by,
        )
    return closing


@in_yard_of("order")
@transaction.atomic
def cancel_repair(
    *, submission_id: uuid.UUID, order: RepairOrder, reason: str, by: User
) -> RepairClosing:
    """Record that a repair is not made, and why; what was found stays open.

    A second copy changes nothing. Raises ValidationError where it is done or no reason is given.
    """
    locked = _lock(order)
    if locked.ended is not None:
        if locked.ended.kind == RepairClosing.Kind.CANCELLED:
            return locked.ended
        raise ValidationError(
            f"Repair order {locked.pk} is done since {moment_words(locked.ended.ended_at)}."
        )
    _refuse_blank("reason", reason, "say why it is not made.")
    return _end(locked, submission_id, RepairClosing.Kind.CANCELLED, clock.now(), reason, by)


@dataclass(frozen=True)
class Cost:
    """What a repair cost: a sum for each currency, and how many of its lines have no price."""

    sums: tuple[tuple[str, Decimal], ...]
    unpriced: int
    hours: Decimal


def cost_of(lines: list[RepairLine]) -> Cost:
    """Return what lines of a repair come to, those taken back left out."""
    sums: dict[str, Decimal] = {}
    unpriced, hours = 0, Decimal(0)
    for line in lines:
        if hasattr(line, "taken_back"):
            continue
        if line.kind == RepairLine.Kind.LABOUR:
            hours += line.amount
        if line.cost is None:
            unpriced += 1
        else:
            sums[line.currency] = sums.get(line.currency, Decimal(0)) + line.cost
    return Cost(tuple(sorted(sums.items())), unpriced, hours)


def _lock(order: RepairOrder) -> RepairOrder:
    """Return an order as it is now, held against everybody else, and so its machine by the gate."""
    lock_and_look_again()
    RepairOrder.objects.select_for_update().get(pk=order.pk)
    locked: RepairOrder
    locked = RepairOrder.objects.select_related("finding__inspection", "closing").get(pk=order.pk)
    return locked


def _end(
    order: RepairOrder,
    submission_id: uuid.UUID,
    kind: str,
    ended_at: datetime,
    text: str,
    by: User,
    done_by: str = "",
) -> RepairClosing:
    return RepairClosing.objects.create(
        submission_id=submission_id,
        order=order,
        kind=kind,
        ended_at=ended_at,
        text=text.strip(),
        done_by=done_by.strip(),
        recorded_by=by,
    )


def _refuse_blank(field: str, text: str, needed: str) -> None:
    if not text.strip():
        raise ValidationError({field: f"This is blank: {needed}"})


def _refuse_day(planned_on: date) -> None:
    today = clock.today()
    if not today - FURTHEST_BACK <= planned_on <= today + FURTHEST_AHEAD:
        raise ValidationError(
            {
                "planned_on": f"{day_words(planned_on)} is more than a year from today: is the "
                "year right?"
            }
        )


def _refuse_finding(finding: Finding, machine: Any) -> None:
    if finding.machine != machine:
        raise ValidationError(
            {"machine": f"That was found at {finding.machine}: order the repair there."}
        )
    if hasattr(finding, "closing"):
        raise ValidationError(
            f"“{finding.text}” was closed on {moment_words(finding.closing.closed_at)}: there is "
            "nothing to repair of it. Order a repair by hand if there is more to do."
        )
    ordered = finding.repair_orders.open().first()
    if ordered is not None:
        raise ValidationError(
            f"“{finding.text}” has a repair order already, number {ordered.pk}, for "
            f"{day_words(ordered.planned_on)}: cancel that one first, or leave it."
        )


def _refuse_cancelled(order: RepairOrder) -> None:
    if order.ended is not None and order.ended.kind == RepairClosing.Kind.CANCELLED:
        raise ValidationError(_cancelled_words(order))


def _cancelled_words(order: RepairOrder) -> str:
    ended = order.ended
    assert ended is not None
    return (
        f"Repair order {order.pk} was cancelled on {moment_words(ended.ended_at)}: {ended.text}. "
        "Order the repair anew."
    )
