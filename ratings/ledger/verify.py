"""Walk every chain and hold each entry to its hash, its columns, its neighbours and its figures.

And hold the last of each chain to what the records say today.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import F

from fleet import clock
from fleet.models import SuppressorHousing
from ratings.ledger.canonical import (
    column_differences,
    digest,
    is_same,
    result_differences,
    time_text,
)
from ratings.ledger.facts import gather, sources
from ratings.ledger.posting import COLUMN_RESULTS
from ratings.mechanics.record import inputs_record, read_inputs, results_of_format
from ratings.models import CurrentRating, LedgerEntry
from ratings.models.ledger import GENESIS_HASH

logger = logging.getLogger(__name__)


@dataclass(frozen=True)
class Verified:
    """Every chain holds."""

    entries: int
    housings: int


class BrokenLedger(Exception):
    """An entry or a head that doesn't hold: which housing, which sequence, what differs."""

    def __init__(self, housing: str, sequence: int, differs: str) -> None:
        self.housing = housing
        self.sequence = sequence
        self.differs = differs
        super().__init__(f"housing {housing}, entry {sequence}: {differs}")


def verify_all() -> Verified:
    """Verify every housing's chain. Raises BrokenLedger at the first thing that doesn't hold."""
    entries = housings = 0
    try:
        for housing in SuppressorHousing.objects.order_by("mark"):
            count = verify_chain(housing)
            entries += count
            housings += bool(count)
        refuse_orphans()
    except BrokenLedger as broken:
        logger.error("the ledger does not hold: %s", broken)
        raise
    return Verified(entries, housings)


def refuse_orphans() -> None:
    """Raise BrokenLedger where an entry or a head is of a housing that is not there."""
    known = SuppressorHousing.objects.values("pk")
    for rows in (LedgerEntry.objects, CurrentRating.objects):
        orphan = rows.exclude(housing_id__in=known).order_by("housing_id").first()
        if orphan is not None:
            raise BrokenLedger(
                f"with key {orphan.housing_id}", orphan.sequence, "its housing is not there"
            )


def verify_chain(housing: SuppressorHousing) -> int:
    """Verify one housing's chain and return how many entries it has."""
    previous_hash, count = GENESIS_HASH, 0
    last: LedgerEntry | None = None
    # Of the entry that one corrects no more is read than what its document names it by.
    chain = LedgerEntry.objects.filter(housing=housing).annotate(
        corrected_sequence=F("corrects__sequence"), corrected_hash=F("corrects__hash")
    )
    for count, last in enumerate(chain.order_by("sequence").iterator(), start=1):
        for differs in _differences(housing, last, count, previous_hash):
            raise BrokenLedger(housing.mark, count, differs)
        previous_hash = last.hash
    _verify_head(housing, count, last)
    return count


def _differences(
    housing: SuppressorHousing, entry: Any, sequence: int, previous_hash: str
) -> Iterator[str]:
    if entry.sequence != sequence:
        yield f"it is not there; the next entry found is {entry.sequence}"
    if digest(entry.document) != entry.hash:
        yield "its document does not give its hash"
    if entry.previous_hash != previous_hash:
        yield "the hash it names as the one before is not that of the entry before"
    try:
        contents = entry.contents
        yield from _column_differences(housing, entry, contents)
        again = results_of_format(contents["format"], read_inputs(contents["inputs"]))
        yield from result_differences(contents["results"], again)
    except (KeyError, TypeError, ValueError) as error:
        yield f"its document can't be read as an entry ({type(error).__name__}: {error})"


def _column_differences(
    housing: SuppressorHousing, entry: Any, contents: dict[str, Any]
) -> Iterator[str]:
    corrects = {"sequence": entry.corrected_sequence, "hash": entry.corrected_hash}
    stored = {
        "housing": housing.mark,
        "occurred_at": time_text(entry.occurred_at),
        "recorded_at": time_text(entry.recorded_at),
        # None too where the entry that it names is not there.
        "corrects": None if entry.corrected_hash is None else corrects,
        "recorded_by": entry.recorded_by_id,
        **{
            name: getattr(entry, name)
            for name in ("sequence", "cause", "cause_record", "previous_hash", *COLUMN_RESULTS)
        },
    }
    written = {
        "recorded_by": contents["recorded_by"]["record"],
        "cause": contents["cause"]["kind"],
        "cause_record": contents["cause"]["record"],
        **{name: contents["results"][name] for name in COLUMN_RESULTS},
    }
    return column_differences(entry.document, contents, stored, written)


def _verify_head(housing: SuppressorHousing, count: int, last: LedgerEntry | None) -> None:
    # Without following the head to its entry: that may be what is missing.
    head = CurrentRating.objects.filter(housing=housing).first()
    if head is None:
        if count:
            raise BrokenLedger(housing.mark, count, "no stored head names it as the last entry")
        return
    if head.sequence != count:
        raise BrokenLedger(
            housing.mark,
            min(head.sequence, count) + 1,
            f"the stored head is entry {head.sequence} but the chain has {count}",
        )
    if last is None or head.head_hash != last.hash or head.head_id != last.pk:
        raise BrokenLedger(
            housing.mark, count, "the stored head's hash is not that of the last entry"
        )
    _verify_records(housing, last)


def _verify_records(housing: SuppressorHousing, last: LedgerEntry) -> None:
    """Hold the last entry to the records: pads, travel, rates, listing and policy as they stand."""
    # As fresh as rates were then, but by all that is on record: after a clock was put back some of
    # it was recorded later than the entry that follows it, by what the clock said.
    with clock.set_to(last.recorded_at, knowing_all=True):
        facts = gather([housing])[housing.pk]
    now = {"inputs": inputs_record(facts.inputs), "provenance": sources(facts.provenance)}
    for part, records in now.items():
        for name, value in records.items():
            if not is_same(value, last.contents[part].get(name)):
                raise BrokenLedger(
                    housing.mark,
                    last.sequence,
                    f"the records now have other {name} than this last entry was posted with",
                )
