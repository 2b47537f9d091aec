"""Every write, sign-in and refusal in words, narrowed, and exported as it is narrowed."""

from __future__ import annotations

import csv
from datetime import timedelta
from io import BytesIO, StringIO
from typing import Any

import pytest
from django.apps import apps
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from fleet import clock
from fleet.models import Leaf, Yard
from inspections.models import Inspection
from inspections.who_did_what import tables
from inspections.who_did_what.doings import PAGES, PAGES_OF_ALL
from tests.builders import MONDAY, rated_unit
from tests.conftest import append_only_lifted
from tests.factories import HammerFactory, ManagerFactory, YardFactory
from tests.site.html_form import opened, words

pytestmark = pytest.mark.django_db


def listed(client: Client, **asked: str) -> str:
    cache.clear()
    answer = client.get(reverse("who-did-what"), asked)
    assert answer.status_code == 200
    return words(answer)


def exported(client: Client, **asked: str) -> list[dict[str, str]]:
    answer = client.get(reverse("who-did-what-list", args=["csv"]), asked)
    text = b"".join(answer.streaming_content).decode()  # type: ignore[attr-defined]
    return list(csv.DictReader(StringIO(text)))


def refused(client: Client, given: str = "lots") -> None:
    url = reverse("new-listing", args=[HammerFactory().pk])
    client.post(url, opened(client, url) | {"listed_lbf": given})


def test_a_write_is_told_in_words_with_its_page_and_line(auditor_client: Client) -> None:
    unit = rated_unit()
    page = auditor_client.get(reverse("who-did-what"), {"kind": "ratings.listing"})
    told = words(page)
    assert f"Listing of hammer {unit.hammer.mark} recorded" in told
    assert "lbf" in told
    leaf = Leaf.objects.filter(model="ratings.listing").latest("pk")
    assert reverse("leaf", args=[leaf.pk]) in page.content.decode()
    assert reverse("machine-page", args=["hammer", unit.hammer.pk]) in page.content.decode()


def test_a_change_tells_what_was_and_what_is(auditor_client: Client) -> None:
    yard = YardFactory(place="North quay")
    Yard.objects.filter(pk=yard.pk).update(place="South quay")
    assert "place North quay → South quay" in listed(auditor_client, kind="fleet.yard")


def test_a_refusal_and_a_sign_in_stand_among_the_writes(
    auditor_client: Client, manager_client: Client, manager: Any
) -> None:
    refused(manager_client)
    Client().post(reverse("sign-in"), {"username": manager.username, "password": "line-pull-test"})
    told = listed(auditor_client)
    assert "Refused, what was given would not do: new-listing" in told
    assert f"{manager.get_full_name()} signed in" in told
    only = listed(auditor_client, what="refusals")
    assert "Refused" in only
    assert "signed in" not in only.split("What is not on record")[0].split("Filter")[-1]


def test_it_is_narrowed_to_one_person_who_was_not_let_in_too(auditor_client: Client) -> None:
    one, other = ManagerFactory(), ManagerFactory()
    for user in (one, other):
        Client().post(reverse("sign-in"), {"username": user.username, "password": "wrong"})
    rows = exported(auditor_client, who=str(one.pk), what="sign-ins")
    assert [row["what"] for row in rows] == [f"{one.get_full_name()} was not let in"]


def test_it_is_narrowed_to_a_unit_and_to_words(auditor_client: Client) -> None:
    unit, other = rated_unit(), rated_unit()
    rows = exported(auditor_client, unit=unit.housing.mark.lower())
    assert {row["kind"] for row in rows} >= {"suppressor housing", "mounting", "ledger entry"}
    assert not [row for row in rows if f"housing {other.housing.mark}" in row["what"]]
    assert exported(auditor_client, unit="no such unit") == []
    found = exported(auditor_client, search=unit.hammer.mark, kind="fleet.hammer")
    assert len(found) == 1


def test_it_is_narrowed_to_days_both_included(auditor_client: Client) -> None:
    with clock.set_to(MONDAY):
        YardFactory(name="Of Monday")
    with clock.set_to(MONDAY + timedelta(days=1)):
        YardFactory(name="Of Tuesday")
    day = timezone.localdate(MONDAY).isoformat()
    rows = exported(auditor_client, since=day, until=day, kind="fleet.yard")
    assert len(rows) == 1
    assert "Of Monday" in rows[0]["what"]


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (
            {"since": "2026-03-02", "until": "2026-03-01"},
            "before the first day, 2 Mar 2026",
        ),
        ({"since": "9999-01-01"}, "is more than ten years ahead"),
        ({"until": "soon"}, "This is not a day"),
        ({"who": "999999999999999999999"}, "Select a valid choice"),
    ],
)
def test_what_cannot_be_asked_is_answered_in_words_and_lists_nothing(
    auditor_client: Client, asked: dict[str, str], told: str
) -> None:
    YardFactory(name="Listed otherwise")
    page = listed(auditor_client, **asked)
    assert told in page
    assert "Listed otherwise" not in page
    answer = auditor_client.get(reverse("who-did-what-list", args=["xlsx"]), asked)
    assert told in words(answer)


