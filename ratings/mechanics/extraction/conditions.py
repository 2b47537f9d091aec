"""What must be so beside the forces before a unit goes: standing, dates and the like."""

from __future__ import annotations

from functools import cache

from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.outcomes import Condition, ConditionKey, ConditionState
from ratings.mechanics.extraction.rules import BelowListing, ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.standing import Standing


def conditions_of(
    unit: Unit, policy: ExtractionPolicy, job: Job | None = None, *, is_by_load: bool = False
) -> tuple[Condition, ...]:
    """Return the conditions of one unit, judged on every day of the hold.

    job: what the unit is asked for; None asks nothing of its clamp or of how far it is away.
    is_by_load: whether no stretch says where the pull stops, and the load indicator alone does.

    One that fails is still to do while the first day is ahead, where the yard can meet it by
    then; from the first day on it stands in the way.
    """
    late = ConditionState.TO_DO if unit.is_ahead else ConditionState.BLOCKS
    conditions = [
        _of_yes_or_no(ConditionKey.STANDING, standing_state(unit.standing, policy, late)),
        _inspection(unit, policy, late),
        _of_yes_or_no(ConditionKey.SERVICE, late if unit.out_of_service else ConditionState.HOLDS),
        _of_yes_or_no(ConditionKey.RATING, _rating(unit, late)),
    ]
    if (watched := _calibration(unit, late, is_by_load=is_by_load)) is not None:
        conditions.append(_of_yes_or_no(ConditionKey.CALIBRATION, watched))
    if job is not None:
        conditions.append(_of_yes_or_no(ConditionKey.CLAMP_KIND, _clamp(unit, job)))
    is_held = ConditionState.BLOCKS if unit.committed else ConditionState.HOLDS
    conditions.append(_of_yes_or_no(ConditionKey.DATES, is_held))
    if job is None:
        return tuple(conditions)
    away_mi, limit_mi = unit.distance_mi, job.haul_limit_mi
    if away_mi is not None:
        is_far = limit_mi is not None and away_mi > limit_mi
        state = ConditionState.CARE if is_far else ConditionState.HOLDS
        conditions.append(Condition(ConditionKey.DISTANCE, state, away_mi, limit_mi))
    return tuple(conditions)


def standing_state(
    standing: Standing, policy: ExtractionPolicy, late: ConditionState = ConditionState.BLOCKS
) -> ConditionState:
    """Return whether a unit of a standing may go by these rules. late: where it may not."""
    if standing is Standing.MEETS_LISTING:
        return ConditionState.HOLDS
    is_refused = policy.below_listing == BelowListing.REFUSE
    if standing is Standing.UNRATED or (standing is Standing.BELOW_LISTING and is_refused):
        return late
    return ConditionState.CARE


@cache
def _of_yes_or_no(key: ConditionKey, state: ConditionState) -> Condition:
    """Return a condition without a figure: there are few, and each unit of a fleet has five."""
    return Condition(key, state)


def _inspection(unit: Unit, policy: ExtractionPolicy, late: ConditionState) -> Condition:
    """Judge the last full count on the first day and on the last.

    A unit never counted is overdue, not unknown. A count that lapses within the hold is to be made
    again before it where it then lasts; in a hold longer than a count lasts, and in one that has
    begun, it falls due on the site, which is watched with care.
    """
    most_days, days = policy.inspection_days, unit.days_since_count
    if days is None:
        return Condition(ConditionKey.INSPECTION, late, None, float(most_days))
    last_days = days + unit.days_held
    if days > most_days:
        state = late
    elif last_days <= most_days:
        state = ConditionState.HOLDS
    elif unit.is_ahead and unit.days_held <= most_days:
        state = ConditionState.TO_DO
    else:
        state = ConditionState.CARE
    return Condition(
        ConditionKey.INSPECTION, state, float(days), float(most_days), float(last_days)
    )


def _rating(unit: Unit, late: ConditionState) -> ConditionState:
    """Judge the rates: one that lapses and is then dropped takes the unit's rating with it."""
    if unit.lapsing_lots and unit.drops_stale:
        return late
    return ConditionState.CARE if unit.stale_lots or unit.lapsing_lots else ConditionState.HOLDS


def _calibration(unit: Unit, late: ConditionState, *, is_by_load: bool) -> ConditionState | None:
    """Judge the calibration of what watches the pull; None where nothing is asked of it.

    Where none is named, care: the crew must have one that reads true before it pulls by it.
    """
    if unit.calibration_lapsing:
        return late
    if unit.watched_by:
        return ConditionState.HOLDS
    if unit.watched_by is None:
        return None if unit.calibration_lapsing is None else ConditionState.HOLDS
    return ConditionState.CARE if is_by_load else None


def _clamp(unit: Unit, job: Job) -> ConditionState:
    """Judge whether the jaws hold this kind of pile; what isn't on record is entered first."""
    if unit.clamp_kinds is None:
        return ConditionState.TO_DO
    return ConditionState.HOLDS if job.pile.kind in unit.clamp_kinds else ConditionState.BLOCKS
