"""Which pads bring short units to their listing: by hand, and against every way there is."""

from __future__ import annotations

import random
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import product
from typing import Any

import pytest

from ratings.mechanics.load_curve import monotone_curve
from ratings.mechanics.restoring import (
    FoundWays,
    Goal,
    Need,
    RestoringPlan,
    ShortUnit,
    Source,
    Way,
    best_plan,
)
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
    needs: tuple[Need, ...] = (),
    travel: float = 5.0,
    old: LotRate | None = None,
    policy: Policy = SURE,
) -> ShortUnit:
    inputs = UnitInputs(
        housing(on_a, on_b), (old or lot("OLD"),), travel, listed, policy, is_guided=is_guided
    )
    return ShortUnit(key, inputs, sources, needs)


def job(demand: float, key: str = "J-1", days: int = 0) -> Need:
    """A job that asks so much working capacity, from so many days on."""
    return Need(
        key, days, lambda inputs, rating: (rating.working_capacity_lbf or 0.0) >= demand, demand
    )


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


def test_jobs_come_first_when_the_shelf_is_short() -> None:
    small = unit("sm", "sm", 14_900.0, "NEW", key="S-1")
    large = unit("ssmm", "ssmm", 29_900.0, "NEW", key="S-2", needs=(job(29_000.0),))
    plan = best_plan([small, large], [shelf("NEW", 2)], Goal.READY)
    assert [(each.key, each.way is not None) for each in plan.units] == [
        ("S-1", False),
        ("S-2", True),
    ]
    assert plan.units[0].is_left_out
    assert plan.jobs_ready == 1
    # Of fewest pads the small one is as good as the large, and takes one pad.
    assert best_plan([small, large], [shelf("NEW", 2)], Goal.FEWEST).units[0].way is not None


def test_a_unit_whose_pads_do_for_its_job_is_ready_though_short_of_its_listing() -> None:
    # 20,000 do for 18,000; the pad left brings the other one, whose job asks for more, to it.
    ready = unit("ssm", "ssm", 24_900.0, "NEW", key="S-1", needs=(job(18_000.0, "J-1"),))
    wanting = unit("ssm", "ssm", 24_900.0, "NEW", key="S-2", needs=(job(24_000.0, "J-2"),))
    plan = best_plan([ready, wanting], [shelf("NEW", 1)], Goal.READY)
    assert [each.way is not None for each in plan.units] == [False, True]
    assert [set(each.met_before) for each in plan.units] == [{"J-1"}, set()]
    assert plan.jobs_ready == 2


def test_a_job_that_asks_more_than_the_listing_gets_the_pads_it_asks_for() -> None:
    short = unit("ssmm", "ssmm", 24_900.0, "NEW", needs=(job(34_000.0),))
    assert best_plan([short], [shelf("NEW", 9)], Goal.FEWEST).pads == 1
    plan = best_plan([short], [shelf("NEW", 9)], Goal.READY)
    assert (plan.pads, plan.jobs_ready, plan.ready) == (3, 1, 1)
    # One that meets its listing already is short for that job as well.
    enough = unit("ssmm", "ssmm", 19_900.0, "NEW", needs=(job(34_000.0),))
    plan = best_plan([enough], [shelf("NEW", 9)], Goal.READY)
    assert (plan.pads, plan.jobs_ready, plan.ready) == (3, 1, 0)


def test_a_job_below_the_listing_is_met_where_the_listing_can_not_be() -> None:
    short = unit("ssm", "ssm", 49_000.0, "NEW", needs=(job(24_000.0),))
    plan = best_plan([short], [shelf("NEW", 2)], Goal.READY)
    assert (plan.pads, plan.jobs_ready, plan.ready) == (1, 1, 0)


def test_pads_that_come_after_the_first_day_make_no_job_ready() -> None:
    bought = replace(shelf("NEW", 9), is_bought=True, days=14)
    for days, ready in ((13, 0), (14, 1)):
        short = unit("ssm", "ssm", 24_900.0, "NEW", needs=(job(24_000.0, days=days),))
        plan = best_plan([short], [bought], Goal.READY)
        assert (plan.jobs_ready, plan.ready) == (ready, 1)


def test_stiffer_pads_that_come_too_late_leave_the_job_to_those_at_hand() -> None:
    late = replace(shelf("LATE", 9, rate=1_300.0), is_bought=True, days=14)
    short = unit("ssmm", "ssmm", 31_000.0, "LATE", "NEW", needs=(job(30_500.0, days=3),))
    plan = best_plan([short], [late, shelf("NEW", 9)], Goal.READY)
    assert (plan.jobs_ready, set(fitted(plan).values())) == (1, {"NEW"})


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


Used = tuple[tuple[str, int], ...]
Choice = tuple[Used, bool, frozenset[str]]


