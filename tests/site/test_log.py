"""What is refused, broken or not sent is logged, and no secret with it."""

from __future__ import annotations

import logging
import smtplib
import uuid
from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.db.models import F
from django.test import Client
from django.urls import reverse

from inspections.count.submission import ChangedMeanwhile, Submission, refuse_if_changed
from inspections.schedule.calendar import make_feed, revoke_feed
from inspections.waiting import digest
from ratings.models import LedgerEntry
from tests.builders import rated_unit
from tests.factories import ManagerFactory
from tests.inspections.field.sent import payload, send, signed_in

pytestmark = pytest.mark.django_db


def logged(caplog: pytest.LogCaptureFixture, name: str) -> str:
    """The lines of one logger, each with its level."""
    return "\n".join(
        f"{record.levelname} {record.getMessage()}"
        for record in caplog.records
        if record.name == name
    )


def test_what_a_phone_sent_and_was_refused_is_logged_with_why(
    caplog: pytest.LogCaptureFixture,
) -> None:
    unit = rated_unit()
    assert send(signed_in(unit.manager), payload(unit, travel_in="far")).status_code == 422
    line = logged(caplog, "inspections.field.views")
    assert line.startswith(f"WARNING refused with 422: POST {reverse('field-inspections')}")
    assert unit.manager.username in line
    assert "travel_in" in line


def test_what_a_phone_sent_and_was_taken_is_not_logged(caplog: pytest.LogCaptureFixture) -> None:
    unit = rated_unit()
    assert send(signed_in(unit.manager), payload(unit)).status_code == 201
    assert logged(caplog, "inspections.field.views") == ""


def test_a_failed_sign_in_is_logged_by_name_and_never_with_what_was_typed(
    client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    somebody = ManagerFactory()
    for username in (somebody.username, "pass-in-the-wrong-field"):
        client.post(reverse("sign-in"), {"username": username, "password": "not-it-at-all"})
    line = logged(caplog, "fleet.views")
    assert line == (
        f"WARNING sign-in failed for “{somebody.username}”\n"
        "WARNING sign-in failed for a name nobody here has"
    )


def test_a_page_refused_by_role_is_logged(
    auditor_client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    answer = auditor_client.get(reverse("exchange"))
    assert answer.status_code == 403
    assert "Not for your role" in answer.content.decode()
    assert f"refused by role: GET '{reverse('exchange')}'" in logged(caplog, "fleet.views")


def test_a_calendar_refused_is_logged_without_its_secret(
    client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    person = ManagerFactory()
    secret = make_feed(person)
    revoke_feed(person)
    assert client.get(f"/calendar/{secret}.ics").status_code == 404
    assert "WARNING calendar refused" in logged(caplog, "inspections.schedule.views")
    ours = [record for record in caplog.records if not record.name.startswith("django")]
    assert not any(secret in record.getMessage() for record in ours)


def test_what_django_says_of_an_address_not_found_stays_off_the_console() -> None:
    assert not logging.getLogger("django.request").isEnabledFor(logging.WARNING)


def test_a_register_that_is_no_file_of_ours_is_logged(
    manager_client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    sent = SimpleUploadedFile("register.xlsx", b"no workbook")
    assert manager_client.post(reverse("exchange"), {"file": sent}).status_code == 200
    assert "refused" in logged(caplog, "inspections.exchange.views")


def test_letters_that_were_not_sent_are_logged_and_the_others_go_out(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    rated_unit()
    ManagerFactory(email="gone@ledger.example")
    ManagerFactory(email="here@ledger.example")
    reached = []

    def send_mail(_subject: str, _text: str, _sender: None, to: list[str]) -> None:
        if to == ["gone@ledger.example"]:
            raise smtplib.SMTPServerDisconnected("the line dropped")
        reached.extend(to)

    monkeypatch.setattr(digest, "send_mail", send_mail)
    with pytest.raises(CommandError, match="Not sent to gone@"):
        call_command("digest")
    assert reached == ["here@ledger.example"]
    assert logged(caplog, "inspections.waiting.digest") == (
        "ERROR digest not sent to gone@ledger.example: SMTPServerDisconnected: the line dropped"
    )


def test_a_ledger_that_does_not_hold_is_logged(
    tampering: Callable[[], AbstractContextManager[None]], caplog: pytest.LogCaptureFixture
) -> None:
    unit = rated_unit()
    with tampering():
        LedgerEntry.objects.filter(housing=unit.housing).update(pull_lbf=F("pull_lbf") + 1)
    with pytest.raises(CommandError):
        call_command("ledger", "verify")
    said = f"ERROR the ledger does not hold: housing {unit.housing.mark}, entry 2: pull_lbf"
    assert said in logged(caplog, "ratings.record.verify")


def test_a_signing_based_on_a_ledger_that_moved_on_is_logged(
    caplog: pytest.LogCaptureFixture,
) -> None:
    unit = rated_unit()
    based_on_the_first = Submission(uuid.uuid4(), based_on=1)
    with caplog.at_level(logging.INFO, logger="inspections"), pytest.raises(ChangedMeanwhile):
        refuse_if_changed(unit.housing, based_on_the_first)
    line = logged(caplog, "inspections.count.submission")
    assert line == f"INFO signing at {unit.housing} refused: based on entry 1, and 2 stands"
