from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from ratings.drawing.surface import Ink
from ratings.drawing.survival_graph import SurvivalFigures, draw_survival

PLAIN = SurvivalFigures(
    along="hours worked",
    line=((0.0, 100.0), (100.0, 90.0), (200.0, 60.0)),
    low=((0.0, 100.0), (100.0, 80.0), (200.0, 40.0)),
    high=((0.0, 100.0), (100.0, 97.0), (200.0, 78.0)),
)


def test_between_two_looks_the_band_is_as_wide_as_what_both_allow(recording: Any) -> None:
    draw_survival(recording, PLAIN, 720.0, 320.0)
    corners = recording.of("polygon", filled=True)[0]["points"]
    (line,) = recording.of("polyline", ink=Ink.ACCENT)
    start, first, _ = line["points"]
    # Right after the start the band reaches down to the first look's, and up to the start's.
    after_start = [y for x, y in corners if x == pytest.approx(start[0])]
    assert max(after_start) > first[1]
    at_first = [y for x, y in corners if x == pytest.approx(first[0])]
    assert min(at_first) == pytest.approx(start[1])


def test_a_share_known_to_the_hour_is_drawn_as_steps(recording: Any) -> None:
    draw_survival(recording, replace(PLAIN, holds=True), 720.0, 320.0)
    (line,) = recording.of("polyline", ink=Ink.ACCENT)
    points = line["points"]
    assert len(points) == 5
    assert points[1][1] == pytest.approx(points[0][1])
    assert points[1][0] == pytest.approx(points[2][0])


def test_the_law_is_dashed_and_in_the_legend(recording: Any) -> None:
    draw_survival(recording, replace(PLAIN, law=PLAIN.line), 360.0, 280.0)
    (law,) = recording.of("polyline", ink=Ink.INK)
    assert law["dashed"]
    assert "Weibull" in {each["string"] for each in recording.of("text")}
