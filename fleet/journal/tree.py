"""The hash tree of RFC 9162 (Certificate Transparency 2.0), section 2.1: pure, with no database.

Hashes are bytes. Of a tree of n leaves the left part holds the largest power of two less than n.
`ratings/check_record.py` holds the same sums again, so that a stranger can run it alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from hashlib import sha256

EMPTY_ROOT = sha256(b"").digest()
# Returns the root of the leaves from the first number up to, not including, the second.
Roots = Callable[[int, int], bytes]


def leaf_hash(data: bytes) -> bytes:
    """Return the hash of one leaf (RFC 9162, 2.1.1)."""
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Return the hash of an inner node (RFC 9162, 2.1.1)."""
    return sha256(b"\x01" + left + right).digest()


def split(size: int) -> int:
    """Return the largest power of two less than a size of two or more."""
    return 1 << ((size - 1).bit_length() - 1)


def fold(hashes: Sequence[bytes]) -> bytes:
    """Return the root of a run of leaves or of nodes of one level (RFC 9162, 2.1.1)."""
    if not hashes:
        return EMPTY_ROOT
    if len(hashes) == 1:
        return hashes[0]
    left = split(len(hashes))
    return node_hash(fold(hashes[:left]), fold(hashes[left:]))


class Growing:
    """A tree that grows leaf by leaf: its root in as many hashes as its size has binary ones."""

    def __init__(self) -> None:
        self.size = 0
        self._full: list[bytes] = []

    def add(self, leaf: bytes) -> list[tuple[int, int, bytes]]:
        """Add a leaf's hash; return (level, number, hash) of each inner node now complete."""
        complete = []
        level, number = 0, self.size
        while number & 1:
            leaf = node_hash(self._full.pop(), leaf)
            level, number = level + 1, number >> 1
            complete.append((level, number, leaf))
        self._full.append(leaf)
        self.size += 1
        return complete

    def take_full(self, node: bytes, leaves: int) -> None:
        """Take a complete node of so many leaves, fewer than any taken or added before."""
        self._full.append(node)
        self.size += leaves

    def root(self) -> bytes:
        """Return the root of all leaves added so far."""
        if not self._full:
            return EMPTY_ROOT
        root = self._full[-1]
        for left in reversed(self._full[:-1]):
            root = node_hash(left, root)
        return root


def roots_of(leaves: Sequence[bytes]) -> Roots:
    """Return the roots of runs of these leaves, all held in memory."""
    return lambda start, end: fold(leaves[start:end])


def inclusion_path(place: int, size: int, roots: Roots) -> list[bytes]:
    """Return the proof that a leaf stands at its place in a tree of a size (RFC 9162, 2.1.3.1).

    Raises ValueError where the place is not in the tree.
    """
    if not 0 <= place < size:
        raise ValueError(f"leaf {place} is not in a tree of {size}")
    path: list[bytes] = []
    start, end = 0, size
    while end - start > 1:
        middle = start + split(end - start)
        if place < middle:
            path.append(roots(middle, end))
            end = middle
        else:
            path.append(roots(start, middle))
            start = middle
    return path[::-1]


def root_by_inclusion(leaf: bytes, place: int, size: int, path: Iterable[bytes]) -> bytes:
    """Return the root that a leaf and its proof give (RFC 9162, 2.1.3.2).

    Raises ValueError where the proof is of the wrong length.
    """
    if not 0 <= place < size:
        raise ValueError(f"leaf {place} is not in a tree of {size}")
    step, last, root = place, size - 1, leaf
    for sibling in path:
        if last == 0:
            raise ValueError("the proof is too long")
        if step & 1 or step == last:
            root = node_hash(sibling, root)
            while not step & 1 and step:
                step, last = step >> 1, last >> 1
        else:
            root = node_hash(root, sibling)
        step, last = step >> 1, last >> 1
    if last:
        raise ValueError("the proof is too short")
    return root


def consistency_path(older: int, size: int, roots: Roots) -> list[bytes]:
    """Return the proof that a tree holds all of an older one unchanged (RFC 9162, 2.1.4.1).

    Raises ValueError where the older tree is not the smaller.
    """
    if not 0 <= older <= size:
        raise ValueError(f"a tree of {older} cannot be the beginning of one of {size}")
    if older in (0, size):
        return []
    path: list[bytes] = []
    start, end, is_whole = 0, size, True
    while older != end:
        middle = start + split(end - start)
        if older <= middle:
            path.append(roots(middle, end))
            end = middle
        else:
            path.append(roots(start, middle))
            start, is_whole = middle, False
    if not is_whole:
        path.append(roots(start, end))
    return path[::-1]


def is_consistent(
    older: int, older_root: bytes, size: int, root: bytes, path: Sequence[bytes]
) -> bool:
    """Say whether a proof shows an older tree to begin a newer one (RFC 9162, 2.1.4.2)."""
    if older > size or older < 0:
        return False
    if older == size:
        return older_root == root and not path
    if older == 0:
        return older_root == EMPTY_ROOT and not path
    steps = list(path)
    if older & (older - 1) == 0:
        steps.insert(0, older_root)
    if not steps:
        return False
    step, last = older - 1, size - 1
    while step & 1:
        step, last = step >> 1, last >> 1
    was = now = steps[0]
    for sibling in steps[1:]:
        if last == 0:
            return False
        if step & 1 or step == last:
            was, now = node_hash(sibling, was), node_hash(sibling, now)
            while not step & 1 and step:
                step, last = step >> 1, last >> 1
        else:
            now = node_hash(now, sibling)
        step, last = step >> 1, last >> 1
    return last == 0 and was == older_root and now == root
