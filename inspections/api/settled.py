"""By what a list goes, and how far, so that nothing comes later behind what was given out.

Keys are given to records before these are there to be read: on PostgreSQL one that takes long to be
recorded may have a lower key than one that is read already, and whoever goes on by a cursor would
never see it. SQLite lets one write at a time, and has no such record. A key made on a phone says
nothing of which came first: such records go by the line of the journal that each came with.
"""

from __future__ import annotations

import time
from typing import Any

from django.core.cache import cache
from django.db import connection
from django.db.models import CharField, Func, Max, Model, OuterRef, QuerySet, Subquery, UUIDField

from fleet.models import Leaf
from inspections.api.problems import Refused

# A signing takes a fraction of it; an import may take minutes, and nobody waits for that.
MOST_SECONDS = 2.0
LOOK_AGAIN_SECONDS = 0.02
# Whoever writes to a table holds this lock on it from before its first key until all can be read.
WRITERS = """
SELECT virtualtransaction FROM pg_locks
WHERE locktype = 'relation' AND relation = %s::regclass AND mode = 'RowExclusiveLock' AND granted
AND database = (SELECT oid FROM pg_database WHERE datname = current_database())
AND pid IS DISTINCT FROM pg_backend_pid()
"""


CAME = "came"


def has_made_key(model: type[Model]) -> bool:
    """Whether the keys of a model were made on a phone."""
    return isinstance(model._meta.pk, UUIDField)


def settled(records: QuerySet[Any]) -> tuple[QuerySet[Any], str]:
    """Return those of some records that nothing can come behind any more, and what they go by."""
    by, counted = "pk", records.model
    if has_made_key(records.model):
        own = {"model": records.model._meta.label_lower, "row_key": KeyText(OuterRef("pk"))}
        line = Subquery(Leaf.objects.filter(**own).order_by("pk").values("pk")[:1])
        records, by, counted = records.annotate(**{CAME: line}), CAME, Leaf
    last = settled_key(counted)
    return (records if last is None else records.filter(**{f"{by}__lte": last})), by


class KeyText(Func):
    """A key made on a phone as lines of the journal spell it."""

    template = "CAST(%(expressions)s AS varchar)"
    output_field = CharField()

    def as_sqlite(self, compiler: Any, connection: Any, **_: Any) -> Any:
        """Spell it with the hyphens that SQLite keeps it without."""
        (key,) = self.get_source_expressions()
        sql, params = compiler.compile(key)
        parts = ((1, 8), (9, 4), (13, 4), (17, 4), (21, 12))
        spelled = " || '-' || ".join(f"substr({sql}, {start}, {many})" for start, many in parts)
        return f"({spelled})", [*params] * len(parts)


def settled_key(model: type[Model]) -> int | None:
    """Return the last key up to which all records of a model are there; None where all ever are.

    Waits for whoever is writing now, not for whoever begins meanwhile: their keys are higher. Where
    that takes too long it is the key found by the last who asked. Raises Refused where nobody did.
    """
    if connection.vendor != "postgresql":
        return None
    highest = model._default_manager.aggregate(highest=Max("pk"))["highest"] or 0
    known, give_up = f"settled:{model._meta.label_lower}", time.monotonic() + MOST_SECONDS
    writing = _writers(model)
    while writing:
        if time.monotonic() > give_up:
            before: int | None = cache.get(known)
            if before is None:
                raise Refused(
                    503,
                    "Something long is being recorded, such as a register taken in: ask again.",
                    headers={"Retry-After": "10"},
                )
            return before
        time.sleep(LOOK_AGAIN_SECONDS)
        writing &= _writers(model)
    cache.set(known, highest, timeout=None)
    return int(highest)


def _writers(model: type[Model]) -> set[str]:
    with connection.cursor() as cursor:
        cursor.execute(WRITERS, [connection.ops.quote_name(model._meta.db_table)])
        return {transaction for (transaction,) in cursor.fetchall()}
