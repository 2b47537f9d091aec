"""What goes out of the house to be checked elsewhere: the journal itself, and proofs from it."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator
from typing import Any

from django.db.models import Model

from fleet.journal.sequence import consistency, inclusion
from fleet.models import Leaf
from ratings.models import LedgerEntry, Seal
from ratings.record.seals import make_seal

KIND = "Line-Pull Ledger proof"
AT_ONCE = 2_000
# So many seals before its own a proof leads from: two months of daily ones.
OLDER_SEALS = 60


def exported(size: int | None = None) -> Iterator[str]:
    """Yield the leaves of the journal in their places, each the very text that was hashed.

    size: how many from the first; all that have a place where it isn't given.
    """
    leaves = Leaf.objects.filter(place__isnull=False).order_by("place")
    if size is not None:
        leaves = leaves.filter(place__lt=size)
    yield from leaves.values_list("document", flat=True).iterator(AT_ONCE)


def proof_of(
    leaves: Collection[Leaf], seal: Seal, older_seals: int | None = OLDER_SEALS
) -> dict[str, Any]:
    """Return the proof that leaves stand in the journal a seal was made of.

    It leads from older seals too, so that whoever holds one of those can check it.
    older_seals: from how many of those just before it; from all where it is None.
    Raises ValueError where a leaf came after the seal.
    """
    older = Seal.objects.filter(number__lt=seal.number).order_by("-number")[:older_seals]
    proven = []
    for leaf in leaves:
        if leaf.place is None or leaf.place >= seal.size:
            raise ValueError(f"{leaf} came after seal {seal.number}: make another seal first")
        path = [step.hex() for step in inclusion(leaf.place, seal.size)]
        proven.append({"document": leaf.document, "path": path, "place": leaf.place})
    return {
        "kind": KIND,
        "leaves": proven,
        "older": [
            {
                "number": number,
                "path": [step.hex() for step in consistency(size, seal.size)],
                "size": size,
            }
            for number, size in older.values_list("number", "size")
        ],
        "seal": seal.text,
    }


def proof_of_unit(mark: str) -> str:
    """Return the text of a proof of the last entry of a unit, under a seal that covers it.

    Raises LookupError where there is no such unit, or none of its entries.
    """
    entry = LedgerEntry.objects.filter(housing__mark=mark).order_by("-sequence").first()
    if entry is None:
        raise LookupError(f"no unit {mark} has an entry in the ledger")
    return proof_of_entry(entry, make_seal())


def proof_of_entry(entry: LedgerEntry, seal: Seal | None) -> str:
    """Return the text of a proof that an entry stands in the journal a seal was made of.

    Raises LookupError where it came after the seal, or there is none.
    """
    leaves = leaves_of(entry)
    is_covered = seal and all(each.place is not None and each.place < seal.size for each in leaves)
    if seal is None or not leaves or not is_covered:
        raise LookupError(f"{entry} came after the last seal")
    proof = proof_of(leaves, seal, older_seals=None)
    return json.dumps(proof, ensure_ascii=False, indent=1, sort_keys=True)


def leaves_of(record: Model) -> list[Leaf]:
    """Return the newest leaf of a record, as a list of one; empty where it has none."""
    leaves = Leaf.objects.filter(model=record._meta.label_lower, row_key=str(record.pk))
    return list(leaves.order_by("-pk")[:1])
