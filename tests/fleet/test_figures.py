from __future__ import annotations

import re

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fleet.quantities import (
    Quantity,
    capacity_figure,
    capacity_words,
    chance_words,
    force_words,
    listed_figure,
    listed_words,
    pull_figure,
    pull_words,
    share_words,
    shortfall_words,
)

# The table of units takes longer to read, on first need, than one example may.
Quantity.FORCE.shown(1.0, "si")

LARGEST_LBF = 2_000_000.0
FORCES = st.floats(0.0, LARGEST_LBF)
LISTINGS = st.one_of(st.integers(1_000, 2_000_000).map(float), st.floats(1_000.0, LARGEST_LBF))
SYSTEMS = st.sampled_from(["us", "si"])
# Below this a line pull and a listing can't be told apart by what is shown of them.
FINEST_LBF = 3.0
# As floats round what is parsed here.
HAIR = 1e-6


def read(words: str) -> tuple[float, ...]:
    """The numbers in words, without what sets off thousands."""
    return tuple(float(each) for each in re.findall(r"[0-9.]+", words.replace(",", "")))


def in_tons_or_kn(lbf: float, system: str) -> float:
    return Quantity.PULL.shown(lbf, system)


def test_a_line_pull_reads_in_tons_to_one_decimal_with_the_lbf_of_those_tons() -> None:
    assert pull_words(24_792, "us") == "12.4 tons (24,800 lbf)"
    assert pull_words(1_234_567, "us") == "617.3 tons (1,234,600 lbf)"


def test_a_working_capacity_is_rounded_down_never_up() -> None:
    assert capacity_words(98_951, "us") == "49.4 tons (98,800 lbf)"
    assert pull_words(98_951, "us") == "49.5 tons (99,000 lbf)"


def test_rounding_down_leaves_a_round_figure_as_it_is() -> None:
    assert capacity_words(24_600, "us") == "12.3 tons (24,600 lbf)"


def test_a_line_pull_reads_in_kilonewtons_in_si() -> None:
    assert pull_words(24_792, "si") == "110.3 kN"


def test_a_listing_reads_as_it_was_entered() -> None:
    assert listed_words(120_000, "us") == "60.0 tons (120,000 lbf)"
    assert listed_words(120_050, "us") == "60.025 tons (120,050 lbf)"
    assert listed_words(Quantity.FORCE.stored(500.0, "si"), "si") == "500 kN"
    assert listed_words(Quantity.FORCE.stored(889.65, "si"), "si") == "889.65 kN"


def test_a_listing_entered_in_the_other_system_is_rounded_up() -> None:
    # 500 kN are 112,404.47 lbf, and 200,000 lbf are 889.6443 kN.
    assert listed_words(Quantity.FORCE.stored(500.0, "si"), "us") == "56.2025 tons (112,405 lbf)"
    assert listed_words(200_000, "si") == "889.65 kN"


@pytest.mark.parametrize(
    ("pull", "capacity", "pull_said", "capacity_said"),
    [
        pytest.param(
            199_990, 199_950, "99.9 tons (199,800 lbf)", "99.9 tons (199,800 lbf)", id="below"
        ),
        pytest.param(
            200_040, 199_990, "100.0 tons (200,000 lbf)", "99.9 tons (199,800 lbf)", id="not proven"
        ),
        pytest.param(
            200_090, 200_010, "100.0 tons (200,000 lbf)", "100.0 tons (200,000 lbf)", id="meets"
        ),
    ],
)
def test_beside_a_listing_of_100_tons_a_pull_never_seems_to_meet_what_it_does_not(
    pull: float, capacity: float, pull_said: str, capacity_said: str
) -> None:
    assert pull_words(pull, "us", listed_lbf=200_000) == pull_said
    assert capacity_words(capacity, "us", listed_lbf=200_000) == capacity_said


def test_beside_a_listing_between_tenths_of_a_ton_a_capacity_that_meets_it_seems_to() -> None:
    assert capacity_words(120_070, "us", listed_lbf=120_050) == "60.03 tons (120,060 lbf)"


@given(force=FORCES, listed=st.none() | LISTINGS)
def test_tons_and_lbf_are_one_quantity(force: float, listed: float | None) -> None:
    said = [
        pull_words(force, "us", listed_lbf=listed),
        capacity_words(force, "us", listed_lbf=listed),
        listed_words(force, "us"),
    ]
    for tons, lbf in map(read, said):
        assert tons * 2000.0 == pytest.approx(lbf, abs=HAIR)


@given(capacity=FORCES, listed=st.none() | LISTINGS, system=SYSTEMS)
def test_a_working_capacity_shown_is_never_more_than_it_is(
    capacity: float, listed: float | None, system: str
) -> None:
    [shown, *_] = read(capacity_words(capacity, system, listed_lbf=listed))
    exact = in_tons_or_kn(capacity, system)
    assert shown <= exact + HAIR
    assert shown > exact - 0.1 - HAIR


