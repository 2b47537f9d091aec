"""What must hold of line pull whatever pads are fitted.

Wild draws are dear: a few here, and as many as wanted in a run of its own with DRAWS=2000.
"""

from __future__ import annotations

import math
import os
from dataclasses import replace
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ratings.mechanics.linepull import LinePull, PadGroup, ProofFactor, line_pull
from ratings.mechanics.load_curve import CurveDoubt, Knot, MonotoneCurve, monotone_curve

draws = settings(max_examples=int(os.environ.get("DRAWS", "25")))
travels = st.floats(0.5, 9.0)
tapes = st.sampled_from([0.0, 0.018, 0.036])
few_or_many = st.one_of(st.sampled_from([1.0, 2.0, 8.0, 30.0, math.inf]), st.floats(1.0, 4.0))


def up_to(most: float) -> st.SearchStrategy[float]:
    """Nothing, or something large enough that its square is more than a denormal number."""
    return st.one_of(st.just(0.0), st.floats(1e-4, most))


@st.composite
def curves(draw: st.DrawFn, rate: float, tested: float) -> MonotoneCurve | None:
    """None, or a curve of one to six readings, each up to a fifth off the straight line."""
    many = draw(st.integers(0, 6))
    if not many:
        return None
    # The last reading is at the tested stretch to the last digit.
    stretches = [tested * ((step + 1) / many) for step in range(many)]
    bends = draw(st.lists(st.floats(0.8, 1.2), min_size=many, max_size=many))
    forces = sorted(rate * at * bend for at, bend in zip(stretches, bends, strict=True))
    doubt = CurveDoubt(
        force_lbf=rate * draw(up_to(0.3)),
        stretch_in=draw(up_to(0.06)),
        share=draw(up_to(0.05)),
        scatter_lbf=rate * draw(up_to(0.3)),
    )
    return replace(monotone_curve(stretches, forces), doubt=doubt)


@st.composite
def lot_groups(draw: st.DrawFn, has_sides: bool, most: int = 6) -> PadGroup:
    """Pads of a lot: tested short or far, known well or hardly, in any doubt."""
    rate = draw(st.floats(200.0, 3_000.0))
    tested = draw(st.one_of(st.sampled_from([2.5, 4.0, 6.0]), st.floats(0.5, 9.0)))
    sides = (draw(st.integers(0, most)), draw(st.integers(0, most)))
    return PadGroup(
        count=sum(sides),
        rate_lbf_in=rate,
        tested_stretch_in=tested,
        standard_error_lbf_in=rate * draw(up_to(0.2)),
        spread_lbf_in=rate * draw(up_to(0.4)),
        degrees_of_freedom=draw(few_or_many),
        curve=draw(curves(rate, tested)),
        spread_degrees_of_freedom=draw(few_or_many),
        sides=sides if has_sides else None,
        pads_tested=draw(st.sampled_from([1.0, 1.7, 4.0, math.inf])),
        scatter_degrees_of_freedom=draw(few_or_many),
        between_share=draw(up_to(0.2)),
        between_degrees_of_freedom=draw(few_or_many),
        conditions_share=draw(st.sampled_from([0.0, 0.029, 0.05])),
        gap_share=draw(st.sampled_from([0.0, 0.029])),
        kept_share=draw(st.sampled_from([1.0, 0.97, 0.873])),
    )


@st.composite
def housings(draw: st.DrawFn) -> list[PadGroup]:
    """One to four lots in a housing, guided or not."""
    has_sides = draw(st.booleans())
    return draw(st.lists(lot_groups(has_sides, 3), min_size=1, max_size=4))


def changed(groups: list[PadGroup], place: int, **changes: Any) -> list[PadGroup]:
    return [*groups[:place], replace(groups[place], **changes), *groups[place + 1 :]]


def with_pad(groups: list[PadGroup], place: int, side: int) -> list[PadGroup]:
    group = groups[place]
    sides = group.sides and (group.sides[0] + (side == 0), group.sides[1] + (side == 1))
    return changed(groups, place, count=group.count + 1, sides=sides)


