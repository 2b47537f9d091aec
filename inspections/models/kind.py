from __future__ import annotations

from datetime import datetime
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


class LooksAt(models.Model):
    """Which sorts of machine a kind of the yard's own looks at.

    A model of it sets its constraint by looks_at_something.
    """

    looks_at_hammer = models.BooleanField("the hammer", default=False)
    looks_at_housing = models.BooleanField("the housing with its pads", default=False)
    looks_at_clamp = models.BooleanField("the clamp", default=False)
    looks_at_power_pack = models.BooleanField("the power pack", default=False)

    class Meta:
        abstract = True

    @property
    def sorts_said(self) -> tuple[MachineSort, ...]:
        """The sorts of machine this record names."""
        return tuple(sort for sort in MachineSort if getattr(self, f"looks_at_{sort.column}"))


NEEDS = ("pads", "travel", "hours")


class Needs(models.Model):
    """What an inspection of a kind of the yard's own needs to count as one of it."""

    needs_pads = models.BooleanField("every pad counted", default=False)
    needs_travel = models.BooleanField("the travel taped", default=False)
    needs_hours = models.BooleanField("the hour meter read", default=False)
    needs_qualified = models.BooleanField(
        "signed by somebody qualified for yearly inspections", default=False
    )

    class Meta:
        abstract = True

    @property
    def needs_said(self) -> tuple[str, ...]:
        """What this record names that an inspection must hold, and who must sign it."""
        return tuple(need for need in (*NEEDS, "qualified") if getattr(self, f"needs_{need}"))


LOOKS_AT_SOMETHING = ~Q(**{f"looks_at_{sort.column}": False for sort in MachineSort})


class OwnKindQuerySet(models.QuerySet["OwnKind"]):
    """Kinds of inspection of the yard's own."""

    def in_use(self) -> Self:
        """Those not retired."""
        return self.filter(retirement__isnull=True)

    def retired(self) -> Self:
        """Those no longer used."""
        return self.filter(retirement__isnull=False)

    def with_changes(self) -> Self:
        """Read along with them what each looks at and needs. Two queries more."""
        return self.prefetch_related("sorts_changes", "needs_changes")


class OwnKind(Recorded, LooksAt, Needs):
    """A kind of inspection the yard added to the common ones, such as an oil change.

    What it looks at and needs is as it was first added; a later KindSorts or KindNeeds says it
    anew.
    """

    name = models.CharField(
        max_length=LONGEST_NAME, unique=True, help_text="In small letters.", validators=[check_name]
    )

    objects = OwnKindQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                name="own_kind_looks_at_something",
                condition=LOOKS_AT_SOMETHING,
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
        """The sorts of machine it looks at today."""
        return self.sorts_at(None)

    def sorts_at(self, moment: datetime | None) -> tuple[MachineSort, ...]:
        """The sorts of machine it looked at when something was seen; today unless one is given."""
        for change in self.sorts_changes.all():
            if moment is None or change.recorded_at <= moment:
                return change.sorts_said
        return self.sorts_said

    @property
    def needs(self) -> tuple[str, ...]:
        """What an inspection of it needs today, "qualified" among it where a person must be."""
        return self.needs_at(None)

    def needs_at(self, moment: datetime | None) -> tuple[str, ...]:
        """What one needed when something was seen; today unless a moment is given."""
        for change in self.needs_changes.all():
            if moment is None or change.recorded_at <= moment:
                return change.needs_said
        return self.needs_said


class KindNeeds(Recorded, Needs):
    """What an inspection of a kind needs from this record on, and why it was changed. Never edited.

    An inspection is held to what its kind needed when it was seen.
    """

    kind = models.ForeignKey(OwnKind, models.PROTECT, related_name="needs_changes")
    reason = models.CharField("why", max_length=200)

    class Meta:
        ordering = ["-recorded_at", "-pk"]
        constraints = [
            models.CheckConstraint(name="kind_needs_other_for_a_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.kind} needs {', '.join(self.needs_said) or 'nothing'}"


class KindSorts(Recorded, LooksAt):
    """What a kind looks at from this record on, and why it was changed. Never edited.

    An inspection counts for what its kind looked at when it was seen, so that those of before go
    on counting as they did.
    """

    kind = models.ForeignKey(OwnKind, models.PROTECT, related_name="sorts_changes")
    reason = models.CharField("why", max_length=200)

    class Meta:
        ordering = ["-recorded_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="kind_goes_on_looking_at_something", condition=LOOKS_AT_SOMETHING
            ),
            models.CheckConstraint(
                name="kind_looks_at_other_for_a_reason", condition=~Q(reason="")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} looks at {', '.join(self.sorts_said)}"


class KindRetirement(Recorded):
    """A kind is no longer used: nothing is due of it any more and no phone offers it."""

    kind = models.OneToOneField(OwnKind, models.PROTECT, related_name="retirement")
    retired_at = models.DateTimeField()

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"retired: {self.kind}"
