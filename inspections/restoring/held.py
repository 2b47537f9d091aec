"""Kept plans held to what happened: pads, working capacity, cost and days, promised and come."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from django.utils import timezone

from fleet.models import SuppressorHousing
from inspections.models import PadReplacement, RepairLine, RepairOrder, RestorePlan
from ratings.ledger.posting import Cause
from ratings.mechanics.deviations import MeanDeviation, mean_deviation
from ratings.models import LedgerEntry

Place = tuple[str, int]


class Fate(StrEnum):
    """What came of one unit of a plan."""

    WAITS = "not begun"
    HALF = "done half"
    OTHERWISE = "done otherwise"
    OVERTAKEN = "overtaken"
    DONE = "carried out"


@dataclass(frozen=True)
class Came:
    """What a plan promised of one unit, and what came of it.

    words: what is to be said of its fate. cost, None with cost_words saying why: of the parts of
    the repair order, in the currency of the plan. fitted_at: of the last replacement. no_days:
    why no days were promised.
    """

    plan: RestorePlan
    housing: int
    mark: str
    fate: Fate
    words: str
    pads_promised: int
    capacity_promised_lbf: float | None
    listed_lbf: float | None
    cost_promised: Decimal | None
    currency: str
    days_promised: int | None
    no_days: str
    pads: int | None = None
    capacity_lbf: float | None = None
    cost: Decimal | None = None
    cost_words: str = ""
    days: int | None = None
    fitted_at: datetime | None = None

    @property
    def capacity_off_pct(self) -> float | None:
        """How far the working capacity came out from what was promised."""
        return _off_pct(self.capacity_lbf, self.capacity_promised_lbf)

    @property
    def pads_off_pct(self) -> float | None:
        """How many pads more than planned went in."""
        return _off_pct(self.pads, self.pads_promised)

    @property
    def cost_off_pct(self) -> float | None:
        """How much more than promised the parts cost."""
        return _off_pct(self.cost, self.cost_promised)

    @property
    def days_off(self) -> float | None:
        """How many days later than promised it was done."""
        if self.days is None or self.days_promised is None:
            return None
        return float(self.days - self.days_promised)


def _off_pct(came: Any, promised: Any) -> float | None:
    if came is None or not promised:
        return None
    return (float(came) / float(promised) - 1.0) * 100.0


@dataclass(frozen=True)
class Deviation:
    """How one thing that plans promise came out: each deviation, and their mean with its band.

    unit: "%" of what was promised, or "days". mean: None of too few.
    """

    name: str
    unit: str
    values: tuple[float, ...]
    mean: MeanDeviation | None


MEASURES: tuple[tuple[str, str, Callable[[Came], float | None]], ...] = (
    ("working capacity", "%", lambda came: came.capacity_off_pct),
    ("pads", "%", lambda came: came.pads_off_pct),
    ("cost", "%", lambda came: came.cost_off_pct),
    ("days", "days", lambda came: came.days_off),
)


def deviations(found: Iterable[Came]) -> tuple[Deviation, ...]:
    """Return how what was promised came out, of units whose plan was carried out as it was made."""
    done = [each for each in found if each.fate is Fate.DONE]
    told = []
    for name, unit, off in MEASURES:
        values = tuple(value for each in done if (value := off(each)) is not None)
        told.append(Deviation(name, unit, values, mean_deviation(values)))
    return tuple(told)


def came_of(plans: Sequence[RestorePlan]) -> list[Came]:
    """Return what came of every unit that some plans give pads, in the order of the plans.

    In a fixed number of queries, however many plans there are.
    """
    units = [(plan, unit) for plan in plans for unit in plan.document["units"] if unit["placed"]]
    housings = {unit["housing"] for _, unit in units}
    if not housings:
        return []
    first = min(plan.recorded_at for plan in plans)
    fittings = _fittings(housings, first)
    later = _kept_later(housings, first)
    orders = _orders(units)
    found = [
        _came(
            plan,
            unit,
            fittings[unit["housing"]],
            later,
            is_ordered=plan.order_id(unit["housing"]) in orders,
        )
        for plan, unit in units
    ]
    entries = _entries(housings, first)
    return [
        _with_figures(each, plan, unit, fittings[unit["housing"]], entries, orders)
        for each, (plan, unit) in zip(found, units, strict=True)
    ]


@dataclass(frozen=True)
class _Fitting:
    """One replacement: when, and which lot went where."""

    key: int
    recorded_at: datetime
    fitted_at: datetime
    lots: Mapping[Place, int]
    marks: Mapping[Place, str]


def _fittings(housings: Iterable[int], since: datetime) -> dict[int, list[_Fitting]]:
    """Return the replacements that stand of each housing, the first first."""
    rows = (
        PadReplacement.objects.standing()
        .filter(housing__in=list(housings), recorded_at__gte=since)
        .prefetch_related("pads__lot")
        .order_by("fitted_at", "pk")
    )
    found: dict[int, list[_Fitting]] = defaultdict(list)
    for each in rows:
        pads = list(each.pads.all())
        found[each.housing_id].append(
            _Fitting(
                each.pk,
                each.recorded_at,
                each.fitted_at,
                {(pad.side, pad.number): pad.lot_id for pad in pads},
                {(pad.side, pad.number): pad.lot.mark for pad in pads},
            )
        )
    return found


def _kept_later(housings: set[int], since: datetime) -> dict[int, list[tuple[datetime, int]]]:
    """Return when plans of each housing were kept, and their keys."""
    found: dict[int, list[tuple[datetime, int]]] = defaultdict(list)
    for plan in RestorePlan.objects.filter(recorded_at__gte=since).defer("basis").order_by("pk"):
        for unit in plan.document["units"]:
            if unit["housing"] in housings and unit["placed"]:
                found[unit["housing"]].append((plan.recorded_at, plan.pk))
    return found


def _orders(units: Iterable[tuple[RestorePlan, Any]]) -> dict[Any, tuple[int, list[RepairLine]]]:
    """Return the lines that stand of each repair order made of a plan, by its submission."""
    ids = [plan.order_id(unit["housing"]) for plan, unit in units]
    made = RepairOrder.objects.filter(submission_id__in=ids).prefetch_related("lines__taken_back")
    return {
        order.submission_id: (
            order.pk,
            [line for line in order.lines.all() if not hasattr(line, "taken_back")],
        )
        for order in made
    }


def _entries(housings: Iterable[int], since: datetime) -> dict[int, list[LedgerEntry]]:
    found: dict[int, list[LedgerEntry]] = defaultdict(list)
    rows = (
        LedgerEntry.objects.filter(housing__in=list(housings), recorded_at__gte=since)
        .only("housing_id", "cause", "cause_record", "working_capacity_lbf", "recorded_at")
        .order_by("housing", "sequence")
    )
    for each in rows:
        found[each.housing_id].append(each)
    return found


def _came(
    plan: RestorePlan,
    unit: Mapping[str, Any],
    fittings: Sequence[_Fitting],
    later: Mapping[int, Sequence[tuple[datetime, int]]],
    *,
    is_ordered: bool,
) -> Came:
    """Return the fate of one unit of a plan, without figures of what came.

    One that was ordered and whose pads went in as planned is carried out, whatever was kept later.
    """
    wanted = {(at["side"], at["number"]): at["lot_id"] for at in unit["placed"]}
    since = [each for each in fittings if each.recorded_at >= plan.recorded_at]
    touching = [each for each in since if set(wanted) & set(each.lots)]
    right, other, last = _filled(wanted, touching)
    promised = Came(
        plan,
        unit["housing"],
        unit["mark"],
        Fate.WAITS,
        "",
        len(wanted),
        unit["after"]["capacity_lbf"] if unit["after"] else None,
        unit["after"]["listed_lbf"] if unit["after"] else None,
        Decimal(unit["cost"]) if unit["cost"] is not None else None,
        _currency(plan, unit),
        unit.get("promised_days"),
        unit.get("no_days", "the plan was kept before days were promised"),
    )
    if not touching:
        return _overtaken(promised, later, None) or promised
    missing = set(wanted) - right - set(other)
    is_as_planned = is_ordered and not missing and not other
    overtaken = _overtaken(promised, later, touching[0].recorded_at)
    if overtaken is not None and not is_as_planned:
        return overtaken
    if missing:
        words = f"{len(wanted) - len(missing)} of {len(wanted)} positions were filled"
        return replace(promised, fate=Fate.HALF, words=words)
    assert last is not None
    if other:
        words = ", ".join(f"{side}{n} with lot {other[side, n]}" for side, n in sorted(other))
        return replace(
            promised, fate=Fate.OTHERWISE, words=f"other pads: {words}", fitted_at=last.fitted_at
        )
    if timezone.localdate(last.fitted_at) < timezone.localdate(plan.recorded_at):
        return replace(
            promised,
            fate=Fate.OTHERWISE,
            words="its pads were in before it was kept",
            fitted_at=last.fitted_at,
        )
    return replace(promised, fate=Fate.DONE, fitted_at=last.fitted_at)


def _filled(
    wanted: Mapping[Place, int], fittings: Iterable[_Fitting]
) -> tuple[set[Place], dict[Place, str], _Fitting | None]:
    """Return the places filled as planned, those filled otherwise, and what filled the last."""
    right: set[Place] = set()
    other: dict[Place, str] = {}
    last = None
    for each in fittings:
        before = len(right), len(other)
        for place, lot in each.lots.items():
            if wanted.get(place) == lot:
                right.add(place)
                other.pop(place, None)
            elif place in wanted and place not in right:
                other[place] = each.marks[place]
        if before != (len(right), len(other)):
            last = each
    return right, other, last


def _overtaken(
    promised: Came,
    later: Mapping[int, Sequence[tuple[datetime, int]]],
    begun_at: datetime | None,
) -> Came | None:
    """Return that another plan of the unit was kept before the work began, None where none was."""
    by = [
        key
        for kept_at, key in later.get(promised.housing, ())
        if key > promised.plan.pk and (begun_at is None or kept_at <= begun_at)
    ]
    if not by:
        return None
    return replace(promised, fate=Fate.OVERTAKEN, words=f"by plan {by[-1]}")


def _with_figures(
    came: Came,
    plan: RestorePlan,
    unit: Mapping[str, Any],
    fittings: Sequence[_Fitting],
    entries: Mapping[int, Sequence[LedgerEntry]],
    orders: Mapping[Any, tuple[int, list[RepairLine]]],
) -> Came:
    """Return the figures of what came, where all the places of the plan were filled."""
    if came.fitted_at is None:
        return came
    acts = [
        each
        for each in fittings
        if each.recorded_at >= plan.recorded_at and each.fitted_at <= came.fitted_at
    ]
    last = acts[-1]
    cost, words = _cost(came, orders.get(plan.order_id(unit["housing"])))
    days = (timezone.localdate(last.fitted_at) - timezone.localdate(plan.recorded_at)).days
    return replace(
        came,
        pads=sum(len(each.lots) for each in acts),
        capacity_lbf=_capacity(entries.get(came.housing, ()), last),
        cost=cost,
        cost_words=words,
        days=max(0, days),
    )


def _currency(plan: RestorePlan, unit: Mapping[str, Any]) -> str:
    """Return in what the pads of a unit are paid; "" where not known or in several."""
    paid_in = {each["currency"] for each in unit.get("draws", ()) if each.get("currency")}
    return str(paid_in.pop() if len(paid_in) == 1 else plan.document["currency"])


def _capacity(entries: Sequence[LedgerEntry], last: _Fitting) -> float | None:
    """Return the working capacity by the entry of a replacement.

    Where it changed no figure none was posted: by the last before it.
    """
    own = [
        each
        for each in entries
        if each.cause == Cause.PAD_REPLACEMENT and each.cause_record == last.key
    ]
    before = [each for each in entries if each.recorded_at <= last.recorded_at]
    entry = own[0] if own else before[-1] if before else None
    return entry.working_capacity_lbf if entry else None


def _cost(came: Came, order: tuple[int, list[RepairLine]] | None) -> tuple[Decimal | None, str]:
    """Return what the parts of the repair order cost, or why that is not known."""
    if order is None:
        return None, "no repair order was made of the plan"
    number, lines = order
    parts = [each for each in lines if each.kind == RepairLine.Kind.PART]
    if not parts:
        return None, f"no part is recorded on repair order {number}"
    costs = [each.cost for each in parts if each.cost is not None]
    if len(costs) < len(parts):
        return None, f"a part of repair order {number} has no price"
    paid_in = {each.currency for each in parts}
    if len(paid_in) > 1 or (came.currency and paid_in != {came.currency}):
        return None, f"the parts were paid in {', '.join(sorted(paid_in))}"
    return sum(costs, Decimal(0)), f"parts of repair order {number}"


def record_words(first_day: date, last_day: date, yard_id: int | None = None) -> list[str]:
    """Return in sentences how plans kept within some days came out; for a yearly report.

    yard_id: of its units alone.
    """
    plans = RestorePlan.objects.filter(
        recorded_at__date__gte=first_day, recorded_at__date__lte=last_day
    ).defer("basis")
    found = came_of(list(plans.order_by("pk")))
    if yard_id is not None:
        of_yard = set(SuppressorHousing.objects.filter(yard=yard_id).values_list("pk", flat=True))
        found = [each for each in found if each.housing in of_yard]
    if not found:
        return ["No plan to restore a unit was kept in these days."]
    fates: dict[Fate, int] = defaultdict(int)
    for each in found:
        fates[each.fate] += 1
    told = ", ".join(f"{fates[fate]} {fate.value}" for fate in Fate if fates[fate])
    said = [f"Of {len(found)} units planned to be restored: {told}."]
    done = [each for each in deviations(found) if each.mean is not None]
    said += [
        f"{each.name.capitalize()} came out {mean_words(each)} of what was promised, over "
        f"{each.mean.many} units."
        for each in done
        if each.mean is not None
    ]
    if not done:
        said.append("Too few were carried out as planned for a figure of how plans hold.")
    return said


def mean_words(deviation: Deviation) -> str:
    """Return a mean deviation with its band, such as "2.1 % over (0.3 % under to 4.5 % over)"."""
    mean = deviation.mean
    if mean is None:
        return "too few to say"
    mid, low, high = (off_words(each, deviation.unit) for each in (mean.mean, mean.low, mean.high))
    return f"{mid} ({low} to {high})"


def off_words(value: float, unit: str) -> str:
    """Return a deviation in words, such as "2.1 % under" or "3.0 days over"."""
    if round(abs(value), 1) == 0.0:
        return f"0.0 {unit}"
    return f"{abs(value):.1f} {unit} {'over' if value > 0 else 'under'}"
