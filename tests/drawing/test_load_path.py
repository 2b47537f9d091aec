from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ratings.drawing.loadpath import Part, PathFigures, Supply, draw_load_path, load_path_height
from ratings.drawing.surface import Ink

WIDTHS = st.sampled_from([720.0, 360.0])
FORCES = st.one_of(st.none(), st.floats(0.0, 400_000.0))


def path(ground_lbf: float | None = 60_000.0, supply_lbf: float | None = 80_000.0) -> PathFigures:
    """Pads above pile and ground."""
    total = None if ground_lbf is None else ground_lbf + 5_000.0
    rows = (
        Supply("Pads good for", total, supply_lbf),
        Part("pile", 5_000.0, total),
        Part("ground", ground_lbf, ground_lbf),
    )
    return PathFigures(rows)


def blocks(recording: Any) -> list[tuple[float, float]]:
    """Left and right of each part's block, from the hook down."""
    rects = recording.of("rect", ink=Ink.ACCENT, filled=True)
    return [(rect["points"][0][0], rect["points"][1][0]) for rect in rects]


def test_each_block_begins_where_the_one_below_it_ends(recording: Any) -> None:
    draw_load_path(recording, path(), 720.0)
    pile, ground = blocks(recording)
    assert pile[0] == pytest.approx(ground[1])


def test_blocks_are_to_one_scale(recording: Any) -> None:
    draw_load_path(recording, path(), 720.0)
    pile, ground = blocks(recording)
    assert (ground[1] - ground[0]) / (pile[1] - pile[0]) == pytest.approx(12.0)


def test_a_supply_to_spare_is_told_in_words(recording: Any) -> None:
    draw_load_path(recording, path(), 720.0)
    assert "Pads good for 80,000 lbf: 15,000 lbf to spare" in recording.words()


def test_a_supply_that_falls_short_is_told_in_words_and_hatched(new_recording: Any) -> None:
    short, enough = new_recording(), new_recording()
    draw_load_path(short, path(supply_lbf=50_000.0), 720.0)
    draw_load_path(enough, path(), 720.0)
    assert "Pads good for 50,000 lbf: 15,000 lbf short" in short.words()
    hatching = [len(each.of("line", ink=Ink.FAINT, width=0.7)) for each in (short, enough)]
    assert hatching[0] > hatching[1] == 0


def test_a_force_not_on_record_is_said_to_be_not_known(recording: Any) -> None:
    draw_load_path(recording, path(ground_lbf=None), 720.0)
    assert "not known" in recording.words()
    assert "Pads good for: not known" in recording.words()


def test_it_speaks_kilonewtons_to_who_wants_them(recording: Any) -> None:
    draw_load_path(recording, PathFigures(path().rows, "si"), 720.0)
    assert "266.9 kN" in recording.words()


@settings(max_examples=60)
@given(ground=FORCES, supply=FORCES, width=WIDTHS)
def test_no_two_labels_overlap_and_none_leaves_the_drawing(
    new_recording: Any, ground: float | None, supply: float | None, width: float
) -> None:
    recording, figures = new_recording(), path(ground, supply)
    draw_load_path(recording, figures, width)
    assert recording.overlapping() == []
    assert recording.outside(width, load_path_height(figures)) == []
