"""Whether a commitment's pull sheet holds: a word, and every reason why it is void."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from fleet.dates import moment_words
from fleet.roles import who_words
from ratings.jobs.commitments import CommitmentNow
from ratings.ledger.answers import answer_fault


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


def state_of(now: CommitmentNow) -> State:
    """Return whether a commitment's sheet holds, as it stands now."""
    made, entry = now.commitment, now.commitment.answer.entry
    fault = answer_fault(made.answer)
    void = tuple(_void_reasons(now, fault))
    if void:
        return State(Word.VOID, void, fault)
    if now.is_over:
        return State(Word.PAST, (f"It was for {now.days}.",))
    if now.is_job_changed:
        return State(
            Word.ASK_AGAIN,
            (
                f"The numbers of the job changed since {made.housing.mark} was committed: the "
                "answer and the sheet are on the old ones. Release it and commit it again.",
            ),
        )
    return State(Word.VALID, (f"The unit’s rating is still ledger entry {entry.sequence}.",))


def _void_reasons(now: CommitmentNow, fault: str) -> Iterator[str]:
    made = now.commitment
    if fault:
        yield f"The answer on record does not hold: {fault}."
    if made.released_at is not None and made.released_by is not None:
        # What became of the unit afterwards is no matter of this sheet.
        yield (
            f"Released {moment_words(made.released_at)} by {who_words(made.released_by)}: "
            f"{made.release_reason.rstrip('.')}."
        )
        return
    yield from now.hindrances
    then = made.answer.entry
    if now.head is None:
        yield "The unit’s rating is no longer on record."
    elif now.head.pk != then.pk:
        yield (
            f"The unit’s rating changed: committed on ledger entry {then.sequence} "
            f"({then.judged}), now at entry {now.head.sequence} ({now.head.judged})."
        )
