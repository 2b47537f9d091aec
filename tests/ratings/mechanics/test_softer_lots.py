"""A lot gone softer is not carried over its working capacity by its older tests."""

from __future__ import annotations

import pytest
from scipy.stats import binom

from tests.ratings.mechanics.invented_yards import Situation, anything_within, coverage

YARDS = 200


@pytest.mark.parametrize("pads", [1, 2])
@pytest.mark.parametrize("softer", [0.03, 0.05, 0.10])
def test_no_more_than_5_pct_of_its_true_pulls_lie_below(pads: int, softer: float) -> None:
    # Four older tests and a new one, all of marked pads; seed fixed. More would come by chance
    # once in a thousand.
    tests = tuple((pads, 40.0 * place) for place in reversed(range(5)))
    situation = Situation(tests=tests, softer_now=softer, use=anything_within(0.05))
    found = coverage(situation, YARDS, 29)
    assert found.below * YARDS <= binom.ppf(0.999, YARDS, 0.05)
