"""What each yard is to buy of each lot until a day, by what is short, promised and expected."""

from __future__ import annotations

import hashlib
import json
import math
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from fleet import clock
from fleet.dates import day_words
from fleet.models import PadLot, PadOrder, PadPrice, ShelfCount, SuppressorHousing, Yard
from fleet.prices import price_of
from fleet.quantities import money
from inspections.forecast.expected import expected_by_yard
from inspections.forecast.planned import hours_ahead
from inspections.restoring.planning import LOOSE, Asked, Made, make
from ratings.models import Commitment
from ratings.record.papers import Stated

SEASON = timedelta(days=180)


@dataclass(frozen=True)
class UnitToRestore:
    """A unit that is short: what bringing it back takes.

    cost: of all its pads; bought: of those to buy, both None where one has no price. needed_by:
    the first day of the first job that holds it, None where none does.
    """

    housing: int
    mark: str
    yard: Yard
    meets: bool
    pads: int
    to_buy: int
    cost: Decimal | None
    bought: Decimal | None
    days: int
    needed_by: date | None
    by_lot: tuple[tuple[str, int], ...]

    @property
    def cost_words(self) -> str:
        return _money(self.cost, self.yard)

    @property
    def bought_words(self) -> str:
        return _money(self.bought, self.yard)


def _money(amount: Decimal | None, yard: Yard) -> str:
    return "not known" if amount is None else money(amount, yard.currency)


@dataclass
class Line:
    """What a yard is to buy of one lot.

    short: pads that its short units lack and no shelf gives; for_jobs: of these, for units that
    jobs hold, the first of them from needed_by on. expected: to fail until the end of the season,
    None where that can't be forecast; high: no more than that in nineteen of twenty outcomes.
    free: on its shelf, drawn by no unit; loose: of pads of no yard, which any may fit. in_time,
    too_late: pads of orders under way that come in time for what they are for, and that don't.
    """

    yard: Yard
    lot: PadLot
    until: date
    price: PadPrice | None
    short: int = 0
    for_jobs: int = 0
    needed_by: date | None = None
    expected: float | None = None
    high: int | None = None
    forecast: str = ""
    free: int = 0
    loose: int = 0
    in_time: int = 0
    too_late: int = 0
    orders: list[PadOrder] = field(default_factory=list)

    @property
    def name(self) -> str:
        """By which a form names it."""
        return f"{self.yard.pk}-{self.lot.pk}"

    @property
    def query(self) -> str:
        """What the form of an order is filled from, as an address has it."""
        return f"lot={self.lot.pk}&yard={self.yard.pk}&pads={self.to_buy}"

    @property
    def to_buy(self) -> int:
        """How many pads, what comes in time and lies on the shelf left out.

        What comes after a job has begun is for the rest alone. Of pads expected to fail the
        nearest whole number, a half upwards.
        """
        rest = self.short - self.for_jobs + math.floor((self.expected or 0.0) + 0.5)
        there = self._there
        jobs = max(0, self.for_jobs - there)
        return jobs + max(0, rest - max(0, there - self.for_jobs) - self.too_late)

    @property
    def _there(self) -> int:
        return self.free + self.loose + self.in_time

    @property
    def is_for_a_job(self) -> bool:
        return self.for_jobs > self._there

    @property
    def cost(self) -> Decimal | None:
        """In the currency of the price, None without one."""
        return None if self.price is None else self.price.amount * self.to_buy

    @property
    def cost_words(self) -> str:
        return _money(self.cost, self.yard)

    @property
    def order_by(self) -> date | None:
        """The last day to order so that they come in time; None where nobody knows how long."""
        if self.price is None:
            return None
        if self.is_for_a_job and self.needed_by is not None:
            return self.needed_by - timedelta(days=self.price.lead_days)
        if self.short > self._there + self.too_late:
            return clock.today()
        return self.until - timedelta(days=self.price.lead_days)

    @property
    def days_late(self) -> int:
        """How many days after they are needed they come, ordered today; 0 where in time."""
        if self.order_by is None:
            return 0
        return max(0, (clock.today() - self.order_by).days)

    @property
    def is_old_price(self) -> bool:
        return self.price is not None and self.price.is_old(clock.today())


