from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.models.housing import Condition, Side, position_field
from fleet.models.recorded import CorrectableQuerySet, Recorded
from inspections.models.inspection import LONGEST_NOTE


class PadReplacement(Recorded):
    """Pads from the shelf fitted into positions of a housing. Never edited."""

    housing = models.ForeignKey(
        "fleet.SuppressorHousing", models.PROTECT, related_name="replacements"
    )
    fitted_at = models.DateTimeField()
    note = models.TextField(blank=True, max_length=LONGEST_NOTE)

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        ordering = ["-fitted_at", "-pk"]

    def __str__(self) -> str:
        return f"pad replacement {self.pk} on {self.housing}"


class ReplacedPad(models.Model):
    """One position that got a new pad, and what was taken out of it."""

    replacement = models.ForeignKey(PadReplacement, models.PROTECT, related_name="pads")
    side = models.CharField(max_length=1, choices=Side)
    number = position_field()
    lot = models.ForeignKey("fleet.PadLot", models.PROTECT, related_name="pads_fitted")
    removed_condition = models.CharField(max_length=10, choices=Condition, blank=True)
    removed_lot = models.ForeignKey(
        "fleet.PadLot", models.PROTECT, null=True, related_name="pads_removed"
    )

    class Meta:
        ordering = ["side", "number"]
        constraints = [
            models.UniqueConstraint(
                name="pad_replaced_once", fields=["replacement", "side", "number"]
            ),
            models.CheckConstraint(
                name="replaced_pad_position_known",
                condition=Q(side__in=Side.values, number__gte=1),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.side}{self.number} from {self.lot}"