@given(pull=FORCES, listed=st.none() | LISTINGS, system=SYSTEMS)
def test_a_line_pull_shown_is_within_a_tenth_of_what_it_is(
    pull: float, listed: float | None, system: str
) -> None:
    [shown, *_] = read(pull_words(pull, system, listed_lbf=listed))
    assert abs(shown - in_tons_or_kn(pull, system)) <= 0.1 + HAIR


@given(listed=LISTINGS, system=SYSTEMS)
def test_a_listing_shown_is_never_less_than_it_is(listed: float, system: str) -> None:
    [shown, *_] = read(listed_words(listed, system))
    exact = in_tons_or_kn(listed, system)
    assert exact - HAIR <= shown <= exact + 0.01 + HAIR


@given(listed=LISTINGS, beside=st.floats(-400.0, 400.0), system=SYSTEMS)
def test_what_is_shown_meets_a_listing_just_where_it_does(
    listed: float, beside: float, system: str
) -> None:
    force = max(0.0, listed + beside)
    [claimed, *_] = read(listed_words(listed, system))
    for words in (pull_words, capacity_words):
        [shown, *_] = read(words(force, system, listed_lbf=listed))
        if force < listed - HAIR:
            assert shown < claimed
        elif force > listed + FINEST_LBF:
            assert shown >= claimed


@given(pull=FORCES, less=FORCES, listed=st.none() | LISTINGS, system=SYSTEMS)
def test_a_working_capacity_never_seems_more_than_its_line_pull(
    pull: float, less: float, listed: float | None, system: str
) -> None:
    capacity = max(0.0, pull - less)
    [shown_pull, *_] = read(pull_words(pull, system, listed_lbf=listed))
    [shown_capacity, *_] = read(capacity_words(capacity, system, listed_lbf=listed))
    assert shown_capacity <= shown_pull + HAIR


@given(capacity=FORCES, listed=LISTINGS, system=SYSTEMS)
def test_what_is_short_is_the_listing_less_the_capacity_as_both_are_shown(
    capacity: float, listed: float, system: str
) -> None:
    assume(capacity < listed)
    [short, *_] = read(shortfall_words(capacity, listed, system))
    [claimed, *_] = read(listed_words(listed, system))
    [shown, *_] = read(capacity_words(capacity, system, listed_lbf=listed))
    assert short == pytest.approx(claimed - shown, abs=HAIR)
    assert short > 0.0


@given(force=LISTINGS, listed=st.none() | LISTINGS, system=SYSTEMS)
def test_a_drawing_writes_the_number_that_the_page_does(
    force: float, listed: float | None, system: str
) -> None:
    assert pull_words(force, system, listed_lbf=listed).startswith(
        pull_figure(force, system, listed_lbf=listed) + " "
    )
    assert capacity_words(force, system, listed_lbf=listed).startswith(
        capacity_figure(force, system, listed_lbf=listed) + " "
    )
    assert listed_words(force, system).startswith(listed_figure(force, system) + " ")


def test_what_is_not_known_says_so() -> None:
    assert pull_words(None, "us") == "not known"
    assert capacity_words(None, "si") == "not known"
    assert listed_words(None, "us") == "not known"
    assert force_words(None, "us") == "not known"
    assert share_words(None) == "–"


def test_a_share_short_of_the_whole_never_reads_as_the_whole() -> None:
    assert share_words(0.9999) == "99 %"
    assert share_words(1.0) == "100 %"


@pytest.mark.parametrize("quantity", list(Quantity))
@pytest.mark.parametrize("system", ["us", "si"])
def test_what_is_entered_is_what_is_shown(quantity: Quantity, system: str) -> None:
    assert quantity.shown(quantity.stored(12.5, system), system) == pytest.approx(12.5, rel=1e-14)


def test_lengths_drop_needless_zeros() -> None:
    assert Quantity.LENGTH.words(6.0, "us") == "6 in"
    assert Quantity.LENGTH.words(5.5, "si") == "140 mm"


def test_a_chance_is_told_as_people_bet_on_it() -> None:
    told = {
        0.0: "less than 1 in 1,000",
        0.001: "about 1 in 1,000",
        0.0043: "about 1 in 200",
        0.02: "about 1 in 50",
        0.037: "about 1 in 30",
        0.125: "about 1 in 8",
        0.44: "about 4 in 10",
        0.5: "about 5 in 10",
        0.84: "about 8 in 10",
        0.875: "about 7 in 8",
        0.949: "about 19 in 20",
        0.9999: "more than 999 in 1,000",
    }
    assert {chance: chance_words(chance) for chance in told} == told


@given(low=st.floats(0.0, 1.0), high=st.floats(0.0, 1.0))
def test_a_larger_chance_never_reads_as_a_smaller_one(low: float, high: float) -> None:
    def odds(chance: float) -> float:
        favourable, among = read(chance_words(chance))
        return favourable / among

    less, more = sorted((low, high))
    assert odds(less) <= odds(more)
