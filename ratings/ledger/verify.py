"""Walk every chain and hold each entry to its hash, its columns, its neighbours and its figures.

And hold the last of each chain to what the records say today.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby, islice
from operator import attrgetter
from typing import Any

from django.db import transaction
from django.db.models import F

from fleet import clock
from fleet.models import SuppressorHousing
from ratings.ledger.canonical import (
    column_differences,
    digest,
    is_same,
    result_differences,
    spelling_differences,
    time_text,
)
from ratings.ledger.facts import gather, sources
from ratings.ledger.posting import COLUMN_RESULTS
from ratings.mechanics.record import read_inputs, results_of_format
from ratings.models import CurrentRating, LedgerEntry
from ratings.models.ledger import GENESIS_HASH

logger = logging.getLogger(__name__)

# Housings whose chains, heads and records are read at once.
AT_ONCE = 200
# Columns that a document says by their own names, and all that is read of an entry. Of the one that
# it corrects no more is read than what its document names it by.
_BY_NAME = ("sequence", "cause", "cause_record", "previous_hash", *COLUMN_RESULTS)
_READ = (
    "pk",
    "housing_id",
    "document",
    "hash",
    "occurred_at",
    "recorded_at",
    "recorded_by_id",
    *_BY_NAME,
)
_OF_CORRECTED = {
    "corrected_sequence": F("corrects__sequence"),
    "corrected_hash": F("corrects__hash"),
}


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
        for found in verify_chains(SuppressorHousing.objects.order_by("mark")):
            if isinstance(found, BrokenLedger):
                raise found
            entries += found
            housings += bool(found)
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


@dataclass
class _Chain:
    """A housing's chain as far as it was walked: how many entries, the last, what doesn't hold."""

    housing: SuppressorHousing
    entries: int = 0
    last: Any = None
    broken: BrokenLedger | None = None

    def breaks(self, sequence: int, differs: str) -> None:
        self.broken = BrokenLedger(self.housing.mark, sequence, differs)


def verify_chains(housings: Iterable[SuppressorHousing]) -> Iterator[int | BrokenLedger]:
    """Verify chains of housings; yield of each how many entries it has, or what doesn't hold."""
    left = iter(housings)
    while some := list(islice(left, AT_ONCE)):
        chains = {housing.pk: _Chain(housing) for housing in some}
        _each_read(_walk, chains)
        _hold_to_heads(chains)
        # Told before the records are read, which may be what can't be.
        yield from (each.broken for each in chains.values() if each.broken)
        held = [each for each in chains.values() if not each.broken]
        with_entries = {each.housing.pk: each for each in held if each.last is not None}
        _each_read(_hold_to_records, with_entries)
        yield from (each.broken or each.entries for each in held)


def _each_read(look: Callable[[dict[int, _Chain]], None], chains: dict[int, _Chain]) -> None:
    """Look at chains at once; where that fails, at each by itself: no unit hides another."""
    if _trouble_reading(look, chains) is None:
        return
    for key, chain in chains.items():
        trouble = _trouble_reading(look, {key: chain})
        if trouble is not None and chain.broken is None:
            told = f"{type(trouble).__name__}: {trouble}"
            chain.breaks(
                max(chain.entries, 1),
                f"it, what follows it or what it is held to can't be read ({told})",
            )


def _trouble_reading(
    look: Callable[[dict[int, _Chain]], None], chains: dict[int, _Chain]
) -> Exception | None:
    """Look at chains, and return what kept them from being read."""
    try:
        # What the database itself refuses to read leaves the other chains to be looked at.
        with transaction.atomic():
            look(chains)
    except Exception as trouble:
        logger.exception("chains can't be read: of %d units", len(chains))
        return trouble
    return None


def _walk(chains: dict[int, _Chain]) -> None:
    entries = LedgerEntry.objects.filter(housing__in=chains).order_by("housing_id", "sequence")
    rows = entries.annotate(**_OF_CORRECTED).values_list(*_READ, *_OF_CORRECTED, named=True)
    for key, of_housing in groupby(rows.iterator(), key=attrgetter("housing_id")):
        chain, previous_hash = chains[key], GENESIS_HASH
        for count, entry in enumerate(of_housing, start=1):
            differs = next(_differences(chain.housing, entry, count, previous_hash), None)
            if differs:
                chain.breaks(count, differs)
                break
            previous_hash = entry.hash
            chain.entries, chain.last = count, entry


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
        contents = json.loads(entry.document)
        yield from spelling_differences(entry.document, contents)
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
        **{name: getattr(entry, name) for name in _BY_NAME},
    }
    written = {
        "recorded_by": contents["recorded_by"]["record"],
        "cause": contents["cause"]["kind"],
        "cause_record": contents["cause"]["record"],
        **{name: contents["results"][name] for name in COLUMN_RESULTS},
    }
    return column_differences(contents, stored, written)


def _hold_to_heads(chains: dict[int, _Chain]) -> None:
    # Without following a head to its entry: that may be what is missing.
    heads = {head.housing_id: head for head in CurrentRating.objects.filter(housing__in=chains)}
    for key, chain in chains.items():
        head, count, last = heads.get(key), chain.entries, chain.last
        if chain.broken or (head is None and not count):
            continue
        if head is None:
            chain.breaks(count, "no stored head names it as the last entry")
        elif head.sequence != count:
            chain.breaks(
                min(head.sequence, count) + 1,
                f"the stored head is entry {head.sequence} but the chain has {count}",
            )
        elif last is None or head.head_hash != last.hash or head.head_id != last.pk:
            chain.breaks(count, "the stored head's hash is not that of the last entry")


def _hold_to_records(chains: dict[int, _Chain]) -> None:
    """Hold last entries to the records: pads, travel, rates, listing and policy as they stand."""
    # As fresh as rates were then, but by all that is on record: after a clock was put back some of
    # it was recorded later than the entry that follows it, by what the clock said.
    then = {key: chain.last.recorded_at for key, chain in chains.items()}
    with clock.set_to(clock.now(), knowing_all=True):
        facts = gather([chain.housing for chain in chains.values()], fresh_at=then)
    for key, chain in chains.items():
        found, contents = facts[key], json.loads(chain.last.document)
        now = {"inputs": found.inputs_record, "provenance": sources(found.provenance)}
        for part, records in now.items():
            for name, value in records.items():
                if chain.broken is None and not is_same(value, contents[part].get(name)):
                    chain.breaks(
                        chain.entries,
                        f"the records now have other {name} than this last entry was posted with",
                    )
