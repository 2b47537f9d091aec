"""Calculate an answer again from its document alone, as the ledger is."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from itertools import chain
from typing import Any

from ratings.ledger.canonical import column_differences, digest, result_differences
from ratings.mechanics.extraction.record import verdict_again
from ratings.models import Commitment, JobAnswer

# 1 rests on entries of format 1, and says nothing of sides, of what a test left out, or of a
# proof pull. 2 has one pile to a job, and checks of forces and of states in one list; the crane's
# whole chart, and one criterion. 3 has groups of piles, forces and conditions apart.
FORMAT = 3
_KNOWN = (1, 2, FORMAT)

logger = logging.getLogger(__name__)


def answer_fault(answer: JobAnswer) -> str:
    """Return what is wrong with an answer on record, "" where it holds to the last digit."""
    if digest(answer.document) != answer.hash:
        return "its text is not what its hash was made of"
    try:
        contents = answer.contents
        if contents["format"] not in _KNOWN:
            return f"its format {contents['format']!r} is not known to this version"
        if (contents["format"] == FORMAT) is not ("piles" in contents):
            return f"it is not laid out as format {contents['format']} is"
        again = verdict_again(contents)
        differences = chain(
            result_differences(contents["verdict"], again), _column_differences(answer, contents)
        )
        return next(differences, "")
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


def _column_differences(answer: JobAnswer, contents: dict[str, Any]) -> Iterator[str]:
    """Hold the columns beside the document to it; a job itself may have changed since."""
    stored: dict[str, Any] = {
        "job_record": answer.job_id,
        "housing": answer.housing.mark,
        "hammer": answer.hammer.mark,
        "ledger": {"sequence": answer.entry.sequence, "hash": answer.entry.hash},
        "verdict": answer.verdict,
    }
    commitment: Commitment | None = getattr(answer, "commitment", None)
    if commitment is not None:
        stored |= {
            "first_day": commitment.first_day.isoformat(),
            "last_day": commitment.last_day.isoformat(),
        }
    written = {"verdict": contents["verdict"]["verdict"]}
    return column_differences(answer.document, contents, stored, written)
