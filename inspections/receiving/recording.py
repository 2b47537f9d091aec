"""A unit that comes from another site, with its record: rehearsed, then taken whole or not at all.

Nothing that a stranger measured becomes this yard's working capacity by it. Its pads are not
counted here and its travel is not taped, so it is unrated; it is out of service until somebody of
this yard has inspected and released it; the ratings of its lots are drafts, which count once a
second person here has approved them; whether its housing is guided is this yard's to say.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.files import File
from django.db import transaction
from django.db.models import Model

from fleet.housings import lock_all_housings
from fleet.models import OutOfService, SuppressorHousing, Yard
from fleet.people.yards import in_every_yard
from inspections.exchange.incoming import Fate, Trial, try_register
from inspections.exchange.rows import Row, parsed
from inspections.exchange.taken import take_and_keep
from inspections.models import ReceivedUnit, TakenImport
from inspections.receiving.as_register import MARKED, Called, Told, register_lines
from inspections.receiving.reading import Checked, NotTaken, as_it_left
from ratings.models import Seal

NAMESPACE = uuid.UUID("6d6c1f0e-2a51-4a8a-9a0c-6a9f5a0b7f41")
LONGEST_SITE = 60


@dataclass(frozen=True)
class Coming:
    """An archive about to be taken: what it says, and what is chosen for it here.

    marks: by the field of each machine and lot, what it is called here. sha256: of its file.
    """

    checked: Checked
    told: Told
    sha256: str
    size_bytes: int
    yard: Yard
    received_at: datetime
    marks: dict[str, str]

    @property
    def left(self) -> dict[str, Any]:
        """What its record came to when it left."""
        return as_it_left(self.checked.archive)


def read(checked: Checked) -> Told:
    """Return what an archive tells. Raises NotTaken where a record in it lacks what it needs."""
    try:
        told = Told(checked)
        as_it_left(checked.archive)
        assert told.housing.identity
    except NotTaken:
        raise
    except UNREADABLE as trouble:
        raise _unreadable(trouble) from trouble
    return told


UNREADABLE = (LookupError, TypeError, ValueError, AttributeError)


def _unreadable(trouble: Exception) -> NotTaken:
    return NotTaken(f"A record in it can’t be read ({type(trouble).__name__}: {trouble}).")


def known_by(sha256: str) -> ReceivedUnit | None:
    """Return the unit that was taken from an archive already; None where it is new."""
    found: ReceivedUnit | None = ReceivedUnit.objects.filter(sha256=sha256).first()
    return found


def refuse_one_that_is_here(checked: Checked, told: Told) -> None:
    """Raise NotTaken where an archive is of a unit that is on record here."""
    seal = checked.archive.seal
    if Seal.objects.filter(hash=seal.hash).exists():
        raise NotTaken(f"It was given out by this site: unit {checked.mark} is on record here.")
    before = ReceivedUnit.objects.filter(identity=told.housing.identity).first()
    if before is not None:
        raise NotTaken(
            f"Unit {checked.mark} of {checked.site} is here already, as {before.housing}: it came "
            f"with seal {before.seal_number}."
        )
    for each in told.called:
        same = _of_serial_number(each)
        if same is not None:
            raise NotTaken(
                f"{each.words.capitalize()} has serial number {each.row['serial_number']}, and so "
                f"has {same} here: the same machine is on record already. Bring that one back into "
                "use on its page, or put its serial number right."
            )


def _of_serial_number(each: Called) -> Model | None:
    number = str(each.row.get("serial_number") or "").strip()
    if not number:
        return None
    same: Any = MARKED[each.what]._default_manager.filter(serial_number__iexact=number)
    make = str(each.row.get("make") or "").strip()
    found = [
        record
        for record in same
        if not make or not record.make or record.make.lower() == make.lower()
    ]
    return found[0] if found else None


def marks_that_clash(coming: Coming) -> dict[str, str]:
    """Return by field why a machine or lot can't be called as it is about to be."""
    troubles: dict[str, str] = {}
    # A lot that came with another unit of that site is the same one.
    came = {
        identity: mark
        for identities in ReceivedUnit.objects.values_list("identities", flat=True)
        for identity, mark in identities.items()
    }
    seen: set[tuple[str, str]] = set()
    for each in coming.told.called:
        mark = coming.marks[each.field]
        record = MARKED[each.what]._default_manager.filter(mark__iexact=mark).first()
        is_theirs = each.what == "lot" and came.get(each.identity) == mark
        if (each.what, mark.lower()) in seen:
            troubles[each.field] = f"“{mark}” is given twice: give each a mark of its own."
        elif record is not None and not is_theirs:
            troubles[each.field] = (
                f"“{mark}” is a {each.what.replace('_', ' ')} of this site: give this one another "
                "mark, and paint it on."
            )
        seen.add((each.what, mark.lower()))
    return troubles


