"""How long the best plan for a large fleet takes: its figures are printed, no test asserts a time.

A small fleet in the suite; UNITS=200 pytest -s tests/benchmarks/test_restoring_a_fleet.py
"""

from __future__ import annotations

import os
import random
from dataclasses import replace
from time import perf_counter

from ratings.mechanics.load_curve import monotone_curve
from ratings.mechanics.restoring import Goal, Need, ShortUnit, Source, best_plan
from ratings.mechanics.unit_rating import (
    LotRate,
    Policy,
    Position,
    UnitInputs,
    UnitRating,
    rate_unit,
)

UNITS, LOTS, JOBS, YARDS = int(os.environ.get("UNITS", "30")), 30, 10, 2
# As the site shares its ratings out over the units of a plan.
RATINGS_OF_A_UNIT = 16


def lot(mark: str, rate: float, tested: float) -> LotRate:
    stretches = [tested * part / 4.0 for part in (1, 2, 3, 4)]
    # A little stiffer as it stretches.
    forces = [rate * each * (1.0 + 0.01 * each) for each in stretches]
    curve = monotone_curve(stretches, forces)
    found = LotRate(mark, rate, rate / 100.0, 9, 4.0, tested, curve.knots)
    return replace(found, pads_tested=4.0)


def job(key: str, days: int, asked_lbf: float) -> Need:
    """A job that asks so much working capacity, from so many days on."""

    def is_met(inputs: UnitInputs, rating: UnitRating) -> bool:
        return (rating.working_capacity_lbf or 0.0) >= asked_lbf

    return Need(key, days, is_met, asked_lbf)


def fleet(seed: int) -> tuple[list[ShortUnit], list[Source]]:
    """Short units of two yards, ten of them held by jobs, and thirty lots on the shelves."""
    draw = random.Random(seed)
    lots = [
        lot(f"L{n:02}", draw.uniform(800.0, 1_300.0), draw.choice([6.0, 7.0, 8.0]))
        for n in range(LOTS)
    ]
    sources = [
        Source(
            f"{each.lot}/{yard}",
            each,
            draw.randint(10, 80),
            draw.choice([None, *range(6_000, 12_000, 250)]),
        )
        for each in lots
        for yard in range(YARDS)
    ]
    units = []
    for n in range(UNITS):
        many, travel = draw.choice([6, 8, 10, 12, 14, 16]), draw.uniform(5.0, 7.5)
        fitted = draw.sample(lots, 2)
        positions = tuple(
            Position(
                side,
                number,
                "sound" if draw.random() < 0.85 else "cracked",
                draw.choice(fitted).lot,
            )
            for side in "AB"
            for number in range(1, many + 1)
        )
        whole = sum(each.rate_lbf_in for each in fitted) * many * travel
        inputs = UnitInputs(positions, tuple(fitted), travel, 0.93 * whole, Policy())
        asked = draw.uniform(0.6, 0.95) * whole
        needs = (job(f"J{n}", draw.choice([0, 10, 40]), asked),) if n < JOBS else ()
        at = tuple(each.key for each in sources if each.key.endswith(f"/{n % YARDS}"))
        units.append(ShortUnit(f"S{n:03}", inputs, at, needs))
    return units, sources


def test_a_large_fleet_is_planned() -> None:
    units, sources = fleet(1)
    began = perf_counter()
    for each in units:
        rate_unit(each.inputs)
    once = perf_counter() - began
    for goal in Goal:
        began = perf_counter()
        plan = best_plan(units, sources, goal, most_ratings=RATINGS_OF_A_UNIT)
        took = perf_counter() - began
        gap = (
            "proven the best"
            if plan.is_proven
            else f"at most {plan.most_ready} ready, at least {plan.least}"
        )
        print(
            f"\n{goal.value}: {took:.1f} s, {took / once:.0f} times one rating of each unit; "
            f"{plan.ready} of {UNITS} ready, {plan.jobs_ready} of {JOBS} jobs, "
            f"{plan.pads} pads, cost {plan.cost}; {gap}"
        )
        # Whatever was found says how good it is.
        assert plan.is_proven or (plan.most_ready is not None and plan.least is not None)
        assert plan.ready > 0
