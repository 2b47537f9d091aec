"""Whether a unit may go to a job at all, said first: its forces are told beside it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ratings.jobs.words import short_condition
from ratings.mechanics.extraction.conditions import standing_state
from ratings.mechanics.extraction.outcomes import (
    Condition,
    ConditionKey,
    ConditionState,
    UnitVerdict,
    Verdict,
)
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.standing import Standing

# Of a condition that an answer takes as met on its day, and nothing has met yet.
ASSUMED = "assumed done"


class Go(StrEnum):
    """Whether a unit may go, best first."""

    GO = "may go"
    CARE = "may go with care"
    FIRST = "not yet"
    NO = "do not send"


@dataclass(frozen=True)
class MayGo:
    """Whether a unit may go, and why not or with what care. reasons: in a few words each."""

    state: Go
    reasons: tuple[str, ...]

    @property
    def words(self) -> str:
        """State and reasons in a line."""
        first = "first to be put right: " if self.state is Go.FIRST else ""
        listed = "; ".join(self.reasons)
        return f"{self.state}: {first}{listed}" if listed else str(self.state)


def reason_words(condition: Condition, unit: Unit) -> str:
    """Return a condition that doesn't simply hold in a few words, with which job or why."""
    if condition.key is ConditionKey.DATES and unit.committed:
        return f"held by {unit.committed}"
    if condition.key is ConditionKey.SERVICE and unit.out_of_service:
        return f"out of service: {unit.out_of_service.rstrip('.')}"
    return short_condition(condition, unit)


_FORCES = {
    Verdict.NOT_SUITABLE: "its forces fall short",
    Verdict.CANNOT_BE_JUDGED: "its forces cannot be judged",
    Verdict.CARE: "a force inside the margin for care",
}


def range_reasons(verdict: UnitVerdict) -> list[str]:
    """Return at which end of the ground's range a verdict comes out worse, in a few words."""
    order = list(Verdict)
    ends = ((verdict.high, "high"), (verdict.low, "low"))
    return [
        f"{'little margin' if end.may_go else 'not'} at the {name} end of the ground’s range"
        for end, name in ends
        if order.index(end) > order.index(verdict.verdict)
    ]


def may_go_of(verdict: UnitVerdict, unit: Unit, cares: tuple[str, ...] = ()) -> MayGo:
    """Return whether a unit may go, by its forces and by every condition.

    cares: what else asks for care of one that may go, in a few words each.
    """

    def short(*states: ConditionState) -> tuple[str, ...]:
        return tuple(
            reason_words(each, unit) for each in verdict.conditions if each.state in states
        )

    forces = (_FORCES[verdict.verdict],) if verdict.verdict in _FORCES else ()
    if not verdict.may_be_promised:
        of_forces = () if verdict.verdict.may_go else forces
        return MayGo(Go.NO, (*of_forces, *short(ConditionState.BLOCKS, ConditionState.TO_DO)))
    if verdict.to_do:
        return MayGo(Go.FIRST, short(ConditionState.TO_DO))
    care = (*forces, *short(ConditionState.CARE), *range_reasons(verdict), *cares)
    return MayGo(Go.CARE if care else Go.GO, care)


def standings_words(policy: ExtractionPolicy) -> str:
    """Return which units in service may go out by the rules, by how they stand."""
    with_care = [
        str(each) for each in Standing if standing_state(each, policy) is ConditionState.CARE
    ]
    words = "Units in service that meet listing may go out"
    return f"{words}; one {' or '.join(with_care)}, only with care." if with_care else f"{words}."
