from __future__ import annotations

import uuid

from django.contrib.auth.models import User

from fleet.models import Yard
from fleet.people.recording import bind_to_yards
from tests.factories import ManagerFactory


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
