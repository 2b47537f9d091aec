from __future__ import annotations

from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command
from django.core.management.base import CommandError
from django.test import Client
from django.urls import reverse

from fleet.people.recording import role_of
from fleet.roles import MANAGER
from tests.commands import manage
from tests.factories import ManagerFactory

pytestmark = pytest.mark.django_db


def first_manager(**options: Any) -> str:
    out = StringIO()
    given: dict[str, Any] = {"username": "kay", "name": "Kay Lund", "link": True} | options
    call_command("first_manager", stdout=out, **given)
    return out.getvalue()


def test_the_first_manager_chooses_a_password_by_the_link_printed() -> None:
    link = first_manager().split()[-1]
    kay = User.objects.get()
    assert (role_of(kay), kay.get_full_name()) == (MANAGER, "Kay Lund")
    assert not kay.is_superuser
    sent = {"password": "tall crane by the quay", "again": "tall crane by the quay"}
    assert Client().post(link, sent).status_code == 302
    signed = {"username": "kay", "password": sent["password"]}
    assert Client().post(reverse("sign-in"), signed).status_code == 302


def test_there_is_a_first_manager_once() -> None:
    there = ManagerFactory()
    with pytest.raises(CommandError, match=f"“{there.username}”.*is equipment manager here"):
        first_manager()
    assert not User.objects.filter(username="kay").exists()


def test_where_every_manager_is_deactivated_another_can_be_entered() -> None:
    ManagerFactory(is_active=False)
    first_manager()
    assert role_of(User.objects.get(username="kay")) == MANAGER


def test_nobody_to_ask_for_a_password_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", StringIO())
    with pytest.raises(CommandError, match="give --link"):
        first_manager(link=False)


def test_the_password_typed_is_held_to_the_same_rules(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("fleet.management.commands.first_manager.getpass", lambda _: "short")
    with pytest.raises(CommandError, match="too short"):
        first_manager(link=False)
    assert not User.objects.exists()


@pytest.mark.parametrize("username", ["kay lund", "k\u200bay", "x" * 200])
def test_a_name_that_cannot_be_is_refused(username: str) -> None:
    with pytest.raises(CommandError):
        first_manager(username=username)
    assert not User.objects.exists()


def test_an_empty_database_is_named_since_it_may_not_be_the_one_meant(tmp_path: Path) -> None:
    told = manage(tmp_path, "first_manager", "--username", "kay", "--name", "Kay Lund", "--link")
    assert told.returncode == 1
    assert told.stderr.startswith(
        f"CommandError: Nothing was done: the database {tmp_path / 'ledger.sqlite3'} is empty."
    )
