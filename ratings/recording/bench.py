"""Put a bench test on record: reduce it, rate the lot, re-rate every housing that holds it."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from fleet.locking import lock_all_housings
from fleet.models import PadLot, PadPosition
from ratings.ledger.posting import Cause, entries_caused_by, post
from ratings.mechanics.bench import BenchReading as MeasuredReading
from ratings.mechanics.bench import BenchSetUp, ReducedReading, reduce_readings
from ratings.mechanics.loadcurve import MonotoneCurve, monotone_curve
from ratings.mechanics.springrate import SpringRate, fit_rate
from ratings.models import BenchReading, BenchTest, LedgerEntry, LotRating, TestStand

# No pad carries this. Beyond it eighty pads would pull more than the mechanics take.
MOST_FORCE_LBF = 1_000_000.0
# A stretch that takes less is no test of a pad, and its figures are too small to draw.
LEAST_FORCE_LBF = 1.0


@dataclass(frozen=True)
class Reduction:
    """What readings come to: force per pad at each stretch, the fit, and the load curve."""

    readings: tuple[ReducedReading, ...]
    fit: SpringRate
    curve: MonotoneCurve


def reduce_test(
    set_up: BenchSetUp, readings: Sequence[MeasuredReading], linearity_limit_pct: float
) -> Reduction:
    """Reduce a test's readings. Raises ValueError in the tester's words where they can't be."""
    reduced = reduce_readings(set_up, readings)
    stretch_in = [reading.stretch_in for reading in reduced]
    force_lbf = [reading.force_lbf for reading in reduced]
    if force_lbf and max(force_lbf) > MOST_FORCE_LBF:
        raise ValueError(
            f"force_lbf is {max(force_lbf):,.0f} on one pad: give readings that come to no more "
            f"than {MOST_FORCE_LBF:,.0f}, or mend the stand's bore"
        )
    if force_lbf and 0.0 < max(force_lbf) < LEAST_FORCE_LBF:
        raise ValueError(
            f"force_lbf is {max(force_lbf):g} at the most on one pad: give readings that come "
            f"to {LEAST_FORCE_LBF:g} or more, or mend the gauge's zero"
        )
    return Reduction(
        readings=reduced,
        fit=fit_rate(stretch_in, force_lbf, linearity_limit_pct),
        curve=monotone_curve(stretch_in, force_lbf),
    )


@dataclass(frozen=True)
class RatedLot:
    """A bench test on record, and the ledger entries it caused."""

    test: BenchTest
    entries: list[LedgerEntry]


@transaction.atomic
def record_bench_test(
    *,
    submission_id: uuid.UUID,
    lot: PadLot,
    stand: TestStand,
    end: str,
    pads_in_test: int,
    tape_datum_in: float,
    gauge_zero_psi: float,
    tested_at: datetime,
    readings: Sequence[MeasuredReading],
    by: User,
    note: str = "",
    corrects: BenchTest | None = None,
) -> RatedLot:
    """Record a bench test, rate its lot, and re-rate every housing that holds the lot.

    A second copy of a submission changes nothing. Raises ValueError where the readings can't
    be reduced; then nothing is kept.
    """
    housings = lock_all_housings()
    known = BenchTest.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return RatedLot(known, [])
    test = BenchTest(
        submission_id=submission_id,
        lot=lot,
        stand=stand,
        bore_in=stand.bore_in,
        rod_in=stand.rod_in,
        end=end,
        pads_in_test=pads_in_test,
        tape_datum_in=tape_datum_in,
        gauge_zero_psi=gauge_zero_psi,
        tested_at=tested_at,
        recorded_by=by,
        note=note,
        corrects=corrects,
    )
    # Whether the lot counts as linear is the policy's to say whenever a unit is rated, so
    # the limit given here marks nothing that is stored.
    reduction = reduce_test(test.set_up, readings, linearity_limit_pct=100.0)
    test.save(force_insert=True)
    BenchReading.objects.bulk_create(
        BenchReading(test=test, number=number, tape_in=each.tape_in, gauge_psi=each.gauge_psi)
        for number, each in enumerate(readings, start=1)
    )
    _rate_lot(test, reduction)
    lots = {lot.pk} | ({corrects.lot_id} if corrects else set())
    holders = set(PadPosition.objects.filter(lot__in=lots).values_list("housing_id", flat=True))
    entries = post(
        [housing for housing in housings if housing.pk in holders],
        cause=_cause(test),
        occurred_at=tested_at,
        by=by,
        corrects=entries_caused_by(Cause.LOT_RATED, corrects.pk, holders) if corrects else None,
    )
    return RatedLot(test, entries)


def _rate_lot(test: BenchTest, reduction: Reduction) -> LotRating:
    fit = reduction.fit
    return LotRating.objects.create(
        lot=test.lot,
        test=test,
        rate_lbf_in=fit.rate_lbf_in,
        standard_error_lbf_in=fit.standard_error_lbf_in,
        degrees_of_freedom=fit.degrees_of_freedom,
        residual_sd_lbf=fit.residual_sd_lbf,
        r_squared=fit.r_squared,
        linearity_error_pct=fit.linearity_error_pct,
        tested_stretch_in=fit.tested_stretch_in,
        curve=[
            [knot.stretch_in, knot.force_lbf, knot.slope_lbf_in] for knot in reduction.curve.knots
        ],
    )


def _cause(test: BenchTest) -> Cause:
    words = f"Bench test {test.pk} rated lot {test.lot}"
    if test.corrects is not None:
        words += f" and corrects bench test {test.corrects.pk}"
    return Cause(Cause.LOT_RATED, words, test.pk)
