"""Histories told day by day, each record at the time it was recorded."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

from fleet import clock
from fleet.as_of import AsOf
from inspections.as_of.units import UnitThen, units_as_of, with_documents
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.signing import Correction, Signed
from inspections.count.submission import Submission
from inspections.models import Inspection
from tests.builders import MONDAY, Unit, count, rated_unit


def day(number: int, hour: int = 0) -> datetime:
    """A moment: nine o’clock so many days after Monday, 2 March 2026, and so many hours later."""
    return MONDAY + timedelta(days=number, hours=hour)


def known(number: int) -> AsOf:
    """What was known by the end of a day."""
    return AsOf(day(number, 14), day(number, 14))


def so(number: int, known_on: int = 200) -> AsOf:
    """What was so at the end of a day, by all that is known by another."""
    return AsOf(day(number, 14), day(known_on, 14))


def monday_unit(**more: Any) -> Unit:
    """A unit of eight sound pads on record on Monday: 8 × 1,000 × 6 = 48,000 lbf."""
    with clock.set_to(day(0)):
        return rated_unit(**more)


def counted(
    unit: Unit,
    seen: datetime,
    recorded: datetime,
    unsound: dict[str, str] | None = None,
    travel_in: float | None = 6.0,
    corrects: Inspection | None = None,
) -> Signed:
    """Count every pad at one time, on record at another."""
    more: dict[str, Any] = {}
    if corrects is not None:
        more["correction"] = Correction("misread", inspection=corrects)
    with clock.set_to(recorded):
        return count(
            unit.housing,
            unit.manager,
            unit.lot,
            unsound=unsound,
            travel_in=travel_in,
            at=seen,
            **more,
        )


def fitted(unit: Unit, place: tuple[str, int], at: datetime) -> None:
    """Fit a new pad of its lot, on record at once."""
    with clock.set_to(at):
        sign_replacement(
            housing=unit.housing,
            submission=Submission(uuid.uuid4()),
            fitted_at=at,
            pads=[PadFitted(*place, unit.lot.pk)],
            by=unit.manager,
        )


def then(unit: Unit, as_of: AsOf) -> UnitThen:
    """The unit as of a moment, its entry read."""
    found = units_as_of(as_of, [unit.housing.pk])
    with_documents(found)
    return found[0]


def pull_lbf(unit: Unit, as_of: AsOf) -> float | None:
    """Its line pull as of a moment, to the pound."""
    entry = then(unit, as_of).entry
    return None if entry is None or entry.pull_lbf is None else round(entry.pull_lbf, 3)
