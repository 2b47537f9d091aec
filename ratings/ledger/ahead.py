"""Units rated before the locks are taken that signing waits for, so that it waits less.

What facts come to is worked out while others go on writing. Under the locks every fact is read
anew, and what was worked out counts only where it rests on the very same: inputs come to the same
results whenever that is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection

from fleet.journal.snapshot import one_moment
from fleet.models import SuppressorHousing
from ratings.ledger.canonical import canonical_text, is_same
from ratings.ledger.facts import Facts, gather, sources
from ratings.mechanics.record import FORMAT, results_of_format
from ratings.mechanics.unit_rating import UnitInputs
from ratings.models import CurrentRating, LedgerEntry, LotRating
from ratings.models.ledger import GENESIS_HASH


@dataclass(frozen=True)
class Worked:
    """What the facts of a unit come to, spelled as its entry will have them."""

    inputs: UnitInputs
    inputs_text: str
    results: dict[str, Any]
    results_text: str


@dataclass(frozen=True)
class Ahead:
    """What was worked out of a unit, and what its last entry then was.

    head_hash: of that entry. sources: what its inputs came from, None where they were others or of
    an older method, so that a new entry differs from it.
    """

    worked: Worked
    head_hash: str
    sources: dict[str, Any] | None

    def is_of(self, facts: Facts, head_hash: str) -> bool:
        """Whether it rests on these very inputs and that very entry."""
        return self.head_hash == head_hash and self.worked.inputs == facts.inputs

    def says(self, facts: Facts) -> bool:
        """Whether the last entry rests on these very facts, of which this is."""
        return self.sources is not None and is_same(sources(facts.provenance), self.sources)


AllAhead = Mapping[int, Ahead]
NOTHING_AHEAD: AllAhead = {}


def may_work_ahead() -> bool:
    """Whether nobody waits yet: inside a transaction the locks may be held already."""
    return not connection.in_atomic_block


def work_out(facts: Facts) -> Worked:
    """Return what facts come to by today's method."""
    results = results_of_format(FORMAT, facts.inputs)
    return Worked(
        facts.inputs, canonical_text(facts.inputs_record), results, canonical_text(results)
    )


def work_ahead(
    housings: Sequence[SuppressorHousing], as_if: Mapping[int, LotRating | None] | None = None
) -> dict[int, Ahead]:
    """Return by housing what its facts come to, read at one moment and without any lock.

    as_if: by lot, the rating that will rate its pads, as `gather` takes it.
    """
    with one_moment():
        gathered = gather(housings, as_if)
        ids = list(gathered)
        rated = CurrentRating.objects.filter(housing__in=ids).select_related("head")
        heads = {rating.housing_id: rating.head for rating in rated}
    return {key: _ahead(facts, heads.get(key)) for key, facts in gathered.items()}


def _ahead(facts: Facts, head: LedgerEntry | None) -> Ahead:
    worked = work_out(facts)
    if head is None:
        return Ahead(worked, GENESIS_HASH, None)
    before = head.contents
    is_alike = before["format"] == FORMAT and is_same(facts.inputs_record, before["inputs"])
    return Ahead(worked, head.hash, sources(before["provenance"]) if is_alike else None)
