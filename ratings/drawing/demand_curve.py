"""Demand at the pads as the pile comes out, against what the pads are good for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from fleet.quantities import Quantity, floored
from ratings.drawing.axes import (
    Graph,
    graph_below_legend,
    nice_step,
    steps_across,
    tick_label,
    ticks,
)
from ratings.drawing.labels import Box, Entry, Stroke, Taken, text_box
from ratings.drawing.surface import Anchor, Ink, Point, Surface

# Where they stand in a point of the curve.
_EXPECTED, _GREATEST = 2, 3


@dataclass(frozen=True)
class DemandFigures:
    """Points of (embedment left ft, low, expected, high lbf), from full to none; the supply."""

    points: tuple[tuple[float, float, float, float], ...]
    supply_lbf: float | None
    units: str = "us"


@dataclass(frozen=True)
class Crossing:
    """Where a demand comes within the supply as the pile comes out."""

    embedment_ft: float
    is_expected: bool
    units: str

    @property
    def words(self) -> str:
        # Rounded down: with more left in the ground it is not enough.
        scale = Quantity.DEPTH.scale(self.units, 1)
        left = floored(scale.shown(self.embedment_ft), scale.decimals)
        return f"{'expected' if self.is_expected else 'at worst'} from {left} {scale.symbol}"


def crossings(figures: DemandFigures) -> list[Crossing]:
    """Return where the expected demand, and the greatest, come within the supply."""
    if figures.supply_lbf is None:
        return []
    found = []
    for place in _EXPECTED, _GREATEST:
        points = [(each[0], each[place]) for each in figures.points]
        at_ft = crossing_ft(points, figures.supply_lbf)
        if at_ft is not None:
            found.append(Crossing(at_ft, place == _EXPECTED, figures.units))
    return found


def crossing_ft(points: Sequence[tuple[float, float]], supply_lbf: float) -> float | None:
    """Return the embedment below which a demand stays within a supply, ft.

    points: (embedment, demand), the embedment falling. None where the demand is within the supply
    all along, or is still beyond it at the end.
    """
    if points[-1][1] > supply_lbf:
        return None
    for after, before in pairwise(reversed(points)):
        if before[1] > supply_lbf:
            share = (supply_lbf - after[1]) / (before[1] - after[1])
            return after[0] + share * (before[0] - after[0])
    return None


def curve_words(figures: DemandFigures) -> str:
    """Return the curve in words, for those who don't see it."""
    force, depth = Quantity.LOAD.scale(figures.units), Quantity.DEPTH.scale(figures.units, 1)
    full_ft, low, expected, high = figures.points[0]
    words = (
        f"With {depth.words(full_ft)} in the ground the pads must carry {force.words(expected)}, "
        f"{force.words(low)} to {force.words(high)} over its range; with none left "
        f"{force.words(figures.points[-1][2])}."
    )
    if figures.supply_lbf is None:
        return f"{words} What the pads are good for is not known."
    good = f"The pads are good for {force.words(figures.supply_lbf)}"
    from_where = [each.words for each in crossings(figures)]
    enough = f", enough {' and '.join(from_where)}" if from_where else ""
    return f"{words} {good}{enough}."


_WORDS_SIZE = 11.0
_DOT = 4.0


def draw_demand_curve(
    surface: Surface, figures: DemandFigures, width: float, height: float
) -> None:
    """Draw the expected demand, its range, and the supply as a level line."""
    scale, full_ft = Quantity.LOAD.scale(figures.units), figures.points[0][0]
    forces = [high for *_, high in figures.points] + [figures.supply_lbf or 0.0]
    graph = graph_below_legend(surface, _legend(figures), (width, height), 44, scale, forces)

    def at(embedment_ft: float, force_lbf: float) -> Point:
        # The pile comes out from left to right, as the day goes.
        return graph.at(1.0 - embedment_ft / full_ft, force_lbf)

    upper = [at(left_ft, high) for left_ft, _, _, high in figures.points]
    lower = [at(left_ft, low) for left_ft, low, _, _ in figures.points]
    surface.polygon([*upper, *lower[::-1]], Ink.BAND)
    graph.draw_upright_axis(surface, f"pull at the pads, {scale.symbol}")
    _draw_embedments(surface, graph, figures)
    surface.polyline([at(each[0], each[_EXPECTED]) for each in figures.points], Ink.ACCENT, 2.5)
    if figures.supply_lbf is not None:
        begin, end = (at(left, figures.supply_lbf) for left in (full_ft, 0.0))
        surface.line(*begin, *end, Ink.WARN, 2.0, dashed=True)
        found = crossings(figures)
        dots = [at(each.embedment_ft, figures.supply_lbf) for each in found]
        _draw_crossings(surface, graph, found, dots)


def _legend(figures: DemandFigures) -> list[Entry]:
    entries = [
        Entry(Stroke.LINE, Ink.ACCENT, "demand expected"),
        Entry(Stroke.BAND, Ink.BAND, "its range"),
    ]
    if figures.supply_lbf is not None:
        words = Quantity.LOAD.scale(figures.units).words(figures.supply_lbf)
        entries.append(Entry(Stroke.DASHED, Ink.WARN, f"pads good for {words}"))
    return entries


def _draw_embedments(surface: Surface, graph: Graph, figures: DemandFigures) -> None:
    scale = Quantity.DEPTH.scale(figures.units, 1)
    full = scale.shown(figures.points[0][0])
    step = nice_step(full, steps_across(graph.width, "000"))
    marks = [(1.0 - value / full, tick_label(value, step)) for value in ticks(0.0, full, step)]
    graph.draw_level_axis(surface, marks, f"embedment left, {scale.symbol}")


def _draw_crossings(
    surface: Surface, graph: Graph, found: Sequence[Crossing], dots: Sequence[Point]
) -> None:
    """A full dot where the expected demand meets the supply, a ring where the greatest does.

    Its words above and right of it or below and left of it, where the curve doesn't run.
    """
    taken = Taken([Box(x - _DOT, y - _DOT, x + _DOT, y + _DOT) for x, y in dots])
    for crossing, (x, y) in reversed(list(zip(found, dots, strict=True))):
        surface.circle(x, y, _DOT, Ink.ACCENT if crossing.is_expected else Ink.PAPER)
        surface.circle(x, y, _DOT, Ink.ACCENT, False)
        places: list[tuple[float, float, Anchor]] = [
            (x + 7, y - 7, "start"),
            (x - 7, y + 16, "end"),
        ]
        if crossing.is_expected:
            # Above and right of it is where the ring may be.
            places.reverse()
        for left, baseline, anchor in [*places, (x + 7, y - 22, "start")]:
            box = text_box(left, baseline, crossing.words, _WORDS_SIZE, anchor)
            across = graph.left < box.left and box.right < graph.right
            if across and graph.top < box.top and box.bottom < graph.bottom and taken.take(box):
                surface.text(left, baseline, crossing.words, Ink.INK, _WORDS_SIZE, anchor)
                break
