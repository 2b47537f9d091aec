"""Keep a plan as it was made, and order what it says."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Mapping
from datetime import timedelta
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet import clock
from fleet.dates import day_words
from fleet.housings import lock_housing
from fleet.models import SuppressorHousing
from fleet.people.places import EVERY_YARD
from fleet.people.yards import in_yard_of, lock_and_look_again
from fleet.roles import who_words
from inspections.models import RepairClosing, RepairLine, RepairOrder, RestorePlan
from inspections.repairs.recording import add_line, finish_repair, order_repair
from inspections.restoring.held import Came, Fate, came_of
from inspections.restoring.planning import Asked, changes_since, make

# An order is planned for no day further ahead.
FURTHEST_DAYS = 365


class PlanChanged(ValidationError):
    """The plan that was seen is not the one that would be kept."""


def _of_what(given: Mapping[str, Any]) -> tuple[Any, ...]:
    """A plan is of one housing, of a yard, or of the whole fleet."""
    asked: Asked = given["asked"]
    return (asked.housing or asked.yard or EVERY_YARD,)


@in_yard_of(_of_what)
@transaction.atomic
def keep_plan(
    *, submission_id: uuid.UUID, asked: Asked, by: User, seen: str | None = None
) -> RestorePlan:
    """Make the best plan for what is asked and keep it, with what it rests on.

    seen: the digest of the plan that was shown; None where nobody was shown one. A second copy
    of a submission changes nothing. Raises PlanChanged where what was shown rests on what changed
    since, ValidationError where no plan can be made or no unit is short.
    """
    lock_and_look_again()
    known = RestorePlan.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    made = make(asked)
    if not any(each["placed"] for each in made.document["units"]):
        raise ValidationError("No unit here is to be given pads: there is nothing to plan.")
    if seen is not None and seen != made.digest:
        raise PlanChanged(
            "The plan is not kept: what it rests on changed since it was shown. Look again."
        )
    kept, _ = RestorePlan.objects.get_or_create(
        submission_id=submission_id,
        defaults={
            "goal": asked.goal,
            "housing": asked.housing,
            "yard": asked.yard,
            "takes_from_units": asked.takes_from_units,
            "buys": asked.buys,
            "document": made.document,
            "basis": made.basis,
            "recorded_by": by,
        },
    )
    return kept


@in_yard_of("housing_id")
@transaction.atomic
def order_from_plan(*, plan: RestorePlan, housing_id: int, by: User) -> RepairOrder:
    """Order the fitting that a plan has for one unit; asked twice it is one order.

    Raises ValidationError where the plan has no pads for that unit, rests on what changed, or an
    order of another plan is still open for it: the same positions are not ordered twice.
    """
    known = ordered(plan, housing_id)
    if known is not None:
        return known
    unit = unit_of(plan, housing_id)
    if unit is None or not unit["placed"]:
        raise ValidationError("The plan fits no pads to that unit: there is nothing to order.")
    lock_housing(housing_id)
    other = open_orders([housing_id]).get(housing_id)
    if other is not None and other.submission_id == plan.order_id(housing_id):
        return other
    if other is not None:
        raise ValidationError(
            f"Repair order {other.pk} is open by another plan for this unit: carry that one out, "
            "or cancel it first."
        )
    if not is_sourced(unit):
        raise ValidationError(
            "Where the pads of that unit come from was not kept with the plan: make it anew first."
        )
    if unit["days"] > FURTHEST_DAYS:
        raise ValidationError(
            f"The pads come in {unit['days']} days, and a repair is planned for a day within "
            f"{FURTHEST_DAYS}: order the pads, and the repair once they are nearer."
        )
    changed = changes_since(plan)
    if changed:
        raise ValidationError(
            f"Since the plan was made these changed: {', '.join(changed)}. Make it anew first."
        )
    return order_repair(
        submission_id=plan.order_id(housing_id),
        machine=SuppressorHousing.objects.get(pk=housing_id),
        what=_what(plan, unit),
        who=who_words(by)[:80],
        planned_on=clock.today() + timedelta(days=unit["days"]),
        parts_needed=_parts(unit),
        by=by,
    )


@in_yard_of("housing_id")
@transaction.atomic
def close_with_parts(*, plan: RestorePlan, housing_id: int, by: User) -> RepairClosing:
    """Close the order of a plan carried out, its pads recorded as parts at the prices of the plan.

    Asked twice it is one closing. Raises ValidationError where no order was made of the plan, its
    pads did not all go in as planned, or a part is on record already.
    """
    order, unit = ordered(plan, housing_id), unit_of(plan, housing_id)
    if order is None or unit is None:
        raise ValidationError("No repair order was made of this plan for that unit.")
    lock_housing(housing_id)
    if order.ended is not None and order.ended.kind == RepairClosing.Kind.DONE:
        return order.ended
    came = closable(plan, order)
    if came is None or came.fitted_at is None:
        raise ValidationError(
            f"Repair order {order.pk} is not closed by its plan: not all its pads went in as "
            "planned, or a part is on record already. Record what was used, and close it by hand."
        )
    currency = order.machine.yard.currency
    for number, draw in enumerate(unit["draws"]):
        price = draw["each"] if (draw["currency"] or plan.document["currency"]) == currency else ""
        add_line(
            submission_id=uuid.uuid5(order.submission_id, f"part {number}"),
            order=order,
            kind=RepairLine.Kind.PART,
            text=f"Pads of lot {draw['lot']}, priced by restoring plan {plan.pk} of "
            f"{day_words(timezone.localdate(plan.recorded_at))}",
            amount=Decimal(draw["pads"]),
            price_each=Decimal(price) if price and currency else None,
            by=by,
        )
    return finish_repair(
        submission_id=uuid.uuid5(order.submission_id, "done"),
        order=order,
        ended_at=came.fitted_at,
        text=f"{came.pads_promised} pads fitted by restoring plan {plan.pk}.",
        done_by=who_words(by)[:80],
        closes_finding=False,
        by=by,
    )


def closable(plan: RestorePlan, order: RepairOrder) -> Came | None:
    """Return what came of the plan of an open order, where its pads are all that is to record."""
    has_parts = order.lines.standing().filter(kind=RepairLine.Kind.PART).exists()
    if order.ended is not None or has_parts:
        return None
    found = (each for each in came_of([plan]) if each.housing == order.housing_id)
    return next((each for each in found if each.fate is Fate.DONE), None)


def ordered(plan: RestorePlan, housing_id: int) -> RepairOrder | None:
    """Return the order made of a plan for one unit, None where none was."""
    found: RepairOrder | None = RepairOrder.objects.filter(
        submission_id=plan.order_id(housing_id)
    ).first()
    return found


def open_orders(housing_ids: Collection[int]) -> dict[int, RepairOrder]:
    """Return the repair order of each unit that was made of a plan and is still to be done."""
    orders = list(RepairOrder.objects.open().filter(housing__in=housing_ids).order_by("pk"))
    if not orders:
        return {}
    plans = list(RestorePlan.objects.defer("document", "basis"))
    return {
        each.housing_id: each
        for each in orders
        if each.housing_id is not None
        and any(plan.order_id(each.housing_id) == each.submission_id for plan in plans)
    }


def is_sourced(unit: Mapping[str, Any]) -> bool:
    """Say whether a plan tells of each pad of a unit where it comes from."""
    drawn: int = sum(each["pads"] for each in unit["draws"])
    return drawn == len(unit["placed"])


def unit_of(plan: RestorePlan, housing_id: int) -> dict[str, Any] | None:
    """Return what a plan does for one unit, None where it is not of it."""
    units: list[dict[str, Any]] = plan.document["units"]
    return next((each for each in units if each["housing"] == housing_id), None)


def _what(plan: RestorePlan, unit: dict[str, Any]) -> str:
    lots: dict[str, list[str]] = {}
    for each in unit["placed"]:
        lots.setdefault(each["lot"], []).append(f"{each['side']}{each['number']}")
    fit = "; ".join(f"lot {lot} at {', '.join(places)}" for lot, places in sorted(lots.items()))
    first = [
        f"take {each['pads']} of lot {each['lot']} out of {each['where']}"
        for each in unit["draws"]
        if each["kind"] == "unit"
    ]
    before = f"First {', '.join(first)}. " if first else ""
    return f"{before}Fit pads by restoring plan {plan.pk}: {fit}."[:1000]


def _parts(unit: dict[str, Any]) -> str:
    return "; ".join(f"{pads} pads of lot {lot}" for lot, pads in unit["by_lot"])[:500]
