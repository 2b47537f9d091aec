"""How units are likely to stand in the days ahead, from what is on record at a moment."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property, lru_cache
from typing import Any

from django.db.models import Q
from django.utils import timezone

from fleet import clock
from fleet.models import PadLot, SuppressorHousing
from inspections.forecast.laws import Laws
from inspections.forecast.planned import HoursAhead, hours_ahead
from inspections.lives.lot_lives import PadRecord, fleet_records
from inspections.lives.worked import HoursWorked
from inspections.models import Forecast
from inspections.schedule.due import UnitDue, due_of_fleet
from inspections.schedule.kinds import PADS, kinds_in_use
from ratings.mechanics.pad_forecast import (
    Ahead,
    ForecastUnit,
    LotLaw,
    NoLaw,
    Outlook,
    PadsLost,
    SoundPad,
    outlooks,
)
from ratings.mechanics.record import read_inputs
from ratings.mechanics.standing import Standing
from ratings.mechanics.unit_rating import SOUND, StaleRates
from ratings.models import CurrentRating, LedgerEntry, LotRating

HORIZONS = (30, 90, 180)
# The chance to fall short within these days says which unit to look at first.
NEAR = 90
# Nobody looks at a unit's next count of pads further ahead than this.
MOST_DAYS = 400


class Records:
    """All that the forecasts of some units rest on, read once, as known at a moment.

    at: a past moment, of which only what was recorded by then counts; None for now.
    """

    def __init__(self, housings: Iterable[SuppressorHousing], at: datetime | None = None) -> None:
        self.at, self.known_by = at or clock.now(), at
        self.day = timezone.localtime(self.at).date()
        self.housings = {each.pk: each for each in housings}
        keys = list(self.housings)
        self.entries = _heads(keys, at)
        self.lots_in_order = sorted(PadLot.objects.all(), key=lambda each: each.mark)
        self.lots = {each.pk: each.mark for each in self.lots_in_order}
        pads = fleet_records(at)
        self.laws = Laws(pads, self.lots)
        self.pads: dict[int, dict[tuple[str, int], PadRecord]] = {key: {} for key in keys}
        for record in pads:
            if record.time.is_in and record.time.housing_id in self.pads:
                self.pads[record.time.housing_id][record.time.key] = record
        self.worked = HoursWorked(keys, at)
        self.ahead = hours_ahead(keys, self.at, at)
        ratings = {
            pk
            for entry in self.entries.values()
            for pk in entry.contents["provenance"]["lot_ratings"].values()
        }
        self.tested_at = dict(
            LotRating.objects.filter(pk__in=ratings).values_list("pk", "tested_at")
        )

    def sound_pads(self, key: int) -> tuple[SoundPad, ...] | str:
        """Return the sound pads of a housing with what each has worked; else why not known."""
        inputs = read_inputs(self.entries[key].inputs)
        found = []
        for position in inputs.positions:
            if position.condition != SOUND:
                continue
            record = self.pads[key].get((position.side, position.number))
            where = f"{position.side}{position.number}"
            if record is None or record.time.last_sound_at is None:
                return f"when pad {where} was last seen sound is not on record"
            since = record.time.since
            worked = self.worked.between(key, since, self.at)
            if worked is None or record.sound is None:
                return "the hour meter of its hammer was never read: read it, then count the pads"
            seen_at = record.time.last_sound_at
            sound = record.sound.low_hours + self._unread_hours(key, since, seen_at)
            hours = max(sound, worked.low_hours + self._unread_hours(key, since, self.at))
            law = self.laws.name_of(record.time.lot_id, record.time.fitted_at is not None)
            lot = position.lot or ""
            found.append(SoundPad(position.side, position.number, lot, law, sound, hours))
        return tuple(found)

    def _unread_hours(self, key: int, start: datetime, end: datetime) -> float:
        """Return what its hammer ran from one moment to another that no reading tells of.

        As planned, or at its pace, since its meter was last read or the housing went onto it.
        """
        ahead = self.ahead[key]
        if ahead.read_on is None or ahead.mounted_on is None:
            return 0.0
        usual = ahead.a_day
        if usual is None:
            usual = sum(ahead.planned.values()) / len(ahead.planned) if ahead.planned else 0.0
        first = max(ahead.read_on, ahead.mounted_on, timezone.localtime(start).date())
        days = (timezone.localtime(end).date() - first).days
        each = (first + timedelta(days=number) for number in range(1, days + 1))
        return sum(ahead.planned.get(day, usual) for day in each)

    def keeps_lapsed(self, key: int) -> bool:
        """Say whether by its policy the figure of a rate that lapsed is kept, flagged."""
        policy = self.entries[key].contents["inputs"]["policy"]
        return bool(policy["stale_rates"] == StaleRates.KEEP)

    def lapses(self, key: int) -> dict[str, date]:
        """Return the first day on which the rate of each lot in a unit holds no more."""
        contents = self.entries[key].contents
        valid = timedelta(days=contents["inputs"]["policy"]["rate_valid_days"])
        return {
            mark: timezone.localtime(self.tested_at[pk] + valid).date()
            for mark, pk in contents["provenance"]["lot_ratings"].items()
            if pk in self.tested_at
        }


def _heads(keys: Sequence[int], at: datetime | None) -> dict[int, LedgerEntry]:
    """Return the last entry of each housing as of a moment, by its key."""
    if at is None:
        rows = CurrentRating.objects.filter(housing__in=keys).select_related("head")
        return {row.housing_id: row.head for row in rows}
    posted = LedgerEntry.objects.filter(housing__in=keys, recorded_at__lte=at)
    newest = dict(posted.order_by("sequence").values_list("housing", "pk"))
    return {each.housing_id: each for each in LedgerEntry.objects.filter(pk__in=newest.values())}


@dataclass(frozen=True)
class Made:
    """A forecast as it is shown and kept, and what it rests on."""

    document: dict[str, Any]
    basis: dict[str, Any]
    entry: LedgerEntry | None

    @cached_property
    def digest(self) -> str:
        """SHA-256 of what it rests on."""
        return _digest_of(self.basis)

    @property
    def can_be(self) -> bool:
        """Whether anything could be forecast."""
        return not self.document["why_not"]

    def short(self, days: int) -> float | None:
        """The chance to fall short by a day ahead; None where it can't be forecast."""
        for each in self.document["horizons"]:
            if each["days"] == days and not each["why_not"]:
                return float(each["not_proven"] + each["below"])
        return None


