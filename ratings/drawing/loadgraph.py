"""The load–stretch graph of a bench test: what one pad carried, and the line through it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.units import Quantity
from ratings.drawing.axes import (
    Axis,
    Frame,
    axis_over,
    draw_level_axis,
    draw_upright_axis,
    figures_width,
    steps_across,
    steps_up,
)
from ratings.drawing.labels import Entry, Stroke, draw_legend, legend_height
from ratings.drawing.surface import Ink, Point, Surface


@dataclass(frozen=True)
class LoadGraphFigures:
    """A bench test's readings, per pad: stretch in inches, force in lbf."""

    points: tuple[tuple[float, float], ...]
    rate_lbf_in: float | None
    tested_stretch_in: float | None
    curve_points: tuple[tuple[float, float], ...] = ()
    band_lbf: float | None = None
    units: str = "us"


@dataclass(frozen=True)
class _Graph:
    frame: Frame
    across: Axis
    up: Axis
    units: str

    def at(self, stretch_in: float, force_lbf: float) -> Point:
        stretch = Quantity.LENGTH.scale(self.units).shown(stretch_in)
        force = Quantity.FORCE.scale(self.units).shown(force_lbf)
        return self.frame.x(self.across.share(stretch)), self.frame.y(self.up.share(force))


def draw_load_graph(
    surface: Surface, figures: LoadGraphFigures, width: float, height: float
) -> None:
    """Draw the readings, the fitted line to the tested stretch, and what else is known."""
    entries = _legend(figures)
    graph = _graph(figures, width, height, legend_height(entries, width) + 28)
    draw_legend(surface, entries, width)
    _draw_band(surface, graph, figures)
    stretch, force = Quantity.LENGTH.scale(figures.units), Quantity.FORCE.scale(figures.units)
    draw_upright_axis(surface, graph.frame, graph.up, f"force of one pad, {force.symbol}")
    draw_level_axis(surface, graph.frame, graph.across, f"stretch, {stretch.symbol}")
    _draw_lines(surface, graph, figures)
    for reading in figures.points:
        surface.circle(*graph.at(*reading), 3.0, Ink.INK)


def _legend(figures: LoadGraphFigures) -> list[Entry]:
    entries = [Entry(Stroke.DOT, Ink.INK, "readings" if figures.points else "no readings yet")]
    if _fitted(figures) is not None and figures.rate_lbf_in is not None:
        rate = Quantity.RATE.scale(figures.units).words(figures.rate_lbf_in)
        entries.append(Entry(Stroke.LINE, Ink.ACCENT, f"fitted line, {rate}"))
    if figures.curve_points:
        entries.append(Entry(Stroke.DASHED, Ink.INK, "load curve"))
    if _fitted(figures) is not None and figures.band_lbf:
        band = Quantity.FORCE.scale(figures.units).words(figures.band_lbf)
        entries.append(Entry(Stroke.BAND, Ink.GRID, f"linear within ± {band}"))
    if figures.tested_stretch_in:
        tested = Quantity.LENGTH.scale(figures.units).words(figures.tested_stretch_in)
        entries.append(Entry(Stroke.DASHED, Ink.FAINT, f"tested stretch {tested}"))
    return entries


def _fitted(figures: LoadGraphFigures) -> tuple[float, float] | None:
    """Return the end of the fitted line; it goes no further than the test did."""
    if figures.rate_lbf_in is None or not figures.tested_stretch_in:
        return None
    return figures.tested_stretch_in, figures.rate_lbf_in * figures.tested_stretch_in


def _graph(figures: LoadGraphFigures, width: float, height: float, top: float) -> _Graph:
    stretch, force = Quantity.LENGTH.scale(figures.units), Quantity.FORCE.scale(figures.units)
    end = _fitted(figures)
    drawn = [*figures.points, *figures.curve_points, *([end] if end else [])]
    band = figures.band_lbf or 0.0
    forces = [force.shown(each + band) for _, each in drawn]
    up = axis_over(
        [*forces, *(force.shown(each) for _, each in drawn)], steps_up(height - top - 40)
    )
    left = figures_width(up) + 12
    across = axis_over([stretch.shown(each) for each, _ in drawn], _steps(width - left))
    return _Graph(Frame(left, top, width - 12, height - 42), across, up, figures.units)


def _steps(width: float) -> int:
    return min(10, steps_across(width, "000.0"))


def _draw_band(surface: Surface, graph: _Graph, figures: LoadGraphFigures) -> None:
    end, band = _fitted(figures), figures.band_lbf
    if end is None or not band:
        return
    edges = [(0.0, band), (end[0], end[1] + band), (end[0], end[1] - band), (0.0, -band)]
    corners = _above_floor(edges, graph)
    surface.polygon(corners, Ink.BAND, True)
    surface.polygon(corners, Ink.GRID, False)


def _above_floor(edges: Sequence[tuple[float, float]], graph: _Graph) -> list[Point]:
    """Return the band's corners, its lower edge starting where it rises above the axis."""
    (_, band), upper_end, lower_end, lower_start = edges
    floor = graph.up.low / Quantity.FORCE.scale(graph.units).factor
    rise = lower_end[1] - lower_start[1]
    if lower_start[1] >= floor or rise <= 0 or lower_end[1] <= floor:
        return [graph.at(*edge) for edge in edges]
    crossing = lower_end[0] * (floor - lower_start[1]) / rise
    corners = [(0.0, band), upper_end, lower_end, (crossing, floor), (0.0, floor)]
    return [graph.at(*corner) for corner in corners]


def _draw_lines(surface: Surface, graph: _Graph, figures: LoadGraphFigures) -> None:
    end = _fitted(figures)
    if end is not None:
        x = graph.at(*end)[0]
        surface.line(x, graph.frame.top, x, graph.frame.bottom, Ink.FAINT, 1.2, dashed=True)
        surface.polyline([graph.at(0.0, 0.0), graph.at(*end)], Ink.ACCENT, 2.4)
    if len(figures.curve_points) > 1:
        curve = [graph.at(*point) for point in figures.curve_points]
        surface.polyline(curve, Ink.INK, 1.4, dashed=True)
