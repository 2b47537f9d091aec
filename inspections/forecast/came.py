"""What came of forecasts: which pads were found failed, and how the unit would have stood."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any

from django.utils import timezone

from fleet import clock
from inspections.count.newest_facts import facts_by_housing
from inspections.lives.history import Ending, PadTime, pad_times
from inspections.models import Forecast
from ratings.mechanics.record import read_inputs
from ratings.mechanics.standing import Standing
from ratings.mechanics.unit_rating import UnitInputs, rate_unit
from ratings.models import LedgerEntry, LotRating

# A count of all pads no further from the day tells what had come by then.
NEAR_DAYS = 15
LOST = "cracked"


@dataclass(frozen=True)
class Past:
    """One day a forecast looked ahead to, with what it said of it.

    short: the chance that the unit would not meet its listing. pads: those sound then, by
    position. is_short_at_once: whether it did not meet it already when the forecast was made.
    """

    housing_id: int
    mark: str
    made_at: datetime
    entry_id: int
    days: int
    short: float
    expected: float
    low: int
    high: int
    pads: tuple[tuple[str, int], ...]
    is_short_at_once: bool
    kept: int | None = None

    @property
    def day(self) -> date:
        return timezone.localtime(self.made_at).date() + timedelta(days=self.days)


@dataclass(frozen=True)
class Came:
    """What came of one day that was forecast.

    counted_on: the count it is read from. failed: pads sound at the forecast found failed by then.
    unknown: those taken out sound, replaced or missing before, of which nobody knows. standing: as
    the unit would have stood with those pads lost and none fitted; None where pads of which nobody
    knows would decide it. ledger: its standing in the ledger that day, whatever was fitted.
    """

    counted_on: date
    failed: int
    unknown: int
    standing: str | None
    ledger: str

    @property
    def is_short(self) -> bool | None:
        """Whether it did not meet its listing; None where nobody can say."""
        return None if self.standing is None else self.standing != Standing.MEETS_LISTING


def pasts_of(forecast: Forecast) -> list[Past]:
    """Return what a kept forecast said of each day it looked ahead to and could tell of."""
    return pasts(
        forecast.document,
        forecast.housing_id,
        forecast.recorded_at,
        forecast.entry_id,
        forecast.pk,
    )


def pasts(
    document: Mapping[str, Any],
    housing_id: int,
    made_at: datetime,
    entry_id: int,
    kept: int | None = None,
) -> list[Past]:
    """Return what a forecast's document says of each day ahead."""
    return [
        Past(
            housing_id,
            document["mark"],
            made_at,
            entry_id,
            each["days"],
            each["not_proven"] + each["below"],
            each["lost"][0],
            each["lost"][1],
            each["lost"][2],
            tuple((side, number) for side, number, *_ in document["pads"]),
            document["standing"] != Standing.MEETS_LISTING.value,
            kept,
        )
        for each in document["horizons"]
        if not each["why_not"]
    ]


def what_came(forecast: Sequence[Past]) -> list[Came | str]:
    """Return what came of each; or, in words, why that can't be told (yet). In a few queries."""
    housings = {each.housing_id for each in forecast}
    record = _Record(housings, {each.entry_id for each in forecast})
    return [record.of(each) for each in forecast]


