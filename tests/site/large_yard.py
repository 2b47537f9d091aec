"""A yard with as many of everything as a test asks for, copied in bulk from one of each."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.db.models import Model
from django.utils import timezone

from fleet import clock
from fleet.models import (
    ClampFitting,
    HousingGuide,
    Mounting,
    OutOfService,
    PadPosition,
    ShelfCount,
    SuppressorHousing,
)
from inspections.models import Finding, Inspection, OwnKind
from inspections.retention.kinds import BY_KEY
from inspections.retention.recording import set_rule
from ratings.ledger.posting import Cause
from ratings.models import (
    BenchTest,
    Commitment,
    CurrentRating,
    ExtractionJob,
    Listing,
    PileSection,
    ProofDecision,
    RatingApproval,
    SoilTemplate,
)
from tests.builders import (
    kept_plan,
    ordered_pads,
    ordered_repair,
    proof_pull,
    proposed_listing,
    receive,
    received_pads,
)
from tests.factories import ManagerFactory, PowerPackFactory, YardFactory
from tests.inspections.api.asking import token_of
from tests.inspections.field.sent import finding_sent, payload, send, signed_in
from tests.job_builders import attached, commit, extraction_job, figured_unit, pull_done
from tests.stand_builders import OFF, calibrate, check_stand


@dataclass
class LargeYard:
    """Who keeps it, and the keys of what its pages are about."""

    manager: User
    housing: int
    hammer: int
    lot: int
    rating: int
    job: int
    stand: int = 1
    gauge: int = 1
    calibration: int = 1


def copies(original: Model, many: int, **changes: Any) -> list[Any]:
    """Store so many copies of a record. A change is a value, or made from the copy's number."""
    names = [field.attname for field in original._meta.concrete_fields if not field.primary_key]
    made = []
    for number in range(many):
        values = {name: getattr(original, name) for name in names}
        if "submission_id" in values:
            values["submission_id"] = uuid.uuid4()
        for name, change in changes.items():
            values[name] = change(number) if callable(change) else change
        made.append(type(original)(**values))
    return type(original)._default_manager.bulk_create(made)


def fill_large_yard(many: int) -> LargeYard:
    """Fill an empty database with so many units, lots, jobs, and facts of one unit and one lot."""
    unit = figured_unit()
    sent = payload(unit, pads=[], travel_in=None, findings=[finding_sent()])
    send(signed_in(unit.manager), sent)
    receive(unit.lot, unit.manager, 40)
    made = commit(unit, extraction_job())
    job = made.job
    _pulls(made, many)
    copies(ordered_repair(unit.hammer, unit.manager), many)
    order = ordered_pads(unit.manager)
    orders = copies(order, many)
    came = received_pads(order)
    moves = copies(came.move, many)
    copies(came, many, order_id=lambda n: orders[n].pk, move_id=lambda n: moves[n].pk)
    _other_units(unit, many)
    copies(PowerPackFactory(), many, mark=lambda n: f"P-{n:05}")
    copies(proposed_listing(unit.hammer, ManagerFactory()), many)
    _life_of(unit.housing, unit.manager, many)
    _lots_and_jobs(unit, job, many)
    copies(kept_plan(), many)
    copies(token_of(unit.manager).token, many, token_hash=lambda n: f"{n:064x}")
    _files_of(job, many, unit.manager)
    rating = unit.lot.ratings.earliest("pk")
    test = unit.lot.bench_tests.earliest("pk")
    return LargeYard(
        unit.manager,
        unit.housing.pk,
        unit.hammer.pk,
        unit.lot.pk,
        rating.pk,
        job.pk,
        test.stand_id,
        test.gauge_id,
        _stands(test, unit.manager, many),
    )


