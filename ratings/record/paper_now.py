"""What may be said of a paper given out: whether it still is so, and what was added since."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import pairwise
from typing import Any

from django.utils import timezone
from django.utils.dateparse import parse_datetime

from fleet.dates import day_words
from ratings.models import LedgerEntry, Paper
from ratings.record.papers import stated_of


class PaperWord(StrEnum):
    """What a paper is, in a word."""

    HOLDS = "still so"
    CHANGED = "no longer so"
    AGAIN = "ask again in a minute"
    OF_ITS_DAY = "of its day"


@dataclass(frozen=True)
class Since:
    """What was added to a unit's ledger since a paper was made; a stranger is told no more."""

    unit: str
    entries: int
    standings: int

    @property
    def words(self) -> str:
        if not self.entries:
            return f"Nothing was added to the ledger of {self.unit} since."
        entries = "1 entry was" if self.entries == 1 else f"{self.entries} entries were"
        changed = {0: "none of them changed its standing", 1: "one changed its standing"}
        many = f"{self.standings} times its standing changed"
        return (
            f"{entries} added to the ledger of {self.unit} since; "
            f"{changed.get(self.standings, many)}."
        )


@dataclass(frozen=True)
class PaperNow:
    """A paper as it was given out, and how it stands now."""

    paper: Paper
    contents: dict[str, Any]
    word: PaperWord
    reasons: tuple[str, ...]
    since: tuple[Since, ...]

    @property
    def figures(self) -> list[tuple[str, str]]:
        return [(name, words) for name, words in self.contents["figures"]]

    @property
    def made_words(self) -> str:
        """When it was made, and on what."""
        seal, made = self.contents["seal"], parse_datetime(self.contents["made_at"])
        under = (
            f"from the record as it stood after seal {seal['number']}"
            if seal
            else "before the record was first sealed"
        )
        return f"Made {day_words(made)}, {under}." if made else ""


def paper_now(paper: Paper) -> PaperNow:
    """Return how a paper stands now."""
    contents = paper.contents
    since = tuple(_since(entry) for entry in contents["entries"])
    try:
        now = stated_of(paper.kind, paper.subject, contents["system"])
    except LookupError as gone:
        return PaperNow(
            paper, contents, PaperWord.CHANGED, (f"{gone.args[0]}.".capitalize(),), since
        )
    if now is None:
        return PaperNow(paper, contents, PaperWord.OF_ITS_DAY, (), ())
    reasons = [
        *_over(contents["until"]),
        *now.no_more,
        *_other(contents["figures"], now.figures),
    ]
    if now.again and not reasons:
        return PaperNow(paper, contents, PaperWord.AGAIN, now.again, since)
    word = PaperWord.CHANGED if reasons else PaperWord.HOLDS
    return PaperNow(paper, contents, word, tuple(reasons), since)


def _over(until: str | None) -> list[str]:
    if until is None or date.fromisoformat(until) >= timezone.localdate():
        return []
    return [f"It was to be used until {day_words(date.fromisoformat(until))}."]


def _other(then: Sequence[Sequence[str]], now: Sequence[Sequence[str]]) -> list[str]:
    """Name the figures that are others now, without saying which: that is the yard's to tell."""
    known = {each[0]: each[1] for each in now}
    names = [name for name, words in then if known.get(name) != words]
    if not names:
        return []
    listed = ", ".join(name.lower() for name in names)
    return [f"Another than printed now: {listed}."]


def _since(entry: dict[str, Any]) -> Since:
    """Count what followed an entry; nothing is said of one that is not on record any more."""
    named = LedgerEntry.objects.filter(hash=entry["hash"]).first()
    if named is None:
        return Since(entry["unit"], 0, 0)
    later = list(
        LedgerEntry.objects.filter(housing=named.housing_id, sequence__gt=named.sequence).order_by(
            "sequence"
        )
    )
    standings = [str(each.judged) for each in (named, *later)]
    changes = sum(1 for before, after in pairwise(standings) if before != after)
    return Since(entry["unit"], len(later), changes)
