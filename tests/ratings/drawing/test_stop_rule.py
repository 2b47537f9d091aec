from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfgen.canvas import Canvas

from ratings.drawing.labels import Box
from ratings.drawing.pdf import PdfSurface
from ratings.drawing.shapes import draw_verdict
from ratings.drawing.stop_rule import HEIGHT, StopFigures, draw_stop_rule, stop_rule_share
from ratings.drawing.surface import Ink

WIDTH = 720.0


def stop_x(recording: Any) -> float:
    (line,) = recording.of("line", ink=Ink.WARN, width=5.0)
    return float(line["points"][0][0])


def marks(recording: Any) -> list[dict[str, Any]]:
    return list(recording.of("line", ink=Ink.ACCENT, width=2.0))


def left_x(recording: Any) -> float:
    lines = recording.of("line", ink=Ink.INK, width=0.6)
    return min(float(each["points"][0][0]) for each in lines)


def test_an_inch_of_stretch_is_an_inch_of_paper(recording: Any) -> None:
    draw_stop_rule(recording, StopFigures(5.5), WIDTH)
    assert stop_x(recording) - left_x(recording) == pytest.approx(5.5 * 72.0)
    assert any("true scale" in words for words in recording.words())


def test_a_stretch_too_long_for_the_paper_is_drawn_smaller_and_says_so(recording: Any) -> None:
    draw_stop_rule(recording, StopFigures(12.0), WIDTH)
    assert stop_x(recording) - left_x(recording) == pytest.approx(12.0 * 36.0)
    assert any("Drawn to half scale, 1 : 2, not true scale" in each for each in recording.words())


def test_the_stop_line_is_named(recording: Any) -> None:
    draw_stop_rule(recording, StopFigures(5.5, stop_words="5 1/2 in"), WIDTH)
    assert "STOP HERE 5 1/2 in" in recording.words()


def test_it_is_parted_as_a_tape_is(new_recording: Any) -> None:
    for units, apart in (("us", 72.0 / 16.0), ("si", 72.0 / 25.4)):
        recording = new_recording()
        draw_stop_rule(recording, StopFigures(4.0, units=units), WIDTH)
        ticks = sorted(each["points"][0][0] for each in recording.of("line", width=0.6))
        assert ticks[1] - ticks[0] == pytest.approx(apart)


def test_marks_stand_at_their_stretch(recording: Any) -> None:
    draw_stop_rule(recording, StopFigures(5.5, expected_in=4.25, capacity_in=5.0), WIDTH)
    xs = [each["points"][0][0] - left_x(recording) for each in marks(recording)]
    assert xs == [pytest.approx(4.25 * 72.0), pytest.approx(5.0 * 72.0)]


def test_beyond_the_stop_it_is_hatched_and_nothing_else(recording: Any) -> None:
    draw_stop_rule(recording, StopFigures(5.5), WIDTH)
    hatching = recording.of("line", ink=Ink.FAINT, width=0.7)
    assert hatching
    assert min(x for each in hatching for x, _ in each["points"]) == pytest.approx(
        stop_x(recording)
    )
    ticks = recording.of("line", ink=Ink.INK, width=0.6)
    assert max(each["points"][0][0] for each in ticks) <= stop_x(recording)


@given(stop=st.floats(0.5, 36.0), first=st.floats(0.0, 1.0), second=st.floats(0.0, 1.0))
def test_no_mark_strikes_a_word(
    new_recording: Any, stop: float, first: float, second: float
) -> None:
    recording = new_recording()
    draw_stop_rule(recording, StopFigures(stop, first * stop, second * stop), WIDTH)
    assert len(marks(recording)) == 2
    strokes = [*marks(recording), *recording.of("line", ink=Ink.WARN, width=5.0)]
    for stroke in strokes:
        (x, top), (_, bottom) = stroke["points"]
        line = Box(x - 1.0, top, x + 1.0, bottom)
        struck = [each["string"] for each in recording.of("text") if each["box"].meets(line)]
        assert struck == []


def test_it_draws_on_paper() -> None:
    canvas = Canvas(BytesIO(), pagesize=(792.0, 612.0))
    for units in ("us", "si"):
        figures = StopFigures(5.5, 4.0, 5.0, units)
        draw_stop_rule(PdfSurface(canvas, 36.0, 400.0), figures, WIDTH)
    assert canvas.getpdfdata().startswith(b"%PDF")


def test_millimetres_are_millimetres_of_paper(recording: Any) -> None:
    draw_stop_rule(recording, StopFigures(100.0 / 25.4, units="si"), WIDTH)
    assert "100" not in recording.words()
    assert "90" in recording.words()
    assert stop_x(recording) - left_x(recording) == pytest.approx(100.0 / 25.4 * 72.0)


def test_a_pull_that_needs_more_than_the_stop_has_no_mark(recording: Any) -> None:
    draw_stop_rule(recording, StopFigures(5.0, expected_in=6.0, capacity_in=4.0), WIDTH)
    assert not any("pull expected" in words for words in recording.words())
    assert any("this pull’s capacity" in words for words in recording.words())


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
