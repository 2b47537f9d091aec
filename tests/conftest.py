from __future__ import annotations

import fcntl
import gc
import os
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.core.management.color import no_style
from django.db import OperationalError, connection, transaction
from django.test import Client, TransactionTestCase, override_settings

from fleet import unchanged
from fleet.guards import AppendOnly, append_only_guards
from fleet.journal.adoption import adopt
from fleet.long_work import queue
from tests.browser.chromium import browser, visit
from tests.bucket import bucket, s3_server
from tests.commands import manage
from tests.factories import AuditorFactory, DispatcherFactory, ManagerFactory

# Fixtures of every test: one browser for the whole run, and one store of files.
__all__ = ["browser", "bucket", "s3_server", "visit"]


@cache
def append_only_tables() -> dict[Any, AppendOnly]:
    """Every model whose table a migration made append-only, and the guard on it."""
    return append_only_guards()


@contextmanager
def append_only_lifted() -> Iterator[None]:
    """Let rows be changed and removed, as only somebody with the database in hand could."""
    guards = append_only_tables()
    with connection.cursor() as cursor:
        for model, guard in guards.items():
            for statement in guard.removal_statements(connection.vendor, model):
                cursor.execute(statement)
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            for model, guard in guards.items():
                for statement in guard.install_statements(connection.vendor, model):
                    cursor.execute(statement)


def pytest_collection_finish() -> None:
    """Let the garbage collector pass over what stands to the end: that is a twelfth of the work."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


# What a migration or its signal lays down and no test changes.
LAID_DOWN = {
    "auth_group",
    "auth_group_permissions",
    "auth_permission",
    "django_content_type",
}
ATTEMPTS_AT_EMPTYING = 5


def empty_the_database(_case: Any) -> None:
    """Remove what a test committed, as flush would; the roles and their rights stay."""
    unchanged.forget()
    tables = set(connection.introspection.django_table_names(only_existing=True)) - LAID_DOWN
    statements = connection.ops.sql_flush(no_style(), sorted(tables))
    # A page that a browser had open may still be reading through the server's own connection. Where
    # both wait for each other the database breaks one off, and the emptying is tried again.
    for left in reversed(range(ATTEMPTS_AT_EMPTYING)):
        try:
            with append_only_lifted():
                connection.ops.execute_sql_flush(statements)
            for model in (Group, Group.permissions.through):
                adopt(model, is_new=True)
            return
        except OperationalError:
            if not left:
                raise
            time.sleep(0.5)


@pytest.fixture(scope="session", autouse=True)
def _emptied_between_transactional_tests() -> Iterator[None]:
    """Tests that commit are followed by an emptying of the database, which triggers forbid."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", empty_the_database)
        yield


@pytest.fixture(scope="session", autouse=True)
def _settings_of_all_tests(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Plain HTTP, as the test client speaks it, passwords hashed fast, and photos in a folder.

    Secure settings have a test of their own.
    """
    media = tmp_path_factory.mktemp("photos") / "media"
    with override_settings(
        SECURE_SSL_REDIRECT=False,
        SESSION_COOKIE_SECURE=False,
        CSRF_COOKIE_SECURE=False,
        PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"],
        MEDIA_ROOT=media,
    ):
        yield media


@pytest.fixture(scope="module", autouse=True)
def _photos_of_a_file_s_own(_settings_of_all_tests: Path) -> Iterator[None]:
    yield
    if _settings_of_all_tests.exists():
        shutil.rmtree(_settings_of_all_tests)


@pytest.fixture(scope="module")
def module_db(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """What fixtures of a file record once stands for all tests in it, and goes after them.

    What a test itself records still goes after that test. Not for tests that commit.
    """
    with django_db_blocker.unblock(), transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.fixture(autouse=True)
def _nothing_in_hands() -> None:
    """What a test took up and did not end is undone with it, and its key comes again."""
    queue._in_own_hands.clear()


@pytest.fixture
def within_one_minute(monkeypatch: pytest.MonkeyPatch) -> None:
    """However slow the machine: what is counted by the minute of the clock is of one minute."""
    now = time.time()
    held = SimpleNamespace(time=lambda: now)
    monkeypatch.setattr("fleet.throttle.time", held)


@pytest.fixture(scope="session")
def demo_loaded(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A folder in which the demo was loaded, and what the command printed.

    Loading takes long, so it is done once however many processes run the tests.
    """
    shared = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        # The folder of each worker lies in the one of the run.
        shared = shared.parent
    folder, printed = shared / "demo", shared / "demo.txt"
    with (shared / "demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not printed.exists():
            folder.mkdir()
            done = manage(folder, "demo", "--no-serve")
            assert done.returncode == 0, done.stderr
            printed.write_text(done.stdout)
    return folder, printed.read_text()


@pytest.fixture
def tampering() -> Any:
    """A context in which the append-only triggers are lifted."""
    return append_only_lifted


@pytest.fixture
def manager(db: None) -> Any:
    return ManagerFactory()


@pytest.fixture
def manager_client(manager: Any) -> Client:
    client = Client()
    client.force_login(manager)
    return client


@pytest.fixture
def dispatcher_client(db: None) -> Client:
    client = Client()
    client.force_login(DispatcherFactory())
    return client


@pytest.fixture
def auditor_client(db: None) -> Client:
    client = Client()
    client.force_login(AuditorFactory())
    return client
