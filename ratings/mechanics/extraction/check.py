"""The extraction check: does a unit suit pulling this pile out of this ground."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

from ratings.mechanics.extraction.conditions import conditions_of
from ratings.mechanics.extraction.forces import (
    SEVERITY,
    Asked,
    asked_of_all,
    finite,
    judging_checks,
    worst_of_each,
)
from ratings.mechanics.extraction.ground import Ground, ground
from ratings.mechanics.extraction.job import Job, PileOfJob
from ratings.mechanics.extraction.outcomes import (
    Check,
    CheckKey,
    Outcome,
    Told,
    UnitVerdict,
    Verdict,
    worst_conditions,
)
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.stops import stops_by_load
from ratings.mechanics.extraction.unit import Unit

# The worst outcome of a unit's checks is its verdict.
_VERDICTS = dict(zip(Outcome, Verdict, strict=True))
_ORDER = {verdict: place for place, verdict in enumerate(Verdict)}
_KEYS = {key: place for place, key in enumerate(CheckKey)}
# What a check counts as that has no margin, where margins are compared.
_MARGIN_WITHOUT = {Outcome.FAILS: 0.0, Outcome.UNKNOWN: 0.0, Outcome.CARE: 1.0}
# Halvings of the embedment: to a few thousandths of an inch in any pile.
_HALVINGS = 24


def check(
    unit: Unit,
    job: Job,
    policy: ExtractionPolicy | None = None,
    resistance: Ground | None = None,
    pile: int = 1,
) -> UnitVerdict:
    """Check one unit against one pile of a job: its forces, and the conditions beside them.

    resistance: the ground's, where it was calculated already; it is the same for every unit.
    pile: number of its group in the job.
    A screening aid: the crane's chart, local code and a qualified person decide.
    Raises LayerFault where the layers give no resistance.
    """
    rules = policy or ExtractionPolicy()
    asked = asked_of_all(job, rules, resistance or ground(job, rules))
    return _OnPile(unit, asked, pile).whole


class _OnPile(Told):
    """One unit against one pile of a job: what its verdict rests on, and the whole where asked."""

    def __init__(self, unit: Unit, asked: Asked, number: int) -> None:
        self.unit, self.asked, self.number = unit, asked, number
        job, rules = asked.job, asked.policy
        self.forces = asked.of(unit)
        self.checks = worst_of_each(self.forces, asked.hold.resistance_lbf, rules.care_margin)
        self.governing = min((each for each in self.checks if each.judges), key=_governs)
        self.verdict = _VERDICTS[self.governing.outcome]
        # Asked only where it matters: it takes a search.
        is_by_load = unit.watched_by == "" and stops_by_load(unit, self.checks, job.crane, rules)
        self.conditions = conditions_of(unit, rules, job, is_by_load=is_by_load)

    @cached_property
    def whole(self) -> UnitVerdict:
        """The verdict, with its range and the resistances of the ground where it changes."""
        hold, care = self.asked.hold, self.asked.policy.care_margin
        judging = [each for each in self.forces if each.judges]

        def flip_lbf(margin: float) -> float | None:
            """Resistance of the ground above which some check holds no more with a margin."""
            flips = [each.flip_lbf(margin) for each in judging if each.share]
            known = [flip for flip in flips if not math.isnan(flip)]
            return finite(max(min(known, default=math.inf), 0.0))

        low, high = (
            _worst([each.outcome(end, care) for each in judging])
            for end in (hold.low_lbf, hold.high_lbf)
        )
        return UnitVerdict(
            mark=self.unit.mark,
            verdict=self.verdict,
            governing=self.governing.key,
            margin=self.governing.margin,
            checks=self.checks,
            low=low,
            high=high,
            flip_lbf=flip_lbf(1.0),
            care_flip_lbf=flip_lbf(care),
            conditions=self.conditions,
            pile=self.number,
        )


class JudgedUnit(Told):
    """One unit against every group of piles of a job, by the worst of them: see check_piles.

    pile: number of that group, whose checks these are. piles: how it comes out on each.
    What only a page that shows the unit asks is worked out when asked: `whole`.
    """

    def __init__(self, piles: tuple[_OnPile, ...]) -> None:
        self.piles = piles
        worst = piles[0] if len(piles) == 1 else max(piles, key=_badness)
        self.pile, self.verdict, self.checks = worst.number, worst.verdict, worst.checks
        self.conditions = (
            worst.conditions
            if len(piles) == 1
            else worst_conditions(each.conditions for each in piles)
        )
        self._worst = worst

    @cached_property
    def whole(self) -> UnitVerdict:
        """The whole verdict."""
        judged, worst = tuple(each.whole for each in self.piles), self._worst.whole
        if len(judged) == 1:
            return replace(worst, piles=judged)
        return replace(
            worst,
            low=max((each.low for each in judged), key=_ORDER.__getitem__),
            high=max((each.high for each in judged), key=_ORDER.__getitem__),
            conditions=self.conditions,
            piles=judged,
        )


def check_piles(
    unit: Unit,
    piles: Sequence[PileOfJob],
    policy: ExtractionPolicy | None = None,
    resistances: Sequence[Ground] | None = None,
) -> UnitVerdict:
    """Check one unit against every group of piles of a job: the verdict of the worst of them.

    The worst by its verdict, then by the least margin of what governs. Conditions are each as it
    stands worst, and the range is as wide as the verdicts of all groups.
    resistances: the ground's on each, where calculated already.
    Raises ValueError for no pile at all, LayerFault where the layers give no resistance.
    """
    if not piles:
        raise ValueError("piles is empty: give at least one")
    rules = policy or ExtractionPolicy()
    holds = resistances or [ground(each.job, rules) for each in piles]
    return _judged(unit, _asked(piles, rules, holds)).whole


def _asked(
    piles: Sequence[PileOfJob], rules: ExtractionPolicy, holds: Sequence[Ground]
) -> list[tuple[Asked, int]]:
    return [
        (asked_of_all(each.job, rules, hold), each.number)
        for each, hold in zip(piles, holds, strict=True)
    ]


def _judged(unit: Unit, asked: Sequence[tuple[Asked, int]]) -> JudgedUnit:
    return JudgedUnit(tuple(_OnPile(unit, each, number) for each, number in asked))


def check_fleet(
    units: Sequence[Unit], job: Job, policy: ExtractionPolicy | None = None
) -> list[UnitVerdict]:
    """Check every unit against one pile of a job, in the order given.

    Raises LayerFault where the layers give no resistance.
    """
    rules = policy or ExtractionPolicy()
    asked = asked_of_all(job, rules, ground(job, rules))
    return [_OnPile(unit, asked, 1).whole for unit in units]


def check_fleet_piles(
    units: Sequence[Unit], piles: Sequence[PileOfJob], policy: ExtractionPolicy | None = None
) -> list[UnitVerdict]:
    """Check every unit against every group of piles of a job, in the order given.

    Raises ValueError for no pile at all, LayerFault where the layers give no resistance.
    """
    return [each.whole for each in judge_fleet(units, piles, policy)]


def judge_fleet(
    units: Sequence[Unit], piles: Sequence[PileOfJob], policy: ExtractionPolicy | None = None
) -> list[JudgedUnit]:
    """Judge every unit as check_fleet_piles does: each as far as a ranking of all asks it.

    Raises ValueError for no pile at all, LayerFault where the layers give no resistance.
    """
    if not piles and units:
        raise ValueError("piles is empty: give at least one")
    rules = policy or ExtractionPolicy()
    asked = _asked(piles, rules, [ground(each.job, rules) for each in piles])
    return [_judged(unit, asked) for unit in units]


def ranking(verdicts: Sequence[UnitVerdict] | Sequence[JudgedUnit]) -> list[int]:
    """Return the places of verdicts, best first.

    What may be promised before what may not, then by the verdict of the forces, then by how few
    conditions are still to do, then by how few checks aren't known, then by least margin, then as
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
    checks = judging_checks(unit, job, policy, at_full)

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
    # None where a hold that stays whole until the pile is free is too much by itself.
    return low_ft or None