def _files_of(job: ExtractionJob, many: int, by: User) -> None:
    """So many files of a job, all past the time that a rule keeps them."""
    with clock.set_to(timezone.now() - timedelta(days=6 * 366)):
        copies(attached(job), many)
    set_rule(
        submission_id=uuid.uuid4(),
        kind=BY_KEY["job-files"],
        years=5,
        needs_second_person=True,
        reason="room on the disk",
        by=by,
    )


def _stands(test: BenchTest, by: User, many: int) -> int:
    """So many stands, gauges, checks and certificates; returns the key of one that found off."""
    check = check_stand(test.stand, by, at=test.tested_at)
    copies(check, many, checked_at=lambda n: test.tested_at + timedelta(days=n))
    stands = copies(test.stand, many, name=lambda n: f"Stand {n:05}")
    copies(check, many, stand_id=lambda n: stands[n].pk)
    copies(test.gauge, many, mark=lambda n: f"G-{n:05}")
    copies(test.tape, many, mark=lambda n: f"T-{n:05}")
    copies(check.piece, many, mark=lambda n: f"REF-{n:05}")
    found = calibrate(test.gauge, by, on=date(2026, 6, 1), points=OFF)
    copies(
        found,
        many,
        calibrated_on=lambda n: found.calibrated_on + timedelta(days=n + 1),
        due_on=date(2099, 1, 1),
        certificate_number=lambda n: f"C-{n:05}",
    )
    return found.pk


def _pulls(made: Commitment, many: int) -> None:
    """So many pulls of a commitment, in ground of one soil."""
    pull = pull_done(made)
    copies(
        pull,
        many,
        pile_mark=lambda n: f"P-{n:05}",
        pulled_at=lambda n: pull.pulled_at + timedelta(minutes=n),
        soil_share=0.9,
    )


def _other_units(unit: Any, many: int) -> None:
    finding, inspection = Finding.objects.get(), Inspection.objects.filter(pads=None).get()
    head = CurrentRating.objects.get(housing=unit.housing).head
    listing = Listing.objects.get()
    housings = copies(unit.housing, many, mark=lambda n: f"H-{n:05}")
    hammers = copies(unit.hammer, many, mark=lambda n: f"HAM-{n:05}")
    copies(Mounting.objects.get(), many, housing_id=lambda n: housings[n].pk,
           hammer_id=lambda n: hammers[n].pk)  # fmt: skip
    fitting = ClampFitting.objects.get()
    clamps = copies(fitting.clamp, many, mark=lambda n: f"C-{n:05}")
    copies(fitting, many, clamp_id=lambda n: clamps[n].pk, hammer_id=lambda n: hammers[n].pk)
    copies(listing, many, hammer_id=lambda n: hammers[n].pk)
    copies(listing, many)
    for position in PadPosition.objects.filter(housing=unit.housing):
        copies(position, many, housing_id=lambda n: housings[n].pk)
    seen = copies(inspection, many, housing_id=lambda n: housings[n].pk,
                  hammer_id=lambda n: hammers[n].pk, hour_reading_id=None)  # fmt: skip
    copies(finding, many, hammer_id=lambda n: hammers[n].pk, inspection_id=lambda n: seen[n].pk)
    entries = copies(
        head,
        many,
        housing_id=lambda n: housings[n].pk,
        sequence=1,
        cause=Cause.LOT_RATED,
        cause_record=unit.lot.ratings.get().pk,
        previous_hash="0" * 64,
        hash=lambda n: f"a{n:063}",
    )
    CurrentRating.objects.bulk_create(
        CurrentRating(housing=entry.housing, head=entry, sequence=1, head_hash=entry.hash)
        for entry in entries
    )
    copies(unit.hammer, many, mark=lambda n: f"BARE-{n:05}")


