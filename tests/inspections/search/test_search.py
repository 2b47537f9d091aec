"""What a word finds, where it was found, and who finds it."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inspections.search.sources import SOURCES, around, words_asked
from inspections.search.views import HITS_SHOWN
from tests.builders import count, rated_unit
from tests.factories import (
    ClampFactory,
    GaugeFactory,
    HammerFactory,
    HousingFactory,
    PadLotFactory,
    PowerPackFactory,
)
from tests.factories import TestStandFactory as StandFactory
from tests.inspections.field.sent import finding_sent, payload, send, signed_in
from tests.job_builders import commit, extraction_job, figured_unit, pull_done
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def searched(client: Client, asked: str, **more: Any) -> Any:
    response = client.get(reverse("search"), {"q": asked, **more})
    assert response.status_code == 200
    return response


@pytest.mark.parametrize(
    ("made", "found"),
    [
        (lambda: HousingFactory(mark="ZEBRA-1"), "Housing ZEBRA-1"),
        (lambda: HammerFactory(mark="ZEBRA-2"), "Hammer ZEBRA-2"),
        (lambda: HammerFactory(mark="V-1", serial_number="Zebra 7"), "serial number: Zebra 7"),
        (lambda: ClampFactory(mark="ZEBRA-3"), "Clamp ZEBRA-3"),
        (lambda: PowerPackFactory(mark="ZEBRA-4"), "Power pack ZEBRA-4"),
        (lambda: PadLotFactory(mark="L-1", supplier="Zebra Rubber"), "supplier: Zebra Rubber"),
        (lambda: StandFactory(name="Zebra bench"), "Stand Zebra bench"),
        (lambda: GaugeFactory(mark="ZEBRA-G"), "Gauge ZEBRA-G"),
        (lambda: extraction_job(site="Zebra quay"), "site: Zebra quay"),
    ],
)
def test_a_record_is_found_by_its_mark_or_its_words(
    auditor_client: Client, made: Any, found: str
) -> None:
    made()
    assert found in words(searched(auditor_client, "zebra"))


def test_notes_and_findings_of_an_inspection_are_found(auditor_client: Client) -> None:
    unit = rated_unit()
    sent = payload(
        unit,
        pads=[],
        travel_in=None,
        note="Paint gone on side B, seen from the barge",
        findings=[finding_sent(text="Hose chafed at the swivel")],
    )
    url = send(signed_in(unit.manager), sent).json()["url"]
    for asked, where in (("BARGE", "note: Paint gone"), ("swivel", "what was found: Hose chafed")):
        response = searched(auditor_client, asked)
        assert where in words(response)
        assert f'href="{url}"' in response.content.decode()


def test_a_number_finds_the_inspection_of_that_number(auditor_client: Client) -> None:
    unit = rated_unit()
    signed = count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    text = words(searched(auditor_client, str(signed.inspection.pk)))
    assert f"Inspection {signed.inspection.pk} of {unit.housing.mark}" in text
    assert f"number: {signed.inspection.pk}" in text


def test_a_pile_is_found_with_its_site(auditor_client: Client) -> None:
    pull_done(commit(figured_unit(), extraction_job(site="Coal quay")), pile_mark="B3-EAST")
    assert "Pile B3-EAST at Coal quay" in words(searched(auditor_client, "b3-e"))


def test_every_word_must_stand_in_the_record(auditor_client: Client) -> None:
    HousingFactory(mark="BOTH-1", note="red paint")
    HousingFactory(mark="BOTH-2", note="blue paint")
    text = words(searched(auditor_client, "both red"))
    assert "BOTH-1" in text
    assert "BOTH-2" not in text


@pytest.mark.parametrize("asked", ["%", "_", "100%", "\\", "'", '"', "%%_"])
def test_signs_a_database_takes_for_any_letters_stand_for_themselves(
    auditor_client: Client, asked: str
) -> None:
    HousingFactory(mark="PLAIN", note="nothing of the sort")
    assert "Nothing on record holds" in words(searched(auditor_client, asked))
    HousingFactory(mark="SIGNS", note=f"before {asked} after")
    text = words(searched(auditor_client, asked))
    assert "Housing SIGNS" in text
    assert "PLAIN" not in text


@pytest.mark.parametrize(
    "asked", ["x\0y", "9" * 400, " ", "<script>", "a " * 200, "٣", "²", "-1", "Ω" * 101]
)
def test_what_nobody_would_type_breaks_nothing(auditor_client: Client, asked: str) -> None:
    rated_unit()
    assert "<script>" not in searched(auditor_client, asked).content.decode().split("<main")[1]


@pytest.mark.parametrize("page", ["0", "99", "x"])
@pytest.mark.parametrize("sort", ["housings", "nothing of the sort"])
def test_a_page_or_a_sort_that_is_not_there_breaks_nothing(
    auditor_client: Client, sort: str, page: str
) -> None:
    HousingFactory(mark="ZEBRA-1")
    assert "ZEBRA-1" in words(searched(auditor_client, "zebra", sort=sort, page=page))


def test_nothing_asked_says_what_it_finds(auditor_client: Client) -> None:
    assert "Finds hammers, housings" in words(auditor_client.get(reverse("search")))


def test_a_sort_shows_its_first_and_the_rest_page_by_page(auditor_client: Client) -> None:
    for number in range(27):
        HousingFactory(mark=f"ZEBRA-{number}")
    first = searched(auditor_client, "zebra")
    assert first.content.decode().count("Housing ZEBRA-") == HITS_SHOWN
    assert "More housings" in words(first)
    second = searched(auditor_client, "zebra", sort="housings", page=2)
    assert second.content.decode().count("Housing ZEBRA-") == 2


def test_each_sort_costs_one_query_however_much_is_found(auditor_client: Client) -> None:
    counts = []
    for _ in range(2):
        pull_done(commit(figured_unit(), extraction_job(site="Zebra quay")), pile_mark="ZEBRA")
        searched(auditor_client, "zebra")
        with CaptureQueriesContext(connection) as asked:
            searched(auditor_client, "zebra")
        counts.append(len(asked))
    assert counts[0] == counts[1] <= len(SOURCES) + 10


def test_only_what_stands_around_a_word_is_shown() -> None:
    shown = around("x" * 100 + " swivel " + "y" * 100, ["SWIVEL"])
    assert "<mark>swivel</mark>" in shown
    assert shown.startswith("…")
    assert shown.endswith("…")
    assert len(shown) < 160


def test_what_is_shown_is_no_markup() -> None:
    assert around("a <b>bold</b> word", ["bold"]) == ("a &lt;b&gt;<mark>bold</mark>&lt;/b&gt; word")


def test_a_search_takes_few_words_and_each_of_them_once() -> None:
    assert words_asked("a A b c d e f g h") == ["A", "b", "c", "d", "e", "f"]


def test_every_field_searched_is_one_of_its_records() -> None:
    for source in SOURCES:
        assert not source.found(["no such word", "7"]).exists(), source.key


def test_the_box_stands_on_every_page_for_whoever_is_signed_in(
    auditor_client: Client, client: Client
) -> None:
    box = f'action="{reverse("search")}"'
    assert box in auditor_client.get(reverse("policy")).content.decode()
    assert box not in client.get(reverse("sign-in")).content.decode()
    assert client.get(reverse("search")).status_code == 302
