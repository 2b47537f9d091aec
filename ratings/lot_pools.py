"""From bench tests on record to what units are rated by: what the mechanics pool, and back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, replace
from datetime import datetime
from typing import Any

from fleet.models import PadLot
from ratings.mechanics.load_curve import CurveDoubt, Knot
from ratings.mechanics.lot_agreement import Counts
from ratings.mechanics.lot_rate import (
    ALWAYS_DAYS,
    Decision,
    LotPool,
    PoolTest,
    lot_pool,
    lot_rate,
    lot_rate_if_marked,
    pool_test,
)
from ratings.mechanics.unit_rating import LotRate, Policy
from ratings.models import BenchTest, LotDecision, LotRating

DAY_SECONDS = 24 * 3600

# What of a LotRate a rating keeps in its figures; the rest stands in columns of its own.
SHARES_WITHOUT = ("loading_only_share", "not_conditioned_share", "temperature_unknown_share")
IN_FIGURES = (
    "standard_error_lbf_in",
    "pads_tested",
    "scatter_degrees_of_freedom",
    "between_share",
    "between_degrees_of_freedom",
    *SHARES_WITHOUT,
    "conditions_pct",
)


# What of a LotRate marks on all pads would change.
BY_MARKS = ("rate_lbf_in", "pads_tested", "spread_lbf_in", "spread_degrees_of_freedom")


def as_day(moment: datetime) -> float:
    """Return a moment as days on one calendar."""
    return moment.timestamp() / DAY_SECONDS


def stand_name(test: BenchTest) -> str:
    """Return what tests share errors by: the same stand with the same gauge."""
    return f"{test.stand_id} with gauge {test.gauge_id}"


def pool_test_of(test: BenchTest) -> PoolTest:
    """Return a bench test as the mechanics pool it, by its key as its name."""
    # As marks are compared: capitals and spaces make no other pad.
    marks = (" ".join(pad.mark.split()).casefold() for pad in test.pads.all())
    return pool_test(
        test.set_up,
        test.instruments,
        test.measured,
        name=str(test.pk),
        day=as_day(test.tested_at),
        marks=[mark for mark in marks if mark],
        stand=stand_name(test),
        conditioning_cycles=test.conditioning_cycles,
        temperature_f=test.rubber_temperature_f,
    )


def pool_of(
    tests: Iterable[BenchTest],
    policy: Policy,
    at: datetime | None = None,
    decision: Decision | None = None,
) -> LotPool:
    """Pool a lot's tests, each with its readings and pads. Raises ValueError as lot_pool does."""
    pool_tests = [pool_test_of(test) for test in tests]
    return lot_pool(pool_tests, policy, None if at is None else as_day(at), decision)


def pool_of_all(tests: Sequence[BenchTest], policy: Policy) -> LotPool:
    """Pool tests that are known to count, as those that a rating rests on."""
    everything = Decision(Counts.ALL, frozenset(str(test.pk) for test in tests))
    lenient = replace(policy, rate_valid_days=ALWAYS_DAYS, refused_shortcuts=())
    return pool_of(tests, lenient, decision=everything)


def decision_on(lot: PadLot) -> Decision | None:
    """Return the last word on which of a lot's tests count; None where there was none."""
    return decision_of(LotDecision.objects.filter(lot=lot).order_by("-pk").first())


def decision_of(word: LotDecision | None) -> Decision | None:
    """Return a word on record as the mechanics take it."""
    if word is None:
        return None
    tests = word.decided_tests.values_list("test_id", flat=True)
    return Decision(Counts(word.counts), frozenset(map(str, tests)))


def why_not_for_rating(test: BenchTest, policy: Policy) -> str:
    """Return why a test rates nothing, "" where it may rate."""
    if not test.is_for_rating:
        return "its gauge was not in calibration that day"
    refused = [
        each.value
        for each in pool_test_of(test).shortcuts(policy)
        if each in policy.refused_shortcuts
    ]
    return f"the policy lets no test rate with {', '.join(refused)}" if refused else ""


def figures_of(found: LotPool, rate: LotRate, policy: Policy) -> dict[str, Any]:
    """Return as JSON values what a rating keeps of its pool beside its columns."""
    agreement = found.agreement
    marked = lot_rate_if_marked(rate.lot, found, policy)
    against_rest = agreement.difference
    return {name: getattr(rate, name) for name in IN_FIGURES} | {
        "weights": {
            test.name: weight
            for test, weight in zip(found.tests, found.pooled.weights, strict=True)
        },
        "left_out": {each.name: each.why for each in found.left_out},
        "considered": list(found.considered),
        "newest": list(found.newest),
        "is_open": agreement.is_open,
        "why": agreement.why,
        "if_marked": marked and {name: getattr(marked, name) for name in BY_MARKS},
        "newest_against_rest": None
        if against_rest is None
        else asdict(against_rest) | {"en": min(against_rest.en, 1e6)},
    }


def stored_rate_if_marked(rating: LotRating, rate: LotRate) -> LotRate | None:
    """Return a rating's rate as it would be, had every pad in its tests borne a mark.

    None where all did, and for one drafted before that was kept.
    """
    by_marks = (rating.figures or {}).get("if_marked")
    return replace(rate, **by_marks) if by_marks else None


def stored_lot_rate(rating: LotRating, policy: Policy, stale: str) -> LotRate:
    """Return a rating on record as the mechanics take it.

    One drafted before its figures were kept is worked out again from its tests' readings, which
    the caller has read along where there are many.
    """
    figures = rating.figures
    if figures is None:
        lenient = replace(policy, refused_shortcuts=())
        found = lot_rate(rating.lot.mark, pool_of(rating.tests.all(), lenient), policy)
        return replace(found, stale=stale)
    return LotRate(
        lot=rating.lot.mark,
        rate_lbf_in=rating.rate_lbf_in,
        # What the stand has wrong is known from its instruments: no finite degrees of freedom.
        degrees_of_freedom=None,
        linearity_error_pct=rating.linearity_error_pct,
        tested_stretch_in=rating.tested_stretch_in,
        curve=tuple(Knot(*map(float, knot)) for knot in rating.curve),
        curve_doubt=CurveDoubt(**rating.curve_doubt),
        spread_lbf_in=rating.spread_lbf_in,
        spread_degrees_of_freedom=rating.spread_degrees_of_freedom,
        stale=stale,
        **{name: figures[name] for name in IN_FIGURES}
        # Drafts of before may hold a sum of weights a rounding above the whole.
        | {name: min(figures[name], 1.0) for name in SHARES_WITHOUT},
    )
