"""The load–stretch graph of a bench test: what one pad carried, and the line through it."""

from __future__ import annotations

from dataclasses import dataclass

from fleet.quantities import Quantity
from ratings.drawing.axes import axis_over, graph_below_legend, steps_across
from ratings.drawing.labels import Entry, Stroke
from ratings.drawing.surface import Ink, Point, Surface


@dataclass(frozen=True)
class LoadGraphFigures:
    """A bench test's readings, per pad: stretch in inches, force in lbf."""

    points: tuple[Point, ...]
    rate_lbf_in: float | None
    tested_stretch_in: float | None
    curve_points: tuple[Point, ...] = ()
    band_lbf: float | None = None
    units: str = "us"

    @property
    def line_end(self) -> Point | None:
        """The end of the fitted line; it goes no further than the test did."""
        if self.rate_lbf_in is None or not self.tested_stretch_in:
            return None
        return self.tested_stretch_in, self.rate_lbf_in * self.tested_stretch_in


def draw_load_graph(
    surface: Surface, figures: LoadGraphFigures, width: float, height: float
) -> None:
    """Draw the readings, the fitted line to the tested stretch, and what else is known."""
    stretch, force = Quantity.LENGTH.scale(figures.units), Quantity.FORCE.scale(figures.units)
    end, band_lbf = figures.line_end, figures.band_lbf or 0.0
    drawn = [*figures.points, *figures.curve_points, *([end] if end else [])]
    forces = [each + band for _, each in drawn for band in (0.0, band_lbf)]
    graph = graph_below_legend(surface, _legend(figures), (width, height), 42, force, forces)
    most_steps = min(10, steps_across(width - graph.left, "000.0"))
    across = axis_over([stretch.shown(each) for each, _ in drawn], most_steps)

    def at(point: Point) -> Point:
        return graph.at(across.share(stretch.shown(point[0])), point[1])

    if end and band_lbf:
        band = [at(corner) for corner in _band(end, band_lbf, graph.up.low / force.factor)]
        surface.polygon(band, Ink.BAND, True)
        surface.polygon(band, Ink.GRID, False)
    graph.draw_upright_axis(surface, f"force of one pad, {force.symbol}")
    graph.draw_level_axis(surface, across.marks(), f"stretch, {stretch.symbol}")
    if end:
        x, _ = at(end)
        surface.line(x, graph.top, x, graph.bottom, Ink.FAINT, 1.2, dashed=True)
        surface.polyline([at((0.0, 0.0)), at(end)], Ink.ACCENT, 2.4)
    if len(figures.curve_points) > 1:
        surface.polyline([at(each) for each in figures.curve_points], Ink.INK, 1.4, dashed=True)
    for reading in figures.points:
        surface.circle(*at(reading), 3.0, Ink.INK)


def _legend(figures: LoadGraphFigures) -> list[Entry]:
    entries = [Entry(Stroke.DOT, Ink.INK, "readings" if figures.points else "no readings yet")]
    if figures.line_end and figures.rate_lbf_in is not None:
        rate = Quantity.RATE.scale(figures.units).words(figures.rate_lbf_in)
        entries.append(Entry(Stroke.LINE, Ink.ACCENT, f"fitted line, {rate}"))
    if figures.curve_points:
        entries.append(Entry(Stroke.DASHED, Ink.INK, "load curve"))
    if figures.line_end and figures.band_lbf:
        band = Quantity.FORCE.scale(figures.units).words(figures.band_lbf)
        entries.append(Entry(Stroke.BAND, Ink.GRID, f"linear within ± {band}"))
    if figures.tested_stretch_in:
        tested = Quantity.LENGTH.scale(figures.units).words(figures.tested_stretch_in)
        entries.append(Entry(Stroke.DASHED, Ink.FAINT, f"tested stretch {tested}"))
    return entries


def _band(end: Point, band_lbf: float, floor_lbf: float) -> list[Point]:
    """Return the band's corners, its lower edge starting where it rises above the axis."""
    end_in, end_lbf = end
    edges = [(0.0, band_lbf), (end_in, end_lbf + band_lbf), (end_in, end_lbf - band_lbf)]
    if -band_lbf >= floor_lbf or end_lbf <= 0 or end_lbf - band_lbf <= floor_lbf:
        return [*edges, (0.0, -band_lbf)]
    crossing_in = end_in * (floor_lbf + band_lbf) / end_lbf
    return [*edges, (crossing_in, floor_lbf), (0.0, floor_lbf)]
