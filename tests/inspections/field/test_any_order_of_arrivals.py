from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import transaction
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.models import OutOfService, PadPosition, SuppressorHousing
from inspections.models import Finding, Inspection
from ratings.models import CurrentRating
from tests.builders import Unit, rated_unit
from tests.inspections.field.sent import finding_sent, pads_sent, payload, send, signed_in

pytestmark = pytest.mark.django_db
MANY = 4


def inspections(unit: Unit) -> list[dict[str, Any]]:
    """Four inspections of four days: two counts, a travel taped alone, and a grave finding."""
    now = timezone.now()
    days = [(now - timedelta(days=MANY - number)).isoformat() for number in range(MANY)]
    found = finding_sent(severity="stop", text="Eye cracked")
    cracked = pads_sent(unit.housing, unit.lot, {"A1": "cracked", "B3": "missing"})
    return [
        payload(unit, seen_at=days[0], travel_in=5.5),
        payload(unit, seen_at=days[1], pads=cracked, travel_in=None),
        payload(unit, seen_at=days[2], pads=[], travel_in=4.75),
        payload(unit, seen_at=days[3], pads=[], travel_in=None, findings=[found, found | {
            "number": 2, "severity": "note", "text": "Paint gone"}]),
    ]  # fmt: skip


def state(housing: SuppressorHousing) -> dict[str, Any]:
    """All that the arrivals left, but for when they came."""
    head = CurrentRating.objects.select_related("head").get(housing=housing).head
    return {
        "pads": list(
            PadPosition.objects.filter(housing=housing).values_list(
                "side", "number", "condition", "lot", "seen_at"
            )
        ),
        "travel": SuppressorHousing.objects.values_list("travel_in", "travel_seen_at").get(
            pk=housing.pk
        ),
        "inputs": head.inputs,
        "results": head.results,
        "inspections": sorted(Inspection.objects.values_list("submission_id", "seen_at")),
        "findings": sorted(Finding.objects.values_list("text", "severity")),
        "out": list(OutOfService.objects.values_list("since", "reason", "released_at")),
    }


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(arrivals=st.lists(st.integers(0, MANY - 1), max_size=6), order=st.permutations(range(MANY)))
def test_any_order_and_repetition_of_arrivals_ends_in_the_same_state(
    arrivals: list[int], order: list[int]
) -> None:
    with transaction.atomic():
        unit = rated_unit()
        sent, client = inspections(unit), signed_in(unit.manager)
        ends = []
        # In order and once; then in any order and as often as it likes.
        for coming in (range(MANY), [*arrivals, *order]):
            with transaction.atomic():
                for number in coming:
                    assert send(client, sent[number]).status_code in (200, 201)
                ends.append(state(unit.housing))
                transaction.set_rollback(True)
        assert ends[0] == ends[1]
        transaction.set_rollback(True)


def test_the_state_compared_holds_the_figures() -> None:
    unit = rated_unit()
    client = signed_in(unit.manager)
    for sent in inspections(unit):
        send(client, sent)
    held = state(unit.housing)
    assert held["results"]["sound_pads"] == 6
    assert held["results"]["usable_travel_in"] == 4.75
    assert held["findings"][0] == ("Eye cracked", "stop")
