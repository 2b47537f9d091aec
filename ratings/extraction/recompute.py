"""Reckon an answer again from its document alone, as the ledger is."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from ratings.ledger.canonical import canonical_text, digest
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.record import read_answer, verdict_record
from ratings.models import JobAnswer

FORMAT = 1


def answer_fault(answer: JobAnswer) -> str:
    """Return what is wrong with an answer on record, "" where it holds to the last digit."""
    if digest(answer.document) != answer.hash:
        return "its text is not what its hash was made of"
    try:
        contents: dict[str, Any] = json.loads(answer.document)
        if contents["format"] != FORMAT:
            return f"its format {contents['format']!r} is not known here"
        unit, job, policy = read_answer(contents)
        again = verdict_record(check(unit, job, policy))
        if canonical_text(again) != canonical_text(contents["verdict"]):
            return "reckoned again from its inputs it gives another verdict"
        if contents["ledger"]["hash"] != answer.entry.hash:
            return "the ledger entry it names is another"
        if contents["verdict"]["verdict"] != answer.verdict:
            return "the verdict beside it is another"
    except (KeyError, TypeError, ValueError) as trouble:
        return f"it cannot be read: {trouble}"
    return ""


def recompute(answer: JobAnswer) -> bool:
    """Say whether an answer on record holds."""
    return not answer_fault(answer)


def faulty_answers() -> Iterator[tuple[JobAnswer, str]]:
    """Yield every answer on record that doesn't hold, and why."""
    for answer in JobAnswer.objects.select_related("entry", "job", "housing").order_by("pk"):
        fault = answer_fault(answer)
        if fault:
            yield answer, fault
