"""The arguments of a recording function as canonical JSON, and read from it again.

What JSON has no word for stands in an object of one key that begins with "$", such as
{"$day": "2026-03-02"}; records stand by their key, and are read as they are when it is recorded.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from importlib import import_module
from traceback import walk_tb
from typing import Any

from django.apps import apps
from django.core.exceptions import ObjectDoesNotExist, ValidationError
from django.db.models import Model

from ratings.ledger.canonical import canonical_text

Arguments = Mapping[str, Any]
Facts = Callable[[Arguments], dict[str, str]]
# Said of a recording function by what it is wrapped in.
RESTS_ON, REFUSES_BY = "_rests_on", "_refuses_by"
# Of whose dataclasses and enumerations arguments are made.
OURS = ("fleet.", "ratings.", "inspections.")


class CannotBeKept(Exception):
    """An argument that JSON cannot hold, such as a file sent with a form."""


class CannotBeRead(Exception):
    """Arguments that mean nothing any more: a record is gone, or the program was changed."""


def say_of(
    record: Callable[..., Any], rests_on: Facts, refusals: tuple[type[Exception], ...]
) -> None:
    """Say of a recording function on what its arguments rest, and what it raises beside the usual.

    rests_on: from the arguments, each fact by what it is called. What is recorded later than it
    was asked for is refused where one differs.
    """
    setattr(record, RESTS_ON, rests_on)
    setattr(record, REFUSES_BY, refusals)


def facts_of(record: Callable[..., Any]) -> Facts | None:
    """Return what tells on what the arguments of a recording function rest, where it is said."""
    found: Facts | None = getattr(record, RESTS_ON, None)
    return found


def differences(then: Mapping[str, str], now: Mapping[str, str]) -> list[str]:
    """Say of each fact that something rests on, as facts_of gives them, what has changed."""
    return [
        f"{name} was {then.get(name, 'none')} and is {now.get(name, 'none')}"
        for name in dict.fromkeys([*then, *now])
        if then.get(name) != now.get(name)
    ]


def refusals_of(record: Callable[..., Any]) -> tuple[type[Exception], ...]:
    """Return what a recording function raises for what can't be, beside the usual."""
    found: tuple[type[Exception], ...] = getattr(record, REFUSES_BY, ())
    return found


def is_refusal(fault: Exception, own: tuple[type[Exception], ...]) -> bool:
    """Whether a recording function says by a fault what can't be; else the program is at fault.

    own: what it says that it raises, beside the usual. Classes of ours are refusals; a plain
    ValueError is one where the mechanics raise it, who check what they are given.
    """
    if isinstance(fault, (ValidationError, *own)):
        return True
    if type(fault) is not ValueError:
        return isinstance(fault, ValueError) and type(fault).__module__.startswith(OURS)
    *_, (raised_in, _line) = walk_tb(fault.__traceback__)
    return str(raised_in.f_globals.get("__name__")).startswith("ratings.mechanics.")


def written(arguments: Mapping[str, Any]) -> str:
    """Return arguments as canonical JSON. Raises CannotBeKept."""
    return canonical_text({name: _written(value) for name, value in arguments.items()})


def read(text: str) -> dict[str, Any]:
    """Return the arguments that JSON of `written` holds. Raises CannotBeRead."""
    try:
        return {name: _read(value) for name, value in json.loads(text).items()}
    except (ObjectDoesNotExist, ImportError, AttributeError, LookupError) as trouble:
        raise CannotBeRead(str(trouble)) from trouble
    except (TypeError, ValueError) as trouble:
        raise CannotBeRead(str(trouble)) from trouble


def _written(value: Any) -> Any:
    if isinstance(value, Enum):
        return {"$member": [_name_of(type(value)), value.value]}
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, uuid.UUID):
        return {"$id": str(value)}
    if isinstance(value, datetime):
        return {"$moment": value.isoformat()}
    if isinstance(value, date):
        return {"$day": value.isoformat()}
    if isinstance(value, Model):
        return {"$record": [value._meta.label, value.pk]}
    if isinstance(value, list):
        return [_written(each) for each in value]
    if isinstance(value, tuple):
        return {"$tuple": [_written(each) for each in value]}
    if isinstance(value, Mapping):
        return {"$map": [[_written(key), _written(each)] for key, each in value.items()]}
    if is_dataclass(value) and not isinstance(value, type):
        own = {each.name: getattr(value, each.name) for each in fields(value) if each.init}
        return {
            "$made": [_name_of(type(value)), {name: _written(each) for name, each in own.items()}]
        }
    raise CannotBeKept(type(value).__name__)


def _read(value: Any) -> Any:
    if isinstance(value, list):
        return [_read(each) for each in value]
    if not isinstance(value, dict):
        return value
    ((kind, held),) = value.items()
    return READERS[kind](held)


def _name_of(kind: type) -> str:
    return f"{kind.__module__}:{kind.__qualname__}"


def named(name: str) -> Any:
    """Return what “module:name” calls in this program. Raises LookupError for none of ours."""
    module, _, inside = name.partition(":")
    if not module.startswith(OURS):
        raise LookupError(f"{name} is none of ours")
    found: Any = import_module(module)
    for part in inside.split("."):
        found = getattr(found, part)
    return found


def _record(held: list[Any]) -> Model:
    label, key = held
    found: Model = apps.get_model(label)._default_manager.get(pk=key)
    return found


def _made(held: list[Any]) -> Any:
    name, own = held
    return named(name)(**{each: _read(value) for each, value in own.items()})


READERS: dict[str, Callable[[Any], Any]] = {
    "$id": uuid.UUID,
    "$moment": datetime.fromisoformat,
    "$day": date.fromisoformat,
    "$record": _record,
    "$tuple": lambda held: tuple(_read(each) for each in held),
    "$map": lambda held: {_read(key): _read(each) for key, each in held},
    "$member": lambda held: named(held[0])(held[1]),
    "$made": _made,
}
