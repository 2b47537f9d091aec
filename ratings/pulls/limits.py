"""What a recorded hook load passed of what pads, clamp, crane and rigging are good for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from ratings.mechanics.extraction.forces import force_checks
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job, PullMethod
from ratings.mechanics.extraction.outcomes import CheckKey
from ratings.mechanics.soil import LayerFault
from ratings.models.pull_record import PullDoubt
from ratings.pulls.sheet_answer import AnswerInputs

_LIMITS = {
    CheckKey.LINE_PULL: PullDoubt.ABOVE_PADS,
    CheckKey.CLAMP: PullDoubt.ABOVE_CLAMP,
    CheckKey.CRANE: PullDoubt.ABOVE_CRANE,
    CheckKey.RIGGING: PullDoubt.ABOVE_RIGGING,
}


@dataclass(frozen=True)
class Passed:
    """A limit that a pull went beyond. load_lbf: what it came to bear, limit_lbf: is good for."""

    limit: PullDoubt
    load_lbf: float
    limit_lbf: float


def limits_passed(
    asked: AnswerInputs, job: Job, measured_lbf: float, *, is_vibrated: bool
) -> Iterator[Passed]:
    """Yield each limit of the answer that a resistance measured of the ground went beyond.

    By the checks of the answer itself, so that each bears the weights that hang on it and no
    others; the crane by its whole chart, since what a pull may use of it is a rule for planning.
    What isn't known of a unit is passed by nothing. A pipe whose end isn't known: as the answer
    judged it, by the worse of both.
    """
    method = PullMethod.VIBRATING if is_vibrated else PullMethod.STILL
    whole = replace(asked.policy, crane_share=1.0)
    pulled = replace(job, method=method)
    try:
        hold = ground(pulled, whole)
    except LayerFault:
        # The layers say nothing of a pull made this way; no limit below hangs on them.
        pulled, hold = job, ground(job, whole)
    found: dict[PullDoubt, Passed] = {}
    for each in force_checks(asked.unit, pulled, whole, hold):
        limit, load_lbf = _LIMITS.get(each.key), each.demand(measured_lbf)
        if limit is None or not load_lbf > each.supply:
            continue
        if limit not in found or found[limit].load_lbf < load_lbf:
            found[limit] = Passed(limit, load_lbf, each.supply)
    yield from found.values()
