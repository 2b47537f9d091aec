"""The hash tree, held to the recursive definition of RFC 9162 and to a library written apart."""

from __future__ import annotations

from hashlib import sha256

import pytest
from pymerkle import InmemoryTree, verify_consistency, verify_inclusion

from fleet.journal import tree
from ratings import check_record

LEAVES = [f"leaf {number}".encode() for number in range(70)]
HASHES = [tree.leaf_hash(leaf) for leaf in LEAVES]


def by_the_book(leaves: list[bytes]) -> bytes:
    """The tree hash as RFC 9162, 2.1.1 writes it down."""
    if not leaves:
        return sha256(b"").digest()
    if len(leaves) == 1:
        return sha256(b"\x00" + leaves[0]).digest()
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    return sha256(b"\x01" + by_the_book(leaves[:k]) + by_the_book(leaves[k:])).digest()


def test_roots_of_0_to_70_leaves_are_those_of_the_rfc_and_of_another_library() -> None:
    growing, other = tree.Growing(), InmemoryTree(algorithm="sha256")
    assert growing.root() == by_the_book([]) == tree.EMPTY_ROOT
    for size, leaf in enumerate(LEAVES, start=1):
        growing.add(tree.leaf_hash(leaf))
        other.append_entry(leaf)
        assert growing.root() == by_the_book(LEAVES[:size]) == other.get_root()
        assert growing.root() == tree.fold(HASHES[:size])


def test_inclusion_proofs_of_every_leaf_hold_here_in_the_script_and_in_another_library() -> None:
    other = InmemoryTree(algorithm="sha256")
    for leaf in LEAVES:
        other.append_entry(leaf)
    for size in (1, 2, 3, 7, 8, 31, 64, 69, 70):
        root = tree.fold(HASHES[:size])
        for place in range(size):
            path = tree.inclusion_path(place, size, tree.roots_of(HASHES))
            assert tree.root_by_inclusion(HASHES[place], place, size, path) == root
            assert check_record.root_by_inclusion(HASHES[place], place, size, path) == root
            proof = other.prove_inclusion(place + 1, size)
            verify_inclusion(HASHES[place], root, proof)
            assert proof.path[1:] == path


def test_consistency_proofs_of_every_two_sizes_hold_and_of_no_altered_tree() -> None:
    roots = tree.roots_of(HASHES)
    whole = [tree.fold(HASHES[:size]) for size in range(71)]
    other = InmemoryTree(algorithm="sha256")
    for leaf in LEAVES:
        other.append_entry(leaf)
    for size in range(1, 71):
        for older in range(size + 1):
            path = tree.consistency_path(older, size, roots)
            good = (older, whole[older], size, whole[size], path)
            assert tree.is_consistent(*good)
            assert check_record.is_consistent(*good)
            if older:
                bad = (older, sha256(whole[older]).digest(), size, whole[size], path)
                assert not tree.is_consistent(*bad)
                assert not check_record.is_consistent(*bad)
    verify_consistency(whole[37], whole[70], other.prove_consistency(37, 70))


@pytest.mark.parametrize(("place", "size"), [(5, 5), (-1, 3), (0, 0)])
def test_no_proof_is_made_of_a_leaf_that_is_not_there(place: int, size: int) -> None:
    with pytest.raises(ValueError, match="not in a tree"):
        tree.inclusion_path(place, size, tree.roots_of(HASHES))


def test_a_proof_too_long_or_too_short_gives_no_root() -> None:
    path = tree.inclusion_path(3, 9, tree.roots_of(HASHES))
    for wrong, words in ((path[:-1], "too short"), ([*path, path[0]], "too long")):
        with pytest.raises(ValueError, match=words):
            tree.root_by_inclusion(HASHES[3], 3, 9, wrong)
