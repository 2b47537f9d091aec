"""The best plan for several jobs at once, against every plan there is on small cases."""

from __future__ import annotations

import itertools
import random
import time
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ratings.mechanics.planning import (
    PARTS_OF_A_MARGIN,
    PARTS_OF_A_MILE,
    Aim,
    Busy,
    Fit,
    JobToServe,
    NotUsed,
    Offer,
    Plan,
    Span,
    best_plan,
    days_for_haul,
)

MARCH = date(2026, 3, 2)


def days(first: int, last: int) -> Span:
    return Span(MARCH + timedelta(days=first), MARCH + timedelta(days=last))


def job(key: int, first: int = 0, last: int = 2, needed: int = 1) -> JobToServe:
    return JobToServe(key, f"Job {key}", days(first, last), needed)


def offer(unit: str, key: int = 1, haul_mi: float | None = 10.0, **more: object) -> Offer:
    return Offer(unit, key, **{"fit": Fit.OUTRIGHT, "margin": 2.0, "haul_mi": haul_mi} | more)  # type: ignore[arg-type]


def chosen(plan: Plan) -> dict[int, list[str]]:
    return {each.job.key: [c.offer.unit for c in each.choices] for each in plan.jobs}


@st.composite
def cases(draw: st.DrawFn) -> tuple[list[JobToServe], list[Offer], list[Busy]]:
    """At most three jobs and four units, with ties, overlaps, transport and units held."""
    jobs = []
    for key in range(draw(st.integers(1, 3))):
        first = draw(st.integers(0, 6))
        jobs.append(job(key, first, first + draw(st.integers(0, 3)), draw(st.integers(1, 2))))
    offers = [
        Offer(
            unit=f"S-{unit}",
            job=each.key,
            fit=draw(st.sampled_from(Fit)),
            margin=draw(st.sampled_from([None, 1.1, 1.5, 1.5, 3.0])),
            haul_mi=draw(st.sampled_from([None, 0.0, 10.0, 10.0, 40.0])),
            to_do=draw(st.integers(0, 2)),
            days_before=draw(st.integers(0, 2)),
            days_after=draw(st.integers(0, 2)),
            why_not="too weak",
        )
        for unit in range(draw(st.integers(1, 4)))
        for each in jobs
    ]
    busy = [
        Busy(f"S-{draw(st.integers(0, 3))}", days(first, first + 1), "Ferry slip")
        for first in draw(st.lists(st.integers(0, 8), max_size=2))
    ]
    return jobs, offers, busy


def every_plan(
    jobs: list[JobToServe], offers: list[Offer], busy: list[Busy]
) -> list[tuple[tuple[int, ...], frozenset[tuple[str, int]]]]:
    """Every plan that can be, with what it comes to; written without a look at the solver's."""
    spans = {each.key: each for each in jobs}

    def away(o: Offer) -> set[date]:
        span = spans[o.job].days
        first = span.first_day - timedelta(days=o.days_before)
        last = span.last_day + timedelta(days=o.days_after)
        return {first + timedelta(days=n) for n in range((last - first).days + 1)}

    taken: dict[str, set[date]] = {}
    for each in busy:
        count = (each.days.last_day - each.days.first_day).days + 1
        taken.setdefault(each.unit, set()).update(
            each.days.first_day + timedelta(days=n) for n in range(count)
        )
    usable = [o for o in offers if o.fit is not Fit.NO and not away(o) & taken.get(o.unit, set())]
    found: list[tuple[tuple[int, ...], frozenset[tuple[str, int]]]] = []
    for size in range(len(usable) + 1):
        for picked in itertools.combinations(usable, size):
            by_job = [sum(o.job == key for o in picked) for key in spans]
            if any(many > spans[key].units_needed for key, many in zip(spans, by_job, strict=True)):
                continue
            if any(
                a.unit == b.unit and away(a) & away(b) for a, b in itertools.combinations(picked, 2)
            ):
                continue
            score = (
                -sum(
                    many == spans[key].units_needed for key, many in zip(spans, by_job, strict=True)
                ),
                -len(picked),
                sum(o.fit is Fit.CARE for o in picked),
                sum(o.to_do for o in picked),
                sum(o.haul_mi is None for o in picked),
                sum(round((o.haul_mi or 0) * PARTS_OF_A_MILE) for o in picked),
                sum(round((o.margin or 0) * PARTS_OF_A_MARGIN) for o in picked),
            )
            found.append((score, frozenset((o.unit, o.job) for o in picked)))
    return found


