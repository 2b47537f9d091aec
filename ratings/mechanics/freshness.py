"""Whether a rating still holds: by its age, and by how warm its rubber was when tested."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from ratings.mechanics.arguments import not_negative, number, set_checked


class Stale(StrEnum):
    """Why a rating is stale. No number of days: the same fact must read the same tomorrow."""

    TOO_OLD = "its newest test is older than the policy lets a rate hold"
    TOO_COLD = "its rubber was tested colder than the policy allows"
    TOO_WARM = "its rubber was tested warmer than the policy allows"


@dataclass(frozen=True)
class HoldPolicy:
    """How long a rate holds, days, and the rubber temperatures it may be tested at, °F.

    Raises ValueError for days below 0 and for a coldest above the warmest.
    """

    valid_days: float
    coldest_f: float
    warmest_f: float

    def __post_init__(self) -> None:
        valid_days = not_negative("valid_days", self.valid_days, "days")
        coldest, warmest = number("coldest_f", self.coldest_f), number("warmest_f", self.warmest_f)
        if coldest > warmest:
            raise ValueError(f"coldest_f is {coldest:g}: give no more than warmest_f, {warmest:g}")
        set_checked(self, valid_days=valid_days, coldest_f=coldest, warmest_f=warmest)


def stale_reasons(
    policy: HoldPolicy, age_days: float, rubber_f: Sequence[float | None] = ()
) -> tuple[Stale, ...]:
    """Return why a rating is stale, nothing where it is fresh.

    age_days: since its newest test; on the last day it still holds.
    rubber_f: rubber temperature of each of its tests; one not taken (None) says nothing.
    Raises ValueError for an age below 0: a test that is yet to come rates nothing.
    """
    age = not_negative("age_days", age_days, "days")
    known = [
        number(f"rubber_f reading {place}", value)
        for place, value in enumerate(rubber_f, start=1)
        if value is not None
    ]
    found = {
        Stale.TOO_OLD: age > policy.valid_days,
        Stale.TOO_COLD: any(value < policy.coldest_f for value in known),
        Stale.TOO_WARM: any(value > policy.warmest_f for value in known),
    }
    return tuple(reason for reason, holds in found.items() if holds)
