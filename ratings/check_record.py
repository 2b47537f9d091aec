#!/usr/bin/env python3
"""Check what a Line-Pull Ledger gave out, by itself: no such site and no library is needed.

    python check_record.py FILE FILE …

Each file is known by what is in it: a seal; an export of the journal; a proof that records stand
in the journal a seal was made of; a paper (PDF) that carries such a proof; an entry of a ledger,
given together with a proof or an export that tells of it; or an archive of a unit (ZIP). Seals
should have come another way than what is checked by them, and at another time: give all you have.

Of an archive it holds every file to the list of them, every record to the seal, the ledger to its
last entry that the seal names, photos and papers to the records. A record left out of an archive
shows by the ledger alone.

A paper names the seal before it. The seal made next, most often on the following day, lists it by
the SHA-256 of its file: with that seal the paper is held byte by byte, with all that its pages
show; without it nobody can say that nothing else on them was altered. Besides, it holds to the
proven ledger entries: the unit, the entry’s hash, line pull, working capacity, listed rating and
standing, each by the entry of the very unit it is stated of; to what is attached, every figure it
states. Of a certificate it holds spring rate, tested stretch and whether it was approved to the
proven rating of its lot. What it did not compare with the record it names.

It says yes, and ends with 0; no and where, with 1; that it can't tell all of it, with 2: where a
file can't be opened or read, or the seal that would tell was not given; that it is true and no
longer the last word, with 3: where a seal names a later entry of a unit.

How it is done: a leaf's hash is SHA-256 of a zero byte and its text, a node's is SHA-256 of a one
byte and the two hashes below it (RFC 9162, section 2.1). The same sums stand in the site's own
`fleet/journal/tree.py`; they are written here again so that this file can go alone.
"""

from __future__ import annotations

import json
import math
import re
import struct
import sys
import zlib
from base64 import a85decode
from collections.abc import Callable, Iterable, Iterator
from hashlib import sha256
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from typing import Any

SEAL, PROOF = "Line-Pull Ledger seal", "Line-Pull Ledger proof"
PAPER = "Line-Pull Ledger paper"
HEADER = re.compile(
    SEAL + r" ([1-9][0-9]{0,9})\nmade ([0-9TZ:.\-]{27})\nleaves (0|[1-9][0-9]{0,15})\n"
    r"root ([0-9a-f]{64})\nbefore ([0-9a-f]{64})\n"
)
CODE = re.compile(r"code ([0-9a-f]{64})\n?\Z")
HEAD = re.compile(r"unit ([1-9][0-9]{0,9}) ([0-9a-f]{64}) ([^\n]*)\n")
PAPERS = re.compile(r"papers (0|[1-9][0-9]{0,6})\n((?:paper [0-9a-f]{64} [0-9a-f]{64}\n)*)")


# A file opened for reading bytes, Python’s own or one that is read like it.
Opened = Any


class Unreadable(Exception):
    """A file that is none of what this checks."""


class Wrong(Exception):
    """What does not hold, and where."""


class Doubt(str):
    """What can't be told, and what would tell."""


class Since(str):
    """What came after what was checked."""


def leaf_hash(data: bytes) -> bytes:
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    return sha256(b"\x01" + left + right).digest()


def add_leaf(full: list[bytes], size: int, leaf: bytes) -> None:
    """Add a leaf to a tree of a size, kept as the roots of its complete parts."""
    while size & 1:
        leaf = node_hash(full.pop(), leaf)
        size >>= 1
    full.append(leaf)


def root_of(full: list[bytes]) -> bytes:
    """Return the root of a tree kept as the roots of its complete parts."""
    if not full:
        return sha256(b"").digest()
    root = full[-1]
    for left in reversed(full[:-1]):
        root = node_hash(left, root)
    return root


def root_by_inclusion(leaf: bytes, place: int, size: int, path: list[bytes]) -> bytes:
    """Return the root that a leaf and its proof give (RFC 9162, 2.1.3.2)."""
    if not 0 <= place < size:
        raise Wrong(f"leaf {place} can’t be one of {size}")
    step, last, root = place, size - 1, leaf
    for sibling in path:
        if last == 0:
            raise Wrong(f"the proof of leaf {place} is too long")
        if step & 1 or step == last:
            root = node_hash(sibling, root)
            while not step & 1 and step:
                step, last = step >> 1, last >> 1
        else:
            root = node_hash(root, sibling)
        step, last = step >> 1, last >> 1
    if last:
        raise Wrong(f"the proof of leaf {place} is too short")
    return root


def is_consistent(older: int, older_root: bytes, size: int, root: bytes, path: list[bytes]) -> bool:
    """Say whether a proof shows an older tree to begin a newer one (RFC 9162, 2.1.4.2)."""
    if older > size:
        return False
    if older == size:
        return older_root == root and not path
    if older == 0:
        return older_root == sha256(b"").digest() and not path
    steps = ([older_root] if older & (older - 1) == 0 else []) + path
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


class Seal:
    """A seal: its number, when it was made, how many leaves it covers, their root, the units."""

    def __init__(self, name: str, text: str) -> None:
        text = text.replace("\r\n", "\n")
        header = HEADER.match(text)
        if header is None:
            raise Unreadable(f"{name} begins as a seal does and is none")
        self.name = name
        self.number, self.made, self.size = int(header[1]), header[2], int(header[3])
        self.root, self.before = bytes.fromhex(header[4]), header[5]
        self.heads: list[tuple[int, str, str]] = []
        # By SHA-256 of its file: that of what a paper states; None where the seal lists no papers.
        self.papers: dict[str, str] | None = None
        at = header.end()
        while (code := CODE.match(text, at)) is None:
            listed = PAPERS.match(text, at) if self.papers is None else None
            if listed is not None:
                lines = [line.split() for line in listed[2].splitlines()]
                if len(lines) != int(listed[1]):
                    raise Wrong(f"{name} says it lists {listed[1]} papers and lists {len(lines)}")
                self.papers = {file: stated for _, file, stated in lines}
                at = listed.end()
                continue
            found = HEAD.match(text, at)
            if found is None:
                raise Unreadable(f"{name} holds a line that no seal has")
            self.heads.append((int(found[1]), found[2], found[3]))
            at = found.end()
        self.hash = code[1]
        if sha256(text[:at].encode()).hexdigest() != self.hash:
            raise Wrong(f"{name}: its code is not that of its lines: one of them was altered")

    def __str__(self) -> str:
        return f"seal {self.number} of {self.made[:10]} ({self.name})"


