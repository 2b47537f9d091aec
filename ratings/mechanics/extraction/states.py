"""The checks that are a matter of yes or no: standing, inspection, service, rating, dates."""

from __future__ import annotations

from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.policy import REFUSE, ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.extraction.verdict import Check, CheckKey, Outcome
from ratings.mechanics.standing import Standing


def state_checks(unit: Unit, job: Job, policy: ExtractionPolicy) -> tuple[Check, ...]:
    """Return the checks of one unit that don't depend on the ground."""
    checks = [
        Check(CheckKey.STANDING, _standing(unit, policy)),
        _inspection(unit, policy),
        Check(CheckKey.SERVICE, Outcome.FAILS if unit.out_of_service else Outcome.HOLDS),
        Check(CheckKey.RATING, Outcome.CARE if unit.stale_lots else Outcome.HOLDS),
        Check(CheckKey.DATES, Outcome.FAILS if unit.committed else Outcome.HOLDS),
    ]
    if unit.distance_mi is not None:
        checks.append(_distance(unit.distance_mi, job.haul_limit_mi))
    return tuple(checks)


def _standing(unit: Unit, policy: ExtractionPolicy) -> Outcome:
    if unit.standing is Standing.MEETS_LISTING:
        return Outcome.HOLDS
    if unit.standing is Standing.UNRATED:
        return Outcome.UNKNOWN
    if unit.standing is Standing.BELOW_LISTING and policy.below_listing == REFUSE:
        return Outcome.FAILS
    return Outcome.CARE


def _inspection(unit: Unit, policy: ExtractionPolicy) -> Check:
    """An inspection that was never made is overdue, not unknown."""
    days = unit.days_since_inspection
    is_due = days is None or days > policy.inspection_days
    return Check(
        CheckKey.INSPECTION,
        Outcome.FAILS if is_due else Outcome.HOLDS,
        None if days is None else float(days),
        float(policy.inspection_days),
    )


def _distance(distance_mi: float, limit_mi: float | None) -> Check:
    is_far = limit_mi is not None and distance_mi > limit_mi
    return Check(
        CheckKey.DISTANCE, Outcome.CARE if is_far else Outcome.HOLDS, distance_mi, limit_mi
    )