@dataclass(frozen=True)
class Total:
    """What a yard is to spend, in its currency; and the lots to buy that have no price."""

    yard: Yard
    currency: str
    cost: Decimal
    pads: int
    unpriced: tuple[str, ...]

    @property
    def cost_words(self) -> str:
        return _money(self.cost, self.yard)


@dataclass(frozen=True)
class Season:
    """What to buy until a day, and what that rests on.

    no_forecast: (yard, lot, why) of what can't be forecast. beside: orders under way of no rated
    lot of the list: pads that count for nothing until tested. loose_by_lot: pads of no yard that
    are counted, by lot: those the plan draws for units and those free beyond them.
    """

    yard: Yard | None
    goal: str
    until: date
    day: date
    lines: tuple[Line, ...]
    units: tuple[UnitToRestore, ...]
    no_forecast: tuple[tuple[str, str, str], ...]
    beside: tuple[PadOrder, ...]
    unpriced: tuple[str, ...]
    plan: Made
    loose_by_lot: tuple[tuple[str, int], ...]

    @property
    def loose(self) -> int:
        """How many pads of no yard are counted."""
        return sum(pads for _, pads in self.loose_by_lot)

    @property
    def loose_words(self) -> str:
        """The pads of no yard that are counted, such as "20 of lot SM-25C"."""
        return ", ".join(f"{pads} of lot {lot}" for lot, pads in self.loose_by_lot)

    @property
    def to_buy(self) -> tuple[Line, ...]:
        """The lines of which something is to be bought."""
        return tuple(each for each in self.lines if each.to_buy)

    @property
    def without_price(self) -> tuple[str, ...]:
        """The lots to buy, or that could be, that have no price: by cost nothing ranks them."""
        return tuple(
            sorted({each.lot.mark for each in self.to_buy if each.price is None} | {*self.unpriced})
        )

    @property
    def old_prices(self) -> tuple[str, ...]:
        """The lots to buy whose price is over a year old."""
        return tuple(sorted({each.lot.mark for each in self.to_buy if each.is_old_price}))

    @property
    def totals(self) -> tuple[Total, ...]:
        """What each yard is to spend."""
        by_yard: dict[int, list[Line]] = defaultdict(list)
        for line in self.to_buy:
            by_yard[line.yard.pk].append(line)
        return tuple(
            Total(
                lines[0].yard,
                lines[0].yard.currency,
                sum((each.cost for each in lines if each.cost is not None), Decimal(0)),
                sum(each.to_buy for each in lines),
                tuple(each.lot.mark for each in lines if each.price is None),
            )
            for lines in by_yard.values()
        )

    @property
    def by_currency(self) -> tuple[tuple[str, Decimal], ...]:
        """What all yards are to spend, by currency; never added up over two."""
        sums: dict[str, Decimal] = defaultdict(Decimal)
        for total in self.totals:
            if total.cost:
                sums[total.currency] += total.cost
        return tuple(sorted(sums.items()))

    @property
    def digest(self) -> str:
        """SHA-256 of what is to be bought at what price: by it who orders says what was seen."""
        said = [
            [each.name, each.to_buy, each.price.pk if each.price else None] for each in self.to_buy
        ]
        return hashlib.sha256(json.dumps(said).encode()).hexdigest()


def season(yard: Yard | None, until: date, goal: str = "fewest") -> Season:
    """Return what a yard, or with None each yard, is to buy until a day, from what is on record.

    goal: of the plan that restores what is short, "fewest" pads or "cheapest". Lots without a
    price are bought only where those with one don't do. Raises ValidationError as `make` does.
    """
    today = clock.today()
    made = make(Asked(goal, yard=yard, buys=True))
    ways = made.document["ready"] + sum(each["is_giver"] for each in made.document["units"])
    if goal == "fewest" and ways < len(made.document["units"]):
        more = make(Asked(goal, yard=yard, buys=True, buys_unpriced=True))
        made = more if more.document["ready"] > made.document["ready"] else made
    yards = {
        each.name: each
        for each in Yard.objects.filter(retired_on__isnull=True)
        if yard is None or each == yard
    }
    lines = _Lines(until, today)
    units = _units(made, yards, today)
    _add_short(lines, made, yards, {each.housing: each.needed_by for each in units})
    no_forecast = _add_expected(lines, yards.values(), until)
    beside = _add_orders(lines, yards.values(), today)
    loose = _add_shelves(lines, made, yards)
    return Season(
        yard,
        goal,
        until,
        today,
        tuple(sorted(lines.found.values(), key=lambda each: (each.yard.name, each.lot.mark))),
        units,
        tuple(no_forecast),
        tuple(beside),
        tuple(made.document["unpriced"]) if goal == "cheapest" else (),
        made,
        loose,
    )


