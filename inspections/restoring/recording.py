"""Keep a plan as it was made, and order what it says."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction

from fleet import clock
from fleet.models import SuppressorHousing
from fleet.roles import who_words
from inspections.models import RepairOrder, RestorePlan
from inspections.repairs.recording import order_repair
from inspections.restoring.planning import Asked, changes_since, make


@transaction.atomic
def keep_plan(*, submission_id: uuid.UUID, asked: Asked, by: User) -> RestorePlan:
    """Make the best plan for what is asked and keep it, with what it rests on.

    A second copy of a submission changes nothing. Raises ValidationError where none can be made,
    or where no unit is short.
    """
    known = RestorePlan.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    made = make(asked)
    if not made.document["units"]:
        raise ValidationError("No unit here is short of its listing: there is nothing to plan.")
    return RestorePlan.objects.create(
        submission_id=submission_id,
        goal=asked.goal,
        housing=asked.housing,
        yard=asked.yard,
        takes_from_units=asked.takes_from_units,
        buys=asked.buys,
        document=made.document,
        basis=made.basis,
        recorded_by=by,
    )


@transaction.atomic
def order_from_plan(*, plan: RestorePlan, housing_id: int, by: User) -> RepairOrder:
    """Order the fitting that a plan has for one unit; asked twice it is one order.

    Raises ValidationError where the plan has no pads for that unit, or rests on what changed.
    """
    known = ordered(plan, housing_id)
    if known is not None:
        return known
    unit = unit_of(plan, housing_id)
    if unit is None or not unit["placed"]:
        raise ValidationError("The plan fits no pads to that unit: there is nothing to order.")
    changed = changes_since(plan)
    if changed:
        raise ValidationError(
            f"Since the plan was made these changed: {', '.join(changed)}. Make it anew first."
        )
    return order_repair(
        submission_id=_order_id(plan, housing_id),
        machine=SuppressorHousing.objects.get(pk=housing_id),
        what=_what(plan, unit),
        who=who_words(by)[:80],
        planned_on=clock.today() + timedelta(days=min(unit["days"], 365)),
        parts_needed=_parts(unit),
        by=by,
    )


def ordered(plan: RestorePlan, housing_id: int) -> RepairOrder | None:
    """Return the order made of a plan for one unit, None where none was."""
    found: RepairOrder | None = RepairOrder.objects.filter(
        submission_id=_order_id(plan, housing_id)
    ).first()
    return found


def unit_of(plan: RestorePlan, housing_id: int) -> dict[str, Any] | None:
    """Return what a plan does for one unit, None where it is not of it."""
    units: list[dict[str, Any]] = plan.document["units"]
    return next((each for each in units if each["housing"] == housing_id), None)


def _order_id(plan: RestorePlan, housing_id: int) -> uuid.UUID:
    return uuid.uuid5(plan.submission_id, f"order for {housing_id}")


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