@settings(max_examples=150, deadline=None)
@given(cases())
def test_no_plan_of_all_there_are_is_better(
    case: tuple[list[JobToServe], list[Offer], list[Busy]],
) -> None:
    plan = best_plan(*case)
    known = every_plan(*case)
    best = min(score for score, _ in known)
    assert plan.is_proven
    assert tuple(plan.score.values()) == (-best[0], -best[1], *best[2:])
    assert (best, frozenset((u, k) for k, units in chosen(plan).items() for u in units)) in known


@settings(max_examples=40, deadline=None)
@given(cases(), st.randoms(use_true_random=False))
def test_the_order_of_the_facts_changes_nothing(
    case: tuple[list[JobToServe], list[Offer], list[Busy]], shuffled: random.Random
) -> None:
    jobs, offers, busy = ([*each] for each in case)
    for each in (jobs, offers, busy):
        shuffled.shuffle(each)
    assert best_plan(jobs, offers, busy) == best_plan(*case)


@settings(max_examples=60, deadline=None)
@given(cases())
def test_every_unit_is_chosen_or_told_why_not(
    case: tuple[list[JobToServe], list[Offer], list[Busy]],
) -> None:
    plan = best_plan(*case)
    for each in plan.jobs:
        told = {one.offer.unit for one in each.passed_over}
        assert told.isdisjoint(c.offer.unit for c in each.choices)
        assert len(told) + len(each.choices) == sum(o.job == each.job.key for o in case[1])
        for one in each.passed_over:
            # A unit that is free is passed over only for one that was told apart from it.
            assert one.reason is not NotUsed.BETTER or (one.better and one.aim)


@settings(max_examples=60, deadline=None)
@given(cases())
def test_a_way_out_by_a_later_day_holds(
    case: tuple[list[JobToServe], list[Offer], list[Busy]],
) -> None:
    _jobs, _offers, busy = case
    for each in best_plan(*case).jobs:
        for way in each.ways:
            if way.first_day is None:
                continue
            shift = (way.first_day - each.job.days.first_day).days
            moved = JobToServe(9, "moved", each.job.days.later_by(shift))
            alone = best_plan([moved], [Offer(way.offer.unit, 9, Fit.OUTRIGHT)], busy)
            assert shift > 0
            assert alone.jobs[0].missing == 0


def test_the_nearest_goes() -> None:
    plan = best_plan([job(1)], [offer("S-1", haul_mi=40.0), offer("S-2"), offer("S-3", haul_mi=25)])
    (only,) = plan.jobs[0].choices
    assert (only.offer.unit, only.rivals, only.aim) == ("S-2", 2, Aim.HAUL)
    assert {one.aim for one in plan.jobs[0].passed_over} == {Aim.HAUL}


def test_a_unit_ready_to_go_comes_before_a_nearer_one_to_be_counted_first() -> None:
    plan = best_plan([job(1)], [offer("S-1", haul_mi=5.0, to_do=1), offer("S-2", haul_mi=80.0)])
    assert chosen(plan) == {1: ["S-2"]}
    assert plan.jobs[0].choices[0].aim is Aim.TO_DO


def test_a_big_unit_is_kept_for_the_big_job() -> None:
    small, big = job(1), job(2)
    offers = [
        offer("BIG", 1, margin=4.0),
        offer("BIG", 2, margin=1.5),
        offer("LITTLE", 1, margin=1.5),
        offer("LITTLE", 2, fit=Fit.NO, why_not="too weak"),
    ]
    assert chosen(best_plan([small, big], offers)) == {1: ["LITTLE"], 2: ["BIG"]}


def test_serving_one_job_whole_comes_before_two_by_half() -> None:
    jobs = [job(1, needed=2), job(2, needed=2)]
    offers = [offer(unit, key) for unit in ("S-1", "S-2") for key in (1, 2)]
    assert sorted(map(len, chosen(best_plan(jobs, offers)).values())) == [0, 2]


def test_days_on_the_way_keep_a_unit_from_the_next_job() -> None:
    jobs = [job(1, 0, 2), job(2, 3, 5)]
    by_itself = [offer("S-1", 1), offer("S-1", 2)]
    assert chosen(best_plan(jobs, by_itself)) == {1: ["S-1"], 2: ["S-1"]}
    hauled = [offer("S-1", 1, days_after=1), offer("S-1", 2)]
    plan = best_plan(jobs, hauled)
    assert plan.score[Aim.SERVED] == 1
    assert plan.jobs[1].passed_over[0].reason is NotUsed.ELSEWHERE


