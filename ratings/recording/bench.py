"""Put a bench test on record with its instruments as they are that day, and draft a rating."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from fleet import clock
from fleet.locking import lock_all_housings
from fleet.models import PadLot, PadPosition, SuppressorHousing
from ratings.ledger.posting import Cause, post
from ratings.mechanics.bench import CycleReading
from ratings.models import BenchReading, BenchTest, Gauge, LotRating, Tape, TestStand
from ratings.recording.draft import draft_rating
from ratings.reduction import reduce_test


@dataclass(frozen=True)
class TestSetUp:
    """How, with what and before whom pads were tested."""

    __test__ = False  # How a test was set up, not a test for pytest to collect.

    stand: TestStand
    gauge: Gauge
    tape: Tape
    end: str
    pads_in_test: int
    tape_datum_in: float
    tested_at: datetime
    gauge_zero_psi: float = 0.0
    conditioning_cycles: int = 0
    rubber_temperature_f: float | None = None
    tape_after_in: float | None = None
    arrangement: str = ""
    witness: str = ""
    note: str = ""
    photo: Any = None


@dataclass(frozen=True)
class RecordedTest:
    """A bench test on record, and the draft it led to; none where its gauge was out of date."""

    test: BenchTest
    draft: LotRating | None


@transaction.atomic
def record_bench_test(
    *,
    submission_id: uuid.UUID,
    lot: PadLot,
    set_up: TestSetUp,
    readings: Sequence[CycleReading],
    by: User,
    corrects: BenchTest | None = None,
) -> RecordedTest:
    """Record a bench test and draft the rating its lot's tests come to together.

    A second copy of a submission changes nothing. Raises ValueError where the readings can't
    be reduced; then nothing is kept.
    """
    # A draft changes no unit, but two tests at once must not draft without each other.
    housings = lock_all_housings()
    known = BenchTest.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return RecordedTest(known, known.ratings.order_by("pk").first())
    test = unsaved_test(lot, set_up)
    test.submission_id, test.recorded_by, test.corrects = submission_id, by, corrects
    reduce_test(test, readings, linearity_limit_pct=100.0)
    test.save(force_insert=True)
    BenchReading.objects.bulk_create(
        BenchReading(
            test=test,
            number=number,
            run=each.run,
            branch=each.branch.value,
            tape_in=each.tape_in,
            gauge_psi=each.gauge_psi,
        )
        for number, each in enumerate(readings, start=1)
    )
    draft = draft_rating(lot, by)
    if corrects is not None:
        _post_doubt(housings, test, by)
    return RecordedTest(test, draft)


def _post_doubt(housings: list[SuppressorHousing], test: BenchTest, by: User) -> None:
    """The rating in use may rest on what was corrected: every unit that holds the lot says so."""
    holders = set(PadPosition.objects.filter(lot=test.lot).values_list("housing_id", flat=True))
    words = f"Bench test {test.pk} corrects bench test {test.corrects_id} of lot {test.lot}"
    post(
        [each for each in housings if each.pk in holders],
        cause=Cause(Cause.RATE_STALE, words),
        occurred_at=clock.now(),
        by=by,
    )


def unsaved_test(lot: PadLot, set_up: TestSetUp) -> BenchTest:
    """Return a test of this set-up with its instruments copied as they are now."""
    stand, gauge, tape = set_up.stand, set_up.gauge, set_up.tape
    return BenchTest(
        lot=lot,
        stand=stand,
        gauge=gauge,
        tape=tape,
        bore_in=stand.bore_in,
        rod_in=stand.rod_in,
        bore_tolerance_in=stand.bore_tolerance_in,
        rod_tolerance_in=stand.rod_tolerance_in,
        gauge_span_psi=gauge.span_psi,
        gauge_grade=gauge.grade,
        gauge_resolution_psi=gauge.resolution_psi,
        gauge_certificate=gauge.certificate_number,
        gauge_calibrated_on=gauge.calibrated_on,
        gauge_due_on=gauge.due_on,
        tape_resolution_in=tape.resolution_in,
        end=set_up.end,
        pads_in_test=set_up.pads_in_test,
        tape_datum_in=set_up.tape_datum_in,
        gauge_zero_psi=set_up.gauge_zero_psi,
        tested_at=set_up.tested_at,
        conditioning_cycles=set_up.conditioning_cycles,
        rubber_temperature_f=set_up.rubber_temperature_f,
        tape_after_in=set_up.tape_after_in,
        arrangement=set_up.arrangement,
        witness=set_up.witness,
        note=set_up.note,
        photo=set_up.photo,
    )
