"""Independent check that line pull's uncertainty and working capacity cover what they say.

JCGM 101 style: invented fleets of which the true pull is known are drawn, tested, rated and
compared, seeds fixed. Nothing here takes the law of propagation; only the share covered counts.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import binom

from ratings.mechanics.bench import BenchSetUp, Cylinder
from ratings.mechanics.budget import Instruments, rate_budget
from ratings.mechanics.line_fit import fit_rate
from ratings.mechanics.linepull import PadGroup, line_pull
from ratings.mechanics.pooling import BenchRate, PooledRate, pool

FLEETS = 2_000
BORE = 5.0
INSTRUMENTS = Instruments("2A", 2500.0, 10.0, 0.125, 0.125, 0.02)
STRETCHES = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0])
SPREAD = 0.05
TAPE = 0.125


class Stand:
    """A stand with errors of its own that stay the same from test to test."""

    def __init__(self, draw: np.random.Generator) -> None:
        self.draw = draw
        self.gauge_off_psi = draw.uniform(-12.5, 12.5)
        self.datum_off_in = draw.uniform(-0.125, 0.125)
        self.bore_in = BORE + draw.uniform(-0.02, 0.02)

    def test(self, pads: np.ndarray) -> BenchRate:
        """Test some pads of known rates as a yard would, and reduce what gauge and tape show."""
        per_psi = math.pi / 4.0 * self.bore_in**2 / len(pads)
        psi = float(pads.mean()) * STRETCHES / per_psi
        psi = psi + self.gauge_off_psi + self.draw.normal(0.0, 5.0, STRETCHES.size)
        shown_psi = np.maximum(np.round(psi / 10.0) * 10.0, 0.0)
        shown_in = STRETCHES + self.datum_off_in
        shown_in = np.round((shown_in + self.draw.uniform(-0.06, 0.06, 6)) / 0.125) * 0.125
        set_up = BenchSetUp(Cylinder(BORE), "blind", len(pads), 12.0)
        forces = list(shown_psi * set_up.cylinder.area_in2() / len(pads))
        fit = fit_rate(list(shown_in), forces)
        budget = rate_budget(fit, list(shown_in), forces, set_up, INSTRUMENTS)
        common = budget.standard_lbf_in**2 - fit.standard_error_lbf_in**2
        return BenchRate(
            fit.rate_lbf_in,
            fit.standard_error_lbf_in,
            math.sqrt(common),
            len(pads),
            fit.degrees_of_freedom,
        )


class FaultlessStand(Stand):
    """A stand that shows each rate to 2 lbf/in: what is left to cover is the pads themselves."""

    def test(self, pads: np.ndarray) -> BenchRate:
        rate = float(pads.mean()) + self.draw.normal(0.0, 2.0)
        return BenchRate(rate, 2.0, 0.0, len(pads), 5)


def group(pooled: PooledRate, count: int) -> PadGroup:
    return PadGroup(
        count=count,
        rate_lbf_in=pooled.rate_lbf_in,
        tested_stretch_in=6.0,
        standard_error_lbf_in=pooled.shared_lbf_in,
        spread_lbf_in=pooled.spread_lbf_in,
        degrees_of_freedom=pooled.degrees_of_freedom,
        spread_degrees_of_freedom=pooled.spread.degrees_of_freedom,
    )


def covered(
    draw: np.random.Generator, tests: list[int], confidence: float, stand_kind: type[Stand] = Stand
) -> bool:
    """Say whether the true pull of one invented housing reaches its working capacity."""
    lot_mean = draw.uniform(500.0, 1200.0)
    count = int(draw.integers(4, 20))
    travel = draw.uniform(2.0, 5.5)
    stand = stand_kind(draw)

    def pads(number: int) -> np.ndarray:
        return draw.normal(lot_mean, SPREAD * lot_mean, number)

    pooled = pool([stand.test(pads(number)) for number in tests], 100.0 * SPREAD)
    taped = round(travel / TAPE) * TAPE
    found = line_pull([group(pooled, count)], taped, TAPE / math.sqrt(12.0), confidence)
    return float(pads(count).sum()) * travel >= found.working_capacity_lbf


@pytest.mark.parametrize(
    ("tests", "confidence", "stand_kind"),
    [
        pytest.param([2], 0.95, Stand, id="one test of two pads"),
        pytest.param([4, 4, 4], 0.95, Stand, id="three tests of four"),
        pytest.param([1, 1, 1, 1, 1, 1], 0.95, Stand, id="six single pads"),
        pytest.param([2, 2], 0.90, Stand, id="two tests of two at ninety percent"),
        pytest.param([2], 0.95, FaultlessStand, id="two pads, faultless stand"),
        pytest.param([1, 1], 0.95, FaultlessStand, id="two single pads, faultless stand"),
        pytest.param([1, 1, 1], 0.95, FaultlessStand, id="three single pads, faultless stand"),
        pytest.param([1, 1, 1, 1, 1, 1], 0.95, FaultlessStand, id="six, faultless stand"),
    ],
)
def test_the_working_capacity_covers_at_least_its_stated_share(
    tests: list[int], confidence: float, stand_kind: type[Stand]
) -> None:
    draw = np.random.default_rng(1020 + len(tests))
    kept = sum(covered(draw, tests, confidence, stand_kind) for _ in range(FLEETS))
    # Fewer would come by chance once in a thousand were the share exactly as stated:
    # 1,869 of 2,000 at 95 %.
    assert kept >= binom.ppf(0.001, FLEETS, confidence)


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


def test_a_measured_spread_brings_its_few_degrees_of_freedom_along() -> None:
    # All of the uncertainty from a spread known by three pads: t of 2 degrees, 2.9200.
    measured = PadGroup(9, 1000.0, 6.0, 0.0, 50.0, spread_degrees_of_freedom=2)
    found = line_pull([measured], 4.0)
    assert (found.degrees_of_freedom, found.coverage_factor) == (2.0, 2.9200)
    # Nor does a tape that is as unsure bring it more, nor a shared error known better.
    assert line_pull([measured], 4.0, 0.15).degrees_of_freedom == 2.0
    both = PadGroup(9, 1000.0, 6.0, 20.0, 50.0, 8, spread_degrees_of_freedom=2)
    assert line_pull([both], 4.0).degrees_of_freedom == 2.0


def test_a_lot_without_sound_pads_brings_no_degrees_of_freedom() -> None:
    sure = PadGroup(9, 1000.0, 6.0, 0.0, 50.0)
    none = PadGroup(0, 1000.0, 6.0, 10.0, 50.0, 1, spread_degrees_of_freedom=1)
    assert line_pull([sure, none], 4.0).degrees_of_freedom == math.inf