def rows_of(coming: Coming) -> list[Row]:
    """Return what a unit comes to in the register.

    Raises ValidationError by field, and NotTaken.
    """
    troubles: dict[str, Any] = dict(marks_that_clash(coming))
    if troubles:
        raise ValidationError(troubles)
    try:
        lines = register_lines(
            coming.told,
            yard=coming.yard.name,
            received_at=coming.received_at,
            marks=coming.marks,
            reason=_why_out(coming),
        )
        return parsed(lines)
    except UNREADABLE as trouble:
        raise _unreadable(trouble) from trouble


def _why_out(coming: Coming) -> str:
    open_findings = coming.left["open_findings"]
    found = f"; {open_findings} findings were open there" if open_findings else ""
    words = (
        f"Received from {coming.checked.site[:LONGEST_SITE]}: pads not counted, travel not "
        f"taped, not inspected here yet{found}"
    )
    most = OutOfService._meta.get_field("reason").max_length
    return words[:most]


def rehearse(coming: Coming, by: User) -> Trial:
    """Say what would become of each row; keep nothing. Raises ValidationError and NotTaken."""
    return try_register(rows_of(coming), by)


@in_every_yard
@transaction.atomic
def receive_unit(coming: Coming, *, file: File[bytes], by: User) -> ReceivedUnit:
    """Take a unit with its record. The same archive again changes nothing.

    Raises ValidationError by field, NotTaken, and Refused where a row can't be recorded.
    """
    lock_all_housings()
    known = known_by(coming.sha256)
    if known is not None:
        return known
    checked = coming.checked
    refuse_one_that_is_here(checked, coming.told)
    rows = rows_of(coming)
    name = f"Unit {checked.mark} of {checked.site}"[:160]
    take_and_keep(name=name, rows=rows, by=by, place_of=_place_of)
    called = {each.field: each for each in coming.told.called}
    seal = checked.archive.seal
    return ReceivedUnit.objects.create(
        submission_id=uuid.uuid5(NAMESPACE, coming.sha256),
        housing=SuppressorHousing.objects.get(mark=coming.marks[coming.told.housing.field]),
        taken=TakenImport.objects.filter(name=name, recorded_by=by).latest("pk"),
        site=checked.site[:120],
        mark=checked.mark[:60],
        identity=coming.told.housing.identity,
        received_at=coming.received_at,
        seal_number=seal.number,
        seal_made=seal.made,
        seal_hash=seal.hash,
        is_held=checked.is_held,
        sha256=coming.sha256,
        size_bytes=coming.size_bytes,
        file=File(file, name=f"{coming.sha256}.zip"),
        marks={called[field].words: mark for field, mark in coming.marks.items()},
        identities={called[field].identity: mark for field, mark in coming.marks.items()},
        left=coming.left,
        recorded_by=by,
    )


def _place_of(fate: Fate) -> str:
    return f"{fate.table}, {fate.line - 1}"


def marks_there(told: Told) -> dict[str, str]:
    """Return what each machine and lot is called there, by its field."""
    return {each.field: each.mark for each in told.called}
