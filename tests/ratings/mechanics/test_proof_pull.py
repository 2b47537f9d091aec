"""A whole unit pulled against a load indicator, held to its pads."""

from __future__ import annotations

import math
from collections.abc import Callable
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.bench import ReadingError
from ratings.mechanics.proof_pull import (
    MISTAKES,
    Comparison,
    ExpectedPull,
    PullFound,
    PullInstruments,
    PullReading,
    Verdict,
    compare,
    doubtful_reason,
    mistaken_for,
    proof_factor,
    softness_in_force,
    verdict,
)
from ratings.mechanics.uncertainty import coverage_factor

FINE = PullInstruments(accuracy_pct=1.0, resolution_lbf=20.0, tape_resolution_in=0.0625)
STRETCHES = (1.0, 2.0, 3.0, 4.0)


def straight(rate_lbf_in: float, standard_share: float) -> ExpectedPull:
    """Pads of a straight load curve, tested to 8 in."""
    return ExpectedPull(lambda stretch_in: rate_lbf_in * stretch_in, standard_share, 8.0)


# Ten pads of 1,000 lbf/in, known to 3 %.
PADS = straight(10_000.0, 0.03)


def bent(stretch_in: float) -> float:
    """A load curve that stiffens: 9,000 lbf/in at rest."""
    return 9_000.0 * stretch_in + 300.0 * stretch_in**2


def pulled(
    ratio: float = 1.0,
    *,
    of: Callable[[float], float] = PADS.force_lbf,
    tare_lbf: float = 0.0,
    weight_lb: float = 0.0,
    sag_in: float = 0.0,
) -> list[PullReading]:
    """What an indicator shows that adds its tare to a ratio of what the pads give."""
    return [PullReading(tare_lbf + ratio * (of(sag_in + x) - weight_lb), x) for x in STRETCHES]


def compared(readings: list[PullReading], **more: float) -> Comparison:
    return compare(readings, more.pop("tare_lbf", 0.0), FINE, PADS, **more)


def test_a_unit_as_stiff_as_its_pads_agrees() -> None:
    found = compared(pulled())
    assert found.ratio == pytest.approx(1.0, abs=1e-12)
    assert found.e_n == pytest.approx(0.0, abs=1e-9)
    assert found.verdict is Verdict.AGREES
    assert found.stiffness_lbf_in == pytest.approx(10_000.0)


def test_the_ratio_is_that_of_least_squares_through_the_origin() -> None:
    """By hand: Σme/Σe² of (1, 9,500), (2, 19,500), (3, 28,000) over 10,000 lbf/in."""
    found = compared(
        [PullReading(9_500.0, 1.0), PullReading(19_500.0, 2.0), PullReading(28_000.0, 3.0)]
    )
    assert found.ratio == pytest.approx((9_500 + 2 * 19_500 + 3 * 28_000) / 140_000)
    assert found.expected_lbf == pytest.approx(30_000.0)
    assert found.measured_lbf == pytest.approx(found.ratio * 30_000.0)


def test_each_doubt_is_worked_by_hand() -> None:
    """Of readings on the line: rounding as q/√12, accuracy as a/√3 (GUM 4.3.7, F.2.2.1)."""
    found = compared(pulled())
    sum_e, sum_ee = 100_000.0, 3.0e9
    parts = {part.name: part.standard for part in found.parts}
    of_reading, at_rest = 1.0 / math.sqrt(sum_ee), sum_e / sum_ee
    assert parts["scatter of the readings"] == pytest.approx(0.0, abs=1e-12)
    assert parts["accuracy of the load indicator"] == pytest.approx(0.01 / math.sqrt(3))
    assert parts["division of the load indicator"] == pytest.approx(
        20.0 / math.sqrt(12) * math.hypot(of_reading, at_rest)
    )
    assert parts["division of the tape"] == pytest.approx(
        0.0625 / math.sqrt(12) * 10_000.0 * math.hypot(of_reading, at_rest)
    )
    assert parts["what the ledger says of the pads"] == 0.03
    assert found.standard_share == pytest.approx(math.hypot(*parts.values()))


def test_the_scatter_is_that_of_the_readings_about_the_line() -> None:
    readings = [
        PullReading(load, x)
        for x, load in zip((1.0, 2.0, 3.0), (9_900, 20_200, 29_900), strict=True)
    ]
    found = compared(readings)
    residuals = [each.load_lbf - found.ratio * 10_000 * each.stretch_in for each in readings]
    by_hand = math.sqrt(sum(each**2 for each in residuals) / 2) / math.sqrt(1.4e9)
    assert found.parts[0].standard == pytest.approx(by_hand)
    assert found.parts[0].degrees_of_freedom == 2


