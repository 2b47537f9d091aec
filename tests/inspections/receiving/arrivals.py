"""A unit that came from another site, told as if it had: its own archive, kept as received."""

from __future__ import annotations

import uuid
from hashlib import sha256

from django.core.files.base import ContentFile

from inspections.archive.making import Options, make_archive
from inspections.models import ReceivedUnit, TakenImport
from inspections.receiving.reading import as_it_left, check
from tests.builders import MONDAY, Unit


def received(unit: Unit) -> ReceivedUnit:
    """What is kept of a unit’s coming, by an archive of what it has on record by now."""
    _, opened = make_archive(unit.housing, maker=unit.manager, options=Options())
    with opened:
        archive = opened.read()
        opened.seek(0)
        checked = check(opened, len(archive))
        left = as_it_left(checked.archive)
    taken = TakenImport.objects.create(
        submission_id=uuid.uuid4(), name="Unit of before", rows=[], recorded_by=unit.manager
    )
    return ReceivedUnit.objects.create(
        submission_id=uuid.uuid4(),
        housing=unit.housing,
        taken=taken,
        site="Harbor Yard",
        mark="B-7",
        identity=sha256(str(unit.housing.pk).encode()).hexdigest(),
        received_at=MONDAY,
        seal_number=checked.archive.seal.number,
        seal_made=checked.archive.seal.made,
        seal_hash=checked.archive.seal.hash,
        is_held=True,
        sha256=sha256(archive).hexdigest(),
        size_bytes=len(archive),
        file=ContentFile(archive, name="received.zip"),
        marks={"housing B-7": unit.housing.mark},
        left=left,
        recorded_by=unit.manager,
    )
