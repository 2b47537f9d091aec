"""What a program was refused stands in Who did what, by the name of whose token it sent."""

from __future__ import annotations

import time
from datetime import timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.urls import reverse
from django.utils import timezone

from fleet import refusals
from fleet.models import ApiScope, Leaf, Refusal
from tests.builders import rated_unit
from tests.factories import AuditorFactory, ManagerFactory
from tests.inspections.api.asking import Program, program_of, token_of
from tests.inspections.field.sent import signed_in
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _counted_anew() -> None:
    cache.clear()


def kept() -> Refusal:
    return Refusal.objects.get()


@pytest.mark.parametrize(
    ("asked", "status", "why", "field"),
    [
        ({"cursor": "made-up"}, 422, "given", "cursor"),
        ({"limit": "ten"}, 400, "given", "limit"),
        ({"lmit\0": "1"}, 400, "given", "lmit"),
    ],
)
def test_what_is_asked_and_refused_is_on_record_with_its_field(
    asked: dict[str, str], status: int, why: str, field: str
) -> None:
    person = AuditorFactory()
    assert program_of(person).get("yards", asked).status_code == status
    refusal = kept()
    assert (refusal.why, refusal.person, refusal.fields) == (why, person, field)
    assert (refusal.page, refusal.path) == ("list-yards", "/api/v1/yards")
    assert "By token “Telematics of the cranes”." in refusal.words


def test_what_is_sent_and_refused_is_on_record_in_the_words_that_were_told() -> None:
    person = ManagerFactory()
    answer = program_of(person).post("hour-readings", {"hours": "many"})
    assert answer.status_code == 400
    refusal = kept()
    assert refusal.person == person
    assert set(refusal.fields.split(", ")) >= {"hours", "sort"}
    assert answer.json()["errors"][0]["message"] in refusal.words


def test_a_key_used_before_is_a_refusal_too() -> None:
    program, key = program_of(ManagerFactory()), "7b1f7d86-3a0b-4c70-9f0c-0c3c5a4e0b11"
    unit = rated_unit()
    for hours in (5.0, 6.0):
        sent = {
            "sort": "hammer",
            "machine": unit.hammer.pk,
            "hours": hours,
            "read_at": timezone.now().isoformat(),
        }
        answer = program.post("hour-readings", sent, key)
    assert answer.status_code == 409
    assert kept().fields == "Idempotency-Key"


def test_a_token_of_too_small_a_scope_is_refused_by_the_name_of_its_person() -> None:
    person = ManagerFactory()
    assert program_of(person, [ApiScope.HOURS]).get("yards").status_code == 403
    refusal = kept()
    assert (refusal.why, refusal.person) == ("role", person)
    assert "may not read everything" in refusal.words


def test_a_token_that_works_no_more_is_refused_by_the_name_of_whose_it_was() -> None:
    person = AuditorFactory()
    made = token_of(person)
    person.is_active = False
    person.save()
    assert Program(made.secret).get("yards").status_code == 401
    refusal = kept()
    assert refusal.person == person
    assert "“Telematics of the cranes”" in refusal.words


@pytest.mark.parametrize("secret", ["", "lpl_guess"])
def test_whoever_has_no_token_is_a_visitor_and_what_was_sent_is_not_kept(secret: str) -> None:
    assert Program(secret).get("yards").status_code == 401
    assert kept().person is None
    assert not Leaf.objects.filter(document__contains="lpl_guess").exists()


def test_what_is_not_there_is_no_refusal() -> None:
    program = program_of(AuditorFactory())
    for path in ("units/999", "nothing"):
        assert program.get(path).status_code == 404
    assert program.client.delete("/api/v1/units", headers=program.headers).status_code == 405
    assert not Refusal.objects.exists()


def test_it_is_read_in_who_did_what() -> None:
    person = ManagerFactory()
    program_of(person, [ApiScope.HOURS]).get("yards")
    page = words(signed_in(AuditorFactory()).get(reverse("who-did-what")))
    assert person.get_full_name() in page
    assert "Refused, not for the role of who asked: list-yards (/api/v1/yards)" in page


def test_a_flood_without_a_token_fills_no_database(
    monkeypatch: pytest.MonkeyPatch, django_assert_num_queries: Any
) -> None:
    monkeypatch.setattr(refusals, "KEPT_IN_A_DAY", 3)
    now = timedelta(days=20_000).total_seconds()
    for minute in range(5):
        monkeypatch.setattr(time, "time", lambda at=now + 60 * minute: at)
        Program("").get("yards")
    assert Refusal.objects.count() == 3
    with django_assert_num_queries(0):
        Program("").get("yards")
    monkeypatch.setattr(time, "time", lambda: now + 24 * 3600)
    Program("").get("yards")
    assert Refusal.objects.latest("pk").left_out == 3