class _Record:
    """The counts, pads and entries of some housings, read once."""

    def __init__(self, housings: Collection[int], entries: Collection[int]) -> None:
        self.now = clock.now()
        self.times: dict[int, dict[tuple[str, int], list[PadTime]]] = {key: {} for key in housings}
        self.counts: dict[int, list[datetime]] = {}
        for key, facts in facts_by_housing(list(housings)).items():
            for each in pad_times(key, facts):
                self.times[key].setdefault(each.key, []).append(each)
            # A count of some pads tells nothing of the others.
            self.counts[key] = sorted(
                fact.at
                for fact in facts
                if fact.inspection is not None and len(fact.pads) >= len(self.times[key])
            )
        self.ledger: dict[int, list[tuple[datetime, int, str, dict[str, int]]]] = {}
        posted = LedgerEntry.objects.filter(housing__in=housings).order_by("sequence")
        self.entries = {}
        for entry in posted:
            # Only what is asked for is parsed: a document is long.
            if entry.pk in entries:
                self.entries[entry.pk] = entry
            self.ledger.setdefault(entry.housing_id, []).append(
                (entry.occurred_at, entry.pk, entry.standing, {})
            )
        self._documents = {each.pk: each for each in posted}
        self.tested_at = dict(LotRating.objects.values_list("pk", "tested_at"))
        self._inputs: dict[int, UnitInputs] = {}
        self._standings: dict[tuple[Any, ...], Standing] = {}

    def of(self, past: Past) -> Came | str:
        end = timezone.make_aware(datetime.combine(past.day, time.max))
        if end > self.now:
            return "its day is still to come"
        near = timedelta(days=NEAR_DAYS)
        counts = [
            at for at in self.counts[past.housing_id] if abs(at - end) <= near and at > past.made_at
        ]
        if not counts:
            if self.now < end + near:
                return "no count of all its pads yet"
            return f"no count of all its pads within {NEAR_DAYS} days of it"
        at = min(counts, key=lambda each: (abs(each - end), each))
        failed, unknown = self._pads(past, at)
        standing: Standing | None = self._standing(past, at, failed)
        if unknown:
            meets = Standing.MEETS_LISTING
            if (self._standing(past, at, (*failed, *unknown)) is meets) is not (standing is meets):
                standing = None
        return Came(
            timezone.localtime(at).date(),
            len(failed),
            len(unknown),
            None if standing is None else standing.value,
            self._entry_at(past.housing_id, at)[2],
        )

    def _pads(
        self, past: Past, at: datetime
    ) -> tuple[tuple[tuple[str, int], ...], tuple[tuple[str, int], ...]]:
        """Return where pads sound at the forecast were found failed by then, and are not known."""
        failed: list[tuple[str, int]] = []
        unknown: list[tuple[str, int]] = []
        for key in past.pads:
            times = self.times[past.housing_id].get(key, [])
            place = bisect_right([each.since for each in times], past.made_at) - 1
            if place < 0:
                unknown.append(key)
                continue
            pad = times[place]
            if pad.ending is Ending.STILL_IN or pad.ended_at is None or pad.ended_at > at:
                continue
            (failed if pad.ending is Ending.FAILED else unknown).append(key)
        return tuple(failed), tuple(unknown)

    def _standing(self, past: Past, at: datetime, lost: Sequence[tuple[str, int]]) -> Standing:
        entry = self.entries[past.entry_id]
        lapsed = self._lapsed(past, at)
        known = (entry.pk, tuple(sorted(lost)), lapsed)
        if known not in self._standings:
            self._standings[known] = self._rated(entry, set(lost), lapsed)
        return self._standings[known]

    def _rated(
        self, entry: LedgerEntry, lost: set[tuple[str, int]], lapsed: tuple[str, ...]
    ) -> Standing:
        if entry.pk not in self._inputs:
            self._inputs[entry.pk] = read_inputs(entry.inputs)
        inputs = self._inputs[entry.pk]
        is_softer = (entry.contents["provenance"].get("proof_pull") or {}).get("is_softer")
        if lost and not is_softer:
            inputs = replace(inputs, proof=None)
        positions = tuple(
            replace(each, condition=LOST) if (each.side, each.number) in lost else each
            for each in inputs.positions
        )
        lots = tuple(
            replace(rate, stale="it lapsed") if rate.lot in lapsed else rate for rate in inputs.lots
        )
        # Whether a rate that lapsed still counts, flagged, is the policy's: as the ledger has it.
        return rate_unit(replace(inputs, positions=positions, lots=lots)).standing

    def _entry_at(self, housing_id: int, at: datetime) -> tuple[datetime, int, str, Any]:
        """Return the last entry whose cause had happened by a moment."""
        happened = [each for each in self.ledger[housing_id] if each[0] <= at]
        return happened[-1] if happened else self.ledger[housing_id][0]

    def _lapsed(self, past: Past, at: datetime) -> tuple[str, ...]:
        """Return the lots of the forecast whose rate had lapsed by then, tested anew or not."""
        then = self.entries[past.entry_id].contents
        valid = timedelta(days=then["inputs"]["policy"]["rate_valid_days"])
        now = self._documents[self._entry_at(past.housing_id, at)[1]].contents
        rates = then["provenance"]["lot_ratings"]
        found = []
        for mark, pk in rates.items():
            tested = self.tested_at.get(now["provenance"]["lot_ratings"].get(mark, pk))
            if tested is not None and tested + valid < at:
                found.append(mark)
        return tuple(sorted(found))


def came_record(came: Came) -> dict[str, Any]:
    """Return what came as JSON values."""
    return asdict(came) | {"counted_on": came.counted_on.isoformat()}


def kept_pasts(forecasts: Iterable[Forecast]) -> list[Past]:
    """Return what kept forecasts said of each day they looked ahead to."""
    return [past for forecast in forecasts for past in pasts_of(forecast)]
