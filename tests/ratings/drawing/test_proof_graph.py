"""The graph of a proof pull."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ratings.drawing.proof_graph import ProofGraphFigures, draw_proof_graph
from ratings.drawing.surface import Ink

EXPECTED = ((0.0, 0.0), (2.0, 16_000.0), (4.0, 32_000.0))


def figures(**more: Any) -> ProofGraphFigures:
    points = tuple((at, 0.5 * force) for at, force in EXPECTED[1:])
    plain: dict[str, Any] = {
        "points": points,
        "expected": EXPECTED,
        "half_width": 0.1,
        "ratio": 0.5,
    }
    return ProofGraphFigures(**plain | more)


def test_each_reading_is_a_dot_on_the_line_it_gives(recording: Any) -> None:
    draw_proof_graph(recording, figures(), 720.0, 320.0)
    (line,) = recording.of("polyline", ink=Ink.ACCENT)
    dots = [each["points"][0] for each in recording.of("circle")[1:]]
    assert dots == [pytest.approx(each) for each in line["points"][1:]]


def test_what_was_expected_lies_above_a_soft_unit_s_line(recording: Any) -> None:
    draw_proof_graph(recording, figures(), 720.0, 320.0)
    (measured,) = recording.of("polyline", ink=Ink.ACCENT)
    (expected,) = recording.of("polyline", ink=Ink.INK)
    # Downwards is larger on a surface.
    assert expected["points"][-1][1] < measured["points"][-1][1]
    assert expected["points"][-1][0] == measured["points"][-1][0]


def test_the_legend_says_the_share_and_the_band(recording: Any) -> None:
    draw_proof_graph(recording, figures(half_width=0.124), 720.0, 320.0)
    assert {"measured, 50 % of expected", "± 12.4 %, in which they agree"} <= set(recording.words())


def test_axes_name_their_units(new_recording: Any) -> None:
    us, si = new_recording(), new_recording()
    draw_proof_graph(us, figures(), 720.0, 320.0)
    draw_proof_graph(si, figures(units="si"), 720.0, 320.0)
    assert {"pull, lbf", "stretch from hanging free, in"} <= set(us.words())
    assert {"pull, kN", "stretch from hanging free, mm"} <= set(si.words())


@settings(max_examples=60)
@given(
    st.floats(0.25, 4.0),
    st.floats(0.001, 3.0),
    st.sampled_from([(720.0, 320.0), (360.0, 280.0)]),
    st.sampled_from(["us", "si"]),
)
def test_nothing_is_drawn_off_the_surface_nor_over_another(
    new_recording: Any, ratio: float, half_width: float, size: tuple[float, float], units: str
) -> None:
    surface = new_recording()
    points = tuple((at, ratio * force) for at, force in EXPECTED[1:])
    drawn = figures(points=points, ratio=ratio, half_width=half_width, units=units)
    draw_proof_graph(surface, drawn, *size)
    assert surface.outside(*size) == []
    assert surface.overlapping() == []
