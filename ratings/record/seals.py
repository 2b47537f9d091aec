"""Seals: a short text of what the journal comes to, kept, mailed and printed on papers."""

from __future__ import annotations

import re
from dataclasses import dataclass
from hashlib import sha256

from django.db import transaction
from django.utils.timezone import localdate

from fleet import clock
from fleet.dates import day_words
from fleet.journal.sequence import give_places, root_of
from fleet.models import Leaf, TreeSize
from ratings.ledger.canonical import time_text
from ratings.models import CurrentRating, LedgerEntry, Paper, Seal, Verification

TITLE = "Line-Pull Ledger seal"
NO_SEAL = "0" * 64


def foot_words(paper: str = "") -> str:
    """Return what the foot of a paper says: its own code, and the seal before it.

    paper: the code, "" of what is no paper given out.
    """
    own = f"Paper {paper} · " if paper else ""
    seal = Seal.objects.order_by("-number").defer("text").first()
    if seal is None:
        return f"{own}Made before the record was first sealed" if paper else ""
    held = Verification.objects.filter(is_whole=True, since=0, faults=0).first()
    when = f", last held {day_words(localdate(held.at))}" if held else ""
    return (
        f"{own}Record sealed: seal {seal.number} of {day_words(localdate(seal.made_at))}, "
        f"root {seal.root[:12]}, code {seal.code}{when}"
    )


class NoSeal(ValueError):
    """A text that can't be read as a seal, and why."""


@dataclass(frozen=True)
class Head:
    """The last entry of a unit's chain when a seal was made."""

    sequence: int
    hash: str
    unit: str


@dataclass(frozen=True)
class Listed:
    """A paper that was given out since the seal before: SHA-256 of its file, of what it states."""

    file_hash: str
    hash: str


@dataclass(frozen=True)
class SealText:
    """What a seal's text says. before: the code of the seal before it, zeros of the first.

    papers: those given out since the seal before; None of a seal from when none were listed.
    hash: its code, the SHA-256 of the lines above it.
    """

    number: int
    made_at: str
    size: int
    root: str
    before: str
    heads: tuple[Head, ...]
    papers: tuple[Listed, ...] | None
    hash: str


def make_seal() -> Seal:
    """Seal the journal as it stands, or return the last seal where nothing came since.

    It lists the papers given out since the last: whoever has one of them in hand holds its file
    to the seal made next. Two at once make one after the other.
    """
    give_places()
    with transaction.atomic():
        last = hold_sealing()
        # A paper may have been put on record while this waited.
        size = give_places()
        if last is not None and _covers_all_but_itself(last, size):
            return last
        number = last.number + 1 if last else 1
        root = root_of(size).hex()
        at = clock.now()
        heads = _heads_within(size)
        papers = _papers_within(last.size if last else 0, size)
        lines = [
            f"{TITLE} {number}",
            f"made {time_text(at)}",
            f"leaves {size}",
            f"root {root}",
            f"before {last.hash if last else NO_SEAL}",
            *(f"unit {sequence} {hash} {_one_line(mark)}" for sequence, hash, mark in heads),
            f"papers {len(papers)}",
            *(f"paper {file_hash} {hash}" for file_hash, hash in papers),
        ]
        told = "\n".join(lines) + "\n"
        code = _hash(told)
        return Seal.objects.create(
            number=number,
            made_at=at,
            size=size,
            root=root,
            text=f"{told}code {code}\n",
            hash=code,
        )


def hold_sealing() -> Seal | None:
    """Let no seal be made until this transaction ends; return the last one, None before the first.

    A paper that is put on record meanwhile is listed by the seal that comes next after this one.
    """
    TreeSize.objects.get_or_create(pk=1)
    TreeSize.objects.select_for_update().get(pk=1)
    return Seal.objects.order_by("-number").first()


