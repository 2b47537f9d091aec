"""What an archive that came from another site says, once it is held to its seal."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from django.db.models import Model

from fleet.models import PersonName
from fleet.picture import BadUpload
from fleet.uploads import Form, let_in_place
from inspections.models import Finding, FindingClosing, Inspection
from ratings.check_record import (
    CHAIN_FILE,
    JOURNAL_FILE,
    LEFT_OUT,
    Archive,
    Opened,
    Seal,
    Unreadable,
    Wrong,
    check_archive,
)
from ratings.ledger.canonical import result_differences
from ratings.mechanics.record import read_inputs, results_of_format

# What a row of a leaf has, by its column; and such rows by their key.
Row = dict[str, Any]
Rows = dict[str, Row]
MOST_BYTES = 512 * 1024**2
MOST_SEAL_LETTERS = 200_000
FIRST = "first leaf"


class NotTaken(ValueError):
    """An archive that can't be taken, and why."""


@dataclass(frozen=True)
class Checked:
    """An archive that holds, and what was found to. is_held: to a seal that came another way."""

    archive: Archive
    told: list[str]
    is_held: bool

    @property
    def site(self) -> str:
        return str(self.archive.manifest["site"])

    @property
    def mark(self) -> str:
        return str(self.archive.manifest["unit"])

    @property
    def key(self) -> str:
        return str(self.archive.manifest["key"])


def check(opened: Opened, size_bytes: int, seal: str = "", *, is_known: bool = False) -> Checked:
    """Hold an archive to its own seal and to one that came another way, where one is given.

    By the very functions that check one with no site. is_known: it was checked when it came, and
    every entry calculated again, which takes long. Raises NotTaken.
    """
    try:
        let_in_place(opened, size_bytes, Form.ARCHIVE, most_bytes=MOST_BYTES)
        seals = [Seal("the seal given", seal.strip() + "\n")] if seal.strip() else []
        archive, told = check_archive("the archive", opened, seals)
        if archive.manifest["options"].get("is_chain"):
            raise Unreadable("it is the ledger of a unit alone: ask for an archive of all of it")
        if not is_known:
            _calculate_again(archive)
    except BadUpload as trouble:
        more = ": ask for one without photos" if size_bytes > MOST_BYTES else ""
        raise NotTaken(f"It can’t be read: {trouble}{more}.") from trouble
    except Unreadable as trouble:
        raise NotTaken(f"It can’t be read: {trouble}.") from trouble
    except Wrong as trouble:
        raise NotTaken(f"It does not hold: {trouble}.") from trouble
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError) as trouble:
        raise NotTaken(
            f"It is no archive that a site gives out ({type(trouble).__name__}: {trouble})."
        ) from trouble
    return Checked(archive, told, bool(seals))


def _calculate_again(archive: Archive) -> None:
    """Hold the results of every entry to what its inputs come to. Raises Wrong."""
    for number, line in enumerate(archive.lines(CHAIN_FILE), start=1):
        entry = json.loads(line)
        again = results_of_format(entry["format"], read_inputs(entry["inputs"]))
        for differs in result_differences(entry["results"], again):
            raise Wrong(f"entry {number} of its ledger does not come out again: {differs}")


def latest(archive: Archive, models: Iterable[type[Model]]) -> dict[type[Model], Rows]:
    """Return the rows of some models as they stood when the archive was made, by their keys.

    Each with the SHA-256 of the first leaf that tells of it, as FIRST: no other site has that one.
    """
    by_label = {model._meta.label_lower: model for model in models}
    found: dict[type[Model], Rows] = {model: {} for model in by_label.values()}
    for line in archive.lines(JOURNAL_FILE):
        if line.startswith(LEFT_OUT):
            continue
        leaf = json.loads(line)
        model = by_label.get(leaf["model"])
        if model is None:
            continue
        if leaf["row"] is None:
            found[model].pop(leaf["key"], None)
        else:
            known = found[model].get(leaf["key"], {})
            first = known.get(FIRST) or sha256(line).hexdigest()
            found[model][leaf["key"]] = leaf["row"] | {FIRST: first}
    return found


def standing(rows: Rows) -> Rows:
    """Return those that no other of them corrects."""
    corrected = {str(row["corrects_id"]) for row in rows.values() if row.get("corrects_id")}
    return {key: row for key, row in rows.items() if key not in corrected}


def last_entry(archive: Archive) -> Row | None:
    """Return the last entry of an archive’s ledger, None where it has none."""
    last = b""
    for line in archive.lines(CHAIN_FILE):
        last = line
    return json.loads(last) if last else None


def names_by_person(rows: Rows) -> Callable[[int | None, str], str]:
    """Return who a key of somebody was at a moment, by the names that go with an archive."""
    names: dict[int, list[tuple[str, str]]] = {}
    for row in rows.values():
        names.setdefault(row["user_id"], []).append((row["known_from"], row["name"]))
    for known in names.values():
        known.sort()

    def name_of(person: int | None, at: str) -> str:
        known = names.get(person or 0, [])
        before = [name for since, name in known if since <= at]
        return before[-1] if before else (known[0][1] if known else "somebody")

    return name_of


def as_it_left(archive: Archive) -> dict[str, Any]:
    """Return what the record of a unit came to when its archive was made."""
    rows = latest(archive, (Inspection, Finding, FindingClosing, PersonName))
    closed = {str(row["finding_id"]) for row in rows[FindingClosing].values()}
    inspections = [
        row
        for row in standing(rows[Inspection]).values()
        if str(row["housing_id"]) == archive.manifest["key"]
    ]
    head = last_entry(archive)
    results = head["results"] if head else {}
    names = ("standing", "pull_lbf", "working_capacity_lbf", "listed_lbf", "sound_pads")
    return {
        "entries": head["sequence"] if head else 0,
        "occurred_at": head["occurred_at"] if head else None,
        "positions": len(head["inputs"]["positions"]) if head else 0,
        "missing": results.get("missing", []),
        **{name: results.get(name) for name in names},
        "inspections": len(inspections),
        "inspected_at": max((row["seen_at"] for row in inspections), default=None),
        "open_findings": sum(key not in closed for key in rows[Finding]),
    }
