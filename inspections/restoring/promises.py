"""How many days a plan promises: until its pads come, and then as long as repairs take."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import timedelta
from statistics import median
from typing import Any
from uuid import UUID

from django.utils import timezone

from inspections.models import RepairClosing, RepairOrder, RestorePlan

# Common practice, no published source: of fewer repairs the median is one of them by chance.
LEAST_REPAIRS = 3
# What was long ago says little of how fast the yard works today.
REPAIRS_LOOKED_AT = 20


def repair_days(yard_ids: Iterable[int]) -> dict[int, tuple[int | None, int]]:
    """Return by yard the days a repair of a housing takes there, and of how many that is known.

    From the order to when it was done, of one that waited for pads from the day they were to
    come: the median, rounded up, of the last finished; None of fewer than LEAST_REPAIRS.
    """
    done = (
        RepairOrder.objects.filter(
            housing__yard__in=list(yard_ids), closing__kind=RepairClosing.Kind.DONE
        )
        .select_related("housing", "closing")
        .order_by("-closing__ended_at", "-pk")
    )
    waits = _waits()
    found: dict[int, list[int]] = defaultdict(list)
    for order in done:
        assert order.housing is not None
        times = found[order.housing.yard_id]
        if len(times) == REPAIRS_LOOKED_AT:
            continue
        waited = timedelta(days=waits.get(order.submission_id, 0))
        begun = timezone.localdate(order.recorded_at) + waited
        times.append(max(0, (timezone.localdate(order.closing.ended_at) - begun).days))
    return {
        key: (math.ceil(median(found[key])) if len(found[key]) >= LEAST_REPAIRS else None,
              len(found[key]))
        for key in yard_ids
    }  # fmt: skip


def _waits() -> dict[UUID, int]:
    """Return by the submission of its repair order how long a plan's unit waited for pads."""
    return {
        plan.order_id(unit["housing"]): unit["days"]
        for plan in RestorePlan.objects.defer("basis")
        for unit in plan.document["units"]
        if unit["days"]
    }


def promise(unit: Mapping[str, Any], takes: tuple[int | None, int]) -> dict[str, Any]:
    """Return the days promised for one unit of a plan, or why none are.

    takes: of its yard, from `repair_days`.
    """
    unknown = sorted(
        {each["lot"] for each in unit["draws"] if each["kind"] == "buy" and each["each"] is None}
    )
    days, known = takes
    if not unit["draws"]:
        return {"promised_days": None, "no_days": ""}
    if unknown:
        words = f"how long pads of lot {', '.join(unknown)} take to come is not on record"
    elif days is None:
        repairs = f"{known or 'no'} finished repair{'' if known == 1 else 's'}"
        words = (
            f"the yard has {repairs} of housings on record, and {LEAST_REPAIRS} at least would tell"
        )
    else:
        return {"promised_days": unit["days"] + days, "no_days": ""}
    return {"promised_days": None, "no_days": words}
