"""Who may do what: a manager writes, a dispatcher plans extractions, an auditor reads."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from django.contrib.auth.decorators import permission_required
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest

MANAGER = "equipment manager"
DISPATCHER = "dispatcher"
AUDITOR = "auditor"
# The widest first: who has one may do all that those after it may.
ROLES = (MANAGER, DISPATCHER, AUDITOR)

READ = "fleet.read_records"
RECORD = "fleet.keep_records"
PLAN = "fleet.plan_jobs"
RIGHTS: dict[str, tuple[str, ...]] = {
    MANAGER: (READ, PLAN, RECORD),
    DISPATCHER: (READ, PLAN),
    AUDITOR: (READ,),
}

# On a page that writes: the right it asks for.
RIGHT_ASKED = "right_asked"
View = TypeVar("View", bound=Callable[..., Any])


def _required(right: str) -> Callable[[View], View]:
    def guard(view: View) -> View:
        guarded = permission_required(right, raise_exception=True)(view)
        setattr(guarded, RIGHT_ASKED, right)
        return guarded

    return guard


manager_required = _required(RECORD)
planner_required = _required(PLAN)


def ensure_roles(**_: Any) -> None:
    """Make the three groups, and give each the rights it has."""
    from django.apps import apps
    from django.contrib.auth.management import create_permissions
    from django.contrib.auth.models import Group

    # Django makes an app's permissions on this same signal, and may come to it after us.
    create_permissions(apps.get_app_config("fleet"), verbosity=0)
    for role, rights in RIGHTS.items():
        group, _created = Group.objects.get_or_create(name=role)
        group.permissions.set(_permissions(*rights))


def _permissions(*names: str) -> Any:
    from django.contrib.auth.models import Permission

    codenames = [name.split(".")[1] for name in names]
    return Permission.objects.filter(content_type__app_label="fleet", codename__in=codenames)


def signed_in(request: HttpRequest) -> User:
    """Return who makes the request; the login middleware lets nobody else this far."""
    assert isinstance(request.user, User)
    return request.user


def keeps_records_now(person: User) -> bool:
    """Whether somebody may keep records at this moment, whatever they could when they signed in."""
    return User.objects.get(pk=person.pk).has_perm(RECORD)


def refuse_without_role(person: User, act: str) -> None:
    """Raise ValidationError where somebody keeps no records any more.

    act: what another one must do in their place, such as "confirm it".
    """
    if not keeps_records_now(person):
        raise ValidationError(
            f"{who_words(person)} is no equipment manager who signs in: another one must {act}."
        )


def managers_but(person: User) -> QuerySet[User]:
    """Return who else may keep records now: a second person where one is needed."""
    managers = User.objects.filter(groups__name=MANAGER, is_active=True).exclude(pk=person.pk)
    return managers.order_by("last_name", "first_name", "username").distinct()


def who_words(user: User) -> str:
    """Return a person's name as papers and pages write it."""
    return user.get_full_name() or user.get_username()