def forecasts_of(
    housings: Iterable[SuppressorHousing],
    at: datetime | None = None,
    *,
    with_count: bool = True,
) -> dict[int, Made]:
    """Return the forecast of each of some units, by the key of its housing. Saves nothing.

    with_count: whether to say which inspection comes next that counts pads, as of today.
    """
    records = Records(housings, at)
    # What is due is known as of today only, not of a day that is told again.
    is_today = at is None and records.day == timezone.localdate()
    due = _due(records) if with_count and is_today else {}
    counting = {kind.name for kind in kinds_in_use() if PADS in kind.needs} if due else set()
    return {key: _made(records, key, due.get(key), counting) for key in records.housings}


def forecast_of(housing: SuppressorHousing) -> Made:
    """Return the forecast of one unit as of now. Saves nothing."""
    return forecasts_of([housing])[housing.pk]


def _due(records: Records) -> dict[int, UnitDue]:
    units = due_of_fleet(list(records.housings.values()))
    return {each.housing.pk: each for each in units if each.housing is not None}


def _made(records: Records, key: int, due: UnitDue | None, counting: set[str]) -> Made:
    entry = records.entries.get(key)
    if entry is None:
        why = "it is not rated yet: count its pads and tape its travel first"
        return Made(_cannot(records, key, why), {}, None)
    if entry.judged is Standing.UNRATED:
        missing = " and ".join(entry.results["missing"])
        why = f"it is unrated: it needs {missing}"
        return Made(_cannot(records, key, why), {}, entry)
    pads = records.sound_pads(key)
    ahead = records.ahead[key]
    if isinstance(pads, str):
        return Made(_cannot(records, key, pads), _basis(records, key, ()), entry)
    basis = _basis(records, key, pads)
    days = [_ahead(records, key, number) for number in HORIZONS]
    if any(each is None for each in days):
        why = (
            "how much it will work is not known: its hour meter tells of less than four weeks. "
            "Enter the hours planned"
        )
        return Made(_cannot(records, key, why), basis, entry)
    count = _next_count(due, counting, ahead, records.day)
    wanted = [each for each in days if each is not None]
    if count is not None:
        at_count = _ahead(records, key, count["days"])
        assert at_count is not None
        wanted.append(at_count)
    inputs = read_inputs(entry.inputs)
    is_softer = (entry.contents["provenance"].get("proof_pull") or {}).get("is_softer", False)
    once_lost = inputs if is_softer else replace(inputs, proof=None)
    laws = {each.law: records.laws.by_name[each.law] for each in pads}
    # One order of pads, so that the same unit is found again.
    found = _outlooks(
        ForecastUnit(inputs, once_lost, pads), tuple(sorted(laws.items())), tuple(wanted)
    )
    told = found[: len(HORIZONS)]
    document = _head(records, key) | {
        "why_not": told[0].why_not,
        "horizons": [_horizon(records, key, each) for each in told],
        "lots": _lots(pads, laws),
        "next_count": count and count | {"outlook": _horizon(records, key, found[-1])},
        "pads": [[p.side, p.number, p.lot, p.sound_hours, p.hours] for p in pads],
    }
    return Made(document, basis, entry)


