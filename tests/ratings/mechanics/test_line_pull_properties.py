"""What must hold of line pull whatever pads are fitted."""

from __future__ import annotations

import math
from dataclasses import replace
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.linepull import LinePull, PadGroup, line_pull
from ratings.mechanics.load_curve import monotone_curve

travels = st.floats(0.5, 12.0)


def up_to(most: float) -> st.SearchStrategy[float]:
    """Nothing, or something large enough that its square is more than a denormal number."""
    return st.one_of(st.just(0.0), st.floats(1e-4, most))


tapes = up_to(0.5)


@st.composite
def straight_groups(draw: st.DrawFn, least: int = 0) -> PadGroup:
    rate = draw(st.floats(50.0, 5_000.0))
    return PadGroup(
        count=draw(st.integers(least, 24)),
        rate_lbf_in=rate,
        tested_stretch_in=draw(st.floats(0.5, 12.0)),
        standard_error_lbf_in=rate * draw(up_to(0.1)),
        spread_lbf_in=rate * draw(up_to(0.2)),
        degrees_of_freedom=draw(st.sampled_from([1, 2, 4, 9, 30, math.inf])),
    )


@st.composite
def bent_groups(draw: st.DrawFn, least: int = 0) -> PadGroup:
    group = draw(straight_groups(least))
    shares = [0.25, 0.5, 0.75, 1.0]
    forces, force = [], 0.0
    for step in draw(st.lists(st.floats(0.0, 2_000.0), min_size=4, max_size=4)):
        force += round(step, 3)
        forces.append(force)
    stretches = [group.tested_stretch_in * share for share in shares]
    return replace(group, curve=monotone_curve(stretches, forces))


def any_group(least: int = 0) -> st.SearchStrategy[PadGroup]:
    return st.one_of(straight_groups(least), bent_groups(least))


lots = st.lists(any_group(), min_size=1, max_size=4)
straight_lots = st.lists(straight_groups(), min_size=1, max_size=4)


def with_count(groups: list[PadGroup], place: int, change: int) -> list[PadGroup]:
    changed = list(groups)
    changed[place] = replace(changed[place], count=changed[place].count + change)
    return changed


def figures(pull: LinePull) -> tuple[object, ...]:
    return tuple(value for name, value in vars(pull).items() if name != "groups")


@given(lots, travels, st.data())
def test_a_pad_added_to_a_lot_already_fitted_never_lowers_the_pull(
    groups: list[PadGroup], travel: float, data: st.DataObject
) -> None:
    place = data.draw(st.integers(0, len(groups) - 1))
    more = line_pull(with_count(groups, place, 1), travel)
    assert more.pull_lbf >= line_pull(groups, travel).pull_lbf


@given(lots, travels, any_group(least=1))
def test_a_pad_of_a_new_lot_tested_far_enough_never_lowers_the_pull(
    groups: list[PadGroup], travel: float, new: PadGroup
) -> None:
    before = line_pull(groups, travel)
    far_enough = PadGroup(1, new.rate_lbf_in, before.usable_travel_in)
    after = line_pull([*groups, far_enough], travel)
    assert after.usable_travel_in == before.usable_travel_in
    assert after.pull_lbf >= before.pull_lbf


@given(st.lists(any_group(least=1), min_size=1, max_size=4), travels, st.data())
def test_a_sound_pad_turned_unsound_never_raises_the_pull(
    groups: list[PadGroup], travel: float, data: st.DataObject
) -> None:
    place = data.draw(st.integers(0, len(groups) - 1))
    before = line_pull(groups, travel)
    # Down to none: the lot stays fitted, and limits as it did.
    while groups[place].count:
        groups = with_count(groups, place, -1)
        after = line_pull(groups, travel)
        assert after.pull_lbf <= before.pull_lbf
        assert after.usable_travel_in == before.usable_travel_in
        before = after


@given(lots, travels, travels)
def test_a_shorter_travel_never_raises_the_pull(
    groups: list[PadGroup], one: float, other: float
) -> None:
    short, long = sorted((one, other))
    longer = line_pull(groups, long).pull_lbf
    # The last bits of a cubic are open; a straight load curve needs no leave.
    leave = 0.0 if all(group.curve is None for group in groups) else 1e-12 * longer + 1e-9
    assert line_pull(groups, short).pull_lbf <= longer + leave


