"""Whether the working capacity keeps its promise: 5 % of true pulls below it, and no more.

Each line is a situation of a yard, simulated from readings to rating. Where a cause of error is
one that a yard can record (pads without marks, no unloading read, a lot gone softer), at most 5 %
may lie below, up to what chance would make of it once in a thousand; and where all else is as the
model says the working capacity may keep back no more than half as much again as perfect knowledge
of the scatter would.

`python -m tests.ratings.mechanics.test_coverage_by_monte_carlo 2000` prints the whole table.
"""

from __future__ import annotations

import math
import sys
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom

from ratings.mechanics.linepull import PadGroup, line_pull
from tests.ratings.mechanics.invented_yards import (
    POLICY,
    Coverage,
    Situation,
    always,
    anything_within,
    coverage,
)

YARDS = 300
CONFIDENCE = 0.95
SEED = 1020

IN_USE = anything_within(POLICY.conditions_pct / 100.0)
COLD_OR_WARM = anything_within((POLICY.conditions_pct + POLICY.unknown_temperature_pct) / 100.0)
FOUR_STRETCHES = (1.5, 3.0, 4.5, 6.0)
SHORT_TRAVEL_IN = (1.2, 3.0)


def every_forty_days(many: int, first_days: float = 0.0) -> tuple[tuple[int, float], ...]:
    """Two pads tested every forty days, so many times, the last first_days ago."""
    return tuple((2, first_days + 40.0 * place) for place in reversed(range(many)))


def singles(many: int) -> tuple[tuple[int, float], ...]:
    return tuple((1, float(many - place)) for place in range(many))


# A yard with a little of everything, as yards are.
A_LITTLE_OF_EACH = Situation(
    friction=0.03, spread=0.06, bend=0.08, use=anything_within(0.04), guided=False, lots=2
)

RECORDED = {
    "all as the model says": Situation(use=IN_USE),
    "in use exactly as on the bench": Situation(),
    "curved by 10 %, used at short travel": Situation(
        bend=0.10, travel_in=SHORT_TRAVEL_IN, use=IN_USE
    ),
    "curved by 20 %, used at short travel": Situation(
        bend=0.20, travel_in=SHORT_TRAVEL_IN, use=IN_USE
    ),
    "curved by 20 %, four stretches read": Situation(
        bend=0.20, travel_in=SHORT_TRAVEL_IN, stretches=FOUR_STRETCHES, use=IN_USE
    ),
    "loading only, seal friction 3 %": Situation(both_branches=False, friction=0.03, use=IN_USE),
    "loading only, seal friction 5 %": Situation(both_branches=False, friction=0.05),
    "both branches, seal friction 5 %": Situation(friction=0.05, use=IN_USE),
    "4 old tests and a new one, lot 10 % softer": Situation(
        tests=every_forty_days(5), softer_now=0.10
    ),
    "9 old tests and a new one, lot 10 % softer": Situation(
        tests=every_forty_days(10), softer_now=0.10
    ),
    "9 tests too old to count, lot 10 % softer": Situation(
        tests=(*every_forty_days(9, 800.0), (2, 0.0)), softer_now=0.10, use=IN_USE
    ),
    "4 old tests that agree with a new one": Situation(tests=every_forty_days(5), use=IN_USE),
    "not conditioned, first stretch 5 % stiffer": Situation(
        conditioning_cycles=0, first_stretch=0.05
    ),
    "not conditioned, first stretch 10 % stiffer": Situation(
        conditioning_cycles=0, first_stretch=0.10
    ),
    "5 % softer in use, proof pull made": Situation(use=always(0.95), proof=True),
    "9 % softer in use, proof pull made": Situation(use=always(0.91), proof=True),
    "one pad tested five times, marked": Situation(tests=singles(5), same_pads=True, use=IN_USE),
    "one pad tested five times, no marks": Situation(
        tests=singles(5), same_pads=True, marked=False, use=IN_USE
    ),
    "true spread 10 %, four single pads": Situation(spread=0.10, tests=singles(4), use=IN_USE),
    "true spread 10 %, eight single pads": Situation(spread=0.10, tests=singles(8), use=IN_USE),
    "two single pads": Situation(tests=singles(2), use=IN_USE),
    "not guided": Situation(guided=False, use=IN_USE),
    "three lots of one stand": Situation(lots=3, use=IN_USE),
    "three lots of three stands, not guided": Situation(lots=3, stands=3, guided=False, use=IN_USE),
    "quick test: loading only, from the crate, no marks": Situation(
        both_branches=False,
        conditioning_cycles=0,
        first_stretch=0.08,
        temperature_f=None,
        marked=False,
        stretches=FOUR_STRETCHES,
        use=IN_USE,
    ),
    "not conditioned, as stiff at first as its price": Situation(
        conditioning_cycles=0, first_stretch=POLICY.first_stretch_pct / 100.0, use=IN_USE
    ),
    "quick test, each lack as large as its price": Situation(
        both_branches=False,
        friction=POLICY.seal_friction_pct / 100.0,
        conditioning_cycles=0,
        first_stretch=POLICY.first_stretch_pct / 100.0,
        temperature_f=None,
        marked=False,
        stretches=FOUR_STRETCHES,
        use=COLD_OR_WARM,
    ),
    "a little of each, loading only": replace(A_LITTLE_OF_EACH, both_branches=False),
    "a little of each, both branches": A_LITTLE_OF_EACH,
}

