"""What becomes of every row of a register, told."""

from __future__ import annotations

from dataclasses import dataclass, replace

from inspections.exchange.acts.lookup import KNOWN, NEW
from inspections.exchange.tables import BY_NAME

REFUSED = "refused"


@dataclass(frozen=True)
class Fate:
    """What becomes of a row with the rows that belong to it, and why where it is refused."""

    table: str
    line: int
    outcome: str
    words: str = ""
    parts: int = 0


@dataclass(frozen=True)
class Run:
    """Rows of a table one after the other that share a fate."""

    table: str
    first: int
    last: int
    outcome: str
    words: str
    parts: int

    @property
    def lines(self) -> str:
        return f"{self.first}" if self.first == self.last else f"{self.first} to {self.last}"


@dataclass(frozen=True)
class Trial:
    """The fate of every row of a register."""

    fates: tuple[Fate, ...]

    def count(self, outcome: str) -> int:
        return sum(1 for fate in self.fates if fate.outcome == outcome)

    @property
    def refused(self) -> list[Fate]:
        return [fate for fate in self.fates if fate.outcome == REFUSED]

    @property
    def news(self) -> int:
        return self.count(NEW)

    @property
    def counts(self) -> list[tuple[str, int]]:
        return [(outcome, self.count(outcome)) for outcome in (NEW, KNOWN, REFUSED)]

    @property
    def runs(self) -> list[Run]:
        """The fate of every row, those refused first, rows that share one told together."""
        order = {name: place for place, name in enumerate(BY_NAME)}
        runs: list[Run] = []
        for fate in sorted(
            self.fates, key=lambda each: (each.outcome != REFUSED, order[each.table], each.line)
        ):
            last = runs[-1] if runs else None
            if last is not None and _goes_on(last, fate):
                runs[-1] = replace(last, last=fate.line, parts=last.parts + fate.parts)
            else:
                runs.append(
                    Run(fate.table, fate.line, fate.line, fate.outcome, fate.words, fate.parts)
                )
        return runs


def _goes_on(run: Run, fate: Fate) -> bool:
    shared = (run.table, run.outcome, run.words) == (fate.table, fate.outcome, fate.words)
    return shared and fate.line == run.last + 1
