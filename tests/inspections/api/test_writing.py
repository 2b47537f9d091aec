"""Programs record inspections, tests, hours and pulls by the functions that pages call."""

from __future__ import annotations

import json
import uuid
from typing import TYPE_CHECKING, Any

import pytest
from django.utils import timezone

from fleet.hours import record_hours
from fleet.models import ApiScope, ApiWrite, HourReading, Leaf
from inspections.api.writing import ACTS
from inspections.models import Finding, Inspection
from ratings.models import BenchTest, CurrentRating, LotRating, PullRecord
from tests.all_tables import changed, everything
from tests.builders import MONDAY, Unit, rated_unit
from tests.factories import (
    DispatcherFactory,
    GaugeFactory,
    ManagerFactory,
    TapeFactory,
    YardFactory,
)
from tests.factories import TestStandFactory as StandFactory
from tests.fleet.people.bound import bound_to
from tests.inspections.api.asking import Program, program_of
from tests.inspections.field.sent import finding_sent, pads_sent, signed_in
from tests.job_builders import commit, figured_unit
from tests.ratings.proposals.test_second_person import ask_for
from tests.site.html_form import words

if TYPE_CHECKING:
    from tests.inspections.api.asking import Answer

pytestmark = pytest.mark.django_db


def inspection(unit: Unit, **changes: Any) -> dict[str, Any]:
    plain = {
        "housing": unit.housing.pk,
        "kind": "pad count",
        "seen_at": timezone.now().isoformat(),
        "pads": pads_sent(unit.housing, unit.lot, {"A1": "cracked"}),
        "travel_in": 6.0,
    }
    return plain | changes


def bench_test(unit: Unit, **changes: Any) -> dict[str, Any]:
    plain = {
        "lot": unit.lot.pk,
        "stand": StandFactory(bore_in=4.0).pk,
        "gauge": GaugeFactory(span_psi=1000.0).pk,
        "tape": TapeFactory().pk,
        "end": "blind",
        "pads_in_test": 2,
        "tape_datum_in": 10.0,
        "tested_at": timezone.now().isoformat(),
        "pads": [{"mark": "P-1", "origin": "new"}],
        "readings": [
            {"tape_in": 10.0 + stretch_in, "gauge_psi": stretch_in * 160.0 + more}
            for stretch_in, more in ((1, 0.5), (2, 0.0), (3, 0.5), (4, 0.0), (5, 0.0), (6, 0.5))
        ],
    }
    return plain | changes


def hours(unit: Unit, **changes: Any) -> dict[str, Any]:
    plain = {
        "sort": "hammer",
        "machine": unit.hammer.pk,
        "hours": 120.5,
        "read_at": timezone.now().isoformat(),
    }
    return plain | changes


def pull(commitment: Any, **changes: Any) -> dict[str, Any]:
    plain = {
        "commitment": commitment.pk,
        "pile_group": 1,
        "pile_mark": "17",
        "pulled_at": timezone.now().isoformat(),
        "outcome": "came",
        "method": "vibrated",
        "load_source": "not read",
        "watched_by": "Odd Brandt",
        "are_doubts_known": True,
    }
    return plain | changes


def told(answer: Answer) -> dict[str, list[str]]:
    """What a problem says, by field."""
    assert answer["Content-Type"] == "application/problem+json", answer.content
    found: dict[str, list[str]] = {}
    for each in answer.json()["errors"]:
        found.setdefault(each["field"], []).append(each["message"])
    return found


def test_an_inspection_is_signed_by_the_person_of_the_token_and_rates_the_unit() -> None:
    unit = rated_unit()
    before = CurrentRating.objects.get(housing=unit.housing).sequence
    program, key = program_of(unit.manager), uuid.uuid4()
    answer = program.post("inspections", inspection(unit, findings=[finding_sent()]), key)
    assert answer.status_code == 201, answer.content
    signed = Inspection.objects.get(submission_id=key)
    assert signed.recorded_by == unit.manager
    assert signed.pads.get(side="A", number=1).condition == "cracked"
    assert Finding.objects.get(inspection=signed).text == "Hose chafed at the swivel"
    assert CurrentRating.objects.get(housing=unit.housing).sequence == before + 1
    assert answer.json()["id"] == signed.pk
    assert "line pull" in answer.json()["words"]
    told_of_it = program.get(f"inspections/{signed.pk}").json()
    assert told_of_it["recorded_by"] == unit.manager.get_full_name()
    assert answer["Location"] == answer.json()["url"] == f"/api/v1/inspections/{signed.pk}"


