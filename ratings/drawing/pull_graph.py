"""Resistance that pulls measured against what was calculated of the ground."""

from __future__ import annotations

from dataclasses import dataclass

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


def draw_pull_graph(
    surface: Surface, figures: PullGraphFigures, width: float, height: float
) -> None:
    """Draw the pulls about the line on which both are the same, with the range of the ground."""
    force = Quantity.FORCE.scale(figures.units)
    points = [*figures.came, *figures.stayed]
    most = max((expected for expected, _ in points), default=1.0) * 1.05
    highest = [measured for _, measured in points]
    graph = graph_below_legend(
        surface, _legend(figures), (width, height), 42, force, [*highest, most]
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
        surface.circle(*at(each), 3.5, Ink.ACCENT)
    for each in figures.stayed:
        x, y = at(each)
        surface.circle(x, y, 4.0, Ink.WARN, False)
        # It held with more: an upright stroke away from the mark.
        surface.line(x, y - 4.0, x, y - 16.0, Ink.WARN, 1.6)


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
    return entries
