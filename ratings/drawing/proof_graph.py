"""The graph of a proof pull: what the unit pulled, and what its pads should give."""

from __future__ import annotations

from dataclasses import dataclass

from fleet.quantities import Quantity
from ratings.drawing.axes import axis_over, graph_below_legend, steps_across
from ratings.drawing.labels import Entry, Stroke
from ratings.drawing.surface import Ink, Point, Surface


@dataclass(frozen=True)
class ProofGraphFigures:
    """A unit's readings and what was expected: stretch in inches, force in lbf.

    expected: from rest on, by rising stretch. half_width: expanded uncertainty, as a share of it.
    ratio: measured over expected, of all readings together.
    """

    points: tuple[Point, ...]
    expected: tuple[Point, ...]
    half_width: float
    ratio: float
    units: str = "us"


def draw_proof_graph(
    surface: Surface, figures: ProofGraphFigures, width: float, height: float
) -> None:
    """Draw what was expected with its band, the readings, and the line they come to."""
    stretch, force = Quantity.LENGTH.scale(figures.units), Quantity.FORCE.scale(figures.units)
    upper = [(at, each * (1.0 + figures.half_width)) for at, each in figures.expected]
    lower = [(at, each * max(0.0, 1.0 - figures.half_width)) for at, each in figures.expected]
    measured = [(at, each * figures.ratio) for at, each in figures.expected]
    drawn = [*figures.points, *upper, *measured]
    graph = graph_below_legend(
        surface, _legend(figures), (width, height), 42, force, [each for _, each in drawn]
    )
    most_steps = min(10, steps_across(width - graph.left, "000.0"))
    across = axis_over([stretch.shown(at) for at, _ in drawn], most_steps)

    def at(point: Point) -> Point:
        return graph.at(across.share(stretch.shown(point[0])), point[1])

    band = [at(each) for each in [*upper, *reversed(lower)]]
    surface.polygon(band, Ink.BAND, True)
    surface.polygon(band, Ink.GRID, False)
    graph.draw_upright_axis(surface, f"pull, {force.symbol}")
    graph.draw_level_axis(surface, across.marks(), f"stretch from hanging free, {stretch.symbol}")
    surface.polyline([at(each) for each in figures.expected], Ink.INK, 1.4, dashed=True)
    surface.polyline([at(each) for each in measured], Ink.ACCENT, 2.4)
    for reading in figures.points:
        surface.circle(*at(reading), 3.0, Ink.INK)


def _legend(figures: ProofGraphFigures) -> list[Entry]:
    half_pct, ratio_pct = 100.0 * figures.half_width, 100.0 * figures.ratio
    return [
        Entry(Stroke.DOT, Ink.INK, "readings"),
        Entry(Stroke.LINE, Ink.ACCENT, f"measured, {ratio_pct:.0f} % of expected"),
        Entry(Stroke.DASHED, Ink.INK, "expected of its pads"),
        Entry(Stroke.BAND, Ink.GRID, f"± {half_pct:.1f} %, in which they agree"),
    ]
