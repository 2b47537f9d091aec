"""What stands on the back of the sheet."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from ratings.jobs.stops import cut_words
from ratings.jobs.validity import State, Word
from ratings.mechanics.extraction.job import PileKind, PileOfJob
from ratings.mechanics.extraction.left_out import left_out
from ratings.mechanics.extraction.rules import Criterion, ExtractionPolicy
from ratings.mechanics.standing import Standing
from ratings.pullsheet.back import CAUTIONS, MOST_GROUPS
from ratings.pullsheet.facts import Sheet
from tests.ratings.pullsheet.printed import JOB, UNIT, printed, printed_back, sheet

SHORT = replace(JOB, pile=replace(JOB.pile, length_ft=35.0, embedment_ft=20.0))
GROUPS = (PileOfJob(1, "north row", 14, SHORT), PileOfJob(2, "south row", 6, JOB))
NOTED: dict[str, Any] = {
    "address": "Through the north gate, along the quay",
    "sections": ["HP14×89", "old stock H"],
    "headroom_ft": 65.0,
    "vibration_limit_in_s": 0.5,
    "vibration_note": "Brick pump house, 40 ft east",
    "frost_days": 12,
    "barge_note": "Chart less 8 % for list and trim",
    "jaws": "Wide jaws",
    "note": "Pull from the upstream end.",
}


def test_every_group_has_its_count_length_hook_loads_and_stop() -> None:
    made = sheet(piles=GROUPS, particulars=NOTED)
    found = printed_back(made)
    for group, name in zip(made.groups, ("north row", "south row"), strict=True):
        pile = group.answer.job.pile
        assert f"{name}" in found
        assert f"{pile.length_ft:.0f} ft, {pile.embedment_ft:.0f} ft" in found
        assert f"{group.hook_lbf / 2000:.1f} tons" in found
        assert f"{int(group.stops.hook_lbf / 200) / 10:.1f} tons" in found
        assert cut_words(group.stop_in, "us") in found
    assert "HP14×89" in found
    assert "old stock H" in found


def test_the_front_is_of_the_hardest_group_and_says_so() -> None:
    made = sheet(piles=GROUPS)
    assert made.worst.pile.label == "south row"
    found = printed(made)
    assert "20 piles in 2 groups, this the hardest: H pile, 50 ft long" in found
    assert "Mark it anew for each group of piles: the back has its stop." in found


def test_a_group_s_loads_and_stop_are_those_of_its_own_pile() -> None:
    made = sheet(piles=GROUPS)
    alone = sheet(job=SHORT)
    assert made.groups[0].hook_lbf == alone.worst.hook_lbf
    assert made.groups[0].stops == alone.stops
    assert made.groups[0].stop_in == alone.stop_in


def test_of_very_many_groups_the_rest_is_told_where_to_find() -> None:
    piles = tuple(PileOfJob(n, f"row {n}", 1, JOB) for n in range(1, MOST_GROUPS + 4))
    assert "and 3 groups more: on the commitment’s page" in printed_back(sheet(piles=piles))


def test_conditions_are_listed_beside_the_forces() -> None:
    found = printed_back(sheet(unit=replace(UNIT, standing=Standing.NOT_PROVEN)))
    assert "What must be so beside the forces" in found
    assert "Standing With care. The unit is not proven against its listing" in found
    assert "Inspection Holds." in found
    assert "Clamp for this pile Holds." in found


def test_both_criteria_are_shown_and_which_is_the_rule() -> None:
    found = printed_back(sheet())
    assert "Each alone (the yard’s own): line pull at the pads" in found
    assert "Added together (published: US Army EI 02G001, UFC 3-220-02): vibration" in found
    assert "The yard’s rule is each alone. It is the stricter" in found
    added = ExtractionPolicy(crane_share=1.0, criterion=Criterion.ADDED)
    assert "The yard’s rule is added together. Should the hammer falter" in printed_back(
        sheet(policy=added)
    )


def test_a_still_pull_is_asked_by_neither() -> None:
    crane = {"capacity_lbf": 400_000.0, "rigging_limit_lbf": 400_000.0}
    assert "The hammer stays off: the crane alone" in printed_back(sheet(still=True, crane=crane))


def test_the_crane_is_told_by_radius_boom_line_barge_and_why_its_share() -> None:
    crane = {
        "radius_ft": 45.0,
        "boom_ft": 120.0,
        "parts_of_line": 6,
        "line_limit_lbf": 30_000.0,
        "is_on_barge": True,
    }
    found = printed_back(sheet(crane=crane, particulars=NOTED, policy=ExtractionPolicy()))
    assert "200,000 lbf at 45 ft radius, 120 ft boom" in found
    assert "75 % at the most, for the boom recoils when the pile breaks free" in found
    assert "6 parts of 30,000 lbf" in found
    assert "On a barge Chart less 8 % for list and trim" in found


def test_a_barge_without_a_note_asks_for_the_deduction() -> None:
    found = printed_back(sheet(crane={"is_on_barge": True}))
    assert "ask for the chart’s deduction for list and trim" in found


def test_a_chart_without_its_radius_says_so() -> None:
    assert "at what radius is not on record" in printed_back(sheet())


def test_the_place_is_told_in_words() -> None:
    found = printed_back(sheet(particulars=NOTED))
    assert "Where Through the north gate, along the quay" in found
    assert "Headroom 65 ft" in found
    assert "Note Pull from the upstream end." in found
    assert "no more than 0.5 in/s of ground vibration, measured there" in found
    assert "nothing here is calculated of it; Brick pump house, 40 ft east" in found
    assert "12 days of it by then: frozen ground grips the pile" in found


def test_nothing_is_told_of_what_is_blank() -> None:
    found = printed_back(sheet())
    for name in ("Where", "Headroom", "A neighbour", "Frost", "On a barge", "Hoist line", "Note"):
        assert name not in found


def test_what_the_figures_leave_out_is_listed() -> None:
    found = printed_back(sheet())
    for words in left_out(JOB):
        assert words in found


def test_what_any_group_leaves_out_is_listed_with_its_group() -> None:
    # An H pile catches soil between its flanges, a pair of sheets has interlocks.
    pair = replace(JOB, pile=replace(JOB.pile, kind=PileKind.SHEET_PAIR))
    made = sheet(piles=(PileOfJob(1, "wall", 2, replace(pair, pile=replace(
        pair.pile, length_ft=35.0, embedment_ft=20.0))), PileOfJob(2, "row", 6, JOB)))  # fmt: skip
    assert made.worst.pile.number == 2
    found = printed_back(made)
    assert "Group 1: Friction in the interlocks" in found
    assert "Group 2: Soil caught between the flanges" in found
    assert "– A pull out of plumb" in found


def test_it_defers_to_the_crane_s_chart_code_and_qualified_people() -> None:
    assert CAUTIONS in printed_back(sheet())
    for words in ("crane’s own chart", "local code", "a qualified person"):
        assert words in CAUTIONS


def test_it_says_void_too() -> None:
    found = printed_back(sheet(state=State(Word.VOID, ("The unit’s rating changed.",))))
    assert "VOID: The unit’s rating changed." in found


def test_in_si_nothing_is_left_in_customary_units() -> None:
    crane = {"radius_ft": 45.0, "parts_of_line": 6, "line_limit_lbf": 30_000.0}
    noted = NOTED | {"vibration_note": "Brick pump house"}
    found = printed_back(sheet(system="si", crane=crane, particulars=noted))
    assert "13.7 m radius" in found
    assert "12.7 mm/s of ground vibration" in found
    for symbol in (" lbf", " tons", " ft", " in/s", " lb "):
        assert symbol not in found


@pytest.mark.parametrize("system", ["us", "si"])
def test_however_long_the_notes_it_is_one_page(system: str) -> None:
    many = tuple(PileOfJob(n, "L" * 40, 99, JOB) for n in range(1, 20))
    long = dict.fromkeys(("address", "vibration_note", "barge_note", "jaws", "note"), "W " * 150)
    made: Sheet = sheet(system=system, piles=many, particulars=long | {"sections": ["S" * 80] * 19})
    assert "Pull sheet 7, back" in printed_back(made)
