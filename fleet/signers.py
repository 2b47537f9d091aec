"""Who signed what, by the name they had at that moment.

A name is a fact with versions (PersonName). Every page and paper that says who signed asks here,
so that somebody who comes to be called otherwise renames nobody on what was signed before.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse

from fleet.models import PersonName
from fleet.roles import who_words

# Of each person, from when on they had a name, and that name; the oldest first.
Names = dict[int, tuple[list[datetime], list[str]]]

_NAME_PARTS = frozenset({"first_name", "last_name", "username"})
_read: ContextVar[list[Names] | None] = ContextVar("names_read", default=None)


def signer_words(record: Any, by: str = "recorded_by", at: str = "recorded_at") -> str:
    """Return who signed a record, by the name of that moment; "" where nobody did.

    by, at: its fields that say who, and when.
    """
    person = getattr(record, by)
    return "" if person is None else name_then(person, getattr(record, at))


def name_then(person: User, at: datetime) -> str:
    """Return what somebody was called at a moment, and what now where that differs."""
    return name_then_of(person.pk, who_words(person), at)


def name_then_of(person_id: int, name_now: str, at: datetime) -> str:
    """Return the same of a person by their key and what they are called now."""
    since, names = _names().get(person_id, ([], []))
    if not names:
        return name_now
    # Of what was signed before the first name on record, that is the nearest there is.
    then = names[max(bisect_right(since, at) - 1, 0)]
    return then if then == name_now else f"{then} (now {name_now})"


def keep_name(
    instance: User,
    *,
    created: bool,
    raw: bool = False,
    update_fields: Any = None,
    **_: Any,
) -> None:
    """Keep what somebody is called, once they are entered or their name was changed."""
    if raw or (update_fields is not None and not _NAME_PARTS & set(update_fields)):
        return
    name = who_words(instance)
    last = None if created else instance.names.last()
    if last is None or last.name != name:
        PersonName.objects.create(user=instance, name=name)
        forget_names()


def forget_names() -> None:
    """Read the names again at the next question."""
    read = _read.get()
    if read is not None:
        read.clear()


@contextmanager
def names_read_once() -> Iterator[None]:
    """Read the names on record once for all that is asked while the block runs."""
    token = _read.set([])
    try:
        yield
    finally:
        _read.reset(token)


class NamesReadOnce:
    """Read the names on record once for a request, if it asks at all."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with names_read_once():
            return self.get_response(request)


def _names() -> Names:
    read = _read.get()
    if read:
        return read[0]
    names: Names = {}
    rows = PersonName.objects.order_by("known_from", "pk")
    for person_id, since, name in rows.values_list("user_id", "known_from", "name"):
        of_person = names.setdefault(person_id, ([], []))
        of_person[0].append(since)
        of_person[1].append(name)
    if read is not None:
        read.append(names)
    return names