def test_what_was_recorded_says_by_which_token_and_who_is_at_work() -> None:
    unit = rated_unit()
    program_of(unit.manager).post("hour-readings", hours(unit))
    write, reading = ApiWrite.objects.get(), HourReading.objects.latest("pk")
    assert (write.record_model, write.record_key) == ("fleet.hourreading", reading.pk)
    assert write.token.name == "Telematics of the cranes"
    leaf = Leaf.objects.get(model="fleet.hourreading", row_key=str(reading.pk))
    assert json.loads(leaf.document)["by"] == unit.manager.pk


def test_the_page_of_what_was_recorded_names_the_token() -> None:
    unit = rated_unit()
    answer = program_of(unit.manager).post("inspections", inspection(unit))
    page = words(signed_in(unit.manager).get(answer.json()["page"]))
    assert f"{unit.manager.get_full_name()} by token “Telematics of the cranes”" in page


def test_a_bench_test_drafts_a_rating_that_rates_nothing_yet() -> None:
    unit, key = rated_unit(), uuid.uuid4()
    answer = program_of(unit.manager).post("bench-tests", bench_test(unit), key)
    assert answer.status_code == 201, answer.content
    test = BenchTest.objects.get(submission_id=key)
    assert test.readings.count() == 6
    assert test.pads.get().mark == "P-1"
    draft = LotRating.objects.latest("pk")
    assert not hasattr(draft, "approval")
    assert f"Rating {draft.pk} is drafted" in answer.json()["words"]


def test_hours_of_a_hammer_are_recorded() -> None:
    unit = rated_unit()
    answer = program_of(unit.manager).post("hour-readings", hours(unit))
    assert answer.status_code == 201, answer.content
    assert HourReading.objects.get().hours == 120.5
    assert answer.json()["words"] == f"Hammer {unit.hammer}: 120.5 h is on record."


def test_a_dispatcher_s_program_records_how_a_pile_was_pulled() -> None:
    made, person = commit(figured_unit()), DispatcherFactory()
    answer = program_of(person, [ApiScope.PULLS]).post("pulls", pull(made))
    assert answer.status_code == 201, answer.content
    found = PullRecord.objects.get()
    assert (found.pile_mark, found.recorded_by, found.watched_by) == ("17", person, "Odd Brandt")


def test_the_same_request_again_is_answered_as_before_and_records_nothing() -> None:
    unit, key = rated_unit(), uuid.uuid4()
    program, sent = program_of(unit.manager), inspection(unit)
    first = program.post("inspections", sent, key)
    before = everything()
    spaced = json.dumps(dict(reversed(sent.items())), indent=3)
    again = program.post("inspections", spaced, key)
    assert (again.status_code, again.json()) == (201, first.json())
    assert again["Idempotent-Replayed"] == "true"
    assert changed(before) == set()


def test_the_same_key_with_another_request_is_refused() -> None:
    unit, key = rated_unit(), uuid.uuid4()
    program = program_of(unit.manager)
    program.post("hour-readings", hours(unit), key)
    before = everything()
    others = [
        program.post("hour-readings", hours(unit, hours=130.0), key),
        program.post("inspections", inspection(unit), key),
        program_of(ManagerFactory()).post("hour-readings", hours(unit), key),
    ]
    for answer in others:
        assert answer.status_code == 409
        assert "This key came with another request" in told(answer)["Idempotency-Key"][0]
    assert not changed(before) & {"fleet.HourReading", "inspections.Inspection"}


def test_an_id_that_a_form_used_is_no_key() -> None:
    unit, key = rated_unit(), uuid.uuid4()
    record_hours(submission_id=key, machine=unit.hammer, hours=5.0, read_at=MONDAY, by=unit.manager)
    answer = program_of(unit.manager).post("hour-readings", hours(unit), key)
    assert answer.status_code == 409
    assert "make another" in answer.json()["detail"]


