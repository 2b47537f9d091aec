"""A draft beside the rating in force, and what it would do to every unit that holds its lot."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from django.db.models import QuerySet

from fleet.dates import day_words
from fleet.models import SuppressorHousing
from fleet.quantities import Quantity
from ratings.drawing.curve_comparison import CurveComparison
from ratings.ledger.facts import gather, lot_rate
from ratings.mechanics.load_curve import MonotoneCurve
from ratings.mechanics.unit_rating import (
    LotRate,
    Policy,
    UnitInputs,
    UnitRating,
    kept_share,
    rate_unit,
)
from ratings.models import BenchTest, LotRating

CURVE_PIECES = 48
MOST_STRETCHES = 6
NOTHING = "–"


@dataclass(frozen=True)
class Row:
    """One figure of the rating in force and of the draft, in words."""

    label: str
    in_force: str
    drafted: str

    @property
    def is_changed(self) -> bool:
        return self.in_force != self.drafted


@dataclass(frozen=True)
class Effect:
    """A unit as it is rated today, and as it would be with the draft approved. Never posted."""

    now: UnitRating
    then: UnitRating


def effects_of(
    draft: LotRating, housings: Sequence[SuppressorHousing], policy: Policy
) -> dict[int, Effect]:
    """Return what approving a draft would do to each of these housings, by its key."""
    rate = lot_rate(draft, policy)
    return {
        key: Effect(rate_unit(facts.inputs), rate_unit(_with_rate(facts.inputs, rate)))
        for key, facts in gather(housings).items()
    }


def _with_rate(inputs: UnitInputs, rate: LotRate) -> UnitInputs:
    others = tuple(each for each in inputs.lots if each.lot != rate.lot)
    return replace(inputs, lots=(*others, rate))


def units_that_hold(draft: LotRating) -> QuerySet[SuppressorHousing]:
    """Return the housings with a pad of a rating's lot, in whatever condition, by their marks."""
    housings = SuppressorHousing.objects.filter(positions__lot=draft.lot_id)
    return housings.select_related("yard").order_by("mark").distinct()


def compare(draft: LotRating, in_force: LotRating | None, policy: Policy, system: str) -> list[Row]:
    """Return the figures of a draft beside those of the rating in force."""
    both = (in_force, draft)
    rates = [lot_rate(each, policy) if each else None for each in both]
    stretches = stretches_that_matter(rates, _travels_in(draft))
    return [
        _row("Rate of each pad, through rest", rates, lambda rate: _rate(rate, system)),
        _row(
            "Tested to",
            rates,
            lambda rate: Quantity.LENGTH.words(rate.tested_stretch_in, system),
        ),
        *(
            _row(
                f"Force of one pad at {Quantity.LENGTH.words(stretch_in, system)}",
                rates,
                partial(_force, stretch_in=stretch_in, policy=policy, system=system),
            )
            for stretch_in in stretches
        ),
        _row(
            "Off for what its tests left out",
            rates,
            lambda rate: f"{100.0 * (1.0 - kept_share(rate, policy)):.1f} %",
        ),
        _row("Spread from pad to pad", rates, lambda rate: _spread(rate, policy, system)),
        _row("Rubber tested at", both, lambda rating: _temperatures(rating, system)),
        _row("Newest test", both, lambda rating: day_words(rating.tested_at)),
        _row("Tests counted", both, _counted),
        _row("Tests left out", both, _left_out),
    ]


def stretches_that_matter(
    rates: Sequence[LotRate | None], travels_in: Sequence[float]
) -> list[float]:
    """Return stretches to compare at: where units hold the lot, and where its tests end.

    No further than the furthest test; of many, six from the shortest to the longest.
    """
    tested = [rate.tested_stretch_in for rate in rates if rate]
    furthest = max(tested, default=0.0)
    every = sorted({*tested, *(each for each in travels_in if 0.0 < each <= furthest)})
    if len(every) <= MOST_STRETCHES:
        return every
    last = len(every) - 1
    return [every[round(last * place / (MOST_STRETCHES - 1))] for place in range(MOST_STRETCHES)]


