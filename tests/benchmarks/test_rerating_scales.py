"""How re-rating grows with the yard. It prints ratios and asserts no time: machines differ."""

from __future__ import annotations

import time
import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models import PadLot
from ratings.models import CurrentRating
from tests.builders import MONDAY, bench_test, count
from tests.factories import HousingFactory, ManagerFactory, PadLotFactory
from tests.factories import TestStandFactory as StandFactory

pytestmark = pytest.mark.django_db
FEW, MANY = 10, 40


def timed(lot: PadLot, day: int) -> tuple[float, int]:
    """Seconds and queries that a re-rating of the lot takes."""
    stand, manager = StandFactory(), ManagerFactory()
    with CaptureQueriesContext(connection) as captured:
        start = time.perf_counter()
        rated = bench_test(
            lot, manager, rate_lbf_in=1000.0 + day, at=MONDAY + timedelta(days=day), stand=stand
        )
        seconds = time.perf_counter() - start
    assert len(rated.entries) == CurrentRating.objects.count()
    return seconds, len(captured)


def test_re_rating_forty_housings_against_ten(capsys: pytest.CaptureFixture[str]) -> None:
    lot, manager = PadLotFactory(mark=f"LOT-{uuid.uuid4().hex[:8]}"), ManagerFactory()
    bench_test(lot, manager)
    measured: dict[int, tuple[float, int]] = {}
    held = 0
    for day, number in enumerate((FEW, MANY), start=1):
        for _ in range(number - held):
            count(HousingFactory(positions_per_side=12), manager, lot)
        held = number
        measured[number] = timed(lot, day)
    (few, few_queries), (many, many_queries) = measured[FEW], measured[MANY]
    with capsys.disabled():
        print(
            f"\nre-rating {MANY} housings of 24 pads takes {many / few:.1f} times as long as {FEW} "
            f"({1000 * many / MANY:.1f} ms each), {many_queries} queries against {few_queries}"
        )
    # Each housing adds its own entry, the entry's leaf in the journal and its own head, and nothing
    # that grows with the yard; the test of the lot that was made in between is read as well.
    assert many_queries - few_queries <= 3 * (MANY - FEW) + 1