# What a yard that records no more can't know of. The pages say what would tell.
NOT_RECORDED = {
    "5 % softer in use, no proof pull": Situation(use=always(0.95)),
    "9 % softer in use, no proof pull": Situation(use=always(0.91)),
    "true spread 10 %, 5 % assumed, no single pads": Situation(spread=0.10),
}

# A lack smaller than its price: what the price takes too much is kept back beside the doubt, by
# whoever knows the variances perfectly as well.
SMALLER_THAN_ITS_PRICE = {
    "not conditioned, first stretch 5 % stiffer",
    "quick test: loading only, from the crate, no marks",
}


def line(name: str, found: Coverage) -> str:
    return (
        f"{name:<52} {100 * found.below:5.1f} % below, keeps back {100 * found.margin:4.1f} % "
        f"({100 * found.least_margin:4.1f} % with perfect knowledge)"
    )


# Whether older tests count beside the newest is one thing or the other from yard to yard, and what
# is kept back falls in two heaps, of 6 and 11 %, with the median between them: it is known well
# enough only from more yards. Of 6,000 with another seed 53 % count all tests, and what is kept
# back is 1.40 times what is kept back by somebody who knows, besides the variances, that the lot
# has not changed (`Coverage`); of 1,000 and more, with three others, 1.45 to 1.5. To count the
# older tests more often would not do: of lots 3 to 5 % softer since, 4 to 5 % of true pulls lie
# below already (2,000 yards each, four and nine old tests).
MORE_YARDS = {
    "4 old tests that agree with a new one": 1_500,
    # Of fewer, the quantile of perfect knowledge alone comes out anywhere from 7.5 to 9 %.
    "quick test, each lack as large as its price": 1_000,
}
MOST_OF_PERFECT = 1.5


@pytest.mark.parametrize("name", RECORDED)
def test_no_more_than_5_pct_of_true_pulls_lie_below_and_no_more_is_kept_back_than_that_takes(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    yards = MORE_YARDS.get(name, YARDS)
    found = coverage(RECORDED[name], yards, SEED)
    with capsys.disabled():
        print("\n" + line(name, found))
    assert found.below * yards <= binom.ppf(0.999, yards, 1.0 - CONFIDENCE)
    if name in SMALLER_THAN_ITS_PRICE:
        assert found.margin <= MOST_OF_PERFECT * found.least_at_a_price
    elif RECORDED[name].use in (IN_USE, COLD_OR_WARM):
        assert found.margin <= MOST_OF_PERFECT * found.least_margin


def test_a_cause_nobody_records_is_not_covered_which_is_why_the_pages_say_so() -> None:
    # Were it covered, the working capacity would keep back too much everywhere else.
    found = coverage(NOT_RECORDED["9 % softer in use, no proof pull"], YARDS, SEED)
    assert found.below > 0.05


def test_the_uncertainty_of_a_pull_is_that_of_the_pulls_drawn() -> None:
    # Two lots; each pad, each lot's shared error and the tape drawn 200,000 times over.
    groups = [
        PadGroup(6, 1000.0, 6.0, 20.0, 50.0),
        PadGroup(4, 800.0, 6.0, 15.0, 60.0),
    ]
    found = line_pull(groups, 4.0, 0.05)
    draw = np.random.default_rng(7)
    times = 200_000
    # One stand: its error moves both lots together.
    shared = draw.normal(0.0, 1.0, times)
    rate = sum(
        each.count * (each.rate_lbf_in + each.standard_error_lbf_in * shared)
        + each.spread_lbf_in * math.sqrt(each.count) * draw.normal(0.0, 1.0, times)
        for each in groups
    )
    pulls = rate * (4.0 + draw.normal(0.0, 0.05, times))
    # The sd of so many is known to 0.16 %; four of that.
    assert found.standard_uncertainty_lbf == pytest.approx(float(pulls.std()), rel=0.007)


def test_the_uncertainty_of_a_pull_worked_by_hand() -> None:
    # At 4 in: pads 6·(50·4)² + 4·(60·4)² = 470,400; shared (6·20·4 + 4·15·4)² = 720² =
    # 518,400; tape (9,200·0.05)² = 211,600. Root of 1,200,400.
    groups = [
        PadGroup(6, 1000.0, 6.0, 20.0, 50.0),
        PadGroup(4, 800.0, 6.0, 15.0, 60.0),
    ]
    found = line_pull(groups, 4.0, 0.05)
    assert found.standard_uncertainty_lbf == pytest.approx(math.sqrt(1_200_400.0), rel=1e-14)
    assert found.working_capacity_lbf == pytest.approx(
        36_800.0 - 1.6449 * math.sqrt(1_200_400.0), rel=1e-14
    )


if __name__ == "__main__":
    yards = int(sys.argv[1]) if len(sys.argv) > 1 else YARDS
    for words, situation in (RECORDED | NOT_RECORDED).items():
        print(line(words, coverage(situation, yards, SEED)), flush=True)