def yard(seed: int) -> tuple[list[ShortUnit], list[Source]]:
    """One or two small units and two or three lots, with doubts, prices and too few pads."""
    # Units of the yard before may be gone, and their ids used again.
    RATED_WAYS.clear()
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
            days=draw.choice([0, 0, 14]),
        )
        for at in range(draw.choice([2, 2, 3]))
    ]
    marks = tuple(each.key for each in sources)
    units = []
    for at in range(draw.choice([1, 1, 2])):
        many = draw.choice([2, 3]) if len(sources) == 2 else 2
        on_a, on_b = ("".join(draw.choice("ssmc") for _ in range(many)) for _ in SIDES)
        old = lot("OLD", draw.choice([600.0, 1_000.0]), draw.choice([4.0, 8.0]))
        listed = draw.uniform(0.45, 1.0) * 2 * many * 5_000.0
        units.append(
            unit(
                "s" + on_a[1:],
                on_b,
                listed,
                *marks,
                key=f"S-{at}",
                is_guided=draw.random() < 0.5,
                needs=tuple(
                    job(draw.uniform(0.5, 1.3) * listed, f"J-{at}-{n}", draw.choice([5, 20]))
                    for n in range(draw.choice([0, 1, 1, 2]))
                ),
                old=old,
                policy=policy,
            )
        )
    return units, sources


def every_way(short: ShortUnit, sources: list[Source]) -> Iterator[tuple[Used, UnitRating]]:
    """Every choice of a lot or none for every position, as the planner may choose.

    Worked out position by position and rated anew, with nothing of the planner's.
    """
    inputs, seen, rated = short.inputs, set(), {}
    lots = [each.rate for each in sources]
    stock = {each.rate.lot: each.pads for each in sources}
    positions = inputs.positions
    for choice in product([None, *(each.lot for each in lots)], repeat=len(positions)):
        used = tuple(sorted(Counter(each for each in choice if each).items()))
        if not used or any(many > stock[mark] for mark, many in used):
            continue
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
        if (key, used) in seen:
            continue
        seen.add((key, used))
        if key not in rated:
            rated[key] = rate_unit(replace(inputs, positions=after, lots=(*inputs.lots, *lots)))
        yield used, rated[key]


# Worked out once for all goals of a yard.
RATED_WAYS: dict[tuple[int, tuple[str, ...]], list[tuple[Used, UnitRating]]] = {}


def rated_ways(short: ShortUnit, sources: list[Source]) -> list[tuple[Used, UnitRating]]:
    key = (id(short), tuple(each.key for each in sources))
    if key not in RATED_WAYS:
        RATED_WAYS[key] = list(every_way(short, sources))
    return RATED_WAYS[key]


def every_choice(short: ShortUnit, sources: list[Source], goal: Goal) -> set[Choice]:
    """What may be done for a unit: the pads used, whether it is restored, and the needs met.

    For whatever a way is to do, one that leaves the sides uneven is a choice only where no other
    does it.
    """
    now = rate_unit(short.inputs)
    is_short = now.standing is not Standing.MEETS_LISTING
    needs = short.needs if goal is Goal.READY else ()
    met_now = {each.key for each in needs if each.is_met(short.inputs, now)}
    ways = []
    for used, rating in rated_ways(short, sources) if is_short or len(met_now) < len(needs) else ():
        met = frozenset(each.key for each in needs if each.is_met(short.inputs, rating))
        if met_now <= met:
            restores = is_short and rating.standing is Standing.MEETS_LISTING
            ways.append((used, restores, met, rating.is_out_of_balance))
    unmet = [each.key for each in needs if each.key not in met_now]
    choices: set[Choice] = {((), False, frozenset(met_now))}
    for wanted in product([False, True], repeat=1 + len(unmet)):
        keys = {key for key, is_wanted in zip(unmet, wanted[1:], strict=True) if is_wanted}
        if not any(wanted):
            continue
        doing = [each for each in ways if keys <= each[2] and (each[1] or not wanted[0])]
        even = [each for each in doing if not each[3]]
        choices |= {each[:3] for each in even or doing}
    return choices


def best_by_force(
    units: list[ShortUnit], sources: list[Source], goal: Goal
) -> tuple[int, int, int]:
    """The least of all plans by the aims, each unit either left or fitted one of all its ways."""
    if goal is Goal.CHEAPEST:
        sources = [each for each in sources if each.price is not None]
    price = {each.rate.lot: each.price or 0 for each in sources}
    stock = {each.rate.lot: each.pads for each in sources}
    days = {each.rate.lot: each.days for each in sources}

    def in_time(short: ShortUnit, choice: Choice) -> int:
        used, _, met = choice
        now = rate_unit(short.inputs)
        return sum(
            each.key in met
            and (each.is_met(short.inputs, now) or all(days[mark] <= each.days for mark, _ in used))
            for each in short.needs
        )

    best: tuple[int, int, int] | None = None
    for plan in product(*(every_choice(each, sources, goal) for each in units)):
        used: Counter[str] = Counter()
        for way in plan:
            used.update(dict(way[0]))
        if any(many > stock[mark] for mark, many in used.items()):
            continue
        jobs = sum(in_time(each, way) for each, way in zip(units, plan, strict=True) if way[2])
        ready = sum(way[1] for way in plan)
        main = (
            sum(price[mark] * many for mark, many in used.items())
            if goal is Goal.CHEAPEST
            else used.total()
        )
        worth = (-jobs if goal is Goal.READY else 0, -ready, main)
        best = worth if best is None or worth < best else best
    assert best is not None
    return best


