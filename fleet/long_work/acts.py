"""Which long works there are: each a module that does one, and says when it can't be done."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Any, Protocol, cast

# Told how far a work is, by what was done since.
Tell = Callable[[int], None]


class Act(Protocol):
    """What a module of long work has.

    Done again from its beginning where a worker died over it: so it records all in one transaction,
    with word of it that a second time finds. It is given up only where nothing came of it: the
    answer to what stands may have been lost. give_up returns whether it was.
    """

    def do(self, arguments: dict[str, Any], tell: Tell) -> None: ...

    def give_up(self, arguments: dict[str, Any], words: str) -> bool: ...


_MODULES: dict[str, str] = {}
# Those that record so much in one transaction that others wait for it.
HOLDING_UP: set[str] = set()
# Those whose end is kept until somebody has seen it, however long that takes; by what their result
# names where they are on record, which need not be seen.
UNTIL_SEEN: dict[str, str] = {}
# Those that others must not wait for behind a long register: a figure may be wrong until then.
FIRST: set[str] = set()


def register(
    what: str,
    module: str,
    *,
    holds_up: bool = False,
    comes_first: bool = False,
    until_seen_but: str = "",
) -> None:
    """Name the module of a long work, which is imported once it is to be done.

    holds_up: whether it records so much at once that whoever signs meanwhile may have to wait.
    comes_first: whether it is done before others that wait, and soon though every worker is busy.
    until_seen_but: that what came of it is kept until it is told, and not for some days only, but
    for what has this in its result.
    """
    _MODULES[what] = module
    if comes_first:
        FIRST.add(what)
    if holds_up:
        HOLDING_UP.add(what)
    if until_seen_but:
        UNTIL_SEEN[what] = until_seen_but


def act_of(what: str) -> Act:
    """Return what does a work. Raises LookupError for one this release does not know."""
    return cast(Act, import_module(_MODULES[what]))
