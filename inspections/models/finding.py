from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Case, IntegerField, Q, Value, When

from fleet.models.machine import OfOneMachine, OfOneMachineQuerySet
from fleet.models.recorded import Recorded
from inspections.models.inspection import Inspection
from inspections.models.kept_picture import KeptPicture


class Severity(models.TextChoices):
    """How bad a finding is. The gravest takes the machine out of service at once."""

    MONITOR = "note", "monitor"
    REPAIR = "mend", "repair"
    DO_NOT_USE = "stop", "do not use"


class FindingQuerySet(OfOneMachineQuerySet["Finding"]):
    """Findings, by what is still to be done about them."""

    def open(self) -> Self:
        """Those nobody has closed."""
        return self.filter(closing__isnull=True)

    def with_gravity(self) -> Self:
        """Add gravity: 0 of the gravest, then as they follow."""
        order = enumerate(reversed(Severity))
        return self.annotate(
            gravity=Case(
                *(When(severity=each, then=Value(place)) for place, each in order),
                output_field=IntegerField(),
            )
        )

    def to_mend(self) -> Self:
        """Those open that are to be repaired, or worse, with their gravity."""
        return self.open().exclude(severity=Severity.MONITOR).with_gravity()


class Finding(OfOneMachine):
    """Something found wrong at a machine, who must act on it and by when. Never edited."""

    inspection = models.ForeignKey(Inspection, models.PROTECT, related_name="findings")
    number = models.PositiveSmallIntegerField(help_text="From 1 within its inspection.")
    item_key = models.CharField(max_length=40, blank=True, help_text="Of the checklist, if any.")
    severity = models.CharField(max_length=6, choices=Severity)
    text = models.CharField(max_length=1000)
    act_by = models.DateField(null=True)
    who_acts = models.CharField(max_length=80, blank=True)
    out_of_service = models.ForeignKey(
        "fleet.OutOfService", models.PROTECT, null=True, related_name="findings"
    )

    moved_from = models.OneToOneField(
        "self",
        models.PROTECT,
        null=True,
        related_name="moved_to",
        help_text="The same finding as it was first put to another machine by mistake.",
    )

    objects = FindingQuerySet.as_manager()

    class Meta:
        default_related_name = "findings"
        ordering = ["-pk"]
        constraints = [
            *OfOneMachine.Meta.constraints,
            models.UniqueConstraint(name="finding_numbered_once", fields=["inspection", "number"]),
            models.CheckConstraint(
                name="finding_severity_known", condition=Q(severity__in=Severity.values)
            ),
            models.CheckConstraint(
                name="finding_to_mend_says_who_and_when",
                condition=Q(severity="note") | (Q(act_by__isnull=False) & ~Q(who_acts="")),
            ),
            models.CheckConstraint(name="finding_says_what", condition=~Q(text="")),
        ]

    def __str__(self) -> str:
        return f"{self.machine}: {self.text}"


class FindingClosing(Recorded):
    """What was done about a finding, by whom and when."""

    finding = models.OneToOneField(Finding, models.PROTECT, related_name="closing")
    closed_at = models.DateTimeField()
    done = models.CharField(max_length=1000)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(name="closing_says_what_was_done", condition=~Q(done="")),
        ]

    def __str__(self) -> str:
        return f"closed: {self.finding}"


class Photo(models.Model):
    """A photo named by a signed inspection; its file may still be on the way from the phone."""

    id = models.UUIDField(primary_key=True)
    inspection = models.ForeignKey(Inspection, models.PROTECT, related_name="photos")
    finding = models.ForeignKey(Finding, models.PROTECT, null=True, related_name="photos")
    caption = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"photo {self.pk}"


class PhotoFile(KeptPicture):
    """The file of a photo, once it has come whole."""

    photo = models.OneToOneField(Photo, models.PROTECT, related_name="held")
    file = models.FileField(upload_to="inspections/%Y/%m/")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"file of {self.photo}"