def assert_not_lower(after: LinePull, before: LinePull) -> None:
    # Factors are given to 4 decimals.
    unsure = max(before.standard_uncertainty_lbf, after.standard_uncertainty_lbf)
    leave = 1e-4 * unsure + 1e-6
    assert after.working_capacity_lbf >= before.working_capacity_lbf - leave


def figures(pull: LinePull) -> tuple[object, ...]:
    return tuple(value for name, value in vars(pull).items() if name != "groups")


@draws
@given(housings(), travels, tapes, st.data())
def test_a_further_pad_of_a_lot_fitted_never_lowers_the_working_capacity(
    groups: list[PadGroup], travel: float, tape: float, data: st.DataObject
) -> None:
    place, side = data.draw(st.integers(0, len(groups) - 1)), data.draw(st.integers(0, 1))
    more = line_pull(with_pad(groups, place, side), travel, tape)
    assert_not_lower(more, line_pull(groups, travel, tape))


@st.composite
def proofs(draw: st.DrawFn) -> ProofFactor:
    """A unit softer or stiffer than its pads say, known well or hardly."""
    freedom = draw(st.sampled_from([None, 1.5, 4.0, 20.0]))
    return ProofFactor(draw(st.floats(0.6, 1.3)), "2026-03-01", draw(up_to(0.15)), freedom)


@draws
@given(housings(), travels, st.floats(0.0, 3.0), tapes, proofs(), st.data())
def test_neither_does_a_pad_or_an_inch_of_travel_where_a_proof_pull_tells(
    groups: list[PadGroup],
    travel: float,
    more_in: float,
    tape: float,
    proof: ProofFactor,
    data: st.DataObject,
) -> None:
    place, side = data.draw(st.integers(0, len(groups) - 1)), data.draw(st.integers(0, 1))
    before = line_pull(groups, travel, tape, proof=proof)
    assert_not_lower(line_pull(with_pad(groups, place, side), travel, tape, proof=proof), before)
    assert_not_lower(line_pull(groups, travel + more_in, tape, proof=proof), before)


@draws
@given(st.booleans(), travels, tapes, st.data())
def test_a_pad_of_a_lot_not_fitted_yet_never_lowers_the_working_capacity(
    has_sides: bool, travel: float, tape: float, data: st.DataObject
) -> None:
    groups = data.draw(st.lists(lot_groups(has_sides, 4), min_size=1, max_size=3))
    new = data.draw(lot_groups(has_sides, 0))
    # Rating a lot that was fitted untested is the same: its pads come to count.
    fitted = with_pad([*groups, new], len(groups), data.draw(st.integers(0, 1)))
    assert_not_lower(line_pull(fitted, travel, tape), line_pull(groups, travel, tape))


@draws
@given(housings(), travels, tapes, st.floats(0.05, 3.0), st.floats(0.0, 2.0), st.data())
def test_a_lot_tested_further_never_lowers_the_working_capacity(
    groups: list[PadGroup],
    travel: float,
    tape: float,
    further_in: float,
    steeper: float,
    data: st.DataObject,
) -> None:
    place = data.draw(st.integers(0, len(groups) - 1))
    group = groups[place]
    tested = group.tested_stretch_in + further_in
    curve = group.curve
    if curve is not None:
        last = curve.knots[-1]
        rise = steeper * last.slope_lbf_in * further_in
        end = Knot(tested, last.force_lbf + rise, steeper * last.slope_lbf_in)
        curve = replace(curve, knots=(*curve.knots, end))
        # The slope at the old end belongs to the piece before: it must suit both.
        if last.slope_lbf_in > 3.0 * rise / further_in:
            return
    after = changed(groups, place, tested_stretch_in=tested, curve=curve)
    assert_not_lower(line_pull(after, travel, tape), line_pull(groups, travel, tape))


@draws
@given(housings(), travels, st.floats(0.0, 3.0), tapes)
def test_an_inch_of_travel_never_lowers_the_working_capacity(
    groups: list[PadGroup], travel: float, more_in: float, tape: float
) -> None:
    before, after = line_pull(groups, travel, tape), line_pull(groups, travel + more_in, tape)
    assert_not_lower(after, before)


