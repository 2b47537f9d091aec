"""Which units are free on some days and may go, whatever the job."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from ratings.jobs.candidates import units_on_hammers
from ratings.jobs.rules import rules_in_force
from ratings.jobs.words import short_condition
from ratings.mechanics.extraction.conditions import conditions_of
from ratings.mechanics.extraction.outcomes import Condition, ConditionKey, ConditionState
from ratings.mechanics.extraction.unit import Unit

# What the yard can do by then, and does as a matter of course; the rest keeps a unit at home.
_DONE_BY_THEN = (ConditionKey.INSPECTION, ConditionKey.RATING, ConditionKey.CALIBRATION)


@dataclass(frozen=True)
class Freedom:
    """Whether a unit is free on some days and may go: why not, "" where it is and may.

    to_do: what is still to be done by then, "" where nothing is.
    """

    why_not: str
    to_do: str


def freedom(first_day: date, last_day: date) -> dict[int, Freedom]:
    """Return whether each unit can go on some days, by its housing's key.

    A housing off every hammer isn't named. By the gate a commitment asks: held, out of service,
    its standing, its last full count. A count or a rate that can be had by then is told as to be
    done. What a job asks of its forces is another matter.
    """
    policy = rules_in_force()
    return {
        each.housing: _freedom(each.unit, conditions_of(each.unit, policy))
        for each in units_on_hammers(first_day, last_day)
    }


def _freedom(unit: Unit, conditions: Iterable[Condition]) -> Freedom:
    unmet = [each for each in conditions if not each.state.lets_go]
    to_do = [
        each for each in unmet if each.state is ConditionState.TO_DO and each.key in _DONE_BY_THEN
    ]
    return Freedom(
        "; ".join(short_condition(each, unit) for each in unmet if each not in to_do),
        "; ".join(short_condition(each, unit) for each in to_do),
    )
