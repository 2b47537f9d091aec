from __future__ import annotations

from django.db import models


class InspectionKind(models.TextChoices):
    """What an inspection is for; each has a checklist and a place in the schedule."""

    PAD_COUNT = "pad count", "pad count"
    SHIFT = "each shift", "each shift"
    MONTHLY = "monthly", "monthly"
    YEARLY = "yearly", "yearly"
    AFTER_REPAIR = "after repair", "after repair"
    BEFORE_EXTRACTION = "before extraction", "before extraction"