def check_seals(seals: list[Seal]) -> list[str]:
    """Hold seals to each other, the oldest first."""
    for older, newer in pairwise(seals):
        if older.number == newer.number and older.hash != newer.hash:
            raise Wrong(f"{older} and {newer} are of one number and differ: one was altered")
        if newer.number == older.number + 1 and newer.before != older.hash:
            raise Wrong(f"{newer} names another seal before it than {older}: one was altered")
        if newer.size < older.size or newer.made < older.made:
            raise Wrong(f"{newer} is the later and covers less, or was made before {older}")
    return [f"{seal} covers {seal.size} leaves" for seal in seals]


def check_that_seals_follow(seals: list[Seal]) -> list[str]:
    """Name seals of which nothing given shows that the older leads to the newer."""
    return [
        Doubt(
            f"nothing given shows that {newer} came of {older}: give the seals between them, an "
            "export of the journal, or a proof or paper made under the newer"
        )
        for older, newer in pairwise(seals)
        if newer.number > older.number + 1
    ]


def check_export(
    name: str,
    lines: bytes | Iterable[bytes],
    seals: list[Seal],
    note: Callable[[str, bytes], None] | None = None,
) -> list[str]:
    """Hold an export of the journal, a leaf to a line, to every seal.

    Leaves left out of it stand in it by the root of each complete part of them.
    note: is told where each leaf stands, and its text.
    """
    waiting = sorted(seals, key=lambda seal: (seal.size, seal.number))
    full: list[bytes] = []
    entries: dict[str, int] = {}
    held, left_out, told = 0, 0, []

    def hold(place: int) -> int:
        """Hold the seals of a size to the leaves so far; return how many leaves hold."""
        so_far = held
        while waiting and waiting[0].size <= place:
            seal = waiting.pop(0)
            if seal.size < place:
                raise Wrong(f"{name}: nothing in it leads from {seal} on")
            if root_of(full) != seal.root:
                raise Wrong(
                    f"{name}: the first {place} leaves are not those of {seal}; "
                    f"the first {so_far} hold, so one of lines {so_far + 1} to {place} was "
                    "altered, put in or taken out"
                )
            for sequence, digest, unit in seal.heads:
                known = entries.get(digest, sequence if left_out else None)
                if known != sequence:
                    raise Wrong(
                        f"{name}: entry {sequence} of unit {unit}, which {seal} names, is not in it"
                    )
            so_far = place
            told.append(f"{name}: its first {place} leaves are those of {seal}")
        return so_far

    size = 0
    for number, line in enumerate(BytesIO(lines) if isinstance(lines, bytes) else lines, start=1):
        held = hold(size)
        text = line.removesuffix(b"\n")
        where = f"{name}, line {number}"
        if text.startswith(LEFT_OUT):
            many, root = part_left_out(where, text, size)
            add_part(full, size, many, root)
            size, left_out = size + many, left_out + many
            continue
        add_leaf(full, size, leaf_hash(text))
        size += 1
        note_entry(where, text, entries)
        if note is not None:
            note(where, text)
    held = hold(size)
    if waiting:
        raise Wrong(f"{name} has {size} leaves, and {waiting[0]} covers {waiting[0].size}")
    if not told:
        raise Unreadable(f"{name}: no seal was given to hold it to")
    if held < size:
        told.append(f"{name}: {size - held} leaves came after the last seal given")
    if left_out:
        told.append(f"{name}: of {size} leaves {size - left_out} stand in it whole")
    return told


LEFT_OUT = b'{"leaves":'
PART = re.compile(rb'\{"leaves":([1-9][0-9]{0,15}),"root":"([0-9a-f]{64})"\}')


def part_left_out(where: str, text: bytes, size: int) -> tuple[int, bytes]:
    """Return how many leaves a line stands for, and their root; size: of the tree before it."""
    found = PART.fullmatch(text)
    many = int(found[1]) if found else 0
    if found is None or many & (many - 1) or size % many:
        raise Wrong(f"{where}: no part of a journal is left out like that")
    return many, bytes.fromhex(found[2].decode())


def add_part(full: list[bytes], size: int, many: int, root: bytes) -> None:
    """Add a complete part of so many leaves to a tree kept as the roots of its complete parts."""
    step = size // many
    while step & 1:
        root = node_hash(full.pop(), root)
        step >>= 1
    full.append(root)


def note_entry(where: str, text: bytes, entries: dict[str, int]) -> None:
    """Note the sequence of a ledger entry by its hash, where a leaf tells of one."""
    try:
        leaf = json.loads(text)
        row = leaf["row"]
        if leaf["model"] != "ratings.ledgerentry":
            return
        if leaf["what"] in ("changed", "removed"):
            raise Wrong(f"{where}: entry {leaf['key']} was {leaf['what']}, which no entry ever is")
        Entry(where, leaf)
        entries[row["hash"]] = row["sequence"]
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as trouble:
        raise Wrong(f"{where}: it is no leaf ({trouble})") from None


def check_proof(name: str, proof: dict[str, Any], seals: list[Seal]) -> list[str]:
    """Hold a proof to the seal it is made for, and that to the seals given."""
    try:
        own = Seal(f"in {name}", proof["seal"])
        told = []
        for each in proof["leaves"]:
            path = [bytes.fromhex(step) for step in each["path"]]
            leaf = leaf_hash(each["document"].encode())
            if root_by_inclusion(leaf, each["place"], own.size, path) != own.root:
                raise Wrong(f"{name}: leaf {each['place']} is not in the journal of {own}")
            known = json.loads(each["document"])
            told.append(f"{name}: {record_words(known)} stands in {own}")
        older = {each["size"]: each for each in proof["older"]}
        for seal in seals:
            if seal.number == own.number and seal.hash != own.hash:
                raise Wrong(f"{name}: its seal {own.number} is not {seal}: one was altered")
        matched = False
        for seal in seals:
            if seal.number == own.number:
                matched = True
            elif seal.number == own.number + 1:
                if seal.before != own.hash:
                    raise Wrong(f"{name}: {seal} names another seal before it than {own}")
                matched = True
                told.append(f"{name}: {seal} names {own} as the one before it")
            elif seal.size in older:
                path = [bytes.fromhex(step) for step in older[seal.size]["path"]]
                if not is_consistent(seal.size, seal.root, own.size, own.root, path):
                    raise Wrong(f"{name}: {own} does not hold all that {seal} covers, unchanged")
                matched = True
                told.append(f"{name}: {own} holds all that {seal} covers, unchanged")
            elif seal.size > own.size and seal.number > own.number:
                told.append(f"{name}: nothing in it shows what {seal} made of its records since")
            else:
                raise Wrong(f"{name}: nothing in it leads from {seal} to {own}")
        if not matched:
            raise Unreadable(f"{name}: no seal was given that it can be held to")
    except (KeyError, TypeError, ValueError, AttributeError) as trouble:
        raise Unreadable(
            f"{name} is no whole proof ({type(trouble).__name__}: {trouble})"
        ) from None
    return told


