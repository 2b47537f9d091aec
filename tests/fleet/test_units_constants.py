"""Units against their definitions, worked exactly, and against pint itself.

Definitions (from memory; the standards were not opened): pound 0.45359237 kg, standard
gravity 9.80665 m/s², inch 0.0254 m.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pint
import pytest

from fleet.quantities import LBF_PER_US_TON, Quantity

POUND_KG = Fraction(Decimal("0.45359237"))
GRAVITY_M_S2 = Fraction(Decimal("9.80665"))
INCH_M = Fraction(Decimal("0.0254"))
LBF_N = POUND_KG * GRAVITY_M_S2

# Stored unit → unit shown in SI, exact.
FACTORS = [
    pytest.param(Quantity.LENGTH, "in", "mm", INCH_M * 1000, id="in to mm"),
    pytest.param(Quantity.DIAMETER, "in", "mm", INCH_M * 1000, id="bore in to mm"),
    pytest.param(Quantity.FORCE, "lbf", "kN", LBF_N / 1000, id="lbf to kN"),
    pytest.param(Quantity.RATE, "lbf/in", "N/mm", LBF_N / (INCH_M * 1000), id="lbf/in to N/mm"),
    pytest.param(Quantity.PRESSURE, "psi", "kPa", LBF_N / INCH_M**2 / 1000, id="psi to kPa"),
]

# (exact value, as printed to so many digits by decimal arithmetic from the definitions)
PRINTED = [
    pytest.param(INCH_M * 1000, "25.4", id="in in mm"),
    pytest.param((INCH_M * 1000) ** 2, "645.16", id="in² in mm²"),
    pytest.param(LBF_N, "4.4482216152605", id="lbf in N"),
    pytest.param(LBF_N / INCH_M**2, "6894.757293168361336722673", id="psi in Pa"),
    pytest.param(LBF_N * 2000, "8896.443230521", id="US ton-force in N"),
    pytest.param(LBF_N * 2240, "9964.01641818352", id="long ton-force in N"),
    pytest.param(GRAVITY_M_S2 * 1000, "9806.65", id="tonne-force in N"),
    pytest.param(GRAVITY_M_S2 * 1000 / LBF_N, "2204.622621848775807", id="tonne-force in lbf"),
    pytest.param(LBF_N / (INCH_M * 1000), "0.17512683524647638", id="lbf/in in N/mm"),
    pytest.param(1000 / LBF_N, "224.8089430997104829", id="kN in lbf"),
]


@pytest.mark.parametrize(("quantity", "us", "si", "exact"), FACTORS)
def test_a_stored_figure_is_shown_in_si_by_the_exact_factor(
    quantity: Quantity, us: str, si: str, exact: Fraction
) -> None:
    assert quantity.symbols == {"us": us, "si": si}
    assert quantity.shown(1.0, "si") == pytest.approx(float(exact), rel=1e-14)


@pytest.mark.parametrize(("quantity", "us", "si", "exact"), FACTORS)
def test_a_figure_entered_in_si_is_stored_by_the_exact_factor(
    quantity: Quantity, us: str, si: str, exact: Fraction
) -> None:
    assert quantity.stored(1.0, "si") == pytest.approx(float(1 / exact), rel=1e-14)


@pytest.mark.parametrize(("quantity", "us", "si", "exact"), FACTORS)
def test_the_exact_factor_is_the_one_pint_has(
    quantity: Quantity, us: str, si: str, exact: Fraction
) -> None:
    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    assert registry.Quantity(1.0, us).to(si).magnitude == pytest.approx(float(exact), rel=1e-14)


@pytest.mark.parametrize(("exact", "printed"), PRINTED)
def test_a_printed_constant_follows_from_the_definitions(exact: Fraction, printed: str) -> None:
    assert float(exact) == pytest.approx(float(printed), rel=1e-15)


@pytest.mark.parametrize("quantity", [each for each in Quantity if each is not Quantity.PULL])
def test_a_figure_in_us_units_is_shown_as_stored(quantity: Quantity) -> None:
    assert quantity.shown(1033.25, "us") == 1033.25
    assert quantity.stored(1033.25, "us") == 1033.25


def test_a_pull_in_us_units_is_shown_in_tons() -> None:
    assert Quantity.PULL.shown(1033.25, "us") == pytest.approx(0.516625, rel=1e-15)


def test_a_us_ton_is_2000_lbf() -> None:
    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    assert LBF_PER_US_TON == 2000.0
    # pint's force_ton is the US short ton-force; its "ton" is a mass.
    assert registry.Quantity(1.0, "force_ton").to("lbf").magnitude == pytest.approx(
        LBF_PER_US_TON, rel=1e-14
    )


def test_a_us_ton_of_pull_is_8_896_kn() -> None:
    assert Quantity.FORCE.shown(LBF_PER_US_TON, "si") == pytest.approx(8.896443230521, rel=1e-14)