class _Lines:
    """The lines of a season by the keys of yard and lot, each made when first asked for."""

    def __init__(self, until: date, today: date) -> None:
        self.until = until
        self.found: dict[tuple[int, int], Line] = {}
        self.prices = PadPrice.objects.in_force(today)

    def of(self, yard: Yard, lot: PadLot) -> Line:
        key = yard.pk, lot.pk
        if key not in self.found:
            price = price_of(self.prices, lot.pk, yard.pk, yard.currency)
            self.found[key] = Line(yard, lot, self.until, price)
        return self.found[key]


def _units(made: Made, yards: dict[str, Yard], today: date) -> tuple[UnitToRestore, ...]:
    jobs: dict[int, date] = {}
    for key, day in Commitment.objects.not_over(today).values_list("housing_id", "first_day"):
        jobs[key] = min(day, jobs.get(key, day))
    found = []
    for each in made.document["units"]:
        if each["yard"] not in yards:
            continue
        bought = [draw for draw in each["draws"] if draw["kind"] == "buy"]
        found.append(
            UnitToRestore(
                each["housing"],
                each["mark"],
                yards[each["yard"]],
                each["meets"],
                len(each["placed"]),
                sum(draw["pads"] for draw in bought),
                _sum(each["draws"]),
                _sum(bought),
                each["days"],
                jobs.get(each["housing"]),
                tuple((lot, pads) for lot, pads in each["by_lot"]),
            )
        )
    return tuple(sorted(found, key=lambda each: (each.needed_by or date.max, each.mark)))


def _sum(draws: Iterable[dict[str, Any]]) -> Decimal | None:
    costs = [each["cost"] for each in draws]
    return None if None in costs else sum(map(Decimal, costs), Decimal(0))


def _add_short(
    lines: _Lines, made: Made, yards: dict[str, Yard], needed_by: dict[int, date | None]
) -> None:
    """Take over the pads that the plan buys, of units that it brings to their listing."""
    lots = PadLot.objects.in_bulk(
        {draw["lot_id"] for each in made.document["units"] for draw in each["draws"]}
    )
    for unit in made.document["units"]:
        for draw in unit["draws"]:
            if draw["kind"] != "buy" or not unit["meets"] or unit["yard"] not in yards:
                continue
            line = lines.of(yards[unit["yard"]], lots[draw["lot_id"]])
            line.short += draw["pads"]
            day = needed_by.get(unit["housing"])
            if day is not None:
                line.for_jobs += draw["pads"]
                line.needed_by = min(day, line.needed_by or day)


def _add_expected(
    lines: _Lines, yards: Collection[Yard], until: date
) -> Iterable[tuple[str, str, str]]:
    """Take over the pads expected to fail; return what can't be forecast, and why."""
    unknown = []
    expected = expected_by_yard(yards, until)
    for yard in yards:
        for each in expected[yard.pk]:
            if each.expected is None:
                unknown.append((yard.name, each.lot.mark, each.reason))
            elif each.lot.retired_on is not None:
                words = f"{each.expected:.1f} pads, of a lot out of use: choose what replaces them"
                unknown.append((yard.name, each.lot.mark, words))
            else:
                line = lines.of(yard, each.lot)
                line.expected, line.high, line.forecast = each.expected, each.high, each.reason
    return unknown


