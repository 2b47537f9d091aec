"""Whether anything that can be planned lets a unit go that may not go as it stands."""

from __future__ import annotations

from enum import Enum

from ratings.jobs.candidates import Candidate
from ratings.jobs.remedies import MOST_REFITS, remedies_for
from ratings.mechanics.extraction.job import PileOfJob
from ratings.mechanics.extraction.outcomes import CheckKey, ConditionKey, Outcome, Told, UnitVerdict
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.supply import stretch_while_vibrating_in

# Nothing that is planned for a commitment meets these: they are put right on record first.
NOT_TO_BE_PLANNED = (ConditionKey.CLAMP_KIND, ConditionKey.DATES, ConditionKey.DISTANCE)


class Mending(Enum):
    """What lets a unit go that may not go as it stands."""

    NOTHING = "nothing that can be planned"
    PLANS = "what can be planned"
    PADS = "pads from stock, if any"


def mending_of(judged: Told) -> Mending:
    """Return what lets a unit go that holds by its forces. NOTHING of one that may go.

    A standing is mended only by pads from stock, and those are offered only where its line pull
    holds with care.
    """
    if judged.may_go or not judged.may_be_promised:
        return Mending.NOTHING
    unmet = {each.key for each in judged.conditions if not each.state.lets_go}
    if unmet & set(NOT_TO_BE_PLANNED):
        return Mending.NOTHING
    if ConditionKey.STANDING not in unmet:
        return Mending.PLANS
    pull = judged.check(CheckKey.LINE_PULL)
    return Mending.NOTHING if pull is None or pull.outcome is Outcome.HOLDS else Mending.PADS


def mended_by_pads(
    candidate: Candidate,
    verdict: UnitVerdict,
    piles: tuple[PileOfJob, ...],
    policy: ExtractionPolicy,
) -> bool:
    """Return whether pads from stock let a unit go, of those that mending_of leaves to them."""
    job = next(each.job for each in piles if each.number == verdict.pile)
    stretch_in = stretch_while_vibrating_in(candidate.unit, job)
    refits = remedies_for(candidate, piles, policy, verdict, stretch_in).refits[:MOST_REFITS]
    standings = (each.verdict.condition(ConditionKey.STANDING) for each in refits)
    return any(each is not None and each.state.lets_go for each in standings)
