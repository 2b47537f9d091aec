"""What a site in service must have is looked at, and what lacks is told with what to do."""

from __future__ import annotations

import smtplib
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any
from unittest.mock import Mock, patch

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command
from django.db import OperationalError, connection
from django.test import override_settings
from django.utils import timezone

from fleet.models import Leaf, LongWork
from ratings.models import Verification
from ratings.record.daily import seal_and_verify
from ratings.upkeep import checks
from ratings.upkeep.checks import Found, State

pytestmark = pytest.mark.django_db


def told(each: checks.Look) -> str:
    """What a look found, a line each."""
    return "\n".join(f"{found.state} {found.words} → {found.what_to_do}" for found in each())


@pytest.mark.parametrize(
    ("setting", "expected"),
    [
        ({"DEBUG": True}, "WRONG DEBUG is on"),
        ({"DEBUG": False}, "good DEBUG is off"),
        ({"PLAIN_HTTP": True}, "WRONG pages and cookies travel without HTTPS"),
        ({"PLAIN_HTTP": False, "SECURE_PROXY_SSL_HEADER": None}, "look LEDGER_BEHIND_PROXY"),
        ({"ALLOWED_HOSTS": ["*"]}, "WRONG ALLOWED_HOSTS lets any name through"),
        ({"ALLOWED_HOSTS": ["localhost"]}, "WRONG ALLOWED_HOSTS names this machine alone"),
        ({"ALLOWED_HOSTS": ["ledger.example"]}, "good it answers to ledger.example"),
    ],
)
def test_settings_are_looked_at(setting: dict[str, Any], expected: str) -> None:
    with override_settings(**setting):
        assert expected in told(checks.look_at_settings)


def test_a_secret_key_that_can_be_guessed_is_wrong() -> None:
    with override_settings(SECRET_KEY="a" * 60):
        assert "WRONG the secret key can be guessed" in told(checks.look_at_secret_key)


def test_a_guard_that_is_gone_is_named(
    tampering: Callable[[], AbstractContextManager[None]],
) -> None:
    assert "good every guard" in told(checks.look_at_guards)
    with tampering():
        assert "guards of append-only tables are gone or altered" in told(checks.look_at_guards)


def test_a_role_that_could_lift_the_guards_is_told() -> None:
    expected = "who may do anything" if connection.vendor == "postgresql" else "on SQLite whoever"
    assert expected in told(checks.look_at_guards)


def test_a_site_nobody_can_set_up_is_wrong(db: None) -> None:
    assert "manage.py first_manager" in told(checks.look_at_people)


def test_a_site_with_a_manager_is_good(manager: User) -> None:
    assert told(checks.look_at_people).startswith("good")


def test_a_folder_of_photos_that_can_not_be_written_is_wrong(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with override_settings(MEDIA_ROOT=tmp_path / "file"):
        assert "WRONG photos and papers can’t be kept" in told(checks.look_at_files)


def test_a_folder_of_photos_that_others_may_read_is_wrong(tmp_path: Path) -> None:
    (tmp_path / "media").mkdir()
    with override_settings(MEDIA_ROOT=tmp_path / "media"):
        with patch.object(checks, "_is_private", return_value=False):
            assert "others on this machine may read" in told(checks.look_at_files)
        (tmp_path / "media").chmod(0o700)
        assert told(checks.look_at_files).startswith("good")
    assert list((tmp_path / "media").iterdir()) == []


def test_a_disk_that_is_nearly_full_is_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checks, "LEAST_FREE_BYTES", 10**18)
    monkeypatch.setattr(checks, "LEAST_FREE_PART", 1.0)
    assert "make room" in told(checks.look_at_disk)


def test_mail_that_is_not_set_up_or_not_taken_is_told() -> None:
    assert "look EMAIL_HOST is not set" in told(checks.look_at_mail)
    with (
        override_settings(EMAIL_HOST="mail.example"),
        patch.object(checks, "get_connection") as server,
    ):
        assert told(checks.look_at_mail).startswith("good")
        server.return_value.open.side_effect = smtplib.SMTPServerDisconnected("gone")
        assert "WRONG mail.example:587 does not take letters: gone" in told(checks.look_at_mail)


def test_something_on_record_of_a_time_to_come_is_wrong(manager: User) -> None:
    assert told(checks.look_at_clock).startswith("good")
    Leaf.objects.create(
        model="x", row_key="1", document="{}", leaf_hash="", recorded_at=timezone.now() + DAY
    )
    assert "which is still to come" in told(checks.look_at_clock)


DAY = timedelta(days=1)


def test_a_record_never_verified_then_verified_then_left_alone_is_told() -> None:
    assert "WRONG the record was never verified" in told(checks.look_at_record)
    seal_and_verify()
    assert "WRONG" not in told(checks.look_at_record)
    Verification.objects.create(
        at=timezone.now(), size=0, root="", is_whole=True, faults=1, words="row 1 differs"
    )
    assert "the record did not hold" in told(checks.look_at_record)
    with patch("ratings.upkeep.checks.timezone.now", return_value=timezone.now() + 2 * DAY):
        assert "the record was last verified on" in told(checks.look_at_record)


def test_long_work_that_waits_too_long_is_wrong(manager: User) -> None:
    assert "no worker runs" in told(checks.look_at_long_work)
    asked = timezone.now() - timedelta(hours=1)
    LongWork.objects.create(what="history", arguments={}, asked_by=manager, asked_at=asked)
    assert "WRONG 1 long works wait" in told(checks.look_at_long_work)


def printed() -> str:
    out = StringIO()
    try:
        call_command("doctor", stdout=out)
    except CommandError as trouble:
        return f"{out.getvalue()}{trouble}"
    return out.getvalue()


def test_the_command_says_of_all_that_is_wrong_what_to_do() -> None:
    answer = printed()
    assert "WRONG  settings: ALLOWED_HOSTS" in answer
    assert "of these are wrong" in answer
    for name in (*checks.OF_SETTINGS, *checks.OF_RECORDS):
        assert f"  {name}: " in answer


def test_a_database_that_does_not_answer_leaves_the_rest_looked_at() -> None:
    broken = Mock(side_effect=OperationalError("connection refused"))
    with patch.dict(checks.OF_SETTINGS, {"database": broken}):
        answer = printed()
    assert "WRONG  database: the database does not answer: connection refused." in answer
    assert "nothing on record could be looked at" in answer
    assert "  disk: " in answer


def test_a_fresh_machine_is_told_of_the_deployment() -> None:
    def none_there() -> Any:
        yield Found(State.WRONG, "300 migrations are not applied", "manage.py migrate")

    with patch.dict(checks.OF_SETTINGS, {"tables": none_there}):
        assert printed().startswith("On a machine where nothing is set up yet")
