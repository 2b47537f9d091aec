"""The drawings of an answer: what stands on them is what the checks say."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from ratings.drawing.load_path import Part, Supply
from ratings.jobs.answer import UnitAnswer
from ratings.jobs.answer_page import drawings, path_figures
from ratings.mechanics.extraction.job import Job, PullMethod
from ratings.mechanics.extraction.outcomes import CheckKey
from tests.ratings.jobs.plain_unit import JOB, UNIT, calculated


def answer(job: Job = JOB, mark: str = "S-07", **changes: Any) -> UnitAnswer:
    """One unit's answer without a database."""
    return calculated(replace(UNIT, **changes), job, mark)


def supplies(told: UnitAnswer) -> dict[str, Supply]:
    return {row.label: row for row in path_figures(told, "us").rows if isinstance(row, Supply)}


def test_the_path_hangs_from_the_hook_down() -> None:
    assert [row.label for row in path_figures(answer(), "us").rows] == [
        "A pull may use of the chart",
        "hook block",
        "Rigging good for",
        "rigging",
        "housing",
        "Pads good for",
        "exciter",
        "clamp",
        "Clamp grips with",
        "Pile may be pulled with",
        "pile",
        "ground",
    ]


def test_a_plug_hangs_in_its_pile() -> None:
    told = answer(replace(JOB, pile=replace(JOB.pile, plug_area_in2=144.0)))
    labels = [row.label for row in path_figures(told, "us").rows]
    assert labels[-3:] == ["plug", "pile", "ground"]


@pytest.mark.parametrize(
    ("label", "key"),
    [
        ("A pull may use of the chart", CheckKey.CRANE),
        ("Pads good for", CheckKey.LINE_PULL),
        ("Clamp grips with", CheckKey.CLAMP),
        ("Pile may be pulled with", CheckKey.TENSION),
    ],
)
def test_each_supply_is_that_of_its_check(label: str, key: CheckKey) -> None:
    told = answer()
    row, found = supplies(told)[label], told.verdict.check(key)
    assert found is not None
    assert (row.demand_lbf, row.supply_lbf) == (found.demand, found.supply)


def test_what_the_crane_and_the_pads_bear_is_the_sum_of_what_is_below() -> None:
    rows = path_figures(answer(), "us").rows
    for place, row in enumerate(rows):
        if isinstance(row, Supply) and row.borne == "in all":
            below = [part.force_lbf for part in rows[place:] if isinstance(part, Part)]
            assert row.demand_lbf == pytest.approx(sum(each or 0.0 for each in below), rel=1e-12)


def test_shaking_is_named_only_while_the_hammer_runs() -> None:
    still = answer(replace(JOB, method=PullMethod.STILL))
    assert supplies(answer())["Clamp grips with"].borne == "with shaking"
    assert supplies(still)["Clamp grips with"].borne == "in all"


def test_a_supply_is_told_though_the_load_on_it_is_not_known() -> None:
    row = supplies(answer(exciter_weight_lb=None))["A pull may use of the chart"]
    assert (row.demand_lbf, row.supply_lbf) == (None, 120_000.0)


@pytest.mark.parametrize("system", ["us", "si"])
def test_each_drawing_tells_itself_to_those_who_do_not_see_it(system: str) -> None:
    told = answer()
    for drawn in drawings(told, system):
        assert {*drawn} == {"wide", "phone"}
        for svg in drawn.values():
            description = svg.split("<desc")[1].split("</desc>")[0]
            assert ("ads are good for" in description) or ("Pads good for" in description)
            assert ("lbf" in description) is (system == "us")


def test_a_mark_is_written_as_text() -> None:
    drawn = drawings(answer(mark="<b>&"), "us")[0]["wide"]
    assert "<b>" not in drawn
    assert "&lt;b&gt;&amp;" in drawn


def test_no_curve_is_drawn_of_weights_not_on_record() -> None:
    assert drawings(answer(clamp_weight_lb=None), "us")[1] == {}
