"""Degrees of freedom of a line pull against published values, and what t·u covers.

GUM (JCGM 100:2008) G.4.1 and E.4.3 from memory, not opened.
"""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ratings.mechanics.linepull import PadGroup, line_pull
from ratings.mechanics.uncertainty import (
    Component,
    combine,
    coverage_factor,
    degrees_of_freedom_at,
    updated_spread,
)


def one_pad(
    estimates: list[tuple[float, float]], sure_lbf: float = 0.0, force_lbf: float = 10_000.0
) -> list[PadGroup]:
    """A lot for each standard uncertainty, lbf, and its degrees of freedom: one pad, one inch."""
    groups = [
        PadGroup(1, force_lbf, 1.0, between_share=u / force_lbf, between_degrees_of_freedom=freedom)
        for u, freedom in estimates
    ]
    return [*groups, PadGroup(1, force_lbf, 1.0, conditions_share=sure_lbf / force_lbf)]


def test_the_published_example_of_welch_satterthwaite() -> None:
    # G.4.1: 0.25, 0.57 and 0.82 % with 9, 4 and 14 degrees: 1.03 % and 19.0.
    pull = line_pull(one_pad([(25.0, 9.0), (57.0, 4.0), (82.0, 14.0)]), 1.0)
    assert round(pull.standard_uncertainty_lbf) == 103
    assert round(pull.degrees_of_freedom, 1) == 19.0


def test_it_is_the_same_for_three_parts_of_one_lot() -> None:
    group = PadGroup(
        1,
        10_000.0,
        1.0,
        82.0,
        25.0,
        14.0,
        spread_degrees_of_freedom=9.0,
        between_share=0.0057,
        between_degrees_of_freedom=4.0,
    )
    assert round(line_pull([group], 1.0).degrees_of_freedom, 1) == 19.0


@pytest.mark.parametrize(
    ("readings", "published_pct"),
    [(2, 76), (3, 52), (4, 42), (5, 36), (10, 24), (20, 16), (50, 10)],
)
def test_how_well_a_spread_of_a_few_is_known(readings: int, published_pct: int) -> None:
    # E.4.3: standard deviation of s over s, of so many normal readings. Drawn, seed fixed, from
    # what is brought up to date from an assumption worth next to nothing.
    draw = np.random.default_rng(43).normal(0.0, 1.0, (60_000, readings))
    found = [
        updated_spread(1.0, 1e-9, float(s), readings - 1.0)[0] for s in draw.std(axis=1, ddof=1)
    ]
    assert 100.0 * np.std(found) / np.mean(found) == pytest.approx(published_pct, abs=0.8)


def test_eight_degrees_of_freedom_say_that_an_assumed_spread_may_be_a_quarter_off() -> None:
    # G.4.2: ν = ½·(Δu/u)⁻², so 8 for a quarter.
    assert 0.5 / 0.25**2 == 8.0
    _, freedom = updated_spread(5.0, 8.0, 0.0, 0.0)
    assert 1.0 / math.sqrt(2.0 * freedom) == 0.25


@pytest.mark.parametrize("confidence", [0.9, 0.95, 0.99])
@pytest.mark.parametrize("freedom", [1.0, 1.37, 2.0, 4.5, 9.0])
def test_degrees_of_freedom_are_found_again_from_their_factor(
    confidence: float, freedom: float
) -> None:
    factor = coverage_factor(confidence, freedom)
    assert degrees_of_freedom_at(confidence, factor) == pytest.approx(freedom, abs=0.011)


def test_a_factor_no_larger_than_the_normals_has_none() -> None:
    with pytest.raises(ValueError, match=r"factor is 1\.6449: give more than that of the normal"):
        degrees_of_freedom_at(0.95, 1.6449)


estimates = st.lists(
    st.tuples(st.floats(1.0, 100.0), st.sampled_from([1.0, 1.5, 2.0, 3.0, 8.0, 30.0])),
    min_size=1,
    max_size=6,
)