def _worst(outcomes: Sequence[Outcome]) -> Verdict:
    return _VERDICTS[max(outcomes, key=SEVERITY.__getitem__)]


def _governs(check: Check) -> tuple[int, float, int]:
    """Sort the worst outcome first, then the least margin; yes or no counts as no margin."""
    margin = check.margin
    if margin is None:
        margin = _MARGIN_WITHOUT.get(check.outcome, math.inf)
    return -SEVERITY[check.outcome], margin, _KEYS[check.key]


def _badness(judged: _OnPile) -> tuple[int, float]:
    margin = judged.governing.margin
    if margin is None:
        margin = 0.0 if judged.verdict is Verdict.CANNOT_BE_JUDGED else math.inf
    return _ORDER[judged.verdict], -margin


def _rank(verdict: UnitVerdict | JudgedUnit) -> tuple[bool, int, int, int, float]:
    unknown, least = 0, math.inf
    for one in verdict.piles or (verdict,):
        for each in one.checks:
            if each.judges:
                unknown += each.outcome is Outcome.UNKNOWN
                if each.margin is not None and each.margin < least:
                    least = each.margin
    return (
        not verdict.may_be_promised,
        _ORDER[verdict.verdict],
        len(verdict.to_do),
        unknown,
        -(0.0 if least == math.inf else least),
    )
