from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ratings.drawing.curve_comparison import CurveComparison, draw_curve_comparison
from ratings.drawing.surface import Ink

DRAFTED = ((0.0, 0.0), (2.0, 1900.0), (4.0, 4000.0))
IN_FORCE = ((0.0, 0.0), (3.0, 3300.0), (6.0, 6600.0))
rising = st.lists(st.tuples(st.floats(0.01, 5.0), st.floats(0.0, 20_000.0)), max_size=12).map(
    lambda steps: tuple(
        (sum(x for x, _ in steps[:n]), sum(f for _, f in steps[:n])) for n in range(len(steps) + 1)
    )
)


def test_both_curves_are_drawn_on_the_same_axes(recording: Any) -> None:
    draw_curve_comparison(recording, CurveComparison(DRAFTED, IN_FORCE), 720.0, 320.0)
    (drafted,) = recording.of("polyline", ink=Ink.ACCENT)
    (in_force,) = recording.of("polyline", ink=Ink.INK)
    assert drafted["points"][0] == in_force["points"][0]
    # 4 in of 6 in across, and 4,000 lbf of 6,600 up.
    along = [
        (curve["points"][-1][axis] - curve["points"][0][axis])
        for axis in (0, 1)
        for curve in (drafted, in_force)
    ]
    assert along[0] / along[1] == pytest.approx(4.0 / 6.0)
    assert along[2] / along[3] == pytest.approx(4000.0 / 6600.0)


def test_the_band_lies_about_the_draft_and_never_below_nothing(recording: Any) -> None:
    figures = CurveComparison(DRAFTED, (), (0.0, 2000.0, 100.0))
    draw_curve_comparison(recording, figures, 720.0, 320.0)
    (band,) = recording.of("polygon", ink=Ink.BAND)
    (drafted,) = recording.of("polyline", ink=Ink.ACCENT)
    assert len(band["points"]) == 2 * len(DRAFTED)
    # At 2 in its lower edge would lie below nothing: it is drawn along the axis.
    assert band["points"][4][1] == drafted["points"][0][1]


def test_the_legend_says_where_nothing_is_in_force(new_recording: Any) -> None:
    both, alone = new_recording(), new_recording()
    draw_curve_comparison(both, CurveComparison(DRAFTED, IN_FORCE), 720.0, 320.0)
    draw_curve_comparison(alone, CurveComparison(DRAFTED), 720.0, 320.0)
    assert "in force" in both.words()
    assert "none in force" in alone.words()
    assert alone.of("polyline", ink=Ink.INK) == []


@settings(max_examples=100, deadline=None)
@given(
    drafted=rising,
    in_force=rising,
    doubt=st.floats(0.0, 5000.0),
    units=st.sampled_from(["us", "si"]),
    size=st.sampled_from([(720.0, 320.0), (360.0, 280.0)]),
)
def test_labels_never_meet_nor_leave(
    new_recording: Any,
    drafted: tuple[tuple[float, float], ...],
    in_force: tuple[tuple[float, float], ...],
    doubt: float,
    units: str,
    size: tuple[float, float],
) -> None:
    recording = new_recording()
    figures = CurveComparison(drafted, in_force, (doubt,) * len(drafted), units)
    draw_curve_comparison(recording, figures, *size)
    assert recording.overlapping() == []
    assert recording.outside(*size) == []
