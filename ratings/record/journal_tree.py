"""The journal itself: every leaf held to its hash and its place, the tree to its seals."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from fleet.journal import tree
from fleet.journal.sequence import KEPT_LEVELS, grown_to
from fleet.journal.spelling import hash_of
from fleet.models import Leaf, TreeNode, TreeSize
from ratings.ledger.canonical import is_canonical, time_text
from ratings.models import LedgerEntry, Paper, Seal
from ratings.record.faults import Fault, Scope
from ratings.record.seals import NO_SEAL, Head, Listed, NoSeal, read_seal

AT_ONCE = 2_000
PAPERS_AT_ONCE = 500
Node = tuple[int, int, bytes]
OF_LEAF = ("recorded_at", "model", "row_key", "what", "document", "leaf_hash")


def look_at_tree(scope: Scope) -> Iterator[int | Fault]:
    """Yield faults of leaves, of the hashes kept above them, and of roots that seals name."""
    try:
        growing = grown_to(scope.since)
        began = growing.root().hex()
    except (LookupError, ValueError) as trouble:
        yield Fault("the journal", f"the tree can’t be read ({trouble})")
        return
    if scope.since and began != scope.since_root:
        yield Fault(
            f"the first {scope.since} leaves",
            "the tree kept above them no longer gives the root that was verified",
        )
        return
    named = _roots_named(scope)
    if 0 in named:
        yield from _hold_root(named, growing)
    nodes: list[Node] = []
    for each in _placed(growing, nodes):
        yield each
        if isinstance(each, Fault):
            return
        if growing.size in named:
            yield from _hold_root(named, growing)
        if len(nodes) >= AT_ONCE:
            yield from _hold_nodes(nodes)
    yield from _hold_nodes(nodes)
    yield from _waiting()
    yield from _hold_size(growing.size, named)


def _placed(growing: tree.Growing, nodes: list[Node]) -> Iterator[int | Fault]:
    """Grow the tree by the leaves that have a place, up to the first that doesn't hold."""
    leaves = Leaf.objects.filter(place__gte=growing.size).order_by("place")
    columns = ("place", *OF_LEAF)
    for place, *columns_of_leaf in leaves.values_list(*columns).iterator(AT_ONCE):
        if place != growing.size:
            yield Fault(f"leaf {growing.size}", f"it is not there; the next leaf found is {place}")
            return
        fault = _leaf_fault(f"leaf {place}", *columns_of_leaf)
        if fault:
            yield fault
            return
        complete = growing.add(bytes.fromhex(columns_of_leaf[-1]))
        nodes += [node for node in complete if node[0] % KEPT_LEVELS == 0]
        yield 1


def _leaf_fault(
    where: str, at: datetime, model: str, key: str, what: str, document: str, leaf_hash: str
) -> Fault | None:
    where = f"{where} ({model} {key}, {what})"
    if hash_of(document) != leaf_hash:
        return Fault(where, "its text does not give its hash")
    try:
        told = json.loads(document)
        if not is_canonical(document, told):
            return Fault(where, "its text is not canonical JSON")
        if (told["at"], told["model"], told["key"], told["what"]) != (
            time_text(at),
            model,
            key,
            what,
        ):
            return Fault(where, "its columns are not what its text says")
    except (ValueError, KeyError, TypeError) as trouble:
        return Fault(where, f"its text can’t be read ({type(trouble).__name__}: {trouble})")
    return None


def _waiting() -> Iterator[int | Fault]:
    """Look at the leaves that have no place yet."""
    columns = ("pk", *OF_LEAF)
    waiting = Leaf.objects.filter(place=None).order_by("pk").values_list(*columns)
    for key, *columns_of_leaf in waiting.iterator(AT_ONCE):
        fault = _leaf_fault(f"leaf with key {key}", *columns_of_leaf)
        if fault:
            yield fault
        yield 1


def _hold_nodes(nodes: list[Node]) -> Iterator[Fault]:
    """Hold hashes kept to those made again, and let go of them."""
    for level in sorted({level for level, _, _ in nodes}):
        made = {number: node.hex() for at, number, node in nodes if at == level}
        kept = TreeNode.objects.filter(
            level=level, number__gte=min(made), number__lte=max(made)
        ).values_list("number", "node_hash")
        stored = dict(kept)
        for number, node in made.items():
            if stored.get(number) != node:
                yield Fault(
                    f"the hash kept of leaves {number << level} to {((number + 1) << level) - 1}",
                    "it is not what the leaves give" if number in stored else "it is not there",
                )
                break
    nodes.clear()


