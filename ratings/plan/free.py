"""Which units are free on some days and may go, whatever the job."""

from __future__ import annotations

from datetime import date

from ratings.jobs.candidates import candidates
from ratings.jobs.rules import rules_in_force
from ratings.jobs.words import short_condition
from ratings.mechanics.extraction.conditions import conditions_of


def why_not_free(first_day: date, last_day: date) -> dict[int, str]:
    """Return why each unit can't go on some days, by its housing's key; "" where it can.

    A housing off every hammer isn't named. By the gate a commitment asks: held, out of service,
    its standing, its last full count. What a job asks of its forces is another matter.
    """
    policy = rules_in_force()
    return {
        each.housing.pk: "; ".join(
            short_condition(condition, each.unit)
            for condition in conditions_of(each.unit, policy)
            if not condition.state.lets_go
        )
        for each in candidates(first_day, last_day)
    }