def test_e_n_is_the_difference_over_the_expanded_uncertainty() -> None:
    found = compared(pulled(0.85))
    assert found.e_n == pytest.approx(-0.15 / (found.coverage_factor * found.standard_share))
    assert found.coverage_factor == pytest.approx(1.96, abs=0.001)
    assert found.verdict is Verdict.SOFTER


def test_a_unit_stiffer_than_its_pads_is_said_to_be() -> None:
    assert compared(pulled(1.2)).verdict is Verdict.STIFFER


def test_what_shortcuts_took_off_the_pads_is_no_stiffness() -> None:
    """Pads rated 10 % lower for want of conditioning may well give those 10 %."""
    priced = ExpectedPull(PADS.force_lbf, 0.03, 8.0, allowance_share=0.10)
    within = compare(pulled(1.1), 0.0, FINE, priced)
    assert within.e_n == 0.0
    beyond = compare(pulled(1.25), 0.0, FINE, priced)
    assert beyond.e_n == pytest.approx(
        (1.25 - 1 / 0.9) / (beyond.coverage_factor * beyond.standard_share)
    )
    assert compare(pulled(0.85), 0.0, FINE, priced).verdict is Verdict.SOFTER


def test_what_hung_on_the_indicator_already_is_taken_off() -> None:
    found = compared(pulled(0.9, tare_lbf=21_500.0), tare_lbf=21_500.0)
    assert found.ratio == pytest.approx(0.9)
    assert found.offset_lbf is None


def test_the_weight_below_the_pads_is_where_the_pull_begins() -> None:
    """On a curve that bends, a pull from where the hammer hangs is another than one from rest."""
    pads = ExpectedPull(bent, 0.03, 8.0)
    sag_in = (-9_000 + math.sqrt(9_000**2 + 4 * 300 * 9_800)) / 600
    readings = pulled(of=bent, weight_lb=9_800.0, sag_in=sag_in)
    found = compare(readings, 0.0, FINE, pads, weight_below_lb=9_800.0)
    assert found.sag_in == pytest.approx(sag_in)
    assert found.ratio == pytest.approx(1.0)
    assert compare(readings, 0.0, FINE, pads).ratio > 1.02


def test_weight_left_in_the_readings_hides_no_softness() -> None:
    """A unit at 85 % with 8,000 lbf of hammer in the readings looks as good as new."""
    readings = [PullReading(each.load_lbf + 8_000.0, each.stretch_in) for each in pulled(0.85)]
    found = compared(readings)
    assert found.offset_lbf == pytest.approx(8_000.0)
    assert found.ratio == pytest.approx(0.85)
    assert found.verdict is Verdict.SOFTER


def test_slack_in_the_tape_never_raises_the_ratio() -> None:
    readings = [PullReading(each.load_lbf - 6_000.0, each.stretch_in) for each in pulled()]
    found = compared(readings)
    assert found.offset_lbf == pytest.approx(-6_000.0)
    assert found.ratio < 0.9


def test_readings_that_scatter_show_no_offset() -> None:
    loads = (10_900.0, 19_300.0, 30_600.0, 39_500.0)
    found = compared([PullReading(f, x) for f, x in zip(loads, STRETCHES, strict=True)])
    assert found.offset_lbf is None


def test_an_unsure_pull_proves_nothing() -> None:
    crude = PullInstruments(accuracy_pct=25.0, resolution_lbf=2_000.0, tape_resolution_in=0.25)
    assert compare(pulled(), 0.0, crude, PADS).verdict is Verdict.UNSURE


