"""A paper checked from its file: known here, as it was given out, and still so, or what differs."""

from __future__ import annotations

import json
import logging
import re
from dataclasses import dataclass, field
from enum import IntEnum
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import IO, Any

from pypdf import PdfReader

from fleet.picture import BadUpload
from fleet.uploads import Form, let_in_place
from ratings.models import LedgerEntry, Paper
from ratings.paper.letters import printable
from ratings.record.attaching import STATED_NAME, page_hash
from ratings.record.paper_now import PaperNow, PaperWord, paper_now
from ratings.record.papers import KIND

logger = logging.getLogger(__name__)

# No paper of a yard comes near these; a file beyond them is not read.
MOST_BYTES = 100_000_000
MOST_PAGES = 5_000


class Verdict(IntEnum):
    """What is said of a file; its number is what the command ends with."""

    TRUE = 0
    ALTERED = 1
    CANNOT_TELL = 2
    NO_LONGER_SO = 3


# Of a paper that is what was given out.
BY_WORD = {PaperWord.CHANGED: Verdict.NO_LONGER_SO, PaperWord.AGAIN: Verdict.CANNOT_TELL}


class Unreadable(Exception):
    """A file of which nothing can be told, and why."""


@dataclass
class Checked:
    """What a look at a file came to. now: the paper as it stands, where it is known here."""

    verdict: Verdict
    faults: list[str] = field(default_factory=list)
    now: PaperNow | None = None


def check_file(path: Path) -> Checked:
    """Check a paper from its file. Raises Unreadable where nothing can be told of it."""
    try:
        if not path.is_file():
            raise Unreadable("it is no file")
        with path.open("rb") as opened:
            _let_in(opened, path.stat().st_size)
            return check_paper(opened.read())
    except OSError as trouble:
        raise Unreadable(f"it can’t be opened: {trouble.strerror}") from trouble


def _let_in(opened: IO[bytes], size_bytes: int) -> None:
    try:
        let_in_place(opened, size_bytes, Form.PDF, most_bytes=MOST_BYTES)
    except BadUpload as trouble:
        raise Unreadable(str(trouble)) from trouble


def check_paper(data: bytes) -> Checked:
    """Check a paper's bytes against the record."""
    _let_in(BytesIO(data), len(data))
    whole = Paper.objects.filter(file_hash=sha256(data).hexdigest()).first()
    if whole is not None:
        # Byte by byte what was given out: nothing in it needs to be read.
        now = paper_now(whole)
        return Checked(BY_WORD.get(now.word, Verdict.TRUE), [], now)
    try:
        reader = PdfReader(BytesIO(data))
        return _altered(reader)
    except Unreadable:
        raise
    except Exception as trouble:
        # Whatever a forged file makes the library stumble over.
        logger.info("a paper to be checked can't be read", exc_info=True)
        raise Unreadable(f"it can’t be read as a PDF ({type(trouble).__name__})") from trouble


def _altered(reader: PdfReader) -> Checked:
    """Say what differs in a file that is not, byte by byte, what was given out."""
    if len(reader.pages) > MOST_PAGES:
        raise Unreadable(f"it has more than {MOST_PAGES:,} pages, as no paper has")
    document = _stated_in(reader)
    stated = _read(document)
    paper = Paper.objects.filter(hash=sha256(document.encode()).hexdigest()).first()
    if paper is None:
        return Checked(Verdict.ALTERED, list(_forged(stated, reader)))
    faults = [
        *_pages_that_differ(reader, paper),
        *_figures_not_shown(stated, reader),
        *_record_differs(stated),
    ]
    faults = faults or [
        "its pages draw what they drew, and its file is another than was given out: something "
        "else in it was changed, so that another program may show something else"
    ]
    return Checked(Verdict.ALTERED, faults, paper_now(paper))


