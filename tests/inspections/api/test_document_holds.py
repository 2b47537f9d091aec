"""What the document says is so: whatever is asked or sent is answered as it tells."""

from __future__ import annotations

import os
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest
import schemathesis
from django.core.cache import cache as kept
from django.core.handlers.wsgi import WSGIHandler
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from hypothesis import HealthCheck, settings

from inspections.api.resources import RESOURCES
from inspections.api.site import api
from tests.builders import Unit, drafted_test, rated_unit
from tests.factories import ManagerFactory
from tests.inspections.api.asking import token_of
from tests.job_builders import commit, figured_unit, pull_done

pytestmark = pytest.mark.django_db

# What the records refuse is a 422 or a 409, however well it is written: an id that nothing has.
CONFIG = schemathesis.Config.from_dict(
    {
        "checks": {
            "positive_data_acceptance": {"expected-statuses": ["2xx", 304, 404, 409, 422]},
            "negative_data_rejection": {"expected-statuses": [400, 401, 404, 405, 415, 422]},
        },
        "phases": {
            "coverage": {"generate-duplicate-query-parameters": True},
        },
    }
)
DOCUMENT: dict[str, Any] = dict(api.get_openapi_schema(path_prefix="/api/v1/"))
# All lists and records are made in one way: each shape is asked here, and every kind of record in
# a run of its own with ALL_KINDS=1.
SHAPES = ("units", "photos", "people", "pad-lots", "ledger-entries", "inspections")
READ = "|".join(each.name for each in RESOURCES if "ALL_KINDS" in os.environ or each.name in SHAPES)


@cache
def site() -> WSGIHandler:
    """The site as a server runs it, made when the settings of the tests hold."""
    return WSGIHandler()


def application(environ: Any, start_response: Any) -> Any:
    return site()(environ, start_response)


def schema_of(paths: str, method: str) -> Any:
    found = schemathesis.openapi.from_dict(DOCUMENT, config=CONFIG)
    found.app = application
    return found.include(path_regex=f"^/api/v1/({paths})(/|$)", method=method)


@pytest.fixture(scope="module")
def secret(module_db: None) -> str:
    """A token of a manager of a yard that has a record of most kinds."""
    unit: Unit = rated_unit()
    drafted_test(unit.lot, unit.manager)
    pull_done(commit(figured_unit()))
    return token_of(ManagerFactory()).secret


@pytest.fixture(autouse=True)
def _asked_within_the_test(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    # Requests without a token, and with a wrong one, are made on purpose, and many.
    monkeypatch.setattr("fleet.throttle.FAILURES_IN_A_MINUTE", 10**6)
    # A server lets go of the database after each request; the test holds it in a transaction.
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)
    kept.clear()


FEW = settings(
    max_examples=3,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
    database=None,
)
MORE = settings(FEW, max_examples=10)


@schema_of(READ, "GET").parametrize()  # type: ignore[untyped-decorator]
@FEW
def test_whatever_is_asked_is_answered_as_the_document_tells(case: Any, secret: str) -> None:
    case.call_and_validate(headers={"Authorization": f"Bearer {secret}"})


@schema_of("inspections|bench-tests|hour-readings|pulls", "POST").parametrize()  # type: ignore[untyped-decorator]
@MORE
def test_whatever_is_sent_is_answered_as_the_document_tells(case: Any, secret: str) -> None:
    case.call_and_validate(headers={"Authorization": f"Bearer {secret}"})
