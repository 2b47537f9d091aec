"""Who is bound to yards, and the one gate by it: what stands elsewhere they read, and no more.

Whoever is bound to yards signs, records, changes and commits only what stands in those; unbound,
which is the rule, in every yard. Reading is open to all: units move between yards, the dispatcher
looks for the one that suits wherever it is, and a figure that is hidden can drop a load.

A recording function says by a decorator what it touches, so that page, phone, import and programs
obey alike: `@in_yard_of(…)` things, each where it stands as known now; `@in_every_yard` what holds
for all, such as policies, people and imports of registers; `@in_no_yard(…)` what no yard owns, and
why. The gate looks before anything is locked, and what locks a thing calls `look_again`: one moved
in that very moment is acted on by where it stands then. An act that names what it doesn’t lock
calls `lock_and_look_again`. What no act locked the gate does, last of all in its transaction, and
then looks again at what stands where other things do: nothing is kept by its first look alone.
What was sent away is its old yard’s until it arrives, and a lot of pads stands wherever its pads
are, on a shelf or on a housing: what changes its rating changes the figures of those.
"""

from __future__ import annotations

import inspect
import uuid
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from django.apps import apps
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Model

from fleet.models import SuppressorHousing, Yard, YardBinding
from fleet.people.places import EVERY_YARD, Stands, places_of, stands_where_others_do
from fleet.roles import who_words

P = ParamSpec("P")
R = TypeVar("R")
Arguments = Mapping[str, Any]


class BoundElsewhere(ValidationError):
    """What somebody would do touches a yard to which they are not bound."""


_KEPT_AS = "_yards_bound_to"


def yards_bound_to(person: Any) -> tuple[Yard, ...]:
    """Return the yards somebody is bound to, none where they act in all.

    Asked of the database once for a person as they were read: once in a request.
    """
    if not hasattr(person, _KEPT_AS):
        setattr(person, _KEPT_AS, yards_bound_now(person))
    kept: tuple[Yard, ...] = getattr(person, _KEPT_AS)
    return kept


def yards_bound_now(person: Any) -> tuple[Yard, ...]:
    """Return the yards somebody is bound to at this very moment."""
    bindings = YardBinding.objects.in_force().filter(user=person.pk).select_related("yard")
    return tuple(each.yard for each in bindings.order_by("yard__name"))


def forget_yards_bound_to(person: Any) -> None:
    """Let the next to ask read anew to which yards somebody is bound."""
    if hasattr(person, _KEPT_AS):
        delattr(person, _KEPT_AS)


def yard_names(yards: Iterable[Yard]) -> str:
    """Return yards as a list is read aloud: “North Yard, Pier and South Yard”."""
    *before, last = [each.name for each in yards]
    return f"{', '.join(before)} and {last}" if before else last


def must_act_in(person: User, *touched: Any, any_of_them: bool = False) -> Sequence[Stands]:
    """Let somebody act only on what stands in the yards they are bound to. The gate.

    Returns where that stands, nothing for whoever acts in all yards.

    touched: records of any kind, a Yard, EVERY_YARD; None touches nothing. any_of_them: whether
    one of their yards is enough, as for what goes from one yard to another. Raises BoundElsewhere
    saying where what they meant stands, where they are bound, and who can change that.
    """
    bound = yards_bound_to(person)
    if not bound:
        return ()
    places = _places(touched)
    first = _elsewhere(places, bound, any_of_them=any_of_them)
    if first is None:
        return places
    here = yard_names(bound)
    who = who_words(person)
    change = (
        "an equipment manager who is bound to no yard changes that on the page of "
        f"{who}, under People. Nothing was recorded."
    )
    if first.yard is None:
        raise BoundElsewhere(
            f"{first.what} every yard, and {who} is bound to {here}. Whoever is bound to no yard "
            f"does it, or {change}"
        )
    raise BoundElsewhere(
        f"{first.what} {first.yard.name}, and {who} is bound to {here}. Whoever is bound to "
        f"{first.yard.name}, or to no yard, records it, or {change}"
    )


def acts_in(person: Any, yard_id: int) -> bool:
    """Whether somebody may act in a yard: in their own, and in every one where bound to none."""
    bound = yards_bound_to(person)
    return not bound or yard_id in {yard.pk for yard in bound}


