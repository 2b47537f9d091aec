from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.models.measured_fields import LargeCountField, MeasuredField
from fleet.models.recorded import Recorded
from ratings.models.choices import BELOW_LISTING


class ExtractionRules(Recorded):
    """How the yard judges extractions from this record on, and why it changed.

    soils: the table of soils under vibration, each
        {name, factor, factor_source, needed_amplitude_in, amplitude_source}.
    """

    care_margin = MeasuredField(
        "margin below which a check holds only with care",
        least=1,
        most=10,
        example="1.25",
        help_text="Supply over demand.",
    )
    low_factor = MeasuredField(
        "ground, low end of its range",
        least=0.05,
        most=1,
        example="0.7",
        help_text="As a share of what is expected.",
    )
    high_factor = MeasuredField(
        "ground, high end of its range",
        least=1,
        most=10,
        example="1.5",
        help_text="As a share of what is expected.",
    )
    jaw_friction = MeasuredField(
        "friction of the clamp’s jaws on the pile", least=0.01, most=2, example="0.3"
    )
    steel_share = MeasuredField(
        "share of the yield strength steel may be pulled to", least=0.05, most=1, example="0.6"
    )
    inspection_days = LargeCountField(
        "an inspection holds for, days", least=1, most=3_650, example="31"
    )
    below_listing = models.CharField(
        "a unit below its listing", max_length=6, choices=BELOW_LISTING
    )
    soils = models.JSONField()
    reason = models.CharField("why it changes", max_length=200)

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
