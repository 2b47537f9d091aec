"""Which pads bring short units to their listing: by hand, and against every way there is."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import pytest

from ratings.mechanics.load_curve import monotone_curve
from ratings.mechanics.restoring import Goal, RestoringPlan, ShortUnit, Source, best_plan
from ratings.mechanics.standing import Standing
from ratings.mechanics.unit_rating import (
    SIDES,
    SOUND,
    LotRate,
    Policy,
    Position,
    UnitInputs,
    UnitRating,
    rate_unit,
)

# Next to no doubt, so that pull and working capacity are nearly the same and easy by hand.
SURE = Policy(pad_spread_pct=0.0, tape_resolution_in=0.001, conditions_pct=0.0, gap_band_pct=0.0)


def lot(mark: str, rate: float = 1000.0, tested: float = 8.0) -> LotRate:
    stretches = [tested / 4.0, tested / 2.0, tested]
    curve = monotone_curve(stretches, [rate * each for each in stretches])
    return LotRate(mark, rate, 0.0, 9, 1.0, tested, curve.knots)


def housing(on_a: str, on_b: str, mark: str = "OLD") -> tuple[Position, ...]:
    """Positions from letters: s sound, c cracked, m missing."""
    conditions = {"s": "sound", "c": "cracked", "m": "missing"}
    return tuple(
        Position(side, number, conditions[letter], None if letter == "m" else mark)
        for side, letters in zip(SIDES, (on_a, on_b), strict=True)
        for number, letter in enumerate(letters, start=1)
    )


def unit(
    on_a: str,
    on_b: str,
    listed: float,
    *sources: str,
    key: str = "S-1",
    is_guided: bool = True,
    is_committed: bool = False,
    travel: float = 5.0,
    old: LotRate | None = None,
    policy: Policy = SURE,
) -> ShortUnit:
    inputs = UnitInputs(
        housing(on_a, on_b), (old or lot("OLD"),), travel, listed, policy, is_guided=is_guided
    )
    return ShortUnit(key, inputs, sources, is_committed)


def shelf(mark: str, pads: int, price: int | None = None, rate: float = 1000.0) -> Source:
    return Source(mark, lot(mark, rate), pads, price)


def fitted(plan: RestoringPlan, key: str = "S-1") -> dict[str, str | None]:
    way = next(each.way for each in plan.units if each.key == key)
    assert way is not None
    return {f"{each.side}{each.number}": each.lot for each in way.placed}


def test_the_fewest_pads_are_the_stiffest_that_do_it() -> None:
    # 4 of 1,000 × 5 are 20,000.
    short = unit("ssmm", "ssmm", 31_900.0, "SOFT", "STIFF")
    sources = [shelf("SOFT", 9, 100), shelf("STIFF", 9, 300, rate=1_200.0)]
    # Two of 6,000 make it 32,000; of 5,000 it takes three.
    assert fitted(best_plan([short], sources, Goal.FEWEST)) == {"A3": "STIFF", "B3": "STIFF"}


def test_the_least_cost_takes_more_of_the_cheaper_pads() -> None:
    short = unit("ssmm", "ssmm", 31_900.0, "SOFT", "STIFF")
    sources = [shelf("SOFT", 9, 100), shelf("STIFF", 9, 300, rate=1_200.0)]
    plan = best_plan([short], sources, Goal.CHEAPEST)
    assert (plan.cost, plan.pads, set(fitted(plan).values())) == (300, 3, {"SOFT"})


def test_a_lot_without_a_price_is_not_ranked_by_cost_and_is_named() -> None:
    short = unit("ssmm", "ssmm", 24_900.0, "CHEAP", "NEW")
    sources = [shelf("CHEAP", 9, None), shelf("NEW", 9, 900)]
    plan = best_plan([short], sources, Goal.CHEAPEST)
    assert (plan.unpriced, plan.cost, set(fitted(plan).values())) == (("CHEAP",), 900, {"NEW"})


def test_fewest_pads_with_one_unpriced_give_no_cost() -> None:
    short = unit("ssmm", "ssmm", 24_900.0, "ONLY")
    plan = best_plan([short], [shelf("ONLY", 9)], Goal.FEWEST)
    assert (plan.cost, plan.unpriced, plan.pads) == (None, ("ONLY",), 1)


def test_sides_are_balanced_though_one_pad_fewer_would_meet_the_listing() -> None:
    # Guided, A has 2 and B 1; 25,000 takes two more: on B, or A and B, never both on A.
    short = unit("ssmm", "smmm", 24_900.0, "NEW")
    plan = best_plan([short], [shelf("NEW", 9)], Goal.FEWEST)
    places = fitted(plan)
    assert len(places) == 2
    assert "B2" in places
    assert not plan.units[0].way.rating.is_out_of_balance  # type: ignore[union-attr]


def test_a_sound_pad_is_replaced_only_where_no_place_on_its_side_is_open() -> None:
    # Side B is full of soft pads: unguided, it holds the unit down whatever is put on A.
    old = lot("OLD", 600.0)
    short = unit("ssm", "sss", 21_900.0, "NEW", is_guided=False, old=old)
    plan = best_plan([short], [shelf("NEW", 9, rate=1_000.0)], Goal.FEWEST)
    way = plan.units[0].way
    assert way is not None
    assert way.rating.standing is Standing.MEETS_LISTING
    # Half of it is 10,950: one new of 5,000 with two old of 3,000, on either side.
    assert {(each.side, each.lot) for each in way.replaced} == {("B", "OLD")}
    assert all(each.side == "B" or each.number == 3 for each in way.placed)


def test_committed_units_come_first_when_the_shelf_is_short() -> None:
    small = unit("sm", "sm", 14_900.0, "NEW", key="S-1")
    large = unit("ssmm", "ssmm", 29_900.0, "NEW", key="S-2", is_committed=True)
    plan = best_plan([small, large], [shelf("NEW", 2)], Goal.READY)
    assert [(each.key, each.way is not None) for each in plan.units] == [
        ("S-1", False),
        ("S-2", True),
    ]
    assert plan.units[0].is_left_out
    # Of fewest pads the small one is as good as the large, and takes one pad.
    assert best_plan([small, large], [shelf("NEW", 2)], Goal.FEWEST).units[0].way is not None


def test_a_unit_that_gives_its_pads_away_is_not_restored() -> None:
    spare = Source("of S-2", lot("OLD"), 3, unit="S-2")
    one = unit("ssmm", "ssmm", 29_900.0, "of S-2", "NEW", key="S-1")
    other = unit("ssm", "smm", 19_900.0, "NEW", key="S-2")
    plan = best_plan([one, other], [spare, shelf("NEW", 1)], Goal.FEWEST)
    # One pad on the shelf restores S-2; then nothing is left for S-1, since S-2 keeps its pads.
    assert [each.way is not None for each in plan.units] == [False, True]
    alone = best_plan([one], [spare, shelf("NEW", 1)], Goal.FEWEST)
    assert alone.units[0].from_source == (("NEW", 1), ("of S-2", 1))


def test_where_nothing_does_the_best_is_said_and_what_it_would_take() -> None:
    short = unit("sm", "sm", 29_900.0, "NEW", travel=5.0)
    found = best_plan([short], [shelf("NEW", 9)], Goal.FEWEST).units[0]
    assert found.way is None
    assert found.outlook is not None
    assert found.outlook.way is not None
    # Four of 5,000: 20,000. The listing takes 7.5 in, or two pads of 2,000 beside two of 1,000.
    assert found.outlook.way.pads == 2
    assert found.outlook.way.rating.working_capacity_lbf == pytest.approx(20_000.0, rel=1e-3)
    assert found.outlook.travel_in == pytest.approx(7.476, rel=1e-3)
    assert found.outlook.rate_lbf_in == pytest.approx(1_990.0, rel=0.006)


def test_the_best_that_can_be_had_promises_no_pad_twice() -> None:
    three = [unit("smm", "smm", 49_000.0, "NEW", key=f"S-{at}") for at in (1, 2, 3)]
    plan = best_plan(three, [shelf("NEW", 2)], Goal.FEWEST)
    assert [each.from_source for each in plan.units] == [(("NEW", 2),), (), ()]
    ways = [each.outlook.way for each in plan.units if each.outlook]
    assert [way and way.pads for way in ways] == [2, None, None]
    assert (plan.pads, plan.cost) == (0, 0)


def test_the_best_that_can_be_had_leaves_what_the_plan_uses_and_units_it_restores_alone() -> None:
    # One pad restores S-2, which keeps its own then; one is left on the shelf.
    of_two = Source("of S-2", lot("OLD"), 3, unit="S-2")
    far = unit("ssmm", "ssmm", 49_000.0, "of S-2", "NEW", key="S-1")
    near = unit("ssm", "smm", 19_900.0, "NEW", key="S-2")
    plan = best_plan([far, near], [of_two, shelf("NEW", 2)], Goal.FEWEST)
    assert [each.from_source for each in plan.units] == [(("NEW", 1),), (("NEW", 1),)]


def test_a_unit_that_gives_its_pads_for_the_best_that_can_be_had_gets_none() -> None:
    of_two = Source("of S-2", lot("OLD"), 2, unit="S-2")
    one = unit("smm", "smm", 49_000.0, "of S-2", "NEW", key="S-1")
    other = unit("smm", "smm", 49_000.0, "NEW", key="S-2")
    plan = best_plan([one, other], [of_two, shelf("NEW", 3)], Goal.FEWEST)
    assert plan.units[0].from_source == (("NEW", 3), ("of S-2", 1))
    assert (plan.units[1].is_giver, plan.units[1].from_source) == (True, ())


def test_what_testing_a_lot_further_gives_is_said() -> None:
    short = unit("ssm", "ssm", 19_900.0, "NEW", old=lot("OLD", 1_000.0, tested=4.0))
    found = best_plan([short], [shelf("NEW", 4)], Goal.FEWEST).units[0]
    assert [each.lot for each in found.further] == ["OLD"]
    assert found.further[0].rating.standing is Standing.MEETS_LISTING


def test_a_unit_that_meets_its_listing_gets_nothing() -> None:
    found = best_plan([unit("ss", "ss", 10_000.0, "NEW")], [shelf("NEW", 4)], Goal.FEWEST).units[0]
    assert (found.way, found.outlook, found.is_left_out) == (None, None, False)


@pytest.mark.parametrize("given", [{"pads": -1}, {"price": -1}])
def test_stock_and_prices_below_zero_are_refused(given: dict[str, int]) -> None:
    with pytest.raises(ValueError, match="give"):
        Source(**({"key": "P", "rate": lot("P"), "pads": 1} | given))  # type: ignore[arg-type]


def test_an_unknown_source_and_two_units_of_one_key_are_refused() -> None:
    with pytest.raises(ValueError, match="no source"):
        best_plan([unit("sm", "sm", 1.0, "NEW")], [], Goal.FEWEST)
    with pytest.raises(ValueError, match="one key"):
        best_plan([unit("sm", "sm", 1.0), unit("sm", "sm", 1.0)], [], Goal.FEWEST)


# Random small yards, held to every way there is.


def yard(seed: int) -> tuple[list[ShortUnit], list[Source]]:
    """One or two small units and two or three lots, with doubts, prices and too few pads."""
    draw = random.Random(seed)
    policy = Policy() if draw.random() < 0.7 else SURE
    sources = [
        Source(
            f"L{at}",
            replace(
                lot(
                    f"L{at}", draw.choice([700.0, 900.0, 1_000.0, 1_300.0]), draw.choice([4.0, 6.0])
                ),
                standard_error_lbf_in=draw.choice([0.0, 15.0]),
                pads_tested=4.0,
            ),
            draw.randint(0, 4),
            draw.choice([None, 40, 55, 70, 90]),
        )
        for at in range(draw.choice([2, 2, 3]))
    ]
    marks = tuple(each.key for each in sources)
    units = []
    for at in range(draw.choice([1, 1, 2])):
        many = draw.choice([2, 3]) if len(sources) == 2 else 2
        on_a, on_b = ("".join(draw.choice("ssmc") for _ in range(many)) for _ in SIDES)
        old = lot("OLD", draw.choice([600.0, 1_000.0]), draw.choice([4.0, 8.0]))
        units.append(
            unit(
                "s" + on_a[1:],
                on_b,
                draw.uniform(0.45, 1.0) * 2 * many * 5_000.0,
                *marks,
                key=f"S-{at}",
                is_guided=draw.random() < 0.5,
                is_committed=draw.random() < 0.5,
                old=old,
                policy=policy,
            )
        )
    return units, sources


def every_way(short: ShortUnit, sources: list[Source]) -> Iterator[tuple[Counter[str], UnitRating]]:
    """Every choice of a lot or none for every position, as the planner may choose.

    Worked out position by position and rated anew, with nothing of the planner's.
    """
    inputs, seen = short.inputs, set()
    lots = [each.rate for each in sources]
    positions = inputs.positions
    for choice in product([None, *(each.lot for each in lots)], repeat=len(positions)):
        pairs = list(zip(positions, choice, strict=True))
        if any(
            at.condition == SOUND
            and new
            and any(o.side == at.side and o.condition != SOUND and not n for o, n in pairs)
            for at, new in pairs
        ):
            continue
        after = tuple(replace(at, condition=SOUND, lot=new) if new else at for at, new in pairs)
        key = tuple(sorted((p.side, p.lot or "") for p in after if p.condition == SOUND))
        used = Counter(each for each in choice if each)
        if (key, tuple(sorted(used.items()))) in seen:
            continue
        seen.add((key, tuple(sorted(used.items()))))
        rating = rate_unit(replace(inputs, positions=after, lots=(*inputs.lots, *lots)))
        if rating.standing is Standing.MEETS_LISTING and used:
            yield used, rating


def best_by_force(
    units: list[ShortUnit], sources: list[Source], goal: Goal
) -> tuple[tuple[int, ...], ...]:
    """The least of all plans by the aims, each unit either left or fitted one of all its ways."""
    if goal is Goal.CHEAPEST:
        sources = [each for each in sources if each.price is not None]
    price = {each.rate.lot: each.price or 0 for each in sources}
    stock = {each.rate.lot: each.pads for each in sources}
    choices = []
    for each in units:
        ways = []
        if rate_unit(each.inputs).standing is not Standing.MEETS_LISTING:
            ways = list(every_way(each, sources))
            even = [way for way in ways if not way[1].is_out_of_balance]
            even = [way for way in even if all(way[0][m] <= stock[m] for m in way[0])]
            ways = even or ways
        choices.append([None, *{tuple(sorted(used.items())) for used, _ in ways}])
    best: tuple[int, ...] | None = None
    for plan in product(*choices):
        used: Counter[str] = Counter()
        for way in plan:
            used.update(dict(way or ()))
        if any(many > stock[mark] for mark, many in used.items()):
            continue
        committed = sum(
            each.is_committed and way is not None for each, way in zip(units, plan, strict=True)
        )
        ready = sum(way is not None for way in plan)
        main = (
            sum(price[mark] * many for mark, many in used.items())
            if goal is Goal.CHEAPEST
            else used.total()
        )
        worth = (-committed if goal is Goal.READY else 0, -ready, main)
        best = worth if best is None or worth < best else best
    assert best is not None
    return (best,)


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("goal", list(Goal))
def test_the_plan_is_as_good_as_the_best_of_every_way(seed: int, goal: Goal) -> None:
    units, sources = yard(seed)
    plan = best_plan(units, sources, goal)
    assert plan.is_proven
    committed = {each.key for each in units if each.is_committed}
    ready = [each for each in plan.units if each.way]
    worth = (
        -sum(each.key in committed for each in ready) if goal is Goal.READY else 0,
        -len(ready),
        (plan.cost or 0) if goal is Goal.CHEAPEST else plan.pads,
    )
    assert (worth,) == best_by_force(units, sources, goal)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("goal", [Goal.FEWEST, Goal.CHEAPEST])
def test_no_plan_there_is_passes_the_bounds_of_a_search_cut_short(seed: int, goal: Goal) -> None:
    units, sources = yard(seed)
    plan = best_plan(units, sources, goal, most_ratings=1)
    ((_, ready, worth),) = best_by_force(units, sources, goal)
    if plan.is_proven:
        found = (plan.cost or 0) if goal is Goal.CHEAPEST else plan.pads
        assert (-plan.ready, found) == (ready, worth)
        return
    assert plan.most_ready is not None
    assert plan.least is not None
    assert plan.ready <= -ready <= plan.most_ready
    # The least is for as many units as this plan restores, so it holds for no fewer.
    assert plan.least <= worth
