"""What can be promised of any one pad of a lot, and what testing more pads would add."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import fmean, stdev

from fleet.models import PadLot
from ratings.bench.recording import usable_tests
from ratings.lot_pools import pool_test_of
from ratings.mechanics.pooling import lower_bound_of_one_pad, pads_to_test_for

PROPORTION = 0.90
CONFIDENCE = 0.95
# The gain asked about unless another is: this share of the mean rate.
WANTED_SHARE = 0.02


@dataclass(frozen=True)
class OnePadOutlook:
    """A lower bound that so many of a lot's pads keep, and how many more tests would lift it."""

    single_pads: int
    lower_bound_lbf_in: float
    gain_lbf_in: float
    more_pads: int | None
    proportion_pct: int = round(PROPORTION * 100)
    confidence_pct: int = round(CONFIDENCE * 100)


def one_pad_outlook(lot: PadLot, wanted_gain_lbf_in: float | None = None) -> OnePadOutlook | None:
    """Return the outlook of a lot; None where fewer than two marked pads were tested singly.

    A pad tested again is no second pad, and pads without marks may all be one.
    wanted_gain_lbf_in: by how much testing more pads is to lift the lower bound.
    """
    rates_by_mark: dict[str, list[float]] = {}
    for test in usable_tests(lot):
        rate = pool_test_of(test).rate
        if rate.pads_in_test == 1 and rate.marks:
            rates_by_mark.setdefault(rate.marks[0], []).append(rate.rate_lbf_in)
    rates = [fmean(of_one_pad) for of_one_pad in rates_by_mark.values()]
    if len(rates) < 2:
        return None
    mean, sd = fmean(rates), stdev(rates)
    gain = mean * WANTED_SHARE if wanted_gain_lbf_in is None else wanted_gain_lbf_in
    return OnePadOutlook(
        single_pads=len(rates),
        lower_bound_lbf_in=lower_bound_of_one_pad(mean, sd, len(rates), PROPORTION, CONFIDENCE),
        gain_lbf_in=gain,
        more_pads=pads_to_test_for(gain, mean, sd, len(rates), PROPORTION, CONFIDENCE),
    )
