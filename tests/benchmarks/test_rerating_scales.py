"""How many queries re-rating takes as the yard grows; how long is one of the benchmarks."""

from __future__ import annotations

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


def queries_of_rating_again(lot: PadLot, day: int) -> int:
    """Return how many queries a re-rating of the lot takes."""
    stand, manager = StandFactory(), ManagerFactory()
    with CaptureQueriesContext(connection) as captured:
        rated = bench_test(
            lot, manager, rate_lbf_in=1000.0 + day, at=MONDAY + timedelta(days=day), stand=stand
        )
    assert len(rated.entries) == CurrentRating.objects.count()
    return len(captured)


def test_re_rating_forty_housings_asks_no_more_of_each_than_ten() -> None:
    lot, manager = PadLotFactory(mark=f"LOT-{uuid.uuid4().hex[:8]}"), ManagerFactory()
    bench_test(lot, manager)
    queries: dict[int, int] = {}
    held = 0
    for day, number in enumerate((FEW, MANY), start=1):
        for _ in range(number - held):
            count(HousingFactory(positions_per_side=12), manager, lot)
        held = number
        queries[number] = queries_of_rating_again(lot, day)
    # Each housing adds its own entry, the entry's leaf in the journal and its own head, and nothing
    # that grows with the yard; the test of the lot that was made in between is read as well.
    assert queries[MANY] - queries[FEW] <= 3 * (MANY - FEW) + 1