def curves(
    draft: LotRating, in_force: LotRating | None, policy: Policy, system: str
) -> CurveComparison:
    """Return both load curves as measured, and the doubt of the drafted one, for a drawing."""
    drafted = _curve(lot_rate(draft, policy))
    before = _curve(lot_rate(in_force, policy)) if in_force else None
    places = _places(drafted)
    return CurveComparison(
        drafted=tuple((at, drafted.force_lbf(at)) for at in places),
        in_force=tuple((at, before.force_lbf(at)) for at in _places(before)) if before else (),
        doubt_lbf=tuple(2.0 * drafted.standard_uncertainty_lbf(at) if at else 0.0 for at in places),
        units=system,
    )


def _places(curve: MonotoneCurve) -> list[float]:
    tested_in = curve.tested_stretch_in
    # Rounding must not take the last point a hair beyond the tested stretch.
    return [min(tested_in * piece / CURVE_PIECES, tested_in) for piece in range(CURVE_PIECES + 1)]


def _curve(rate: LotRate) -> MonotoneCurve:
    return MonotoneCurve(rate.curve, rate.curve_doubt)


def _travels_in(draft: LotRating) -> list[float]:
    travels = SuppressorHousing.objects.filter(positions__lot=draft.lot_id, travel_in__gt=0.0)
    return [float(housing.travel_in or 0.0) for housing in travels.distinct()]


def _row(label: str, both: Sequence[Any], words: Callable[[Any], str]) -> Row:
    before, after = (NOTHING if each is None else words(each) for each in both)
    return Row(label, before, after)


def _rate(rate: LotRate, system: str) -> str:
    return Quantity.RATE.words(rate.rate_lbf_in, system)


def _force(rate: LotRate, *, stretch_in: float, policy: Policy, system: str) -> str:
    if stretch_in > rate.tested_stretch_in:
        return "not tested so far"
    curve, kept = _curve(rate), kept_share(rate, policy)
    force = Quantity.PAD_FORCE.words(kept * curve.force_lbf(stretch_in), system)
    doubt = Quantity.PAD_FORCE.words(kept * curve.standard_uncertainty_lbf(stretch_in), system)
    return f"{force}, standard uncertainty {doubt}"


def _spread(rate: LotRate, policy: Policy, system: str) -> str:
    if rate.spread_lbf_in is None:
        return f"assumed spread, {policy.pad_spread_pct:g} % by policy"
    return Quantity.RATE.words(rate.spread_lbf_in, system, 1)


def _temperatures(rating: LotRating, system: str) -> str:
    if rating.coldest_f is None or rating.warmest_f is None:
        return "not read"
    coldest, warmest = (
        Quantity.TEMPERATURE.words(each, system) for each in (rating.coldest_f, rating.warmest_f)
    )
    return coldest if coldest == warmest else f"{coldest} to {warmest}"


def _counted(rating: LotRating) -> str:
    keys = rating.tests.order_by("tested_at", "pk").values_list("pk", flat=True)
    return ", ".join(f"test {key}" for key in keys)


def _left_out(rating: LotRating) -> str:
    """Every other standing test of the lot that was on record by then, and why."""
    whys = (rating.figures or {}).get("left_out", {})
    others = rating.lot.bench_tests.filter(recorded_at__lte=rating.recorded_at).exclude(
        pk__in=rating.tests.values("pk")
    )
    words = [
        f"test {test.pk}: {whys.get(str(test.pk)) or _why(test)}"
        for test in others.select_related("corrected_by").order_by("tested_at", "pk")
    ]
    return "; ".join(words) or "none"


def _why(test: BenchTest) -> str:
    if hasattr(test, "corrected_by"):
        return "corrected since"
    return "not pooled" if test.is_for_rating else "its gauge was not in calibration that day"
