from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from ratings.drawing.pull_rule import Detail, RuleFigures, draw_pull_rule
from ratings.drawing.surface import Ink

USUAL = RuleFigures(
    load_line=((0.0, 0.0), (6.0, 114_600.0)),
    travel_in=6.0,
    usable_travel_in=6.0,
    limited_by="travel",
    pull_lbf=114_600.0,
    working_capacity_lbf=110_200.0,
    upper_bound_lbf=119_000.0,
    listed_lbf=120_000.0,
)
SIZES = [(720.0, 170.0, Detail.LARGE), (360.0, 170.0, Detail.LARGE), (540.0, 150.0, Detail.LARGE)]
SMALL = (220.0, 40.0, Detail.SMALL)


def mark_x(recording: Any) -> float:
    (mark,) = recording.of("line", ink=Ink.ACCENT, width=3.5)
    return float(mark["points"][0][0])


def notch_x(recording: Any) -> float | None:
    outline = recording.of("polygon", ink=Ink.INK)[0]["points"]
    return float(outline[2][0]) if len(outline) == 7 else None


def tick_x(recording: Any, words: str) -> float:
    """Where the tick of a figure on the upper edge stands: the figure is just left of it."""
    upper = min(each["points"][0][1] for each in recording.of("text", string="tons"))
    (label,) = (
        each for each in recording.of("text", string=words) if each["points"][0][1] == upper
    )
    return float(label["points"][0][0]) + 3.5


def test_the_mark_lies_at_its_share_of_the_axis(recording: Any) -> None:
    draw_pull_rule(recording, USUAL, 720.0, 170.0, Detail.LARGE)
    nothing, ten = tick_x(recording, "tons"), tick_x(recording, "10")
    assert mark_x(recording) == pytest.approx(nothing + 5.73 * (ten - nothing))


def test_the_notch_lies_at_the_listed_rating(recording: Any) -> None:
    draw_pull_rule(recording, USUAL, 720.0, 170.0, Detail.LARGE)
    nothing, ten = tick_x(recording, "tons"), tick_x(recording, "10")
    assert notch_x(recording) == pytest.approx(nothing + 6.0 * (ten - nothing))


def test_without_a_listing_there_is_no_notch(recording: Any) -> None:
    draw_pull_rule(recording, replace(USUAL, listed_lbf=None), 720.0, 170.0, Detail.LARGE)
    assert notch_x(recording) is None
    assert not any("listed" in words for words in recording.words())


def test_the_bar_runs_from_working_capacity_to_upper_bound(recording: Any) -> None:
    draw_pull_rule(recording, USUAL, 720.0, 170.0, Detail.LARGE)
    (bar,) = recording.of("rect", ink=Ink.BAND)
    nothing, ten = tick_x(recording, "tons"), tick_x(recording, "10")
    left, right = (point[0] for point in bar["points"])
    assert left == pytest.approx(nothing + 5.51 * (ten - nothing))
    assert right == pytest.approx(nothing + 5.95 * (ten - nothing))


def test_inches_stand_where_a_bent_load_line_reaches_their_pull(recording: Any) -> None:
    bent = replace(USUAL, load_line=((0.0, 0.0), (3.0, 20_000.0), (6.0, 114_600.0)))
    draw_pull_rule(recording, bent, 720.0, 170.0, Detail.LARGE)
    ten_tons = tick_x(recording, "10")
    lower = max(each["points"][0][1] for each in recording.of("text", string="3"))
    (three,) = (e for e in recording.of("text", string="3") if e["points"][0][1] == lower)
    assert three["points"][0][0] + 3.5 == pytest.approx(ten_tons)


def test_the_blade_is_hatched_only_beyond_the_mark(recording: Any) -> None:
    draw_pull_rule(recording, USUAL, 720.0, 170.0, Detail.LARGE)
    hatching = recording.of("line", ink=Ink.FAINT)
    assert len(hatching) > 5
    assert min(x for each in hatching for x, _ in each["points"]) >= mark_x(recording)


def test_the_labels_say_what_they_name(recording: Any) -> None:
    draw_pull_rule(recording, USUAL, 720.0, 170.0, Detail.LARGE)
    assert {
        "line pull 57.3 tons",
        "listed 60.0",
        "working capacity 55.1",
        "no rating beyond 6 in: limited by travel",
    } <= set(recording.words())


def test_a_working_capacity_is_never_rounded_up(recording: Any) -> None:
    almost = replace(USUAL, working_capacity_lbf=110_399.0)
    draw_pull_rule(recording, almost, 720.0, 170.0, Detail.LARGE)
    assert "working capacity 55.1" in recording.words()