def _papers_within(start: int, end: int) -> list[tuple[str, str]]:
    """Return the hashes of papers whose leaves lie between two sizes, as they were given out."""
    leaves = Leaf.objects.filter(
        model=Paper._meta.label_lower, place__gte=start, place__lt=end
    ).exclude(what__in=(Leaf.What.CHANGED, Leaf.What.REMOVED))
    keys = [int(key) for key in leaves.order_by("place").values_list("row_key", flat=True)]
    papers = Paper.objects.only("file_hash", "hash").in_bulk(keys)
    return [(papers[key].file_hash, papers[key].hash) for key in keys if key in papers]


def _heads_within(size: int) -> list[tuple[int, str, str]]:
    """Return sequence, hash and unit of the last entries whose leaves are among the first.

    An entry committed since the leaves got their places is the next seal's.
    """
    label, heads = LedgerEntry._meta.label_lower, []
    columns = ("sequence", "head_hash", "housing__mark", "housing", "head")
    for *head, housing, key in CurrentRating.objects.order_by("housing__mark", "pk").values_list(
        *columns
    ):
        if not _is_within(size, label, key):
            entries = LedgerEntry.objects.filter(housing=housing).order_by("-sequence")
            older = entries.values_list("sequence", "hash", "pk")
            head = next(
                ([*told, head[2]] for *told, key in older if _is_within(size, label, key)), []
            )
        if head:
            heads.append((head[0], head[1], head[2]))
    return heads


def _is_within(size: int, label: str, key: int) -> bool:
    return Leaf.objects.filter(model=label, row_key=str(key), place__lt=size).exists()


def _covers_all_but_itself(last: Seal, size: int) -> bool:
    """Say whether nothing came since a seal but itself and word of verifying."""
    since = Leaf.objects.filter(place__gte=last.size, place__lt=size)
    own = (Seal._meta.label_lower, Verification._meta.label_lower)
    return not since.exclude(model__in=own).exists()


def _hash(text: str) -> str:
    return sha256(text.encode()).hexdigest()


def _one_line(mark: str) -> str:
    return " ".join(mark.split())


_HEADER = re.compile(
    rf"{TITLE} (?P<number>[1-9][0-9]{{0,9}})\n"
    r"made (?P<made_at>\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z)\n"
    r"leaves (?P<size>0|[1-9][0-9]{0,15})\n"
    r"root (?P<root>[0-9a-f]{64})\n"
    r"before (?P<before>[0-9a-f]{64})\n"
)
_CODE = re.compile(r"code ([0-9a-f]{64})\n?\Z")
_HEAD = re.compile(r"unit ([1-9][0-9]{0,9}) ([0-9a-f]{64}) ([^\n]*)\n")
_PAPERS = re.compile(r"papers (0|[1-9][0-9]{0,6})\n((?:paper [0-9a-f]{64} [0-9a-f]{64}\n)*)")


def read_seal(text: str) -> SealText:
    """Return what a seal's text says. Raises NoSeal where it is none, or not whole."""
    text = text.replace("\r\n", "\n")
    header = _HEADER.match(text)
    if header is None:
        raise NoSeal(f"it does not begin as a seal does, with “{TITLE}”, a number and four lines")
    heads, at = [], header.end()
    papers: tuple[Listed, ...] | None = None
    while (code := _CODE.match(text, at)) is None:
        listed = _PAPERS.match(text, at) if papers is None else None
        if listed is not None:
            lines = listed[2].splitlines()
            if len(lines) != int(listed[1]):
                raise NoSeal(f"it says that it lists {listed[1]} papers, and lists {len(lines)}")
            papers = tuple(Listed(*line.split()[1:]) for line in lines)
            at = listed.end()
            continue
        found = _HEAD.match(text, at)
        if found is None:
            raise NoSeal(f"line {text.count(chr(10), 0, at) + 1} names no unit and its last entry")
        heads.append(Head(int(found[1]), found[2], found[3]))
        at = found.end()
    if _hash(text[:at]) != code[1]:
        raise NoSeal("its code is not that of its lines: one of them was altered")
    return SealText(
        number=int(header["number"]),
        made_at=header["made_at"],
        size=int(header["size"]),
        root=header["root"],
        before=header["before"],
        heads=tuple(heads),
        papers=papers,
        hash=code[1],
    )
