"""Figures in a sentence: no more than the ground allows, and they agree with one another."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.jobs.words import about, at_least, at_most, compared, margin_words

FORCES = st.floats(min_value=1.0, max_value=1e7)


@pytest.mark.parametrize(
    ("margin", "words"),
    [(1.2499, "1.24×"), (1.25, "1.25×"), (1.1, "1.10×"), (0.999, "0.99×"), (None, "–")],
)
def test_a_margin_is_rounded_down(margin: float | None, words: str) -> None:
    assert margin_words(margin) == words


def test_a_force_has_three_figures() -> None:
    assert about(61_287.0, "us") == "61,300 lbf"
    assert about(61_287.0, "si") == "273 kN"
    assert about(0.0, "us") == "0 lbf"


def test_what_is_wanted_is_rounded_up_and_a_limit_down() -> None:
    assert at_least(61_210.0, "us") == "61,300 lbf"
    assert at_most(61_290.0, "us") == "61,200 lbf"
    assert at_least(61_300.0, "us") == at_most(61_300.0, "us") == "61,300 lbf"


def test_demand_supply_and_what_is_between_are_the_three_of_the_example() -> None:
    assert compared(61_287.0, 48_912.0, "us") == ("61,300 lbf", "48,900 lbf", "12,400 lbf")


def test_two_that_differ_do_not_read_the_same() -> None:
    asked, given_words, between = compared(61_320.0, 61_310.0, "us")
    assert asked != given_words
    assert between == "10 lbf"


@given(demand=FORCES, supply=FORCES, system=st.sampled_from(["us", "si"]))
def test_the_reader_can_take_one_from_the_other(demand: float, supply: float, system: str) -> None:
    asked, given_, between = (
        float(re.sub(r"[^0-9.]", "", words)) for words in compared(demand, supply, system)
    )
    assert between == pytest.approx(abs(asked - given_), abs=0.006)
