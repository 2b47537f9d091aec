"""Who may do what by a token: every operation, every role, every method."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError

from fleet.models import ApiScope
from fleet.roles import AUDITOR, DISPATCHER, MANAGER, ROLES
from inspections.api.resources import RESOURCES
from inspections.api.site import api
from tests.all_tables import changed, everything
from tests.factories import AuditorFactory, DispatcherFactory, ManagerFactory
from tests.inspections.api.asking import Program, program_of, token_of

pytestmark = pytest.mark.django_db

# What each address takes beside being read: by which scope, and as which roles.
RECORDED = {
    "inspections": (ApiScope.INSPECTIONS, {MANAGER}),
    "bench-tests": (ApiScope.TESTS, {MANAGER}),
    "hour-readings": (ApiScope.HOURS, {MANAGER}),
    "pulls": (ApiScope.PULLS, {MANAGER, DISPATCHER}),
}
METHODS = ("get", "post", "put", "patch", "delete")


def person_of(role: str) -> User:
    makers: dict[str, Any] = {
        MANAGER: ManagerFactory,
        DISPATCHER: DispatcherFactory,
        AUDITOR: AuditorFactory,
    }
    user: User = makers[role]()
    return user


def ask(program: Program, method: str, path: str) -> int:
    headers = program.headers | {"Idempotency-Key": str(uuid.uuid4())}
    given: dict[str, Any] = {"headers": headers}
    if method != "get":
        given |= {"data": "{}", "content_type": "application/json"}
    status: int = getattr(program.client, method)(f"/api/v1/{path}", **given).status_code
    return status


def test_every_operation_is_spoken_of_here() -> None:
    document = api.get_openapi_schema(path_prefix="/api/v1/")
    told = {(method, path) for path, methods in document["paths"].items() for method in methods}
    read = {("get", f"/api/v1/{each.name}") for each in RESOURCES}
    one = {("get", f"/api/v1/{each.name}/{{key}}") for each in RESOURCES}
    assert told == read | one | {("post", f"/api/v1/{name}") for name in RECORDED}


@pytest.mark.parametrize("role", ROLES)
def test_each_role_reads_all_by_a_token_that_reads(role: str) -> None:
    program = program_of(person_of(role), [ApiScope.READ])
    for each in RESOURCES:
        assert ask(program, "get", each.name) == 200, each.name


@pytest.mark.parametrize("role", ROLES)
def test_a_token_that_reads_records_nothing(role: str) -> None:
    program = program_of(person_of(role), [ApiScope.READ])
    before = everything()
    for name in RECORDED:
        assert ask(program, "post", name) == 403, name
    assert changed(before) == set()


@pytest.mark.parametrize("name", RECORDED)
@pytest.mark.parametrize("role", ROLES)
def test_what_a_role_may_not_no_token_of_it_may(role: str, name: str) -> None:
    scope, roles = RECORDED[name]
    if role not in roles:
        with pytest.raises(ValidationError):
            token_of(person_of(role), [scope])
        return
    program = program_of(person_of(role), [scope])
    # It comes as far as what was sent, which is nothing.
    assert ask(program, "post", name) == 400
    assert ask(program, "get", name) == 403
    for other in set(RECORDED) - {name}:
        assert ask(program, "post", other) == 403, other


def test_no_method_does_more_than_is_told() -> None:
    program = program_of(ManagerFactory())
    before = everything()
    for each in RESOURCES:
        for method in METHODS[1:]:
            for path in (each.name, f"{each.name}/1"):
                if method == "post" and path in RECORDED:
                    continue
                assert ask(program, method, path) == 405, (method, path)
    assert changed(before) == set()


@pytest.mark.parametrize("method", METHODS)
def test_without_a_token_nothing_is_told_or_recorded(method: str) -> None:
    before = everything()
    # What no address takes is asked of each with a token, above.
    names = [each.name for each in RESOURCES] if method in ("get", "post") else [*RECORDED, "units"]
    for name in names:
        for path in (name, f"{name}/1"):
            takes = method == "get" or (method == "post" and path in RECORDED)
            assert ask(Program(""), method, path) == (401 if takes else 405), path
    assert changed(before) == set()


def test_rights_taken_otherwise_than_on_the_page_stop_a_token_too() -> None:
    person = ManagerFactory()
    program = program_of(person)
    person.groups.clear()
    assert ask(program, "get", "units") == 401
    assert ask(program, "post", "hour-readings") == 401
