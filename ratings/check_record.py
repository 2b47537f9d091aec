#!/usr/bin/env python3
"""Check what a Line-Pull Ledger gave out, by itself: no such site and no library is needed.

    python check_record.py FILE FILE …

Each file is known by what is in it: a seal; an export of the journal; a proof that records stand
in the journal a seal was made of; or a paper (PDF) that carries such a proof. Seals should have
come another way than what is checked by them, and at another time: give all you have.

Of a paper it holds the unit, the entry and its line pull to the record; the rest of what a paper
shows is for its reader to compare with the records the proof holds.

It says yes, or no and where, and ends with 0, or 1; with 2 where a file can't be read.

How it is done: a leaf's hash is SHA-256 of a zero byte and its text, a node's is SHA-256 of a one
byte and the two hashes below it (RFC 9162, section 2.1). The same sums stand in the site's own
`fleet/journal/tree.py`; they are written here again so that this file can go alone.
"""

from __future__ import annotations

import json
import re
import sys
import zlib
from base64 import a85decode
from hashlib import sha256
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from typing import Any

SEAL, PROOF = "Line-Pull Ledger seal", "Line-Pull Ledger proof"
HEADER = re.compile(
    SEAL + r" ([1-9][0-9]{0,9})\nmade ([0-9TZ:.\-]{27})\nleaves (0|[1-9][0-9]{0,15})\n"
    r"root ([0-9a-f]{64})\nbefore ([0-9a-f]{64})\n"
)
CODE = re.compile(r"code ([0-9a-f]{64})\n?\Z")
HEAD = re.compile(r"unit ([1-9][0-9]{0,9}) ([0-9a-f]{64}) ([^\n]*)\n")


class Unreadable(Exception):
    """A file that is none of what this checks."""


class Wrong(Exception):
    """What does not hold, and where."""


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
        at = header.end()
        while (code := CODE.match(text, at)) is None:
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


def check_export(name: str, data: bytes, seals: list[Seal]) -> list[str]:
    """Hold an export of the whole journal, a leaf to a line, to every seal."""
    waiting = sorted(seals, key=lambda seal: (seal.size, seal.number))
    full: list[bytes] = []
    entries: dict[str, int] = {}
    held, told = 0, []

    def hold(place: int) -> int:
        """Hold the seals of a size to the leaves so far; return how many leaves hold."""
        so_far = held
        while waiting and waiting[0].size == place:
            seal = waiting.pop(0)
            if root_of(full) != seal.root:
                raise Wrong(
                    f"{name}: the first {place} leaves are not those of {seal}; "
                    f"the first {so_far} hold, so one of lines {so_far + 1} to {place} was "
                    "altered, put in or taken out"
                )
            for sequence, digest, unit in seal.heads:
                if entries.get(digest) != sequence:
                    raise Wrong(
                        f"{name}: entry {sequence} of unit {unit}, which {seal} names, is not in it"
                    )
            so_far = place
            told.append(f"{name}: its first {place} leaves are those of {seal}")
        return so_far

    size = 0
    for line in BytesIO(data):
        held = hold(size)
        text = line.removesuffix(b"\n")
        add_leaf(full, size, leaf_hash(text))
        size += 1
        note_entry(f"{name}, line {size}", text, entries)
    held = hold(size)
    if waiting:
        raise Wrong(f"{name} has {size} leaves, and {waiting[0]} covers {waiting[0].size}")
    if not told:
        raise Wrong(f"{name}: no seal was given to hold it to")
    if held < size:
        told.append(f"{name}: {size - held} leaves came after the last seal given")
    return told


def note_entry(where: str, text: bytes, entries: dict[str, int]) -> None:
    """Note the sequence of a ledger entry by its hash, where a leaf tells of one."""
    try:
        leaf = json.loads(text)
        row = leaf["row"]
        if leaf["model"] != "ratings.ledgerentry":
            return
        if leaf["what"] in ("changed", "removed"):
            raise Wrong(f"{where}: entry {leaf['key']} was {leaf['what']}, which no entry ever is")
        if sha256(row["document"].encode()).hexdigest() != row["hash"]:
            raise Wrong(f"{where}: an entry that does not give its hash")
        entries[row["hash"]] = row["sequence"]
    except (ValueError, KeyError, TypeError, AttributeError) as trouble:
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
            told.append(
                f"{name}: {known['model']} {known['key']}, {known['what']} "
                f"{known['at'][:10]}, stands in {own}"
            )
        older = {each["size"]: each for each in proof["older"]}
        matched = False
        for seal in seals:
            if seal.number == own.number:
                if seal.hash != own.hash:
                    raise Wrong(f"{name}: its seal {own.number} is not {seal}")
                matched = True
            elif seal.size in older:
                path = [bytes.fromhex(step) for step in older[seal.size]["path"]]
                if not is_consistent(seal.size, seal.root, own.size, own.root, path):
                    raise Wrong(f"{name}: {own} does not hold all that {seal} covers, unchanged")
                matched = True
                told.append(f"{name}: {own} holds all that {seal} covers, unchanged")
            elif seal.size > own.size and seal.number > own.number:
                told.append(f"{name}: nothing in it shows what {seal} made of it since")
            else:
                raise Wrong(f"{name}: nothing in it leads from {seal} to {own}")
        if not matched:
            raise Wrong(f"{name}: no seal was given that it can be held to")
    except (KeyError, TypeError, ValueError, AttributeError) as trouble:
        raise Unreadable(
            f"{name} is no whole proof ({type(trouble).__name__}: {trouble})"
        ) from None
    return told


