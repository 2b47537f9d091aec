from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet import clock
from fleet.models.recorded import Recorded


class Person(models.Model):
    """What the site keeps of somebody beside name, role and password."""

    user = models.OneToOneField(settings.AUTH_USER_MODEL, models.PROTECT, related_name="person")
    yard = models.ForeignKey(
        "fleet.Yard", models.PROTECT, null=True, blank=True, related_name="people"
    )
    must_change_password = models.BooleanField(
        default=False, help_text="The password is one a manager gave: it is changed first of all."
    )

    def __str__(self) -> str:
        return str(self.user)


class PersonChange(Recorded):
    """What was changed of a person: by whom, from what to what and why. Never edited.

    Of a password it says that it changed, never what it is.
    """

    class Kind(models.TextChoices):
        ENTERED = "entered", "entered"
        NAME = "name", "name"
        EMAIL = "email", "e-mail address"
        ROLE = "role", "role"
        YARD = "yard", "yard"
        BOUND = "bound", "bound to yards"
        DEACTIVATED = "deactivated", "deactivated"
        REACTIVATED = "reactivated", "let in again"
        PASSWORD_GIVEN = "password given", "password given by a manager"
        LINK_GIVEN = "link given", "one-time link given"
        LOCK_LIFTED = "lock lifted", "lock of wrong passwords lifted"
        SECOND_STEP_ON = "second step on", "second step set up"
        SECOND_STEP_OFF = "second step off", "second step taken away"
        RECOVERY_CODES = "recovery codes", "recovery codes made anew"
        PASSWORD_CHANGED = "password changed", "own password changed"

    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, related_name="changes_of_person"
    )
    kind = models.CharField(max_length=16, choices=Kind)
    before = models.CharField(max_length=320, blank=True)
    after = models.CharField(max_length=320, blank=True)
    reason = models.CharField("why", max_length=200, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="person_change_kind_known",
                condition=Q(
                    kind__in=[
                        "entered",
                        "name",
                        "email",
                        "role",
                        "yard",
                        "bound",
                        "deactivated",
                        "reactivated",
                        "password given",
                        "link given",
                        "lock lifted",
                        "second step on",
                        "second step off",
                        "recovery codes",
                        "password changed",
                    ]
                ),
            ),
            models.CheckConstraint(
                name="person_deactivated_for_a_reason",
                condition=~Q(
                    kind__in=["bound", "deactivated", "role", "reactivated", "second step off"]
                )
                | ~Q(reason=""),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user}: {self.kind}"


class YardBindingQuerySet(models.QuerySet["YardBinding"]):
    """Who is bound to which yards."""

    def in_force(self) -> Self:
        """Those that nobody has lifted."""
        return self.filter(end__isnull=True)


class YardBinding(Recorded):
    """That somebody acts only on what stands in a yard, or in others they are bound to as well.

    Who is bound to none acts in every yard. Never edited: it holds until its end is on record.
    turn, follows: the how-manieth of them in this yard, and the end of the one before, so that
    the database itself lets one hold at a time.
    """

    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, related_name="bindings_to_yards"
    )
    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="bindings")
    reason = models.CharField("why", max_length=200)
    turn = models.PositiveIntegerField(default=1)
    follows = models.OneToOneField(
        "fleet.YardBindingEnd", models.PROTECT, null=True, related_name="followed_by"
    )

    objects = YardBindingQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        verbose_name = "binding to a yard"
        verbose_name_plural = "bindings to yards"
        constraints = [
            models.UniqueConstraint(
                name="bound_to_a_yard_once_at_a_time", fields=["user", "yard", "turn"]
            ),
            models.CheckConstraint(
                name="bound_again_once_lifted",
                condition=Q(turn=1, follows__isnull=True) | Q(turn__gt=1, follows__isnull=False),
            ),
            models.CheckConstraint(
                name="bound_by_another_for_a_reason",
                condition=~Q(user=models.F("recorded_by")) & ~Q(reason=""),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user} bound to {self.yard}"


class YardBindingEnd(Recorded):
    """That a binding to a yard holds no more. Never edited."""

    binding = models.OneToOneField(YardBinding, models.PROTECT, related_name="end")
    reason = models.CharField("why", max_length=200)

    class Meta:
        ordering = ["-pk"]
        verbose_name = "end of a binding to a yard"
        verbose_name_plural = "ends of bindings to yards"
        constraints = [
            models.CheckConstraint(
                name="binding_lifted_for_a_reason",
                condition=~Q(reason=""),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.binding}: lifted"


class PersonName(models.Model):
    """What somebody is called from a moment on, until the next. Never edited.

    Written with the person and with every change of their name, whoever makes it and by whatever
    way: what was signed bears the name of that moment (fleet.signers).
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="names")
    name = models.CharField(max_length=320)
    known_from = models.DateTimeField(default=clock.now, editable=False)

    class Meta:
        ordering = ["user", "known_from", "pk"]
        constraints = [
            models.CheckConstraint(name="person_name_not_blank", condition=~Q(name="")),
        ]

    def __str__(self) -> str:
        return self.name
