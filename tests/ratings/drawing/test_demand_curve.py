from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ratings.drawing.demand_curve import (
    Crossing,
    DemandFigures,
    crossing_ft,
    curve_words,
    draw_demand_curve,
)
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


def test_where_they_meet_is_marked_and_named(recording: Any) -> None:
    draw_demand_curve(recording, DemandFigures(POINTS, 50_000.0), 720.0, 320.0)
    # From 60,000 at 40 ft to 35,000 at 20 ft: 50,000 at 32 ft.
    assert "expected from 32 ft" in [words.replace(".0", "") for words in recording.words()]
    (dot,) = recording.of("circle", ink=Ink.ACCENT, filled=True)
    (line,) = recording.of("polyline", ink=Ink.ACCENT)
    (x1, y1), (x2, y2) = line["points"][:2]
    x, y = dot["points"][0]
    assert (x - x1) / (x2 - x1) == pytest.approx(8.0 / 20.0)
    assert (y - y1) / (y2 - y1) == pytest.approx(8.0 / 20.0)


def test_where_the_worst_comes_within_the_supply_has_a_ring(recording: Any) -> None:
    draw_demand_curve(recording, DemandFigures(POINTS, 70_000.0), 720.0, 320.0)
    # From 90,000 at 40 ft to 50,000 at 20 ft: 70,000 at 30 ft. The expected is within all along.
    assert "at worst from 30.0 ft" in recording.words()
    assert len(recording.of("circle", ink=Ink.PAPER, filled=True)) == 1
    assert recording.of("circle", ink=Ink.ACCENT, filled=True) == []


@pytest.mark.parametrize("supply_lbf", [10_000.0, 95_000.0])
def test_without_a_crossing_none_is_marked(recording: Any, supply_lbf: float) -> None:
    draw_demand_curve(recording, DemandFigures(POINTS, supply_lbf), 720.0, 320.0)
    assert recording.of("circle") == []


def test_an_embedment_is_rounded_down(recording: Any) -> None:
    at_ft = crossing_ft([(each[0], each[2]) for each in POINTS], 50_100.0)
    assert at_ft == pytest.approx(32.08)
    assert Crossing(32.08, True, "us").words == "expected from 32.0 ft"
    assert Crossing(32.08, False, "si").words == "at worst from 9.7 m"


def test_it_is_told_in_words(recording: Any) -> None:
    assert curve_words(DemandFigures(POINTS, 50_000.0)) == (
        "With 40 ft in the ground the pads must carry 60,000 lbf, 40,000 lbf to 90,000 lbf over "
        "its range; with none left 15,000 lbf. The pads are good for 50,000 lbf, enough expected "
        "from 32.0 ft and at worst from 20.0 ft."
    )
    assert curve_words(DemandFigures(POINTS, None)).endswith("good for is not known.")


@settings(max_examples=60)
@given(
    supply=st.floats(0.0, 1e7),
    held=st.floats(0.0, 1e6),
    spread=st.floats(0.0, 1.0),
    full_ft=st.floats(0.5, 300.0),
    size=st.sampled_from([(720.0, 320.0), (360.0, 280.0), (340.0, 280.0)]),
    units=st.sampled_from(["us", "si"]),
)
def test_no_label_overlaps_or_leaves_whatever_is_drawn(
    new_recording: Any,
    supply: float,
    held: float,
    spread: float,
    full_ft: float,
    size: tuple[float, float],
    units: str,
) -> None:
    low, high = held * (1.0 - spread), held * (1.0 + spread)
    points = (
        (full_ft, 9_000.0 + low, 9_000.0 + held, 9_000.0 + high),
        (0.0, 9_000.0, 9_000.0, 9_000.0),
    )
    recording = new_recording()
    draw_demand_curve(recording, DemandFigures(points, supply, units), *size)
    assert recording.overlapping() == []
    assert recording.outside(*size) == []


def test_without_a_supply_no_line_is_drawn_for_it(recording: Any) -> None:
    draw_demand_curve(recording, DemandFigures(POINTS, None), 720.0, 320.0)
    assert recording.of("line", ink=Ink.WARN) == []


@pytest.mark.parametrize("size", [(720.0, 320.0), (360.0, 280.0)])
@pytest.mark.parametrize("units", ["us", "si"])
def test_no_two_labels_overlap(recording: Any, size: tuple[float, float], units: str) -> None:
    draw_demand_curve(recording, DemandFigures(POINTS, 50_000.0, units), *size)
    assert recording.overlapping() == []
    assert recording.outside(*size) == []
