"""Units rated before the locks are taken that signing waits for, so that it waits less.

What is to be recorded is tried first: it is refused then if it will be, and `post` tells which
units it would rate again; all is undone. What these will rest on is gathered as if it were recorded
already, where that can be said, and else within the trial. What that comes to is worked out while
others go on writing. Then it is recorded. Under the locks every fact is read anew, and what was
worked out counts only where it rests on the very same: inputs come to the same results whenever
that is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from django.db import connection, transaction

from fleet.journal.snapshot import one_moment
from fleet.models import SuppressorHousing
from ratings.ledger.canonical import canonical_text, is_same
from ratings.ledger.facts import AsIf, Facts, gather, sources
from ratings.mechanics.record import FORMAT, results_of_format
from ratings.mechanics.unit_rating import UnitInputs
from ratings.models import CurrentRating, LedgerEntry
from ratings.models.ledger import GENESIS_HASH


@dataclass(frozen=True)
class Worked:
    """What the facts of a unit come to, spelled as its entry will have them."""

    inputs: UnitInputs
    inputs_text: str
    results: dict[str, Any]
    results_text: str


@dataclass(frozen=True)
class Ahead:
    """What was worked out of a unit, and what its last entry then was.

    head_hash: of that entry. sources: what its inputs came from, None where they were others or of
    an older method, so that a new entry differs from it.
    """

    worked: Worked
    head_hash: str
    sources: dict[str, Any] | None

    def is_of(self, facts: Facts, head_hash: str) -> bool:
        """Whether it rests on these very inputs and that very entry."""
        return self.head_hash == head_hash and self.worked.inputs == facts.inputs

    def says(self, facts: Facts) -> bool:
        """Whether the last entry rests on these very facts, of which this is."""
        return self.sources is not None and is_same(sources(facts.provenance), self.sources)


AllAhead = Mapping[int, Ahead]
NOTHING_AHEAD: AllAhead = {}
P = ParamSpec("P")
R = TypeVar("R")
# Fewer units are rated about as soon as they are tried.
MANY = 50


def may_work_ahead() -> bool:
    """Whether nobody waits yet: inside a transaction the locks may be held already."""
    return not connection.in_atomic_block


def work_out(facts: Facts) -> Worked:
    """Return what facts come to by today's method."""
    results = results_of_format(FORMAT, facts.inputs)
    return Worked(
        facts.inputs, canonical_text(facts.inputs_record), results, canonical_text(results)
    )


def work_ahead(housings: Sequence[SuppressorHousing]) -> dict[int, Ahead]:
    """Return by housing what its facts come to, read at one moment and without any lock."""
    with one_moment():
        return all_worked_out(gather(housings))


def all_worked_out(
    gathered: Mapping[int, Facts], tell: Callable[[int], None] | None = None
) -> dict[int, Ahead]:
    """Return by housing what its facts come to. tell: told of each unit."""
    rated = CurrentRating.objects.filter(housing__in=list(gathered)).select_related("head")
    heads = {rating.housing_id: rating.head for rating in rated}
    found = {}
    for key, facts in gathered.items():
        found[key] = _ahead(facts, heads.get(key))
        if tell is not None:
            tell(1)
    return found


def _ahead(facts: Facts, head: LedgerEntry | None) -> Ahead:
    worked = work_out(facts)
    if head is None:
        return Ahead(worked, GENESIS_HASH, None)
    before = head.contents
    is_alike = before["format"] == FORMAT and is_same(facts.inputs_record, before["inputs"])
    return Ahead(worked, head.hash, sources(before["provenance"]) if is_alike else None)


@dataclass
class Trial:
    """What was recorded on trial would do.

    gathers: whether what the units it would rate again would rest on is kept in facts.
    """

    gathers: bool
    housings: list[SuppressorHousing] = field(default_factory=list)
    facts: dict[int, Facts] = field(default_factory=dict)

    def meet(self, housings: Sequence[SuppressorHousing]) -> None:
        """Keep of housings, instead of rating them, what is asked for."""
        self.housings += housings
        if self.gathers and len(housings) >= MANY:
            self.facts |= gather(housings)


_trial: ContextVar[Trial | None] = ContextVar("recorded on trial", default=None)


def trial_under_way() -> Trial | None:
    """Return the trial in which something is being recorded, None where it is in earnest."""
    return _trial.get()


@contextmanager
def only_tried(*, gathers: bool = False) -> Iterator[Trial]:
    """Let what the block records be refused if it must be, rate no unit, and undo all of it."""
    trial = Trial(gathers)
    token = _trial.set(trial)
    try:
        with transaction.atomic():
            yield trial
            transaction.set_rollback(True)
    finally:
        _trial.reset(token)


@dataclass
class Given:
    """What `post` is given that was worked out ahead, and how many entries it posted with it."""

    ahead: AllAhead
    posted: int = 0


_given: ContextVar[Given | None] = ContextVar("worked out ahead", default=None)


def given_ahead() -> Given | None:
    """Return what was worked out for what is being recorded, None where nothing was."""
    return _given.get()


@contextmanager
def giving(ahead: AllAhead) -> Iterator[Given]:
    """Give what was worked out to whatever the block posts."""
    given = Given(ahead)
    token = _given.set(given)
    try:
        yield given
    finally:
        _given.reset(token)


def ahead_of(
    record: Callable[[], object],
    as_if: AsIf | None = None,
    tell: Callable[[int], None] | None = None,
) -> AllAhead:
    """Return what the units come to that something would rate again, by recording it on trial.

    as_if: what it would record, where that can be said: then nobody waits while facts are gathered.
    Raises what it raises where it is refused. tell: told of each unit.
    """
    with only_tried(gathers=as_if is None) as trial:
        record()
    if as_if is None:
        return all_worked_out(trial.facts, tell)
    with one_moment():
        gathered = gather(trial.housings, as_if) if len(trial.housings) >= MANY else {}
    return all_worked_out(gathered, tell)


Arguments = Mapping[str, Any]
# Said of a recording function: what it would record, by its arguments.
AS_IF = "_as_if"


def as_if_of(record: Callable[..., Any], given: Arguments) -> AsIf | None:
    """Return what a recording function would record, given so, where it can be said."""
    found: Callable[[Arguments], AsIf] | None = getattr(record, AS_IF, None)
    return None if found is None else found(given)


def _never(_given: Arguments) -> bool:
    return False


def rated_ahead(
    *,
    as_if: Callable[[Arguments], AsIf] | None = None,
    unless: Callable[[Arguments], bool] = _never,
) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Let a recording function that may rate many units again do so before it takes the locks.

    Where those who call it hold a transaction, nothing is: they may hold the locks too. as_if: by
    its arguments, given by name, what it would record. unless: whether it is not worth it, or can't
    be tried.
    """

    def ahead(record: Callable[P, R]) -> Callable[P, R]:
        @wraps(record)
        def recorded(*args: P.args, **given: P.kwargs) -> R:
            if not may_work_ahead() or unless(given) or not _is_large_fleet():
                return record(*args, **given)
            with giving(ahead_of(lambda: record(*args, **given), as_if_of(recorded, given))):
                return record(*args, **given)

        setattr(recorded, AS_IF, as_if)
        return recorded

    return ahead


def _is_large_fleet() -> bool:
    return SuppressorHousing.objects.count() >= MANY
