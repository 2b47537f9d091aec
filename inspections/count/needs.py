"""What an inspection needs to count as one of its kind, and the items that need no tick.

A list cannot contradict the count: what the records can tell is answered by what was recorded.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from fleet.models.housing import UNSOUND
from inspections.count.findings import Answer
from inspections.models import ItemAnswer
from inspections.schedule.kinds import HOURS, NEED_WORDS, PADS, TRAVEL, Kind

# Items of the common lists, by their key, and what of an inspection answers each.
ANSWERED_BY = {"pads-counted": PADS, "travel-taped": TRAVEL, "hours-read": HOURS}
# No pad torn, gone or out of line: nobody ticks it while one is on record as such.
PADS_LOOK = "pads-look"


def lacking(kind: Kind, done: Mapping[str, bool]) -> list[str]:
    """Return in words what an inspection lacks to count as one of its kind.

    done: whether pads were counted, travel taped, hours read.
    """
    return [NEED_WORDS[need] for need in kind.needs if not done[need]]


def answers_by_record(
    answers: Sequence[Answer], done: Mapping[str, bool], conditions: Mapping[str, str]
) -> list[Answer]:
    """Return the answers, those that the records give in place of what was ticked.

    conditions: by the name of its position, what each pad is in.
    """
    faults = [f"{name} {each}" for name, each in conditions.items() if each in UNSOUND]
    return [_answer(each, done, faults) for each in answers]


def _answer(answer: Answer, done: Mapping[str, bool], faults: Sequence[str]) -> Answer:
    need = ANSWERED_BY.get(answer.key)
    if need is not None:
        state = ItemAnswer.State.DONE if done[need] else ItemAnswer.State.NOT_SO
        return replace(answer, state=state, reason="")
    is_contradicted = answer.key == PADS_LOOK and answer.state == ItemAnswer.State.DONE and faults
    if is_contradicted:
        return replace(answer, state=ItemAnswer.State.NOT_SO, reason=", ".join(faults)[:200])
    return answer


def not_counting_words(kind: str, lacks: Sequence[str]) -> str:
    """Say that an inspection does not count as one of its kind, and what it lacks."""
    words = " and ".join(lacks)
    return (
        f"It is kept on record but does not count as an inspection “{kind}”, for it lacks: {words}."
    )