Named = tuple[tuple[str, LotLaw | NoLaw], ...]


# A unit is asked for by its own page, the fleet's and the lots', until something changes.
@lru_cache(maxsize=1024)
def _outlooks(unit: ForecastUnit, laws: Named, days: tuple[Ahead, ...]) -> tuple[Outlook, ...]:
    return outlooks(unit, dict(laws), days)


def _head(records: Records, key: int) -> dict[str, Any]:
    housing, entry = records.housings[key], records.entries.get(key)
    ahead = records.ahead[key]
    return {
        "mark": housing.mark,
        "made_on": records.day.isoformat(),
        "standing": entry.standing if entry else Standing.UNRATED.value,
        "positions": entry.positions if entry else 0,
        "sound": entry.sound_pads if entry else 0,
        "unsound": entry.positions - entry.sound_pads if entry else 0,
        "capacity_lbf": entry.working_capacity_lbf if entry else None,
        "listed_lbf": entry.listed_lbf if entry else None,
        "read_on": ahead.read_on.isoformat() if ahead.read_on else None,
        "over": ahead.over,
        "next_count": None,
        "horizons": [],
        "lots": [],
        "pads": [],
    }


def _cannot(records: Records, key: int, why: str) -> dict[str, Any]:
    return _head(records, key) | {"why_not": why}


def _ahead(records: Records, key: int, days: int) -> Ahead | None:
    day = records.day + timedelta(days=days)
    hours = records.ahead[key].by(day)
    if hours is None:
        return None
    lapsed = sorted(mark for mark, last in records.lapses(key).items() if last <= day)
    return Ahead(days, hours, tuple(lapsed))


def _horizon(records: Records, key: int, found: Outlook) -> dict[str, Any]:
    days = found.ahead.days
    lapses = records.lapses(key)
    return {
        "days": days,
        "day": (records.day + timedelta(days=days)).isoformat(),
        "hours": found.ahead.hours,
        "by": records.ahead[key].words(days),
        "why_not": found.why_not,
        "meets": found.meets,
        "not_proven": found.not_proven,
        "below": found.below,
        "short_low": found.short_low,
        "short_high": found.short_high,
        "is_guessed": found.is_guessed,
        "lost": found.lost and _lost(found.lost),
        "lost_by_lot": [[lot, *_lost(each)] for lot, each in found.lost_by_lot],
        "lapsed": [[mark, lapses[mark].isoformat()] for mark in found.ahead.lapsed],
        "keeps_lapsed": records.keeps_lapsed(key),
    }


