"""Take a register in: tried row by row first, then whole, in one transaction or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction
from django.utils import timezone

from fleet.forms.moment import CLOCK_LEEWAY
from inspections.exchange.acts import KNOWN, NEW, put_on_record
from inspections.exchange.rows import Row

REFUSED = "refused"
# Columns that say when a row happened; the register itself is older than anything done with it.
_WHEN = ("tested_at", "occurred_at", "at", "seen_at", "fitted_at", "dated")
_EVER = datetime(1900, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Fate:
    """What becomes of a row, and why where it is refused."""

    table: str
    line: int
    outcome: str
    words: str = ""


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
    def counts(self) -> list[tuple[str, int]]:
        return [(outcome, self.count(outcome)) for outcome in (NEW, KNOWN, REFUSED)]


class Refused(Exception):
    """A register with a row that can't be taken: nothing of it was kept."""

    def __init__(self, trial: Trial) -> None:
        self.trial = trial
        super().__init__(f"{len(trial.refused)} rows refused")


def try_register(rows: Sequence[Row], by: User) -> Trial:
    """Say what would become of every row; keep nothing."""
    with transaction.atomic():
        trial = _take(rows, by)
        transaction.set_rollback(True)
    return trial


def take_register(rows: Sequence[Row], by: User) -> Trial:
    """Take every row in one transaction. Raises Refused, and keeps nothing, if one can't be."""
    with transaction.atomic():
        trial = _take(rows, by)
        if trial.refused:
            raise Refused(trial)
    return trial


def _take(rows: Sequence[Row], by: User) -> Trial:
    # What the yard owns first, then what happened, in the order it happened.
    return Trial(tuple(_fate(row, by) for row in sorted(rows, key=_when)))


def _fate(row: Row, by: User) -> Fate:
    if row.faults:
        return Fate(row.table, row.line, REFUSED, "; ".join(row.faults))
    if _when(row) > timezone.now() + CLOCK_LEEWAY:
        return Fate(row.table, row.line, REFUSED, "It lies in the future: give when it happened")
    try:
        with transaction.atomic():
            return Fate(row.table, row.line, put_on_record(row, by))
    except ValidationError as refusal:
        return Fate(row.table, row.line, REFUSED, _words(refusal))
    except (ValueError, DatabaseError) as refusal:
        return Fate(row.table, row.line, REFUSED, str(refusal))


def _words(refusal: ValidationError) -> str:
    if hasattr(refusal, "error_dict"):
        return "; ".join(
            f"{name}: {' '.join(messages)}" for name, messages in refusal.message_dict.items()
        )
    return "; ".join(refusal.messages)


def _when(row: Row) -> datetime:
    for name in _WHEN:
        value = row.values.get(name)
        if isinstance(value, datetime):
            return value
        if isinstance(value, date):
            return timezone.make_aware(datetime(value.year, value.month, value.day))
    return _EVER
