"""Cells of a spreadsheet: values as text, text that never runs as a formula, and back."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, TypeVar

from django.utils import timezone
from django.utils.dateparse import parse_date, parse_datetime

from fleet.characters import without_hidden
from fleet.models.machine import MachineSort
from fleet.models.measured_fields import Measured
from fleet.numbers import Decimals, NotANumber, quoted
from inspections.schedule.kinds import NEED_OR_SIGNER_WORDS

MOST_TEXT = 2000
EARLIEST_YEAR, LATEST_YEAR = 1950, 2100


T = TypeVar("T")
AnyDay = TypeVar("AnyDay", date, datetime)


class BadCell(ValueError):
    """A cell that won't do, in words that say what would."""


@dataclass(frozen=True)
class Column:
    """A column: its name in the header, how a cell is read, and what it means."""

    name: str
    read: Callable[[str], Any]
    meaning: str
    needed: bool = False


@dataclass(frozen=True)
class TextCell:
    """Reads text, without characters nobody sees, of so many characters at the most."""

    most: int = MOST_TEXT

    def __call__(self, cell: str) -> str:
        """Return the text of a cell. Raises BadCell."""
        plain = without_hidden(cell).strip()
        if len(plain) > self.most:
            raise BadCell(f"has {len(plain):,} characters: {self.most:,} at the most")
        return plain


@dataclass(frozen=True)
class NumberCell:
    """Reads numbers as a field of measured ones has them, in the unit it stores."""

    field: Measured

    def __call__(self, cell: str, decimals: Decimals = Decimals.POINT) -> float | None:
        """Return the number in a cell; a blank cell is none. Raises BadCell."""
        try:
            return self.field.read(cell, decimals) if cell.strip() else None
        except NotANumber as error:
            raise BadCell(str(error)) from error


def day(cell: str) -> date | None:
    """Read a day such as 2026-03-14; a blank cell is none."""
    if not cell.strip():
        return None
    # Spreadsheets give a day as midnight of it.
    read = _quietly(parse_date, cell.strip()[:10])
    if read is None:
        raise BadCell(f"{quoted(cell)} is not a day: give one such as 2026-03-14")
    return _of_this_age(cell, read)


def moment(cell: str) -> datetime | None:
    """Read a time such as 2026-03-14 09:30, the yard's own where it names no zone."""
    if not cell.strip():
        return None
    read = _quietly(parse_datetime, cell.strip())
    if read is None:
        on = _quietly(parse_date, cell.strip())
        read = None if on is None else datetime(on.year, on.month, on.day, 12, 0)
    if read is None:
        raise BadCell(f"{quoted(cell)} is not a time: give one such as 2026-03-14 09:30")
    read = _of_this_age(cell, read)
    return read if timezone.is_aware(read) else timezone.make_aware(read)


def kind_needs(cell: str) -> tuple[str, ...]:
    """Return what a kind needs, such as "pads, travel". Raises BadCell."""
    given = tuple(word.strip().lower() for word in cell.split(",") if word.strip())
    for word in given:
        if word not in NEED_OR_SIGNER_WORDS:
            raise BadCell(f"{quoted(word)} won’t do: give any of {', '.join(NEED_OR_SIGNER_WORDS)}")
    return given


def machine_sorts(cell: str) -> tuple[MachineSort, ...]:
    """Read sorts of machine set apart by commas, such as "hammer, clamp". Raises BadCell."""
    words = [word.strip().lower() for word in cell.split(",") if word.strip()]
    for word in words:
        if word not in MachineSort.values:
            raise BadCell(
                f"{quoted(word)} is no sort of machine: give {', '.join(MachineSort.values)}"
            )
    return tuple(MachineSort(word) for word in words)


SOUND, NOT_SOUND = "sound", "not sound"


def second_look(cell: str) -> str:
    """Read what a second look found, "" where there was none. Raises BadCell."""
    word = " ".join(cell.lower().split())
    if word not in ("", SOUND, NOT_SOUND):
        raise BadCell(f"{quoted(cell)} won’t do: give {SOUND} or {NOT_SOUND}")
    return word


def yes_or_no(cell: str) -> bool | None:
    """Read yes or no; a blank cell is neither. Raises BadCell."""
    word = cell.strip().lower()
    if word not in ("", "yes", "no"):
        raise BadCell(f"{quoted(cell)} won’t do: give yes or no")
    return word == "yes" if word else None


def one_of(choices: Iterable[str]) -> Callable[[str], str]:
    """Return a reader of one of these words."""

    def read(cell: str) -> str:
        word = cell.strip().lower()
        for choice in choices:
            if choice.lower() == word:
                return choice
        raise BadCell(f"{quoted(cell)} won’t do: give {', '.join(choices)}")

    return read


def _of_this_age(cell: str, read: AnyDay) -> AnyDay:
    if EARLIEST_YEAR <= read.year <= LATEST_YEAR:
        return read
    raise BadCell(f"{quoted(cell)} won’t do: give a year from {EARLIEST_YEAR} to {LATEST_YEAR}")


def _quietly(parse: Callable[[str], T | None], given: str) -> T | None:
    try:
        return parse(given)
    except ValueError:
        return None
