from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from fleet.models.housing import (
    LARGEST_TRAVEL_IN,
    Condition,
    Side,
    position_field,
    travel_field,
)
from fleet.models.machine import MachineSort
from fleet.models.recorded import CorrectableQuerySet, Recorded
from inspections.models.kind import ONE_KIND, InspectionKind

if TYPE_CHECKING:
    from fleet.models.any_machine import AnyMachine

LONGEST_TRAVEL_REASON = 200
LONGEST_REASON = 200
LONGEST_NOTE = 2000
# Asked in these very words, those of a housing are found by their index.
IS_CORRECTION = Q(corrects__isnull=False) | Q(corrects_replacement__isnull=False)


class Inspection(Recorded):
    """What one person saw at a unit or a machine at a time: pads, travel, hours.

    hammer, housing, clamp, power_pack: what hung together when it was seen, by the mountings on
    record; of a machine inspected by itself, that one alone.
    """

    hammer = models.ForeignKey(
        "fleet.Hammer", models.PROTECT, null=True, related_name="inspections"
    )
    housing = models.ForeignKey(
        "fleet.SuppressorHousing", models.PROTECT, null=True, related_name="inspections"
    )
    clamp = models.ForeignKey("fleet.Clamp", models.PROTECT, null=True, related_name="inspections")
    power_pack = models.ForeignKey(
        "fleet.PowerPack", models.PROTECT, null=True, related_name="inspections"
    )
    kind = models.CharField(
        max_length=20, choices=InspectionKind, default=InspectionKind.PAD_COUNT, blank=True
    )
    own_kind = models.ForeignKey(
        "inspections.OwnKind", models.PROTECT, null=True, related_name="inspections"
    )
    seen_at = models.DateTimeField()
    weather = models.CharField(max_length=80, blank=True)
    travel_in = travel_field(
        "travel, taped from rest to the stops",
        null=True,
        help_text="Leave blank where it was not taped.",
    )
    travel_reason = models.CharField(
        "why the travel is beyond the design travel",
        max_length=LONGEST_TRAVEL_REASON,
        blank=True,
    )
    hour_reading = models.OneToOneField(
        "fleet.HourReading", models.PROTECT, null=True, related_name="inspection"
    )
    pack_hour_reading = models.OneToOneField(
        "fleet.HourReading", models.PROTECT, null=True, related_name="inspection_of_pack"
    )
    note = models.TextField(blank=True, max_length=LONGEST_NOTE)
    corrects = models.OneToOneField("self", models.PROTECT, null=True, related_name="corrected_by")
    corrects_replacement = models.OneToOneField(
        "inspections.PadReplacement", models.PROTECT, null=True, related_name="corrected_by"
    )
    correction_reason = models.CharField(max_length=200, blank=True)
    sound_again_reason = models.CharField(
        "why pads found unsound before are sound",
        max_length=LONGEST_REASON,
        blank=True,
        help_text="Such as “wiped clean: the crack was a scratch in the paint”.",
    )
    second_look_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        verbose_name="who else looks at them",
        related_name="+",
    )
    is_before_second_looks = models.BooleanField(
        default=False,
        editable=False,
        help_text="Recorded when a count alone still made an unsound pad sound.",
    )
    lacks = models.CharField(
        max_length=120,
        blank=True,
        editable=False,
        help_text="What it lacks to count as one of its kind; blank where it counts.",
    )

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        ordering = ["-seen_at", "-pk"]
        # The newest of a housing or a hammer are found without reading all of its life.
        indexes = [
            models.Index(name="inspection_newest", fields=["housing", "seen_at", "recorded_at"]),
            models.Index(name="inspection_newest_of_hammer", fields=["hammer", "seen_at"]),
            models.Index(
                name="inspection_newest_that_heals",
                fields=["housing", "seen_at", "recorded_at"],
                condition=Q(is_before_second_looks=True),
            ),
            models.Index(
                name="inspection_corrections", fields=["housing"], condition=IS_CORRECTION
            ),
        ]
        constraints = [
            models.CheckConstraint(name="inspection_kind_known", condition=ONE_KIND),
            models.CheckConstraint(
                name="inspection_of_some_machine",
                condition=~Q(**{f"{sort.column}__isnull": True for sort in MachineSort}),
            ),
            models.CheckConstraint(
                name="inspection_travel_in_range",
                condition=Q(travel_in__isnull=True)
                | Q(travel_in__gt=0, travel_in__lte=LARGEST_TRAVEL_IN),
            ),
            models.CheckConstraint(
                name="inspection_corrects_one_thing_with_a_reason",
                condition=Q(
                    corrects__isnull=True, corrects_replacement__isnull=True, correction_reason=""
                )
                | (
                    (Q(corrects__isnull=True) | Q(corrects_replacement__isnull=True))
                    & ~Q(correction_reason="")
                ),
            ),
            models.CheckConstraint(
                name="inspection_second_look_by_another",
                condition=Q(second_look_by__isnull=True) | ~Q(second_look_by=F("recorded_by")),
            ),
        ]

    def __str__(self) -> str:
        return f"inspection {self.pk} of {self.inspected}"

    @property
    def machines(self) -> dict[MachineSort, AnyMachine]:
        """The machines it looked at, by their sort."""
        found = {sort: getattr(self, sort.column) for sort in MachineSort}
        return {sort: machine for sort, machine in found.items() if machine is not None}

    @property
    def inspected(self) -> AnyMachine:
        """The housing, or the machine that was looked at by itself."""
        machines = self.machines
        return machines.get(MachineSort.HOUSING) or next(iter(machines.values()))

    @property
    def kind_name(self) -> str:
        return self.own_kind.name if self.own_kind else self.kind

    @property
    def is_correction(self) -> bool:
        return self.corrects_id is not None or self.corrects_replacement_id is not None


class SecondLook(Recorded):
    """What another person found of pads that an inspection said are sound again."""

    inspection = models.OneToOneField(Inspection, models.PROTECT, related_name="second_look")
    is_agreed = models.BooleanField()
    reason = models.CharField(max_length=LONGEST_REASON)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(name="second_look_has_a_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"second look at {self.inspection}"


class PadCount(models.Model):
    """What was seen at one pad position in one inspection. Never edited."""

    inspection = models.ForeignKey(Inspection, models.PROTECT, related_name="pads")
    side = models.CharField(max_length=1, choices=Side)
    number = position_field()
    condition = models.CharField(max_length=10, choices=Condition)
    lot = models.ForeignKey("fleet.PadLot", models.PROTECT, null=True, related_name="pads_seen")

    class Meta:
        ordering = ["side", "number"]
        # Which inspections found an unsound pad is found without reading a pad of all others.
        indexes = [
            models.Index(
                name="pad_count_unsound",
                fields=["inspection"],
                condition=~Q(condition=Condition.SOUND),
            )
        ]
        constraints = [
            models.UniqueConstraint(
                name="pad_counted_once", fields=["inspection", "side", "number"]
            ),
            models.CheckConstraint(
                name="pad_count_position_and_condition_known",
                condition=Q(side__in=Side.values, number__gte=1, condition__in=Condition.values),
            ),
            models.CheckConstraint(
                name="pad_count_missing_has_no_lot",
                condition=~Q(condition=Condition.MISSING) | Q(lot__isnull=True),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.side}{self.number} {self.condition}"
