from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.drawing.stoprule import HEIGHT, StopFigures, draw_stop_rule, stop_rule_share
from ratings.drawing.surface import Ink
from ratings.drawing.verdictshapes import draw_verdict

WIDTH = 720.0


def stop_x(recording: Any) -> float:
    (line,) = recording.of("line", ink=Ink.WARN, width=5.0)
    return float(line["points"][0][0])


def left_x(recording: Any) -> float:
    return min(each["points"][0][0] for each in recording.of("line", ink=Ink.INK, width=0.8))


def test_an_inch_of_stretch_is_an_inch_of_paper(recording: Any) -> None:
    draw_stop_rule(recording, StopFigures(5.5), WIDTH)
    assert stop_x(recording) - left_x(recording) == pytest.approx(5.5 * 72.0)
    assert any("true scale" in words for words in recording.words())


def test_a_stretch_too_long_for_the_paper_is_drawn_smaller_and_says_so(recording: Any) -> None:
    draw_stop_rule(recording, StopFigures(12.0), WIDTH)
    assert stop_x(recording) - left_x(recording) == pytest.approx(12.0 * 36.0)
    assert "Drawn to 1 : 2, not true scale; check it against a tape." in recording.words()


def test_the_stop_line_is_named(recording: Any) -> None:
    draw_stop_rule(recording, StopFigures(5.5, stop_words="5 1/2 in"), WIDTH)
    assert "STOP HERE 5 1/2 in" in recording.words()


def test_millimetres_are_millimetres_of_paper(recording: Any) -> None:
    draw_stop_rule(recording, StopFigures(100.0 / 25.4, units="si"), WIDTH)
    assert "100" not in recording.words()
    assert "90" in recording.words()
    assert stop_x(recording) - left_x(recording) == pytest.approx(100.0 / 25.4 * 72.0)


def test_a_pull_that_needs_more_than_the_stop_has_no_mark(recording: Any) -> None:
    draw_stop_rule(recording, StopFigures(5.0, expected_in=6.0, capacity_in=4.0), WIDTH)
    assert not any("pull expected" in words for words in recording.words())
    assert any("working capacity" in words for words in recording.words())


@given(
    stop=st.floats(0.25, 36.0),
    expected=st.floats(0.0, 36.0),
    capacity=st.floats(0.0, 36.0),
    units=st.sampled_from(["us", "si"]),
)
def test_no_two_labels_overlap_and_none_leaves_the_paper(
    new_recording: Any, stop: float, expected: float, capacity: float, units: str
) -> None:
    recording = new_recording()
    draw_stop_rule(recording, StopFigures(stop, expected, capacity, units), WIDTH)
    assert recording.overlapping() == []
    assert recording.outside(WIDTH, HEIGHT) == []


@given(stop=st.floats(0.25, 36.0))
def test_it_is_drawn_as_large_as_fits(stop: float) -> None:
    share = stop_rule_share(StopFigures(stop), WIDTH)
    assert share == 1.0 or (stop + 0.75) * 72.0 * share * 2.0 > WIDTH - 12.0


def test_every_verdict_has_a_shape_of_its_own(new_recording: Any) -> None:
    shapes = []
    for verdict in ("suitable", "suitable with care", "cannot be judged", "not suitable"):
        recording = new_recording()
        draw_verdict(recording, verdict, 0.0, 0.0, 16.0)
        shapes.append(tuple(kind for kind, _ in recording.strokes))
        assert recording.outside(16.0, 16.0) == []
    assert len({*shapes}) == 4
