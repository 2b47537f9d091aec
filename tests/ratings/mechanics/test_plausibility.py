"""Rates that rubber allows, and mistakes that explain those it doesn't.

Shear moduli of Lindley and AASHTO from memory, neither opened.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.bench import Cylinder
from ratings.mechanics.plausibility import (
    LINDLEY_MPA,
    PSI_PER_MPA,
    Mistake,
    explain,
    plausible_rates,
    shear_modulus_psi,
    shear_modulus_range_psi,
    strain_pct,
)

# Hardness and range of shear modulus, psi, at 73 °F. AASHTO LRFD Table 14.7.6.2-1, as
# recalled, not opened.
AASHTO_PSI = {50.0: (95.0, 130.0), 60.0: (130.0, 200.0), 70.0: (200.0, 300.0)}

# 1 MPa = 145.04 psi: 50 IRHD is 92.8 psi; 20 in² of rubber 2 in thick gives 928 lbf/in.
FIFTY = plausible_rates(50.0, 20.0, 2.0)
CYLINDER = Cylinder(5.0, 3.0)


def found(rate: float, **changes: Any) -> list[tuple[Mistake, float]]:
    usual: dict[str, Any] = {"cylinder": CYLINDER, "end": "blind", "pads_in_test": 2}
    return [
        (each.mistake, round(each.rate_lbf_in, 6))
        for each in explain(rate, FIFTY, **(usual | changes))
    ]


@pytest.mark.parametrize(("hardness", "modulus_mpa"), LINDLEY_MPA)
def test_the_table_is_met_at_its_points(hardness: float, modulus_mpa: float) -> None:
    assert shear_modulus_psi(hardness) == pytest.approx(modulus_mpa * PSI_PER_MPA, rel=1e-14)


def test_between_its_points_it_is_straight() -> None:
    assert shear_modulus_psi(52.5) == pytest.approx(0.725 * PSI_PER_MPA, rel=1e-14)


@given(st.floats(30.0, 75.0), st.floats(30.0, 75.0))
def test_harder_rubber_is_never_softer_in_shear(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert shear_modulus_psi(low) <= shear_modulus_psi(high)


@pytest.mark.parametrize(("hardness", "theirs"), AASHTO_PSI.items())
def test_the_range_overlaps_the_one_of_the_bridge_code(
    hardness: float, theirs: tuple[float, float]
) -> None:
    low, high = shear_modulus_range_psi(hardness)
    overlap = min(high, theirs[1]) - max(low, theirs[0])
    assert overlap > 0.5 * (theirs[1] - theirs[0])


def test_a_range_worked_by_hand() -> None:
    # 45 to 55 IRHD: 0.54 to 0.81 MPa = 78.320 to 117.481 psi; times 20/2.
    assert FIFTY.least_lbf_in == pytest.approx(783.204, abs=1e-3)
    assert FIFTY.most_lbf_in == pytest.approx(1174.806, abs=1e-3)
    assert FIFTY.holds(928.0)


def test_a_range_ends_where_the_table_does() -> None:
    assert shear_modulus_range_psi(32.0)[0] == shear_modulus_psi(30.0)
    assert shear_modulus_range_psi(74.0)[1] == shear_modulus_psi(75.0)


def test_a_plausible_rate_needs_no_explanation() -> None:
    assert found(928.0) == []


def test_four_pads_said_to_be_two_are_found_out() -> None:
    # Twice the rate: three pads would leave 1,237, five 742.
    assert found(1856.0) == [(Mistake.PAD_COUNT, 928.0)]


def test_a_wrong_end_of_the_cylinder_is_found_out() -> None:
    # Ring 16 of 25: a rate of 928 on the ring is 1,450 taken for the whole bore; three pads
    # for two would explain it as well, and is said first.
    assert found(1450.0) == [(Mistake.PAD_COUNT, 966.666667), (Mistake.CYLINDER_END, 928.0)]
    assert found(1450.0, most_pads=2) == [(Mistake.CYLINDER_END, 928.0)]
    assert found(593.92, end="rod", most_pads=2)[-1] == (Mistake.CYLINDER_END, 928.0)


def test_a_cylinder_without_a_rod_has_no_other_end() -> None:
    assert found(1450.0, cylinder=Cylinder(5.0), most_pads=2) == []


def test_a_gauge_in_another_unit_is_found_out() -> None:
    in_kpa = found(928.0 * 6.894757293168361, most_pads=12)
    assert (Mistake.GAUGE_IN_KPA, 928.0) in in_kpa
    assert found(928.0 / 14.503773773020923) == [(Mistake.GAUGE_IN_BAR, 928.0)]


def test_other_units_are_found_out_of_what_was_typed_in_si() -> None:
    # True 928 lbf/in: cm typed as mm make a tenth of the stretch, and so ten times the rate.
    assert (Mistake.TAPE_IN_CM, 928.0) in found(9280.0, typed_in="si")
    assert (Mistake.TAPE_IN_INCHES, 928.0) in found(928.0 * 25.4, typed_in="si")
    assert (Mistake.GAUGE_IN_BAR, 928.0) in found(9.28, typed_in="si")
    assert (Mistake.GAUGE_IN_PSI, 928.0) in found(928.0 * 0.1450377377302092, typed_in="si")
    # A bore of 150 mm typed as 510: (510/150)² of the area.
    bored = found(928.0 * (510 / 150) ** 2, typed_in="si", cylinder=Cylinder(510 / 25.4))
    assert (Mistake.BORE_DIGITS, 928.0) in bored


def test_an_explanation_says_what_it_supposes() -> None:
    four, *_ = explain(1856.0, FIFTY, cylinder=CYLINDER, end="blind", pads_in_test=2)
    assert (four.remark, four.pads) == (("4 pads in test, not 2",), 4)
    one, *_ = explain(464.0, FIFTY, cylinder=CYLINDER, end="blind", pads_in_test=2)
    assert one.remark == ("1 pad in test, not 2",)
    (end,) = explain(1450.0, FIFTY, cylinder=CYLINDER, end="blind", pads_in_test=2, most_pads=2)
    assert end.remark == ("pressure on the rod end of the cylinder, not the blind end",)
    assert end.pads is None


@given(st.floats(1.0, 1e5), st.integers(1, 8), st.sampled_from(["blind", "rod"]))
def test_every_explanation_leads_inside_and_only_implausible_rates_have_any(
    rate: float, pads: int, end: str
) -> None:
    given_rates = found(rate, pads_in_test=pads, end=end)
    assert not (FIFTY.holds(rate) and given_rates)
    assert all(FIFTY.holds(each) for _, each in given_rates)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: shear_modulus_psi(29.0), "hardness is 29: give 30 to 75, Shore A or IRHD"),
        (lambda: shear_modulus_range_psi(76.0), "hardness is 76"),
        (lambda: shear_modulus_range_psi(50.0, 0.0), "tolerance is 0"),
        (lambda: plausible_rates(50.0, 0.0, 2.0), "bonded_area_in2 is 0"),
        (lambda: plausible_rates(50.0, 20.0, -2.0), "rubber_thickness_in is -2"),
        (lambda: found(0.0), "rate_lbf_in is 0"),
        (lambda: found(10.0, pads_in_test=0), "pads_in_test is 0"),
        (lambda: found(10.0, most_pads=0), "most_pads is 0"),
        (lambda: found(10.0, end="top"), "end is 'top'"),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()


def test_the_strain_of_a_block_in_shear_is_its_stretch_over_its_thickness() -> None:
    # By definition: 2.5 in over 2 in of rubber.
    assert strain_pct(2.5, 2.0) == 125.0
    assert strain_pct(0.0, 2.0) == 0.0


@pytest.mark.parametrize(
    ("stretch_in", "thickness_in", "said"),
    [
        (-0.1, 2.0, "stretch_in is -0.1"),
        (1.0, 0.0, "rubber_thickness_in is 0"),
        (1.0, -2.0, "rubber_thickness_in is -2"),
        (float("nan"), 2.0, "stretch_in is nan"),
        (1.0, float("inf"), "rubber_thickness_in is inf"),
    ],
)
def test_a_strain_that_cannot_be_is_refused(
    stretch_in: float, thickness_in: float, said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        strain_pct(stretch_in, thickness_in)
