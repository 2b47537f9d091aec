"""Stands that are kept honest: certificates of gauges and checks of reference pieces."""

from __future__ import annotations

import math
import uuid
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User

from ratings.mechanics.bench import CycleReading
from ratings.mechanics.gauge import CalibrationPoint
from ratings.models import Gauge, GaugeCalibration, ReferenceCheck, ReferencePiece, TestStand
from ratings.stands.recording import (
    Certificate,
    CheckSetUp,
    record_gauge_calibration,
    record_reference_check,
)
from tests.builders import MONDAY
from tests.factories import GaugeFactory, ReferencePieceFactory, TapeFactory

# As found and as left to a hair what was applied, on a gauge of 2,000 psi.
RIGHT = ((0.0, 0.0, None), (1000.0, 1002.0, None), (2000.0, 2003.0, None))
# Grade 2A of 2,000 psi allows 10 psi; found 24 too high in the middle, and put right.
OFF = ((0.0, 0.0, 0.0), (1000.0, 1024.0, 1001.0), (2000.0, 2012.0, 2002.0))


def calibrate(
    gauge: Gauge,
    by: User,
    *,
    on: date = date(2026, 1, 12),
    points: tuple[tuple[float, float | None, float | None], ...] = RIGHT,
    corrects: GaugeCalibration | None = None,
    submission_id: uuid.UUID | None = None,
    **more: Any,
) -> GaugeCalibration:
    """Record a certificate of a gauge, good for a year."""
    given: dict[str, Any] = {
        "certificate_number": f"C-{uuid.uuid4().hex[:8]}",
        "calibrated_on": on,
        "due_on": on.replace(year=on.year + 1),
        "points": tuple(CalibrationPoint(*each) for each in points),
        "expanded_psi": 3.0 if points else None,
        "coverage_factor": 2.0 if points else None,
    }
    if not any(found is not None for _, found, _ in points):
        given["no_found_reason"] = "The laboratory gave none."
    return record_gauge_calibration(
        submission_id=submission_id or uuid.uuid4(),
        gauge=gauge,
        certificate=Certificate(**given | more),
        by=by,
        corrects=corrects,
    )


def check_stand(
    stand: TestStand,
    by: User,
    *,
    at: datetime = MONDAY,
    rate_lbf_in: float = 500.0,
    piece: ReferencePiece | None = None,
    gauge: Gauge | None = None,
    corrects: ReferenceCheck | None = None,
    submission_id: uuid.UUID | None = None,
    **more: Any,
) -> ReferenceCheck:
    """Pull a reference piece on a stand: four readings that give this rate."""
    per_inch_psi = rate_lbf_in / (math.pi / 4 * stand.bore_in**2)
    given: dict[str, Any] = {
        "gauge": gauge or GaugeFactory(yard=stand.yard),
        "tape": more.pop("tape", None) or TapeFactory(yard=stand.yard),
        "piece": piece or ReferencePieceFactory(yard=stand.yard),
        "end": "blind",
        "tape_datum_in": 10.0,
        "checked_at": at,
    }
    return record_reference_check(
        submission_id=submission_id or uuid.uuid4(),
        stand=stand,
        set_up=CheckSetUp(**given | more),
        readings=[CycleReading(10.0 + x, per_inch_psi * x) for x in (1.0, 2.0, 3.0, 4.0)],
        by=by,
        corrects=corrects,
    )
