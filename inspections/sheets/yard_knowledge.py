"""What is on record of the yards' machines, looked up by marks however loosely they are written."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Max

from fleet.models import Hammer, HourReading, Mounting, PadLot, SuppressorHousing, Yard
from inspections.models import OwnKind
from inspections.sheets.meanings import mark_key, plain_words

Hanging = tuple[datetime, datetime | None, str]


@dataclass
class Knowledge:
    """Marks by sort of thing and key; positions by housing; what hung where, by hammer.

    hours: the most that each meter on record showed.
    """

    marks: dict[str, dict[str, list[str]]] = field(
        default_factory=lambda: {"housing": {}, "hammer": {}, "lot": {}}
    )
    yards: list[Yard] = field(default_factory=list)
    positions: dict[str, int] = field(default_factory=dict)
    hangings: dict[str, list[Hanging]] = field(default_factory=dict)
    own_kinds: frozenset[str] = frozenset()
    hours: tuple[float, ...] = ()
    new: set[tuple[str, str]] = field(default_factory=set)

    def add(self, sort: str, mark: str) -> None:
        held = self.marks[sort].setdefault(mark_key(mark), [])
        if mark not in held:
            held.append(mark)

    def found(self, sort: str, text: str) -> list[str]:
        """The marks that a text may stand for: written just so, or else alike."""
        held = self.marks[sort].get(mark_key(text), [])
        plain = " ".join(text.split()).lower()
        same = [mark for mark in held if mark.lower() == plain]
        return same or held

    def all_marks(self, sort: str) -> list[str]:
        return sorted(mark for held in self.marks[sort].values() for mark in held)

    def closest(self, sorts: Iterable[str], text: str) -> tuple[str, str] | None:
        """The sort and mark that is written most nearly like a text."""
        by_key = {(sort, key): held[0] for sort in sorts for key, held in self.marks[sort].items()}
        keys = {key: (sort, key) for sort, key in by_key}
        near = difflib.get_close_matches(mark_key(text), keys, n=1, cutoff=0.75)
        return (keys[near[0]][0], by_key[keys[near[0]]]) if near else None

    def yards_named(self, text: str) -> list[Yard]:
        """Yards that a text may stand for: by name or place, the word yard left out."""
        wanted = _yard_words(text)
        exact = [each for each in self.yards if wanted in _names_of(each)]
        if exact or not wanted:
            return exact
        words = set(wanted.split())
        return [each for each in self.yards if words <= set(" ".join(_names_of(each)).split())]

    def housing_at(self, hammer: str, moment: datetime) -> str:
        """The housing that hung on a hammer at a moment, "" where none is known."""
        for begun, ended, housing in self.hangings.get(hammer, []):
            if begun <= moment and (ended is None or moment < ended):
                return housing
        return ""

    def hammer_at(self, housing: str, moment: datetime) -> str:
        """The hammer that a housing hung on at a moment, "" where none is known."""
        for hammer in self.hangings:
            if self.housing_at(hammer, moment) == housing:
                return hammer
        return ""

    def can_hang(self, housing: str, hammer: str, moment: datetime) -> bool:
        """Whether a housing may be recorded to have gone on a hammer at a moment.

        Both hung elsewhere since before then, or nowhere: a move is recorded after the last one.
        """
        spans = [
            (other, begun, ended, held)
            for other, hung in self.hangings.items()
            for begun, ended, held in hung
            if other == hammer or held == housing
        ]
        return not any(
            (begun if ended is None else ended) > moment
            or (ended is None and (other, held) == (hammer, housing))
            for other, begun, ended, held in spans
        )

    @property
    def machine_keys(self) -> frozenset[str]:
        return frozenset(self.marks["housing"]) | frozenset(self.marks["hammer"])

    @property
    def yard_words(self) -> frozenset[str]:
        return frozenset(_yard_words(each.name) for each in self.yards)


def _names_of(yard: Yard) -> tuple[str, str]:
    return _yard_words(yard.name), _yard_words(yard.place)


def _yard_words(text: str) -> str:
    words = plain_words(text).split()
    return " ".join(word for word in words if word not in ("yard", "the", "depot"))


def known_now() -> Knowledge:
    """Return what is on record."""
    known = Knowledge(yards=list(Yard.objects.all()))
    for mark, positions in SuppressorHousing.objects.values_list("mark", "positions_per_side"):
        known.add("housing", mark)
        known.positions[mark] = positions
    for mark in Hammer.objects.values_list("mark", flat=True):
        known.add("hammer", mark)
    for mark in PadLot.objects.values_list("mark", flat=True):
        known.add("lot", mark)
    hung = Mounting.objects.order_by("mounted_at").values_list(
        "hammer__mark", "mounted_at", "removed_at", "housing__mark"
    )
    for hammer, begun, ended, housing in hung:
        known.hangings.setdefault(hammer, []).append((begun, ended, housing))
    read = HourReading.objects.standing().order_by().values("hammer", "power_pack")
    known.hours = tuple(each["last"] for each in read.annotate(last=Max("hours")))
    known.own_kinds = frozenset(OwnKind.objects.in_use().values_list("name", flat=True))
    return known
