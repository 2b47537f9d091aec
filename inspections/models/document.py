from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q

from fleet.models.machine import OfOneMachine, OfOneMachineQuerySet
from fleet.models.recorded import Recorded


class DocumentKind(models.TextChoices):
    """What a file kept of a machine is."""

    PLATE = "plate", "data plate"
    BOOK = "book", "book of the machine"
    CALIBRATION = "calibration", "calibration or test certificate"
    PHOTO = "photo", "photo"
    OTHER = "other", "other"


class MachineDocumentQuerySet(OfOneMachineQuerySet["MachineDocument"]):
    """Files kept of machines."""

    def standing(self) -> Self:
        """Those nobody withdrew."""
        return self.filter(withdrawal__isnull=True)


class MachineDocument(Recorded, OfOneMachine):
    """A file kept of a machine: its plate, its book, a calibration, a photo. Never removed."""

    kind = models.CharField("what it is", max_length=12, choices=DocumentKind)
    title = models.CharField(max_length=120, help_text="Such as “Plate, read 3 March”.")
    file = models.FileField(upload_to="machines/")
    content_type = models.CharField(max_length=40)
    size_bytes = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64, help_text="Of the file as kept.")

    objects = MachineDocumentQuerySet.as_manager()

    class Meta:
        default_related_name = "documents"
        ordering = ["-pk"]
        constraints = [
            *OfOneMachine.Meta.constraints,
            models.CheckConstraint(
                name="machine_document_known",
                condition=Q(
                    kind__in=DocumentKind.values,
                    content_type__in=["application/pdf", "image/jpeg"],
                )
                & ~Q(title=""),
            ),
        ]

    def __str__(self) -> str:
        return self.title


class DocumentWithdrawal(Recorded):
    """That a file kept of a machine counts no more, and why."""

    document = models.OneToOneField(MachineDocument, models.PROTECT, related_name="withdrawal")
    reason = models.CharField("why", max_length=200)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(name="document_withdrawn_for_a_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.document}, withdrawn"
