from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from ratings.record.seals import SealText


@dataclass(frozen=True)
class Fault:
    """Something on record that doesn't hold: where, and what differs."""

    where: str
    differs: str

    def __str__(self) -> str:
        return f"{self.where}: {self.differs}"


@dataclass(frozen=True)
class Scope:
    """What a run of verifying looks at.

    since: the size of the journal when it last held, from which to look again; 0 for all of it.
    since_root: the root it had then. seals: older seals from outside, to be held to.
    """

    since: int = 0
    since_root: str = ""
    seals: tuple[SealText, ...] = ()


# Yields how many more were looked at, and what doesn't hold as it is found.
Look = Callable[[Scope], Iterator["int | Fault"]]


@dataclass(frozen=True)
class Part:
    """One part of verifying: its name for commands, what it does in words, and the look itself."""

    name: str
    title: str
    look: Look
