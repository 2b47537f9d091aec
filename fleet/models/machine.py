"""Machines: what hangs together as a unit, each with a life and records of its own."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, Self, TypeVar

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from fleet import clock
from fleet.characters import check_name


class MachineSort(models.TextChoices):
    """What a machine of the yard is. A unit is those that hang together today."""

    HAMMER = "hammer", "hammer"
    HOUSING = "housing", "housing"
    CLAMP = "clamp", "clamp"
    POWER_PACK = "power pack", "power pack"

    @property
    def column(self) -> str:
        """The field that holds a machine of this sort, in whatever names one."""
        return self.value.replace(" ", "_")

    @property
    def slug(self) -> str:
        """How an address names it."""
        return self.value.replace(" ", "-")


_SORT_BY_MODEL = {
    "hammer": MachineSort.HAMMER,
    "suppressorhousing": MachineSort.HOUSING,
    "clamp": MachineSort.CLAMP,
    "powerpack": MachineSort.POWER_PACK,
}


def sort_of(machine: models.Model) -> MachineSort:
    """Return what sort of machine a record is. Raises KeyError for a record of anything else."""
    return _SORT_BY_MODEL[str(machine._meta.model_name)]


def column_of(machine: models.Model) -> dict[str, models.Model]:
    """Return the field that names a machine and the machine, to make or look up records with."""
    return {sort_of(machine).column: machine}


def one_of(columns: Iterable[str]) -> Q:
    """Return that exactly one of some fields is set."""
    names = list(columns)
    either = Q()
    for chosen in names:
        either |= Q(**{f"{name}__isnull": name != chosen for name in names})
    return either


NO_SOURCE = (
    "This is blank, but figures are given: say where they were read, such as the data plate, and "
    "who read it when."
)


def refuse_figures_without_source(figures: Iterable[float | None], source: str) -> None:
    """Raise ValidationError where a figure is given and nobody says where it was read."""
    if any(each is not None for each in figures) and not source.strip():
        raise ValidationError({"figures_source": NO_SOURCE})


Row = TypeVar("Row", bound=models.Model)


class OfOneMachineQuerySet(models.QuerySet[Row]):
    """Records of one machine each, by whose they are."""

    def of(self, machine: models.Model) -> Self:
        """Those of one machine."""
        return self.filter(**column_of(machine))

    def of_any(self, machines: Iterable[models.Model]) -> Self:
        """Those of any of some machines; none where none is given."""
        keys: dict[str, list[Any]] = {}
        for machine in machines:
            keys.setdefault(sort_of(machine).column, []).append(machine.pk)
        asked = Q(pk__in=[])
        for column, of_sort in keys.items():
            asked |= Q(**{f"{column}__in": of_sort})
        return self.filter(asked)

    def in_yards(self, yards: Iterable[Any]) -> Any:
        """Those of a machine that stands in one of some yards."""
        asked = Q()
        for sort in MachineSort:
            asked |= Q(**{f"{sort.column}__yard__in": yards})
        return self.filter(asked)

    def with_unit(self) -> Any:
        """Add unit_today: the key of the housing of the unit its machine is part of today.

        None for a machine that hangs on no housing.
        """
        mounted = self.model._meta.apps.get_model("fleet", "Mounting").objects.current()

        def housing_of(**by: Any) -> Subquery:
            return Subquery(mounted.filter(**by).values("housing")[:1])

        return self.annotate(
            unit_today=Coalesce(
                "housing_id",
                housing_of(hammer=OuterRef("hammer")),
                housing_of(
                    hammer__clampfittings__clamp=OuterRef("clamp"),
                    hammer__clampfittings__removed_at=None,
                ),
                housing_of(
                    hammer__powerpackconnections__power_pack=OuterRef("power_pack"),
                    hammer__powerpackconnections__removed_at=None,
                ),
                output_field=models.BigIntegerField(),
            )
        )

    def of_units(self, housings: Iterable[int]) -> Any:
        """Those of any machine that is part today of the units of some housings, by their keys."""
        return self.with_unit().filter(unit_today__in=housings)


class OfOneMachine(models.Model):
    """A record that belongs to one machine, and stays with it whatever it hangs on.

    A model of it sets default_related_name, by which each machine has its own.
    """

    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, null=True, blank=True)
    housing = models.ForeignKey("fleet.SuppressorHousing", models.PROTECT, null=True, blank=True)
    clamp = models.ForeignKey("fleet.Clamp", models.PROTECT, null=True, blank=True)
    power_pack = models.ForeignKey("fleet.PowerPack", models.PROTECT, null=True, blank=True)

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                name="%(class)s_of_one_machine",
                condition=one_of(sort.column for sort in MachineSort),
            )
        ]

    @property
    def sort(self) -> MachineSort:
        """Which sort of machine it belongs to."""
        return next(each for each in MachineSort if getattr(self, f"{each.column}_id") is not None)

    @property
    def machine(self) -> Any:
        """The machine it belongs to."""
        return getattr(self, self.sort.column)


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
