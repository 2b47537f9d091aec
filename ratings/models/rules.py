from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.models.recorded import Recorded
from ratings.models.choices import BELOW_LISTING


class ExtractionRules(Recorded):
    """How the yard judges extractions from this record on, and why it changed.

    soils: the table of soils under vibration, each
        {name, factor, factor_source, needed_amplitude_in, amplitude_source}.
    """

    care_margin = models.FloatField()
    low_factor = models.FloatField()
    high_factor = models.FloatField()
    jaw_friction = models.FloatField()
    steel_share = models.FloatField()
    inspection_days = models.PositiveIntegerField()
    below_listing = models.CharField(max_length=6, choices=BELOW_LISTING)
    soils = models.JSONField()
    reason = models.CharField(max_length=200)

    class Meta:
        ordering = ["-pk"]
        verbose_name_plural = "extraction rules"
        constraints = [
            models.CheckConstraint(
                name="extraction_rules_in_range",
                condition=Q(
                    care_margin__gte=1,
                    low_factor__gt=0,
                    low_factor__lte=1,
                    high_factor__gte=1,
                    jaw_friction__gt=0,
                    steel_share__gt=0,
                    steel_share__lte=1,
                    inspection_days__gte=1,
                    below_listing__in=list(BELOW_LISTING),
                ),
            ),
            models.CheckConstraint(
                name="extraction_rules_range_has_width",
                condition=Q(high_factor__gte=F("low_factor")),
            ),
        ]

    def __str__(self) -> str:
        return f"extraction rules {self.pk}: {self.reason}"