def record_words(leaf: dict[str, Any]) -> str:
    """Return which record a leaf tells of, and when it was written."""
    what = f"{leaf['model']} {leaf['key']}"
    if leaf["model"] == "ratings.ledgerentry" and leaf["row"]:
        told = json.loads(leaf["row"]["document"])
        what = f"entry {leaf['row']['sequence']} of {one_line(told['housing'])}"
    return f"{what}, {leaf['what']} {leaf['at'][:10]},"


STREAM = re.compile(
    rb"\d+ \d+ obj\s*<<((?:(?!endobj).)*?)>>\s*stream\r?\n(.*?)\r?\nendstream", re.DOTALL
)
OBJECT = re.compile(rb"^\s*(\d+ \d+) obj\b", re.MULTILINE)
# In a standard font, or by the glyphs of a font that says what each of them means.
SHOWN = re.compile(rb"(?:\(((?:\\.|[^\\()])*)\)|<([0-9A-F]*)>)\s*Tj")
MEANING = re.compile(rb"<([0-9A-F]{4})> <([0-9A-F]{4,8})>\n")
OCTAL = re.compile(rb"\\([0-7]{3})")


# What stands large on a paper, to a tenth; a pound-force is 4.4482216152605 N (NIST SP 811, B).
# “Line pull” with one capital and no colon stands beside what earlier entries came to.
HEADLINE = re.compile(
    r"(?:line pull:?|LINE PULL:?|(?i:line pull):) ?([0-9][0-9,]*(?:\.[0-9]+)?) (tons|kN)"
)
LBF_IN = {"tons": 2000.0, "kN": 1000 / 4.4482216152605}
UNKNOWN = "not known"


def streams_of(data: bytes) -> list[tuple[bytes, bytes]]:
    """Return what a PDF holds in streams, unpacked, each with what is said of it."""
    found = []
    for about, packed in STREAM.findall(data):
        try:
            if b"ASCII85Decode" in about:
                packed = a85decode(packed.strip().removesuffix(b"~>"))
            if b"FlateDecode" in about:
                packed = zlib.decompress(packed)
        except (ValueError, zlib.error):
            continue
        found.append((about, packed))
    return found


def words_of(streams: list[tuple[bytes, bytes]]) -> str:
    """Return the words that pages show, a space between all of them.

    Raises Wrong where a glyph is said to mean one thing in one font and another in the next.
    """
    shown = []
    glyphs: dict[str, str] = {}
    for _, content in streams:
        if b"beginbfchar" in content:
            for glyph, codes in MEANING.findall(content):
                means = bytes.fromhex(codes.decode()).decode("utf-16-be", "replace")
                if glyphs.setdefault(glyph.decode(), means) != means:
                    raise Wrong("its letters mean one thing in one font and another in the next")
    for about, content in streams:
        if b"EmbeddedFile" in about:
            continue
        for text, by_glyph in SHOWN.findall(content):
            if by_glyph:
                parts = by_glyph.decode()
                four = (parts[at : at + 4] for at in range(0, len(parts), 4))
                shown.append("".join(glyphs.get(each, "\ufffd") for each in four))
                continue
            text = OCTAL.sub(lambda found: bytes([int(found[1], 8)]), text)
            shown.append(re.sub(rb"\\(.)", rb"\1", text).decode("cp1252", "replace"))
    return " ".join(" ".join(shown).split())


def check_paper(name: str, data: bytes, seals: list[Seal], *, is_listed: bool = True) -> list[str]:
    """Hold a paper's proof to the seals, what it states to the proof, its pages to both.

    is_listed: whether it went out by itself, so that a seal lists its file.
    """
    numbers = OBJECT.findall(data)
    if data.count(b"%%EOF") > 1 or len(set(numbers)) < len(numbers):
        raise Wrong(f"{name} was added to after it was given out: parts of it are given twice")
    streams = streams_of(data)
    proof = attached_to(name, streams, PROOF, "proof")
    stated = attached_to(name, streams, PAPER, "word of what it states")
    told = []
    if proof is not None:
        if stated is None:
            raise Wrong(f"{name} carries no word of what it states")
        told += check_contents(name, json.loads(proof), json.loads(stated), streams, seals)
    elif not is_listed:
        raise Wrong(f"{name} carries no proof")
    elif stated is not None:
        check_pages(name, json.loads(stated), streams)
        told.append(f"{name} carries no proof: nothing that it shows is compared with the record")
    if is_listed:
        told.append(check_listed(name, data, stated, seals))
    return told


def check_contents(
    name: str,
    proof: dict[str, Any],
    stated: dict[str, Any],
    streams: list[tuple[bytes, bytes]],
    seals: list[Seal],
) -> list[str]:
    """Hold what is attached to a paper to the seals, and what it shows to what is attached."""
    told = check_proof(name, proof, seals)
    leaves = [json.loads(each["document"]) for each in proof["leaves"]]
    entries = [
        Entry(f"{name}, leaf {leaf['key']}", leaf)
        for leaf in leaves
        if leaf["model"] == "ratings.ledgerentry"
    ]
    check_pages(name, stated, streams)
    shown = words_of(streams)
    for entry in entries:
        for what, words in (("the hash", entry.hash), ("the housing", entry.unit)):
            if not is_shown(words, shown):
                raise Wrong(
                    f"{name}: the record has {words} as {what} of {entry}, "
                    "and the paper does not show it"
                )
    rating = Rating.among(name, leaves)
    for words in rating.names if rating else ():
        # Of a long name each line of it is drawn by itself.
        way = re.escape("".join(words.split()))
        if words.isascii() and not re.search(rf"{way}(?!\w)", "".join(shown.split())):
            raise Wrong(f"{name}: it rests on {rating}, and the paper does not show “{words}”")
    told += check_stated(name, stated, entries, rating, shown)
    if rating is None:
        check_headlines(name, entries, shown)
    return told + check_since(name, entries, seals)


def check_since(name: str, entries: list[Entry], seals: list[Seal]) -> list[str]:
    """Hold the last entry proven of each unit to those the seals name; say of which came later."""
    last: dict[str, Entry] = {}
    for entry in sorted(entries, key=lambda entry: entry.sequence):
        last[entry.unit] = entry
    later: dict[str, str] = {}
    for seal in seals:
        for sequence, digest, unit in seal.heads:
            known = last.get(unit)
            if known is None:
                continue
            if sequence == known.sequence and digest != known.hash:
                raise Wrong(f"{name}: {seal} names another {known} than it proves")
            if sequence > known.sequence:
                later[unit] = f"{name} tells of {known}, and {seal} names entry {sequence}"
    return [Since(f"{words}: ask what stands now") for words in later.values()]