def _add_orders(lines: _Lines, yards: Iterable[Yard], today: date) -> Iterable[PadOrder]:
    """Take over orders under way; return those of pads that count for nothing until tested.

    An order that is late comes nobody knows when: it is counted in no time.
    """
    beside = []
    found = PadOrder.objects.open().filter(yard__in=[each.pk for each in yards])
    for order in found.select_related("yard", "lot").order_by("pk"):
        line = lines.found.get((order.yard_id, order.lot_id or 0))
        if line is None:
            beside.append(order)
            continue
        line.orders.append(order)
        by = line.needed_by if line.for_jobs and line.needed_by else line.until
        if order.due_on < today or order.due_on > max(by, line.until):
            continue
        if order.due_on <= by:
            line.in_time += order.left
        else:
            line.too_late += order.left
    return beside


def _add_shelves(lines: _Lines, made: Made, yards: dict[str, Yard]) -> tuple[tuple[str, int], ...]:
    """Take over what the shelves have beyond what the plan draws.

    Pads of no yard go to the lines in their order, each once; returns how many of each lot are
    counted, those that the plan draws for units among them.
    """
    counted: dict[str, int] = defaultdict(int)
    drawn: dict[tuple[int, int], int] = defaultdict(int)
    for unit in made.document["units"]:
        for draw in unit["draws"]:
            if draw["kind"] == "shelf" and unit["yard"] in yards:
                is_loose = draw["where"] == LOOSE
                drawn[0 if is_loose else yards[unit["yard"]].pk, draw["lot_id"]] += draw["pads"]
                counted[draw["lot"]] += draw["pads"] if is_loose else 0
    shelves = ShelfCount.objects.filter(pads__gt=0)
    there = {(each.yard_id or 0, each.lot_id): each.pads for each in shelves}
    for key, line in lines.found.items():
        line.free = max(0, there.get(key, 0) - drawn[key])
    left = {lot: pads - drawn[0, lot] for (yard, lot), pads in there.items() if yard == 0}
    for (_, lot_id), line in sorted(lines.found.items()):
        line.loose = min(line.to_buy, max(0, left.get(lot_id, 0)))
        left[lot_id] = left.get(lot_id, 0) - line.loose
        counted[line.lot.mark] += line.loose
    return tuple(sorted((lot, pads) for lot, pads in counted.items() if pads))


def rests_on(found: Season) -> list[tuple[str, str]]:
    """Return what a season's list rests on, in words: entries, policy, prices, hours planned."""
    basis = found.plan.basis
    marks = dict(
        SuppressorHousing.objects.filter(pk__in=map(int, basis["units"])).values_list("pk", "mark")
    )
    entries = [f"{marks[int(key)]} entry {number}" for key, number in basis["units"].items()]
    prices = sorted(
        {
            f"{line.lot.mark} {line.price.amount} {line.price.currency} of "
            f"{line.price.valid_from:%-d %b %Y} ({line.price.source})"
            for line in found.to_buy
            if line.price is not None
        }
    )
    lives = sorted({f"{each.lot.mark}: {each.forecast}" for each in found.lines if each.forecast})
    policy = f"policy {basis['policy']}" if basis["policy"] else "the policy by default"
    return [
        ("Ledger entries of units", "; ".join(entries) or "none is short"),
        ("Policy of rating", policy),
        ("Prices", "; ".join(prices) or "none used"),
        ("Lives of lots", "; ".join(lives) or "nothing could be forecast"),
        (f"Hours until {day_words(found.until)}", "; ".join(_hours(found)) or "no unit works"),
    ]


def _hours(found: Season) -> list[str]:
    """Return how many hours each unit is to work until the end of a season."""
    units = SuppressorHousing.objects.filter(retired_on__isnull=True).order_by("mark")
    if found.yard is not None:
        units = units.filter(yard=found.yard)
    marks = dict(units.values_list("pk", "mark"))
    ahead = hours_ahead(marks, clock.now())
    said = []
    for key, mark in marks.items():
        hours = ahead[key].by(found.until)
        if hours is None or hours > 0.0:
            said.append(f"{mark} {'not known' if hours is None else f'{hours:,.0f} h'}")
    return said


def order_list_stated(found: Season) -> Stated:
    """Return what a season's order list states."""
    where = found.yard.name if found.yard else "all yards"
    pads = sum(each.pads for each in found.totals)
    costs = tuple(
        (f"Cost, {currency}", money(cost, currency)) for currency, cost in found.by_currency
    )
    return Stated(
        f"Order list of {where} until {day_words(found.until)}",
        (("Pads to buy", str(pads)), *costs),
    )
