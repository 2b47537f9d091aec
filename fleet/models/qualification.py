from __future__ import annotations

from datetime import date
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from fleet.dates import day_words
from fleet.models.recorded import Recorded
from fleet.roles import who_words


class QualificationQuerySet(models.QuerySet["Qualification"]):
    """Qualifications, by whether they hold."""

    def valid_on(self, day: date, purpose: str) -> Self:
        """Those that qualify for something on a day, of people who may sign in."""
        return self.filter(
            Q(expires_on__isnull=True) | Q(expires_on__gte=day),
            purpose=purpose,
            issued_on__lte=day,
            withdrawal__isnull=True,
            holder__is_active=True,
        )


class Qualification(Recorded):
    """What somebody is qualified for, by which paper, and until when."""

    class Purpose(models.TextChoices):
        RELEASES = "releases", "releases to service"
        RATES = "rates", "approval of rates"
        YEARLY = "yearly", "yearly inspections"

    holder = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, related_name="qualifications"
    )
    purpose = models.CharField("what for", max_length=12, choices=Purpose)
    certificate = models.CharField(
        "by what",
        max_length=120,
        help_text="The certificate, training or long practice, with its number.",
    )
    issued_on = models.DateField("since")
    expires_on = models.DateField(
        "until", null=True, blank=True, help_text="Its last day. Leave blank where it has none."
    )

    objects = QualificationQuerySet.as_manager()

    class Meta:
        ordering = ["-issued_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="qualification_for_something_known",
                condition=Q(purpose__in=["releases", "rates", "yearly"]),
            ),
            models.CheckConstraint(name="qualification_by_something", condition=~Q(certificate="")),
            models.CheckConstraint(
                name="qualification_ends_after_it_begins",
                condition=Q(expires_on__isnull=True) | Q(expires_on__gte=F("issued_on")),
            ),
        ]

    def __str__(self) -> str:
        return f"{who_words(self.holder)}, {self.certificate}"

    @property
    def until_words(self) -> str:
        """Say how long it holds."""
        return f"until {day_words(self.expires_on)}" if self.expires_on else "with no last day"


class QualificationWithdrawal(Recorded):
    """A qualification holds no longer, from when this was recorded."""

    qualification = models.OneToOneField(Qualification, models.PROTECT, related_name="withdrawal")
    reason = models.CharField(max_length=200)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="qualification_withdrawn_for_a_reason", condition=~Q(reason="")
            ),
        ]

    def __str__(self) -> str:
        return f"withdrawn: {self.qualification}"