def check_listed(name: str, data: bytes, stated: bytes | None, seals: list[Seal]) -> str:
    """Hold a paper byte by byte to the seal made next after it, which lists it.

    stated: what is attached as what it states. Raises Wrong where it is not the file listed.
    """
    digest = sha256(data).hexdigest()
    for seal in seals:
        if digest in (seal.papers or {}):
            return f"{name} was given out so, byte by byte: {seal} lists it"
    if stated is None:
        return Doubt(
            f"{name} carries no word of what it states, and no seal given lists it: ask the site "
            "by the code at its foot"
        )
    for seal in seals:
        if sha256(stated).hexdigest() in (seal.papers or {}).values():
            raise Wrong(
                f"{name} was altered: {seal} lists a paper that states what is attached to this "
                "one, and its file had other bytes"
            )
    try:
        told = json.loads(stated)
        named = told["seal"] or {"number": 0, "code": ""}
        number = int(named["number"])
    except (KeyError, TypeError, ValueError):
        raise Wrong(f"{name}: its word of what it states is not whole") from None
    if told.get("within") == "archive":
        return Doubt(
            f"{name} says that it went out within an archive, and no seal lists such a paper by "
            "itself: check it with the archive it came in"
        )
    for seal in seals:
        if seal.number == number and seal.hash != named["code"]:
            raise Wrong(f"{name}: the seal {number} that it names is not {seal}")
        if seal.number == number + 1 and seal.papers is not None:
            raise Wrong(
                f"{name}: {seal} lists each paper that was given out since seal {number}, and not "
                "this file: it was altered, or that site never gave it out"
            )
    return Doubt(
        f"{name}: whether anything on its pages was altered shows by seal {number + 1}, which "
        f"lists each paper given out after seal {number} and was not given: ask for it, or ask the "
        "site by the code at the paper’s foot"
    )


def check_headlines(name: str, entries: list[Entry], shown: str) -> None:
    """Hold what stands large on a paper to the entries proven; of several units, in their order."""
    units = len({entry.unit for entry in entries})
    at = 0
    for figure, unit in HEADLINE.findall(shown):
        said = float(figure.replace(",", "")) * LBF_IN[unit]
        known = [
            number
            for number, entry in enumerate(entries)
            if entry.pull is not None and abs(said - entry.pull) <= 120
        ]
        if not known:
            pulls = " or ".join(entry.words("us")["line pull"] for entry in entries) or "none"
            raise Wrong(f"{name}: it says “line pull {figure} {unit}”, and the record has {pulls}")
        onward = [number for number in known if number >= at]
        if units > 1 and not onward:
            raise Wrong(
                f"{name}: it says “line pull {figure} {unit}”, as the record has it of "
                f"{entries[known[0]].unit}, where it tells of {entries[at].unit}"
            )
        at = min(onward, default=at)


def attached_to(
    name: str, streams: list[tuple[bytes, bytes]], kind: str, what: str
) -> bytes | None:
    """Return the one thing of a kind that is attached to a paper, None where there is none."""
    found = []
    for about, text in streams:
        if b"EmbeddedFile" in about:
            try:
                told = json.loads(text)
            except (ValueError, RecursionError):
                raise Wrong(f"{name}: what it carries can’t be read") from None
            if isinstance(told, dict) and told.get("kind") == kind:
                found.append(text)
    if len(found) > 1:
        raise Wrong(f"{name} carries more than one {what}")
    return found[0] if found else None


def check_pages(name: str, stated: dict[str, Any], streams: list[tuple[bytes, bytes]]) -> None:
    """Hold what each page draws to the hashes that are attached."""
    drawn = {sha256(content).hexdigest() for _, content in streams}
    for number, page in enumerate(stated["pages"], start=1):
        if page not in drawn:
            raise Wrong(f"{name}: page {number} does not draw what it did when it was given out")


def check_stated(
    name: str,
    stated: dict[str, Any],
    entries: list[Entry],
    rating: Rating | None,
    shown: str,
) -> list[str]:
    """Hold what a paper states to the records proven, and its pages to what it states."""
    told, not_compared = [], []
    try:
        system = stated["system"]
        figures = [(str(what), str(words)) for what, words in stated["figures"]]
        named = {(each["unit"], each["sequence"], each["hash"]) for each in stated["entries"]}
    except (KeyError, TypeError, ValueError):
        raise Wrong(f"{name}: its word of what it states is not whole") from None
    proven = {(entry.unit, entry.sequence, entry.hash) for entry in entries}
    if named != proven:
        raise Wrong(f"{name}: it states that it rests on other entries than it proves")
    # How a rating stands begins a sentence, with a capital.
    bare = "".join(shown.split()).lower()
    of_rating = rating.words(system) if rating else {}
    for what, words in figures:
        # A paper of one entry shows a figure as it likes, one of several with its name before it.
        beside = what if len(entries) > 1 and what.isascii() else ""
        if not words.isascii():
            not_compared.append(what)
        elif not is_stated_shown(beside.lower(), words.lower(), bare):
            raise Wrong(f"{name}: it states “{what}: {words}”, and no page shows that")
        key, _, of = what.partition(", ")
        if what.lower() in of_rating:
            possible = of_rating[what.lower()]
            if words not in possible:
                raise Wrong(
                    f"{name}: it states “{what}: {words}”, and the record has "
                    f"{' or '.join(possible)} in {rating}"
                )
            told.append(f"{name}: it shows {what.lower()}, {words}, as the record has it")
            continue
        if not any(key.lower() in entry.words(system) for entry in entries):
            not_compared.append(what)
            continue
        entry = stated_of(name, what, one_line(of), entries)
        known = entry.words(system)[key.lower()]
        if words != known:
            raise Wrong(
                f"{name}: it states “{what}: {words}”, and the record has {known} in {entry}"
            )
        shows = ", ".join(each for each in (key.lower(), of, words) if each)
        told.append(f"{name}: it shows {shows}, as the record has it")
    others = ", ".join(dict.fromkeys(each.lower() for each in not_compared))
    told.append(
        f"{name}: not compared with the record: "
        f"{f'{others}; and ' if others else ''}whatever else its pages show"
    )
    return told