def _life_of(housing: SuppressorHousing, by: User, many: int) -> None:
    """So many entries, inspections, mountings, guides and times out of service of one unit."""
    rating = CurrentRating.objects.get(housing=housing)
    entries = copies(
        rating.head,
        many,
        sequence=lambda n: rating.sequence + 1 + n,
        previous_hash=lambda n: f"b{n:063}",
        hash=lambda n: f"b{n + 1:063}",
    )
    CurrentRating.objects.filter(housing=housing).update(
        head=entries[-1], sequence=entries[-1].sequence, head_hash=entries[-1].hash
    )
    seen = copies(Inspection.objects.filter(housing=housing).latest("pk"), many,
                  hour_reading_id=None)  # fmt: skip
    finding = Finding.objects.earliest("pk")
    copies(finding, many, inspection_id=lambda n: seen[n].pk)
    before, other = Mounting.objects.get(housing=housing).mounted_at, ManagerFactory()
    copies(
        Mounting.objects.get(housing=housing),
        many,
        mounted_at=lambda n: before - timedelta(hours=n + 1),
        removed_at=lambda n: before - timedelta(hours=n),
    )
    pull = proof_pull(housing, by, 0.7).pull
    pulls = copies(pull, many, pulled_at=lambda n: pull.pulled_at + timedelta(hours=n))
    ProofDecision.objects.bulk_create(
        ProofDecision(
            submission_id=uuid.uuid4(),
            pull=each,
            pull_recorded_by=by,
            reason="A sling chafed.",
            recorded_by=other,
        )
        for each in pulls[::2]
    )
    HousingGuide.objects.bulk_create(
        HousingGuide(
            submission_id=uuid.uuid4(),
            housing=housing,
            is_guided=bool(n % 2),
            reason="Rods looked at.",
            occurred_at=before - timedelta(hours=n),
            recorded_by=by,
        )
        for n in range(many)
    )
    OutOfService.objects.bulk_create(
        OutOfService(
            submission_id=uuid.uuid4(),
            housing=housing,
            since=before - timedelta(hours=n + 1),
            reason="Crack at the yoke weld.",
            recorded_by=by,
            released_at=before - timedelta(hours=n),
            released_by=by,
            release_reason="Weld made good.",
        )
        for n in range(many)
    )


def _lots_and_jobs(unit: Any, job: Any, many: int) -> None:
    yard = YardFactory()
    rating = unit.lot.ratings.earliest("pk")
    lots = copies(unit.lot, many, mark=lambda n: f"L-{n:05}")
    rated = copies(rating, many, lot_id=lambda n: lots[n].pk)
    copies(RatingApproval.objects.get(), many, rating_id=lambda n: rated[n].pk)
    copies(rating, many, lot_id=unit.lot.pk)
    ShelfCount.objects.bulk_create(ShelfCount(lot=lot, yard=yard, pads=4) for lot in lots)
    copies(unit.lot.moves.get(), many, submission_id=lambda n: uuid.uuid4())
    test = unit.lot.bench_tests.get()
    # One that may not rate: how many rate a lot is for its own page to calculate with.
    copies(test, many, gauge_due_on=None, gauge_calibrated_on=None)
    jobs = copies(job, many, site=lambda n: f"Pier {n:05}")
    for part in (*job.pile_groups.all(), *job.layers.all()):
        copies(part, many, job_id=lambda n: jobs[n].pk)
    by = unit.manager
    PileSection.objects.bulk_create(
        PileSection(
            name=f"Section {n:05}",
            kind="H",
            area_in2=21.4,
            weight_lb_ft=73.0,
            perimeter_in=56.4,
            source="Mill sheet",
            recorded_by=by,
        )
        for n in range(many)
    )
    SoilTemplate.objects.bulk_create(
        SoilTemplate(
            name=f"Ground {n:05}",
            water_depth_ft=5.0,
            layers=[],
            recorded_by=by,
        )
        for n in range(many)
    )
    # No yard has as many kinds of inspection as units.
    OwnKind.objects.bulk_create(
        OwnKind(
            submission_id=uuid.uuid4(), name=f"kind {n:05}", looks_at_hammer=True, recorded_by=by
        )
        for n in range(many // 10)
    )
