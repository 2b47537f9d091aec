from __future__ import annotations

import uuid

from django.contrib.auth.models import Group, User

from fleet.models import Yard
from fleet.people.recording import bind_to_yards
from tests.factories import ManagerFactory, YardFactory


def bound_to(*yards: Yard, person: User | None = None) -> User:
    """A manager who is bound to some yards, read anew as a request reads them."""
    person = person or ManagerFactory()
    bind_to_yards(
        submission_id=uuid.uuid4(),
        user=person,
        yards=yards,
        reason="Works there alone",
        by=ManagerFactory(),
    )
    return User.objects.get(pk=person.pk)


def may_no_more(person: User, change: str) -> None:
    """Take from a manager what they could when they asked: their role, a way in, or every yard."""
    if change == "role":
        person.groups.remove(*Group.objects.all())
    elif change == "access":
        User.objects.filter(pk=person.pk).update(is_active=False)
    else:
        bound_to(YardFactory(), person=person)
