"""The extraction check: does a unit suit pulling this pile out of this ground."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ratings.mechanics.extraction.forces import finite, force_checks, worst_of_each
from ratings.mechanics.extraction.ground import Ground, ground
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.outcomes import (
    Check,
    CheckKey,
    Outcome,
    UnitVerdict,
    Verdict,
)
from ratings.mechanics.extraction.rules import BelowListing, ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.standing import Standing

# From good to bad; the worst outcome of a unit's checks is its verdict.
_SEVERITY = {outcome: place for place, outcome in enumerate(Outcome)}
_VERDICTS = dict(zip(Outcome, Verdict, strict=True))
_ORDER = {verdict: place for place, verdict in enumerate(Verdict)}
_KEYS = {key: place for place, key in enumerate(CheckKey)}
# What a check of yes or no counts as where margins are compared.
_MARGIN_WITHOUT = {Outcome.FAILS: 0.0, Outcome.UNKNOWN: 0.0, Outcome.CARE: 1.0}
# Halvings of the embedment: to a few thousandths of an inch in any pile.
_HALVINGS = 24


def check(
    unit: Unit,
    job: Job,
    policy: ExtractionPolicy | None = None,
    resistance: Ground | None = None,
) -> UnitVerdict:
    """Check one unit against a job.

    resistance: the ground's, where it was calculated already; it is the same for every unit.
    A screening aid: the crane's chart, local code and a qualified person decide.
    Raises LayerFault where the layers give no resistance.
    """
    rules = policy or ExtractionPolicy()
    hold = resistance or ground(job, rules)
    forces = force_checks(unit, job, rules, hold)
    states = state_checks(unit, job, rules)
    care = rules.care_margin
    checks = (*worst_of_each(forces, hold.resistance_lbf, care), *states)
    governing = min(checks, key=_governs)

    def flip_lbf(margin: float) -> float | None:
        """Resistance of the ground above which some check holds no more with a margin."""
        flips = [each.flip_lbf(margin) for each in forces if each.share]
        known = [flip for flip in flips if not math.isnan(flip)]
        return finite(max(min(known, default=math.inf), 0.0))

    low, high = (
        _worst([*(each.outcome(end, care) for each in forces), *(each.outcome for each in states)])
        for end in (hold.low_lbf, hold.high_lbf)
    )
    return UnitVerdict(
        mark=unit.mark,
        verdict=_worst([each.outcome for each in checks]),
        governing=governing.key,
        margin=governing.margin,
        checks=checks,
        low=low,
        high=high,
        flip_lbf=flip_lbf(1.0),
        care_flip_lbf=flip_lbf(care),
    )


def check_fleet(
    units: Sequence[Unit], job: Job, policy: ExtractionPolicy | None = None
) -> list[UnitVerdict]:
    """Check every unit against a job, in the order given.

    Raises LayerFault where the layers give no resistance.
    """
    rules = policy or ExtractionPolicy()
    hold = ground(job, rules)
    return [check(unit, job, rules, hold) for unit in units]


def ranking(verdicts: Sequence[UnitVerdict]) -> list[int]:
    """Return the places of verdicts, best first.

    By verdict, then by how few checks of force aren't known, then by least margin, then as
    given. A unit of which nothing is known comes after those of which something is.
    """
    return sorted(range(len(verdicts)), key=lambda place: _rank(verdicts[place]))


def embedment_to_suit_ft(
    unit: Unit, job: Job, policy: ExtractionPolicy, margin: float = 1.0
) -> float | None:
    """Return the largest embedment at which every check of force holds with a margin, ft.

    The toe is raised: only another unit that has pulled the pile so far comes to it. What digging
    would do is excavation_to_suit_ft.
    The job's own where they hold as it is. None where they hold at none, or aren't known.
    The amplitude the soil needs is taken as at full embedment.
    """
    at_full = ground(job, policy)
    checks = force_checks(unit, job, policy, at_full)

    def suits(resistance_lbf: float) -> bool:
        """Say whether every check holds; one that isn't known doesn't."""
        return all(each.supply >= margin * each.demand(resistance_lbf) for each in checks)

    if suits(at_full.resistance_lbf):
        return job.pile.embedment_ft
    if not suits(0.0):
        return None
    low_ft, high_ft = 0.0, job.pile.embedment_ft
    for _ in range(_HALVINGS):
        middle_ft = (low_ft + high_ft) / 2.0
        is_light = suits(ground(job, policy, middle_ft).resistance_lbf)
        low_ft, high_ft = (middle_ft, high_ft) if is_light else (low_ft, middle_ft)
    return low_ft


def state_checks(unit: Unit, job: Job, policy: ExtractionPolicy) -> tuple[Check, ...]:
    """Return the checks of one unit that don't depend on the ground."""
    days, most_days = unit.days_since_inspection, policy.inspection_days
    # An inspection that was never made is overdue, not unknown.
    is_due = days is None or days > most_days
    checks = [
        Check(CheckKey.STANDING, _standing(unit, policy)),
        Check(
            CheckKey.INSPECTION,
            Outcome.FAILS if is_due else Outcome.HOLDS,
            None if days is None else float(days),
            float(most_days),
        ),
        Check(CheckKey.SERVICE, Outcome.FAILS if unit.out_of_service else Outcome.HOLDS),
        Check(CheckKey.RATING, Outcome.CARE if unit.stale_lots else Outcome.HOLDS),
        Check(CheckKey.DATES, Outcome.FAILS if unit.committed else Outcome.HOLDS),
    ]
    away_mi, limit_mi = unit.distance_mi, job.haul_limit_mi
    if away_mi is not None:
        is_far = limit_mi is not None and away_mi > limit_mi
        outcome = Outcome.CARE if is_far else Outcome.HOLDS
        checks.append(Check(CheckKey.DISTANCE, outcome, away_mi, limit_mi))
    return tuple(checks)


def _standing(unit: Unit, policy: ExtractionPolicy) -> Outcome:
    if unit.standing is Standing.MEETS_LISTING:
        return Outcome.HOLDS
    if unit.standing is Standing.UNRATED:
        return Outcome.UNKNOWN
    if unit.standing is Standing.BELOW_LISTING and policy.below_listing == BelowListing.REFUSE:
        return Outcome.FAILS
    return Outcome.CARE


def _worst(outcomes: Sequence[Outcome]) -> Verdict:
    return _VERDICTS[max(outcomes, key=_SEVERITY.__getitem__)]


def _governs(check: Check) -> tuple[int, float, int]:
    """Sort the worst outcome first, then the least margin; yes or no counts as no margin."""
    margin = check.margin
    if margin is None:
        margin = _MARGIN_WITHOUT.get(check.outcome, math.inf)
    return -_SEVERITY[check.outcome], margin, _KEYS[check.key]


def _rank(verdict: UnitVerdict) -> tuple[int, int, float]:
    margins = [each.margin for each in verdict.checks if each.margin is not None]
    unknown = sum(
        each.outcome is Outcome.UNKNOWN and each.key is not CheckKey.STANDING
        for each in verdict.checks
    )
    return _ORDER[verdict.verdict], unknown, -min(margins, default=0.0)
