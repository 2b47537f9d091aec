"""Which pad was in each position, since when, what every look found, and how it ended."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import datetime

from django.db import models

from fleet.models.housing import UNSOUND, Condition
from inspections.count.newest_facts import Fact, Key, PadState, facts_by_housing, stages


class Ending(models.TextChoices):
    """How the time of a pad in its position ended, if it did."""

    STILL_IN = "still in", "still in"
    FAILED = "failed", "found unsound"
    MISSING = "missing", "found missing: failed or taken out is not on record"
    TAKEN_OUT = "taken out", "taken out sound"
    CHANGED = "changed", "another pad found in its place, no replacement on record"
    DOUBTFUL = "doubtful", "found unsound, then sound with no new pad on record"


# It had ended by the look that says so, at an hour nobody knows.
FOUND_GONE = (Ending.FAILED, Ending.MISSING)


@dataclass(frozen=True)
class Look:
    """What one count found of a pad, as it counts."""

    at: datetime
    condition: str


@dataclass
class PadTime:
    """One pad in one position.

    fitted_at: by a replacement on record; None where it was first seen in a count, so that how
    long it had been in is not known. since: when it was fitted, or first seen. ended_at: when a
    look found it unsound or changed, or it was taken out. condition: what it was found to be.
    is_in: whether it is there today.
    """

    housing_id: int
    key: Key
    since: datetime
    fitted_at: datetime | None
    lot_id: int | None
    looks: list[Look] = field(default_factory=list)
    ending: Ending = Ending.STILL_IN
    ended_at: datetime | None = None
    condition: str = ""
    is_in: bool = True

    @property
    def last_sound_at(self) -> datetime | None:
        """When it was last known to be sound before it ended; None where it never was."""
        sound = [look.at for look in self.looks if look.condition == Condition.SOUND]
        if self.ending in FOUND_GONE and self.ended_at is not None:
            sound = [at for at in sound if at < self.ended_at]
        return max(sound, default=self.fitted_at)

    @property
    def is_gone(self) -> bool:
        """Whether the last look at its place found no pad there."""
        return bool(self.looks) and self.looks[-1].condition == Condition.MISSING

    def end(self, ending: Ending, at: datetime, condition: str = "") -> None:
        """Say how it ended, unless it had before."""
        if self.ending is Ending.STILL_IN:
            self.ending, self.ended_at, self.condition = ending, at, condition


def pad_times(housing_id: int, facts: Iterable[Fact]) -> list[PadTime]:
    """Return every pad that was ever in a housing, in each position the first one first.

    A fact counts as everywhere: by when it happened, corrected ones not, a pad found unsound so
    until a new one is fitted or a second look agrees that it is sound.
    """
    times: defaultdict[Key, list[PadTime]] = defaultdict(list)
    for fact, key, state in stages(facts):
        before = times[key][-1] if times[key] else None
        _, lot_id = fact.pads[key]
        if fact.inspection is None:
            if before is not None:
                before.end(Ending.TAKEN_OUT, fact.at)
                before.is_in = False
            times[key].append(PadTime(housing_id, key, fact.at, fact.at, lot_id))
            continue
        if before is not None and _is_another(before, lot_id):
            before.end(Ending.CHANGED, fact.at)
            before.is_in = False
            before = None
        if before is None:
            before = PadTime(housing_id, key, fact.at, None, lot_id)
            times[key].append(before)
        _look(before, fact, state, lot_id)
    return [each for key in sorted(times) for each in times[key]]


def _is_another(pad: PadTime, lot_id: int | None) -> bool:
    return None not in (pad.lot_id, lot_id) and pad.lot_id != lot_id


def _look(pad: PadTime, fact: Fact, state: PadState, lot_id: int | None) -> None:
    if state.condition == Condition.MISSING and pad.is_gone:
        # The place is empty: nothing is looked at.
        return
    pad.looks.append(Look(fact.at, state.condition))
    pad.lot_id = pad.lot_id if lot_id is None else lot_id
    if state.condition in UNSOUND:
        # One that is gone may have been taken out sound: nobody knows.
        is_gone = state.condition == Condition.MISSING
        pad.end(Ending.MISSING if is_gone else Ending.FAILED, fact.at, state.condition)
    elif pad.ending in FOUND_GONE and state.was:
        pad.ending = Ending.DOUBTFUL


def pad_times_of(housing_ids: Collection[int], known_by: datetime | None = None) -> list[PadTime]:
    """Return every pad that was ever in some housings, as known by a moment. Four queries."""
    facts = facts_by_housing(housing_ids, known_by)
    return [each for key in housing_ids for each in pad_times(key, facts[key])]
