"""Yards for benchmarks: as many units, or entries of one, as asked for, copied in bulk from one.

Every entry is what the site would post: its document gives its hash, follows the one before, and
holds the figures that its inputs come to.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth.models import User

from fleet.models import (
    ClampFitting,
    Hammer,
    Mounting,
    PadLot,
    PadPosition,
    SuppressorHousing,
)
from inspections.models import Inspection
from ratings.ledger.canonical import canonical_text, digest, time_text
from ratings.ledger.posting import COLUMN_RESULTS
from ratings.mechanics.record import FORMAT, read_inputs, results_of_format
from ratings.models import CurrentRating, LedgerEntry, Listing
from ratings.models.ledger import GENESIS_HASH
from tests.builders import MONDAY, Unit
from tests.job_builders import extraction_job, figured_unit
from tests.site.large_yard import copies

# Taped on one unit or the other, in.
TRAVELS_IN = [4.0 + step / 16 for step in range(33)]
BETWEEN_INSPECTIONS = timedelta(minutes=10)
# Stand in a document until its own are put there; no figure of it reads so.
_HOUSING, _HAMMER, _BEFORE = "the housing", "the hammer", "the hash before"
_SEQUENCE, _LISTING, _RECORD = 987_654_321, 987_654_322, 987_654_323
_AT = "the moment"


@dataclass
class Yard:
    """Who keeps it, the units in it, the lot that all of them hold, and a job to be done."""

    manager: User
    housings: list[SuppressorHousing]
    hammers: list[Hammer]
    lot: PadLot
    job: int


class Entries:
    """Makes entries like one on record, of other units and travels."""

    def __init__(self, like: LedgerEntry) -> None:
        self._like = like
        self._texts: list[str] = []
        self._columns: list[dict[str, Any]] = []
        for travel_in in TRAVELS_IN:
            contents = dict(like.contents)
            contents["inputs"] = contents["inputs"] | {"travel_in": travel_in}
            results = results_of_format(FORMAT, read_inputs(contents["inputs"]))
            listing = contents["provenance"]["listing"] | {"record": _LISTING}
            contents |= {
                "housing": _HOUSING,
                "sequence": _SEQUENCE,
                "occurred_at": _AT,
                "recorded_at": _AT,
                "cause": contents["cause"] | {"record": _RECORD},
                "provenance": contents["provenance"] | {"hammer": _HAMMER, "listing": listing},
                "results": results,
                "previous_hash": _BEFORE,
            }
            self._texts.append(canonical_text(contents))
            self._columns.append({name: results[name] for name in COLUMN_RESULTS})

    def entry(
        self,
        housing: SuppressorHousing,
        hammer: Hammer,
        listing: int,
        *,
        travel: int,
        sequence: int = 1,
        at: datetime | None = None,
        record: int | None = None,
        before: str = GENESIS_HASH,
    ) -> LedgerEntry:
        """Return an entry, not stored. travel: the place of its travel in TRAVELS_IN."""
        like = self._like
        at, record = at or like.occurred_at, record or like.cause_record
        text = self._texts[travel % len(TRAVELS_IN)]
        for stands, own in (
            (_HOUSING, housing.mark),
            (_HAMMER, hammer.mark),
            (_BEFORE, before),
            (str(_SEQUENCE), str(sequence)),
            (str(_LISTING), str(listing)),
            (str(_RECORD), str(record)),
            (_AT, time_text(at)),
        ):
            text = text.replace(stands, own)
        return LedgerEntry(
            housing=housing,
            sequence=sequence,
            occurred_at=at,
            recorded_at=at,
            recorded_by_id=like.recorded_by_id,
            cause=like.cause,
            cause_record=record,
            document=text,
            previous_hash=before,
            hash=digest(text),
            **self._columns[travel % len(TRAVELS_IN)],
        )


def yard(units: int, *, per_side: int = 4, entries_each: int = 1) -> Yard:
    """Fill a database with units, counted just now, each with so many entries in its ledger."""
    unit = figured_unit(positions_per_side=per_side, is_guided=False)
    # The register takes no figure whose source nobody gives.
    unit.hammer.figures_source = "Data plate"
    unit.hammer.save(update_fields=["figures_source"])
    made = Yard(unit.manager, [unit.housing], [unit.hammer], unit.lot, extraction_job().pk)
    many = units - 1
    entries = Entries(CurrentRating.objects.get(housing=unit.housing).head)
    seen = Inspection.objects.filter(housing=unit.housing).latest("pk")

    def travel_in(number: int) -> float:
        return TRAVELS_IN[(number + entries_each - 1) % len(TRAVELS_IN)]

    housings = copies(unit.housing, many, mark=lambda n: f"H-{n:05}", travel_in=travel_in)
    hammers = copies(unit.hammer, many, mark=lambda n: f"HAM-{n:05}")
    on_them = {
        "housing_id": lambda n: housings[n].pk,
        "hammer_id": lambda n: hammers[n].pk,
    }
    on_hammers = {"hammer_id": on_them["hammer_id"]}
    copies(Mounting.objects.get(), many, **on_them)
    fitting = ClampFitting.objects.get()
    clamps = copies(fitting.clamp, many, mark=lambda n: f"C-{n:05}")
    copies(fitting, many, clamp_id=lambda n: clamps[n].pk, **on_hammers)
    listings = copies(Listing.objects.get(), many, **on_hammers)
    for position in PadPosition.objects.filter(housing=unit.housing):
        copies(position, many, housing_id=on_them["housing_id"])
    inspections = copies(seen, many, **on_them, hour_reading_id=None, travel_in=travel_in)
    for pad in seen.pads.all():
        copies(pad, many, inspection_id=lambda n: inspections[n].pk)
    for start in range(0, many, 1_000):
        _store_chains(entries, housings[start:][:1_000], hammers, listings, start, entries_each)
    made.housings += housings
    made.hammers += hammers
    return made


def _store_chains(
    entries: Entries,
    housings: list[Any],
    hammers: list[Any],
    listings: list[Any],
    start: int,
    each: int,
) -> None:
    """Store the ledgers of some units, so many at once that they need little memory."""
    chained, heads = [], []
    for number, housing in enumerate(housings, start=start):
        before = GENESIS_HASH
        for place in range(each):
            entry = entries.entry(
                housing,
                hammers[number],
                listings[number].pk,
                travel=number + place,
                sequence=place + 1,
                before=before,
            )
            before = entry.hash
            chained.append(entry)
        heads.append(chained[-1])
        if len(chained) >= 5_000:
            LedgerEntry.objects.bulk_create(chained)
            chained = []
    LedgerEntry.objects.bulk_create(chained)
    CurrentRating.objects.bulk_create(
        CurrentRating(
            housing_id=head.housing_id, head=head, sequence=head.sequence, head_hash=head.hash
        )
        for head in heads
    )


def long_life(entries: int, *, per_side: int = 4) -> Unit:
    """A unit inspected so often that it has so many entries: every pad counted, travel taped."""
    unit = figured_unit(
        positions_per_side=per_side, is_guided=False, counted_at=MONDAY + timedelta(days=1)
    )
    rating = CurrentRating.objects.get(housing=unit.housing)
    like = Entries(rating.head)
    many, begun = entries - rating.sequence, MONDAY + timedelta(days=2)
    moments = [begun + number * BETWEEN_INSPECTIONS for number in range(many)]
    seen = Inspection.objects.filter(housing=unit.housing).latest("pk")
    inspections = copies(
        seen,
        many,
        hour_reading_id=None,
        seen_at=lambda n: moments[n],
        travel_in=lambda n: TRAVELS_IN[n % len(TRAVELS_IN)],
    )
    for pad in seen.pads.all():
        copies(pad, many, inspection_id=lambda n: inspections[n].pk)
    listing = Listing.objects.get().pk
    chained, before = [], rating.head_hash
    for number, at in enumerate(moments):
        entry = like.entry(
            unit.housing,
            unit.hammer,
            listing,
            travel=number,
            sequence=rating.sequence + 1 + number,
            at=at,
            record=inspections[number].pk,
            before=before,
        )
        before = entry.hash
        chained.append(entry)
    LedgerEntry.objects.bulk_create(chained, batch_size=1_000)
    head = chained[-1]
    CurrentRating.objects.filter(pk=rating.pk).update(
        head=head, sequence=head.sequence, head_hash=head.hash
    )
    SuppressorHousing.objects.filter(pk=unit.housing.pk).update(
        travel_in=inspections[-1].travel_in, travel_seen_at=moments[-1]
    )
    PadPosition.objects.filter(housing=unit.housing).update(seen_at=moments[-1])
    unit.housing.refresh_from_db()
    return unit
