"""Papers given out: what each states, on record with the hash of its file, and under which code.

A kind of paper is a function from what it is of to what it states. The same function is asked
when a paper is printed and when somebody asks whether it still is so.
"""

from __future__ import annotations

import json
import secrets
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256
from importlib import import_module
from typing import Any, BinaryIO

from django.conf import settings
from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Model
from django.utils.crypto import salted_hmac

from fleet import clock
from fleet.journal.spelling import CHUNK_BYTES
from fleet.models import SuppressorHousing
from fleet.outages import outages_of_unit
from fleet.quantities import capacity_words, listed_words, pull_words
from fleet.roles import who_words
from ratings.ledger.canonical import canonical_text, digest, time_text
from ratings.models import LedgerEntry, Paper, Seal
from ratings.record.seals import hold_sealing
from ratings.rerating.telling import BEING_RATED, that_rate

KIND = "Line-Pull Ledger paper"
# What a paper without a code says besides. No seal lists it: whoever takes it out of its archive is
# told where it is held.
WITHIN_ARCHIVE = {"within": "archive"}
# Letters and digits that nobody takes for each other; four groups of four can't be guessed.
_LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
_GROUPS = 4
# Why a paper holds no more, as any reader of it may know.
OUT = "The unit is out of service now: it must not go out."
CORRECTED = "What was seen was put right since."


@dataclass(frozen=True)
class Stated:
    """What a paper states: its title, its figures by name as they are printed, and their entries.

    entries: the ledger entries they rest on. no_more: why it holds no more, in words a stranger
    may read. until: the last day it may be used. records: what else they rest on, proven with them.
    again: why whoever has it in hand must ask again in a minute.
    """

    title: str
    figures: tuple[tuple[str, str], ...]
    entries: tuple[LedgerEntry, ...] = ()
    no_more: tuple[str, ...] = ()
    until: date | None = None
    records: tuple[Model, ...] = ()
    again: tuple[str, ...] = ()

    @property
    def proven(self) -> tuple[Model, ...]:
        """All that they rest on, each of which has a line in the journal."""
        return (*self.entries, *self.records)


@dataclass(frozen=True)
class Stamp:
    """What is printed on a paper for whoever checks it: its code, where that leads, what it states.

    is_of_its_day: it tells of a day and is not kept up.
    """

    code: str
    url: str
    stated: Stated
    is_of_its_day: bool = False


# Of what it is of and a system of units. Raises LookupError where that is not on record any more.
StatedOf = Callable[[str, str], Stated]
_KINDS: dict[str, StatedOf] = {}


def paper_kind(name: str) -> Callable[[StatedOf], StatedOf]:
    """Return what makes a function the one that says what papers of a kind state."""

    def take(stated_of: StatedOf) -> StatedOf:
        _KINDS[name] = stated_of
        return stated_of

    return take


def stated_of(kind: str, subject: str, system: str) -> Stated | None:
    """Return what a paper of a kind states now; None of one that tells of its day alone."""
    _gather_kinds()
    return _KINDS[kind](subject, system) if kind in _KINDS else None


def _gather_kinds() -> None:
    # Each is said where its page is, and the addresses of the site name all pages.
    import_module(settings.ROOT_URLCONF)


def unit_figures(entry: LedgerEntry | None, system: str) -> tuple[tuple[str, str], ...]:
    """Return what a paper states of how a unit stands, by the last entry of its ledger."""
    if entry is None:
        return (("Standing", "unrated"),)
    listed_lbf = entry.listed_lbf
    return (
        ("Standing", str(entry.judged)),
        ("Line pull", pull_words(entry.pull_lbf, system, listed_lbf=listed_lbf)),
        (
            "Working capacity",
            capacity_words(entry.working_capacity_lbf, system, listed_lbf=listed_lbf),
        ),
        ("Listed", listed_words(listed_lbf, system)),
    )


def unit_stated(what: str, subject: str, system: str) -> Stated:
    """Return what a paper of a unit states. what: the paper. subject: the key of the housing."""
    housing = SuppressorHousing.objects.filter(pk=int(subject)).first()
    if housing is None:
        raise LookupError("the housing is not on record")
    entries = LedgerEntry.objects.filter(housing=housing).select_related("housing")
    head = entries.order_by("-sequence").first()
    return Stated(
        f"{what} of housing {housing.mark}",
        unit_figures(head, system),
        (head,) if head else (),
        (OUT,) if outages_of_unit(housing) else (),
        again=(BEING_RATED.format("paper"),) if that_rate(housing) else (),
    )


def new_code() -> str:
    """Return a code that nobody can guess and anybody can type."""
    return _grouped("".join(secrets.choice(_LETTERS) for _ in range(4 * _GROUPS)))


def lasting_code(key: str, number: int) -> str:
    """Return a code that the same key gives again, and that nobody can guess who isn't this site.

    number: of the papers of that key, each of which differs from those before it.
    """
    told = salted_hmac("ratings.record.papers", f"{key}\n{number}", algorithm="sha256").digest()
    rest, letters = int.from_bytes(told), ""
    for _ in range(4 * _GROUPS):
        rest, place = divmod(rest, len(_LETTERS))
        letters += _LETTERS[place]
    return _grouped(letters)


def _grouped(letters: str) -> str:
    return "-".join(letters[start : start + 4] for start in range(0, len(letters), 4))


def read_code(typed: str) -> str:
    """Return a code as it is kept, however somebody typed it; "" where it can be none."""
    letters = "".join(each for each in typed.upper() if each.isalnum())
    if len(letters) != 4 * _GROUPS or not set(letters) <= set(_LETTERS):
        return ""
    return _grouped(letters)