def _roots_named(scope: Scope) -> dict[int, list[tuple[str, str]]]:
    """Return by size which seals name a root: kept ones, and those from outside."""
    named: dict[int, list[tuple[str, str]]] = {}
    kept = Seal.objects.filter(size__gte=scope.since).values_list("size", "number", "root")
    for size, number, root in kept:
        named.setdefault(size, []).append((f"seal {number}", root))
    for seal in scope.seals:
        named.setdefault(seal.size, []).append((f"seal {seal.number} from outside", seal.root))
    return named


def _hold_root(named: dict[int, list[tuple[str, str]]], growing: tree.Growing) -> Iterator[Fault]:
    root = growing.root().hex()
    for seal, sealed in named[growing.size]:
        if sealed != root:
            yield Fault(
                seal,
                f"the first {growing.size} leaves give the root {root[:16]}…, and it was made on "
                f"{sealed[:16]}…: what was on record then was rewritten since",
            )


def _hold_size(size: int, named: dict[int, list[tuple[str, str]]]) -> Iterator[Fault]:
    for sealed, seals in sorted(named.items()):
        if sealed > size:
            yield Fault(
                seals[0][0],
                f"it was made when the journal had {sealed} leaves, and {size} stand: records "
                "were taken away since, or an older copy was put back",
            )
            break
    kept = TreeSize.objects.filter(pk=1).values_list("size", flat=True).first() or 0
    if kept != size:
        yield Fault("the journal", f"its size is kept as {kept}, and {size} leaves have a place")


def look_at_seals(scope: Scope) -> Iterator[int | Fault]:
    """Yield faults of the chain of seals, and of units whose last entry a seal names."""
    before, number = NO_SEAL, 0
    held: set[Head] = set()
    texts: dict[int, str] = {}
    for number, kept in enumerate(Seal.objects.order_by("number").iterator(), start=1):
        where = f"seal {number}"
        if kept.number != number:
            yield Fault(where, f"it is not there; the next seal found is {kept.number}")
            return
        try:
            told = read_seal(kept.text)
        except NoSeal as trouble:
            yield Fault(where, f"its text can’t be read: {trouble}")
            return
        columns = (kept.number, kept.size, kept.root, kept.hash)
        if (told.number, told.size, told.root, told.hash) != columns:
            yield Fault(where, "its columns are not what its text says")
        if told.before != before:
            yield Fault(where, "the seal it names as the one before is another")
        before = told.hash
        # Of what an older seal names already it has been said whether it stands.
        yield from _hold_heads(where, [head for head in told.heads if head not in held])
        held.update(told.heads)
        yield from _hold_papers(where, told.papers or ())
        texts[number] = told.hash
        yield 1
    for seal in scope.seals:
        where = f"seal {seal.number} from outside"
        if seal.number > number:
            yield Fault(where, f"this site has {number} seals: an older copy was put back")
        elif texts[seal.number] != seal.hash:
            yield Fault(where, "the seal of this number kept here has another text")
        yield from _hold_heads(where, seal.heads)
        yield from _hold_papers(where, seal.papers or ())


def _hold_papers(where: str, papers: Sequence[Listed]) -> Iterator[Fault]:
    """Hold the papers that stand on record as given out to those a seal lists."""
    for start in range(0, len(papers), PAPERS_AT_ONCE):
        some = papers[start : start + PAPERS_AT_ONCE]
        kept = Paper.objects.filter(file_hash__in=[each.file_hash for each in some])
        there = {Listed(*hashes) for hashes in kept.values_list("file_hash", "hash")}
        for listed in some:
            if listed not in there:
                yield Fault(
                    f"paper with the SHA-256 {listed.file_hash}",
                    f"{where} lists it as given out, and no such paper is on record",
                )


def _hold_heads(where: str, heads: Iterable[Head]) -> Iterator[Fault]:
    """Hold the chains of units to the last entries a seal names."""
    for head in heads:
        there = LedgerEntry.objects.filter(hash=head.hash, sequence=head.sequence)
        if not there.exists():
            yield Fault(
                f"unit {head.unit}, entry {head.sequence}",
                f"{where} names it, and no entry of its hash stands in that place",
            )