def test_a_limit_short_of_travel_names_the_travel_too(recording: Any) -> None:
    short = replace(USUAL, travel_in=8.0, limited_by="tested stretch")
    draw_pull_rule(recording, short, 720.0, 170.0, Detail.LARGE)
    assert "no rating beyond 6 in: limited by tested stretch (travel 8 in)" in recording.words()


def test_in_si_the_rule_reads_in_mm_and_kn(recording: Any) -> None:
    draw_pull_rule(recording, replace(USUAL, units="si"), 720.0, 170.0, Detail.LARGE)
    words = recording.words()
    assert "line pull 509.8 kN" in words
    assert "no rating beyond 152 mm: limited by travel" in words
    assert {"kN", "mm"} <= set(words)


@pytest.mark.parametrize("listed_lbf", [None, 120_000.0])
@pytest.mark.parametrize("size", [*SIZES, SMALL])
def test_without_a_pull_the_blade_is_empty_and_says_so(
    recording: Any, listed_lbf: float | None, size: tuple[float, float, Detail]
) -> None:
    draw_pull_rule(recording, RuleFigures(listed_lbf=listed_lbf), *size)
    assert "not rated" in recording.words()
    assert recording.of("line", ink=Ink.ACCENT) == []
    assert recording.of("line", ink=Ink.FAINT) == []
    assert recording.of("rect", ink=Ink.BAND) == []


def test_the_labels_stand_in_the_order_of_mark_and_notch(new_recording: Any) -> None:
    for listed_lbf in (100_000.0, 113_000.0, 116_000.0, 120_000.0):
        recording = new_recording()
        draw_pull_rule(recording, replace(USUAL, listed_lbf=listed_lbf), *SMALL)
        (pull,) = recording.of("text", string="57.3")
        (listed,) = (e for e in recording.of("text") if e["string"].startswith("listed"))
        is_left = listed["box"].left < pull["box"].left
        assert is_left == (listed_lbf < 114_600.0)


pulls = st.one_of(st.floats(0.0, 10.0), st.floats(0.0, 400_000.0), st.floats(0.0, 10_000_000.0))


@st.composite
def rule_figures(draw: st.DrawFn) -> RuleFigures:
    pull, usable = draw(pulls), draw(st.floats(0.25, 30.0))
    spread = pull * draw(st.floats(0.0, 1.2))
    near = pull * draw(st.floats(0.97, 1.03))
    bend = draw(st.floats(1.0, 2.0))
    return RuleFigures(
        load_line=tuple((usable * i / 12, pull * (i / 12) ** bend) for i in range(13)),
        travel_in=usable + draw(st.sampled_from((0.0, 1.5))),
        usable_travel_in=usable,
        limited_by=draw(st.sampled_from(("travel", "tested stretch", None))),
        pull_lbf=draw(st.sampled_from((pull, pull, pull, None))),
        working_capacity_lbf=pull - spread,
        upper_bound_lbf=pull + spread,
        listed_lbf=draw(st.one_of(st.none(), pulls, st.just(near))),
        units=draw(st.sampled_from(("us", "si"))),
    )


@settings(max_examples=300, deadline=None)
@given(figures=rule_figures(), size=st.sampled_from([*SIZES, SMALL]))
def test_no_two_labels_meet_and_nothing_leaves_the_drawing(
    new_recording: Any, figures: RuleFigures, size: tuple[float, float, Detail]
) -> None:
    recording = new_recording()
    draw_pull_rule(recording, figures, *size)
    assert recording.overlapping() == []
    assert recording.outside(size[0], size[1]) == []


NOTCH_IN_THE_MIDDLE = RuleFigures(
    load_line=((0.0, 0.0), (1.0, 199_900.0)),
    travel_in=1.0,
    usable_travel_in=1.0,
    limited_by="travel",
    pull_lbf=199_900.0,
    working_capacity_lbf=0.0,
    upper_bound_lbf=399_800.0,
    listed_lbf=203_023.4375,
)


@settings(max_examples=100, deadline=None)
@given(figures=rule_figures(), size=st.sampled_from(SIZES))
@example(figures=NOTCH_IN_THE_MIDDLE, size=SIZES[1])
def test_a_large_rule_always_writes_pull_and_listing(
    new_recording: Any, figures: RuleFigures, size: tuple[float, float, Detail]
) -> None:
    recording = new_recording()
    draw_pull_rule(recording, figures, *size)
    words = recording.words()
    assert any(w.startswith("line pull") for w in words) == (figures.pull_lbf is not None)
    assert any(w.startswith("listed") for w in words) == (figures.listed_lbf is not None)