def give_out(
    kind: str,
    subject: str,
    system: str,
    *,
    by: User,
    url_of: Callable[[str], str],
    make: Callable[[Stamp], bytes],
    stated: Stated | None = None,
) -> bytes:
    """Make a paper, attach what it states and its proof, and put on record that it was given out.

    url_of: where its code leads. make: returns the pages, which bear the stamp.
    stated: of a paper that tells of its day alone.
    """
    # Imported on need: the site must not wait for the PDF library at start.
    from ratings.record.attaching import attached, hashes_of_pages

    now = stated or stated_of(kind, subject, system)
    if now is None:
        raise LookupError(f"nothing says what a paper of kind {kind} states")
    while True:
        code = new_code()
        stamp = Stamp(code, url_of(code), now, is_of_its_day=kind not in _KINDS)
        contents = contents_of(kind, system, now, by=who_words(by), made_at=clock.now())
        pages = make(stamp)
        document = document_of(contents, hashes_of_pages(pages))
        whole = attached(pages, document, now.proven)
        with transaction.atomic():
            # Else a seal was made meanwhile, and the next would not be the one after this paper's.
            if _seal_words(hold_sealing()) == contents["seal"]:
                Paper.objects.create(
                    code=code,
                    kind=kind,
                    subject=subject,
                    document=document,
                    hash=digest(document),
                    file_hash=sha256(whole).hexdigest(),
                    submission_id=uuid.uuid4(),
                    recorded_by=by,
                )
                return whole


@dataclass(frozen=True)
class Written:
    """A paper as it was written: what is attached as what it states, and how many pages it has."""

    document: str
    pages: int


# Of what a paper states, without its pages, the code it is to bear.
CodeOf = Callable[[dict[str, Any]], str]


def give_out_lasting(
    kind: str,
    subject: str,
    out: BinaryIO,
    *,
    by: User,
    url_of: Callable[[str], str],
    write: Callable[[CodeOf], Written],
) -> Written:
    """Write a paper that comes out the same as long as the record does, and record it once.

    Its code follows from what it states, the seal before it, of what it is and who asks. Of one
    that differs for all that, in what no figure tells, the code is the next one.
    write: writes to out, and asks for the code once it knows what the paper states.
    """
    given, is_again = "", False

    def code_of(contents: dict[str, Any]) -> str:
        nonlocal given
        asked = {"of": subject, "to": by.pk, "at": url_of(_grouped("A" * 4 * _GROUPS))}
        key, number = canonical_text(contents | asked), 0
        while Paper.objects.filter(code=lasting_code(key, number + 1)).exists():
            number += 1
        given = lasting_code(key, number + is_again)
        return given

    while True:
        out.seek(0)
        out.truncate()
        written = write(code_of)
        out.seek(0)
        file_hash = _hash_of(out)
        told = {
            "kind": kind,
            "subject": subject,
            "document": written.document,
            "hash": digest(written.document),
            "file_hash": file_hash,
            "submission_id": uuid.uuid4(),
            "recorded_by": by,
        }
        with transaction.atomic():
            if _seal_words(hold_sealing()) != json.loads(written.document)["seal"]:
                continue
            paper, _ = Paper.objects.get_or_create(code=given, defaults=told)
        if paper.file_hash == file_hash:
            return written
        is_again = True


def _hash_of(out: BinaryIO) -> str:
    told = sha256()
    while piece := out.read(CHUNK_BYTES):
        told.update(piece)
    return told.hexdigest()


def self_proving(
    pages: bytes, kind: str, subject: str, system: str, *, by: str, made_at: datetime
) -> bytes:
    """Return a paper of an archive, with what it states and its proof, where there is one.

    It has no code: it goes out within the archive and is checked with it.
    """
    from ratings.record.attaching import attached, hashes_of_pages, proof_for

    now = stated_of(kind, subject, system)
    if now is None or not proof_for(now.proven):
        return pages
    contents = contents_of(kind, system, now, by=by, made_at=made_at) | WITHIN_ARCHIVE
    return attached(pages, document_of(contents, hashes_of_pages(pages)), now.proven)


def document_of(contents: dict[str, Any], pages: Sequence[str]) -> str:
    """Return what is attached to a paper as what it states. pages: hashes of what each draws."""
    return canonical_text(contents | {"pages": list(pages)})


def contents_of(
    kind: str, system: str, stated: Stated, *, by: str, made_at: datetime
) -> dict[str, Any]:
    """Return what a paper states, for whoever reads its attachment, without its pages."""
    seal = Seal.objects.order_by("-number").first()
    return {
        "kind": KIND,
        "paper": kind,
        "title": stated.title,
        "system": system,
        "made_at": time_text(made_at),
        "by": by,
        "figures": [list(each) for each in stated.figures],
        "entries": [entry_contents(entry) for entry in stated.entries],
        "until": stated.until.isoformat() if stated.until else None,
        "seal": _seal_words(seal),
    }


def _seal_words(seal: Seal | None) -> dict[str, Any] | None:
    """Return what names a seal to whoever reads what a paper states."""
    return None if seal is None else {"number": seal.number, "code": seal.hash}


def entry_contents(entry: LedgerEntry) -> dict[str, Any]:
    """Return what names a ledger entry to whoever looks it up."""
    return {"unit": entry.housing.mark, "sequence": entry.sequence, "hash": entry.hash}


def entry_lines(entries: Sequence[LedgerEntry]) -> list[str]:
    """Return a line for each entry a paper rests on, as it is printed."""
    return [f"entry {each.sequence} of {each.housing.mark}: {each.hash}" for each in entries]
