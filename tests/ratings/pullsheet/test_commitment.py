"""The page a sheet's code leads to: does it hold, and on what was it made."""

from __future__ import annotations

import hashlib
import json
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.models import ReaderPreference
from ratings.jobs.commitments import release_unit
from ratings.models import Commitment, JobAnswer
from ratings.mounting import mount_housing
from tests.builders import Unit, count
from tests.factories import AuditorFactory, DispatcherFactory, HammerFactory
from tests.job_builders import commit, extraction_job, figured_unit
from tests.site import html_form

pytestmark = pytest.mark.django_db


def page(client: Client, made: Commitment) -> str:
    answer = client.get(reverse("commitment", args=[made.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def words(client: Client, made: Commitment) -> str:
    return html_form.words(client.get(reverse("commitment", args=[made.pk])))


def recount(unit: Unit, **more: Any) -> None:
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), **more)


def test_it_is_valid_as_long_as_the_rating_is_the_one_it_was_made_on(
    auditor_client: Client,
) -> None:
    unit = figured_unit()
    made = commit(unit)
    found = words(auditor_client, made)
    sequence = made.answer.entry.sequence
    assert f"VALID The unit’s rating is still ledger entry {sequence}." in found
    assert "VOID" not in found
    # Seen again as it was: no entry, and the sheet holds on.
    recount(unit)
    assert "VALID" in words(auditor_client, made)


def test_it_is_void_once_the_rating_changes_and_says_from_what_to_what(
    auditor_client: Client,
) -> None:
    unit = figured_unit()
    made = commit(unit)
    recount(unit, unsound={"A1": "cracked", "A2": "missing"})
    found, then = words(auditor_client, made), made.answer.entry.sequence
    assert (
        f"VOID The standing of {unit.housing.mark} fell from meets listing to below listing since "
        f"it was committed: committed on ledger entry {then} (meets listing), now at entry "
        f"{then + 1} (below listing)." in found
    )
    assert "Do not pull on its sheet." in found
    assert "Pull sheet, marked void (PDF)" in found


def test_it_is_void_once_released_and_says_by_whom_and_why(auditor_client: Client) -> None:
    made = commit(figured_unit())
    by = DispatcherFactory(first_name="Kim", last_name="Yardley")
    release_unit(commitment=made, reason="Barge adrift", by=by)
    found = words(auditor_client, made)
    assert "VOID Released" in found
    assert "by Kim Yardley: Barge adrift." in found


def test_a_release_is_all_there_is_to_say_whatever_becomes_of_the_unit(
    auditor_client: Client,
) -> None:
    unit = figured_unit()
    made = commit(unit)
    release_unit(commitment=made, reason="Barge adrift", by=DispatcherFactory())
    recount(unit, unsound={"A1": "cracked"})
    assert "rating changed" not in words(auditor_client, made)


def test_it_is_void_once_the_housing_hangs_from_another_hammer(auditor_client: Client) -> None:
    unit = figured_unit()
    made = commit(unit)
    other = HammerFactory(yard=unit.housing.yard)
    mount_housing(housing=unit.housing, hammer=other, at=timezone.now(), by=unit.manager)
    found = words(auditor_client, made)
    assert "VOID" in found
    assert f"was committed on {unit.hammer.mark} and is on {other.mark} now." in found


def test_a_job_changed_since_voids_it(auditor_client: Client) -> None:
    job = extraction_job()
    made = commit(figured_unit(), job)
    job.pile_groups.update(embedment_ft=30.0)
    found = words(auditor_client, made)
    assert "VOID The numbers of the job changed" in found
    assert "VALID" not in found
    # It still tells the answer it was made on.
    assert "Embedment 40 ft" in found


def test_one_whose_days_are_over_is_past(
    auditor_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = commit(figured_unit())
    real, after = timezone.localdate, timezone.localdate() + timedelta(days=10)
    monkeypatch.setattr(timezone, "localdate", lambda *at: real(*at) if at else after)
    found = words(auditor_client, made)
    assert "PAST It was for" in found
    assert "VALID" not in found


def test_an_answer_tampered_with_is_void_and_says_so(
    auditor_client: Client, tampering: Any
) -> None:
    made = commit(figured_unit())
    contents = made.answer.contents
    contents["verdict"]["margin"] = 9.9
    with tampering():
        JobAnswer.objects.filter(pk=made.answer_id).update(document=json.dumps(contents))
    found = words(auditor_client, made)
    assert "VOID The answer on record does not hold: its text is not what its hash" in found
    assert "Calculated again from its document just now, it does not hold" in found
    assert "the same to the last digit" not in found


def test_it_tells_the_answer_and_all_it_rests_on(auditor_client: Client) -> None:
    made = commit(figured_unit())
    found = words(auditor_client, made)
    for told in (
        "Governed by: line pull at the pads",
        "Its chart allows 120,000 lbf",
        "Perimeter for friction 56.4 in",
        "cohesive, 0 ft to 20 ft; 115 lb/ft³; undrained strength 500 psf",
        "Working load limit of a leg 100,000 lbf",
        "8 sound; load curve of its readings, 1,000 lbf/in each",
        "Eccentric moment 4,400 lb·in",
        "Range of the ground 0.7 to 1.5 times what is expected",
        "keeps 0.2 while vibrated (Jonker 1987, OTC 5422)",
        "2 × 4,400 lb·in / 13,650 lb",
        "the same to the last digit",
        made.answer.hash,
        made.answer.entry.hash,
    ):
        assert told in found, told


def test_it_leads_on(dispatcher_client: Client) -> None:
    made = commit(figured_unit())
    found = page(dispatcher_client, made)
    for name, key in (
        ("job", made.job_id),
        ("unit", made.housing_id),
        ("pull-sheet", made.pk),
        ("answer-document", made.pk),
        ("release-commitment", made.pk),
    ):
        assert f'href="{reverse(name, args=[key])}"' in found, name


def test_only_planners_are_shown_the_release(auditor_client: Client) -> None:
    made = commit(figured_unit())
    assert reverse("release-commitment", args=[made.pk]) not in page(auditor_client, made)


def test_the_document_is_sent_as_it_was_hashed(auditor_client: Client) -> None:
    made = commit(figured_unit())
    sent = auditor_client.get(reverse("answer-document", args=[made.pk]))
    assert sent["Content-Type"].startswith("application/json")
    assert hashlib.sha256(sent.content).hexdigest() == made.answer.hash
    assert json.loads(sent.content)["site"] == "Ferry slip"


def test_it_speaks_si(client: Client) -> None:
    reader = AuditorFactory()
    ReaderPreference.objects.create(user=reader, units="si")
    client.force_login(reader)
    made = commit(figured_unit())
    found = words(client, made)
    assert "Embedment 12.19 m" in found
    assert "lbf" not in found


def test_every_role_may_read_it_and_no_visitor(client: Client) -> None:
    made = commit(figured_unit())
    for name in ("commitment", "pull-sheet", "answer-document"):
        assert client.get(reverse(name, args=[made.pk])).status_code == 302
    for who in (AuditorFactory(), DispatcherFactory()):
        client.force_login(who)
        for name in ("commitment", "pull-sheet", "answer-document"):
            assert client.get(reverse(name, args=[made.pk])).status_code == 200


def test_markup_in_a_name_stays_words(auditor_client: Client) -> None:
    made = commit(figured_unit(), extraction_job(site="<script>alert(1)</script>"))
    assert "<script>alert(1)" not in page(auditor_client, made)


@pytest.mark.parametrize("name", ["commitment", "answer-document"])
def test_one_that_is_not_there_is_not_found(auditor_client: Client, name: str) -> None:
    assert auditor_client.get(reverse(name, args=[9999])).status_code == 404


def test_it_asks_the_database_as_often_whatever_the_fleet(auditor_client: Client) -> None:
    made = commit(figured_unit())
    path = reverse("commitment", args=[made.pk])
    auditor_client.get(path)
    with CaptureQueriesContext(connection) as few:
        auditor_client.get(path)
    for _ in range(3):
        commit(figured_unit())
    with CaptureQueriesContext(connection) as many:
        auditor_client.get(path)
    assert len(many) == len(few)
