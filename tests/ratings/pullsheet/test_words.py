"""What stands on the sheet."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ratings.jobs.may_go import range_reasons
from ratings.jobs.stops import cut_words, stops_short_words, tape_words
from ratings.jobs.validity import State, Word
from ratings.jobs.words import margin_words
from ratings.mechanics.extraction.outcomes import CheckKey, Verdict
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.standing import Standing
from ratings.pullsheet.paper import (
    CAUTIONS,
    SIGNERS,
    verdict_lines,
)
from tests.ratings.pullsheet.printed import RECORD, UNIT, printed, sheet


def test_it_names_unit_hammer_site_days_and_pile() -> None:
    found = printed(sheet())
    assert "Pull sheet 7: S-7 on V-7" in found
    assert "Ferry slip · 26–28 Nov 2026" in found
    assert "H pile, 50 ft long, 40 ft in the ground · vibrating all the while" in found


def test_it_gives_the_figures_the_crew_goes_by() -> None:
    made = sheet()
    found = printed(made)
    # 2 × 4,400 / 13,650 lb = 0.645 in from peak to peak: 6 − 0.322 = 5.678 in.
    assert f"Stretch not to pass {cut_words(made.stop_in, 'us')}" in found
    assert f"Pull expected at the pads {made.expected_lbf / 2000:.1f} tons" in found
    assert made.capacity_lbf < 16 * 1000.0 * 5.678
    assert f"{int(made.capacity_lbf / 200) / 10:.1f} tons" in found
    assert f"STOP HERE {cut_words(made.stop_in, 'us')}" in found
    assert "Drawn to true scale" in found


def test_the_range_of_the_pull_is_that_of_the_ground() -> None:
    made = sheet()
    held = made.answer.ground.resistance_lbf
    low, high = ((made.hanging_lb + share * held) / 2000 for share in (0.7, 1.5))
    assert f"{low:.1f} tons to {high:.1f} tons" in printed(made)


def test_it_leads_to_the_rating_and_the_answer() -> None:
    found = printed(sheet())
    assert f"rating {'e' * 64} ledger entry 4 of S-7" in found
    assert f"answer {'a' * 64} committed 25 Nov 2026 09:30 by Pat Doe" in found
    assert "Valid when printed, 26 Nov 2026 06:10 by Pat Doe." in found


def test_it_has_the_verdict_the_check_that_governs_and_where_it_turns() -> None:
    made = sheet()
    found = printed(made)
    assert made.answer.verdict.governing in found
    assert "of ground resistance" in found


def test_it_cautions_and_is_signed() -> None:
    found = printed(sheet())
    assert CAUTIONS in found
    for signer in SIGNERS:
        assert f"{signer}, name and time" in found


def test_pads_not_sound_are_named_by_position() -> None:
    positions = list(RECORD.positions)
    positions[2] = positions[2] | {"condition": "cracked"}
    positions[9] = positions[9] | {"condition": "missing", "lot": None}
    results = RECORD.results | {"sound_pads": 14}
    found = printed(sheet(positions=tuple(positions), results=results))
    assert "14 sound of 16 (16 of L-1); not sound: A3 cracked, B2 missing" in found


def test_of_many_pads_not_sound_some_are_named() -> None:
    positions = tuple(each | {"condition": "cracked"} for each in RECORD.positions)
    found = printed(sheet(positions=positions))
    assert "A6 cracked and 10 more" in found


def test_the_hammer_that_is_still_has_steps_and_a_stop_line_of_its_own() -> None:
    found = printed(sheet(still=True, crane={"capacity_lbf": 400_000.0,
                                             "rigging_limit_lbf": 400_000.0}))  # fmt: skip
    assert "Stretch not to pass 6 in from rest: the usable travel of 6 in" in found
    assert "The hammer stays off" in found
    assert "full speed" not in found


def test_a_vibrated_pull_is_never_taken_to_the_stops() -> None:
    found = printed(sheet())
    assert "With the line just taut, bring the hammer to full speed before pulling" in found
    assert "Never pull to the stops while it vibrates." in found
    assert "The hammer stays off" not in found


@pytest.mark.parametrize("still", [False, True])
def test_every_pull_is_watched_cleared_marked_blocked_and_counted(still: bool) -> None:
    found = printed(sheet(still=still, crane={"capacity_lbf": 400_000.0,
                                              "rigging_limit_lbf": 400_000.0}))  # fmt: skip
    for words in (
        "One person watches the stretch",
        "Clear the swing",
        "Plumb the hook over the pile and keep the line plumb",
        "Tie a safety line from the pile to the hook",
        "Read the clamp’s pressure, again after a minute, and watch it all through the pull",
        "With the line just taut, holding the housing and no more, mark the rest line",
        "At break-out",
        "the boom recoils",
        "block it before the clamp is opened",
        "count the pads",
    ):
        assert words in found


def test_the_crane_s_limit_is_marked_where_it_comes_before_the_stop_line() -> None:
    made = sheet(crane={"capacity_lbf": 100_000.0}, policy=ExtractionPolicy())
    found = printed(made)
    assert made.stops.by is CheckKey.CRANE
    assert (
        "Hook load to stop at 30.0 tons 60,000 lbf, block and all: the crane’s limit less the "
        "yard’s margin, 1.25×" in found
    )
    assert "chart allows 100,000 lbf, of which 75 % for a pull, 75,000 lbf" in found
    assert "in: the crane’s limit" in found
    assert "before the pads’ own 5 5/8 in" in found
    assert "or 30.0 tons on the hook, whichever comes first" in found


def test_a_stop_line_short_of_the_pull_expected_is_told() -> None:
    used_up = sheet(crane={"capacity_lbf": 1.1 * sheet().worst.hook_lbf})
    assert "beyond the stop line" in printed(used_up)
    assert "leaves no more than the pull expected" in printed(used_up)
    assert "beyond the stop line" not in printed(sheet())


def test_a_pull_that_must_stop_before_the_pull_expected_says_so_and_by_what() -> None:
    made = sheet(crane={"capacity_lbf": 1.1 * sheet().worst.hook_lbf})
    stop, expected = tape_words(made.stop_in, "us"), tape_words(made.expected_in or 0.0, "us")
    assert (
        f"The pull must stop before the pull expected: at {stop}, there stiff pads may be at the "
        f"crane’s limit; the pull expected comes at about {expected}. It probably can’t be made as "
        "planned: ask the dispatcher before you start." in printed(made)
    )
    assert "must stop before" not in printed(sheet())


def test_one_of_a_group_that_the_front_is_not_of_is_told_too() -> None:
    short = sheet(crane={"capacity_lbf": 1.1 * sheet().worst.hook_lbf})
    other = replace(short.worst, pile=replace(short.worst.pile, number=2), stop_in=6.0)
    both = replace(short, groups=(other, short.worst), worst=other)
    assert stops_short_words(both.groups, other, "us").startswith(
        "Group 1: the pull must stop before"
    )
    assert stops_short_words((other,), other, "us") == ""


def test_conditions_with_care_head_the_front() -> None:
    unit = replace(UNIT, standing=Standing.NOT_PROVEN, stale_lots=("L-1",))
    made = sheet(unit=unit)
    assert made.answer.verdict.verdict is Verdict.SUITABLE
    assert verdict_lines(made)[0] is Verdict.CARE
    governs = f"{made.answer.verdict.governing}, {margin_words(made.answer.verdict.margin)}"
    found = printed(made)
    assert "Suitable with care: not proven; a stale rate" in found
    assert f"east margin: {governs}" in found
    assert f"Suitable: {governs}" not in found


def test_a_force_with_care_stands_beside_the_conditions_with_care() -> None:
    made = sheet(
        unit=replace(UNIT, standing=Standing.NOT_PROVEN),
        crane={"capacity_lbf": 1.1 * sheet().worst.hook_lbf},
    )
    margin = margin_words(made.answer.verdict.margin)
    assert f"Suitable with care: not proven; hook load on the crane, {margin}" in printed(made)


def test_a_verdict_that_turns_within_the_ground_s_range_is_one_with_care() -> None:
    # 1.3 times the pull expected: margin enough there, and too little at the high end.
    made = sheet(crane={"capacity_lbf": 1.3 * sheet().worst.hook_lbf})
    assert made.answer.verdict.verdict is Verdict.SUITABLE
    found = printed(made)
    assert "Suitable with care: little margin at the high end of the ground’s range" in found
    turned = replace(made.answer.verdict, high=Verdict.NOT_SUITABLE)
    assert range_reasons(turned) == ["not at the high end of the ground’s range"]


def test_a_verdict_with_nothing_to_care_for_is_suitable() -> None:
    unit = replace(UNIT, clamp_force_lbf=1_000_000.0, eccentric_moment_lb_in=9000.0)
    crane = {"capacity_lbf": 500_000.0, "rigging_limit_lbf": 500_000.0}
    made = sheet(unit=unit, crane=crane)
    assert made.answer.verdict.holds_over_range
    assert verdict_lines(made)[0] is Verdict.SUITABLE
    assert f"Suitable: {made.answer.verdict.governing}, " in printed(made)


def test_a_capacity_beyond_the_stop_is_not_to_be_used() -> None:
    made = sheet(crane={"capacity_lbf": 75_000.0})
    assert made.capacity_in is not None
    assert made.capacity_in > made.stop_in
    found = printed(made)
    assert f"not to be used: the stop comes first at {tape_words(made.stop_in, 'us')}" in found
    assert cut_words(made.capacity_in, "us") not in found
    by_load = sheet(unit=replace(UNIT, unknown_stiffness=None), crane={"capacity_lbf": 75_000.0})
    assert "not to be used: the stop comes first at 30.0 tons on the hook" in printed(by_load)
    strong = {"capacity_lbf": 500_000.0, "rigging_limit_lbf": 500_000.0}
    pads_alone = sheet(unit=replace(UNIT, clamp_force_lbf=1_000_000.0), crane=strong)
    assert "not to be used" not in printed(pads_alone)
    assert "the yard stands behind no more" in printed(pads_alone)


@pytest.mark.parametrize("system", ["us", "si"])
def test_the_stretch_expected_has_one_figure_in_its_box_and_on_the_rule(system: str) -> None:
    made = sheet(system=system)
    at = tape_words(made.expected_in or 0.0, system)
    found = printed(made)
    assert f"at about {at}, " in found
    assert f"{at} at the pull expected" in found


def test_slings_that_lean_are_told_with_what_they_leave() -> None:
    found = printed(sheet(crane={"legs": 4, "leg_angle_deg": 60.0, "rigging_limit_lbf": 60_000.0}))
    assert "60,000 lbf each of 4 legs at 60° from level, two of them counted" in found


def test_in_si_nothing_is_left_in_customary_units() -> None:
    made = sheet(system="si")
    assert f"Stretch not to pass {cut_words(made.stop_in, 'si')}" in printed(made)
    found = printed(sheet(system="si", crane={"capacity_lbf": 75_000.0}))
    assert "before the pads’ own 144 mm" in found
    assert "15.2 m long, 12.2 m in the ground" in found
    assert "333.6 kN" in found
    for symbol in (" lbf", " tons", " in ", " ft", " lb "):
        # “in” the word stands before what is not a figure.
        before = [found[place - 1] for place in _places(found, symbol)]
        assert not any(each.isdigit() for each in before), symbol


def _places(text: str, of: str) -> list[int]:
    return [place for place in range(1, len(text)) if text.startswith(of, place)]


def test_a_sheet_that_is_void_says_so_loudly_and_why() -> None:
    found = printed(sheet(state=State(Word.VOID, ("The unit’s rating changed.", "And more."))))
    assert "VOID: The unit’s rating changed. And more." in found
    assert found.count("VOID") == 2
    assert "Valid when printed" not in found


def test_one_whose_days_are_over_says_so_without_being_void() -> None:
    found = printed(sheet(state=State(Word.PAST, ("It was for 3 Dec 2026.",))))
    assert "PAST: It was for 3 Dec 2026." in found
    assert "VOID" not in found


@pytest.mark.parametrize("system", ["us", "si"])
@pytest.mark.parametrize("still", [False, True])
def test_whatever_the_words_it_is_one_page(system: str, still: bool) -> None:
    for more in (
        {"site": "W" * 120, "housing": "H" * 40, "hammer": "V" * 40},
        {"site": "Naïve quay 🔨 مرفأ שלום"},
        {"site": "<b>Quay & Co</b>"},
        {
            "results": RECORD.results
            | {"lots": [{"lot": f"LOT-{n}", "count": 1} for n in range(48)]}
        },
        {"state": State(Word.VOID, ("W" * 300,) * 4)},
    ):
        found = printed(
            sheet(system=system, still=still, crane={"capacity_lbf": 400_000.0,
                  "rigging_limit_lbf": 400_000.0}, **more)
        )  # fmt: skip
        assert "Pull sheet" in found


def test_no_markup_in_a_name_is_taken_for_markup() -> None:
    assert "<b>Quay & Co</b>" in printed(sheet(site="<b>Quay & Co</b>"))


def test_a_weight_not_on_record_makes_no_sheet() -> None:
    with pytest.raises(ValueError, match="no hook load can be given"):
        sheet(unit=replace(UNIT, housing_weight_lb=None))


def test_who_watches_is_named_where_the_yard_knows() -> None:
    named = sheet(particulars={"watched_by": "Ines Halloran"})
    assert "Watched by Ines Halloran, time" in printed(named)
    assert "Watches the stretch, name and time" in printed(sheet())