def is_stated_shown(beside: str, words: str, bare: str) -> bool:
    """Say whether pages show a figure, whole, or what its brackets hold in another place.

    bare: what they show, with no space in it.
    """
    whole, _, held = (beside + words).partition(" (")
    parts = (whole, held.removesuffix(")")) if held else (whole,)
    if "".join((beside + words).split()) in bare:
        return True
    # Not as the end of a longer figure; each part has its unit of measure at its own end.
    spelled = (re.escape("".join(part.split())) for part in parts)
    return not beside and all(re.search(rf"(?<![\d,.]){part}", bare) for part in spelled)


# What is said of a unit twice on a paper of its hire, the earlier first.
WAYS = ("handed out", "taken back")


def stated_of(name: str, what: str, of: str, entries: list[Entry]) -> Entry:
    """Return the entry that a figure is stated of: of the unit it names, or of the way it went.

    Raises Wrong where it names none, or another than is proven.
    """
    ledgers = {entry.unit for entry in entries}
    if of in ledgers:
        found = [entry for entry in entries if entry.unit == of]
    elif of in WAYS and len(ledgers) == 1:
        by_sequence = sorted(entries, key=lambda entry: entry.sequence)
        found = [by_sequence[0 if of == WAYS[0] else -1]]
    else:
        found = [] if of else entries
    if len(found) != 1:
        units = ", ".join(sorted(ledgers))
        raise Wrong(
            f"{name}: it states “{what}”, and proves entries of {units}: not of which it is"
        )
    return found[0]


def is_shown(way: str, shown: str) -> bool:
    """Say whether words show a figure or a name whole, not as part of a longer one."""
    return re.search(rf"(?<![\w,.]){re.escape(way)}(?!\w)", shown) is not None


class Entry:
    """A ledger entry as its leaf has it: the columns beside its document held to what that says."""

    COLUMNS = ("standing", "pull_lbf", "working_capacity_lbf", "listed_lbf")

    def __init__(self, where: str, leaf: dict[str, Any]) -> None:
        row = leaf["row"]
        if sha256(row["document"].encode()).hexdigest() != row["hash"]:
            raise Wrong(f"{where}: an entry that does not give its hash")
        told = json.loads(row["document"])
        self.results: dict[str, Any] = told["results"]
        self.hash, self.sequence = row["hash"], row["sequence"]
        self.unit = one_line(told["housing"])
        self.pull: float | None = self.results["pull_lbf"]
        for column in self.COLUMNS:
            if row[column] != self.results[column]:
                raise Wrong(
                    f"{where}: {column} of {self} is {row[column]} in its column and "
                    f"{self.results[column]} in its document"
                )

    def __str__(self) -> str:
        return f"entry {self.sequence} of {self.unit}"

    def words(self, system: str) -> dict[str, str]:
        """Return its figures as papers write them, by name."""
        listed = self.results["listed_lbf"]
        return {
            "standing": str(self.results["standing"]),
            "line pull": force_words(self.pull, system, listed, (round, math.floor)),
            "working capacity": force_words(
                self.results["working_capacity_lbf"], system, listed, (math.floor,)
            ),
            "listed": UNKNOWN if listed is None else aloud(listed_shown(listed, system), system),
        }


class Rating:
    """The rating of a lot as its leaf has it, what the lot is marked, and what was said of it."""

    MODEL, LOT = "ratings.lotrating", "fleet.padlot"
    # The last word of these counts.
    SAID = (
        ("ratings.ratingapproval", "approved"),
        ("ratings.ratingrejection", "rejected"),
        ("ratings.ratingwithdrawal", "withdrawn"),
    )
    # What it may be called while nobody said anything.
    DRAFTS = ("draft", "superseded draft", "draft on a corrected test")

    def __init__(self, leaf: dict[str, Any], lot: str, state: str) -> None:
        row = leaf["row"]
        self.key, self.lot, self.state = str(leaf["key"]), one_line(lot), state
        self.rate_lbf_in, self.tested_in = row["rate_lbf_in"], row["tested_stretch_in"]

    @classmethod
    def among(cls, name: str, leaves: list[dict[str, Any]]) -> Rating | None:
        """Return the one rating that leaves tell of, None where they tell of none."""
        found = [leaf for leaf in leaves if leaf["model"] == cls.MODEL]
        if not found:
            return None
        key, lot_key = str(found[0]["key"]), str(found[0]["row"]["lot_id"])
        lots = [leaf for leaf in leaves if leaf["model"] == cls.LOT and leaf["key"] == lot_key]
        if len(found) > 1 or not lots:
            raise Wrong(f"{name} proves no one rating with its lot")
        state = ""
        for model, words in cls.SAID:
            for leaf in leaves:
                if leaf["model"] == model and str(leaf["row"]["rating_id"]) == key:
                    state = words
        return cls(found[0], lots[0]["row"]["mark"], state)

    def __str__(self) -> str:
        return f"rating {self.key} of lot {self.lot}"

    @property
    def names(self) -> tuple[str, str]:
        """What its paper calls it and its lot by."""
        return f"rating {self.key}", f"lot {self.lot}"

    def words(self, system: str) -> dict[str, tuple[str, ...]]:
        """Return by name what its paper may write of it: one thing, but of how a draft stands."""
        per_mm = LBF_IN["kN"] / 1000 * MM_IN
        rate = self.rate_lbf_in if system == "us" else self.rate_lbf_in / per_mm
        tested = self.tested_in if system == "us" else self.tested_in * MM_IN
        rate_unit, length_unit = ("lbf/in", "in") if system == "us" else ("N/mm", "mm")
        return {
            "state": (self.state,) if self.state else self.DRAFTS,
            "spring rate": (f"{significant(rate, 7)} {rate_unit}",),
            "tested stretch": (f"{significant(tested, 5)} {length_unit}",),
        }


MM_IN = 25.4


def significant(value: float, digits: int) -> str:
    """Return a number to so many significant digits, as certificates write it."""
    places = max(0, digits - 1 - math.floor(math.log10(abs(value)))) if value else 0
    text = f"{value:,.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def one_line(mark: str) -> str:
    return " ".join(mark.split())


# How papers write a force, as `fleet/quantities.py` of the site does: rounded to the first step,
# in lbf or kN, by which it doesn't seem to meet a listing it doesn't meet, nor the reverse.
STEPS = {"us": (200.0, 20.0, 2.0, 1.0), "si": (0.1, 0.01, 0.001)}
LISTED_STEP = {"us": 1.0, "si": 0.01}


def in_system(force_lbf: float, system: str) -> float:
    return force_lbf if system == "us" else force_lbf / LBF_IN["kN"]


