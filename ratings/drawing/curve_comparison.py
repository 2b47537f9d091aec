"""A load curve that waits for approval, drawn over the one in force."""

from __future__ import annotations

from dataclasses import dataclass

from fleet.quantities import Quantity
from ratings.drawing.axes import axis_over, graph_below_legend, steps_across
from ratings.drawing.labels import Entry, Stroke
from ratings.drawing.surface import Ink, Point, Surface


@dataclass(frozen=True)
class CurveComparison:
    """Two load curves of one pad: (stretch in, force lbf) from rest to where each was tested.

    drafted, in_force: no points where there is none. doubt_lbf: how far the force may lie from
    the drafted curve either way, at each of its points. units: the reader's system.
    """

    drafted: tuple[Point, ...]
    in_force: tuple[Point, ...] = ()
    doubt_lbf: tuple[float, ...] = ()
    units: str = "us"


def draw_curve_comparison(
    surface: Surface, figures: CurveComparison, width: float, height: float
) -> None:
    """Draw the curve in force under the drafted one and its band, each as far as it was tested."""
    stretch, force = Quantity.LENGTH.scale(figures.units), Quantity.FORCE.scale(figures.units)
    band = [
        (x, f, doubt) for (x, f), doubt in zip(figures.drafted, figures.doubt_lbf, strict=False)
    ]
    drawn = [*figures.drafted, *figures.in_force]
    forces = [f for _, f in drawn] + [f + doubt for _, f, doubt in band]
    graph = graph_below_legend(surface, _legend(figures), (width, height), 42, force, forces)
    most_steps = min(10, steps_across(width - graph.left, "000.0"))
    across = axis_over([stretch.shown(x) for x, _ in drawn], most_steps)

    def at(point: Point) -> Point:
        return graph.at(across.share(stretch.shown(point[0])), point[1])

    if len(band) > 1:
        upper = [at((x, f + doubt)) for x, f, doubt in band]
        lower = [at((x, max(0.0, f - doubt))) for x, f, doubt in reversed(band)]
        surface.polygon([*upper, *lower], Ink.BAND, True)
    graph.draw_upright_axis(surface, f"force of one pad, {force.symbol}")
    graph.draw_level_axis(surface, across.marks(), f"stretch, {stretch.symbol}")
    if len(figures.in_force) > 1:
        surface.polyline([at(each) for each in figures.in_force], Ink.INK, 1.6, dashed=True)
    if len(figures.drafted) > 1:
        surface.polyline([at(each) for each in figures.drafted], Ink.ACCENT, 2.4)


def _legend(figures: CurveComparison) -> list[Entry]:
    entries = [Entry(Stroke.LINE, Ink.ACCENT, "this draft")]
    if figures.doubt_lbf:
        entries.append(Entry(Stroke.BAND, Ink.BAND, "within twice its standard uncertainty"))
    in_force = "in force" if figures.in_force else "none in force"
    return [*entries, Entry(Stroke.DASHED, Ink.INK, in_force)]
