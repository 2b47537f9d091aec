"""At what pull to stop: the least of what pads, crane, rigging, clamp and pile are good for."""

from __future__ import annotations

from dataclasses import dataclass

from ratings.mechanics.extraction.demand import LoadPath
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.supply import stretch_at_pull_in
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.extraction.verdict import CheckKey, UnitVerdict

# Those that a harder pull bears on. The centrifugal force is no limit of a pull: short of it
# the pile stays, and nothing breaks.
BEARS_PULL = (
    CheckKey.LINE_PULL,
    CheckKey.CRANE,
    CheckKey.RIGGING,
    CheckKey.CLAMP,
    CheckKey.TENSION,
)


@dataclass(frozen=True)
class Stops:
    """Where a pull stops.

    at_pads_lbf: the pull at the pads that each may come to.
    by: whose limit comes first. hook_lbf: the hook load then, block and all.
    stretch_in: of the pads then, by the best estimate; None beyond their usable travel.
    """

    at_pads_lbf: dict[CheckKey, float]
    by: CheckKey
    hook_lbf: float
    stretch_in: float | None

    @property
    def is_by_pads(self) -> bool:
        return self.by is CheckKey.LINE_PULL


def stops_of(unit: Unit, job: Job, verdict: UnitVerdict, path: LoadPath) -> Stops:
    """Return where the pull of a unit stops that may go.

    Each check's slack is what the pull may grow by before it; raises ValueError where one isn't
    known, which no committed unit's is.
    """
    if path.at_pads_lbf is None or path.at_crane_lbf is None:
        raise ValueError("a weight of the load path is not known: no hook load can be given")
    slack = {key: _slack_lbf(verdict, job, key) for key in BEARS_PULL}
    by = min(slack, key=lambda key: slack[key])
    at_pads = {key: path.at_pads_lbf + each for key, each in slack.items()}
    return Stops(
        at_pads_lbf=at_pads,
        by=by,
        hook_lbf=path.at_crane_lbf + slack[by],
        stretch_in=stretch_at_pull_in(unit, max(0.0, at_pads[by])),
    )


def _slack_lbf(verdict: UnitVerdict, job: Job, key: CheckKey) -> float:
    check = verdict.check(key)
    if check is None or check.demand is None or check.supply is None:
        raise ValueError(f"the check of {key} is not known: no hook load can be given")
    # A leg bears only its share of what the pull grows by.
    share = job.crane.leg_factor if key is CheckKey.RIGGING else 1.0
    return (check.supply - check.demand) / share
