"""The pads a ledger entry rated, as the extraction check takes them.

An entry never changes, so what was read from one is kept by its hash for as long as the process
lives, and only documents not read yet are asked of the database.
"""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from ratings.mechanics.linepull import PadGroup
from ratings.mechanics.record import read_inputs
from ratings.mechanics.unit_rating import DROP, UnitInputs, pad_groups
from ratings.models import CurrentRating, LedgerEntry

MOST_KEPT = 20_000
# Databases take only so many parameters; beyond this every head is read instead.
MOST_ASKED_BY_HASH = 500


@dataclass(frozen=True)
class RatedPads:
    """What an entry's rating rests on. lots: all that have a pad fitted, rated or not."""

    groups: tuple[PadGroup, ...]
    travel_uncertainty_in: float
    confidence: float
    lots: frozenset[str]


_kept: OrderedDict[str, RatedPads] = OrderedDict()


def pads_of(hashes: Iterable[str]) -> dict[str, RatedPads]:
    """Return the pads of entries by hash: one query, and none where all were read before."""
    wanted = set(hashes)
    found = {each: kept for each in wanted if (kept := _kept.get(each)) is not None}
    unread = [each for each in wanted if each not in found]
    if unread:
        for entry_hash, document in _documents(unread):
            if entry_hash in wanted and entry_hash not in found:
                found[entry_hash] = _kept[entry_hash] = _read(document)
    while len(_kept) > MOST_KEPT:
        _kept.popitem(last=False)
    return found


def _documents(hashes: list[str]) -> Iterable[tuple[str, str]]:
    if len(hashes) > MOST_ASKED_BY_HASH:
        return CurrentRating.objects.values_list("head__hash", "head__document").iterator()
    return LedgerEntry.objects.filter(hash__in=hashes).values_list("hash", "document")


def _read(document: str) -> RatedPads:
    return rated_pads(read_inputs(json.loads(document)["inputs"]))


def rated_pads(inputs: UnitInputs) -> RatedPads:
    """Return the pads that the rating of a unit rests on."""
    if inputs.policy.stale_rates == DROP:
        inputs = replace(inputs, lots=tuple(rate for rate in inputs.lots if not rate.stale))
    return RatedPads(
        groups=pad_groups(inputs),
        travel_uncertainty_in=inputs.policy.travel_uncertainty_in,
        confidence=inputs.policy.confidence,
        lots=frozenset(each.lot for each in inputs.positions if each.lot is not None),
    )
