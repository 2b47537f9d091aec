"""What the figure leaves out is told of this job, and of this job only."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from ratings.mechanics.extraction.holds import HoldKind, OtherHold
from ratings.mechanics.extraction.job import Job, PileEnd, PileKind, SetUp
from ratings.mechanics.extraction.left_out import left_out, suggested_toe_suction
from ratings.mechanics.soil import Layer, LayerKind
from tests.ratings.mechanics.pulls import JOB, with_pile

CLAY = (Layer(LayerKind.COHESIVE, 0.0, 60.0, 120.0, undrained_strength_psf=1_000.0),)


def words(job: Job) -> str:
    return " ".join(left_out(job))


def hold(kind: HoldKind, force_lbf: float | None = 100.0) -> OtherHold:
    return OtherHold(kind, force_lbf=force_lbf, note="seen at low water")


def test_suction_is_told_where_the_toe_stands_in_clay_and_nobody_entered_it() -> None:
    in_clay = replace(JOB, layers=CLAY)
    assert "Suction under the toe" in words(in_clay)
    assert "Suction" not in words(JOB)
    assert "Suction" not in words(replace(in_clay, holds=(hold(HoldKind.TOE_SUCTION),)))


def test_interlocks_are_told_of_sheets_alone() -> None:
    sheets = with_pile(kind=PileKind.SHEET_PAIR)
    assert "interlocks" in words(sheets)
    assert "interlocks" not in words(JOB)
    assert "interlocks" not in words(replace(sheets, holds=(hold(HoldKind.INTERLOCK),)))


def test_a_hold_without_a_figure_is_told_with_its_note() -> None:
    noted = replace(JOB, holds=(hold(HoldKind.DAMAGE, None),))
    assert "Bent or damaged pile, noted without a figure: seen at low water." in left_out(noted)
    assert "a pile bent or damaged" not in words(noted)


@pytest.mark.parametrize(
    ("kind", "says"),
    [
        (HoldKind.CONCRETE, "oncrete or grout against"),
        (HoldKind.FROST, "rozen ground"),
        (HoldKind.DAMAGE, "pile bent or damaged"),
    ],
)
def test_what_has_a_figure_is_not_told_as_left_out(kind: HoldKind, says: str) -> None:
    assert says in words(JOB)
    assert says not in words(replace(JOB, holds=(hold(kind),)))


def test_set_up_and_soil_between_flanges_are_told_until_given() -> None:
    assert "set-up is 1" in words(JOB)
    assert "set-up" not in words(replace(JOB, set_up=SetUp(1.0, 1.2, 1.5)))
    assert "flanges" in words(JOB)
    assert "flanges" not in words(with_pile(plug_area_in2=100.0))


def test_a_pipe_whose_end_was_not_asked_is_told() -> None:
    pipe = with_pile(kind=PileKind.PIPE)
    assert "its end was not asked" in words(pipe)
    assert "not asked" not in words(with_pile(pipe, end=PileEnd.CLOSED))


def test_suction_by_hand() -> None:
    # 9 · 1,000 psf · π·(60/2π)²/144 ft² of a closed pipe of 60 in around.
    job = replace(with_pile(kind=PileKind.PIPE, end=PileEnd.CLOSED), layers=CLAY)
    found = suggested_toe_suction(job)
    assert found is not None
    assert found.force_lbf == pytest.approx(9_000.0 * 60.0**2 / (4.0 * math.pi) / 144.0)
    # Of an H only its steel: 20 in².
    steel = suggested_toe_suction(replace(JOB, layers=CLAY))
    assert steel is not None
    assert steel.force_lbf == pytest.approx(9_000.0 * 20.0 / 144.0)
    assert suggested_toe_suction(JOB) is None
    assert suggested_toe_suction(replace(with_pile(area_in2=None), layers=CLAY)) is None
