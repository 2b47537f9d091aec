from __future__ import annotations

from django.db import models
from django.db.models import Q


class InspectionKind(models.TextChoices):
    """What an inspection is for; each has a checklist and a place in the schedule."""

    PAD_COUNT = "pad count", "pad count"
    SHIFT = "each shift", "each shift"
    MONTHLY = "monthly", "monthly"
    YEARLY = "yearly", "yearly"
    AFTER_REPAIR = "after repair", "after repair"
    BEFORE_EXTRACTION = "before extraction", "before extraction"


# Of a table with columns kind and own_kind: a common kind, or one of the yard's own.
ONE_KIND = Q(kind__in=InspectionKind.values, own_kind__isnull=True) | Q(
    kind="", own_kind__isnull=False
)
