"""What is found once while many facts are recorded together in one transaction.

A sheet of thousands of rows asks again and again for what no row of its changes: what hangs where,
the listing of a hammer, a lot's rate. Outside of `recorded_together` all is found anew each time.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction
from django.db.models import Model

Found = TypeVar("Found")
# Under this and a database is held what was entered there since, which no row changes: only undoing
# it lets it go.
NEWCOMERS = "newcomers"
_held: ContextVar[dict[Hashable, Any] | None] = ContextVar("held", default=None)


@contextmanager
def recorded_together() -> Iterator[None]:
    """Hold what `once` finds while the block runs. Whoever opens it holds the transaction.

    The block calls `forget` after whatever may change what is held; whatever may be undone within
    it is recorded `all_or_nothing`.
    """
    token = _held.set({})
    try:
        yield
    finally:
        _held.reset(token)


@contextmanager
def all_or_nothing() -> Iterator[None]:
    """Record all that the block records, or nothing, of which nothing is held either.

    Of what was undone the locks are let go too, so that others may have changed all that was held.
    """
    try:
        with transaction.atomic():
            yield
    except BaseException:
        forget()
        raise


def once(key: Hashable, find: Callable[[], Found]) -> Found:
    """Return what was found before under a key, else find it; None is never held."""
    held = _held.get()
    if held is None:
        return find()
    found: Found | None = held.get(key)
    if found is None:
        found = held[key] = find()
    return found


def hold(key: Hashable, found: object) -> None:
    """Hold what is known under a key, where anything is held."""
    everything = _held.get()
    if everything is not None:
        everything[key] = found


def is_recording() -> bool:
    """Whether many facts are being recorded together."""
    return _held.get() is not None


def held(key: Hashable) -> Any:
    """Return what is held under a key, None where nothing is."""
    return (_held.get() or {}).get(key)


def forget(key: Hashable = None) -> None:
    """Forget what is held under a key; without one, all."""
    if (everything := _held.get()) is None:
        return
    if key is None:
        everything.clear()
    else:
        everything.pop(key, None)


def forget_all_but(*kept: Hashable) -> None:
    """Forget all that is held but under these keys, and under those that begin with one of them."""
    everything = _held.get() or {}
    for key in list(everything):
        begins = key[0] if isinstance(key, tuple) else key
        if begins not in (*kept, NEWCOMERS):
            del everything[key]


def save_held(
    record: Model, save: Callable[[], object], *, looked_up: Collection[str] = ()
) -> None:
    """Save a new record that the database holds to its constraints, asking none of them before.

    Where it refuses, or a field can't be, all are asked, so that the words are those of
    `full_clean`. looked_up: names of fields whose records were read just now.
    Raises ValidationError as `full_clean` does.
    """
    try:
        record.clean_fields(exclude=set(looked_up))
        record.clean()
        with transaction.atomic():
            save()
    except (ValidationError, DatabaseError):
        # Of a record refused by the database the key is of no row.
        record.pk, record._state.adding = None, True
        record.full_clean()
        raise
