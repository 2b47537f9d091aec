"""What works together with a hammer and has a life of its own: clamps and power packs."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, Self

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from fleet import clock
from fleet.characters import check_name

NO_SOURCE = (
    "This is blank, but figures are given: say where they were read, such as the data plate, and "
    "who read it when."
)


def refuse_figures_without_source(figures: Iterable[float | None], source: str) -> None:
    """Raise ValidationError where a figure is given and nobody says where it was read."""
    if any(each is not None for each in figures) and not source.strip():
        raise ValidationError({"figures_source": NO_SOURCE})


class Machine(models.Model):
    """A machine of the yard that is put on one hammer and another: where it belongs, its mark."""

    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="%(class)ss")
    mark = models.CharField(
        "yard mark",
        max_length=60,
        unique=True,
        help_text="What is painted on it.",
        validators=[check_name],
    )
    make = models.CharField(max_length=80, blank=True)
    type_name = models.CharField("type", max_length=80, blank=True)
    serial_number = models.CharField(max_length=80, blank=True)
    figures_source = models.CharField(
        "source of these figures",
        max_length=160,
        blank=True,
        help_text="Such as the data plate, and who read it when.",
    )
    note = models.TextField(blank=True, max_length=2000)
    retired_on = models.DateField(
        "out of use since",
        null=True,
        blank=True,
        help_text="Blank while it is in use. One out of use goes on no hammer, and stays on "
        "record.",
    )

    class Meta:
        abstract = True
        ordering = ["mark"]

    def __str__(self) -> str:
        return self.mark

    @property
    def figures(self) -> dict[str, float | None]:
        """The figures somebody read off it, by the name of their field."""
        raise NotImplementedError

    def clean(self) -> None:
        """Refuse figures of which nobody says where they were read. Raises ValidationError."""
        super().clean()
        refuse_figures_without_source(self.figures.values(), self.figures_source)


class OnHammerQuerySet(models.QuerySet[Any]):
    """Machines on hammers, by when they are there."""

    def current(self) -> Self:
        """Those of today: the machine is not taken off."""
        return self.filter(removed_at__isnull=True)

    def at(self, moment: datetime) -> Self:
        """Those of a moment."""
        return self.filter(fitted_at__lte=moment).exclude(removed_at__lte=moment)


class OnHammer(models.Model):
    """A machine on a hammer, from one time to another.

    Who put it there and took it off is blank where that was before the site kept it.
    """

    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, related_name="%(class)ss")
    fitted_at = models.DateTimeField()
    removed_at = models.DateTimeField(null=True, blank=True)
    submission_id = models.UUIDField(
        unique=True, null=True, help_text="Made with the form: a second copy of it changes nothing."
    )
    recorded_at = models.DateTimeField(default=clock.now, editable=False)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    removal_id = models.UUIDField(unique=True, null=True)
    removed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )

    objects = OnHammerQuerySet.as_manager()

    class Meta:
        abstract = True
        ordering = ["-fitted_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                name="%(class)s_one_on_a_hammer", fields=["hammer"], condition=Q(removed_at=None)
            ),
            models.CheckConstraint(
                name="%(class)s_ends_after_it_begins",
                condition=Q(removed_at__isnull=True) | Q(removed_at__gte=F("fitted_at")),
            ),
        ]
