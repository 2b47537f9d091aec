from __future__ import annotations

from typing import Any

from ratings.drawing.pad_map import PadCell, draw_pad_map, pad_map_height

CONDITIONS = ("sound", "cracked", "debonded", "swollen", "missing", "")


def shape_of(recording: Any) -> list[tuple[Any, ...]]:
    """Return what is drawn besides words, without its ink."""
    return [
        (kind, values["points"], values.get("filled"), values.get("dashed"))
        for kind, values in recording.strokes
        if kind != "text"
    ]


def test_each_condition_has_a_word_and_a_shape_of_its_own(new_recording: Any) -> None:
    words, shapes = [], []
    for condition in CONDITIONS:
        recording = new_recording()
        draw_pad_map(recording, [PadCell("A", 1, condition, "")], 360.0)
        words.append(tuple(recording.words()))
        shapes.append(shape_of(recording))
    assert len(set(words)) == len(CONDITIONS)
    assert all(shapes.count(shape) == 1 for shape in shapes)


def test_a_position_nobody_counted_says_so(recording: Any) -> None:
    draw_pad_map(recording, [PadCell("B", 1, "", "")], 360.0)
    assert "not counted" in recording.words()


def test_positions_are_numbered_from_the_top_side_a_on_the_left(recording: Any) -> None:
    cells = [PadCell(side, number, "sound", "L1") for side in "BA" for number in (2, 1)]
    draw_pad_map(recording, cells, 360.0)
    ones, twos = recording.of("text", string="1"), recording.of("text", string="2")
    assert max(e["points"][0][1] for e in ones) < min(e["points"][0][1] for e in twos)
    (side_a,), (side_b,) = (recording.of("text", string=f"side {side}") for side in "AB")
    assert side_a["points"][0][0] < side_b["points"][0][0]


def test_long_lot_marks_meet_no_word_and_stay_on_the_map(new_recording: Any) -> None:
    cells = [
        PadCell(side, number, condition, "a lot with a very long mark indeed")
        for side in "AB"
        for number, condition in enumerate(CONDITIONS, start=1)
    ]
    for width in (330.0, 360.0, 540.0):
        recording = new_recording()
        draw_pad_map(recording, cells, width)
        assert recording.overlapping() == []
        assert recording.outside(width, pad_map_height(cells, width)) == []


def test_the_map_is_as_high_as_its_last_position_needs() -> None:
    one = pad_map_height([PadCell("A", 1, "sound", "")], 360.0)
    nine = pad_map_height([PadCell("B", 9, "sound", "")], 360.0)
    assert nine == one + 8 * 24.0
