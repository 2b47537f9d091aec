"""What is the matter where the records fail, by what their engine says of it.

Pages, and work that is done beside them, tell a person of it and try again by the same rule.
"""

from __future__ import annotations

from enum import Enum, auto

from django.db import DatabaseError, InterfaceError, OperationalError

from fleet.aside import is_full

READ_ONLY_WORDS = (
    "The records can only be read at present. Nothing was recorded. Ask whoever keeps the machine, "
    "then send it again."
)
TOO_LONG_WORDS = (
    "It takes longer than the records are set to work at one thing. Nothing was recorded. Tell "
    "whoever keeps the machine what you did."
)


class Matter(Enum):
    """What is the matter with the records."""

    FULL = auto()
    READ_ONLY = auto()
    HELD = auto()
    TOO_LONG = auto()
    GONE = auto()


# Those that pass by themselves.
PASSING = (Matter.HELD, Matter.GONE)
# What engines say; of what is no matter with the records, but a fault of the program, None.
_SAID: tuple[tuple[tuple[str, ...], Matter | None], ...] = (
    (("readonly database", "read-only"), Matter.READ_ONLY),
    (("locked", "deadlock", "could not serialize", "lock timeout"), Matter.HELD),
    (("statement timeout",), Matter.TOO_LONG),
    (("no such table", "no such column", "has no column", "syntax error", "too many sql"), None),
)


def matter_with(trouble: BaseException) -> Matter | None:
    """Return what is the matter with the records where something failed; None of other faults."""
    if is_full(trouble):
        return Matter.FULL
    if not isinstance(trouble, DatabaseError | InterfaceError):
        return None
    said = str(trouble).lower()
    for parts, matter in _SAID:
        if any(part in said for part in parts):
            return matter
    return Matter.GONE if isinstance(trouble, OperationalError | InterfaceError) else None