@pytest.mark.parametrize("seed", range(200))
def test_the_plan_is_as_good_as_the_best_of_every_way(seed: int) -> None:
    units, sources = yard(seed)
    for goal in Goal:
        plan = best_plan(units, sources, goal)
        assert plan.is_proven
        worth = (
            -plan.jobs_ready,
            -plan.ready,
            (plan.cost or 0) if goal is Goal.CHEAPEST else plan.pads,
        )
        assert worth == best_by_force(units, sources, goal), goal


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("goal", [Goal.FEWEST, Goal.CHEAPEST])
def test_no_plan_there_is_passes_the_bounds_of_a_search_cut_short(seed: int, goal: Goal) -> None:
    units, sources = yard(seed)
    plan = best_plan(units, sources, goal, most_ratings=1)
    _, ready, worth = best_by_force(units, sources, goal)
    if plan.is_proven:
        found = (plan.cost or 0) if goal is Goal.CHEAPEST else plan.pads
        assert (-plan.ready, found) == (ready, worth)
        return
    assert plan.most_ready is not None
    assert plan.least is not None
    assert plan.ready <= -ready <= plan.most_ready
    # The least is for as many units as this plan restores, so it holds for no fewer.
    assert plan.least <= worth


@pytest.mark.parametrize("goal", list(Goal))
def test_the_same_facts_in_any_order_give_the_same_plan(goal: Goal) -> None:
    for seed in range(8):
        units, sources = yard(seed)
        first = best_plan(units, sources, goal)
        assert best_plan(units, sources, goal) == first
        turned = [replace(each, sources=each.sources[::-1]) for each in units[::-1]]
        assert best_plan(turned, sources[::-1], goal) == first


@pytest.mark.parametrize("goal", list(Goal))
def test_a_cheaper_pad_or_more_stock_never_makes_the_best_plan_worse(goal: Goal) -> None:
    for seed in range(12):
        units, sources = yard(seed)
        before = worth_of(best_plan(units, sources, goal), goal)
        for at, source in enumerate(sources):
            more = replace(source, pads=source.pads + 2)
            changes = [more]
            if source.price:
                changes.append(replace(source, price=source.price // 2))
            for changed in changes:
                others = [*sources[:at], changed, *sources[at + 1 :]]
                assert worth_of(best_plan(units, others, goal), goal) <= before, (seed, changed)


def worth_of(plan: RestoringPlan, goal: Goal) -> tuple[int, int, int]:
    main = (plan.cost or 0) if goal is Goal.CHEAPEST else plan.pads
    return -plan.jobs_ready, -plan.ready, main


def test_what_is_not_proven_the_best_says_how_far_off_it_may_be() -> None:
    old = lot("OLD", 600.0)
    marks = [f"L{at}" for at in range(6)]
    sources = [shelf(mark, 3, 50 + at, rate=900.0 + 30 * at) for at, mark in enumerate(marks)]
    many = [
        unit("s" * 6 + "mm", "s" * 6 + "mm", 55_000.0, *marks, key=f"S-{at}", old=old)
        for at in range(3)
    ]
    plan = best_plan(many, sources, Goal.CHEAPEST, most_ratings=4)
    assert not plan.is_proven
    assert plan.most_ready is not None
    assert plan.least is not None
    assert plan.ready <= plan.most_ready
    assert plan.least <= (plan.cost or 0)


def ways_found(totals: Sequence[tuple[int, ...]], most: int) -> FoundWays:
    found = FoundWays([most] * len(totals[0]))
    for total in totals:
        found.add(total, Way((), rate_unit(unit("s", "s", 1.0).inputs)))
    return found


def test_of_ways_found_those_that_use_no_more_of_any_lot_are_counted() -> None:
    chance = random.Random(1)
    totals = [tuple(chance.randrange(6) for _ in range(4)) for _ in range(60)]
    found = ways_found(totals, 5)
    for asked in product(range(6), repeat=4):
        no_more = {
            total
            for total in totals
            if all(one <= other for one, other in zip(total, asked, strict=True))
        }
        assert found.within(asked) == len(no_more)


def test_asking_of_many_ways_found_takes_no_more_steps_than_of_few() -> None:
    def steps(ways: int) -> int:
        # All use one pad of the last lot, and that asked of uses none.
        totals = [(number, 1) for number in range(ways)]
        found, taken = ways_found(totals, ways), 0

        def count(*_: Any) -> None:
            nonlocal taken
            taken += 1

        sys.setprofile(count)
        try:
            found.within((ways, 0))
        finally:
            sys.setprofile(None)
        return taken

    assert steps(5) == steps(500)
