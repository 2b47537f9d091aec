"""What pulls teach of a soil: against the closed form, a library, and yards made up."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some
from scipy import integrate, stats

from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job, Pile, PileKind, PullMethod
from ratings.mechanics.extraction.learning import (
    FactorSeen,
    Prior,
    lesson,
    scatter_of_range,
    soil_part,
)
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.soil import Density, Layer, LayerKind

PRIOR = Prior(0.20, 5.0, 0.23)
FINE, COARSE = "round fine sand", "round coarse sand"


def apart(*factors: float) -> list[FactorSeen]:
    """Pulls each on a job of its own."""
    return [FactorSeen(factor, job) for job, factor in enumerate(factors)]


def width(found: Any) -> float:
    return math.log(found.posterior.high / found.posterior.low)


def sand(top_ft: float, bottom_ft: float, soil: str) -> Layer:
    return Layer(
        LayerKind.GRANULAR, top_ft, bottom_ft, 120.0, density=Density.MEDIUM_DENSE_SAND, soil=soil
    )


def job(*layers: Layer, kind: PileKind = PileKind.H, **more: Any) -> Job:
    return Job(Pile(kind, 53.0, 48.0, 45.0, 40.0, area_in2=15.5), layers, **more)


def test_without_a_pull_the_prior_stands() -> None:
    found = lesson(PRIOR, [])
    assert found.posterior == found.prior
    assert found.posterior.factor == pytest.approx(0.20)
    # Student's t with the 5 degrees of freedom of 5 pulls' worth, over √5.
    t = stats.t.ppf(0.95, 5)
    assert found.posterior.high == pytest.approx(0.20 * math.exp(t * 0.23 / math.sqrt(5)))


def shares_below(ys: Any, bounds: Any, *factors: float) -> list[float]:
    """The posterior chance below each factor, by the library's densities over an even grid."""
    mu = np.linspace(-6.0, 2.0, 4001)[:, None]
    variance = np.exp(np.linspace(math.log(1e-4), math.log(20.0), 900))[None, :]
    sigma = np.sqrt(variance)
    # Scaled inverse χ² is an inverse gamma of ν/2 and ν·σ²/2; the last factor is of ln σ².
    density = stats.invgamma.pdf(variance, 2.5, scale=2.5 * 0.23**2) * variance
    density = density * stats.norm.pdf(mu, math.log(0.2), sigma / math.sqrt(5.0))
    for y in ys:
        density = density * stats.norm.pdf(y, mu, sigma)
    for bound in bounds:
        density = density * stats.norm.sf(bound, mu, sigma)
    below = integrate.cumulative_trapezoid(density.sum(axis=1), mu[:, 0], initial=0.0)
    return [float(np.interp(math.log(each), mu[:, 0], below) / below[-1]) for each in factors]


def test_measured_pulls_agree_with_the_integral_of_prior_and_likelihood() -> None:
    factors = [0.13, 0.16, 0.24, 0.15]
    found = lesson(PRIOR, apart(*factors)).posterior
    shares = shares_below(np.log(factors), [], found.low, found.factor, found.high)
    assert shares == pytest.approx([0.05, 0.5, 0.95], abs=2e-4)


def test_a_pull_that_did_not_come_agrees_with_the_integral_too() -> None:
    for bound in (0.1, 0.3, 0.9):
        seen = [*apart(0.18, 0.22), FactorSeen(bound, 9, is_lower_bound=True)]
        found = lesson(PRIOR, seen).posterior
        ys, bounds = np.log([0.18, 0.22]), [math.log(bound)]
        shares = shares_below(ys, bounds, found.low, found.factor, found.high)
        assert shares == pytest.approx([0.05, 0.5, 0.95], abs=2e-3)


def test_a_lower_bound_that_says_nothing_leaves_the_closed_form() -> None:
    known = lesson(PRIOR, apart(0.15, 0.19)).posterior
    bounded = lesson(PRIOR, [*apart(0.15, 0.19), FactorSeen(1e-6, 9, True)]).posterior
    for name in ("factor", "low", "high", "pull_low", "pull_high"):
        assert getattr(bounded, name) == pytest.approx(getattr(known, name), rel=2e-3)


