"""Programs read every record, page by page, and each by itself."""

from __future__ import annotations

import json
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core import signing

from fleet.journal.scope import HASHED, journaled_models
from fleet.models import PadLot
from fleet.outages import take_out_of_service
from inspections.api.resources import NOT_READ, RESOURCES
from ratings.models import LedgerEntry, LotRating
from tests.builders import MONDAY, Unit, count, drafted_test, rated_unit
from tests.factories import AuditorFactory, ManagerFactory, YardFactory
from tests.inspections.api.asking import Program, program_of
from tests.job_builders import commit, figured_unit, pull_done
from tests.ratings.rerating.made import made_rerating

pytestmark = pytest.mark.django_db


@pytest.fixture
def program() -> Program:
    return program_of(AuditorFactory())


def test_whatever_the_journal_keeps_is_read_or_says_why_not() -> None:
    read = {each.model._meta.label_lower for each in RESOURCES}
    with_others = {
        child.related_model._meta.label_lower  # type: ignore[union-attr]
        for each in RESOURCES
        for child in map(each.model._meta.get_field, each.of_it)
    }
    kept = {model._meta.label_lower for model in journaled_models()}
    assert kept - read - with_others == set(NOT_READ)


def test_no_secret_is_told() -> None:
    for each in RESOURCES:
        told = set(each.schema.model_fields)
        assert not told & HASHED.get(each.model._meta.label_lower, frozenset()), each.name
    person = next(each for each in RESOURCES if each.name == "people")
    assert set(person.schema.model_fields) == {"id", "is_active", "name", "role"}


def test_every_list_and_every_record_is_read_by_an_auditor(program: Program) -> None:
    drafted_test(rated_unit().lot, ManagerFactory())
    pull_done(commit(figured_unit()))
    filled = set()
    for each in RESOURCES:
        answer = program.get(each.name)
        assert answer.status_code == 200, (each.name, answer.content)
        for row in answer.json()["items"][:1]:
            one = program.get(f"{each.name}/{row['id']}")
            assert one.status_code == 200
            assert one.json() == row
            filled.add(each.name)
    assert {"units", "bench-tests", "ledger-entries", "inspections", "pulls", "leaves"} <= filled


def test_a_unit_tells_what_hangs_together_and_how_it_stands(program: Program) -> None:
    unit = rated_unit()
    told = program.get(f"units/{unit.housing.pk}").json()
    head = LedgerEntry.objects.latest("pk")
    assert told["hammer_id"] == unit.hammer.pk
    assert told["is_in_service"] is True
    assert told["rating"]["pull_lbf"] == head.pull_lbf
    assert told["rating"]["standing"] == "meets listing"
    assert len(told["positions"]) == 2 * unit.housing.positions_per_side


def test_a_unit_tells_since_when_it_is_being_rated_again(program: Program) -> None:
    unit, other = rated_unit(), rated_unit()
    going = made_rerating(LotRating.objects.in_force().get(lot=unit.lot), unit.manager)
    since = {row["id"]: row["rated_again_since"] for row in program.get("units").json()["items"]}
    assert since == {unit.housing.pk: going.asked_at.isoformat(), other.housing.pk: None}


def test_a_ledger_entry_comes_with_the_document_that_was_hashed(program: Program) -> None:
    rated_unit()
    entry = LedgerEntry.objects.latest("pk")
    told = program.get(f"ledger-entries/{entry.pk}").json()
    assert (told["document"], told["hash"]) == (entry.document, entry.hash)
    assert told["occurred_at"] == entry.occurred_at.isoformat()


def test_an_inspection_comes_with_its_counts_and_a_test_with_its_readings(program: Program) -> None:
    unit = rated_unit()
    drafted = drafted_test(unit.lot, unit.manager)
    signed = count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"})
    told = program.get(f"inspections/{signed.inspection.pk}").json()
    assert [pad["condition"] for pad in told["pads"] if pad["number"] == 1] == ["cracked", "sound"]
    readings = program.get(f"bench-tests/{drafted.test.pk}").json()["readings"]
    assert [each["tape_in"] for each in readings] == [
        each.tape_in for each in drafted.test.readings.order_by("pk")
    ]


def pages(program: Program, path: str, asked: dict[str, Any]) -> list[list[int]]:
    found, cursor = [], None
    while True:
        answer = program.get(path, asked | ({"cursor": cursor} if cursor else {}))
        assert answer.status_code == 200, answer.content
        found.append([row["id"] for row in answer.json()["items"]])
        cursor = answer.json()["next"]
        if cursor is None:
            return found


def test_cursors_go_through_a_list_once_in_either_order(program: Program) -> None:
    keys = [YardFactory().pk for _ in range(5)]
    assert pages(program, "yards", {"limit": 2}) == [keys[:2], keys[2:4], keys[4:]]
    newest = pages(program, "yards", {"limit": 3, "order": "newest"})
    assert newest == [keys[:1:-1], keys[1::-1]]


def test_what_is_added_meanwhile_moves_no_page(program: Program) -> None:
    keys = [YardFactory().pk for _ in range(3)]
    first = program.get("yards", {"limit": 2}).json()
    keys.append(YardFactory().pk)
    second = program.get("yards", {"limit": 2, "cursor": first["next"]}).json()
    assert [row["id"] for row in first["items"] + second["items"]] == keys


# Named, since what is signed bears the time and no two runners would know it by one name.
@pytest.mark.parametrize(
    "made_up",
    ["x", "", "eyJhIjoxfQ:1abc:def", "é€", signing.dumps([1, {}], salt="another")],
    ids=["a letter", "empty", "signed by nobody", "other letters", "signed for something else"],
)
def test_a_cursor_made_up_is_refused(program: Program, made_up: str) -> None:
    answer = program.get("yards", {"cursor": made_up})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["field"] == "cursor"
    assert "no cursor of this list" in answer.json()["detail"]


