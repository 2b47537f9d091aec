"""Part of the journal, to be given out: some leaves whole, all others by the roots of their parts.

Whoever has it and a seal can make the root again. It is cut where older seals were made, so that
it can be held to those too.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator

from fleet.journal import tree
from fleet.journal.sequence import complete_node
from fleet.models import Leaf
from ratings.models import Seal

AT_ONCE = 500
# Hashes of so many leaves are read together: a power of two.
WINDOW_LEVEL = 12


class _Nodes:
    """Hashes of complete parts of the tree, those of small ones made of leaves read together."""

    def __init__(self) -> None:
        self._window = -1
        self._hashes: list[bytes] = []

    def node(self, level: int, number: int) -> bytes:
        """Return the hash of a complete node. Raises LookupError where leaves of it lack."""
        if level >= WINDOW_LEVEL:
            return complete_node(level, number)
        first, many = number << level, 1 << level
        if first >> WINDOW_LEVEL != self._window:
            self._read(first >> WINDOW_LEVEL)
        start = first - (self._window << WINDOW_LEVEL)
        hashes = self._hashes[start : start + many]
        if len(hashes) != many:
            raise LookupError(f"of the {many} leaves from {first}, {len(hashes)} stand")
        return tree.fold(hashes)

    def _read(self, window: int) -> None:
        first = window << WINDOW_LEVEL
        rows = Leaf.objects.filter(place__gte=first, place__lt=first + (1 << WINDOW_LEVEL))
        hashes = rows.order_by("place").values_list("leaf_hash", flat=True)
        self._hashes = [bytes.fromhex(each) for each in hashes]
        self._window = window


def excerpt(places: Iterable[int], seal: Seal) -> Iterator[str]:
    """Yield the lines of an excerpt: leaves whole, or a part left out of so many and their root.

    places: of the leaves given whole, in their order, all of them under the seal.
    """
    cuts = iter(
        Seal.objects.filter(size__lte=seal.size).order_by("size").values_list("size", flat=True)
    )
    nodes, done, cut = _Nodes(), 0, next(cuts, seal.size)

    def left_out(until: int) -> Iterator[str]:
        nonlocal done, cut
        while done < until:
            while cut <= done:
                cut = next(cuts, seal.size)
            end = min(until, cut)
            for level, number in _complete_parts(done, end):
                root = nodes.node(level, number).hex()
                yield json.dumps({"leaves": 1 << level, "root": root}, separators=(",", ":"))
            done = end

    for place, document in _documents(places):
        yield from left_out(place)
        yield document
        done = place + 1
    yield from left_out(seal.size)


def _documents(places: Iterable[int]) -> Iterator[tuple[int, str]]:
    waiting: list[int] = []
    for place in places:
        waiting.append(place)
        if len(waiting) == AT_ONCE:
            yield from _read(waiting)
            waiting = []
    yield from _read(waiting)


def _read(places: list[int]) -> Iterator[tuple[int, str]]:
    found = Leaf.objects.filter(place__in=places).order_by("place")
    for place, document in found.values_list("place", "document"):
        assert place is not None
        yield place, document


def _complete_parts(start: int, end: int) -> Iterator[tuple[int, int]]:
    """Yield (level, number) of the largest complete nodes that make up leaves from one to another.

    In their order, each where the tree has it.
    """
    while start < end:
        level = (end - start).bit_length() - 1
        if start:
            level = min(level, (start & -start).bit_length() - 1)
        yield level, start >> level
        start += 1 << level