@given(straight_lots, travels, tapes)
def test_rates_and_uncertainties_doubled_double_pull_and_uncertainty(
    groups: list[PadGroup], travel: float, tape: float
) -> None:
    doubled = [
        replace(
            group,
            rate_lbf_in=2.0 * group.rate_lbf_in,
            standard_error_lbf_in=2.0 * group.standard_error_lbf_in,
            spread_lbf_in=2.0 * group.spread_lbf_in,
        )
        for group in groups
    ]
    plain, twice = line_pull(groups, travel, tape), line_pull(doubled, travel, tape)
    assert twice.pull_lbf == 2.0 * plain.pull_lbf
    assert twice.rate_lbf_in == 2.0 * plain.rate_lbf_in
    assert twice.standard_uncertainty_lbf == 2.0 * plain.standard_uncertainty_lbf
    assert twice.working_capacity_lbf == 2.0 * plain.working_capacity_lbf
    assert twice.degrees_of_freedom == plain.degrees_of_freedom


@given(straight_lots, travels, tapes)
def test_a_change_of_units_carries_through(
    groups: list[PadGroup], travel: float, tape: float
) -> None:
    mm, newton = 25.4, 4.4482216152605
    in_si = [
        replace(
            group,
            rate_lbf_in=group.rate_lbf_in * newton / mm,
            tested_stretch_in=group.tested_stretch_in * mm,
            standard_error_lbf_in=group.standard_error_lbf_in * newton / mm,
            spread_lbf_in=group.spread_lbf_in * newton / mm,
        )
        for group in groups
    ]
    us, si = line_pull(groups, travel, tape), line_pull(in_si, travel * mm, tape * mm)
    assert si.pull_lbf == pytest.approx(us.pull_lbf * newton, rel=1e-12)
    assert si.usable_travel_in == pytest.approx(us.usable_travel_in * mm, rel=1e-12)
    assert si.rate_lbf_in == pytest.approx(us.rate_lbf_in * newton / mm, rel=1e-12)
    assert si.standard_uncertainty_lbf == pytest.approx(
        us.standard_uncertainty_lbf * newton, rel=1e-12
    )


@given(lots, travels, tapes, st.randoms(use_true_random=False))
def test_the_order_of_lots_changes_no_figure_at_all(
    groups: list[PadGroup], travel: float, tape: float, random: Random
) -> None:
    shuffled = list(groups)
    random.shuffle(shuffled)
    assert figures(line_pull(shuffled, travel, tape)) == figures(line_pull(groups, travel, tape))


@given(lots, travels, tapes, st.floats(0.51, 0.999))
def test_working_capacity_lies_between_nothing_and_the_pull(
    groups: list[PadGroup], travel: float, tape: float, confidence: float
) -> None:
    pull = line_pull(groups, travel, tape, confidence)
    assert 0.0 <= pull.working_capacity_lbf <= pull.pull_lbf


@pytest.mark.parametrize("part", ["standard_error_lbf_in", "spread_lbf_in", "tape"])
@given(groups=lots, travel=travels, tape=tapes, growth=st.floats(1.0, 5.0))
def test_more_uncertain_input_never_raises_the_working_capacity(
    part: str, groups: list[PadGroup], travel: float, tape: float, growth: float
) -> None:
    # At the same degrees of freedom: all are taken as infinite.
    sure = [replace(group, degrees_of_freedom=math.inf) for group in groups]
    if part == "tape":
        unsure, unsure_tape = sure, tape * growth
    else:
        unsure = [replace(group, **{part: getattr(group, part) * growth}) for group in sure]
        unsure_tape = tape
    before, after = line_pull(sure, travel, tape), line_pull(unsure, travel, unsure_tape)
    assert after.pull_lbf == before.pull_lbf
    assert after.working_capacity_lbf <= before.working_capacity_lbf


@given(lots, travels, tapes, st.floats(1.0, 5.0))
def test_more_shared_error_never_raises_the_working_capacity_at_any_degrees_of_freedom(
    groups: list[PadGroup], travel: float, tape: float, growth: float
) -> None:
    unsure = [
        replace(group, standard_error_lbf_in=growth * group.standard_error_lbf_in)
        for group in groups
    ]
    before, after = line_pull(groups, travel, tape), line_pull(unsure, travel, tape)
    # A ratio that comes to a whole number may be truncated on either side of it.
    freedoms = before.degrees_of_freedom, after.degrees_of_freedom
    if freedoms[1] <= freedoms[0]:
        assert after.working_capacity_lbf <= before.working_capacity_lbf
    else:
        assert growth < 1.0 + 1e-9


@given(lots, travels, tapes)
def test_degrees_of_freedom_are_whole_and_no_fewer_than_the_worst_known_lot_has(
    groups: list[PadGroup], travel: float, tape: float
) -> None:
    freedom = line_pull(groups, travel, tape).degrees_of_freedom
    assert math.isinf(freedom) or freedom == int(freedom)
    assert freedom >= min(group.degrees_of_freedom for group in groups)