@pytest.mark.parametrize("key", ["", "x", "1", "é", "0" * 5000])
def test_a_key_that_is_no_uuid_is_refused(key: str) -> None:
    unit = rated_unit()
    program = program_of(unit.manager)
    headers = program.headers | {"Idempotency-Key": key}
    sent = json.dumps(hours(unit))
    answer = program.client.post("/api/v1/hour-readings", sent, "application/json", headers=headers)
    assert answer.status_code == 400
    assert "UUID" in told(answer)["Idempotency-Key"][0]
    assert not HourReading.objects.exists()


def test_without_a_key_nothing_is_recorded() -> None:
    unit = rated_unit()
    program = program_of(unit.manager)
    answer = program.client.post(
        "/api/v1/hour-readings",
        json.dumps(hours(unit)),
        "application/json",
        headers=program.headers,
    )
    assert answer.status_code == 400
    assert told(answer) == {"Idempotency-Key": ["This is missing: give it."]}


@pytest.mark.parametrize(
    ("path", "wrong", "field", "says"),
    [
        ("inspections", {"travel_in": 99.0}, "travel_in", "“99.0” won’t do: give"),
        ("inspections", {"housing": 999}, "housing", "not on record"),
        ("inspections", {"kind": "dance"}, "kind", "dance"),
        ("inspections", {"seen_at": "2100-01-01T00:00:00Z"}, "seen_at", "in the future"),
        ("inspections", {"pads": [{"side": "A", "number": 9, "condition": "sound"}]}, "pads", "9"),
        ("bench-tests", {"lot": 999}, "lot", "not on record"),
        ("bench-tests", {"stand": 999}, "stand", "not one of the available choices"),
        ("bench-tests", {"pads_in_test": 41}, "pads_in_test", "41"),
        ("bench-tests", {"tested_at": "2100-01-01T00:00:00Z"}, "tested_at", "in the future"),
        ("bench-tests", {"tape_after_in": 9.0}, "tape_after_in", "below the tape at rest"),
        ("hour-readings", {"machine": 999}, "machine", "No hammer of this id"),
        ("hour-readings", {"hours": -1}, "hours", "-1"),
        ("hour-readings", {"read_at": "2100-01-01T00:00:00Z"}, "read_at", "in the future"),
        ("hour-readings", {"corrects": 999}, "corrects", "No reading of this id"),
    ],
)
def test_what_cannot_be_is_refused_in_the_words_of_the_page(
    path: str, wrong: dict[str, Any], field: str, says: str
) -> None:
    unit = rated_unit()
    sent = {"inspections": inspection, "bench-tests": bench_test, "hour-readings": hours}[path]
    program, body = program_of(unit.manager), sent(unit, **wrong)
    before = everything()
    answer = program.post(path, body)
    assert answer.status_code == 422, answer.content
    assert says in " ".join(told(answer)[field])
    assert changed(before) <= {"fleet.ApiTokenUse"}


def test_a_reading_that_is_wrong_is_named_by_its_place() -> None:
    unit = rated_unit()
    sent = bench_test(unit)
    sent["readings"][2]["tape_in"] = 9.0
    answer = program_of(unit.manager).post("bench-tests", sent)
    assert answer.status_code == 422
    assert told(answer)["readings.2.tape_in"]
    (error,) = answer.json()["errors"]
    assert error["given"] == 9.0


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"travel_in": "6"}, "travel_in"),
        ({"housing": "1"}, "housing"),
        ({"housing": 2**63 - 1, "surplus": 1}, "surplus"),
        ({"kind": None}, "kind"),
        ({"seen_at": "2026-03-02T09:00"}, "seen_at"),
        ({"seen_at": 1}, "seen_at"),
        ({"pads": {}}, "pads"),
        ({"pads": [{"side": "C", "number": 1, "condition": "sound"}]}, "pads.0.side"),
        ({"pads": [{"side": "A", "number": 1, "condition": "fine"}]}, "pads.0.condition"),
        ({"note": "x" * 2001}, "note"),
        ({"findings": [{"number": 1, "severity": "bad", "text": "x"}]}, "findings.0.severity"),
    ],
)
def test_what_is_not_of_the_shape_of_the_document_is_refused_by_its_path(
    wrong: dict[str, Any], field: str
) -> None:
    unit = rated_unit()
    answer = program_of(unit.manager).post("inspections", inspection(unit, **wrong))
    assert answer.status_code == 400, answer.content
    assert field in told(answer)


