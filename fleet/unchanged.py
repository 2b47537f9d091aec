"""What is found once for many looks: kept by the process until anything is put on record.

Every row ever written has a line in the journal, written in the same transaction. So as long as
there are as many lines as before, and the last of them says the same, nothing that the journal
tells of was recorded, changed or removed, and what was worked out of it on this day still holds.
Lines are counted, and not told by the highest number, since a transaction may end after one that
began later.

What is kept is never written down: a process that starts knows nothing. What the journal doesn't
tell of (`fleet.journal.scope`), whose page it is and the time of day must have no part in it. Nor
is it kept for longer than a minute: what somebody alters in the database behind the site's back,
which leaves no line, shows by then on every page.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from datetime import date
from time import monotonic
from typing import Any, NamedTuple, TypeVar, TypeVarTuple, Unpack

from django.db import connections, router
from django.db.models import Func, Subquery
from django.utils import timezone

from fleet import clock
from fleet.aside import COPY
from fleet.models.leaf import Leaf, TreeSize

Found = TypeVar("Found")
Given = TypeVarTuple("Given")
# A site has its records and perhaps a replica of them; tests and benchmarks have more.
MOST_DATABASES = 4
KEPT_SECONDS = 60.0


class _State(NamedTuple):
    """How the record stands: how many lines the journal has, and what the last of them says."""

    lines: int
    last_hash: str
    day: date


class Unchanged:
    """What is known of the record as it stands.

    state: None where nothing of it is kept.
    """

    def __init__(self, state: _State | None = None) -> None:
        self._state, self._begun = state, monotonic()
        self._known: dict[tuple[Any, ...], Any] = {}

    def still_holds(self, state: _State) -> bool:
        """Whether it is of the record as it stands now, and was found lately."""
        return self._state == state and monotonic() - self._begun < KEPT_SECONDS

    def once(self, find: Callable[[Unpack[Given]], Found], *given: *Given) -> Found:
        """Return what a function of a module finds, found now unless it is known already.

        All who look are given the same: values, tuples and, as the lot that softens, records that
        nobody who looks changes. given: what it is asked with, of which there are few.
        """
        asked = (find, *given)
        if asked not in self._known:
            self._known[asked] = find(*given)
        found: Found = self._known[asked]
        return found


_by_database: dict[Hashable, Unchanged] = {}


def as_recorded() -> Unchanged:
    """Return what is known of the record as it stands. One query.

    Within a transaction nothing is kept, since what it wrote may yet be undone; on a copy neither,
    of which the journal doesn't tell, nor of a past moment.
    """
    alias = router.db_for_read(Leaf)
    connection: Any = connections[alias]
    if connection.in_atomic_block or hasattr(connection, COPY) or clock.is_set():
        return Unchanged()
    state = _state(alias)
    if state is None:
        return Unchanged()
    settings = connection.settings_dict
    database = (alias, settings["HOST"], settings["PORT"], str(settings["NAME"]))
    before = _by_database.get(database)
    if before is not None and before.still_holds(state):
        return before
    if before is None and len(_by_database) >= MOST_DATABASES:
        _by_database.clear()
    # Who found out of what stood before goes on writing into what was known of that.
    found = _by_database[database] = Unchanged(state)
    return found


def forget() -> None:
    """Forget all that is known, as a process that starts does. Tests and benchmarks alone ask it.

    They take out of the database behind its back what stood there.
    """
    _by_database.clear()


def _state(alias: str) -> _State | None:
    """Return how the record stands, all read at one moment; None where it has no line."""
    # Not by Count, which would ask by what to group them.
    waiting = Leaf.objects.filter(place=None).values(many=Func("pk", function="COUNT"))
    size = TreeSize.objects.filter(pk=1).values("size")
    found = (
        Leaf.objects.using(alias)
        .order_by("-pk")
        .values_list(Subquery(size), Subquery(waiting), "leaf_hash")
        .first()
    )
    if found is None:
        return None
    # Those with a place in the tree, and those that wait for one.
    placed, many, last_hash = found
    return _State((placed or 0) + (many or 0), last_hash, timezone.localdate())
