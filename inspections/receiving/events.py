"""What happened to a unit before it came, as its archive tells it: shown, never counted."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.dateparse import parse_datetime

from fleet.dates import moment_words
from fleet.models import OutOfService, PersonName
from fleet.quantities import Quantity, capacity_words, pull_words
from fleet.tables import Column, MomentColumn, RecordsTable
from inspections.models import (
    Finding,
    FindingClosing,
    Inspection,
    PadCount,
    PadReplacement,
    ReceivedUnit,
    RepairOrder,
    ReplacedPad,
)
from inspections.receiving.reading import Row, latest, names_by_person, standing
from ratings.check_record import Archive
from ratings.models import LedgerEntry

MODELS = (
    LedgerEntry,
    Inspection,
    PadCount,
    PadReplacement,
    ReplacedPad,
    Finding,
    FindingClosing,
    OutOfService,
    RepairOrder,
    PersonName,
)


@dataclass(frozen=True)
class Event:
    """Something that happened at the other site: when, what sort of record it is, who signed."""

    at: datetime
    what: str
    words: str
    by: str


class EventTable(RecordsTable):
    """What the other site has on record of a unit, the last first."""

    caption = "On record there"
    anchor = "events"
    empty_words = "Nothing is on record there."
    dated_by = ("at",)

    at = MomentColumn("When")
    what = Column("What")
    words = Column("As that site has it", orderable=False)
    by = Column("Signed there by")


def events_of(received: ReceivedUnit, system: str) -> list[Event]:
    """Return what happened to a unit before it came, the last first.

    Raises OSError where the archive is gone, and Wrong where it is not what was received.
    """
    with received.file.open("rb") as opened:
        return events_in(Archive("the archive kept", opened), system)


def events_in(archive: Archive, system: str) -> list[Event]:
    """Return what happened to a unit by an archive, the last first."""
    # Of one moment, what was recorded last comes first too.
    in_order = list(_Events(archive, system).told())[::-1]
    return sorted(in_order, key=lambda each: each.at, reverse=True)


class _Events:
    def __init__(self, archive: Archive, system: str) -> None:
        self.rows, self.system = latest(archive, MODELS), system
        self.key = str(archive.manifest["key"])
        self.name_of = names_by_person(self.rows[PersonName])

    def told(self) -> Iterator[Event]:
        yield from self._entries()
        yield from self._inspections()
        yield from self._replacements()
        yield from self._findings()
        yield from self._outages()
        for row in self.rows[RepairOrder].values():
            yield self._event(row, "recorded_at", "Repair order", f"{row['what']}, {row['who']}")

    def _entries(self) -> Iterator[Event]:
        for row in self.rows[LedgerEntry].values():
            cause = json.loads(row["document"])["cause"]["words"]
            listed = row["listed_lbf"]
            pull = pull_words(row["pull_lbf"], self.system, listed_lbf=listed)
            capacity = capacity_words(row["working_capacity_lbf"], self.system, listed_lbf=listed)
            # So written it is no line pull of the paper it stands on, to who checks that one.
            words = f"{cause}. Line pull {pull}, working capacity {capacity}; {row['standing']}"
            yield self._event(row, "occurred_at", f"Ledger entry {row['sequence']}", words)

    def _inspections(self) -> Iterator[Event]:
        seen: dict[str, Counter[str]] = {}
        for row in self.rows[PadCount].values():
            seen.setdefault(str(row["inspection_id"]), Counter())[row["condition"]] += 1
        stands = standing(self.rows[Inspection])
        for key, row in self.rows[Inspection].items():
            if str(row["housing_id"]) not in (self.key, "None"):
                continue
            pads = ", ".join(f"{many} {condition}" for condition, many in seen.get(key, {}).items())
            travel = row["travel_in"]
            told = [
                row["kind"],
                pads,
                "" if travel is None else f"travel {Quantity.LENGTH.words(travel, self.system)}",
                row["note"],
                "" if key in stands else "corrected there since",
            ]
            words = "; ".join(each for each in told if each)
            yield self._event(row, "seen_at", f"Inspection {key}", words)

    def _replacements(self) -> Iterator[Event]:
        pads: Counter[str] = Counter()
        for row in self.rows[ReplacedPad].values():
            pads[str(row["replacement_id"])] += 1
        for key, row in self.rows[PadReplacement].items():
            yield self._event(row, "fitted_at", f"Replacement {key}", f"{pads[key]} pads fitted")

    def _findings(self) -> Iterator[Event]:
        closings = {str(row["finding_id"]): row for row in self.rows[FindingClosing].values()}
        for key, row in self.rows[Finding].items():
            inspection = self.rows[Inspection].get(str(row["inspection_id"]))
            if inspection is None:
                continue
            closing = closings.get(key)
            done = f"closed: {closing['done']}" if closing else "open when it left"
            words = f"{row['severity']}: {row['text']}; {done}"
            yield self._event(inspection, "seen_at", "Finding", words)

    def _outages(self) -> Iterator[Event]:
        for row in self.rows[OutOfService].values():
            back = row["released_at"]
            until = f"until {moment_words(_moment(back))}" if back else "until it left"
            words = f"{row['reason'].rstrip('.')}; {until} {row['release_reason']}".strip()
            yield self._event(row, "since", "Out of service", words)

    def _event(self, row: Row, when: str, what: str, words: str) -> Event:
        by = self.name_of(row["recorded_by_id"], row["recorded_at"])
        return Event(_moment(row[when]), what, words, by)


def _moment(text: Any) -> datetime:
    read = parse_datetime(text)
    assert read is not None
    return read