def test_a_pull_that_did_not_come_raises_the_factor_and_more_where_it_held_more() -> None:
    before = lesson(PRIOR, apart(0.18)).posterior.factor
    raised = [
        lesson(PRIOR, [*apart(0.18), FactorSeen(bound, 9, True)]).posterior.factor
        for bound in (0.05, 0.15, 0.25, 0.4, 0.8)
    ]
    assert [before, *raised] == sorted([before, *raised])
    assert raised[-1] > 1.2 * before


def test_as_a_measured_pull_it_would_have_lowered_what_it_must_raise() -> None:
    measured = lesson(PRIOR, apart(0.18)).posterior.factor
    bound = lesson(PRIOR, [FactorSeen(0.18, 0, True)]).posterior.factor
    assert measured < 0.20 < bound


@given(
    factor=some.floats(0.05, 0.6),
    many=some.integers(1, 12),
    worth=some.floats(2.0, 30.0),
)
def test_more_pulls_that_agree_narrow_what_is_held(factor: float, many: int, worth: float) -> None:
    prior = Prior(factor, worth, 0.23)
    fewer, more = (lesson(prior, apart(*[factor] * each)) for each in (many, many + 1))
    assert width(more) < width(fewer) < width(lesson(prior, []))


@given(some.lists(some.floats(0.05, 0.8), min_size=1, max_size=8), some.floats(1.01, 2.0))
def test_a_pull_that_held_with_more_never_lowers_the_factor(
    factors: list[float], by: float
) -> None:
    higher = [factors[0] * by, *factors[1:]]
    assert (
        lesson(PRIOR, apart(*higher)).posterior.factor
        > lesson(PRIOR, apart(*factors)).posterior.factor
    )


def test_one_pull_moves_a_prior_worth_five_by_a_sixth() -> None:
    found = lesson(PRIOR, apart(0.10)).posterior.factor
    assert math.log(found / 0.20) == pytest.approx(math.log(0.10 / 0.20) / 6.0)


def test_twelve_piles_of_one_job_are_not_twelve_soundings() -> None:
    one_job = [FactorSeen(0.12, "Ferry slip")] * 12
    together, alone = lesson(PRIOR, one_job), lesson(PRIOR, apart(*[0.12] * 12))
    assert (together.pulls, together.jobs) == (12, 1)
    # 12/(1 + 11·0.5): the design effect.
    assert together.weight == pytest.approx(12 / 6.5)
    assert width(together) > width(alone)
    assert together.posterior.factor > alone.posterior.factor


def test_pulls_that_scatter_widely_widen_what_is_held_of_the_next() -> None:
    calm, wild = (
        lesson(PRIOR, apart(*each)).posterior
        for each in ((0.20, 0.20, 0.20, 0.20), (0.08, 0.50, 0.10, 0.40))
    )
    assert wild.pull_high / wild.pull_low > 2.0 * calm.pull_high / calm.pull_low


def test_a_pull_far_from_the_others_is_named_and_counts() -> None:
    usual = apart(0.19, 0.21, 0.20, 0.22, 0.18)
    odd = [*usual, FactorSeen(0.90, 9)]
    found = lesson(PRIOR, odd)
    assert found.unusual == (5,)
    assert found.posterior.factor > lesson(PRIOR, usual).posterior.factor


def test_a_pull_that_did_not_come_at_little_load_is_not_unusual() -> None:
    seen = [*apart(0.19, 0.21, 0.20), FactorSeen(0.01, 9, True)]
    assert lesson(PRIOR, seen).unusual == ()
    assert lesson(PRIOR, [*seen[:3], FactorSeen(0.95, 9, True)]).unusual == (3,)