SURER = (
    "spread_lbf_in",
    "between_share",
    "gap_share",
    "conditions_share",
    "spread_degrees_of_freedom",
    "scatter_degrees_of_freedom",
    "between_degrees_of_freedom",
    "degrees_of_freedom",
    "pads_tested",
    "kept_share",
)


@pytest.mark.parametrize("name", SURER)
@draws
@given(groups=housings(), travel=travels, tape=tapes, data=st.data())
def test_a_lot_made_surer_never_lowers_the_working_capacity(
    name: str, groups: list[PadGroup], travel: float, tape: float, data: st.DataObject
) -> None:
    place = data.draw(st.integers(0, len(groups) - 1))
    value = getattr(groups[place], name)
    if name == "kept_share":
        surer = 1.0
    elif name.endswith("freedom") or name == "pads_tested":
        surer = value * data.draw(st.sampled_from([1.1, 2.0, math.inf]))
    else:
        surer = value * data.draw(st.sampled_from([0.0, 0.5, 0.9]))
    after = line_pull(changed(groups, place, **{name: surer}), travel, tape)
    assert_not_lower(after, line_pull(groups, travel, tape))


@draws
@given(housings(), travels, tapes)
def test_a_travel_better_taped_never_lowers_the_working_capacity(
    groups: list[PadGroup], travel: float, tape: float
) -> None:
    assert_not_lower(line_pull(groups, travel, tape / 2.0), line_pull(groups, travel, tape))


@draws
@given(housings(), travels, tapes, st.floats(0.0, 1.0), st.data())
def test_a_better_stand_never_lowers_the_working_capacity(
    groups: list[PadGroup], travel: float, tape: float, share: float, data: st.DataObject
) -> None:
    # Better for all the lots it has rated, or for some of them.
    better = [
        replace(each, standard_error_lbf_in=share * each.standard_error_lbf_in)
        if data.draw(st.booleans())
        else each
        for each in groups
    ]
    assert_not_lower(line_pull(better, travel, tape), line_pull(groups, travel, tape))


@draws
@given(housings(), travels, tapes)
def test_a_guide_never_lowers_the_working_capacity(
    groups: list[PadGroup], travel: float, tape: float
) -> None:
    # Twice the weaker side is never more than both: of pads in no doubt.
    sure = [
        PadGroup(each.count, each.rate_lbf_in, each.tested_stretch_in, sides=each.sides)
        for each in groups
    ]
    guided = [replace(each, sides=None) for each in sure]
    assert_not_lower(line_pull(guided, travel, tape), line_pull(sure, travel, tape))


@draws
@given(housings(), travels, tapes, st.randoms(use_true_random=False))
def test_the_order_of_lots_changes_no_figure_at_all(
    groups: list[PadGroup], travel: float, tape: float, random: Random
) -> None:
    shuffled = list(groups)
    random.shuffle(shuffled)
    assert figures(line_pull(shuffled, travel, tape)) == figures(line_pull(groups, travel, tape))


@draws
@given(housings(), travels, tapes, st.floats(0.51, 0.999))
def test_working_capacity_lies_between_nothing_and_the_pull(
    groups: list[PadGroup], travel: float, tape: float, confidence: float
) -> None:
    pull = line_pull(groups, travel, tape, confidence)
    assert 0.0 <= pull.working_capacity_lbf <= pull.pull_lbf
    assert 0.0 < pull.usable_travel_in <= travel
    assert all(each.counted >= 0 for each in pull.groups)


@draws
@given(housings(), travels, tapes)
def test_no_more_is_counted_than_is_fitted_or_than_twice_the_weaker_side(
    groups: list[PadGroup], travel: float, tape: float
) -> None:
    pull = line_pull(groups, travel, tape)
    # Of the lots in more doubt than they pull, one counts at most.
    assert sum(each.share < 1.0 for each in pull.groups) <= 1
    for each in pull.groups:
        assert 0.0 < each.share <= 1.0
        most = each.group.count
        if each.group.sides is not None:
            most = 2 * each.group.sides["AB".index(pull.weaker_side)]
        assert each.counted <= most
        if each.group.tested_stretch_in < pull.usable_travel_in:
            assert each.counted == 0


