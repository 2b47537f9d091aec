"""What the pads of a unit should give by its ledger, for a proof pull to be held to."""

from __future__ import annotations

import math
from dataclasses import replace

from ratings.mechanics.proof_pull import ExpectedPull
from ratings.mechanics.unit_rating import StaleRates, UnitInputs, UnitRating, pad_groups, rate_unit


def expected_pull(inputs: UnitInputs) -> tuple[ExpectedPull, UnitRating] | None:
    """Return what all rated sound pads give at a stretch, and the rating by them.

    The rating is that of the pads alone, whatever an earlier proof pull took off. None where
    the unit is not rated. All pads of both sides pull, guided or not; the rating, which counts
    twice the weaker side, is for where the stops are. The stretch goes as far as every one of
    the lots was tested: beyond that some pull of which nobody knows.
    """
    of_pads = replace(inputs, proof=None)
    if inputs.policy.stale_rates == StaleRates.DROP:
        rates = tuple(rate for rate in inputs.lots if not rate.stale)
        of_pads = replace(of_pads, lots=rates)
    rating, of_both_sides = rate_unit(of_pads), rate_unit(replace(of_pads, is_guided=True))
    if not rating.pull_lbf or not of_both_sides.pull_lbf:
        return None
    groups = [group for group in pad_groups(of_pads) if group.count]
    to_in = min(group.tested_stretch_in for group in groups)

    def force_lbf(stretch_in: float) -> float:
        return math.fsum(group.count * group.force_lbf(stretch_in) for group in groups)

    before_allowance_lbf = math.fsum(
        group.count * group.load_curve.force_lbf(to_in) for group in groups
    )
    expected = ExpectedPull(
        force_lbf=force_lbf,
        standard_share=(of_both_sides.standard_uncertainty_lbf or 0.0) / of_both_sides.pull_lbf,
        to_in=to_in,
        allowance_share=1.0 - force_lbf(to_in) / before_allowance_lbf,
    )
    return expected, rating
