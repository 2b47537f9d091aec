from __future__ import annotations

import pytest

from fleet.quantities import Quantity, capacity_words, force_words, pull_words, share_words


def test_a_line_pull_reads_in_tons_to_one_decimal_with_lbf_beside_it() -> None:
    assert pull_words(24_792, "us") == "12.4 tons (24,792 lbf)"


def test_a_line_pull_shows_no_more_digits_than_its_uncertainty_deserves() -> None:
    assert pull_words(144_605.3, "us", 1_771) == "72.3 tons (144,600 lbf)"
    assert pull_words(144_605.3, "us", 17_710) == "72.3 tons (145,000 lbf)"


def test_a_working_capacity_is_rounded_down_never_up() -> None:
    assert capacity_words(141_699, "us", 1_771) == "70.8 tons (141,600 lbf)"
    assert pull_words(141_699, "us", 1_771) == "70.8 tons (141,700 lbf)"


def test_rounding_down_leaves_a_round_figure_as_it_is() -> None:
    assert capacity_words(24_600, "us", 1_771) == "12.3 tons (24,600 lbf)"


def test_a_line_pull_reads_in_kilonewtons_in_si() -> None:
    assert pull_words(24_792, "si") == "110.3 kN"


def test_what_is_not_known_says_so() -> None:
    assert pull_words(None, "us") == "not known"
    assert capacity_words(None, "si") == "not known"
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
