"""A paper that carries its own proof, so that whoever holds it and a seal can check it."""

from __future__ import annotations

import json
from collections.abc import Sequence

from ratings.models import LedgerEntry, Seal
from ratings.record.proofs import leaves_of_entry, proof_of

NAME = "record.json"


def proof_for(entries: Sequence[LedgerEntry]) -> str:
    """Return the proof that entries stand under a seal, "" where none was made since one of them.

    The next day's paper has one.
    """
    leaves = [leaf for entry in entries for leaf in leaves_of_entry(entry)]
    places = [leaf.place for leaf in leaves]
    last = max((place for place in places if place is not None), default=None)
    if last is None or None in places:
        return ""
    seal = Seal.objects.filter(size__gt=last).order_by("-number").first()
    if seal is None:
        return ""
    return json.dumps(proof_of(leaves, seal), ensure_ascii=False, sort_keys=True)