STREAM = re.compile(
    rb"\d+ \d+ obj\s*<<((?:(?!endobj).)*?)>>\s*stream\r?\n(.*?)\r?\nendstream", re.DOTALL
)
OBJECT = re.compile(rb"^\s*(\d+ \d+) obj\b", re.MULTILINE)
SHOWN = re.compile(rb"\(((?:\\.|[^\\()])*)\)\s*Tj")
OCTAL = re.compile(rb"\\([0-7]{3})")


# What stands large on a paper, to a tenth; a pound-force is 4.4482216152605 N (NIST SP 811, B).
# “Line pull” with one capital and no colon stands beside what earlier entries came to.
HEADLINE = re.compile(
    r"(?:line pull:?|LINE PULL:?|(?i:line pull):) ?([0-9][0-9,]*(?:\.[0-9]+)?) (tons|kN)"
)
LBF_IN = {"tons": 2000.0, "kN": 1000 / 4.4482216152605}


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
    """Return the words that pages show in the standard fonts, a space between all of them."""
    shown = []
    for about, content in streams:
        if b"EmbeddedFile" in about:
            continue
        for text in SHOWN.findall(content):
            text = OCTAL.sub(lambda found: bytes([int(found[1], 8)]), text)
            shown.append(re.sub(rb"\\(.)", rb"\1", text).decode("cp1252", "replace"))
    return " ".join(" ".join(shown).split())


def check_paper(name: str, data: bytes, seals: list[Seal]) -> list[str]:
    """Hold a paper's proof to the seals, and what its pages show to the records proven."""
    numbers = OBJECT.findall(data)
    if data.count(b"%%EOF") > 1 or len(set(numbers)) < len(numbers):
        raise Wrong(f"{name} was added to after it was given out: parts of it are given twice")
    streams = streams_of(data)
    proofs = [text for about, text in streams if b"EmbeddedFile" in about]
    if not proofs:
        raise Wrong(f"{name} carries no proof")
    try:
        proof = json.loads(proofs[-1])
    except ValueError:
        raise Wrong(f"{name}: the proof it carries can’t be read") from None
    told = check_proof(name, proof, seals)
    shown = words_of(streams)
    for each in proof["leaves"]:
        leaf = json.loads(each["document"])
        for what, ways in figures_of(leaf):
            if not any(is_shown(way, shown) for way in ways):
                raise Wrong(
                    f"{name}: the record has {ways[0]} as {what} of {leaf['model']} {leaf['key']}, "
                    "and the paper does not show it"
                )
            told.append(f"{name}: it shows {what}, {ways[0]}, as the record has it")
        pull = pull_of(leaf)
        for figure, unit in HEADLINE.findall(shown):
            if pull is None or abs(float(figure.replace(",", "")) * LBF_IN[unit] - pull) > 120:
                raise Wrong(
                    f"{name}: it says “line pull {figure} {unit}”, and the record has "
                    f"{'none' if pull is None else f'{pull:,.0f} lbf'}"
                )
    return told


def is_shown(way: str, shown: str) -> bool:
    """Say whether words show a figure or a name whole, not as part of a longer one."""
    return re.search(rf"(?<![\w,.]){re.escape(way)}(?!\w)", shown) is not None


def pull_of(leaf: dict[str, Any]) -> float | None:
    """Return the line pull that a ledger entry’s leaf tells of, lbf; None where it has none."""
    if leaf["model"] != "ratings.ledgerentry" or not leaf["row"]:
        return None
    pull = json.loads(leaf["row"]["document"])["results"]["pull_lbf"]
    return None if pull is None else float(pull)


def figures_of(leaf: dict[str, Any]) -> list[tuple[str, list[str]]]:
    """Return what a paper must show of a record that it rests on, in each way papers write it."""
    row = leaf["row"] or {}
    if leaf["model"] != "ratings.ledgerentry":
        return []
    entry = json.loads(row["document"])
    if sha256(row["document"].encode()).hexdigest() != row["hash"]:
        raise Wrong(f"entry {row['sequence']} does not give its hash")
    pull = pull_of(leaf)
    found = [("the hash", [row["hash"]]), ("the housing", [" ".join(entry["housing"].split())])]
    if pull is not None:
        kilonewtons = pull / LBF_IN["kN"]
        ways = [f"{pull:,.0f} lbf", f"{kilonewtons:,.1f} kN", f"{kilonewtons:,.0f} kN"]
        found.append(("the line pull", ways))
    return found


def check(files: list[tuple[str, bytes]]) -> list[str]:
    """Check files, each a name and its bytes; return what holds. Raises Wrong and Unreadable."""
    seals, others = [], []
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
    for name, data in others:
        if data.startswith(b"%PDF"):
            told += check_paper(name, data, seals)
        elif data.startswith(b'{"at":'):
            told += check_export(name, data, seals)
        else:
            try:
                proof = json.loads(data)
                is_proof = proof["kind"] == PROOF
            except (ValueError, KeyError, TypeError, RecursionError):
                is_proof = False
            if not is_proof:
                raise Unreadable(f"{name} is no seal, export, proof or paper of such a ledger")
            told += check_proof(name, proof, seals)
    return told


def main(paths: list[str]) -> int:
    if not paths:
        print(__doc__)
        return 2
    try:
        told = check([(Path(path).name, Path(path).read_bytes()) for path in paths])
    except (OSError, Unreadable) as trouble:
        print(f"Can’t tell: {trouble}.")
        return 2
    except Wrong as wrong:
        print(f"No. {wrong}.")
        return 1
    print("Yes. All of this holds together:")
    for line in told:
        print(f"- {line}.")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
