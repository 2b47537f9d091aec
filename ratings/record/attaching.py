"""A paper that carries what it states, and the proof of it, for whoever holds it and a seal."""

from __future__ import annotations

import json
from collections.abc import Sequence
from hashlib import sha256
from io import BytesIO

from django.db.models import Model
from pypdf import PdfReader, PdfWriter

from ratings.models import Seal
from ratings.record.proofs import leaves_of, proof_of

PROOF_NAME, STATED_NAME = "record.json", "paper.json"


def attached(pages: bytes, document: str, records: Sequence[Model]) -> bytes:
    """Return a paper with what it states attached, and the proof of the records that rests on."""
    writer = PdfWriter(clone_from=PdfReader(BytesIO(pages)))
    proof = proof_for(records)
    if proof:
        writer.add_attachment(PROOF_NAME, proof.encode())
    writer.add_attachment(STATED_NAME, document.encode())
    written = BytesIO()
    writer.write(written)
    return written.getvalue()


def proof_for(records: Sequence[Model]) -> str:
    """Return the proof that records stand under a seal, "" where none was made since one of them.

    The next day's paper has one.
    """
    leaves = [leaf for record in records for leaf in leaves_of(record)]
    places = [leaf.place for leaf in leaves]
    last = max((place for place in places if place is not None), default=None)
    if last is None or None in places:
        return ""
    seal = Seal.objects.filter(size__gt=last).order_by("-number").first()
    if seal is None:
        return ""
    return json.dumps(proof_of(leaves, seal), ensure_ascii=False, sort_keys=True)


def hashes_of_pages(paper: bytes) -> list[str]:
    """Return the SHA-256 of what each page of a paper draws."""
    return [page_hash(page) for page in PdfReader(BytesIO(paper)).pages]


def page_hash(page: object) -> str:
    """Return the SHA-256 of the strokes and words that a page of pypdf draws."""
    contents = page.get_contents()  # type: ignore[attr-defined]
    return sha256(contents.get_data() if contents is not None else b"").hexdigest()
