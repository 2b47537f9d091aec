"""One small yard with something of every kind on record, and ways to alter it behind its back."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db import connection, transaction
from django.test import Client
from django.urls import reverse

from fleet.hours import record_hours
from fleet.journal.adoption import adopt
from fleet.journal.scope import journaled_models
from fleet.journal.sequence import give_places
from fleet.models import HourReading, Mounting, OutOfService, StockMove
from fleet.outages import take_out_of_service
from inspections.count.findings import Answer, FoundFault, Observations, PhotoTaken
from inspections.count.signing import Correction, Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.models import Finding, Inspection, Photo, PhotoFile
from inspections.photos.recording import keep_photo
from ratings.models import Commitment, GaugeCalibration, Seal
from ratings.record.faults import Scope
from ratings.record.seals import make_seal, read_seal
from ratings.record.verify import verify_record
from tests.builders import MONDAY, Unit, bench_test, count, pads, picture, rated_unit
from tests.conftest import append_only_tables
from tests.factories import GaugeFactory, HammerFactory
from tests.job_builders import attached, commit, figured_unit
from tests.stand_builders import calibrate

TUESDAY = MONDAY + timedelta(days=1)
NONE_TORN = Answer("pads-look", "Pads", "No pad torn, gone or out of line", "done")


@dataclass
class Yard:
    """Units with a history, what the cases alter of them, and a seal that somebody kept.

    seal: made before the last count of `unit`.
    """

    unit: Unit
    committed: Unit
    commitment: Commitment
    finding: Finding
    outage: OutOfService
    hours: HourReading
    photo: PhotoFile
    calibration: GaugeCalibration
    move: StockMove
    mounting: Mounting
    old_count: Inspection
    new_count: Inspection
    seal: str


def small_yard() -> Yard:
    """Put it on record by the functions the site records with."""
    committed, unit = figured_unit(), rated_unit(in_stock=6)
    by = unit.manager
    bench_test(unit.lot, by, rate_lbf_in=1010.0)
    old = count(unit.housing, by, unit.lot, at=TUESDAY, unsound={"A1": "cracked"})
    corrected = sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(
            seen_at=TUESDAY, pads=pads(unit.housing, unit.lot, {"A2": "cracked"}), travel_in=6.0
        ),
        by=by,
        correction=Correction("It was the one below", inspection=old.inspection),
    )
    finding, photo = _look(unit)
    hammer = HammerFactory()
    outage = take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=hammer,
        since=MONDAY,
        reason="Oil at the shaft",
        by=by,
    )
    hours = record_hours(
        submission_id=uuid.uuid4(), machine=hammer, hours=120.0, read_at=TUESDAY, by=by
    )
    calibration = calibrate(GaugeFactory(), by)
    commitment = commit(committed)
    attached(commitment.job)
    print_history(unit)
    seal = make_seal()
    new = count(unit.housing, by, unit.lot, at=TUESDAY + timedelta(days=1))
    return Yard(
        unit=unit,
        committed=committed,
        commitment=commitment,
        finding=finding,
        outage=outage,
        hours=hours,
        photo=photo,
        calibration=calibration,
        move=StockMove.objects.filter(lot=unit.lot).latest("pk"),
        mounting=Mounting.objects.get(housing=unit.housing),
        old_count=corrected.inspection,
        new_count=new.inspection,
        seal=seal.text,
    )


def _look(unit: Unit) -> tuple[Finding, PhotoFile]:
    """Look at a unit, find a fault and photograph it."""
    photo = PhotoTaken(uuid.uuid4(), "The weld", finding=1)
    fault = FoundFault(
        1, "mend", "A weld of the guide is cracked", who_acts="Kay", act_by=date(2026, 4, 1)
    )
    looked = sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(
            seen_at=TUESDAY + timedelta(hours=2),
            pads=[],
            kind="each shift",
            observations=Observations(answers=[NONE_TORN], findings=[fault], photos=[photo]),
        ),
        by=unit.manager,
    )
    keep_photo(Photo.objects.get(pk=photo.id), picture().read(), unit.manager)
    return looked.inspection.findings.get(), PhotoFile.objects.get(photo_id=photo.id)


def print_history(unit: Unit) -> None:
    """Give out a paper of a unit."""
    reader = Client()
    reader.force_login(unit.manager)
    assert reader.get(reverse("history-report", args=[unit.housing.pk])).status_code == 200


@contextmanager
def with_the_file_in_hand() -> Iterator[Any]:
    """Give a cursor where no trigger guards any table, and undo all of it at the end."""
    with transaction.atomic(), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            # Foreign keys still to be checked would keep triggers from being dropped.
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("SET CONSTRAINTS ALL DEFERRED")
        for model, guard in append_only_tables().items():
            for statement in guard.removal_statements(connection.vendor, model):
                cursor.execute(statement)
        yield cursor
        transaction.set_rollback(True)


def found_amiss(*seals: str) -> dict[str, list[str]]:
    """What verifying finds, by the name of its part; triggers, which lack in all cases, left out.

    seals: the texts of older ones, kept elsewhere.
    """
    scope = Scope(seals=tuple(map(read_seal, seals)))
    found: dict[str, list[str]] = {}
    for looked in verify_record(scope):
        if looked.is_done and looked.faults and looked.part.name != "triggers":
            found[looked.part.name] = [str(fault) for fault in looked.faults]
    return found


def forge_the_journal(cursor: Any) -> None:
    """Write all of the journal anew from the rows as they stand, tree and seals as well."""
    for table in ("fleet_leaf", "fleet_treenode", "fleet_treesize", "ratings_seal"):
        cursor.execute(f"DELETE FROM {table}")
    for model in journaled_models():
        adopt(model, is_new=True)
    give_places()
    assert not Seal.objects.exists()
