"""What a unit holds comes out of the few facts that decide as it does of all there are."""

from __future__ import annotations

import random
import uuid
from collections.abc import Sequence
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models import PadLot, SuppressorHousing
from inspections.count.newest_facts import Fact, Key, deciding_facts, facts, states
from inspections.models import Inspection, PadCount, PadReplacement, ReplacedPad, SecondLook
from tests.builders import MONDAY
from tests.factories import HousingFactory, ManagerFactory, PadLotFactory

pytestmark = pytest.mark.django_db
LIVES = 120
CONDITIONS = ["sound"] * 12 + ["cracked", "debonded", "swollen", "missing"]


def some_life(drawn: random.Random, by: User, lots: Sequence[PadLot]) -> SuppressorHousing:
    """A housing that was counted, corrected, looked at again and repaired in no order at all."""
    housing = HousingFactory(positions_per_side=2)
    recorded: dict[str, Any] = {"recorded_by": by}
    moments = [MONDAY + timedelta(days=drawn.randrange(12)) for _ in range(drawn.randrange(1, 16))]
    faults = drawn.choice([[*CONDITIONS], ["sound"], ["sound"] * 40 + ["cracked"]])
    counted: list[Inspection] = []
    for seen_at in moments:
        recorded |= {
            "submission_id": uuid.uuid4(),
            "recorded_at": MONDAY + timedelta(days=20 + drawn.randrange(4)),
        }
        if drawn.random() < 0.12:
            repair = PadReplacement.objects.create(housing=housing, fitted_at=seen_at, **recorded)
            side, number = drawn.choice(housing.position_keys)
            ReplacedPad.objects.create(
                replacement=repair, side=side, number=number, lot=drawn.choice(lots)
            )
            continue
        open_ones = [each for each in counted if not hasattr(each, "corrected_by")]
        corrects = drawn.choice(open_ones) if open_ones and drawn.random() < 0.2 else None
        inspection = Inspection.objects.create(
            housing=housing,
            kind="pad count",
            seen_at=seen_at,
            corrects=corrects,
            correction_reason="Misread" if corrects else "",
            is_before_second_looks=drawn.random() < 0.3,
            **recorded,
        )
        places = list(housing.position_keys) if drawn.random() < 0.85 else []
        if drawn.random() < 0.1:
            places = places[1:]
        for side, number in places:
            condition = drawn.choice(faults)
            lot = None if condition == "missing" else drawn.choice(lots)
            PadCount.objects.create(
                inspection=inspection, side=side, number=number, condition=condition, lot=lot
            )
        if drawn.random() < 0.1:
            SecondLook.objects.create(
                inspection=inspection,
                is_agreed=drawn.random() < 0.5,
                reason="Looked",
                recorded_by=by,
                submission_id=uuid.uuid4(),
            )
        counted.append(inspection)
    return housing


def without(history: Sequence[Fact], inspection: int | None) -> list[Fact]:
    return [each for each in history if inspection is None or each.inspection != inspection]


def test_they_come_to_what_all_facts_come_to_with_the_newest_and_without() -> None:
    by, lots = ManagerFactory(), [PadLotFactory(), PadLotFactory()]
    drawn = random.Random(20_260_301)
    fewer = 0
    for _ in range(LIVES):
        housing = some_life(drawn, by, lots)
        positions: list[Key] = [(side, number) for side, number in housing.position_keys]
        every, deciding = facts(housing), deciding_facts(housing, set(positions))
        fewer += len(deciding) < len(every)
        for left_out in (None, *(each.inspection for each in every if not each.taken_back)):
            assert states(without(deciding, left_out)) == states(without(every, left_out))
    assert fewer > LIVES / 10


def test_as_many_queries_and_facts_of_a_long_life_as_of_a_short_one() -> None:
    by, lot, looked = ManagerFactory(), PadLotFactory(), {}
    for many in (5, 60):
        housing = HousingFactory(positions_per_side=2)
        for number in range(many):
            inspection = Inspection.objects.create(
                submission_id=uuid.uuid4(),
                housing=housing,
                kind="pad count",
                seen_at=MONDAY + timedelta(hours=number),
                recorded_by=by,
            )
            PadCount.objects.bulk_create(
                PadCount(inspection=inspection, side=side, number=place, condition="sound", lot=lot)
                for side, place in housing.position_keys
            )
        with CaptureQueriesContext(connection) as captured:
            found = deciding_facts(housing, set(housing.position_keys))
        looked[many] = (len(captured), len(found))
    assert looked[5] == looked[60]
    assert looked[60][1] == 2
