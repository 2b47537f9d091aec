"""How long the pads of each lot last, from every pad that was ever in a housing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from django.db import models

from fleet.models import PadLot, SuppressorHousing
from inspections.lives.history import Ending, PadTime, pad_times_of
from inspections.lives.worked import HoursWorked, Worked
from ratings.mechanics.survival import Comparison, Life, LotLife, Told, compare_lots, lot_life

# A pad that failed before its hammer ran at all failed within its first hour.
FIRST_HOUR = 1.0


class Since(models.TextChoices):
    """From when the hours of a pad are counted."""

    FITTED = "fitted", "from new"
    SEEN = "seen", "from when each was first counted"


class LeftOut(models.TextChoices):
    """Why a pad tells nothing of how long its lot lasts."""

    NO_HOURS = "no hours", "the hour meter of its hammer was never read"
    NOT_FITTED = "not fitted", "when it was fitted is not on record"
    FIRST_UNSOUND = "first unsound", "its first count found it unsound"
    DOUBTFUL = "doubtful", "found unsound, then sound with no new pad on record"


@dataclass(frozen=True)
class PadRecord:
    """A pad, what it had worked when it was last known to be sound, and when it was found failed.

    sound, failed: None where hours are not known, and failed where it did not fail.
    """

    time: PadTime
    sound: Worked | None
    failed: Worked | None

    @property
    def worked(self) -> Worked | None:
        """What it had worked when it was found unsound, or else when last seen."""
        return self.failed or self.sound


@dataclass(frozen=True)
class LivesOfLot:
    """What is known of the lives of one lot's pads. left_out: how many, by why."""

    lives: tuple[Life, ...]
    left_out: Mapping[LeftOut, int]

    @property
    def told(self) -> LotLife:
        return _told(self.lives)


def pad_records(housing_ids: Iterable[int], known_by: datetime | None = None) -> list[PadRecord]:
    """Return every pad that was ever in some housings, with what it worked. Seven queries.

    known_by: a moment after which nothing that was recorded counts; None for all there is.
    """
    keys = list(housing_ids)
    worked = HoursWorked(keys, known_by)
    return [_record(time, worked) for time in pad_times_of(keys, known_by)]


def fleet_records(known_by: datetime | None = None) -> list[PadRecord]:
    """Return every pad that was ever in any housing."""
    return pad_records(SuppressorHousing.objects.values_list("pk", flat=True), known_by)


def _record(time: PadTime, worked: HoursWorked) -> PadRecord:
    housing_id, since, sound_at = time.housing_id, time.since, time.last_sound_at
    sound = worked.between(housing_id, since, sound_at or since)
    failed = None
    if time.ending is Ending.FAILED and time.ended_at is not None:
        failed = worked.between(housing_id, since, time.ended_at)
    return PadRecord(time, sound, failed)


def lives_by_lot(records: Iterable[PadRecord], since: Since) -> dict[int, LivesOfLot]:
    """Return the lives of the pads of every lot, by its key."""
    lives: dict[int, list[Life]] = {}
    left_out: dict[int, Counter[LeftOut]] = {}
    for record in records:
        lot_id = record.time.lot_id
        if lot_id is None:
            continue
        why = _why_left_out(record, since)
        lives.setdefault(lot_id, [])
        left_out.setdefault(lot_id, Counter())
        if why is None:
            lives[lot_id].append(_life(record))
        else:
            left_out[lot_id][why] += 1
    # In one order, so that the same lives are the same answer.
    return {
        key: LivesOfLot(tuple(sorted(each, key=_order)), left_out[key])
        for key, each in lives.items()
    }


def _order(life: Life) -> tuple[float, float]:
    return life.after_hours, -1.0 if life.by_hours is None else life.by_hours


def _why_left_out(record: PadRecord, since: Since) -> LeftOut | None:
    time = record.time
    if time.ending is Ending.DOUBTFUL:
        return LeftOut.DOUBTFUL
    if time.fitted_at is None and since is Since.FITTED:
        return LeftOut.NOT_FITTED
    if time.last_sound_at is None:
        return LeftOut.FIRST_UNSOUND
    has_failed = time.ending is Ending.FAILED
    if record.sound is None or (has_failed and record.failed is None):
        return LeftOut.NO_HOURS
    return None


def _life(record: PadRecord) -> Life:
    assert record.sound is not None
    after = record.sound.low_hours
    if record.failed is None:
        return Life(after)
    return Life(after, max(record.failed.high_hours, after, FIRST_HOUR))


@dataclass(frozen=True)
class OtherLot:
    """Another lot beside this one: what its pads tell, and whether the two last alike."""

    lot: PadLot
    told: LotLife
    comparison: Comparison


def other_lots(lot: PadLot, lives: Mapping[int, LivesOfLot]) -> list[OtherLot]:
    """Return every other lot whose life can be told, held against this one; none if its can't."""
    own = lives.get(lot.pk)
    if own is None or own.told.told is not Told.LIFE:
        return []
    found = []
    for other in PadLot.objects.filter(pk__in=lives).exclude(pk=lot.pk):
        each = lives[other.pk]
        if each.told.told is not Told.LIFE:
            continue
        comparison = _compared(own.lives, each.lives)
        if comparison is not None:
            found.append(OtherLot(other, each.told, comparison))
    return found


# The same lives are asked for at every visit until another inspection tells more.
@lru_cache(maxsize=128)
def _told(lives: tuple[Life, ...]) -> LotLife:
    return lot_life(lives)


@lru_cache(maxsize=256)
def _compared(own: tuple[Life, ...], other: tuple[Life, ...]) -> Comparison | None:
    return compare_lots({"own": own, "other": other})