@pytest.mark.parametrize(
    ("text", "status", "says"),
    [
        ("[" * 50_000 + "]" * 50_000, 400, "nested deeper"),
        ('{"a":' * 50_000, 400, "nested deeper"),
        ('{"housing": ' + "9" * 5000 + "}", 400, "beyond any that is kept"),
        ('{"housing": 9223372036854775808}', 400, "beyond any that is kept"),
        ('{"hours": 1e999}', 400, "beyond any that is kept"),
        ('{"hours": NaN}', 400, "NaN is no number"),
        ('{"hours": 1, "hours": 2}', 400, "given twice"),
        ('{"kind": "\\ud800"}', 400, "half a character"),
        ('{"\\ud800": 1, "\\ud800": 2}', 400, "given twice"),
        ('{"kind": ', 400, "not JSON: line 1"),
        ("[]", 400, "Nothing was recorded"),
        ("null", 400, "Nothing was recorded"),
        ("", 400, "Nothing was recorded"),
        (" " * 3_000_000, 413, "longer than"),
    ],
)
def test_a_body_that_no_record_is_like_is_refused(text: str, status: int, says: str) -> None:
    program = program_of(ManagerFactory())
    answer = program.post("inspections", text)
    assert answer.status_code == status, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    assert says in answer.json()["detail"]


def test_a_body_that_does_not_say_it_is_json_is_refused() -> None:
    program = program_of(ManagerFactory())
    headers = program.headers | {"Idempotency-Key": str(uuid.uuid4())}
    answer = program.client.post("/api/v1/pulls", "a=1", "text/plain", headers=headers)
    assert (answer.status_code, answer.json()["status"]) == (415, 415)


def test_a_pull_that_is_doubted_is_recorded_once_it_was_read_again() -> None:
    program, made = program_of(DispatcherFactory(), [ApiScope.PULLS]), commit(figured_unit())
    sent = pull(made, are_doubts_known=False)
    answer = program.post("pulls", sent)
    assert answer.status_code == 422
    assert "are_doubts_known" in told(answer)
    assert program.post("pulls", sent | {"are_doubts_known": True}).status_code == 201


def correction(unit: Unit, program: Program) -> Answer:
    first = program.post("hour-readings", hours(unit, hours=100.0)).json()["id"]
    return program.post("hour-readings", hours(unit, hours=90.0, corrects=first))


def test_a_reading_is_put_right() -> None:
    unit = rated_unit()
    answer = correction(unit, program_of(unit.manager))
    assert answer.status_code == 201, answer.content
    wrong = HourReading.objects.latest("pk").corrects
    assert wrong is not None
    assert wrong.hours == 100.0


def test_no_program_records_alone_what_the_policy_wants_two_people_for() -> None:
    unit = rated_unit()
    ask_for(second_person_corrections=True)
    answer = correction(unit, program_of(unit.manager))
    assert answer.status_code == 409
    assert "asks for a second person" in answer.json()["detail"]
    assert [each.hours for each in HourReading.objects.all()] == [100.0]
    assert ApiWrite.objects.count() == 1


def test_a_token_acts_only_in_the_yards_its_person_is_bound_to() -> None:
    unit, made = rated_unit(), commit(figured_unit())
    program = program_of(unit.manager)
    bound_to(YardFactory(name="North Pier"), person=unit.manager)
    sent = {
        "inspections": inspection(unit),
        "bench-tests": bench_test(unit),
        "hour-readings": hours(unit),
        "pulls": pull(made),
    }
    assert set(sent) == {each.name for each in ACTS}
    before = everything()
    for path, body in sent.items():
        answer = program.post(path, body)
        assert answer.status_code == 422, (path, answer.content)
        said = " ".join(each for given in told(answer).values() for each in given)
        assert "is bound to North Pier" in said, path
    assert changed(before) <= {"fleet.Refusal", "fleet.Leaf", "fleet.ApiTokenUse"}


def test_a_token_reads_whatever_yard_its_person_is_bound_to() -> None:
    unit = rated_unit()
    program = program_of(unit.manager)
    bound_to(YardFactory(), person=unit.manager)
    assert program.get(f"units/{unit.housing.pk}").status_code == 200
