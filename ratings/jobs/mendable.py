"""Whether anything that can be planned lets a unit go that may not go as it stands."""

from __future__ import annotations

from ratings.jobs.candidates import Candidate
from ratings.jobs.remedies import MOST_REFITS, remedies_for
from ratings.mechanics.extraction.job import PileOfJob
from ratings.mechanics.extraction.outcomes import CheckKey, ConditionKey, Outcome, UnitVerdict
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.supply import stretch_while_vibrating_in

# Nothing that is planned for a commitment meets these: they are put right on record first.
NOT_TO_BE_PLANNED = (ConditionKey.CLAMP_KIND, ConditionKey.DATES, ConditionKey.DISTANCE)


def is_mendable(
    candidate: Candidate,
    verdict: UnitVerdict,
    piles: tuple[PileOfJob, ...],
    policy: ExtractionPolicy,
) -> bool:
    """Return whether a unit that holds by its forces may go once what can be planned is done.

    False of one that may go as it stands. A standing is mended only by pads from stock, and those
    are offered only where its line pull holds with care.
    """
    if verdict.may_go or not verdict.may_be_promised:
        return False
    unmet = {each.key for each in verdict.conditions if not each.state.lets_go}
    if unmet & set(NOT_TO_BE_PLANNED):
        return False
    if ConditionKey.STANDING not in unmet:
        return True
    pull = verdict.check(CheckKey.LINE_PULL)
    if pull is None or pull.outcome is Outcome.HOLDS:
        return False
    job = next(each.job for each in piles if each.number == verdict.pile)
    stretch_in = stretch_while_vibrating_in(candidate.unit, job)
    refits = remedies_for(candidate, piles, policy, verdict, stretch_in).refits[:MOST_REFITS]
    standings = (each.verdict.condition(ConditionKey.STANDING) for each in refits)
    return any(each is not None and each.state.lets_go for each in standings)
