"""What changed in an answer since the one a person last saw."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from ratings.extraction.answer import Row
from ratings.extraction.sentences import margin_words


@dataclass(frozen=True)
class Seen:
    """What was shown of one unit."""

    rank: int
    verdict: str
    governing: str
    margin: str

    @property
    def words(self) -> str:
        return f"{self.verdict}, {self.governing} {self.margin}".replace(" –", "")


def seen_now(rows: Iterable[Row]) -> dict[int, Seen]:
    """Return what a page of the answer shows, by the housing's key."""
    return {row.candidate.housing.pk: _seen(row) for row in rows}


def _seen(row: Row) -> Seen:
    verdict = row.verdict
    return Seen(row.rank, verdict.verdict, verdict.governing, margin_words(verdict.margin))


def written(seen: dict[int, Seen]) -> str:
    """Return it as text that the page carries and sends back."""
    return json.dumps(
        {key: [each.rank, each.verdict, each.governing, each.margin] for key, each in seen.items()}
    )


def read(text: str) -> dict[int, Seen]:
    """Read it back; nothing where it isn't of our making."""
    try:
        given: Any = json.loads(text or "{}")
        return {
            int(key): Seen(int(rank), str(verdict)[:40], str(governing)[:40], str(margin)[:12])
            for key, (rank, verdict, governing, margin) in given.items()
        }
    except (AttributeError, TypeError, ValueError):
        return {}


def change_words(before: Seen | None, now: Seen) -> str:
    """Say how a unit stood before, "" where it stands as it did or wasn't shown."""
    if before is None or before == now:
        return ""
    if (before.verdict, before.governing, before.margin) == (
        now.verdict,
        now.governing,
        now.margin,
    ):
        return f"was number {before.rank}"
    return f"was: {before.words}"
