"""A full disk, a database that may only be read, one that is gone: told in words, nothing kept."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.db import OperationalError, connection, connections
from django.test import Client
from django.urls import reverse

from fleet.models import LongWork
from fleet.unavailable import words_of
from inspections.models import Inspection
from ratings.models import LedgerEntry
from tests.builders import Unit, rated_unit
from tests.inspections.api.asking import token_of
from tests.inspections.field.sent import payload
from tests.site.test_security import settings_seen

pytestmark = pytest.mark.django_db(transaction=True)
Sent = dict[str, Any]


@contextmanager
def full_disk() -> Iterator[None]:
    """The database as on a disk with no page left, as SQLite itself tells it."""
    if connection.vendor != "sqlite":
        pytest.skip("its disk is not this machine's to fill")
    with connection.cursor() as cursor:
        # What tests before left free in the file would be room enough.
        cursor.execute("VACUUM")
        cursor.execute("PRAGMA page_count")
        cursor.execute(f"PRAGMA max_page_count = {cursor.fetchone()[0]}")
        yield
        cursor.execute("PRAGMA max_page_count = 1000000000")


@contextmanager
def read_only() -> Iterator[None]:
    """The database as one that may only be read, as the engine itself tells it."""
    on, off = (
        ("PRAGMA query_only = ON", "PRAGMA query_only = OFF")
        if connection.vendor == "sqlite"
        else ("SET default_transaction_read_only = on", "SET default_transaction_read_only = off")
    )
    with connection.cursor() as cursor:
        cursor.execute(on)
        yield
        cursor.execute(off)


@pytest.fixture
def unit() -> Unit:
    return rated_unit()


@pytest.fixture
def phone(unit: Unit) -> Client:
    """A phone, told of failures as a phone is."""
    client = Client(raise_request_exception=False)
    client.force_login(unit.manager)
    return client


def on_record() -> tuple[int, int]:
    return Inspection.objects.count(), LedgerEntry.objects.count()


def send(client: Client, sent: Sent) -> Any:
    return client.post(reverse("field-inspections"), sent, content_type="application/json")


@pytest.mark.parametrize(
    ("trouble", "expected"),
    [(full_disk, "The disk that holds the records is full."), (read_only, "can only be read")],
)
def test_a_signing_that_can_not_be_written_is_told_and_signed_once_it_can(
    unit: Unit, phone: Client, trouble: Callable[[], Any], expected: str
) -> None:
    # Findings enough that it needs more room than the last page has.
    note = {"severity": "note", "text": "Hose rubs " * 90, "act_by": None, "who_acts": ""}
    sent = payload(unit, findings=[note | {"number": number} for number in range(1, 9)])
    before = on_record()
    with trouble():
        answer = send(phone, sent)
    assert answer.status_code == 503, answer.content
    assert expected in answer.json()["errors"][""][0]
    assert "Nothing was recorded." in answer.json()["errors"][""][0]
    assert answer["Retry-After"] == "30"
    assert on_record() == before
    assert send(phone, sent).status_code == 201
    assert on_record()[0] == before[0] + 1


def test_a_page_is_told_in_words_without_the_records(
    phone: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(type(connection.cursor()), "execute", _gone)
        answer = phone.get("/")
    assert answer.status_code == 503
    assert "The records do not answer at present." in answer.content.decode()
    assert phone.get("/").status_code == 200


@pytest.mark.parametrize(
    ("method", "name", "headers"),
    [
        ("get", "field-pack", {}),
        ("put", "field-photo", {}),
        ("post", "passkey-options", {}),
        ("get", "board", {"Accept": "application/json"}),
        ("get", "board", {"Accept": "application/json, text/plain;q=0.5"}),
    ],
)
def test_who_asks_for_json_is_told_in_json_without_the_records(
    phone: Client, monkeypatch: pytest.MonkeyPatch, method: str, name: str, headers: Any
) -> None:
    url = reverse(name, args=[uuid.uuid4()] if name == "field-photo" else [])
    with monkeypatch.context() as patch:
        patch.setattr(type(connection.cursor()), "execute", _gone)
        answer = getattr(phone, method)(url, headers=headers)
    assert (answer.status_code, answer["Content-Type"]) == (503, "application/json")
    assert "The records do not answer at present." in answer.json()["errors"][""][0]
    assert answer["Retry-After"] == "30"


@pytest.mark.parametrize("accept", ["text/html,application/xhtml+xml,*/*;q=0.8", "*/*", ""])
def test_a_browser_is_told_in_a_page(
    phone: Client, monkeypatch: pytest.MonkeyPatch, accept: str
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(type(connection.cursor()), "execute", _gone)
        answer = phone.get("/", headers={"Accept": accept})
    assert answer.status_code == 503
    assert answer["Content-Type"].startswith("text/html")


def test_a_program_is_told_of_its_own_problem_without_the_records(
    unit: Unit, phone: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    token = token_of(unit.manager).secret
    with monkeypatch.context() as patch:
        patch.setattr(type(connection.cursor()), "execute", _gone)
        answer = phone.get("/api/v1/units", headers={"Authorization": f"Bearer {token}"})
    assert answer.status_code == 503
    assert answer["Content-Type"] == "application/problem+json"


def _gone(*_: Any, **__: Any) -> Any:
    raise OperationalError("server closed the connection unexpectedly")


def test_a_connection_that_is_lost_is_made_anew(unit: Unit, phone: Client) -> None:
    if connection.vendor != "postgresql":
        pytest.skip("SQLite has no connection to lose")
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_backend_pid()")
        (process,) = cursor.fetchone()
    real: Any = connections["default"]
    other = type(real)(real.settings_dict, "default")
    try:
        with other.cursor() as cursor:
            cursor.execute("SELECT pg_terminate_backend(%s)", [process])
    finally:
        other.close()
    sent = payload(unit)
    assert send(phone, sent).status_code in (201, 503)
    connection.close()
    assert send(phone, sent).status_code in (200, 201)
    assert Inspection.objects.filter(submission_id=sent["id"]).count() == 1


def test_a_program_is_told_as_programs_are(unit: Unit) -> None:
    program = Client(raise_request_exception=False)
    secret = token_of(unit.manager).secret
    with read_only():
        answer = program.post(
            "/api/v1/inspections",
            {},
            content_type="application/json",
            headers={"Authorization": f"Bearer {secret}"},
        )
    assert answer.status_code == 503
    assert answer["Content-Type"] == "application/problem+json"


def test_other_faults_are_no_trouble_with_the_records() -> None:
    assert words_of(ValueError("disk is full")) == ""
    assert words_of(None) == ""


@pytest.mark.parametrize(
    ("what", "worker", "expected"),
    [
        ("register", "a worker", "A register or a sheet is being taken in"),
        ("register", "", "Others are writing"),
        ("export", "a worker", "Others are writing"),
    ],
)
def test_who_waits_in_vain_is_told_where_a_register_is_being_taken_in(
    unit: Unit, what: str, worker: str, expected: str
) -> None:
    LongWork.objects.create(what=what, arguments={}, asked_by=unit.manager, worker=worker)
    for said in ("database is locked", "canceling statement due to lock timeout"):
        told = words_of(OperationalError(said))
        assert told.startswith(expected)
        assert "Nothing was recorded." in told


@pytest.mark.parametrize(
    ("said", "options"),
    [
        ("", "-c lock_timeout=20s"),
        ("?options=-c%20lock_timeout%3D60s", "-c lock_timeout=20s -c lock_timeout=60s"),
    ],
)
def test_on_postgresql_too_nobody_waits_for_others_beyond_what_is_set(
    tmp_path: Path, said: str, options: str
) -> None:
    address = f"postgres://site@localhost/ledger{said}"
    seen = settings_seen(tmp_path, "DATABASES", DATABASE_URL=address)
    assert seen["DATABASES"]["default"]["OPTIONS"] == {"options": options}
