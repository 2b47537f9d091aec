"""Lots tested on a stand with known instruments, for the certificate to be printed of."""

from __future__ import annotations

import math
import uuid
from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import Any

from fleet.models import PadLot
from ratings.bench.recording import TestSetUp, record_bench_test
from ratings.lots.recording import approve_rating
from ratings.mechanics.bench import Branch, CycleReading
from ratings.models import Gauge, LotRating, Tape, TestStand
from tests.factories import ManagerFactory, PadLotFactory, TestStandFactory, UserFactory

WEDNESDAY = datetime(2026, 3, 4, 15, 0, tzinfo=UTC)
RING_IN2 = math.pi / 4 * (4.0**2 - 2.0**2)
# Scatter of the readings, psi, in the order of rising stretch.
SCATTER_PSI = (3.0, -2.0, 4.0, -3.0, 2.0, -1.0)
STRETCHES_IN = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0)


def lot(**more: Any) -> PadLot:
    plain = {
        "supplier": "Northfield Rubber Works",
        "hardness_shore_a": 50.0,
        "bonded_area_in2": 22.0,
        "rubber_thickness_in": 2.0,
    }
    return PadLotFactory(**plain | more)


def set_up(stand: TestStand | None = None, **more: Any) -> TestSetUp:
    """Two pads on the rod end of a 4 in bore with a 2 in rod."""
    bench = stand or TestStandFactory(rod_in=2.0)
    number = Gauge.objects.count() + 1
    gauge = Gauge.objects.create(
        yard=bench.yard,
        mark=f"PG-{number}",
        span_psi=3000.0,
        grade="2A",
        resolution_psi=5.0,
        certificate_number=f"CAL-77{number}",
        calibrated_on=date(2026, 1, 5),
        due_on=date(2027, 1, 5),
    )
    plain: dict[str, Any] = {
        "gauge": gauge,
        "tape": Tape.objects.create(yard=bench.yard, mark=f"TP-{number}", resolution_in=0.0625),
        "end": "rod",
        "pads_in_test": 2,
        "tape_datum_in": 10.0,
        "tested_at": WEDNESDAY,
        "gauge_zero_psi": 5.0,
        "conditioning_cycles": 3,
        "rubber_temperature_f": 68.0,
        "tape_after_in": 10.0625,
        "arrangement": "two side by side, bonded to three plates",
        "witness": "Sam Doe",
    }
    return TestSetUp(stand=bench, **plain | more)


def readings(
    given: TestSetUp,
    forces_lbf: Sequence[float],
    scatter_psi: Sequence[float] = SCATTER_PSI,
    gap_psi: float = 0.0,
) -> list[CycleReading]:
    """Loading readings of these forces per pad, and unloading ones a gap below if there is any."""
    area = RING_IN2 if given.end == "rod" else math.pi / 4 * given.stand.bore_in**2
    pressures = [
        round(given.gauge_zero_psi + force * given.pads_in_test / area + off)
        for force, off in zip(forces_lbf, scatter_psi, strict=False)
    ]
    places = list(zip(STRETCHES_IN, pressures, strict=False))
    datum = given.tape_datum_in
    up = [CycleReading(datum + x, float(p)) for x, p in places]
    down = [
        CycleReading(datum + x, float(p - gap_psi), 1, Branch.UNLOADING)
        for x, p in reversed(places)
    ]
    return up + (down if gap_psi else [])


def draft(
    of: PadLot | None = None,
    rate_lbf_in: float = 1000.0,
    forces_lbf: Sequence[float] | None = None,
    gap_psi: float = 0.0,
    scatter_psi: Sequence[float] = SCATTER_PSI,
    **more: Any,
) -> LotRating:
    """Test a lot and return the rating drafted from all its tests."""
    given = set_up(**more)
    forces = forces_lbf or [rate_lbf_in * x for x in STRETCHES_IN]
    recorded = record_bench_test(
        is_read_again=True,
        read_again_reason="Read twice",
        submission_id=uuid.uuid4(),
        lot=of or lot(),
        set_up=given,
        readings=readings(given, forces, scatter_psi, gap_psi),
        by=UserFactory(first_name="Robin", last_name="Tester"),
    )
    assert recorded.draft is not None
    return recorded.draft


def approved(rating: LotRating) -> LotRating:
    """Have a second person approve a draft."""
    by = ManagerFactory(first_name="Alex", last_name="Second")
    approve_rating(submission_id=uuid.uuid4(), rating=rating, by=by, has_read_doubts=True)
    return LotRating.objects.get(pk=rating.pk)
