"""Whether a commitment and its sheet hold: a word, and why."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from fleet.dates import moment_words
from ratings.extraction.recompute import answer_fault
from ratings.extraction.standingfalls import Held
from ratings.paper.words import who_words


class Word(StrEnum):
    """What a sheet is now."""

    VALID = "valid"
    ASK_AGAIN = "ask again"
    PAST = "past"
    VOID = "void"


@dataclass(frozen=True)
class State:
    """A word, and sentences that say why. fault: of the answer on record, "" where it holds."""

    word: Word
    reasons: tuple[str, ...]
    fault: str = ""

    @property
    def is_void(self) -> bool:
        return self.word is Word.VOID


def state_of(held: Held) -> State:
    """Return whether a commitment's sheet holds, as it stands now."""
    made, entry = held.commitment, held.commitment.answer.entry
    fault = answer_fault(made.answer)
    void = tuple(_void_reasons(held, fault))
    if void:
        return State(Word.VOID, void, fault)
    if held.is_over:
        return State(Word.PAST, (f"It was for {held.days}.",))
    if held.is_job_changed:
        return State(
            Word.ASK_AGAIN,
            (
                f"The numbers of the job changed since {made.housing.mark} was committed: the "
                "answer and the sheet are on the old ones. Release it and commit it again.",
            ),
        )
    return State(Word.VALID, (f"The unit’s rating is still ledger entry {entry.sequence}.",))


def _void_reasons(held: Held, fault: str) -> Iterator[str]:
    made, unit = held.commitment, held.commitment.housing.mark
    if fault:
        yield f"The answer on record does not hold: {fault}."
    if made.released_at is not None and made.released_by is not None:
        # What became of the unit afterwards is no matter of this sheet.
        yield (
            f"Released {moment_words(made.released_at)} by {who_words(made.released_by)}: "
            f"{made.release_reason.rstrip('.')}."
        )
        return
    if held.out_of_service:
        yield f"{unit} is out of service: {held.out_of_service.rstrip('.')}."
    if held.is_moved:
        now = f"on {held.hammer.mark}" if held.hammer else "off the hammer"
        yield f"{unit} was committed on {made.hammer.mark} and is {now} now."
    then = made.answer.entry
    if held.head is None:
        yield "The unit’s rating is no longer on record."
    elif held.head.pk != then.pk:
        yield (
            f"The unit’s rating changed: committed on ledger entry {then.sequence} "
            f"({then.judged}), now at entry {held.head.sequence} ({held.head.judged})."
        )
