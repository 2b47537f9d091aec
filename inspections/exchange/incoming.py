"""Take a register in: tried row by row first, then whole, in one transaction or not at all."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import DatabaseError, OperationalError, transaction
from django.utils import timezone

from fleet import clock, together
from fleet.aside import NoRoom, is_full, on_a_copy
from fleet.fields import CLOCK_LEEWAY
from fleet.people.yards import in_every_yard
from fleet.stock import NotEnoughInStock
from inspections.exchange.acts import ACTS, KNOWN, NEW, NotThere, put_on_record, recount
from inspections.exchange.moves import Moved, figures_now, moved_since
from inspections.exchange.rows import Row
from inspections.exchange.tables import BY_NAME, NAMED

logger = logging.getLogger(__name__)

REFUSED = "refused"
DATABASE_REFUSES = (
    "The database does not take this row, and no rule said why: look whether it contradicts "
    "another row of the file or what is on record. Where you find nothing, have whoever keeps the "
    "machine look into the log"
)


@dataclass(frozen=True)
class Fate:
    """What becomes of a row, and why where it is refused; or of rows up to `last` that share it.

    parts: how many rows belong to it.
    """

    table: str
    line: int
    outcome: str
    words: str = ""
    parts: int = 0
    last: int = 0

    @property
    def lines(self) -> str:
        return f"{self.line} to {self.last}" if self.last else f"{self.line}"

    def goes_on(self, fate: Fate) -> bool:
        shared = (self.table, self.outcome, self.words) == (fate.table, fate.outcome, fate.words)
        return shared and fate.line == (self.last or self.line) + 1


@dataclass(frozen=True)
class Trial:
    """The fate of every row of a register, and the units rated otherwise by them."""

    fates: tuple[Fate, ...]
    moves: tuple[Moved, ...] = ()

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
    def runs(self) -> list[Fate]:
        """The fate of every row, those refused first, rows that share one told together."""
        order = {name: place for place, name in enumerate(BY_NAME)}
        runs: list[Fate] = []
        for fate in sorted(
            self.fates, key=lambda each: (each.outcome != REFUSED, order[each.table], each.line)
        ):
            if runs and runs[-1].goes_on(fate):
                parts = runs[-1].parts + fate.parts
                runs[-1] = replace(runs[-1], last=fate.line, parts=parts)
            else:
                runs.append(fate)
        return runs


_EVER = datetime(1900, 1, 1, tzinfo=UTC)


class Refused(Exception):
    """A register with a row that can't be taken: nothing of it was kept."""

    def __init__(self, trial: Trial) -> None:
        self.trial = trial
        super().__init__(f"{len(trial.refused)} rows refused")


@in_every_yard
def try_register(rows: Sequence[Row], by: User) -> Trial:
    """Say what would become of every row; keep nothing. Raises NoRoom where the disk is full."""
    with on_a_copy(), transaction.atomic():
        before, begun = figures_now(), clock.now()
        trial = _take(rows, by)
        trial = replace(trial, moves=tuple(moved_since(before, by=by, since=begun)))
        transaction.set_rollback(True)
    return trial


@in_every_yard
def take_register(rows: Sequence[Row], by: User) -> Trial:
    """Take every row in one transaction.

    Raises Refused, and keeps nothing, if one can't be; NoRoom where the disk is full.
    """
    with transaction.atomic():
        trial = _take(rows, by)
        if trial.refused:
            raise Refused(trial)
    return trial


def _take(rows: Sequence[Row], by: User) -> Trial:
    with together.recorded_together():
        return _take_in_order(rows, by)