@draws
@given(st.lists(lot_groups(has_sides=False), min_size=1, max_size=3), travels, tapes)
def test_rates_and_uncertainties_doubled_double_pull_and_uncertainty(
    groups: list[PadGroup], travel: float, tape: float
) -> None:
    plain_groups = [replace(group, curve=None) for group in groups]
    doubled = [
        replace(
            group,
            rate_lbf_in=2.0 * group.rate_lbf_in,
            standard_error_lbf_in=2.0 * group.standard_error_lbf_in,
            spread_lbf_in=2.0 * group.spread_lbf_in,
        )
        for group in plain_groups
    ]
    plain, twice = line_pull(plain_groups, travel, tape), line_pull(doubled, travel, tape)
    assert twice.pull_lbf == 2.0 * plain.pull_lbf
    assert twice.rate_lbf_in == 2.0 * plain.rate_lbf_in
    assert twice.standard_uncertainty_lbf == 2.0 * plain.standard_uncertainty_lbf
    assert twice.working_capacity_lbf == 2.0 * plain.working_capacity_lbf
    assert twice.degrees_of_freedom == plain.degrees_of_freedom


@draws
@given(st.lists(lot_groups(has_sides=False), min_size=1, max_size=3), travels, tapes)
def test_a_change_of_units_carries_through(
    groups: list[PadGroup], travel: float, tape: float
) -> None:
    mm, newton = 25.4, 4.4482216152605
    plain = [replace(group, curve=None) for group in groups]
    in_si = [
        replace(
            group,
            rate_lbf_in=group.rate_lbf_in * newton / mm,
            tested_stretch_in=group.tested_stretch_in * mm,
            standard_error_lbf_in=group.standard_error_lbf_in * newton / mm,
            spread_lbf_in=group.spread_lbf_in * newton / mm,
        )
        for group in plain
    ]
    us, si = line_pull(plain, travel, tape), line_pull(in_si, travel * mm, tape * mm)
    assert si.working_capacity_lbf == pytest.approx(
        us.working_capacity_lbf * newton, rel=1e-3, abs=1e-3
    )


@draws
@given(housings(), travels, tapes)
def test_no_fewer_degrees_of_freedom_than_the_part_known_worst_has(
    groups: list[PadGroup], travel: float, tape: float
) -> None:
    worst = min(
        freedom
        for group in groups
        for freedom in (
            group.degrees_of_freedom,
            group.spread_degrees_of_freedom,
            group.scatter_degrees_of_freedom,
            group.between_degrees_of_freedom,
        )
    )
    found = line_pull(groups, travel, tape).degrees_of_freedom
    assert found >= worst * (1.0 - 1e-9) - 0.01


@st.composite
def staircases(draw: st.DrawFn) -> PadGroup:
    """A lot whose curve rises by steps, however steep and flat, with wide doubt between them."""
    group = draw(lot_groups(has_sides=draw(st.booleans()), most=6))
    many = draw(st.integers(2, 6))
    shares = sorted(draw(st.lists(st.floats(0.01, 1.0), min_size=many, max_size=many)))
    tested, rate = group.tested_stretch_in, group.rate_lbf_in
    stretches = [tested * ((step + 1) / many) for step in range(many)]
    curve = monotone_curve(stretches, [rate * tested * share for share in shares])
    return replace(group, curve=curve, gap_share=draw(st.sampled_from([0.0, 0.029, 0.1])))


@draws
@given(staircases(), travels, st.floats(0.0, 3.0), tapes)
def test_an_inch_of_travel_lowers_nothing_on_a_curve_of_steps_either(
    group: PadGroup, travel: float, more_in: float, tape: float
) -> None:
    before, after = line_pull([group], travel, tape), line_pull([group], travel + more_in, tape)
    assert_not_lower(after, before)