def test_the_interval_holds_the_factor_of_nine_yards_in_ten() -> None:
    """Yards made up by the prior, some of whose pulls did not come: 90 % within, by chance."""
    rng = np.random.default_rng(20_260_314)
    yards, inside = 200, 0
    for _ in range(yards):
        variance = 5.0 * 0.23**2 / rng.chisquare(5.0)
        true = rng.normal(math.log(0.20), math.sqrt(variance / 5.0))
        ys = rng.normal(true, math.sqrt(variance), 6)
        # The crane stops at so much: what held with more did not come.
        stop = math.log(0.24)
        seen = [
            FactorSeen(math.exp(min(y, stop)), place, bool(y > stop)) for place, y in enumerate(ys)
        ]
        found = lesson(PRIOR, seen).posterior
        inside += found.low <= math.exp(true) <= found.high
    # Three standard deviations of a count of 200 at 0.9 are 13.
    assert abs(inside - 180) <= 13


def test_with_many_pulls_the_true_factor_is_found_whatever_the_table_says() -> None:
    rng = np.random.default_rng(7)
    factors = np.exp(rng.normal(math.log(0.35), 0.2, 300))
    found = lesson(Prior(0.10, 5.0, 0.23), apart(*factors)).posterior
    assert found.factor == pytest.approx(0.35, rel=0.05)


def test_leaving_out_pulls_that_did_not_come_would_find_too_little() -> None:
    rng = np.random.default_rng(11)
    ys, stop = rng.normal(math.log(0.30), 0.3, 200), math.log(0.30)
    came = apart(*[math.exp(y) for y in ys if y <= stop])
    bounds = [
        FactorSeen(math.exp(stop), 1_000 + place, True) for place, y in enumerate(ys) if y > stop
    ]
    assert lesson(PRIOR, came).posterior.factor < 0.26
    assert lesson(PRIOR, [*came, *bounds]).posterior.factor == pytest.approx(0.30, rel=0.06)


def test_the_scatter_of_a_range_holds_nine_pulls_in_ten() -> None:
    scatter = scatter_of_range(0.7, 1.5)
    between = stats.norm.cdf(math.log(1.5 / 0.7) / 2.0 / scatter)
    assert between == pytest.approx(0.95)
    with pytest.raises(ValueError, match="give more than low_factor"):
        scatter_of_range(0.7, 0.7)


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        ({"factor": 0.0}, "factor is 0"),
        ({"pulls_worth": 1.0}, "pulls_worth is 1: give 2 or more"),
        ({"scatter": -0.1}, "scatter is -0.1"),
    ],
)
def test_a_prior_that_cannot_be_is_refused(bad: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        Prior(**{"factor": 0.2, "pulls_worth": 5.0, "scatter": 0.2} | bad)


def test_the_soil_that_holds_most_is_named_with_its_share_and_all_beside_it() -> None:
    asked = job(sand(0, 10, COARSE), sand(10, 40, FINE))
    hold = ground(asked, ExtractionPolicy())
    part = soil_part(hold, asked)
    assert part is not None
    fine = [piece for piece in hold.slices if piece.layer == 1]
    assert part.soil == FINE
    assert part.static_lbf == pytest.approx(sum(piece.static_lbf for piece in fine))
    assert part.share == pytest.approx(1.0 - part.rest_lbf / hold.resistance_lbf)
    # What was calculated gives the table's factor back.
    assert part.factor(hold.resistance_lbf) == pytest.approx(0.20)
    assert part.factor(part.rest_lbf) == 0.0


def test_of_a_concrete_pile_the_factor_is_that_of_steel() -> None:
    asked = job(sand(0, 40, FINE), kind=PileKind.CONCRETE)
    hold = ground(asked, ExtractionPolicy())
    part = soil_part(hold, asked)
    assert part is not None
    assert part.factor(hold.resistance_lbf) == pytest.approx(0.20)


def test_a_pull_by_the_crane_alone_or_in_ground_without_a_name_measures_no_soil() -> None:
    still = job(sand(0, 40, FINE), method=PullMethod.STILL)
    unnamed = Layer(
        LayerKind.GRANULAR,
        0,
        40,
        120.0,
        density=Density.MEDIUM_DENSE_SAND,
        vibration_factor=0.2,
        needed_amplitude_in=0.1,
    )
    for asked in (still, job(unnamed)):
        assert soil_part(ground(asked, ExtractionPolicy()), asked) is None
