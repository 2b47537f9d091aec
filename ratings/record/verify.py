"""Verify the whole record as it stood at one moment, part by part."""

from __future__ import annotations

import logging
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field

from django.db import transaction

from fleet import clock
from fleet.journal.sequence import give_places, root_of
from fleet.journal.snapshot import one_moment
from fleet.models import TreeSize
from ratings.models import Verification
from ratings.record.chains import (
    look_at_answers,
    look_at_chains,
    look_at_shelves,
    look_at_triggers,
)
from ratings.record.faults import Fault, Look, Part, Scope
from ratings.record.journal_tree import look_at_seals, look_at_tree
from ratings.record.rows import look_at_rows

logger = logging.getLogger(__name__)

_PARTS: dict[str, Part] = {
    part.name: part
    for part in (
        Part("rows", "every row is what the journal says, file by file", look_at_rows),
        Part("journal", "every leaf gives its hash, and all of them every seal", look_at_tree),
        Part("seals", "seals follow each other, and units what they name", look_at_seals),
        Part("shelves", "shelves hold what the moves of stock come to", look_at_shelves),
        Part("chains", "every entry follows from its inputs and the one before", look_at_chains),
        Part("answers", "every answer to a job follows from its inputs", look_at_answers),
        Part("triggers", "every trigger that guards a table stands", look_at_triggers),
    )
}
# Of one part: after so many faults it looks no further.
FAULTS_TOLD = 20


def part_of_verifying(name: str, title: str) -> Callable[[Look], Look]:
    """Return what makes a look of a higher app a part of verifying, before the chains."""

    def take(look: Look) -> Look:
        later = [_PARTS.pop(key) for key in ("chains", "answers", "triggers")]
        _PARTS[name] = Part(name, title, look)
        _PARTS.update({part.name: part for part in later})
        return look

    return take


def parts() -> list[Part]:
    """Return all parts of verifying, in their order."""
    return list(_PARTS.values())


@dataclass
class Looked:
    """How far the look at one part has come, and what it found."""

    part: Part
    many: int = 0
    faults: list[Fault] = field(default_factory=list)
    is_done: bool = False


def verify_record(scope: Scope | None = None, only: Collection[str] = ()) -> Iterator[Looked]:
    """Verify the record as it stands, and yield how far it came, each part once more when done.

    only: names of the parts to look at; all where none is given. That it was done is recorded,
    once all was read to the end.
    """
    scope = scope or Scope()
    if scope.seals and scope.since:
        raise ValueError("older seals are held to the whole record, from its first leaf")
    untold = _give_places()
    found: list[Looked] = []
    with one_moment():
        size = TreeSize.objects.filter(pk=1).values_list("size", flat=True).first() or 0
        for part in parts():
            if only and part.name not in only:
                continue
            looked = Looked(part)
            if untold is not None:
                looked.faults.append(untold)
                untold = None
            found.append(looked)
            yield from _look(looked, scope)
        root = _root_or_none(size)
    _record(scope, size, root, found, is_whole=not (only or scope.since))


def _give_places() -> Fault | None:
    """Give the leaves their places, and return what keeps them from having one."""
    try:
        give_places()
    except Exception as trouble:
        logger.exception("leaves could not be given places")
        return Fault("the journal", f"its new leaves can’t be given places ({_told(trouble)})")
    return None


def _told(trouble: Exception) -> str:
    return f"{type(trouble).__name__}: {trouble}"


def _safely(part: Part, scope: Scope) -> Iterator[int | Fault]:
    """Look at a part; what it can’t read to the end is a fault of its own."""
    try:
        # What the database itself refuses to read leaves the other parts to be looked at.
        with transaction.atomic():
            yield from part.look(scope)
    except Exception as trouble:
        logger.exception("a part of the record can’t be read")
        yield Fault(f"the part “{part.name}”", f"it can’t be read to its end ({_told(trouble)})")


def _look(looked: Looked, scope: Scope) -> Iterator[Looked]:
    told = 0
    for each in _safely(looked.part, scope):
        if isinstance(each, Fault):
            logger.error("the ledger does not hold: %s", each)
            looked.faults.append(each)
            if len(looked.faults) >= FAULTS_TOLD:
                break
        else:
            looked.many += each
            if looked.many - told >= 1_000:
                told = looked.many
                yield looked
    looked.is_done = True
    yield looked


def _root_or_none(size: int) -> str:
    try:
        return root_of(size).hex()
    except (LookupError, ValueError):
        return ""


def _record(scope: Scope, size: int, root: str, found: list[Looked], *, is_whole: bool) -> None:
    faults = [fault for looked in found for fault in looked.faults]
    Verification.objects.create(
        at=clock.now(),
        since=min(scope.since, size),
        size=size,
        root=root,
        is_whole=is_whole,
        faults=len(faults),
        words=str(faults[0])[:2_000] if faults else "",
    )


def last_held() -> Verification | None:
    """Return the last run over the whole record, part by part, that found nothing amiss."""
    return Verification.objects.filter(is_whole=True, since=0, faults=0).first()


def last_amiss() -> Verification | None:
    """Return the newest run that found something amiss, where none of all held since."""
    amiss = Verification.objects.exclude(faults=0).first()
    held = last_held()
    return amiss if amiss and (held is None or (held.at, held.pk) < (amiss.at, amiss.pk)) else None


def since_last_held() -> Scope:
    """Return the scope from where the record last held on.

    All of it where it never did, or where anything was amiss since.
    """
    last = last_held()
    return Scope(since=last.size, since_root=last.root) if last and not last_amiss() else Scope()