def _take_in_order(rows: Sequence[Row], by: User) -> Trial:
    """Try what the yard owns first, then what happened, in the order it happened.

    Pads may have been fitted or moved by a date before the one they were received or counted by: a
    row that needs stock is tried again once all others are in. A shelf counted after it is then
    brought to its count again, since that count saw the shelf without those pads.
    """
    fates: dict[int, Fate] = {}
    refused: set[str] = set()
    in_order = list(enumerate(sorted(rows, key=_when)))
    wanting: list[Row] = []
    for place, row in in_order:
        try:
            fates[place] = _fate(row, by, refused)
        except NotEnoughInStock:
            wanting.append(row)
    for place, row in in_order:
        if place not in fates:
            try:
                fates[place] = _fate(row, by, refused)
            except NotEnoughInStock as want:
                fates[place] = Fate(row.table, row.line, REFUSED, _words(want), len(row.parts))
    _count_again([row for place, row in in_order if fates[place].outcome != REFUSED], wanting, by)
    return Trial(tuple(fates.values()))


def _fate(row: Row, by: User, refused: set[str]) -> Fate:
    outcome, words = _tried(row, by, refused)
    if outcome == REFUSED and row.table.removesuffix("s") in NAMED:
        refused.add(str(row.values.get(NAMED[row.table.removesuffix("s")][1], "")))
    return Fate(row.table, row.line, outcome, words, len(row.parts))


def _tried(row: Row, by: User, refused: set[str]) -> tuple[str, str]:
    """refused: what rows refused before it are called.

    Raises NotEnoughInStock, NoRoom, and OperationalError where others hold the records, or they
    do not answer: that is no fault of a row.
    """
    if row.faults:
        return REFUSED, "; ".join(row.faults)
    if _latest(row) > timezone.now() + CLOCK_LEEWAY:
        return REFUSED, "It lies in the future: give when it happened"
    try:
        return _put_on_record(row, by), ""
    except NotEnoughInStock:
        raise
    except NotThere as lacking:
        if lacking.value in refused:
            return REFUSED, f"{lacking.start} is in this file and refused: correct that row first"
        return REFUSED, _words(lacking)
    except ValidationError as refusal:
        return REFUSED, _words(refusal)
    except DatabaseError as fault:
        # No fault of the row, and of no other row either.
        if is_full(fault):
            raise NoRoom from fault
        if isinstance(fault, OperationalError):
            raise
        logger.exception("%s, line %s, not taken", row.table, row.line)
        return REFUSED, DATABASE_REFUSES
    except ValueError as refusal:
        # The mechanics refuse by it in words; what else raises a plain one is to be looked at.
        if type(refusal) is ValueError:
            logger.exception("%s, line %s, not taken", row.table, row.line)
        return REFUSED, str(refusal)


def _put_on_record(row: Row, by: User) -> str:
    """Record a row by itself, so that one refused leaves nothing behind, and return its fate."""
    # What it may change is found anew by what it posts itself, and by the rows after it.
    act = ACTS[row.table]
    act.forget()
    try:
        with together.all_or_nothing():
            return put_on_record(row, by)
    finally:
        act.forget()


def _count_again(taken: Sequence[Row], wanting: Sequence[Row], by: User) -> None:
    lots = {each.values.get("lot") for row in wanting for each in (row, *row.parts)}
    for row in taken:
        if row.table == "shelf_counts" and row.values["lot"] in lots:
            recount(row, by)


def _words(refusal: ValidationError) -> str:
    if hasattr(refusal, "error_dict"):
        return "; ".join(
            f"{name}: {' '.join(messages)}" for name, messages in refusal.message_dict.items()
        )
    return "; ".join(refusal.messages)


def _when(row: Row) -> datetime:
    """When a row happened; what is no event of a day is older than anything done with it.

    Listings too: they count in the order they were recorded, whatever day their source bears.
    """
    return row.values.get(BY_NAME[row.table].when) or _EVER


def _latest(row: Row) -> datetime:
    """The latest moment a row speaks of as past; the day of a source is one too."""
    dated = row.values.get("dated")
    moments = [value for value in row.values.values() if isinstance(value, datetime)]
    if isinstance(dated, date):
        moments.append(timezone.make_aware(datetime(dated.year, dated.month, dated.day)))
    return max(moments, default=_EVER)
