from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.quantities import Quantity
from ratings.drawing.labels import Box
from ratings.drawing.load_path import (
    Part,
    PathFigures,
    Supply,
    draw_load_path,
    load_path_height,
    path_words,
    supply_words,
)
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
    assert "Pads good for 80,000 lbf: load not known" in recording.words()


def test_a_supply_not_on_record_is_said_to_be_not_known(recording: Any) -> None:
    draw_load_path(recording, path(supply_lbf=None), 720.0)
    assert "Pads good for: not known" in recording.words()


def test_it_speaks_kilonewtons_to_who_wants_them(recording: Any) -> None:
    draw_load_path(recording, PathFigures(path().rows, "si"), 720.0)
    assert "266.9 kN" in recording.words()


def test_a_supply_is_told_where_the_load_on_it_is_not_known(recording: Any) -> None:
    rows = (Supply("Pads good for", None, 80_000.0), Part("clamp", None, None))
    draw_load_path(recording, PathFigures(rows), 720.0)
    assert "Pads good for 80,000 lbf: load not known" in recording.words()


def test_what_is_borne_is_told_beside_its_bar(recording: Any) -> None:
    rows = (Supply("Clamp grips with", 90_000.0, 95_000.0, "with shaking"), *path().rows[1:])
    draw_load_path(recording, PathFigures(rows), 720.0)
    assert {"with shaking", "90,000 lbf"} <= {*recording.words()}


def test_the_same_figure_is_not_short() -> None:
    assert not Supply("Pads good for", 80_000.0, 80_000.0 * (1 - 1e-15)).is_short


def test_what_is_short_by_less_than_is_written_says_so() -> None:
    row = Supply("Pads good for", 80_000.3, 80_000.0)
    assert supply_words(Quantity.LOAD.scale("us"), row) == "Pads good for 80,000 lbf: just short"


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("supply_lbf", [79_999.5, 81_234.56, 65_000.49])
def test_written_figures_agree(units: str, supply_lbf: float) -> None:
    scale, demand_lbf = Quantity.LOAD.scale(units), 65_000.49
    words = supply_words(scale, Supply("", demand_lbf, supply_lbf))
    given, spare = (float(each.strip().split()[0].replace(",", "")) for each in words.split(":"))
    asked = float(scale.words(demand_lbf).split()[0].replace(",", ""))
    assert given - asked == pytest.approx(spare)


def test_a_supply_far_beyond_the_load_is_an_arrow_at_the_edge(recording: Any) -> None:
    draw_load_path(recording, path(supply_lbf=2_000_000.0), 720.0)
    (arrow,) = recording.of("polygon", ink=Ink.INK)
    (tip,) = [at for at in arrow["points"] if at[0] == max(x for x, _ in arrow["points"])]
    _, ground = blocks(recording)
    # The blocks still fill most of the scale.
    assert ground[1] - ground[0] > 0.5 * (tip[0] - ground[0])


def test_a_supply_mark_stands_at_its_force(recording: Any) -> None:
    draw_load_path(recording, path(), 720.0)
    (mark,) = recording.of("line", ink=Ink.INK, width=3.0)
    _, ground = blocks(recording)
    per_lbf = (ground[1] - ground[0]) / 60_000.0
    assert mark["points"][0][0] - ground[0] == pytest.approx(80_000.0 * per_lbf)


def test_it_is_told_in_words() -> None:
    assert path_words(path(supply_lbf=50_000.0)) == (
        "Pads good for 50,000 lbf: 15,000 lbf short; in all 65,000 lbf. Pile 5,000 lbf. "
        "Ground 60,000 lbf."
    )


@settings(max_examples=60)
@given(
    forces=st.lists(FORCES, min_size=8, max_size=8),
    supplies=st.lists(FORCES, min_size=5, max_size=5),
    width=st.sampled_from([720.0, 360.0, 340.0]),
    units=st.sampled_from(["us", "si"]),
)
def test_a_whole_path_is_legible_whatever_is_known(
    new_recording: Any,
    forces: list[float | None],
    supplies: list[float | None],
    width: float,
    units: str,
) -> None:
    figures = PathFigures(tuple(whole_path(forces, supplies)), units)
    recording = new_recording()
    draw_load_path(recording, figures, width)
    assert recording.overlapping() == []
    assert recording.outside(width, load_path_height(figures)) == []
    marks = recording.of("polygon")
    for words in recording.of("text", bold=True):
        assert not any(words["box"].meets(bounds(mark["points"])) for mark in marks)


def whole_path(forces: list[float | None], supplies: list[float | None]) -> Iterator[Part | Supply]:
    names = ("hook block", "rigging", "housing", "exciter", "clamp", "plug", "pile", "ground")
    totals: list[float | None] = []
    for force in forces[: len(names)][::-1]:
        below = totals[-1] if totals else 0.0
        totals.append(None if force is None or below is None else below + force)
    bearers = {
        0: "Crane’s chart allows",
        1: "Rigging good for",
        3: "Pads good for",
        5: "Pile may be pulled with",
    }
    for place, (name, total) in enumerate(zip(names, totals[::-1], strict=True)):
        if place in bearers:
            yield Supply(bearers[place], total, supplies[place % 5], "with shaking")
        yield Part(name, forces[place], total)


def bounds(points: list[tuple[float, float]]) -> Box:
    xs, ys = zip(*points, strict=True)
    return Box(min(xs), min(ys), max(xs), max(ys))


@settings(max_examples=60)
@given(ground=FORCES, supply=FORCES, width=WIDTHS)
def test_no_two_labels_overlap_and_none_leaves_the_drawing(
    new_recording: Any, ground: float | None, supply: float | None, width: float
) -> None:
    recording, figures = new_recording(), path(ground, supply)
    draw_load_path(recording, figures, width)
    assert recording.overlapping() == []
    assert recording.outside(width, load_path_height(figures)) == []
