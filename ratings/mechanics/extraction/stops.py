"""Where a pull stops: by how much it may grow, and whether a stretch or a load alone tells."""

from __future__ import annotations

from collections.abc import Iterable

from ratings.mechanics.extraction.job import Crane
from ratings.mechanics.extraction.outcomes import Check, CheckKey
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.supply import is_stop_known
from ratings.mechanics.extraction.unit import Unit

# Those but the pads' own that a harder pull bears on. The centrifugal force is no limit of a
# pull: short of it the pile stays, and nothing breaks.
BESIDE_THE_PADS = (CheckKey.CRANE, CheckKey.RIGGING, CheckKey.CLAMP, CheckKey.TENSION)


def slack_lbf(check: Check, crane: Crane, policy: ExtractionPolicy) -> float | None:
    """Return what the pull may grow by until a check is at its limit, lbf; None where not known.

    The yard's margin is kept, but by the pads, whose working capacity has its own. 0 where a check
    holds only inside that margin: then the pull expected is the most.
    """
    demand, supply = check.demand, check.supply
    if demand is None or supply is None:
        return None
    if check.key is CheckKey.LINE_PULL:
        return supply - demand
    # A leg bears only its share of what the pull grows by.
    share = crane.leg_factor if check.key is CheckKey.RIGGING else 1.0
    with_margin = supply / policy.care_margin
    return max(with_margin - demand, min(0.0, supply - demand)) / share


def stops_by_load(
    unit: Unit, checks: Iterable[Check], crane: Crane, policy: ExtractionPolicy
) -> bool:
    """Return whether no stretch stands for the limit that the stiffest pads reach first.

    Then the load indicator alone tells where to stop. False where a force isn't known: there is
    no pull to stop.
    """
    by_key = {each.key: each for each in checks}
    pull = by_key.get(CheckKey.LINE_PULL)
    limits = [by_key[key] for key in BESIDE_THE_PADS if key in by_key]
    slack = [slack_lbf(each, crane, policy) for each in limits]
    known = [each for each in slack if each is not None]
    if pull is None or pull.demand is None or not known or len(known) < len(slack):
        return False
    return not is_stop_known(unit, max(0.0, pull.demand + min(known)))
