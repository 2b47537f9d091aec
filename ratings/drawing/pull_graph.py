"""Resistance that pulls measured against what was calculated of the ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from fleet.quantities import Quantity
from ratings.drawing.axes import axis_over, graph_below_legend, steps_across
from ratings.drawing.labels import Entry, Stroke
from ratings.drawing.surface import Ink, Point, Surface


@dataclass(frozen=True)
class PullGraphFigures:
    """Points are (calculated, measured), lbf.

    came: measured at break-out. stayed: held with more than was measured.
    low_factor, high_factor: range of the ground by the rules in force.
    """

    came: tuple[Point, ...]
    stayed: tuple[Point, ...]
    low_factor: float
    high_factor: float
    units: str = "us"

    @property
    def ends_lbf(self) -> Point:
        """How far the graph reaches: across by what was calculated, up by what was measured."""
        points = [*self.came, *self.stayed]
        return readable_end([x for x, _ in points]), readable_end([y for _, y in points])

    def is_outside(self, point: Point) -> bool:
        """Whether a pull lies beyond what the graph shows."""
        across_lbf, up_lbf = self.ends_lbf
        return point[0] > across_lbf or point[1] > up_lbf


# A value so many times the one below it is wild, where so few are that no more than a tenth, or
# one, would be left out. Of fewer values than these nobody can tell which is the wild one.
WILD = 3.0
LEAST_TOLD = 4


def readable_end(values: Sequence[float]) -> float:
    """Return the greatest value that an axis should show, so that no wild one flattens the rest.

    0 of no values.
    """
    ordered = sorted(values)
    first_wild = max(LEAST_TOLD - 1, len(ordered) - max(1, len(ordered) // 10))
    for below, value in pairwise(ordered[first_wild - 1 :]):
        if value > WILD * below:
            return below
    return ordered[-1] if ordered else 0.0


def draw_pull_graph(
    surface: Surface, figures: PullGraphFigures, width: float, height: float
) -> None:
    """Draw the pulls about the line on which both are the same, with the range of the ground."""
    force = Quantity.FORCE.scale(figures.units)
    furthest_lbf, highest_lbf = figures.ends_lbf
    most = (furthest_lbf or 1.0) * 1.05
    graph = graph_below_legend(
        surface, _legend(figures), (width, height), 42, force, [highest_lbf, most]
    )
    across = axis_over([force.shown(most)], min(10, steps_across(width - graph.left, "000,000")))
    end_lbf, top_lbf = (most * shown / force.shown(most) for shown in (across.high, graph.up.high))

    def at(point: Point) -> Point:
        return graph.at(across.share(force.shown(point[0])), point[1])

    def ray(factor: float) -> list[Point]:
        """From nothing to where the line of a factor leaves the graph."""
        reach = min(end_lbf, top_lbf / factor)
        return [at((0.0, 0.0)), at((reach, factor * reach))]

    low, high = ray(figures.low_factor), ray(figures.high_factor)
    corner = [at((end_lbf, top_lbf))] if figures.high_factor * end_lbf > top_lbf else []
    band = [*low, *corner, *reversed(high)]
    surface.polygon(band, Ink.BAND, True)
    graph.draw_upright_axis(surface, f"measured, {force.symbol}")
    graph.draw_level_axis(surface, across.marks(), f"calculated, {force.symbol}")
    surface.polyline(low, Ink.GRID, 1.2)
    surface.polyline(high, Ink.GRID, 1.2)
    surface.polyline(ray(1.0), Ink.INK, 1.4, dashed=True)
    for each in figures.came:
        if not figures.is_outside(each):
            surface.circle(*at(each), 3.5, Ink.ACCENT)
    for each in [*figures.came, *figures.stayed]:
        if figures.is_outside(each):
            _mark_outside(surface, at(each), each[1] > highest_lbf)
    for each in figures.stayed:
        if figures.is_outside(each):
            continue
        x, y = at(each)
        surface.circle(x, y, 4.0, Ink.WARN, False)
        # It held with more: an upright stroke away from the mark.
        surface.line(x, y - 4.0, x, y - 16.0, Ink.WARN, 1.6)


def _mark_outside(surface: Surface, edge: Point, is_above: bool) -> None:
    """Draw an arrow head at the edge of the graph beyond which a pull lies."""
    x, y = edge
    if is_above:
        head = [(x - 5.0, y + 9.0), (x + 5.0, y + 9.0), (x, y)]
    else:
        head = [(x - 9.0, y - 5.0), (x - 9.0, y + 5.0), (x, y)]
    surface.polygon(head, Ink.WARN, True)


def _legend(figures: PullGraphFigures) -> list[Entry]:
    entries = [
        Entry(Stroke.DOT, Ink.ACCENT, "came"),
        Entry(Stroke.DASHED, Ink.INK, "as calculated"),
        Entry(
            Stroke.BAND,
            Ink.GRID,
            f"range of the rules, {figures.low_factor:g} to {figures.high_factor:g} times",
        ),
    ]
    if figures.stayed:
        entries.insert(1, Entry(Stroke.RING, Ink.WARN, "did not come, held with more"))
    if any(figures.is_outside(each) for each in [*figures.came, *figures.stayed]):
        entries.append(Entry(Stroke.HEAD, Ink.WARN, "outside the graph"))
    return entries
