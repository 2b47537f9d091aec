"""What changed in an answer since the one a person last saw."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from ratings.jobs.answer import Row
from ratings.jobs.words import NONE, margin_words

MOST_KEPT = 500
MOST_ANNOUNCED = 3


@dataclass(frozen=True)
class Seen:
    """What was shown of one unit."""

    rank: int
    verdict: str
    governing: str
    margin: str

    @property
    def words(self) -> str:
        margin = "" if self.margin == NONE else f" {self.margin}"
        return f"{self.verdict}, {self.governing}{margin}"


def seen_now(rows: Iterable[Row]) -> dict[int, Seen]:
    """Return what a page of the answer shows, by the housing's key."""
    return {
        row.candidate.housing.pk: Seen(
            row.rank,
            row.verdict.verdict,
            row.verdict.governing,
            margin_words(row.verdict.margin),
        )
        for row in rows
    }


def written(before: dict[int, Seen], now: dict[int, Seen]) -> str:
    """Return all that was seen as text that the page carries and sends back.

    What was seen on other pages of the ranking is kept, up to a number.
    """
    # What is seen now first, so that it is the oldest that is given up.
    kept = list({**now, **{key: each for key, each in before.items() if key not in now}}.items())
    seen = dict(kept[:MOST_KEPT])
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
    except (AttributeError, OverflowError, RecursionError, TypeError, ValueError):
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


def news(changed: list[tuple[str, Seen, Seen]], was_seen: bool) -> str:
    """Say what changed in a line to be read out; "" where nothing was shown before.

    changed: mark, before and now of each unit that changed; those whose verdict did come first.
    """
    if not changed:
        return "No unit changed." if was_seen else ""
    ordered = sorted(changed, key=lambda each: each[1].verdict == each[2].verdict)
    listed = "; ".join(_news_of(*each) for each in ordered[:MOST_ANNOUNCED])
    more = len(ordered) - MOST_ANNOUNCED
    rest = f"; and {more} more" if more > 0 else ""
    return f"{len(ordered)} unit{'' if len(ordered) == 1 else 's'} changed: {listed}{rest}."


def _news_of(mark: str, before: Seen, now: Seen) -> str:
    if before.verdict != now.verdict:
        return f"{mark} {now.verdict}, was {before.verdict}"
    if before.governing != now.governing:
        return f"{mark} governed by {now.governing}, was {before.governing}"
    if before.margin != now.margin:
        return f"{mark} {now.margin}, was {before.margin}"
    return f"{mark} number {now.rank}, was {before.rank}"