def test_a_signer_is_named_as_then_and_as_now(auditor_client: Client) -> None:
    manager = ManagerFactory(first_name="Runa", last_name="Vik")
    client = Client()
    client.force_login(manager)
    refused(client)
    manager.last_name = "Dahl"
    manager.save()
    rows = exported(auditor_client, what="refusals")
    assert rows[0]["who"] == "Runa Vik (now Runa Dahl)"


def test_the_workbook_holds_what_is_listed_and_no_formula(auditor_client: Client) -> None:
    YardFactory(name="=1+1")
    answer = auditor_client.get(reverse("who-did-what-list", args=["xlsx"]), {"kind": "fleet.yard"})
    book = load_workbook(BytesIO(b"".join(answer.streaming_content)))  # type: ignore[attr-defined]
    rows = list(book["Rows 1"].iter_rows())
    assert [cell.value for cell in rows[0]][:3] == ["line", "at", "who"]
    assert len(rows) == 2
    assert all(cell.data_type != "f" for row in rows for cell in row)


def test_a_line_shows_what_was_hashed_and_leads_to_the_one_before(auditor_client: Client) -> None:
    yard = YardFactory(place="North quay")
    Yard.objects.filter(pk=yard.pk).update(place="South quay")
    first, last = Leaf.objects.filter(model="fleet.yard", row_key=str(yard.pk)).order_by("pk")
    page = auditor_client.get(reverse("leaf", args=[last.pk]))
    told = words(page)
    assert "North quay" in told
    assert "South quay" in told
    assert last.leaf_hash in told
    assert reverse("leaf", args=[first.pk]) in page.content.decode()


def test_no_secret_of_a_person_is_shown(auditor_client: Client) -> None:
    manager = ManagerFactory(email="runa@yard.example")
    for leaf in Leaf.objects.filter(model="auth.user", row_key=str(manager.pk)):
        told = words(auditor_client.get(reverse("leaf", args=[leaf.pk])))
        assert manager.password not in told
        assert "runa@yard.example" not in told


def test_a_note_of_50_000_letters_without_a_space_is_cut_in_the_list_and_whole_in_its_line(
    auditor_client: Client,
) -> None:
    rated_unit()
    with append_only_lifted():
        Inspection.objects.update(note="x" * 50_000)
    leaf = Leaf.objects.filter(model="inspections.inspection").latest("pk")
    assert "x" * 200 not in listed(auditor_client, kind="inspections.inspection")
    assert "x" * 50_000 in words(auditor_client.get(reverse("leaf", args=[leaf.pk])))


def test_every_kind_of_record_that_has_a_page_is_one_of_the_program() -> None:
    for label, page in {**PAGES, **PAGES_OF_ALL}.items():
        assert apps.get_model(label)
        assert reverse(page, args=[1] if label in PAGES else [])


def test_what_a_command_wrote_in_somebodys_name_says_both(auditor_client: Client) -> None:
    unit = rated_unit()
    rows = exported(auditor_client, kind="ratings.listing", who=str(unit.manager.pk))
    assert [row["who"] for row in rows] == [f"{unit.manager.get_full_name()}, by a command"]
    assert exported(auditor_client, kind="ratings.listing", who=str(ManagerFactory().pk)) == []


def test_what_matches_by_its_text_is_listed_to_a_number_and_the_page_says_so(
    auditor_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tables, "MOST_FOUND", 4)
    unit = rated_unit()
    url = reverse("who-did-what")
    with CaptureQueriesContext(connection) as asked:
        page = auditor_client.get(url, {"unit": unit.housing.mark})
    assert page.content.decode().count('class="c-what') == 4
    assert "The newest 4 that match are listed." in words(page)
    counts = [each["sql"] for each in asked if "COUNT(*)" in each["sql"] and "leaf" in each["sql"]]
    assert ["LIMIT 4" in sql for sql in counts] == [True]
    assert len(exported(auditor_client, unit=unit.housing.mark)) > 4
    assert "are listed" not in words(auditor_client.get(url))
