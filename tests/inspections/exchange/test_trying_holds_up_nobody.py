"""While a register is only tried, others sign."""

from __future__ import annotations

import threading
import uuid
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any
from unittest.mock import patch

import pytest
from django.db import connection, connections
from django.utils import timezone

from inspections.count.signing import Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.exchange import incoming
from inspections.exchange.acts import put_on_record
from inspections.models import Inspection
from tests.builders import Unit, pads, rated_unit
from tests.inspections.exchange.test_many_rows import row_of

pytestmark = pytest.mark.django_db(transaction=True)
# Whoever signs waits less for the disk; whoever waited for the trial would wait for ever.
LONGEST_SECONDS = 15.0


def test_an_inspection_is_signed_while_counts_are_being_tried() -> None:
    tried, other = rated_unit(), rated_unit()
    # On PostgreSQL the housings that are tried wait, and no other; on SQLite none does.
    signed = tried if connection.vendor == "sqlite" else other
    is_amid, may_go_on = threading.Event(), threading.Event()

    def recorded_then_held(*given: Any) -> str:
        outcome = put_on_record(*given)
        is_amid.set()
        assert may_go_on.wait(4 * LONGEST_SECONDS)
        return outcome

    rows = [row_of(tried.housing.mark, 1, 1)]
    with (
        patch.object(incoming, "put_on_record", recorded_then_held),
        ThreadPoolExecutor(2) as pool,
    ):
        trial = pool.submit(_alone, lambda: incoming.try_register(rows, tried.manager))
        try:
            assert is_amid.wait(LONGEST_SECONDS)
            pool.submit(_alone, lambda: _sign(signed)).result(LONGEST_SECONDS)
        finally:
            may_go_on.set()
        assert trial.result().news == 1
    # What was signed stands, what was tried does not.
    assert Inspection.objects.filter(housing=signed.housing).count() == 2
    assert Inspection.objects.count() == 3


def _alone(act: Any) -> Any:
    try:
        return act()
    finally:
        connections.close_all()


def _sign(unit: Unit) -> None:
    seen = Seen(timezone.now() - timedelta(minutes=1), pads(unit.housing, unit.lot), travel_in=6.0)
    sign_inspection(
        housing=unit.housing, submission=Submission(uuid.uuid4()), seen=seen, by=unit.manager
    )
