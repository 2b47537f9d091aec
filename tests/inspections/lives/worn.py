"""Pads that wear out in a unit looked at every month, its meter read each time."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime, timedelta

from fleet.models import PadLot
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.submission import Submission
from tests.builders import MONDAY, Unit, count, rated_unit, receive

FITTED = MONDAY + timedelta(days=1)
# Which pads each month's look found for the first time, and as what.
FOUND: tuple[dict[str, str], ...] = (
    {"A1": "cracked"},
    {},
    {"A2": "missing", "B1": "debonded"},
    {"A3": "swollen"},
    {"B2": "cracked", "B3": "cracked"},
)
HOURS_A_MONTH = 60.0


def month(number: int) -> datetime:
    return FITTED + timedelta(days=30 * number)


def fit(unit: Unit, positions: Mapping[str, PadLot], at: datetime) -> None:
    """Fit new pads from stock, such as {"A1": lot}."""
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=at,
        pads=[PadFitted(each[0], int(each[1:]), lot.pk) for each, lot in positions.items()],
        by=unit.manager,
    )


def worn_unit() -> Unit:
    """A unit whose twelve pads were all fitted new, of which six failed within five months."""
    unit = rated_unit(positions_per_side=6)
    receive(unit.lot, unit.manager, 12)
    positions = [f"{side}{number}" for side in "AB" for number in range(1, 7)]
    count(unit.housing, unit.manager, unit.lot, at=FITTED - timedelta(hours=2), hours=100.0)
    fit(unit, dict.fromkeys(positions, unit.lot), FITTED)
    unsound: dict[str, str] = {}
    for number, found in enumerate(FOUND, start=1):
        unsound |= found
        hours = 100.0 + HOURS_A_MONTH * number
        count(
            unit.housing,
            unit.manager,
            unit.lot,
            unsound=unsound,
            at=month(number),
            hours=hours,
        )
    return unit


def failed_lot() -> PadLot:
    """A lot of which enough pads failed for its life to be told."""
    return worn_unit().lot