def listed_shown(listed_lbf: float, system: str) -> float:
    step = LISTED_STEP[system]
    steps = in_system(listed_lbf, system) / step
    as_entered = abs(steps - round(steps)) < 1e-6
    return (round(steps) if as_entered else math.ceil(steps)) * step


def force_words(
    force_lbf: float | None,
    system: str,
    listed_lbf: float | None,
    ways: tuple[Callable[[float], int], ...],
) -> str:
    if force_lbf is None:
        return UNKNOWN
    shown = in_system(force_lbf, system)
    rounded = [way(shown / step + 1e-9) * step for step in STEPS[system] for way in ways]
    if listed_lbf is None:
        return aloud(rounded[0], system)
    listed, meets = listed_shown(listed_lbf, system), force_lbf >= listed_lbf
    serving = [each for each in rounded if (each >= listed - 1e-6) == meets]
    return aloud((serving or rounded[-1:])[0], system)


def aloud(shown: float, system: str) -> str:
    if system == "si":
        text = f"{shown:,.3f}".rstrip("0").rstrip(".")
        return f"{text} kN"
    whole, _, tenths = f"{shown / 2000.0:,.4f}".partition(".")
    return f"{whole}.{tenths.rstrip('0') or '0'} tons ({shown:,.0f} lbf)"


# An archive is a ZIP in which each file lies as it is, one after another, with nothing between
# them: so that it unpacks to no more than it weighs, and any other ZIP reader sees the same.
LOCAL, CENTRAL, END = "<4s5H3I2H", "<4s6H3I5H2I", "<4s4H2IH"
LOCAL_BYTES, FIRST_DAY = 30, 0x0021
LOCAL_MARK, CENTRAL_MARK, END_MARK = b"PK\x03\x04", b"PK\x01\x02", b"PK\x05\x06"
ARCHIVE = "Line-Pull Ledger archive"
SEAL_FILE, MANIFEST_FILE = "seal.txt", "manifest.json"
JOURNAL_FILE, CHAIN_FILE = "journal.jsonl", "chain.jsonl"
MEMBER = re.compile(
    r"seal\.txt|manifest\.json|journal\.jsonl|chain\.jsonl"
    r"|papers/[a-z0-9][a-z0-9-]{0,80}\.pdf|files/[0-9a-f]{64}"
)
# What its manifest tells of an archive in words, and all that it has.
TOLD = ("key", "made_by", "site", "unit")
MANIFEST = {"kind", "format", "files", "options", "left_out", "seal", *TOLD}
MOST_MEMBERS, MOST_LINE_BYTES, AT_ONCE = 50_000, 16 << 20, 1 << 20
# How large the files may be that are read whole.
MOST_BYTES = {SEAL_FILE: 4 << 20, MANIFEST_FILE: 16 << 20, "papers": 64 << 20}


def local_header(name: str, size: int, crc: int) -> bytes:
    """Return what stands before a file in an archive."""
    told = name.encode()
    fields = (10, 0, 0, 0, FIRST_DAY, crc, size, size, len(told), 0)
    return struct.pack(LOCAL, LOCAL_MARK, *fields) + told


def directory(members: Iterable[tuple[str, int, int, int]], begins: int) -> bytes:
    """Return what stands behind all files: of each its name, bytes, sum and where it begins."""
    told, many = b"", 0
    for name, size, crc, offset in members:
        raw = name.encode()
        fields = (10, 10, 0, 0, 0, FIRST_DAY, crc, size, size, len(raw), 0, 0, 0, 0, 0, offset)
        told += struct.pack(CENTRAL, CENTRAL_MARK, *fields) + raw
        many += 1
    return told + struct.pack(END, END_MARK, 0, 0, many, many, len(told), begins, 0)


class Part:
    """A file in an archive: where its bytes begin, how many they are, and their SHA-256."""

    def __init__(self, begins: int, size: int, digest: str) -> None:
        self.begins, self.size, self.digest = begins, size, digest