def test_a_unit_held_says_by_what_and_when_it_is_free() -> None:
    held = Busy("S-1", days(1, 4), "Coal quay")
    (alone,) = best_plan([job(1)], [offer("S-1", days_before=1)], [held]).jobs
    assert alone.passed_over[0].busy == held
    # Free on the fifth day, on the way that day, at work on the next.
    assert alone.ways[0].first_day == MARCH + timedelta(days=6)


def test_a_job_nobody_suits_says_what_would_make_it_possible() -> None:
    weak = offer("S-1", fit=Fit.NO, why_not="an inspection is due", remedy="inspect it")
    none = offer("S-2", fit=Fit.NO, why_not="too weak")
    (alone,) = best_plan([job(1)], [weak, none]).jobs
    assert alone.missing == 1
    assert [way.offer for way in alone.ways] == [weak]


def test_a_job_with_no_unit_offered_is_told_short() -> None:
    assert best_plan([job(1, needed=3)], []).jobs[0].missing == 3


def test_alike_in_all_goes_by_mark() -> None:
    plan = best_plan([job(1, needed=2)], [offer(unit) for unit in ("S-3", "S-2", "S-1")])
    assert chosen(plan) == {1: ["S-1", "S-2"]}
    assert plan.jobs[0].choices[0].aim is Aim.ORDER


@pytest.mark.parametrize(
    "facts",
    [
        ([job(1), job(1)], []),
        ([job(1)], [offer("S-1", 2)]),
        ([job(1)], [offer("S-1"), offer("S-1")]),
        ([job(1, 3, 2)], []),
        ([job(1, needed=0)], []),
        ([job(1)], [offer("S-1", haul_mi=float("nan"))]),
        ([job(1)], [offer("S-1", margin=-1.0)]),
        ([job(1)], [offer("S-1", days_before=-1)]),
        ([job(1)], [offer("S-1", to_do=-1)]),
    ],
)
def test_facts_that_contradict_themselves_are_refused(
    facts: tuple[list[JobToServe], list[Offer]],
) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        best_plan(*facts)


@pytest.mark.parametrize(
    ("haul_mi", "expected"), [(None, 1), (0.0, 1), (250.0, 1), (250.1, 2), (900.0, 4)]
)
def test_days_of_a_haul(haul_mi: float | None, expected: int) -> None:
    assert days_for_haul(haul_mi, miles_a_day=250.0, least_days=1) == expected


@pytest.mark.parametrize("miles", [0.0, -1.0, float("nan"), float("inf")])
def test_a_day_of_no_miles_is_refused(miles: float) -> None:
    with pytest.raises(ValueError, match="more than 0"):
        days_for_haul(10.0, miles_a_day=miles, least_days=1)


def test_out_of_time_keeps_a_plan_that_can_be_or_none() -> None:
    jobs, offers = fleet(20, 6)
    plan = best_plan(jobs, offers, time_limit_s=0.0)
    away: dict[str, list[Span]] = {}
    for each in plan.jobs:
        for one in each.choices:
            assert not any(s.overlaps(each.job.days) for s in away.get(one.offer.unit, []))
            away.setdefault(one.offer.unit, []).append(each.job.days)


def fleet(units: int, jobs: int, seed: int = 7) -> tuple[list[JobToServe], list[Offer]]:
    """An invented fleet with about half its offers suited, on jobs that overlap."""
    drawn = random.Random(seed)
    asked = [job(key, first := drawn.randint(0, 20), first + 4, 1 + key % 3) for key in range(jobs)]
    offers = [
        offer(
            f"S-{unit:02}",
            each.key,
            haul_mi=float(drawn.randint(0, 300)),
            fit=drawn.choice([Fit.OUTRIGHT, Fit.CARE, Fit.NO]),
            margin=drawn.uniform(1.0, 5.0),
            days_before=drawn.randint(0, 2),
            days_after=1,
        )
        for unit in range(units)
        for each in asked
    ]
    return asked, offers


def test_sixty_units_and_twelve_jobs_are_planned(capsys: pytest.CaptureFixture[str]) -> None:
    asked, offers = fleet(60, 12)
    began = time.monotonic()
    plan = best_plan(asked, offers)
    with capsys.disabled():
        print(f"\n60 units x 12 jobs planned in {time.monotonic() - began:.2f} s")
    assert plan.is_proven
    assert plan.score[Aim.SERVED] == 12
