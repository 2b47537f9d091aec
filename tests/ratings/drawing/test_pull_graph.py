from __future__ import annotations

import re

import pytest

from ratings.drawing.pull_graph import PullGraphFigures, draw_pull_graph, readable_end
from ratings.drawing.svg import SvgSurface


def drawn(figures: PullGraphFigures) -> str:
    surface = SvgSurface(720.0, 320.0, "Pulls", "")
    draw_pull_graph(surface, figures, 720.0, 320.0)
    return surface.render()


def heights(svg: str) -> list[float]:
    """How far down each mark of a pull that came lies, in the order drawn; the legend's first."""
    return [float(each) for each in re.findall(r'<circle[^>]*cy="([0-9.]+)"', svg)]


FIGURES = PullGraphFigures(
    came=((10_000.0, 9_000.0), (10_000.0, 20_000.0)),
    stayed=((12_000.0, 15_000.0),),
    low_factor=0.7,
    high_factor=1.5,
)


def test_what_measured_more_lies_higher_and_each_pull_is_drawn() -> None:
    found = heights(drawn(FIGURES))
    # Two marks of the legend, then the pulls.
    assert len(found) == 5
    low, high, stayed = found[2:]
    assert high < stayed < low


def test_the_axes_speak_the_reader_s_units() -> None:
    assert "measured, lbf" in drawn(FIGURES)
    si = PullGraphFigures(FIGURES.came, (), 0.7, 1.5, units="si")
    assert "measured, kN" in drawn(si)
    assert "did not come" not in drawn(si)


def test_a_yard_whose_every_pull_fell_short_is_drawn_within_the_picture() -> None:
    svg = drawn(PullGraphFigures(((10_000.0, 400.0),), (), 0.7, 1.5))
    assert all(0.0 <= each <= 320.0 for each in heights(svg))


USUAL = tuple((10_000.0 + 500.0 * n, 9_000.0 + 700.0 * n) for n in range(12))


@pytest.mark.parametrize("wild", [(11_000.0, 900_000.0), (700_000.0, 12_000.0)])
def test_a_wild_pull_is_marked_at_the_edge_and_flattens_nothing(wild: tuple[float, float]) -> None:
    plain = PullGraphFigures(USUAL, (), 0.7, 1.5)
    with_it = PullGraphFigures((*USUAL, wild), (), 0.7, 1.5)
    assert with_it.ends_lbf == plain.ends_lbf
    assert [each for each in with_it.came if with_it.is_outside(each)] == [wild]
    assert "outside the graph" in drawn(with_it)
    assert "outside the graph" not in drawn(plain)
    spread = heights(drawn(with_it))[1:]
    assert max(spread) - min(spread) > 60.0


@pytest.mark.parametrize(
    ("values", "end"),
    [
        ([], 0.0),
        ([5.0], 5.0),
        # Of so few nobody can tell which is wild.
        ([1.0, 2.0, 90.0], 90.0),
        ([1.0, 2.0, 3.0, 90.0], 3.0),
        # A steady rise is none, and a fifth of all is no stray.
        ([1.0, 2.0, 5.0, 12.0, 30.0], 30.0),
        ([1.0, 1.0, 1.0, 1.0, 90.0, 90.0], 90.0),
    ],
)
def test_an_axis_reaches_to_the_last_value_that_is_not_wild(
    values: list[float], end: float
) -> None:
    assert readable_end(values) == end
