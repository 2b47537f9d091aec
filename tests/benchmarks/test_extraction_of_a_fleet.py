"""A fleet judged against a tenth of it. It prints times and ratios and asserts no time."""

from __future__ import annotations

import random
import time
from dataclasses import replace
from timeit import timeit

import pytest

from ratings.mechanics.extraction.check import check, check_fleet, ranking
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import PadGroup
from ratings.mechanics.load_curve import monotone_curve
from ratings.mechanics.soil import Density, Layer, LayerKind
from tests.ratings.mechanics.pulls import JOB, UNIT

MANY, FEW = 10_000, 1_000

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


def seconds_for(units: list[Unit]) -> float:
    """Processor seconds for the verdicts and the ranking of units."""
    return timeit(lambda: ranking(check_fleet(units, LAYERED)), timer=time.process_time, number=1)


@pytest.mark.parametrize(
    ("name", "share_bent"),
    [("linear lots", 0.0), ("a tenth of lots not linear", 0.1), ("half of lots not linear", 1.0)],
)
def test_ten_thousand_units_are_judged_beside_a_thousand(
    name: str, share_bent: float, capsys: pytest.CaptureFixture[str]
) -> None:
    units = yard(share_bent)
    assert sorted(ranking(check_fleet(units[:FEW], LAYERED))) == list(range(FEW))
    few, many = seconds_for(units[:FEW]), seconds_for(yard(share_bent))
    with capsys.disabled():
        print(
            f"\nan extraction check of {FEW:,} units, {name}: {few * 1000:.0f} ms; "
            f"{MANY:,} take {many / few:.1f} times as long"
        )


def test_units_asked_one_by_one_fare_as_they_do_together(
    capsys: pytest.CaptureFixture[str],
) -> None:
    units = yard(0.1)[:FEW]
    assert check_fleet(units, LAYERED) == [check(unit, LAYERED) for unit in units]
    together = seconds_for(units)
    alone = timeit(
        lambda: [check(unit, LAYERED) for unit in units], timer=time.process_time, number=1
    )
    with capsys.disabled():
        print(
            f"\n{FEW:,} units asked one by one take "
            f"{alone / together:.1f} times as long as together"
        )