def test_a_reading_beyond_what_the_pads_were_tested_to_is_not_compared() -> None:
    short = ExpectedPull(PADS.force_lbf, 0.03, 3.5)
    found = compare(pulled(0.9), 0.0, FINE, short)
    assert [each.expected_lbf is None for each in found.readings] == [False, False, False, True]
    assert found.stretch_in == 3.0


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ([], "no readings to compare"),
        ([PullReading(10_000.0, 1.0)] * 2, "2 readings to compare"),
        ([PullReading(20_000.0, 2.0)] * 3, "at one stretch"),
        ([PullReading(20_000.0, 2.0 + 0.03 * x) for x in range(3)], "at one stretch"),
    ],
)
def test_too_few_readings_are_refused(readings: list[PullReading], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        compared(readings)


def test_readings_beyond_what_is_known_are_named_where_too_few_are_left() -> None:
    short = ExpectedPull(PADS.force_lbf, 0.03, 2.5)
    with pytest.raises(ValueError, match=r"2 readings to compare, and 2 beyond 2\.5 in"):
        compare(pulled(), 0.0, FINE, short)


@pytest.mark.parametrize(
    ("spoilt", "field", "said"),
    [
        (PullReading(-1.0, 1.0), "load_lbf", "give 0 lbf or more"),
        (PullReading(math.nan, 1.0), "load_lbf", "finite"),
        (PullReading(10_000.0, 0.0), "stretch_in", "give more than 0 in"),
        (PullReading(4_000.0, 1.0), "load_lbf", "no more than the 5000 lbf"),
    ],
)
def test_a_reading_that_cannot_be_is_named(spoilt: PullReading, field: str, said: str) -> None:
    with pytest.raises(ReadingError, match=said) as refusal:
        compared([*pulled(tare_lbf=5_000.0), spoilt], tare_lbf=5_000.0)
    assert (refusal.value.index, refusal.value.field) == (4, field)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"tare_lbf": -1.0}, "tare_lbf is -1"),
        ({"weight_below_lb": -1.0}, "weight_below_lb is -1"),
        ({"weight_below_lb": 90_000.0}, "alone stretches them as far as"),
    ],
)
def test_a_number_that_cannot_be_is_refused(more: dict[str, float], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        compared(pulled(), **more)


@pytest.mark.parametrize("name", ["accuracy_pct", "resolution_lbf", "tape_resolution_in"])
def test_instruments_that_cannot_be_are_refused(name: str) -> None:
    good = {"accuracy_pct": 1.0, "resolution_lbf": 1.0, "tape_resolution_in": 1.0}
    with pytest.raises(ValueError, match=f"{name} is -1"):
        PullInstruments(**good | {name: -1.0})


@pytest.mark.parametrize(
    ("ratio", "said"),
    [
        (1 / 2000, "loads in tons typed as lbf"),
        (1 / 2204.6, "loads in tons typed as lbf"),
        (0.9 / 2000, "loads in tons typed as lbf"),
        (1 / 1000, "thousands of lbf"),
        (1 / 224.8, "loads in kN typed as lbf"),
        (1 / 9.807, "tonnes typed as kN"),
        (1 / 25.4, "millimetres typed as inches"),
        (224.8, "lbf typed as kN"),
        (25.4, "inches typed as millimetres"),
    ],
)
def test_a_unit_of_measure_mistaken_is_named(ratio: float, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        compared(pulled(ratio))


def test_no_mistake_is_named_for_another() -> None:
    """A unit 10 % off, measured in the wrong unit, is still near that one alone."""
    for ratio, words in MISTAKES:
        for off in (0.9, 1.0, 1.1):
            assert mistaken_for(ratio * off) == words
    assert mistaken_for(1.0) == ""


def test_a_ratio_like_no_known_mistake_asks_for_the_units_of_measure() -> None:
    with pytest.raises(ValueError, match="look at the units of measure and the columns"):
        compared(pulled(0.2))


@pytest.mark.parametrize(
    ("ratio", "said"),
    [(0.39, "centimetres"), (0.45, "kilograms"), (0.5, "two-part line"), (2.0, "both"), (0.8, "")],
)
def test_a_ratio_far_from_one_is_asked_about(ratio: float, said: str) -> None:
    reason = doubtful_reason(ratio)
    assert said in reason
    assert bool(reason) == bool(said)


@given(st.floats(0.3, 3.0), st.floats(0.0, 30_000.0))
def test_the_ratio_is_found_again_whatever_hung_on_the_indicator(
    ratio: float, tare_lbf: float
) -> None:
    found = compared(pulled(ratio, tare_lbf=tare_lbf), tare_lbf=tare_lbf)
    assert found.ratio == pytest.approx(ratio, rel=1e-9)
    assert found.verdict is verdict(found.e_n, found.half_width)


@given(st.floats(0.3, 2.0), st.floats(0.0, 30_000.0))
def test_weight_left_in_the_readings_never_raises_what_is_found(
    ratio: float, left_lbf: float
) -> None:
    """But for what can't be told from the tape's rounding, or is 2 % of the largest load."""
    readings = [PullReading(each.load_lbf + left_lbf, each.stretch_in) for each in pulled(ratio)]
    found = compared(readings)
    untold_lbf = max(0.02 * readings[-1].load_lbf, 450.0 * found.ratio)
    assert found.ratio <= ratio + untold_lbf * 100_000.0 / 3.0e9


def test_what_a_pull_tells_of_use_counts_the_conditions_too() -> None:
    """Those of its day and those of use, each ± 5 %, anything within alike (GUM 4.3.7)."""
    factor = proof_factor(0.8, 0.016, 4.0, 5.0, "2026-03-02")
    own, use = 0.016 / 0.8, math.sqrt(2) * 0.05 / math.sqrt(3)
    assert factor.standard_share == pytest.approx(math.hypot(own, use))
    # Welch–Satterthwaite, of the pull alone.
    assert factor.degrees_of_freedom == pytest.approx(math.hypot(own, use) ** 4 / (own**4 / 4.0))
    assert (factor.ratio, factor.pulled_on) == (0.8, "2026-03-02")
    assert proof_factor(0.8, 0.016, math.inf, 5.0, "2026-03-02").degrees_of_freedom is None


def test_a_unit_held_to_its_own_pull_is_covered_by_it() -> None:
    """Monte Carlo: of units truly soft and found so, no more than 5 % lie below their bound."""
    random = Random(20260302)
    below = found_soft = 0
    for _ in range(4_000):
        true_ratio, pads_off = random.uniform(0.6, 0.9), random.gauss(0.0, 0.03)
        of_day, of_use = random.uniform(-0.05, 0.05), random.uniform(-0.05, 0.05)
        indicator_off = random.uniform(-0.01, 0.01)
        readings = [
            PullReading(
                _rounded(10_000 * x * true_ratio * (1 + of_day) * (1 + indicator_off), 20.0),
                _rounded(x + random.uniform(-0.01, 0.01), 0.0625),
            )
            for x in (1.0, 2.0, 3.0, 4.0, 5.0)
        ]
        pull = compare(readings, 0.0, FINE, straight(10_000 * (1 + pads_off), 0.042))
        if pull.verdict is not Verdict.SOFTER:
            continue
        found_soft += 1
        factor = proof_factor(
            pull.ratio, pull.own_share, pull.own_degrees_of_freedom, 5.0, "2026-03-02"
        )
        freedom = factor.degrees_of_freedom or math.inf
        bound = factor.ratio * (1 - coverage_factor(0.95, freedom) * factor.standard_share)
        below += true_ratio * (1 + of_use) < bound * (1 + pads_off)
    assert found_soft > 2_000
    assert below / found_soft < 0.05 + 2.0 * math.sqrt(0.05 * 0.95 / found_soft)


def _rounded(value: float, step: float) -> float:
    return step * round(value / step)


def pull_found(ratio: float, own: float = 0.04, **more: bool) -> PullFound:
    """A pull of a unit whose pads the ledger knows to 6 %, expanded."""
    half_width = math.hypot(own, 0.06)
    return PullFound(ratio, own, (ratio - 1.0) / half_width, half_width, **more)


def test_a_softness_holds_from_the_pull_that_found_it() -> None:
    assert softness_in_force([]) is None
    assert softness_in_force([pull_found(0.97)]) is None
    assert softness_in_force([pull_found(1.0), pull_found(0.85)]) == 1


def test_a_later_pull_that_agrees_lifts_it() -> None:
    assert softness_in_force([pull_found(0.85), pull_found(0.98)]) is None


def test_a_pull_too_unsure_to_tell_them_apart_lifts_nothing() -> None:
    assert softness_in_force([pull_found(0.85), pull_found(0.98, own=0.2)]) == 0


def test_a_pull_that_agrees_with_both_lifts_nothing() -> None:
    """0.95 ± 0.11 agrees with the pads, and with the 0.85 found before."""
    assert softness_in_force([pull_found(0.85), pull_found(0.95, own=0.11)]) == 0


def test_a_pull_with_a_reservation_lifts_nothing_and_may_find_softness() -> None:
    assert softness_in_force([pull_found(0.85), pull_found(1.0, may_lift=False)]) == 0
    assert softness_in_force([pull_found(0.85, may_lift=False)]) == 0


def test_a_unit_too_stiff_lifts_nothing() -> None:
    assert softness_in_force([pull_found(0.85), pull_found(1.2)]) == 0


def test_a_softer_finding_takes_its_place_and_a_milder_only_where_it_leaves_no_room() -> None:
    assert softness_in_force([pull_found(0.85), pull_found(0.80)]) == 1
    assert softness_in_force([pull_found(0.85), pull_found(0.88)]) == 0
    assert softness_in_force([pull_found(0.75), pull_found(0.88)]) == 1
    assert softness_in_force([pull_found(0.75), pull_found(0.88, may_lift=False)]) == 0


@given(st.lists(st.floats(0.5, 1.3), max_size=8))
def test_the_softness_in_force_is_never_above_one(ratios: list[float]) -> None:
    pulls = [pull_found(each) for each in ratios]
    held = softness_in_force(pulls)
    if held is not None:
        assert pulls[held].verdict is Verdict.SOFTER
        assert pulls[held].ratio < 1.0