def _stated_in(reader: PdfReader) -> str:
    attached = reader.attachments.get(STATED_NAME)
    if not attached:
        raise Unreadable(
            "nothing is attached that says what it states: it was not given out here, or was "
            "printed and scanned, or saved by a program that dropped it; look its code up instead"
        )
    if len(attached) > 1:
        raise Unreadable("two things are attached that say what it states: it was added to")
    try:
        return attached[0].decode()
    except UnicodeDecodeError as trouble:
        raise Unreadable("what is attached to it can’t be read") from trouble


def _read(document: str) -> dict[str, Any]:
    try:
        stated = json.loads(document)
        if stated["kind"] != KIND:
            raise ValueError("another kind")
        figures = [(str(name), str(words)) for name, words in stated["figures"]]
        entries = [
            {name: str(each[name]) for name in ("unit", "sequence", "hash")}
            for each in stated["entries"]
        ]
        title = str(stated["title"])
    except (ValueError, KeyError, TypeError, RecursionError) as trouble:
        raise Unreadable("what is attached to it is not what a paper states") from trouble
    return {"title": title, "figures": figures, "entries": entries}


def _forged(stated: dict[str, Any], reader: PdfReader) -> list[str]:
    """Say what differs of a paper whose attachment no paper given out here has."""
    return [
        *_code_of_another(stated, reader),
        "no paper was given out here that states what is attached to this one "
        f"(“{stated['title'][:80]}”): what it states was altered, or it was not given out here "
        "by itself (one of an archive is checked with that, by check_record.py)",
        *_figures_not_shown(stated, reader),
        *_record_differs(stated),
    ]


# Code at the foot of each page.
_CODE = re.compile(r"\b[A-Z2-9]{4}(?:-[A-Z2-9]{4}){3}\b")


def _code_of_another(stated: dict[str, Any], reader: PdfReader) -> list[str]:
    """Say what the paper stated that was given out under the code a forged one bears."""
    text = " ".join(page.extract_text() for page in reader.pages[:1])
    paper = Paper.objects.filter(code__in=_CODE.findall(text)).first()
    if paper is None:
        return []
    given = dict(paper.contents["figures"])
    now = dict(stated["figures"])
    differing = [name for name in given.keys() | now.keys() if given.get(name) != now.get(name)]
    told = "; ".join(
        f"“{name}: {given.get(name, 'nothing')}”, and this one states {now.get(name, 'nothing')}"
        for name in sorted(differing)[:3]
    )
    return [
        f"it bears the code {paper.code}, of “{paper.contents['title'][:80]}”, which was given "
        f"out stating {told or 'the same figures, and something else beside them'}"
    ]


def _pages_that_differ(reader: PdfReader, paper: Paper) -> list[str]:
    given, found = paper.contents["pages"], [page_hash(page) for page in reader.pages]
    if len(given) != len(found):
        return [f"it was given out with {len(given)} pages, and has {len(found)}"]
    pairs = zip(given, found, strict=True)
    return [
        f"page {number} does not show what it showed when it was given out"
        for number, (then, now) in enumerate(pairs, start=1)
        if then != now
    ]


def _figures_not_shown(stated: dict[str, Any], reader: PdfReader) -> list[str]:
    """Name the figures that are attached and that no page shows."""
    shown = _bare("".join(page.extract_text() for page in reader.pages))
    return [
        f"it states “{name}: {words}”, and no page of it shows that"
        for name, words in stated["figures"]
        if _bare(printable(words)) not in shown
    ]


def _bare(text: str) -> str:
    """Return text with no space in it, since lines break anywhere."""
    return "".join(text.split())


def _record_differs(stated: dict[str, Any]) -> list[str]:
    """Name the ledger entries it says it rests on that are not on record so."""
    faults = []
    for entry in stated["entries"]:
        known = LedgerEntry.objects.filter(hash=entry["hash"]).select_related("housing").first()
        named = f"entry {entry['sequence']} of {entry['unit']}"[:120]
        if known is None:
            faults.append(f"it rests on {named}, and no entry on record has that hash")
        elif (str(known.sequence), known.housing.mark) != (entry["sequence"], entry["unit"]):
            faults.append(
                f"it rests on {named}, and the entry of that hash is entry {known.sequence} of "
                f"{known.housing.mark}"
            )
    return faults
