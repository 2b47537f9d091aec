"""A replica of the records: which pages are read from it, and when none is."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import OperationalError, connections, transaction
from django.test import Client, override_settings
from django.urls import get_resolver, reverse
from django.utils import timezone

from fleet import replica
from fleet.models import SuppressorHousing
from fleet.replica import PAGES, RECORDED, read_from_replica
from ratings.upkeep import checks
from tests.builders import rated_unit
from tests.factories import ManagerFactory
from tests.site.html_form import words
from tests.site.test_security import settings_seen

pytestmark = pytest.mark.django_db(transaction=True)
OLD, NEW, LATER = "SH-before", "SH-now", "SH-later"


@pytest.fixture
def copy(tmp_path: Path) -> Iterator[SuppressorHousing]:
    """The records of a moment, as replica; a housing has been marked anew since then."""
    real: Any = connections["default"]
    if real.vendor != "sqlite":
        pytest.skip("on PostgreSQL a replica streams: there it is a run of its own")
    unit = rated_unit()
    SuppressorHousing.objects.filter(pk=unit.housing.pk).update(mark=OLD)
    real.ensure_connection()
    with closing(sqlite3.connect(tmp_path / "copy.sqlite3")) as target:
        real.connection.backup(target)
    there = {**real.settings_dict, "NAME": str(tmp_path / "copy.sqlite3")}
    connections["replica"] = type(real)(there, "replica")
    SuppressorHousing.objects.filter(pk=unit.housing.pk).update(mark=NEW)
    with override_settings(DATABASE_ROUTERS=["fleet.replica.Router"], READS_REPLICA=True):
        yield unit.housing
    connections["replica"].close()
    del connections["replica"]


@pytest.fixture(autouse=True)
def _asked_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(replica, "_known", None)


def aged(monkeypatch: pytest.MonkeyPatch, seconds: float | None) -> None:
    monkeypatch.setattr(replica, "ask_age_seconds", lambda: seconds)


def board(client: Client) -> str:
    return words(client.get(reverse("board")))


def reader(manager: User) -> Client:
    client = Client()
    client.force_login(manager)
    return client


def test_a_page_that_lists_is_read_from_the_replica(
    copy: SuppressorHousing, manager_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    aged(monkeypatch, 0.0)
    page = board(manager_client)
    assert OLD in page
    assert NEW not in page
    assert "As recorded until" not in page


def test_it_says_of_when_it_is_where_that_is_a_while_ago(
    copy: SuppressorHousing, manager_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    aged(monkeypatch, 5.0)
    page = board(manager_client)
    assert OLD in page
    assert "As recorded until" in page


def test_a_list_narrowed_anew_says_so_itself(
    copy: SuppressorHousing, manager_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    aged(monkeypatch, 5.0)
    asked = {"HX-Request": "true"}
    part = words(manager_client.get(reverse("board"), {"mounted": ""}, headers=asked))
    assert OLD in part
    assert "Show SI" not in part
    assert "As recorded until" in part


def test_a_file_to_be_saved_is_read_from_the_records(
    copy: SuppressorHousing, manager_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    aged(monkeypatch, 0.0)
    day = timezone.localdate().isoformat()
    saved = manager_client.get(reverse("board-as-of-csv"), {"day": day}).content.decode()
    assert NEW in saved
    assert OLD not in saved


@pytest.mark.parametrize("age", [10.5, 3_600.0, None])
def test_one_that_is_too_old_or_cannot_tell_is_not_read(
    copy: SuppressorHousing,
    manager_client: Client,
    monkeypatch: pytest.MonkeyPatch,
    age: float | None,
) -> None:
    aged(monkeypatch, age)
    page = board(manager_client)
    assert NEW in page
    assert "As recorded until" not in page


def test_on_sqlite_none_can_tell(copy: SuppressorHousing, manager_client: Client) -> None:
    assert NEW in board(manager_client)


def test_a_page_that_is_not_named_is_read_from_the_records(
    copy: SuppressorHousing, manager_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    aged(monkeypatch, 0.0)
    assert NEW in words(manager_client.get(reverse("unit", args=[copy.pk])))


def test_whoever_recorded_something_reads_the_records_for_a_while(
    copy: SuppressorHousing, manager: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    aged(monkeypatch, 0.0)
    client, other = reader(manager), reader(ManagerFactory())
    answer = client.post(reverse("choose-units"), {"units": "si", "back": "/"})
    assert answer.cookies[RECORDED]["max-age"] == 30
    assert NEW in board(client)
    assert OLD in board(other)


def test_what_is_read_from_it_is_written_to_the_records(copy: SuppressorHousing) -> None:
    with read_from_replica():
        housing = SuppressorHousing.objects.get(pk=copy.pk)
        assert housing.mark == OLD
        housing.mark = LATER
        housing.save(update_fields=["mark"])
        with transaction.atomic():
            locked = SuppressorHousing.objects.select_for_update().get(pk=copy.pk)
        assert locked.mark == LATER
    assert SuppressorHousing.objects.get(pk=copy.pk).mark == LATER


def test_who_may_do_what_is_read_from_the_records(copy: SuppressorHousing, manager: User) -> None:
    User.objects.filter(pk=manager.pk).update(is_active=False)
    with read_from_replica():
        assert not User.objects.get(pk=manager.pk).is_active


def test_one_that_falls_away_over_a_page_costs_nobody_the_page(
    copy: SuppressorHousing, manager_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    aged(monkeypatch, 0.0)
    (Path(connections["replica"].settings_dict["NAME"])).write_bytes(b"no database any more")
    assert NEW in board(manager_client)


def test_one_that_does_not_answer_is_left_alone_for_a_while(
    copy: SuppressorHousing, manager_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def ask() -> float:
        asked.append(1)
        raise OperationalError("gone")

    monkeypatch.setattr(replica, "ask_age_seconds", ask)
    assert NEW in board(manager_client)
    assert NEW in board(manager_client)
    assert len(asked) == 1


def test_every_page_named_is_one() -> None:
    assert set(get_resolver().reverse_dict) >= PAGES


def test_it_is_read_only_where_its_address_is_set(tmp_path: Path) -> None:
    names = ("READS_REPLICA", "REPLICA_SECONDS", "DATABASE_ROUTERS")
    assert settings_seen(tmp_path, *names[:2]) == {"READS_REPLICA": False, "REPLICA_SECONDS": 10}
    seen = settings_seen(
        tmp_path,
        *names,
        DATABASE_URL="postgres://site@localhost/ledger",
        DATABASE_REPLICA_URL="postgres://site@copy/ledger",
        LEDGER_REPLICA_SECONDS="3",
    )
    assert seen == dict(zip(names, (True, 3, ["fleet.replica.Router"]), strict=True))


def test_what_its_address_says_of_the_connection_holds(tmp_path: Path) -> None:
    address = "postgres://site@copy/ledger?sslmode=verify-full&options=-c%20work_mem%3D64MB"
    seen = settings_seen(
        tmp_path,
        "DATABASES",
        DATABASE_URL="postgres://site@localhost/ledger",
        DATABASE_REPLICA_URL=address,
    )
    assert seen["DATABASES"]["replica"]["OPTIONS"] == {
        "sslmode": "verify-full",
        "connect_timeout": 3,
        "options": "-c work_mem=64MB -c default_transaction_read_only=on",
    }


@pytest.mark.parametrize(
    ("age", "said"), [(0.0, "good the replica is 0 s behind"), (60.0, "look"), (None, "WRONG")]
)
def test_the_doctor_says_how_old_it_is(
    monkeypatch: pytest.MonkeyPatch, age: float | None, said: str
) -> None:
    monkeypatch.setattr(checks, "ask_age_seconds", lambda: age)
    with override_settings(READS_REPLICA=True):
        (found,) = checks.look_at_replica()
    assert f"{found.state} {found.words}".startswith(said)
