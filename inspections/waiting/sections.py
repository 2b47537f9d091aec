"""What a section of the page "Waiting for me" is made of, and what a section shows to whom."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any

from django.contrib.auth.models import User
from django.db.models import QuerySet
from django.utils import timezone

from fleet.models import PadOrder
from fleet.roles import PLAN, RECORD
from fleet.unchanged import as_recorded
from inspections.schedule.due import Due, UnitDue
from inspections.schedule.pressing import FleetDue, PressingKind, pressing_of_fleet, with_units
from ratings.jobs.validity import CommitmentNow, commitments_now
from ratings.models import Commitment

# What presses, and its unit as it stands there now; None where it does so no more.
Pressing = tuple[PressingKind, tuple[UnitDue, Due] | None]


@dataclass(frozen=True)
class Line:
    """One thing that waits.

    what: the record it is about, words: what waits of it, both for a person. page: where it is
    read. action: what there is to do, form: where it is done; settled_by: who may, where not
    whoever settles its section. is_late: over the day it was to be done by. is_grave: to be
    looked at before anything else.
    """

    what: str
    words: str
    page: str
    action: str = ""
    form: str = ""
    settled_by: str = ""
    is_late: bool = False
    is_grave: bool = False

    @property
    def mark(self) -> str:
        """How it presses, in a word or two; "" where it has time."""
        if self.is_grave:
            return "at once"
        return "late" if self.is_late else ""


@dataclass(frozen=True)
class Next:
    """What comes due next of a section, and when; it does not wait yet."""

    day: date
    words: str


@dataclass(frozen=True)
class Found:
    """What one provider found: records by how they press, and how a line is made of one.

    Only the records that are shown are made lines of. read: returns, of all that are, what lines
    are made of, where they are found without being read.
    """

    records: Sequence[Any] | QuerySet[Any]
    line: Callable[[Any], Line]
    next: Next | None = None
    read: Callable[[Any], Iterable[Any]] = iter

    @cached_property
    def count(self) -> int:
        return self.records.count() if isinstance(self.records, QuerySet) else len(self.records)


class Today:
    """The day, whose it is, and what several providers ask for, asked once.

    person: for whom it is looked up; None where for anybody.
    """

    def __init__(self, person: User | None = None) -> None:
        self.day = timezone.localdate()
        self.person = person
        self._pressing_read: set[PressingKind] = set()
        self._units_read: dict[PressingKind, tuple[UnitDue, Due]] = {}

    @cached_property
    def commitments(self) -> list[CommitmentNow]:
        """Those that hold a unit today or will, as they stand."""
        return commitments_now(Commitment.objects.not_over(self.day))

    @cached_property
    def fleet_due(self) -> FleetDue:
        """What presses at every unit, the worst first, and what comes due after that."""
        return as_recorded().once(pressing_of_fleet)

    def with_units(self, shown: Sequence[PressingKind]) -> list[Pressing]:
        """Return kinds that press, each with its unit and how it stands there, read now.

        What is overdue and what is due soon show beside each other, so many of each: all of them
        are read at once.
        """
        if not self._pressing_read.issuperset(shown):
            self._pressing_read = set(shown)
            for state in ("overdue", "soon"):
                self._pressing_read.update(self.fleet_due.asked(state, "")[: len(shown)])
            self._units_read = with_units(self._pressing_read)
        return [(each, self._units_read.get(each)) for each in shown]

    @cached_property
    def pads_on_order(self) -> list[PadOrder]:
        """Orders of which pads are still to come, those promised first first."""
        found = PadOrder.objects.open().select_related("yard", "lot")
        return sorted(found, key=lambda each: (each.due_on, each.pk))


@dataclass(frozen=True)
class Provider:
    """A section of the page: its function looks up what waits.

    settled_by: the right of whoever does what waits. auditors_read: whether it also shows to those
    who only read.
    """

    key: str
    title: str
    find: Callable[[Today], Found]
    settled_by: str = RECORD
    auditors_read: bool = False

    def is_for(self, person: User) -> bool:
        """Whether the section is a person's to settle, or an auditor's to read."""
        if person.has_perm(self.settled_by):
            return True
        is_auditor = not (person.has_perm(RECORD) or person.has_perm(PLAN))
        return is_auditor and self.auditors_read


@dataclass(frozen=True)
class Section:
    """What waits by one provider."""

    provider: Provider
    found: Found

    @property
    def key(self) -> str:
        return self.provider.key

    @property
    def title(self) -> str:
        return self.provider.title

    @property
    def count(self) -> int:
        return self.found.count

    def lines(self, first: int = 0, many: int | None = None) -> list[Line]:
        """Make lines of some of the records, of all unless so many are asked for."""
        last = None if many is None else first + many
        shown = self.found.records[first:last]
        return [self.found.line(each) for each in self.found.read(shown)]


@dataclass(frozen=True)
class Waiting:
    """All that waits for a person, in sections. next: what comes due first, of all sections."""

    sections: tuple[Section, ...]
    next: Next | None

    @property
    def count(self) -> int:
        return sum(section.count for section in self.sections)


def waiting(providers: Sequence[Provider], person: User | None = None) -> Waiting:
    """Look up what waits by each provider, for a person or anybody; what is empty is left out.

    In a fixed number of queries, which no provider may let grow with what waits.
    """
    today = Today(person)
    sections = [Section(each, each.find(today)) for each in providers]
    coming = [section.found.next for section in sections if section.found.next]
    return Waiting(
        tuple(section for section in sections if section.count),
        min(coming, key=lambda each: each.day, default=None),
    )
