"""Addresses for monitors, the log as JSON lines, and the daily command."""

from __future__ import annotations

import json
import logging
import sys
from io import StringIO
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command
from django.db import OperationalError, connection
from django.test import Client, override_settings
from django.urls import reverse

from fleet.config.json_lines import JsonLines
from ratings.models import Seal, Verification
from ratings.record.daily import seal_and_verify
from tests.builders import Unit, rated_unit
from tests.factories import AuditorFactory

pytestmark = pytest.mark.django_db
TOKEN = "long and random"


def test_a_process_that_lives_says_so_without_the_database(
    client: Client, django_assert_num_queries: pytest.FixtureRequest
) -> None:
    with django_assert_num_queries(0):  # type: ignore[operator]
        assert client.get(reverse("health")).status_code == 200


def test_a_site_that_can_serve_says_so_over_plain_http_too(client: Client) -> None:
    with override_settings(SECURE_SSL_REDIRECT=True):
        assert client.get(reverse("ready")).status_code == 200


def test_a_site_without_its_database_or_its_tables_is_not_ready(client: Client) -> None:
    executor = "ratings.upkeep.views.MigrationExecutor"
    with patch(executor, side_effect=OperationalError("connection refused")):
        answer = client.get(reverse("ready"))
    assert (answer.status_code, answer.content) == (503, b"The database does not answer.\n")
    with patch(f"{executor}.migration_plan", return_value=["one"]):
        assert client.get(reverse("ready")).status_code == 503


def test_metrics_are_not_there_unless_a_token_is_set(client: Client) -> None:
    answer = client.get(reverse("metrics"), headers={"Authorization": "Bearer "})
    assert answer.status_code == 404


@pytest.mark.parametrize("brought", [None, "Bearer ", "Bearer wrong", TOKEN, "Bearer ü"])
@override_settings(METRICS_TOKEN=TOKEN)
def test_metrics_are_given_to_nobody_without_the_token(client: Client, brought: str | None) -> None:
    answer = client.get(reverse("metrics"), headers={"Authorization": brought} if brought else {})
    assert answer.status_code == 401
    assert b"line_pull" not in answer.content


@override_settings(METRICS_TOKEN=TOKEN)
def test_metrics_tell_of_the_record_and_of_long_work(client: Client) -> None:
    unit: Unit = rated_unit()
    seal_and_verify()
    answer = client.get(reverse("metrics"), headers={"Authorization": f"Bearer {TOKEN}"})
    told = dict(line.split(" ") for line in answer.content.decode().splitlines() if line[:1] != "#")
    assert float(told["line_pull_ledger_entries"]) == unit.housing.ledger_entries.count()
    assert float(told["line_pull_ledger_verified_faults"]) == 0
    assert float(told["line_pull_ledger_long_works"]) == 0
    sealed = Seal.objects.get().made_at.timestamp()
    assert float(told["line_pull_ledger_sealed_timestamp_seconds"]) == pytest.approx(sealed)


def test_a_line_of_the_log_is_one_object_with_its_trouble() -> None:
    try:
        raise ValueError("two\nlines")
    except ValueError:
        trouble = sys.exc_info()
    record = logging.LogRecord("fleet", logging.ERROR, "", 1, "not %s", ("sent",), trouble)
    line = JsonLines().format(record)
    told = json.loads(line)
    assert "\n" not in line
    assert (told["level"], told["logger"], told["message"]) == ("ERROR", "fleet", "not sent")
    assert told["trouble"].endswith("ValueError: two\nlines")


def test_the_daily_command_does_all_of_it_and_tells_what_failed() -> None:
    unit = rated_unit()
    User.objects.filter(pk=unit.manager.pk).update(email="kay@yard.example")
    out, err = StringIO(), StringIO()
    with (
        patch(
            "inspections.management.commands.forecasts.keep_monthly", side_effect=OSError("full")
        ),
        pytest.raises(CommandError, match=r"Not done, or amiss: forecasts\. Why stands above"),
    ):
        call_command("daily", "--as", unit.manager.username, stdout=out, stderr=err)
    assert "forecasts: OSError: full" in err.getvalue()
    assert [line for line in out.getvalue().splitlines() if line.startswith("== ")][-1] == (
        "== digest --site"
    )
    assert Verification.objects.get().faults == 0


@pytest.mark.parametrize("made", [AuditorFactory, None])
def test_the_daily_command_does_nothing_in_the_name_of_who_keeps_no_records(
    made: type[AuditorFactory] | None,
) -> None:
    username = made().username if made else "nobody"
    out = StringIO()
    with pytest.raises(CommandError, match=f"--as is '{username}': give the username of an eq"):
        call_command("daily", "--as", username, stdout=out)
    assert out.getvalue() == ""


def test_the_daily_command_fails_where_the_record_does_not_hold_once_all_else_is_done(
    tmp_path: Path,
) -> None:
    unit = rated_unit()
    User.objects.filter(pk=unit.manager.pk).update(email="kay@yard.example")
    with connection.cursor() as cursor:
        cursor.execute("UPDATE fleet_yard SET place = 'elsewhere'")
    out, err = StringIO(), StringIO()
    with (
        patch("inspections.management.commands.daily.call_command", _all_but_backup),
        pytest.raises(CommandError, match=r"Not done, or amiss: digest\. Why stands above"),
    ):
        call_command(
            *("daily", "--as", unit.manager.username, "--backup", str(tmp_path)),
            stdout=out,
            stderr=err,
        )
    assert "digest: CommandError: THE RECORD DOES NOT HOLD" in err.getvalue()
    assert f"== backup {tmp_path}" in out.getvalue()


def _all_but_backup(name: str, *more: str, **to: Any) -> None:
    # How one is made is no matter here.
    if name != "backup":
        call_command(name, *more, **to)
