"""Which pads were drawn from service, and how many the plan still asks for."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Min
from django.utils import timezone

from fleet.dates import day_words
from fleet.models import PadLot, PadPosition, StockMove
from ratings.bench.tested_pads import mark_key
from ratings.models import BenchPad, SurveillancePlan
from ratings.models.surveillance import PlanInForce

YEAR = timedelta(days=365)
# A unit must be spared and opened for it, so that it is told in time.
SOON = timedelta(days=30)

# A pad stretched again sooner is the same draw; plans are kept to a few weeks, not to the day.
SAME_DRAW = timedelta(days=270)

Identity = tuple[object, ...]


def identity(pad: BenchPad) -> Identity:
    """Return what tells a pad from every other of its lot: its mark, else where it came from.

    A pad with neither is like no other.
    """
    if pad.mark:
        return ("mark", mark_key(pad.mark))
    if pad.housing_id is not None and pad.place:
        return ("place", pad.housing_id, pad.place)
    return ("pad", pad.pk)


@dataclass(frozen=True)
class DrawsDue:
    """How the plan of one lot stands.

    drawn: different pads tested from service within the last year. owed: those still to be drawn
    by due_on, 0 and None where nothing is asked for. fitted: the lot's pads in housings.
    """

    lot: PadLot
    plan: PlanInForce | None
    fitted: int
    drawn: int
    owed: int
    due_on: date | None
    today: date

    @property
    def is_overdue(self) -> bool:
        return self.due_on is not None and self.due_on < self.today

    @property
    def is_soon(self) -> bool:
        return self.due_on is not None and not self.is_overdue and self.due_on <= self.today + SOON

    @property
    def words(self) -> str:
        """Say what is asked for, for a person; "" where nothing is."""
        if self.due_on is None or self.plan is None:
            return ""
        pads = f"{self.owed} pad{'' if self.owed == 1 else 's'}"
        return f"{pads} to draw by {day_words(self.due_on)} ({self.drawn} drawn in the last year)"


def draws_due(lots: Iterable[PadLot] | None = None) -> tuple[DrawsDue, ...]:
    """Return how the plan of each lot stands, of every lot unless given; the most pressing first.

    A year runs from the day a pad was drawn, not from New Year: the pads of a plan fall due again
    a year after they were tested, and the first a year after the plan, or after the lot was first
    fitted from stock where that is later. In a fixed number of queries.
    """
    today = timezone.localdate()
    listed = list(PadLot.objects.in_use() if lots is None else lots)
    keys = [lot.pk for lot in listed]
    plans = SurveillancePlan.objects.in_force_by_lot(keys)
    fitted = dict(
        PadPosition.objects.filter(lot__in=keys)
        .order_by()
        .values_list("lot")
        .annotate(many=Count("pk"))
    )
    first_fitted = dict(
        StockMove.objects.filter(lot__in=keys, kind=StockMove.Kind.FITTED)
        .order_by()
        .values_list("lot")
        .annotate(first=Min("occurred_at"))
    )
    drawn = _days_drawn(keys)
    found = []
    for lot in listed:
        begun = first_fitted.get(lot.pk)
        found.append(
            _due(
                lot,
                plans.get(lot.pk),
                fitted.get(lot.pk, 0),
                timezone.localtime(begun).date() if begun else None,
                drawn.get(lot.pk, []),
                today,
            )
        )
    return tuple(sorted(found, key=lambda each: (each.due_on or date.max, each.lot.mark)))


def _days_drawn(lot_ids: Collection[int]) -> dict[int, list[date]]:
    """Return the days on which pads of each lot were tested from service, the newest first.

    The same pad within nine months is drawn once, on the day it was tested first.
    """
    pads = (
        BenchPad.objects.filter(
            origin=BenchPad.Origin.FROM_SERVICE,
            test__lot__in=lot_ids,
            test__corrected_by__isnull=True,
        )
        .order_by("test__tested_at", "pk")
        .select_related("test")
    )
    last: dict[tuple[int, Identity], date] = {}
    days: dict[int, list[date]] = {}
    for pad in pads:
        day = timezone.localtime(pad.test.tested_at).date()
        key = (pad.test.lot_id, identity(pad))
        if key not in last or day > last[key] + SAME_DRAW:
            last[key] = day
            days.setdefault(pad.test.lot_id, []).append(day)
    return {lot_id: sorted(each, reverse=True) for lot_id, each in days.items()}


def _due(
    lot: PadLot,
    plan: PlanInForce | None,
    fitted: int,
    first_fitted: date | None,
    days: list[date],
    today: date,
) -> DrawsDue:
    drawn = sum(1 for day in days if day > today - YEAR)
    wanted = min(plan.pads_a_year, fitted) if plan else 0
    if plan is None or wanted == 0:
        return DrawsDue(lot, plan, fitted, drawn, 0, None, today)
    begun = max(plan.since, first_fitted or plan.since)
    since = sum(1 for day in days if day >= begun)
    if since >= wanted:
        # A whole year's pads are there: the next are due a year after the first of these.
        begun = days[wanted - 1]
        since = sum(1 for day in days if day > begun)
    return DrawsDue(lot, plan, fitted, drawn, wanted - since, begun + YEAR, today)
