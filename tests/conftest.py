from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.test import Client, TransactionTestCase

from fleet.guards import AppendOnly
from tests.factories import AuditorFactory, DispatcherFactory, ManagerFactory
from tests.manage import manage


@cache
def append_only_tables() -> dict[Any, AppendOnly]:
    """Every model whose table a migration made append-only, and the guard on it."""
    migrations = MigrationLoader(None, ignore_no_migrations=True).disk_migrations
    return {
        apps.get_model(app_label, operation.model_name): operation
        for (app_label, _), migration in migrations.items()
        for operation in migration.operations
        if isinstance(operation, AppendOnly)
    }


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


@pytest.fixture(scope="session", autouse=True)
def _emptied_between_transactional_tests() -> Iterator[None]:
    """Tests that commit are followed by an emptying of the database, which triggers forbid."""
    plain = TransactionTestCase._fixture_teardown

    def teardown(self: Any) -> None:
        with append_only_lifted():
            plain(self)

    TransactionTestCase._fixture_teardown = teardown
    yield
    TransactionTestCase._fixture_teardown = plain


@pytest.fixture(autouse=True)
def _plain_http(settings: Any) -> None:
    """The test client and the live server speak plain HTTP; secure settings have their own test."""
    settings.SECURE_SSL_REDIRECT = False
    settings.SESSION_COOKIE_SECURE = False
    settings.CSRF_COOKIE_SECURE = False
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(autouse=True)
def _photos_of_a_test_s_own(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "media"


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
