"""The extraction check of one unit: does it suit pulling this pile out of this ground."""

from __future__ import annotations

from ratings.mechanics.extraction.fleet import check_fleet
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.policy import ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.extraction.verdict import UnitVerdict


def check(unit: Unit, job: Job, policy: ExtractionPolicy | None = None) -> UnitVerdict:
    """Check one unit against a job: the same as it would be among a fleet.

    A screening aid: the crane's chart, local code and a qualified person decide.
    Raises LayerFault where the ground can't be reckoned with.
    """
    return check_fleet([unit], job, policy).unit(0)
