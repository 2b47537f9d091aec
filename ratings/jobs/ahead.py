"""Commitments made ahead of time: what is to be done until then, and the unit once it is done."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fleet.dates import days_words
from fleet.models import PadLot
from ratings.jobs.answer import UnitAnswer
from ratings.jobs.candidates import Candidate
from ratings.jobs.mendable import NOT_TO_BE_PLANNED
from ratings.jobs.remedies import MOST_REFITS
from ratings.ledger.facts import lot_rate
from ratings.mechanics.extraction.outcomes import ConditionKey, UnitVerdict
from ratings.mechanics.extraction.rated_pads import rated_pads
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.record import read_inputs
from ratings.mechanics.unit_rating import UnitInputs, rate_unit
from ratings.mechanics.what_if import with_sound_pads
from ratings.models import CommitmentCondition, ConditionKind, LoadIndicator, LotRating

# What must be so before the unit leaves, whatever happens on the site.
BEFORE_IT_GOES = (ConditionKind.PADS, ConditionKind.RATE, ConditionKind.SERVICE)

# Which condition of an answer holds once something is done.
MEETS = {
    ConditionKind.COUNT: ConditionKey.INSPECTION,
    ConditionKind.PADS: ConditionKey.STANDING,
    ConditionKind.RATE: ConditionKey.RATING,
    ConditionKind.CALIBRATION: ConditionKey.CALIBRATION,
    ConditionKind.SERVICE: ConditionKey.SERVICE,
}


@dataclass(frozen=True)
class Plan:
    """Something to be done on one of some days, both ends included, for a unit to go.

    positions: (side, number) that get a pad of the lot.
    """

    kind: ConditionKind
    from_day: date
    to_day: date
    lot: PadLot | None = None
    positions: tuple[tuple[str, int], ...] = ()
    indicator: LoadIndicator | None = None
    words: str = ""

    @property
    def said(self) -> str:
        """What is to be done, in words."""
        match self.kind:
            case ConditionKind.COUNT:
                return "count every pad and tape the travel"
            case ConditionKind.PADS:
                places = ", ".join(f"{side}{number}" for side, number in self.positions)
                many = f"{len(self.positions)} pad{'' if len(self.positions) == 1 else 's'}"
                return f"fit {many} of lot {self.lot} in {places}"
            case ConditionKind.RATE:
                return f"approve a rate of lot {self.lot} that holds on every day"
            case ConditionKind.CALIBRATION:
                return f"calibrate load indicator {self.indicator}"
            case ConditionKind.SERVICE:
                return "release it to service"
            case ConditionKind.OTHER:
                return self.words

    @property
    def days(self) -> str:
        """On which days."""
        return days_words(self.from_day, self.to_day)


def plan_of(row: CommitmentCondition) -> Plan:
    """Return what a condition on record asks."""
    return Plan(
        ConditionKind(row.kind),
        row.from_day,
        row.to_day,
        lot=row.lot,
        positions=tuple((side, number) for side, number in row.positions),
        indicator=row.indicator,
        words=row.words,
    )


def is_before_it_goes(plan: Plan, first_day: date) -> bool:
    """Whether a plan must be done before a unit goes, and not while it is held."""
    return plan.kind in BEFORE_IT_GOES or plan.from_day <= first_day


def oldest_count_days(
    counted_on: date | None, counts: Iterable[Plan], first_day: date, last_day: date
) -> int | None:
    """Return how old the newest full count may be on the worst day of a hold, days.

    counts: planned. Each is taken as made on its first day, from where it ages; one while the
    unit is held is waited for until its last day. None where a day has no count before it.
    """
    oldest, newest = 0, counted_on
    for count in sorted(counts, key=lambda each: each.to_day):
        if not is_before_it_goes(count, first_day):
            if newest is None:
                return None
            oldest = max(oldest, (min(count.to_day, last_day) - newest).days)
        newest = count.from_day if newest is None else max(newest, count.from_day)
    return None if newest is None else max(oldest, (last_day - newest).days)


def as_planned(
    candidate: Candidate,
    plans: Sequence[Plan],
    counted_on: date | None,
    first_day: date,
    last_day: date,
) -> Unit:
    """Return a unit as it will be once every plan is done.

    Its count is as old as it may be on the worst day of the hold.
    """
    unit = candidate.unit
    for plan in plans:
        if plan.kind is ConditionKind.PADS:
            unit = _refitted(candidate, unit, plan)
    unit = _watched(unit, plans)
    rates = {plan.lot.mark for plan in plans if plan.kind is ConditionKind.RATE and plan.lot}
    counts = [plan for plan in plans if plan.kind is ConditionKind.COUNT]
    is_released = any(plan.kind is ConditionKind.SERVICE for plan in plans)
    return replace(
        unit,
        stale_lots=tuple(each for each in unit.stale_lots if each not in rates),
        out_of_service="" if is_released else unit.out_of_service,
        lapsing_lots=tuple(each for each in unit.lapsing_lots if each not in rates),
        # On the worst day of the hold, which is then all there is to judge.
        days_since_count=oldest_count_days(counted_on, counts, first_day, last_day),
        days_held=0,
    )


def _watched(unit: Unit, plans: Sequence[Plan]) -> Unit:
    """Return a unit whose pull is watched by what is calibrated by then.

    A load indicator planned where the job names none is the one that watches.
    """
    marks = [plan.indicator.mark for plan in plans if plan.indicator is not None]
    if not marks or unit.watched_by is None:
        return unit
    lapsing = tuple(each for each in unit.calibration_lapsing or () if each not in marks)
    return replace(unit, watched_by=unit.watched_by or marks[0], calibration_lapsing=lapsing)


def cares_of(verdict: UnitVerdict) -> tuple[str, ...]:
    """Return what somebody must know of a unit before it is committed, in words; () for nothing."""
    found = []
    if verdict.asks_care:
        found.append("it is suitable with care only")
    if not verdict.holds_over_range:
        found.append("the verdict does not hold over the range of the ground")
    return tuple(found)


# Why a condition lets no unit go.
_UNMET = {
    ConditionKey.STANDING: "its standing does not let it go",
    ConditionKey.INSPECTION: "its pads are not counted in time",
    ConditionKey.SERVICE: "it is out of service",
    ConditionKey.RATING: "a rate of its pads is stale",
    ConditionKey.CALIBRATION: "the load indicator that watches the pull is not calibrated to the "
    "last day",
    ConditionKey.CLAMP_KIND: "its clamp is not on record as one that holds this kind of pile",
    ConditionKey.DATES: "it is held by another job on these days",
    ConditionKey.DISTANCE: "it is farther away than was asked for",
}


def why_not(verdict: UnitVerdict) -> str:
    """Return the verdict on a unit that may not go, and what it fails by: what follows "it is"."""
    if not verdict.verdict.may_go:
        return f"{verdict.verdict} for this job ({verdict.governing})"
    unmet = (_UNMET[each.key] for each in verdict.conditions if not each.state.lets_go)
    # Its forces are no reason, so they are not told here.
    return f"not ready for this job: {'; '.join(unmet)}"


def beyond_plans(verdict: UnitVerdict) -> str:
    """Return why no commitment ahead of time can be made, whatever is planned; "" where one can."""
    return "; ".join(
        _UNMET[each.key]
        for each in verdict.conditions
        if each.key in NOT_TO_BE_PLANNED and not each.state.lets_go
    )


def _refitted(candidate: Candidate, unit: Unit, plan: Plan) -> Unit:
    """Return a unit with sound pads of a lot in the positions of a plan."""
    if candidate.entry is None or plan.lot is None:
        return unit
    inputs = read_inputs(candidate.entry.inputs)
    rating = LotRating.objects.in_force_by_lot([plan.lot.pk]).get(plan.lot.pk)
    if rating is None:
        return unit
    return with_inputs(unit, fitted(inputs, rating, plan.positions))


def fitted(
    inputs: UnitInputs, rating: LotRating, positions: Iterable[tuple[str, int]]
) -> UnitInputs:
    """Return the inputs of a unit with sound pads of a rated lot in some positions."""
    places = set(positions)
    chosen = [each for each in inputs.positions if (each.side, each.number) in places]
    return with_sound_pads(inputs, chosen, lot_rate(rating, inputs.policy))


def with_inputs(unit: Unit, inputs: UnitInputs) -> Unit:
    """Return a unit as it is rated by other inputs."""
    rating, rated = rate_unit(inputs), rated_pads(inputs)
    return replace(
        unit,
        groups=rated.groups,
        usable_travel_in=rating.usable_travel_in,
        standing=rating.standing,
        stale_lots=tuple(each for each in unit.stale_lots if each in rated.lots),
        lapsing_lots=tuple(each for each in unit.lapsing_lots if each in rated.lots),
        stiff_groups=rated.stiff_groups,
        unknown_stiffness=rated.unknown_stiffness,
    )


def counts_needed(
    counted_on: date | None,
    policy: ExtractionPolicy,
    first_day: date,
    last_day: date,
    today: date,
) -> Iterator[Plan]:
    """Yield the full counts a hold needs so that no day of it is without one that holds.

    The first as near to the first day as may be, each later one a week before the last runs out.
    """
    days, begins = timedelta(days=policy.inspection_days), max(first_day, today)
    if counted_on is None or counted_on + days < begins:
        counted_on = max(today, begins - timedelta(days=min(6, policy.inspection_days)))
        yield Plan(ConditionKind.COUNT, counted_on, begins)
    while counted_on + days < last_day:
        to_day = counted_on + days
        counted_on = max(counted_on + timedelta(days=1), to_day - timedelta(days=6), today)
        yield Plan(ConditionKind.COUNT, counted_on, to_day)


def offered_plans(
    answer: UnitAnswer, first_day: date, last_day: date, today: date
) -> tuple[Plan, ...]:
    """Return what would let a unit go, as its answer finds: counts, rates, pads, a release."""
    unit, candidate = answer.unit, answer.candidate
    by = max(first_day, today)
    found = list(counts_needed(candidate.counted_on, answer.policy, first_day, last_day, today))
    if unit.out_of_service:
        found.append(Plan(ConditionKind.SERVICE, today, by))
    lapsing = unit.calibration_lapsing or ()
    found += [
        Plan(ConditionKind.CALIBRATION, today, by, indicator=each)
        for each in LoadIndicator.objects.filter(mark__in=lapsing)
    ]
    # Stale by now, or before the last day is over.
    stale = (*unit.stale_lots, *unit.lapsing_lots)
    marks = {*stale, *(each.way.lot for each in answer.remedies.refits)}
    lots = {lot.mark: lot for lot in PadLot.objects.filter(mark__in=marks)}
    found += [Plan(ConditionKind.RATE, today, by, lot=lots[mark]) for mark in stale if mark in lots]
    found += [
        Plan(
            ConditionKind.PADS,
            today,
            by,
            lot=lots[refit.way.lot],
            positions=tuple((each.side, each.number) for each in refit.way.positions),
        )
        for refit in answer.remedies.refits[:MOST_REFITS]
        if refit.way.lot in lots
    ]
    return tuple(found)


def first_choice(plans: Iterable[Plan]) -> tuple[Plan, ...]:
    """Return plans with the first way to fit pads alone: no two are done."""
    refits = [plan for plan in plans if plan.kind is ConditionKind.PADS]
    return tuple(plan for plan in plans if plan not in refits[1:])
