"""A paper that carries its own proof, so that whoever holds it and a seal can check it."""

from __future__ import annotations

import json
from io import BytesIO

from pypdf import PdfReader, PdfWriter

from ratings.models import LedgerEntry, Seal
from ratings.record.proofs import leaves_of_entry, proof_of

NAME = "record.json"


def with_proof(paper: bytes, entry: LedgerEntry | None) -> bytes:
    """Return a paper with the proof attached that the entry it rests on stands under a seal.

    As it is where no seal was made since: the next day's paper has one.
    """
    leaves = leaves_of_entry(entry) if entry else []
    if not leaves or leaves[0].place is None:
        return paper
    seal = Seal.objects.filter(size__gt=leaves[0].place).order_by("-number").first()
    if seal is None:
        return paper
    proof = json.dumps(proof_of(leaves, seal), ensure_ascii=False, sort_keys=True)
    writer = PdfWriter(clone_from=PdfReader(BytesIO(paper)))
    writer.add_attachment(NAME, proof.encode())
    written = BytesIO()
    writer.write(written)
    return written.getvalue()
