from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from fleet.characters import check_name
from fleet.models.machine import MachineSort
from fleet.models.recorded import Recorded


class InspectionKind(models.TextChoices):
    """What an inspection is for; each has a checklist and a place in the schedule."""

    PAD_COUNT = "pad count", "pad count"
    SHIFT = "each shift", "each shift"
    MONTHLY = "monthly", "monthly"
    YEARLY = "yearly", "yearly"
    AFTER_REPAIR = "after repair", "after repair"
    BEFORE_EXTRACTION = "before extraction", "before extraction"


# What each common kind looks at: one inspection of it counts for each of those that hang together.
SORTS_OF_COMMON_KINDS = {
    kind: (MachineSort.HOUSING,) if kind is InspectionKind.PAD_COUNT else tuple(MachineSort)
    for kind in InspectionKind
}

# Of a table with columns kind and own_kind: a common kind, or one of the yard's own.
ONE_KIND = Q(kind__in=InspectionKind.values, own_kind__isnull=True) | Q(
    kind="", own_kind__isnull=False
)


LONGEST_NAME = 40


class OwnKindQuerySet(models.QuerySet["OwnKind"]):
    """Kinds of inspection of the yard's own."""

    def in_use(self) -> Self:
        """Those not retired."""
        return self.filter(retirement__isnull=True)

    def retired(self) -> Self:
        """Those no longer used."""
        return self.filter(retirement__isnull=False)


class OwnKind(Recorded):
    """A kind of inspection the yard added to the common ones, such as an oil change."""

    name = models.CharField(
        max_length=LONGEST_NAME, unique=True, help_text="In small letters.", validators=[check_name]
    )

    looks_at_hammer = models.BooleanField("the hammer", default=False)
    looks_at_housing = models.BooleanField("the housing with its pads", default=False)
    looks_at_clamp = models.BooleanField("the clamp", default=False)
    looks_at_power_pack = models.BooleanField("the power pack", default=False)
    needs_pads = models.BooleanField("every pad counted", default=False)
    needs_travel = models.BooleanField("the travel taped", default=False)
    needs_hours = models.BooleanField("the hour meter read", default=False)

    objects = OwnKindQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                name="own_kind_looks_at_something",
                condition=~Q(**{f"looks_at_{sort.column}": False for sort in MachineSort}),
            ),
            models.CheckConstraint(
                name="own_kind_in_small_letters", condition=Q(name=Lower("name"))
            ),
            models.CheckConstraint(
                name="own_kind_is_no_common_one",
                condition=~Q(name__in=["", *InspectionKind.values]),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def sorts(self) -> tuple[MachineSort, ...]:
        """The sorts of machine it looks at."""
        return tuple(sort for sort in MachineSort if getattr(self, f"looks_at_{sort.column}"))

    @property
    def needs(self) -> tuple[str, ...]:
        """What an inspection must hold to count as one of this kind."""
        return tuple(need for need in ("pads", "travel", "hours") if getattr(self, f"needs_{need}"))


class KindRetirement(Recorded):
    """A kind is no longer used: nothing is due of it any more and no phone offers it."""

    kind = models.OneToOneField(OwnKind, models.PROTECT, related_name="retirement")
    retired_at = models.DateTimeField()

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"retired: {self.kind}"
