"""Whoever confirms a proposal sees all that decides its figures, beside what is on record."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import fields, replace
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.roles import who_words
from inspections.count.findings import Answer, FoundFault, Observations, PhotoTaken
from inspections.count.proposing import INSPECTION_ACT
from inspections.count.signing import Correction, PadSeen, Seen
from inspections.models import Severity
from ratings.bench.recording import BENCH_ACT, TestSetUp
from ratings.bench.tested_pads import TestedPad
from ratings.mechanics.bench import Branch, CycleReading
from ratings.mechanics.gauge import CalibrationPoint
from ratings.models import Listing, Proposal
from ratings.proof.recording import PROOF_ACT, BranchReading, ProofSetUp
from ratings.proposals.recording import details_of
from ratings.stands.recording import CHECK_ACT, GAUGE_ACT, Certificate, CheckSetUp
from tests.builders import (
    MONDAY,
    Unit,
    drafted_test,
    list_hammer,
    picture,
    proof_pull,
    proof_set_up,
    rated_unit,
    set_up,
)
from tests.factories import (
    GaugeFactory,
    LoadIndicatorFactory,
    ManagerFactory,
    ReferencePieceFactory,
    TapeFactory,
    TestStandFactory,
    ThermometerFactory,
)
from tests.ratings.proposals.test_second_person import ask_for, confirm, proposed
from tests.stand_builders import calibrate, check_stand

pytestmark = pytest.mark.django_db

Details = Callable[[Any], dict[str, str]]


def untold(plain: Any, others: dict[str, Any], told: Details) -> set[str]:
    """The fields of a dataclass whose change changes nothing that is told."""
    assert set(others) == {each.name for each in fields(plain)}
    before = told(plain)
    changed = {name: told(replace(plain, **{name: other})) for name, other in others.items()}
    return {name for name, now in changed.items() if now == before}


def test_each_field_of_a_bench_test_is_told() -> None:
    unit = rated_unit()
    corrects = unit.lot.bench_tests.get()
    readings = corrects.measured

    def told(given: TestSetUp) -> dict[str, str]:
        arguments = {"lot": unit.lot, "corrects": corrects, "set_up": given, "readings": readings}
        return dict(BENCH_ACT.details(arguments, "us"))

    others = {
        "stand": TestStandFactory(),
        "gauge": GaugeFactory(),
        "tape": TapeFactory(),
        "end": "blind",
        "pads_in_test": 7,
        "tape_datum_in": 11.000005,
        "tested_at": MONDAY + timedelta(days=1),
        "gauge_zero_psi": 3.0,
        "conditioning_cycles": 9,
        "rubber_temperature_f": 51.0,
        "thermometer": ThermometerFactory(),
        "tape_after_in": 12.25,
        "arrangement": "side by side",
        "witness": "Odd Brandt",
        "note": "Windy",
        "photo": picture(),
        "pads": (TestedPad(1, mark="N7"),),
    }
    plain = replace(set_up(tested_at=MONDAY), end="rod")
    assert untold(plain, others, told) == set()
    was = f"{corrects.pads_in_test}"
    assert told(replace(plain, pads_in_test=7))["Pads in the test"] == f"7 (on record: {was})"


def test_each_run_and_branch_of_a_bench_tests_readings_is_told() -> None:
    unit = rated_unit()
    corrects = unit.lot.bench_tests.get()

    def told(readings: list[CycleReading]) -> str:
        arguments = {
            "lot": unit.lot,
            "corrects": corrects,
            "set_up": set_up(),
            "readings": readings,
        }
        return dict(BENCH_ACT.details(arguments, "us"))["Readings"]

    assert "on record" not in told(corrects.measured)
    first, *rest = corrects.measured
    for other in (
        replace(first, run=2),
        replace(first, branch=Branch.UNLOADING),
        replace(first, gauge_psi=first.gauge_psi + 0.001),
    ):
        assert "(on record: Run 1, loading: " in told([other, *rest])


def test_each_field_of_a_proof_pull_is_told() -> None:
    unit = rated_unit()
    corrects = proof_pull(unit.housing, unit.manager).pull
    pulled = corrects.readings.all()

    def told(given: ProofSetUp) -> dict[str, str]:
        readings = [BranchReading(each.load_lbf, each.stretch_in) for each in pulled]
        arguments = {
            "housing": unit.housing,
            "corrects": corrects,
            "set_up": given,
            "readings": readings,
        }
        return dict(PROOF_ACT.details(arguments, "si"))

    others = {
        "indicator": LoadIndicatorFactory(),
        "tape": TapeFactory(),
        "pulled_at": MONDAY + timedelta(days=2),
        "tare_lbf": 21_000.0,
        "anchor": "Another",
        "is_vibrating": True,
        "are_pads_as_recorded": False,
        "weight_below_lb": 1_000.0,
        "rubber_temperature_f": 51.0,
        "witness": "Odd Brandt",
        "note": "Windy",
    }
    assert untold(proof_set_up(), others, told) == set()


def test_each_field_of_an_inspection_is_told(unit: Unit) -> None:
    last = unit.housing.inspections.get()

    def told(given: Seen) -> dict[str, str]:
        arguments = {
            "housing": unit.housing,
            "seen": given,
            "correction": Correction("Misread", last),
        }
        return dict(INSPECTION_ACT.details(arguments, "us"))

    plain = Seen(seen_at=MONDAY, pads=[])
    others = {
        "seen_at": MONDAY + timedelta(days=1),
        "pads": [PadSeen("A", 1, "cracked", unit.lot.pk)],
        "travel_in": 5.0,
        "travel_reason": "Longer rods",
        "hours": 7.0,
        "pack_hours": 8.0,
        "note": "Windy",
        "kind": "yearly",
        "weather": "rain",
        "observations": Observations(findings=[FoundFault(1, Severity.REPAIR, "Bent guard")]),
        "clock_words": "By the phone's clock an hour later",
        "sound_again_reason": "Looked at each",
        "second_look_by": ManagerFactory().pk,
    }
    assert untold(plain, others, told) == set()
    assert told(replace(plain, travel_in=5.0))["Travel"] == "5 in (on record: 6 in)"
    for more in (
        Observations(answers=[Answer("hoses", "hammer", "Hoses tight", "not applicable", "none")]),
        Observations(photos=[PhotoTaken(uuid.uuid4(), "The guard")]),
    ):
        assert told(replace(plain, observations=more)) != told(plain)


def test_each_field_of_a_reference_check_is_told() -> None:
    stand = TestStandFactory()
    corrects = check_stand(stand, ManagerFactory())

    def told(given: CheckSetUp) -> dict[str, str]:
        arguments = {"stand": stand, "corrects": corrects, "set_up": given, "readings": []}
        return dict(CHECK_ACT.details(arguments, "us"))

    plain = CheckSetUp(
        corrects.gauge, corrects.tape, corrects.piece, "blind", 10.0, corrects.checked_at
    )
    others = {
        "gauge": GaugeFactory(),
        "tape": TapeFactory(),
        "piece": ReferencePieceFactory(),
        "end": "rod",
        "tape_datum_in": 10.25,
        "checked_at": MONDAY + timedelta(days=1),
        "gauge_zero_psi": 2.0,
        "temperature_f": 51.0,
        "note": "Windy",
    }
    assert untold(plain, others, told) == set()


def test_each_field_of_a_gauges_certificate_is_told() -> None:
    gauge = GaugeFactory()
    corrects = calibrate(gauge, ManagerFactory())

    def told(given: Certificate) -> dict[str, str]:
        arguments = {"gauge": gauge, "corrects": corrects, "certificate": given}
        return dict(GAUGE_ACT.details(arguments, "us"))

    others = {
        "certificate_number": "C-1",
        "calibrated_on": date(2026, 1, 13),
        "due_on": date(2027, 1, 13),
        "points": (CalibrationPoint(100.0, 101.0),),
        "expanded_psi": 4.0,
        "coverage_factor": 2.5,
        "laboratory": "Bay Metrology",
        "serial_number": "7",
        "no_found_reason": "Lost",
        "note": "By post",
    }
    plain = Certificate("C-0", date(2026, 1, 12), date(2027, 1, 12))
    assert untold(plain, others, told) == set()


@pytest.fixture
def unit() -> Unit:
    return rated_unit()


def test_an_answered_proposal_is_told_as_it_was_proposed(
    unit: Unit, manager_client: Client
) -> None:
    ask_for(second_person_listings=True)
    proposal = proposed(lambda: list_hammer(unit.hammer, unit.manager, 60_000), unit.manager)
    second = ManagerFactory()
    confirm(proposal, second)
    later = proposed(lambda: list_hammer(unit.hammer, unit.manager, 61_000), unit.manager)
    confirm(later, ManagerFactory())
    told = dict(manager_client.get(reverse("proposal", args=[proposal.pk])).context["details"])
    # Not 30.5 tons, which stands now.
    assert told["In force today"].startswith("20.0 tons")
    page = manager_client.get(reverse("new-listing", args=[unit.hammer.pk])).content.decode()
    assert f"confirmed by {who_words(second)}" in page
    assert Listing.objects.count() == 3


def test_who_confirmed_a_bench_test_stands_on_its_page(unit: Unit, manager_client: Client) -> None:
    ask_for(second_person_corrections=True)
    wrong = unit.lot.bench_tests.get()
    proposal = proposed(
        lambda: drafted_test(unit.lot, unit.manager, rate_lbf_in=900.0, corrects=wrong),
        unit.manager,
    )
    second = ManagerFactory()
    answer = confirm(proposal, second)
    page = manager_client.get(reverse("bench-test", args=[answer.record])).content.decode()
    assert f"(confirmed by {who_words(second)})" in page


def test_one_proposed_before_its_words_were_kept_is_told_by_todays_records(unit: Unit) -> None:
    ask_for(second_person_listings=True)
    kept = proposed(lambda: list_hammer(unit.hammer, unit.manager, 60_000), unit.manager)
    same = ("what", "title", "about", "payload", "facts", "why", "recorded_by")
    old = Proposal.objects.create(
        submission_id=uuid.uuid4(), **{name: getattr(kept, name) for name in same}
    )
    assert old.details == {}
    assert details_of(old, "si") == details_of(kept, "si")
    assert details_of(old, "si") != details_of(old, "us")
