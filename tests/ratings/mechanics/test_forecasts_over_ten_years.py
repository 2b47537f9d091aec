"""A yard simulated over ten years: its forecasts, made as it went, against what came."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

import pytest

from ratings.mechanics.forecast_scores import Bin, Scored, brier, calibration, wilson, without_skill
from ratings.mechanics.pad_forecast import (
    Ahead,
    ForecastUnit,
    LotLaw,
    NoLaw,
    SoundPad,
    outlooks,
    own_law,
    pooled_law,
)
from ratings.mechanics.survival import Life
from ratings.mechanics.unit_rating import LotRate, Policy, Position, UnitInputs

# Scale in hours and shape of what each lot's pads truly last.
TRUE = {"K": (420.0, 2.2), "L": (700.0, 3.0), "M": (1_000.0, 1.6)}
UNITS, PER_SIDE, YEARS = 12, 4, 10
HOURS_A_DAY, DAYS_A_LOOK = 1.5, 30
HORIZONS = (30, 90, 180, 300)
PAD_LBF = 6_000.0


@dataclass
class Pad:
    lot: str
    fitted: float
    fails: float
    seen_sound: float


def new_pad(rng: random.Random, lot: str, hours: float) -> Pad:
    scale, shape = TRUE[lot]
    return Pad(lot, hours, hours + scale * (-math.log(rng.random())) ** (1.0 / shape), hours)


def forecasts() -> list[tuple[Scored, float, int]]:
    """Each: the chance to be short and whether it came; pads expected to fail, and that did.

    Pads are looked at every thirty days and a failed one is replaced at once by one of its lot,
    so that a unit is whole at each look; every half year all units are forecast, by only the looks
    till then. It is short with two pads or more lost. What came is read from the pads themselves.
    """
    rng = random.Random(20)
    lots = sorted(TRUE)
    yard = [
        [new_pad(rng, lots[unit % 3], 0.0) for _ in range(2 * PER_SIDE)] for unit in range(UNITS)
    ]
    ended: dict[str, list[Life]] = {lot: [] for lot in lots}
    found: list[tuple[Scored, float, int]] = []
    for look in range(1, YEARS * 365 // DAYS_A_LOOK + 1):
        hours = look * DAYS_A_LOOK * HOURS_A_DAY
        for pads in yard:
            for place, pad in enumerate(pads):
                if pad.fails <= hours:
                    between = (pad.seen_sound - pad.fitted, hours - pad.fitted)
                    ended[pad.lot].append(Life(*between))
                    pads[place] = new_pad(rng, pad.lot, hours)
                else:
                    pad.seen_sound = hours
        if look % 6 == 0:
            found += forecast_all(yard, ended, hours)
    return found


def forecast_all(
    yard: list[list[Pad]], ended: dict[str, list[Life]], hours: float
) -> list[tuple[Scored, float, int]]:
    lives = {lot: list(each) for lot, each in ended.items()}
    for pads in yard:
        for pad in pads:
            lives[pad.lot].append(Life(pad.seen_sound - pad.fitted))
    laws: dict[str, LotLaw | NoLaw] = {
        lot: own_law(lot, each) or pooled_law(lot, lives) for lot, each in lives.items()
    }
    ahead = [Ahead(days, days * HOURS_A_DAY) for days in HORIZONS]
    found = []
    for number, pads in enumerate(yard):
        for each in outlooks(unit_of(pads, hours), laws, ahead):
            if each.why_not or each.lost is None:
                continue
            by = hours + each.ahead.hours
            failed = sum(pad.fails <= by for pad in pads)
            chance = min(1.0, max(0.0, each.short))
            found.append((Scored(chance, failed >= 2, f"S-{number}"), each.lost.expected, failed))
    return found


def unit_of(pads: list[Pad], hours: float) -> ForecastUnit:
    """A guided unit of these pads, which meets its listing with one lost and not with two."""
    places = [("A" if each < PER_SIDE else "B", each % PER_SIDE + 1) for each in range(len(pads))]
    lot = pads[0].lot
    inputs = UnitInputs(
        tuple(Position(side, number, "sound", lot) for side, number in places),
        (LotRate(lot, PAD_LBF / 6.0, 1.0, 8.0, 1.0, 8.0, ()),),
        6.0,
        (len(pads) - 1.5) * PAD_LBF * 0.97,
        Policy(pad_spread_pct=0.1, conditions_pct=0.1, tape_resolution_in=0.001, gap_band_pct=0.0),
        is_guided=True,
    )
    return ForecastUnit(
        inputs,
        inputs,
        tuple(
            SoundPad(side, number, lot, lot, pad.seen_sound - pad.fitted, hours - pad.fitted)
            for (side, number), pad in zip(places, pads, strict=True)
        ),
    )


@pytest.fixture(scope="module")
def made() -> list[tuple[Scored, float, int]]:
    return forecasts()


def table_of(bins: tuple[Bin, ...]) -> str:
    lines = ["forecast  came    of   band"]
    lines += [
        f"{each.predicted:7.0%} {each.share:7.0%} {each.many:5d}   {each.low:.0%}–{each.high:.0%}"
        for each in bins
    ]
    return "\n".join(lines)


def test_what_is_forecast_at_one_tenth_a_half_and_nine_tenths_comes_so_often(
    made: list[tuple[Scored, float, int]], capsys: pytest.CaptureFixture[str]
) -> None:
    scored = [each for each, _, _ in made]
    with capsys.disabled():
        print(f"\nTen years, {len(scored)} forecasts\n{table_of(calibration(scored))}")
    for middle in (0.1, 0.5, 0.9):
        mine = [each for each in scored if abs(each.chance - middle) <= 0.1]
        came, said = sum(each.came for each in mine), sum(each.chance for each in mine) / len(mine)
        assert len(mine) >= 60
        # Forecasts of one unit half a year apart share its pads, and of one lot its law: they are
        # worth a third of as many that share nothing.
        low, high = wilson(round(came / 3), max(1, len(mine) // 3), 0.99)
        assert low <= said <= high


def test_over_ten_years_as_many_pads_fail_as_were_expected(
    made: list[tuple[Scored, float, int]],
) -> None:
    expected = math.fsum(each for _, each, _ in made)
    failed = sum(each for _, _, each in made)
    assert failed / expected == pytest.approx(1.0, abs=0.1)


def test_the_forecasts_tell_more_than_the_share_that_came(
    made: list[tuple[Scored, float, int]],
) -> None:
    scored = [each for each, _, _ in made]
    assert brier(scored) < 0.75 * without_skill(scored)
