"""A fleet judged as arrays against one unit at a time. It prints ratios and asserts no time."""

from __future__ import annotations

import random
import time
from dataclasses import replace

import pytest

from ratings.mechanics.extraction.check import check, check_fleet
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import PadGroup
from ratings.mechanics.load_curve import monotone_curve
from ratings.mechanics.soil import Density, Layer, LayerKind
from tests.mechanics.pulls import JOB, UNIT

MANY, ALONE = 10_000, 400

LAYERED = replace(
    JOB,
    layers=(
        Layer(
            LayerKind.COHESIVE,
            0.0,
            15.0,
            115.0,
            undrained_strength_psf=600.0,
            soil="soft loam or marl, soft loess, stiff cliff",
        ),
        Layer(
            LayerKind.GRANULAR,
            15.0,
            60.0,
            120.0,
            density=Density.DENSE_SAND,
            soil="round fine sand",
        ),
    ),
    water_depth_ft=8.0,
)
BENT = monotone_curve([1.5, 3.0, 4.5, 6.0], [1_400.0, 2_950.0, 4_700.0, 6_900.0])


def yard(share_bent: float) -> list[Unit]:
    """Units of two lots each, no two alike."""
    drawn = random.Random(7)
    return [
        replace(
            UNIT,
            mark=f"U{number}",
            groups=(
                PadGroup(
                    drawn.randint(4, 16), drawn.uniform(800, 1_200), 6.0, 9.0, 45.0, 9.0, lot="P1"
                ),
                PadGroup(
                    drawn.randint(4, 16),
                    1_000.0,
                    6.0,
                    8.0,
                    40.0,
                    drawn.randint(3, 20),
                    BENT if drawn.random() < share_bent else None,
                    "P2",
                ),
            ),
            usable_travel_in=drawn.uniform(3.0, 6.0),
            travel_uncertainty_in=0.036,
            frequency_vpm=drawn.uniform(1_200, 1_800),
            eccentric_moment_lb_in=drawn.uniform(1_000, 6_000),
        )
        for number in range(MANY)
    ]


def seconds_for(units: list[Unit], job: Job) -> tuple[float, float]:
    """Seconds for the verdicts and ranking of all as arrays, and as if each were asked alone."""
    start = time.perf_counter()
    judged = check_fleet(units, job)
    judged.ranking()
    as_arrays = time.perf_counter() - start
    start = time.perf_counter()
    alone = [check(unit, job) for unit in units[:ALONE]]
    one_by_one = (time.perf_counter() - start) * len(units) / ALONE
    assert [judged.unit(place) for place in range(ALONE)] == alone
    return as_arrays, one_by_one


@pytest.mark.parametrize(
    ("name", "share_bent"), [("linear lots", 0.0), ("a tenth of lots not linear", 0.1)]
)
def test_ten_thousand_units_in_one_pass(
    name: str, share_bent: float, capsys: pytest.CaptureFixture[str]
) -> None:
    units = yard(share_bent)
    check_fleet(units[:10], LAYERED)
    as_arrays, one_by_one = seconds_for(units, LAYERED)
    with capsys.disabled():
        print(
            f"\nan extraction check of {MANY:,} units, {name}: {as_arrays:.2f} s as arrays, "
            f"{one_by_one / as_arrays:.0f} times as fast as one by one ({one_by_one:.1f} s)"
        )


def test_telling_every_verdict_in_full_grows_with_the_fleet_and_no_faster(
    capsys: pytest.CaptureFixture[str],
) -> None:
    units = yard(0.0)
    told: dict[int, float] = {}
    for many in (MANY // 10, MANY):
        judged = check_fleet(units[:many], LAYERED)
        start = time.perf_counter()
        for place in range(many):
            judged.unit(place)
        told[many] = time.perf_counter() - start
    few, all_of_them = told.values()
    with capsys.disabled():
        print(
            f"\ntelling all {MANY:,} verdicts in full takes {all_of_them:.2f} s, "
            f"{all_of_them / few:.1f} times as long as a tenth of them"
        )
