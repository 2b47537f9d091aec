"""Which units are free on some days and may go, whatever the job."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace
from typing import Any

from ratings.jobs.candidates import candidates
from ratings.jobs.rules import rules_in_force
from ratings.jobs.words import short_words
from ratings.mechanics.extraction.check import state_checks
from ratings.mechanics.extraction.outcomes import Outcome

# Asked of no job in particular, so that none limits the haul.
_NO_JOB: Any = SimpleNamespace(haul_limit_mi=None)


def why_not_free(first_day: date, last_day: date) -> dict[int, str]:
    """Return why each unit can't go on some days, by its housing's key; "" where it can.

    A housing off every hammer isn't named. By the gate a commitment asks: held, out of service,
    its standing, its last full count. What a job asks of its forces is another matter.
    """
    policy = rules_in_force()
    return {
        each.housing.pk: "; ".join(
            short_words(check, each.unit)
            for check in state_checks(each.unit, _NO_JOB, policy)
            if check.outcome in (Outcome.FAILS, Outcome.UNKNOWN)
        )
        for each in candidates(first_day, last_day)
    }
