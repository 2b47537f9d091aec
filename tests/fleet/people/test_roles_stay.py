"""The groups that the roles rest on can be neither removed nor renamed, by whatever way."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import Group
from django.db import IntegrityError, connection, transaction

from fleet.roles import ROLES, ensure_roles
from tests.factories import ManagerFactory

pytestmark = pytest.mark.django_db


def bare_sql(statement: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement)


@pytest.mark.parametrize("role", ROLES)
def test_no_role_is_removed(role: str) -> None:
    person = ManagerFactory()
    group = Group.objects.get(name=role)
    with pytest.raises(IntegrityError, match="the site rests on it"), transaction.atomic():
        group.delete()
    assert person.groups.filter(name=ROLES[0]).exists()
    assert Group.objects.filter(name=role).exists()


@pytest.mark.parametrize("role", ROLES)
def test_no_role_is_renamed(role: str) -> None:
    with pytest.raises(IntegrityError, match="the site rests on it"), transaction.atomic():
        Group.objects.filter(name=role).update(name="anybody")


def test_not_by_bare_sql_either() -> None:
    Group.objects.get(name="auditor").permissions.clear()
    with pytest.raises(IntegrityError), transaction.atomic():
        bare_sql("DELETE FROM auth_group WHERE name = 'auditor'")


def test_a_group_of_a_yard_s_own_comes_and_goes_and_roles_are_given_rights_again() -> None:
    own = Group.objects.create(name="night shift")
    own.name = "day shift"
    own.save()
    own.delete()
    Group.objects.get(name=ROLES[0]).permissions.clear()
    ensure_roles()
    assert Group.objects.get(name=ROLES[0]).permissions.count() == 3