def _lost(lost: PadsLost) -> list[Any]:
    return [lost.expected, lost.low, lost.high]


def _lots(pads: Sequence[SoundPad], laws: Mapping[str, LotLaw | NoLaw]) -> list[dict[str, Any]]:
    """Return by which law the pads of each lot are forecast, and what it rests on."""
    found = []
    for lot, name in sorted({(pad.lot, pad.law) for pad in pads}):
        law = laws[name]
        mine = [pad for pad in pads if (pad.lot, pad.law) == (lot, name)]
        each: dict[str, Any] = {
            "lot": lot,
            "pads": len(mine),
            "oldest_hours": max(pad.hours for pad in mine),
            "from_new": "from new" in name,
        }
        if isinstance(law, NoLaw):
            each |= {"why_not": law.why}
        else:
            each |= {
                "why_not": "",
                "basis": law.basis.value,
                "failed": law.failed,
                "seen": law.pads,
                "longest_hours": law.longest_hours,
                "widened": law.lot_spread,
            }
        found.append(each)
    return found


def _next_count(
    due: UnitDue | None, counting: set[str], ahead: HoursAhead, day: date
) -> dict[str, Any] | None:
    """Return the next inspection due that counts pads: its kind, and in how many days."""
    if due is None or due.is_spare:
        return None
    found = []
    for each in due.kinds:
        if each.row.kind not in counting or each.row.in_use_only:
            continue
        days = [] if each.due_on is None else [(each.due_on - day).days]
        if each.hours_left is not None:
            by_hours = ahead.days_until(each.hours_left, MOST_DAYS) if each.hours_left > 0 else 0
            days += [] if by_hours is None else [by_hours]
        if days and min(days) <= MOST_DAYS:
            found.append((max(0, min(days)), str(each.row.kind), each.is_overdue))
    if not found:
        return None
    days_left, kind, is_overdue = min(found)
    return {
        "kind": kind,
        "days": days_left,
        "day": (day + timedelta(days=days_left)).isoformat(),
        "is_overdue": is_overdue,
    }


def _basis(records: Records, key: int, pads: Sequence[SoundPad]) -> dict[str, Any]:
    """Return what a forecast rests on, as it is kept."""
    entry = records.entries[key]
    provenance = entry.contents["provenance"]
    ahead = records.ahead[key]
    return {
        "entry": [entry.sequence, entry.hash],
        "policy": provenance["policy"],
        "rates": provenance["lot_ratings"],
        "planned": ahead.planned_keys,
        "jobs": ahead.job_keys,
        "read_on": ahead.read_on.isoformat() if ahead.read_on else None,
        "readings": _digest_of(sorted({(f"{day}", hours) for day, hours in ahead.readings})),
        "lives": {name: records.laws.digest(name) for name in sorted({p.law for p in pads})},
    }


def _digest_of(values: Any) -> str:
    return hashlib.sha256(json.dumps(values, sort_keys=True).encode()).hexdigest()


CHANGED = {
    "entry": "pads or figures of the unit",
    "policy": "the policy of rating",
    "rates": "the rate of a lot",
    "planned": "the hours planned",
    "jobs": "the days that jobs hold it",
    "read_on": "the reading of its hour meter",
    "readings": "the reading of its hour meter",
    "lives": "what is known of how long pads of its lots last",
}


def changes_since(kept: Forecast, now: Made | None = None) -> list[str]:
    """Return what a kept forecast rests on that changed since, in words; none where it holds.

    now: the unit's forecast as of now, where it is at hand.
    """
    basis = (now or forecast_of(kept.housing)).basis
    # A forecast of before says less of what it rests on.
    changed = [
        words
        for name, words in CHANGED.items()
        if name in kept.basis and basis.get(name) != kept.basis[name]
    ]
    return list(dict.fromkeys(changed))


def housings_in_use(day: date) -> list[SuppressorHousing]:
    """Return the housings that are not out of use on a day."""
    rows = SuppressorHousing.objects.filter(Q(retired_on__isnull=True) | Q(retired_on__gt=day))
    return list(rows.select_related("yard").order_by("mark"))