def stands_elsewhere(person: Any, *touched: Any, any_of_them: bool = False) -> Stands | None:
    """Return where something stands that somebody may not act on; None where they may.

    touched, any_of_them: as of must_act_in.
    """
    bound = yards_bound_to(person)
    return _elsewhere(_places(touched), bound, any_of_them=any_of_them) if bound else None


def _places(touched: Iterable[Any]) -> list[Stands]:
    return [place for each in touched for place in places_of(each)]


def _elsewhere(
    places: Sequence[Stands], bound: Sequence[Yard], *, any_of_them: bool
) -> Stands | None:
    known = {yard.pk for yard in bound}
    elsewhere = [each for each in places if each.yard is None or each.yard.pk not in known]
    if not elsewhere or (any_of_them and len(elsewhere) < len(places)):
        return None
    return next((each for each in elsewhere if each.yard is None), elsewhere[0])


# Arguments that are keys, and what of.
KEYS = {
    "lot_id": "fleet.PadLot",
    "housing_id": "fleet.SuppressorHousing",
    "hammer_id": "fleet.Hammer",
}

Touched = Callable[[Arguments], Iterable[Any]]
# On a recording function: what it touches, for whoever asks before it is called.
TOUCHES = "touches"


@dataclass(frozen=True)
class Touches:
    """What a recording function touches, of its arguments by their names. why: of what is free."""

    of: Touched
    any_of_them: bool = False
    why: str = ""

    def refuse(self, person: User, arguments: Arguments) -> Sequence[Stands]:
        """Raise BoundElsewhere where somebody may not act on that, else return where it stands."""
        if not yards_bound_to(person):
            return ()
        return must_act_in(person, *self.of(arguments), any_of_them=self.any_of_them)


@dataclass
class _Seen:
    """Where the gate saw things stand, by model and key, and how it looks again.

    outer: what the gate saw of the act that this one is a part of.
    """

    yards: dict[tuple[type[Model], int], int]
    look: Callable[[], Sequence[Stands]]
    outer: _Seen | None


# Of the act that is being recorded, by whoever is bound to yards.
_seen: ContextVar[_Seen | None] = ContextVar("seen", default=None)


def look_again(model: type[Model], locked: Iterable[tuple[int, int]]) -> None:
    """Hold things that were just locked to the gate, which looked before they were.

    locked: the key of each and that of the yard it stands in. What was moved since is looked at
    again as it stands now; what stands where it was seen asks nothing of the database. Once each:
    the act itself may move it afterwards.
    """
    seen = _seen.get()
    yards = {} if seen is None else dict(locked)
    while seen is not None:
        was_moved = False
        for key, yard in yards.items() if seen.yards else ():
            was_moved |= seen.yards.pop((model, key), yard) != yard
        if was_moved:
            seen.look()
        seen = seen.outer


def look_again_at(locked: Model) -> None:
    """Hold one thing that was just locked to the gate, where it stands in a yard."""
    yard_id: int | None = getattr(locked, "yard_id", None)
    if yard_id is not None:
        look_again(type(locked), [(locked.pk, yard_id)])


def lock_and_look_again() -> None:
    """Lock all that an act touches, as it stands now, and hold it to the gate.

    For an act that names what it would not lock by itself, such as the hammer of a listing: after
    its locks on housings and before those on anything else. Nothing where nobody is bound.
    """
    seen = _seen.get()
    if seen is None:
        return
    # What it concerns may be another thing by now: what comes apart as a housing is moved.
    seen.yards = _by_record(seen.look())
    _lock_what_is_left(seen)


def _lock_what_is_left(seen: _Seen) -> None:
    """Lock what nothing locked since the gate saw it, and hold it to the gate."""
    for model, key in sorted(seen.yards, key=_lock_order):
        rows = model._default_manager.select_for_update().filter(pk=key)
        look_again(model, [(key, rows.values_list("yard", flat=True).get())])


def _lock_order(thing: tuple[type[Model], int]) -> tuple[bool, str, int]:
    """Housings first, then by kind and key: two who lock the same never wait in a ring."""
    model, key = thing
    return model is not SuppressorHousing, model._meta.label_lower, key


