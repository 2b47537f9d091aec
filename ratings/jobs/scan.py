"""An answer to be taken in at a glance: units as rows, checks as columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ratings.jobs.may_go import MayGo
from ratings.jobs.words import UNKNOWN, margin_words, short_condition
from ratings.mechanics.extraction.outcomes import (
    CheckKey,
    ConditionState,
    Outcome,
    UnitVerdict,
    Verdict,
)
from ratings.mechanics.extraction.unit import Unit

# What stands at the head of a column.
SHORT_NAMES = {
    CheckKey.LINE_PULL: "Pads",
    CheckKey.CRANE: "Crane",
    CheckKey.RIGGING: "Rigging",
    CheckKey.CENTRIFUGAL: "Centrifugal",
    CheckKey.AMPLITUDE: "Amplitude",
    CheckKey.CLAMP: "Clamp",
    CheckKey.TENSION: "Pile",
    CheckKey.LIFT: "Lift",
    CheckKey.TOGETHER: "Added",
    CheckKey.ACCELERATION: "Acceleration",
}


@dataclass(frozen=True)
class Column:
    """A check as a column. judges: whether the verdict rests on it, by the yard's criterion."""

    key: CheckKey
    name: str
    judges: bool


@dataclass(frozen=True)
class Cell:
    """How one check of one unit comes out; outcome "" where the job doesn't ask for it."""

    outcome: str
    margin: str
    governs: bool
    judges: bool


@dataclass(frozen=True)
class Flag:
    """A condition that doesn't simply hold, in a few words."""

    state: str
    words: str


@dataclass(frozen=True)
class ScanRow:
    """One unit of the table. governs: what governs, with its margin."""

    may_go: MayGo
    verdict: Verdict
    governs: str
    cells: tuple[Cell, ...]
    flags: tuple[Flag, ...]


def columns(verdicts: Sequence[UnitVerdict]) -> tuple[Column, ...]:
    """Return the checks that any unit has: those that judge first, then those only shown."""
    judges = {each.key: each.judges for verdict in verdicts for each in verdict.checks}
    found = [Column(key, SHORT_NAMES[key], judges[key]) for key in SHORT_NAMES if key in judges]
    return tuple(sorted(found, key=lambda each: not each.judges))


def scan_row(verdict: UnitVerdict, unit: Unit, of: Sequence[Column], may_go: MayGo) -> ScanRow:
    """Return one unit's row: of several groups of piles that which comes out worst.

    may_go: as the ranking tells it.
    """
    return ScanRow(
        may_go=may_go,
        verdict=verdict.verdict,
        governs=f"{SHORT_NAMES[verdict.governing].lower()} {_margin(verdict)}",
        cells=tuple(_cell(verdict, each.key) for each in of),
        flags=tuple(
            Flag(each.state, short_condition(each, unit))
            for each in verdict.conditions
            if each.state is not ConditionState.HOLDS
        ),
    )


def _margin(verdict: UnitVerdict) -> str:
    return UNKNOWN if verdict.margin is None else margin_words(verdict.margin)


def _cell(verdict: UnitVerdict, key: CheckKey) -> Cell:
    check = verdict.check(key)
    if check is None:
        return Cell("", "", governs=False, judges=True)
    # What is only shown governs nothing, even where it is the same check.
    governs = check.judges and verdict.governing is key
    margin = "" if check.outcome is Outcome.UNKNOWN else margin_words(check.margin)
    return Cell(check.outcome, margin, governs, check.judges)
