"""What may need a second person, and the check on each recording function that may.

A recording function says so once, by `@second_person(Act(…))`. Page, phone and import all call it,
so that none of them records alone what the policy wants two for.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from django.core.exceptions import ValidationError
from django.db.models import Model

from ratings.ledger.ahead import only_tried
from ratings.models import What
from ratings.models.policy import safeguards
from ratings.payload import say_of

P = ParamSpec("P")
R = TypeVar("R")
Arguments = Mapping[str, Any]

# Set while a proposal that was confirmed is recorded.
_confirmed: ContextVar[bool] = ContextVar("confirmed by a second person", default=False)


@dataclass(frozen=True)
class Act:
    """A recording function that may need a second person; each of these is given its arguments.

    asks: whether the policy in force wants one. title: what it would record, for a person, with
    no measured figure. about: the record it is of. facts: what it rests on, by what that is
    called: where it differs by the time it is confirmed, it is not. details: what it would record,
    in pairs of words, in a system of units. page: where it leads once it is recorded. known: the
    model in whose table a submission's id says that it is recorded already. cause, outcome: of a
    ledger entry it posts, and the record behind that. refusals: what the function raises for what
    can't be, besides what `ratings.payload.is_refusal` takes for one anyway. rates_many: whether
    it may rate every unit that holds a lot, or all.
    """

    what: What
    asks: Callable[[Arguments], bool]
    title: Callable[[Arguments], str]
    about: Callable[[Arguments], Model]
    facts: Callable[[Arguments], dict[str, str]]
    details: Callable[[Arguments, str], list[tuple[str, str]]]
    page: Callable[[Arguments], str]
    known: type[Model] | None = None
    cause: str = ""
    outcome: Callable[[Any], int | None] = lambda recorded: recorded.pk
    refusals: tuple[type[Exception], ...] = ()
    rates_many: bool = False


class SecondPersonNeeded(ValidationError):
    """The policy wants this proposed by one person and confirmed by another."""

    def __init__(self, act: Act, arguments: dict[str, Any]) -> None:
        self.act, self.arguments = act, arguments
        super().__init__(
            f"The policy asks for a second person for {act.what.label}: enter it on its own page "
            "and propose it there; another equipment manager confirms it. Nothing was recorded."
        )


@dataclass(frozen=True)
class Registered:
    """An act and the function that records it."""

    act: Act
    record: Callable[..., Any]


ACTS: dict[str, Registered] = {}


def second_person(act: Act) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Let a recording function record only what a second person confirmed, where it must.

    Its arguments are given by name, `by` among them. What it refuses anyway it refuses as
    before; else the function raises SecondPersonNeeded and has recorded nothing.
    """

    def guarded(record: Callable[P, R]) -> Callable[P, R]:
        @wraps(record)
        def recorded(*args: P.args, **given: P.kwargs) -> R:
            # A proposal keeps its arguments by their names.
            assert not args, "give every argument by its name"
            if _confirmed.get() or not act.asks(given) or _is_known(act, given):
                return record(*args, **given)
            with only_tried():
                record(*args, **given)
            arguments = {name: value for name, value in given.items() if name != "by"}
            raise SecondPersonNeeded(act, arguments)

        say_of(recorded, act.facts, act.refusals)
        ACTS[act.what] = Registered(act, recorded)
        return recorded

    return guarded


def _is_known(act: Act, given: Arguments) -> bool:
    if act.known is None:
        return False
    # Signing takes its id in a submission.
    key = given.get("submission_id") or getattr(given.get("submission"), "submission_id", None)
    assert isinstance(key, uuid.UUID)
    return act.known._default_manager.filter(submission_id=key).exists()


@contextmanager
def confirmed() -> Iterator[None]:
    """Record what a second person has confirmed."""
    token = _confirmed.set(True)
    try:
        yield
    finally:
        _confirmed.reset(token)


def asks_where_it_corrects(given: Arguments) -> bool:
    """Whether what would be recorded corrects a record, and the policy asks for two then."""
    return given.get("corrects") is not None and safeguards().second_person_corrections


def stand_words(model: type[Model], record: Model, field: str = "corrects") -> str:
    """Say, for the facts, whether a record that a later one of `model` may correct still stands."""
    is_corrected = model._default_manager.filter(**{field: record}).exists()
    return "corrected" if is_corrected else "in force"


def name_of(record: Model) -> str:
    """Return what a proposal calls the record it is about, such as "fleet.hammer:3"."""
    return f"{record._meta.label_lower}:{record.pk}"