def test_a_cursor_of_another_list_is_refused(program: Program) -> None:
    for _ in range(3):
        YardFactory()
    cursor = program.get("yards", {"limit": 1}).json()["next"]
    for path, asked in (("hammers", {}), ("yards", {"order": "newest"})):
        answer = program.get(path, {"cursor": cursor, **asked})
        assert answer.status_code == 422
        assert "of another list" in answer.json()["detail"]


def test_a_unit_out_of_service_tells_what_keeps_it_so(program: Program) -> None:
    unit = rated_unit()
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unit.hammer,
        since=MONDAY,
        reason="Swivel cracked",
        by=unit.manager,
    )
    told = program.get(f"units/{unit.housing.pk}").json()
    assert told["is_in_service"] is False
    assert [each["reason"] for each in told["outages"]] == ["Swivel cracked"]


def test_a_list_is_narrowed_by_unit_and_by_time(program: Program) -> None:
    first, second = rated_unit(), rated_unit()
    late = count(second.housing, second.manager, second.lot, at=MONDAY + timedelta(days=9))
    mine = program.get("inspections", {"housing_id": first.housing.pk}).json()["items"]
    assert {row["housing_id"] for row in mine} == {first.housing.pk}
    since = (MONDAY + timedelta(days=8)).isoformat()
    later = program.get("inspections", {"seen_at_from": since}).json()["items"]
    assert [row["id"] for row in later] == [late.inspection.pk]
    before = program.get("inspections", {"seen_at_before": since}).json()["items"]
    assert late.inspection.pk not in [row["id"] for row in before]


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"lmit": "1"}, "lmit"),
        ({"limit": "0"}, "limit"),
        ({"limit": "101"}, "limit"),
        ({"limit": "ten"}, "limit"),
        ({"limit": ["1", "2"]}, "limit"),
        ({"limit": "9" * 5000}, "limit"),
        ({"yard_id": "9" * 26}, "yard_id"),
        ({"yard_id": str(2**63)}, "yard_id"),
        ({"yard_id": "-1"}, "yard_id"),
        ({"order": "best"}, "order"),
    ],
)
def test_what_no_list_is_asked_by_is_refused_by_its_name(
    program: Program, asked: dict[str, Any], field: str
) -> None:
    answer = program.get("hammers", asked)
    assert answer.status_code == 400
    assert answer["Content-Type"] == "application/problem+json"
    assert [each["field"] for each in answer.json()["errors"]] == [field]


@pytest.mark.parametrize("moment", ["2026-03-14", "2026-03-14T09:30:00", "yesterday", "2026-13-01"])
def test_a_moment_without_its_zone_is_refused(program: Program, moment: str) -> None:
    answer = program.get("inspections", {"seen_at_from": moment})
    assert answer.status_code == 400
    assert "with its zone" in answer.json()["errors"][0]["message"]


def test_moments_at_the_ends_of_time_are_read(program: Program) -> None:
    for moment in ("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00"):
        assert program.get("inspections", {"seen_at_from": moment}).status_code == 200


@pytest.mark.parametrize(
    ("key", "status"),
    [("999", 404), (str(2**63 - 1), 404), (str(2**63), 400), ("9" * 26, 400), ("x", 400)],
)
def test_a_record_that_is_not_there_is_said_so(program: Program, key: str, status: int) -> None:
    answer = program.get(f"units/{key}")
    assert answer.status_code == status
    assert answer["Content-Type"] == "application/problem+json"


def test_an_address_that_is_not_there_and_a_method_it_does_not_take_are_problems(
    program: Program,
) -> None:
    assert program.get("nothing/here").json()["status"] == 404
    refused = program.client.delete("/api/v1/units", headers=program.headers)
    assert (refused.status_code, refused["Allow"]) == (405, "GET")
    assert refused["Content-Type"] == "application/problem+json"


def test_what_is_known_already_is_not_sent_again(program: Program) -> None:
    yard = YardFactory()
    first = program.get(f"yards/{yard.pk}")
    same = program.get(f"yards/{yard.pk}", None, **{"If-None-Match": first["ETag"]})
    assert (same.status_code, same.content, same["ETag"]) == (304, b"", first["ETag"])
    yard.place = "Quay 4"
    yard.save()
    assert program.get(f"yards/{yard.pk}", None, **{"If-None-Match": first["ETag"]}).content


def test_figures_are_told_to_the_last_digit(program: Program) -> None:
    lot = PadLot.objects.create(mark="L-9", hardness_shore_a=0.1 + 54.2)
    told = program.get(f"pad-lots/{lot.pk}")
    assert json.loads(told.content)["hardness_shore_a"] == 0.1 + 54.2


def test_a_page_asks_the_database_as_often_for_many_as_for_few(
    program: Program, django_assert_max_num_queries: Any
) -> None:
    units: list[Unit] = [rated_unit() for _ in range(4)]
    drafted_test(units[0].lot, units[0].manager)
    for each in RESOURCES:
        with django_assert_max_num_queries(22):
            program.get(each.name)


def test_the_document_tells_every_record_and_no_page_elsewhere(program: Program) -> None:
    document = program.client.get("/api/v1/openapi.json").json()
    assert document["openapi"].startswith("3.1")
    for each in RESOURCES:
        assert f"/api/v1/{each.name}" in document["paths"]
        assert f"/api/v1/{each.name}/{{key}}" in document["paths"]
    fields = document["components"]["schemas"]["Units"]["properties"]
    assert "as stored" in fields["design_travel_in"]["description"]
    assert program.get("docs").status_code == 404
