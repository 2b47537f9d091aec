"""Whether a tested rate can be right, by the hardness and size of the rubber."""

from __future__ import annotations

from dataclasses import dataclass

from ratings.mechanics.bench import Cylinder
from ratings.mechanics.plausibility import Explanation, RateRange, explain, plausible_rates
from ratings.models import BenchTest


@dataclass(frozen=True)
class Plausibility:
    """The rates the rubber allows, whether the tested one is among them, and if not why not."""

    rates: RateRange
    is_plausible: bool
    explanations: tuple[Explanation, ...]


def plausibility_of(test: BenchTest, rate_lbf_in: float) -> Plausibility | None:
    """Hold a test's rate against its lot's rubber; None where that is not on record."""
    lot = test.lot
    hardness, area_in2 = lot.hardness_shore_a, lot.bonded_area_in2
    thickness_in = lot.rubber_thickness_in
    if hardness is None or area_in2 is None or thickness_in is None:
        return None
    try:
        rates = plausible_rates(hardness, area_in2, thickness_in)
    except ValueError:
        # Softer or harder than the published table goes: nothing to hold it against.
        return None
    explanations = explain(
        rate_lbf_in,
        rates,
        cylinder=Cylinder(test.bore_in, test.rod_in),
        end=test.end,
        pads_in_test=test.pads_in_test,
    )
    return Plausibility(rates, rates.holds(rate_lbf_in), explanations)
