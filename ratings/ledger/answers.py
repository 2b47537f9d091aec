"""Reckon an answer again from its document alone, as the ledger is."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator
from typing import Any

from ratings.ledger.canonical import canonical_text, digest
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.record import read_answer, verdict_record
from ratings.models import Commitment, JobAnswer

FORMAT = 1

logger = logging.getLogger(__name__)


def answer_fault(answer: JobAnswer) -> str:
    """Return what is wrong with an answer on record, "" where it holds to the last digit."""
    if digest(answer.document) != answer.hash:
        return "its text is not what its hash was made of"
    try:
        contents = answer.contents
        if contents["format"] != FORMAT:
            return f"its format {contents['format']!r} is not known to this version"
        return _verdict_fault(contents) or _column_fault(answer, contents)
    except (KeyError, TypeError, ValueError) as trouble:
        return f"it can’t be read as an answer ({type(trouble).__name__}: {trouble})"


def faulty_answers() -> Iterator[tuple[JobAnswer, str]]:
    """Yield every answer on record that doesn't hold, and why."""
    answers = JobAnswer.objects.select_related("entry", "job", "housing", "hammer", "commitment")
    for answer in answers.order_by("pk").iterator():
        fault = answer_fault(answer)
        if fault:
            logger.error("%s does not hold: %s", answer, fault)
            yield answer, fault


def _verdict_fault(contents: dict[str, Any]) -> str:
    again = verdict_record(check(*read_answer(contents)))
    then = contents["verdict"]
    for name in sorted(again.keys() | then.keys()):
        if canonical_text({"": again.get(name)}) != canonical_text({"": then.get(name)}):
            return (
                f"{name} is written as {_short(then.get(name))} but its inputs give "
                f"{_short(again.get(name))}"
            )
    return ""


def _column_fault(answer: JobAnswer, contents: dict[str, Any]) -> str:
    """Hold the columns beside the document to it; a job itself may have changed since."""
    if canonical_text(contents) != answer.document:
        return "its document is not canonical JSON"
    columns: dict[str, Any] = {
        "job_record": answer.job_id,
        "housing": answer.housing.mark,
        "hammer": answer.hammer.mark,
        "ledger": {"sequence": answer.entry.sequence, "hash": answer.entry.hash},
        "verdict": answer.verdict,
    }
    held: Commitment | None = getattr(answer, "commitment", None)
    if held is not None:
        columns |= {
            "first_day": held.first_day.isoformat(),
            "last_day": held.last_day.isoformat(),
        }
    written = contents | {"verdict": contents["verdict"]["verdict"]}
    for name, stored in columns.items():
        if stored != written[name]:
            return f"{name} is stored as {stored} but the document says {written[name]}"
    return ""


def _short(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 80 else f"{text[:79]}…"
