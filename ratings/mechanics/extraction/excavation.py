"""How deep the ground must be dug away about a pile before a unit suits it."""

from __future__ import annotations

from ratings.mechanics.extraction.forces import judging_checks
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.soil import Hole

# Bottom of a hole a large excavator leaves in one place, ft: common practice, no published source.
WIDE_HOLE_FT = 20.0
# Halvings of the depth: to a few thousandths of an inch of any pile.
_HALVINGS = 24


def excavation_to_suit_ft(
    unit: Unit, job: Job, policy: ExtractionPolicy, margin: float = 1.0, width_ft: float = 0.0
) -> float | None:
    """Return the least depth to dig about the pile so that every check of force holds, ft.

    width_ft: of the hole's bottom; 0 where it is narrow or not known, and the ground below then
        keeps all of its friction.
    The lower shaft stays in the ground with its friction, soil within a pipe and other holds with
    theirs: digging is not raising (embedment_to_suit_ft). 0.0 where the unit suits as it is, None
    where it suits with no ground about the shaft at all, or a check isn't known.
    The amplitude the soil needs is taken as at full embedment.
    """
    at_full = ground(job, policy)
    checks = [
        (each, ways)
        for ways in job.possible_ends()
        for each in judging_checks(unit, ways, policy, at_full)
    ]

    def suits(depth_ft: float) -> bool:
        """Say whether every check holds with so deep a hole; one that isn't known doesn't."""
        hole = Hole(depth_ft, width_ft) if depth_ft else None
        held = {
            ways: ground(ways, policy, hole=hole).resistance_lbf for ways in job.possible_ends()
        }
        return all(each.supply >= margin * each.demand(held[ways]) for each, ways in checks)

    if suits(0.0):
        return 0.0
    if not suits(job.pile.embedment_ft):
        return None
    low_ft, high_ft = 0.0, job.pile.embedment_ft
    for _ in range(_HALVINGS):
        middle_ft = (low_ft + high_ft) / 2.0
        low_ft, high_ft = (low_ft, middle_ft) if suits(middle_ft) else (middle_ft, high_ft)
    return high_ft