@settings(max_examples=60)
@given(estimates, st.one_of(st.just(0.0), st.floats(1.0, 100.0)))
def test_no_part_however_chosen_is_in_more_doubt_than_the_whole(
    parts: list[tuple[float, float]], sure_lbf: float
) -> None:
    pull = line_pull(one_pad(parts, sure_lbf), 1.0)
    known = [Component(str(place), *part) for place, part in enumerate(parts)]
    every = [some for many in range(1, 7) for some in combinations(known, many)]
    every.append((*known, Component("sure", sure_lbf)))
    largest = max(
        coverage_factor(0.95, found.degrees_of_freedom) * found.standard
        for found in map(combine, every)
    )
    expanded = pull.pull_lbf - pull.working_capacity_lbf
    assert expanded == pytest.approx(largest, rel=3e-4)


freedoms = st.one_of(st.sampled_from([1.0, 1.1, 1.5, 2.0, 8.0, math.inf]), st.floats(1.0, 3.0))
doubts = st.one_of(st.just(0.0), st.floats(1.0, 100.0))


@settings(max_examples=60)
@given(st.lists(st.tuples(doubts, freedoms, doubts, freedoms), min_size=1, max_size=4))
def test_nor_is_what_the_stand_has_wrong_of_some_of_the_lots(
    lots: list[tuple[float, float, float, float]],
) -> None:
    # What the stand has wrong adds straight, so a lot known well can lower the doubt of all.
    groups = [
        PadGroup(
            count=1,
            rate_lbf_in=10_000.0,
            tested_stretch_in=1.0,
            standard_error_lbf_in=stand,
            degrees_of_freedom=of_stand,
            between_share=own / 10_000.0,
            between_degrees_of_freedom=of_own,
        )
        for stand, of_stand, own, of_own in lots
    ]
    largest = 0.0
    for some in chosen([(stand, freedom) for stand, freedom, _, _ in lots]):
        whole = math.fsum(stand for stand, _ in some)
        shared = math.fsum(stand * stand / freedom for stand, freedom in some)
        freedom = whole * whole / shared if shared else math.inf
        for others in chosen([(own, freedom) for _, _, own, freedom in lots]):
            parts = [Component("stand", whole, freedom)]
            parts += [Component(str(place), *own) for place, own in enumerate(others)]
            found = combine(parts)
            factor = coverage_factor(0.95, found.degrees_of_freedom)
            largest = max(largest, factor * found.standard)
    pull = line_pull(groups, 1.0)
    expanded = pull.pull_lbf - pull.working_capacity_lbf
    assert expanded == pytest.approx(largest, rel=3e-4, abs=1e-6)


def chosen(parts: list[tuple[float, float]]) -> list[tuple[tuple[float, float], ...]]:
    """Return every choice of some of the parts, none and all among them."""
    return [some for many in range(len(parts) + 1) for some in combinations(parts, many)]


@pytest.mark.parametrize("freedom", [1, 2, 3])
@pytest.mark.parametrize("sure_share", [0.0, 0.25, 0.5, 1.0, 2.0])
def test_few_readings_beside_what_is_known_well_are_covered_as_said(
    freedom: int, sure_share: float
) -> None:
    # Monte Carlo, seed fixed: a standard uncertainty of 100 lbf estimated with few degrees of
    # freedom, and a share of that known for sure. Welch–Satterthwaite alone misses up to 8 % of
    # true pulls here where 5 % are promised.
    draw = np.random.default_rng(1900 + freedom)
    trials, sure_lbf = 4_000, 100.0 * sure_share
    estimated = 100.0 * np.sqrt(draw.chisquare(freedom, trials) / freedom)
    errors = draw.normal(0.0, math.hypot(100.0, sure_lbf), trials)
    missed = sum(
        error > pull.pull_lbf - pull.working_capacity_lbf
        for error, pull in (
            (error, line_pull(one_pad([(max(u, 1e-3), freedom)], sure_lbf), 1.0))
            for error, u in zip(errors, estimated.tolist(), strict=True)
        )
    )
    # 5 %, what remains of Welch–Satterthwaite at two and three degrees, and three standard
    # deviations of the count.
    assert missed / trials <= 0.055 + 3.0 * math.sqrt(0.05 * 0.95 / trials)