class Archive:
    """An archive as it was found: every file held to the manifest, nothing held to a seal yet."""

    def __init__(self, name: str, opened: Opened) -> None:
        self.name, self.opened = name, opened
        self.parts = parts_of(name, opened)
        for needed in (MANIFEST_FILE, SEAL_FILE, JOURNAL_FILE, CHAIN_FILE):
            if needed not in self.parts:
                raise Wrong(f"{name}: {needed} is not in it")
        self.manifest = self._read_manifest()
        self.seal = Seal(f"in {name}", self._text(SEAL_FILE))
        named = {"code": self.seal.hash, "made": self.seal.made, "number": self.seal.number}
        if self.manifest["seal"] != named:
            raise Wrong(f"{name}: its manifest names another seal than the one in it")

    def read(self, member: str) -> bytes:
        """Return the bytes of a file. Raises Wrong where it is larger than any such is."""
        most = MOST_BYTES.get(member, MOST_BYTES["papers"])
        if self.parts[member].size > most:
            raise Wrong(f"{self.name}: {member} is larger than {most} bytes")
        self.opened.seek(self.parts[member].begins)
        data: bytes = self.opened.read(self.parts[member].size)
        return data

    def lines(self, member: str) -> Iterator[bytes]:
        """Yield the lines of a file, each with its end."""
        part = self.parts[member]
        at, ends = part.begins, part.begins + part.size
        while at < ends:
            self.opened.seek(at)
            line = self.opened.readline(min(ends - at, MOST_LINE_BYTES))
            at += len(line)
            if not line.endswith(b"\n"):
                raise Wrong(f"{self.name}: {member} has a line that is too long, or has no end")
            yield line

    def _text(self, member: str) -> str:
        try:
            return self.read(member).decode()
        except UnicodeDecodeError:
            raise Wrong(f"{self.name}: {member} has letters that can’t be read") from None

    def _read_manifest(self) -> dict[str, Any]:
        name, text = self.name, self._text(MANIFEST_FILE)
        try:
            manifest: dict[str, Any] = json.loads(text)
            if manifest["kind"] != ARCHIVE or manifest["format"] != 1:
                raise Unreadable(f"{name} is an archive of another kind than this script checks")
            again = json.dumps(manifest, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
            files = {
                file: (each["bytes"], each["sha256"]) for file, each in manifest["files"].items()
            }
            is_text = all(isinstance(manifest[each], str) for each in TOLD)
            is_text = is_text and isinstance(manifest["left_out"], dict)
            is_whole = is_text and again == text and manifest.keys() == MANIFEST
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
            is_whole = False
        if not is_whole:
            raise Wrong(f"{name}: its manifest is not one as the site writes it")
        for file, part in self.parts.items():
            if file == MANIFEST_FILE:
                continue
            if file not in files:
                raise Wrong(f"{name}: {file} is in it, and its manifest does not name it")
            if files.pop(file) != (part.size, part.digest):
                raise Wrong(f"{name}: {file} was altered: its manifest has other bytes of it")
        for file in files:
            raise Wrong(f"{name}: {file[:120]} is named by its manifest, and is not in it")
        return manifest


def parts_of(name: str, opened: Opened) -> dict[str, Part]:
    """Return the files of an archive, read from its first byte to its last.

    Raises Wrong, in words, of anything a ZIP may have and an archive has not.
    """
    found: dict[str, Part] = {}
    members: list[tuple[str, int, int, int]] = []
    opened.seek(0, 2)
    ends = opened.tell()
    at = 0
    while True:
        opened.seek(at)
        header = opened.read(LOCAL_BYTES)
        if not header.startswith(LOCAL_MARK) or len(header) < LOCAL_BYTES:
            break
        _, _, flags, packed, _, _, crc, size, _, letters, _ = struct.unpack(LOCAL, header)
        try:
            member = opened.read(letters).decode()
        except UnicodeDecodeError:
            member = ""
        if not MEMBER.fullmatch(member):
            raise Wrong(
                f"{name}: a file in it is called “{member[:80]}”, and none of an archive is"
            )
        if member in found:
            raise Wrong(f"{name}: {member} is in it twice")
        if flags or packed:
            raise Wrong(
                f"{name}: {member} is packed or locked, and files of an archive lie in it as they "
                "are: give the very file that was given out"
            )
        if header + member.encode() != local_header(member, size, crc):
            raise Wrong(f"{name}: what stands before {member} was altered")
        begins = at + LOCAL_BYTES + letters
        if begins + size > ends:
            raise Wrong(f"{name} ends before {member} does: it came only in part")
        found[member], crc_found = read_part(opened, begins, size)
        if crc_found != crc:
            raise Wrong(f"{name}: {member} was altered: its bytes don’t give their sum")
        members.append((member, size, crc, at))
        if len(members) > MOST_MEMBERS:
            raise Wrong(f"{name} has more than {MOST_MEMBERS} files")
        at = begins + size
    if not members:
        raise Unreadable(f"{name} is no archive of such a ledger")
    opened.seek(at)
    told = directory(members, at)
    if opened.read(len(told) + 1) != told:
        raise Wrong(f"{name}: what stands behind its last file was altered, or came only in part")
    return found


def read_part(opened: Opened, begins: int, size: int) -> tuple[Part, int]:
    """Return a file of an archive, and the sum (CRC-32) of its bytes."""
    digest, crc, left = sha256(), 0, size
    opened.seek(begins)
    while left:
        piece = opened.read(min(left, AT_ONCE))
        if not piece:
            break
        digest.update(piece)
        crc, left = zlib.crc32(piece, crc), left - len(piece)
    return Part(begins, size, digest.hexdigest()), crc


class Proven:
    """What the leaves of an archive say, as far as the rest of it is held to them."""

    def __init__(self, name: str, key: str) -> None:
        self.name, self.key = name, key
        self.mark = ""
        self.sites: set[str] = set()
        self.people: set[str] = set()
        self.entries: dict[int, str] = {}
        # By SHA-256: the record that names the file.
        self.files: dict[str, str] = {}

    def note(self, where: str, text: bytes) -> None:
        """Note what a leaf says. Raises Wrong where it is none."""
        try:
            leaf = json.loads(text)
            row = leaf["row"]
            if row is None:
                return
            if leaf["model"] == "fleet.suppressorhousing" and leaf["key"] == self.key:
                self.mark = str(row["mark"])
            elif leaf["model"] == "fleet.yard":
                self.sites.add(row["name"])
            elif leaf["model"] == "fleet.personname":
                self.people.add(row["name"])
            elif leaf["model"] == "ratings.ledgerentry" and str(row["housing_id"]) == self.key:
                self.entries[row["sequence"]] = row["hash"]
            for value in row.values():
                is_file = isinstance(value, dict) and value.keys() == {"name", "sha256"}
                # Of a file that lacked when its record was written there is no sum.
                if is_file and value["sha256"] is not None:
                    self.files[str(value["sha256"])] = f"{leaf['model']} {leaf['key']}"
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as trouble:
            raise Wrong(f"{where}: it is no leaf ({trouble})") from None


def check_archive(name: str, opened: Opened, seals: list[Seal]) -> tuple[Archive, list[str]]:
    """Hold an archive to its manifest, its own seal and those given; say what holds.

    Raises Wrong and Unreadable. Whoever gives no seals holds it to its own alone, which anybody
    could write.
    """
    archive = Archive(name, opened)
    manifest, own = archive.manifest, archive.seal
    told = [f"{name}: {len(archive.parts)} files, each as its manifest has it"]
    held = [own]
    for seal in seals:
        if seal.number == own.number and seal.hash != own.hash:
            raise Wrong(f"{name}: its seal {own.number} is not {seal}")
        if seal.size <= own.size:
            held.append(seal)
        else:
            told.append(f"{name}: nothing in it shows what {seal} made of it since")
    if seals and len(held) == 1:
        raise Wrong(f"{name}: no seal was given that it can be held to")
    proven = Proven(name, str(manifest["key"]))
    told += check_export(f"{name}, {JOURNAL_FILE}", archive.lines(JOURNAL_FILE), held, proven.note)
    for what, said, known in (
        ("unit", manifest["unit"], {proven.mark}),
        ("site", manifest["site"], proven.sites),
        ("maker", manifest["made_by"], proven.people),
    ):
        if said not in known:
            raise Wrong(f"{name}: no record in it tells of the {what} “{str(said)[:80]}”")
    told += check_chain(archive, proven, seals)
    told += check_files(archive, proven)
    return archive, told


def check_chain(archive: Archive, proven: Proven, seals: list[Seal]) -> Iterator[str]:
    """Hold the entries of a unit to each other, to their leaves, and to what the seals name."""
    name, before, number = archive.name, "0" * 64, 0
    for number, line in enumerate(archive.lines(CHAIN_FILE), start=1):
        text = line.removesuffix(b"\n")
        digest = sha256(text).hexdigest()
        if proven.entries.get(number) != digest:
            raise Wrong(f"{name}: entry {number} of its chain is not the one that the records have")
        try:
            entry = json.loads(text)
            follows = entry["previous_hash"] == before and entry["sequence"] == number
        except (ValueError, KeyError, TypeError):
            follows = False
        if not follows:
            raise Wrong(f"{name}: entry {number} of its chain does not follow the one before it")
        before = digest
    heads = {unit: (sequence, digest) for sequence, digest, unit in archive.seal.heads}
    wanted = heads.get(" ".join(proven.mark.split()), (0, "0" * 64))
    if (number, before) != wanted or len(proven.entries) != number:
        raise Wrong(
            f"{name}: its chain ends with entry {number}, and {archive.seal} names entry "
            f"{wanted[0]} as the last of unit {proven.mark}: entries were left out, or altered"
        )
    yield f"{name}: {number} entries of unit {proven.mark} follow each other to the seal’s last"
    newest = 0
    for seal in seals:
        if seal.size <= archive.seal.size:
            newest = max(newest, seal.number)
        for sequence, digest, unit in seal.heads:
            if unit != " ".join(proven.mark.split()):
                continue
            if seal.size > archive.seal.size:
                if sequence > number:
                    yield Since(f"{name} ends with entry {number}, and {seal} names {sequence}")
            elif proven.entries.get(sequence) != digest:
                raise Wrong(
                    f"{name}: entry {sequence} of unit {unit}, which {seal} names, is not in its "
                    "chain: entries were left out, or altered"
                )
    if seals and archive.seal.hash not in {seal.hash for seal in seals}:
        yield Doubt(
            f"{name}: what came after seal {newest} is named by the archive’s own seal "
            f"{archive.seal.number} alone, which whoever made it could write: ask the site for "
            "that seal, or a later one"
        )


def check_files(archive: Archive, proven: Proven) -> Iterator[str]:
    """Hold photos and other files to the records that name them, and papers to their proofs."""
    name, files, there = archive.name, 0, set()
    for member, part in archive.parts.items():
        folder, _, file = member.partition("/")
        if folder == "files":
            if file != part.digest:
                raise Wrong(f"{name}: {member} was altered: its bytes don’t give its name")
            if file not in proven.files:
                raise Wrong(f"{name}: {member} is a file that no record in it names")
            there.add(file)
            files += 1
        elif folder == "papers":
            data = archive.read(member)
            if b"EmbeddedFile" in data:
                paper = f"{name}, {member}"
                yield from check_paper(paper, data, [archive.seal], is_listed=False)
            else:
                yield f"{name}: {member} carries no proof of its own: compare it with the records"
    left_out = set(archive.manifest["left_out"])
    for digest, record in proven.files.items():
        if digest not in there and digest not in left_out:
            raise Wrong(f"{name}: the file of {record} is not in it, and not said to be left out")
    yield f"{name}: {files} photos and other files are those its records name"


def is_entry(data: bytes) -> bool:
    """Say whether a file is one entry of a ledger, as it was hashed."""
    try:
        return bool({"housing", "previous_hash", "sequence", "results"} <= json.loads(data).keys())
    except (ValueError, AttributeError, RecursionError):
        return False


def check_entry(name: str, data: bytes, others: list[tuple[str, bytes]]) -> str:
    """Hold one entry of a ledger to the proofs and exports given with it, which hold."""
    digest = sha256(data).hexdigest()
    spelled = f'"hash":"{digest}"'.encode()
    for other, held in others:
        if held.startswith(b'{"at":') and spelled in held:
            return f"{name} is an entry whose hash stands in {other}"
        if held.startswith(b"{") and digest.encode() in held:
            for each in json.loads(held).get("leaves", []):
                if (json.loads(each["document"])["row"] or {}).get("hash") == digest:
                    return f"{name} is an entry whose hash stands in {other}"
    raise Wrong(
        f"{name} is an entry with the hash {digest}, and no proof or export given tells of it: it "
        "was altered, or its proof is not there"
    )


def check(files: list[tuple[str, bytes]]) -> list[str]:
    """Check files, each a name and its bytes; return what holds. Raises Wrong and Unreadable."""
    seals, others, entries = [], [], list[tuple[str, bytes]]()
    for name, data in files:
        if data.startswith(SEAL.encode()):
            try:
                seals.append(Seal(name, data.decode()))
            except UnicodeDecodeError:
                raise Unreadable(f"{name} is a seal with letters that can’t be read") from None
        else:
            others.append((name, data))
    seals.sort(key=lambda seal: (seal.number, seal.size))
    told = check_seals(seals)
    if not others and len({seal.hash for seal in seals}) < 2:
        raise Unreadable(
            f"{files[0][0]} is a seal whole in itself, which anybody could write; give another "
            "seal, an export, a proof or a paper to hold it to"
        )
    if not others:
        told += check_that_seals_follow(seals)
    for name, data in others:
        if data.startswith(b"%PDF"):
            told += check_paper(name, data, seals)
        elif data.startswith(LOCAL_MARK):
            if not seals:
                raise Wrong(f"{name}: no seal was given that it can be held to")
            told += check_archive(name, BytesIO(data), seals)[1]
            told.append(f"{name}: SHA-256 of the whole file: {sha256(data).hexdigest()}")
        elif data.startswith((b'{"at":', LEFT_OUT)):
            told += check_export(name, data, seals)
        elif is_entry(data):
            entries.append((name, data))
        else:
            try:
                proof = json.loads(data)
                is_proof = proof["kind"] == PROOF
            except (ValueError, KeyError, TypeError, RecursionError):
                is_proof = False
            if not is_proof:
                raise Unreadable(
                    f"{name} is no seal, export, proof, entry, archive or paper of such a ledger"
                )
            told += check_proof(name, proof, seals)
    told += [check_entry(name, data, others) for name, data in entries]
    return told


def main(paths: list[str]) -> int:
    if not paths or {"-h", "--help"} & set(paths):
        print(__doc__)
        return 0 if paths else 2
    files = []
    for path in paths:
        try:
            files.append((Path(path).name, Path(path).read_bytes()))
        except OSError as trouble:
            print(f"Can’t tell: {path} can’t be opened: {trouble.strerror}.")
            return 2
    try:
        told = check(files)
    except Unreadable as trouble:
        print(f"Can’t tell: {trouble}.")
        return 2
    except Wrong as wrong:
        print(f"No. {wrong}.")
        return 1
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError) as trouble:
        print(f"No. A file is not as any site gives it out ({type(trouble).__name__}: {trouble}).")
        return 1
    doubts = [line for line in told if isinstance(line, Doubt)]
    since = [line for line in told if isinstance(line, Since)]
    if doubts:
        print("Can’t tell all of it:")
    elif since:
        print("Yes, and it is no longer the last word:")
    else:
        print("Yes. All of this holds together:")
    for line in [*doubts, *since]:
        print(f"- {line}.")
    if doubts or since:
        print("What holds:")
    for line in told:
        if not isinstance(line, Doubt | Since):
            print(f"- {line}.")
    return 2 if doubts else 3 if since else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
