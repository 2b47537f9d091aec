"""Whoever committed a unit is told by letter what became of it: once for each fall."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core import mail
from django.core.management import call_command
from django.utils import timezone
from django.utils.timezone import localdate

from inspections.schedule.commitment_letters import send_commitment_letters
from ratings.jobs.ahead import Plan
from ratings.jobs.commitments import commit_unit, confirm_commitment, release_unit
from ratings.models import Commitment, CommitmentLetter, ConditionKind
from tests.builders import Unit, count, days_ago
from tests.factories import DispatcherFactory, ManagerFactory
from tests.job_builders import commit, extraction_job, figured_unit

pytestmark = pytest.mark.django_db

CRACKED = {f"A{number}": "cracked" for number in (1, 2, 3)}


def committed(unit: Unit, **more: Any) -> Commitment:
    by = DispatcherFactory(email="plans@ledger.example")
    return commit(unit, extraction_job(site="Ferry slip", **more), by=by)


def crack(unit: Unit) -> None:
    count(unit.housing, unit.manager, unit.lot, unsound=CRACKED, at=timezone.now())


def test_nothing_is_written_while_all_is_as_it_was() -> None:
    committed(figured_unit())
    assert send_commitment_letters() == []
    assert mail.outbox == []


def test_a_fall_is_told_once_to_whoever_committed_it() -> None:
    unit = figured_unit()
    made = committed(unit)
    crack(unit)
    for _ in range(3):
        send_commitment_letters("https://ledger.example")
    [letter] = mail.outbox
    assert letter.to == ["plans@ledger.example"]
    assert f"{unit.housing.mark} for Ferry slip" in letter.subject
    assert "Do not send it out. The standing of" in letter.body
    assert f"https://ledger.example/commitments/{made.pk}/" in letter.body


def test_a_second_fall_after_it_held_again_is_told_again() -> None:
    unit = figured_unit()
    made = committed(unit)
    crack(unit)
    send_commitment_letters()
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    confirm_commitment(
        is_care_known=True,
        watched_by="Odd Brandt",
        submission_id=uuid.uuid4(),
        commitment=made,
        by=DispatcherFactory(email="b@ledger.example"),
    )
    send_commitment_letters()
    crack(unit)
    send_commitment_letters()
    assert ["It holds again" in each.body for each in mail.outbox] == [False, True, False]
    # From then on it is told to who answered it last.
    assert mail.outbox[-1].to == ["b@ledger.example"]


def test_a_released_one_is_told_no_more() -> None:
    unit = figured_unit()
    made = committed(unit)
    crack(unit)
    release_unit(commitment=made, reason="Rained off.", by=DispatcherFactory())
    assert send_commitment_letters() == []


def test_a_condition_that_comes_due_is_told_once() -> None:
    unit = figured_unit(counted_at=days_ago(60))
    plan = Plan(ConditionKind.COUNT, localdate(), localdate() + timedelta(days=1))
    commit_unit(
        is_care_known=True,
        watched_by="Odd Brandt",
        submission_id=uuid.uuid4(),
        job=extraction_job(),
        housing=unit.housing,
        by=DispatcherFactory(email="plans@ledger.example"),
        plans=[plan],
    )
    for _ in range(2):
        send_commitment_letters()
    [letter] = mail.outbox
    assert "To be done: count every pad and tape the travel" in letter.body


def test_where_who_committed_has_no_address_the_other_dispatchers_are_told() -> None:
    unit = figured_unit()
    commit(unit)
    crack(unit)
    assert send_commitment_letters() == []
    DispatcherFactory(email="other@ledger.example")
    assert send_commitment_letters() == ["other@ledger.example"]


def test_what_could_not_be_sent_is_told_the_next_time(monkeypatch: pytest.MonkeyPatch) -> None:
    unit = figured_unit()
    committed(unit)
    crack(unit)

    def refuse(*_: Any, **__: Any) -> None:
        raise OSError("no server")

    with monkeypatch.context() as patched:
        patched.setattr("inspections.schedule.commitment_letters.send_mail", refuse)
        assert send_commitment_letters() == []
    assert not CommitmentLetter.objects.exists()
    assert send_commitment_letters() == ["plans@ledger.example"]


def test_the_daily_command_sends_them(capsys: pytest.CaptureFixture[str]) -> None:
    unit = figured_unit()
    committed(unit)
    ManagerFactory(email="yard@ledger.example")
    crack(unit)
    call_command("digest", site="https://ledger.example/")
    assert "Told plans@ledger.example of their commitments." in capsys.readouterr().out
    assert ["plans@ledger.example"] in [each.to for each in mail.outbox]
