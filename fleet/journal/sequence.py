"""Places in the tree, given to leaves once they are committed, and what the tree then gives.

A root or a proof reads a few runs of at most sixteen hashes for each four levels of the tree.
"""

from __future__ import annotations

from django.db import connection, transaction

from fleet.journal import tree
from fleet.models.leaf import Leaf, TreeNode, TreeSize

# Nodes are kept of every fourth level.
KEPT_LEVELS = 4
AT_ONCE = 5_000


def give_places() -> int:
    """Give every leaf that has none its place, in the order they were written; return the size.

    One at a time, by a lock of its own that no signing waits for.
    """
    size = TreeSize.objects.filter(pk=1).values_list("size", flat=True).first() or 0
    if Leaf.objects.filter(place=None).exists():
        while True:
            size, given = _give_some()
            if given < AT_ONCE:
                break
    return size


@transaction.atomic
def _give_some() -> tuple[int, int]:
    TreeSize.objects.get_or_create(pk=1)
    kept = TreeSize.objects.select_for_update().get(pk=1)
    waiting = Leaf.objects.filter(place=None).order_by("pk")
    found = list(waiting.values_list("pk", "leaf_hash")[:AT_ONCE])
    _place([key for key, _ in found], kept.size)
    growing = grown_to(kept.size)
    nodes = [
        TreeNode(level=level, number=number, node_hash=node.hex())
        for _, leaf in found
        for level, number, node in growing.add(bytes.fromhex(leaf))
        if level % KEPT_LEVELS == 0
    ]
    TreeNode.objects.bulk_create(nodes, batch_size=AT_ONCE)
    TreeSize.objects.filter(pk=1).update(size=growing.size)
    return growing.size, len(found)


def _place(keys: list[int], first: int) -> None:
    """Write places into leaves in one statement: they are numbered as they were written."""
    if not keys:
        return
    marks = ", ".join(["%s"] * len(keys))
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE fleet_leaf SET place = numbered.place FROM ("
            f"SELECT id AS leaf, %s + ROW_NUMBER() OVER (ORDER BY id) - 1 AS place "
            f"FROM fleet_leaf WHERE id IN ({marks})) AS numbered "
            "WHERE fleet_leaf.id = numbered.leaf",
            [first, *keys],
        )


def grown_to(size: int) -> tree.Growing:
    """Return the tree of a size as it grows on, read from the nodes kept."""
    growing = tree.Growing()
    start = 0
    for level in range(size.bit_length(), -1, -1):
        if size >> level & 1:
            growing.take_full(complete_node(level, start >> level), 1 << level)
            start += 1 << level
    return growing


def complete_node(level: int, number: int) -> bytes:
    """Return the hash of a complete node. Raises LookupError where what it is made of lacks."""
    kept = level - level % KEPT_LEVELS
    many = 1 << (level - kept)
    first = number * many
    if kept == 0:
        rows = Leaf.objects.filter(place__gte=first, place__lt=first + many)
        hashes = list(rows.order_by("place").values_list("leaf_hash", flat=True))
    else:
        nodes = TreeNode.objects.filter(level=kept, number__gte=first, number__lt=first + many)
        hashes = list(nodes.order_by("number").values_list("node_hash", flat=True))
    if len(hashes) != many:
        raise LookupError(f"of the {many} hashes from {first} of level {kept}, {len(hashes)} stand")
    return tree.fold([bytes.fromhex(each) for each in hashes])


def roots(start: int, end: int) -> bytes:
    """Return the root of the leaves from one place up to, not including, another.

    start: where a part of the tree begins, as its proofs divide it.
    """
    many = end - start
    if many == 0:
        return tree.EMPTY_ROOT
    level = many.bit_length() - 1
    if many == 1 << level and start % many == 0:
        return complete_node(level, start >> level)
    middle = start + tree.split(many)
    return tree.node_hash(roots(start, middle), roots(middle, end))


def root_of(size: int) -> bytes:
    """Return the root of the first leaves."""
    return roots(0, size)


def inclusion(place: int, size: int) -> list[bytes]:
    """Return the proof that the leaf at a place is in the tree of a size."""
    return tree.inclusion_path(place, size, roots)


def consistency(older: int, size: int) -> list[bytes]:
    """Return the proof that the tree of a size begins with the older one."""
    return tree.consistency_path(older, size, roots)
