from __future__ import annotations

from typing import Any

import pytest

from ratings.drawing.demandcurve import DemandFigures, draw_demand_curve
from ratings.drawing.surface import Ink

POINTS = (
    (40.0, 40_000.0, 60_000.0, 90_000.0),
    (20.0, 25_000.0, 35_000.0, 50_000.0),
    (0.0, 15_000.0, 15_000.0, 15_000.0),
)


def test_the_pile_comes_out_from_left_to_right_and_the_demand_falls(recording: Any) -> None:
    draw_demand_curve(recording, DemandFigures(POINTS, 50_000.0), 720.0, 320.0)
    (line,) = recording.of("polyline", ink=Ink.ACCENT)
    xs, ys = zip(*line["points"], strict=True)
    assert list(xs) == sorted(xs)
    # y grows downwards.
    assert list(ys) == sorted(ys)


def test_the_supply_lies_level_at_its_force(recording: Any) -> None:
    draw_demand_curve(recording, DemandFigures(POINTS, 60_000.0), 720.0, 320.0)
    (line,) = recording.of("polyline", ink=Ink.ACCENT)
    supply = [
        each
        for each in recording.of("line", ink=Ink.WARN, dashed=True)
        if each["points"][1][0] - each["points"][0][0] > 100
    ]
    assert supply[0]["points"][0][1] == pytest.approx(line["points"][0][1])
    assert "pads good for 60,000 lbf" in recording.words()


def test_without_a_supply_no_line_is_drawn_for_it(recording: Any) -> None:
    draw_demand_curve(recording, DemandFigures(POINTS, None), 720.0, 320.0)
    assert recording.of("line", ink=Ink.WARN) == []


@pytest.mark.parametrize("size", [(720.0, 320.0), (360.0, 280.0)])
@pytest.mark.parametrize("units", ["us", "si"])
def test_no_two_labels_overlap(recording: Any, size: tuple[float, float], units: str) -> None:
    draw_demand_curve(recording, DemandFigures(POINTS, 50_000.0, units), *size)
    assert recording.overlapping() == []
    assert recording.outside(*size) == []