def _by_record(places: Iterable[Stands]) -> dict[tuple[type[Model], int], int]:
    return {
        (type(each.record), each.record.pk): each.yard.pk
        for each in places
        if each.record is not None and each.record.pk is not None and each.yard is not None
    }


@contextmanager
def _looks_again(
    places: Sequence[Stands], look: Callable[[], Sequence[Stands]], *, is_with_others: bool
) -> Iterator[None]:
    """Have the block’s locks look again, and look itself at what they left, before it is kept.

    is_with_others: whether something of it stands where other things do. Those are looked at once
    all is locked: nothing that is entered or changed after them can be of this act.
    """
    seen = _Seen(_by_record(places), look, outer=_seen.get())
    token = _seen.set(seen)
    try:
        with transaction.atomic():
            yield
            _lock_what_is_left(seen)
            if is_with_others:
                look()
    finally:
        _seen.reset(token)


def in_yard_of(
    *named: str | Touched,
    any_of_them: bool = False,
    known: Callable[[uuid.UUID], bool] | None = None,
) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Let a recording function act only where whoever does (`by`) may.

    named: arguments, or what they hold (“order.yard”), or functions of all of them. known: whether
    a submission is on record already, where a second copy, as a phone sends it, is to change
    nothing wherever what it was of stands by now.
    """

    def of(given: Arguments) -> Iterable[Any]:
        for each in named:
            if isinstance(each, str):
                yield _argument(given, each)
            else:
                yield from each(given)

    return _gate(Touches(of, any_of_them), known)


def _argument(given: Arguments, name: str) -> Any:
    first, *rest = name.split(".")
    found = given.get(first)
    if first in KEYS:
        found = apps.get_model(KEYS[first])._default_manager.filter(pk=found).first()
    for each in rest:
        found = getattr(found, each)
    return found


def in_every_yard(record: Callable[P, R]) -> Callable[P, R]:
    """Let a recording function, whose act holds for all yards, be called by the unbound alone."""
    return _gate(Touches(lambda given: (EVERY_YARD,)))(record)


def in_no_yard(why: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Say of a recording function that what it records is of no yard, and why."""

    def said(record: Callable[P, R]) -> Callable[P, R]:
        setattr(record, TOUCHES, Touches(lambda given: (), why=why))
        return record

    return said


def _gate(
    touches: Touches, known: Callable[[uuid.UUID], bool] | None = None
) -> Callable[[Callable[P, R]], Callable[P, R]]:
    def gated(record: Callable[P, R]) -> Callable[P, R]:
        signature = inspect.signature(record)

        @wraps(record)
        def recorded(*args: P.args, **kwargs: P.kwargs) -> R:
            given: Arguments = kwargs
            if args or "by" not in kwargs:
                bound = signature.bind(*args, **kwargs)
                bound.apply_defaults()
                given = bound.arguments

            def look() -> Sequence[Stands]:
                try:
                    return touches.refuse(given["by"], given)
                except BoundElsewhere:
                    if known is None or not known(_submission_of(given)):
                        raise
                    return ()

            places = look()
            if not yards_bound_to(given["by"]):
                return record(*args, **kwargs)
            is_with_others = any(stands_where_others_do(each) for each in touches.of(given))
            with _looks_again(places, look, is_with_others=is_with_others):
                return record(*args, **kwargs)

        setattr(recorded, TOUCHES, touches)
        return recorded

    return gated


def _submission_of(given: Arguments) -> uuid.UUID:
    # Signing takes its id in a submission.
    key = given.get("submission_id") or getattr(given.get("submission"), "submission_id", None)
    assert isinstance(key, uuid.UUID)
    return key


def on_record_in(label: str) -> Callable[[uuid.UUID], bool]:
    """Return what says whether a submission is on record in the table of a model."""

    def is_known(submission_id: uuid.UUID) -> bool:
        model = apps.get_model(label)
        return bool(model._default_manager.filter(submission_id=submission_id).exists())

    return is_known


def touches_of(record: Callable[..., Any]) -> Touches:
    """Return what a recording function says that it touches."""
    touches: Touches = getattr(record, TOUCHES)
    return touches
