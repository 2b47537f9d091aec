from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.models.measured_fields import LargeCountField, MeasuredField
from fleet.models.recorded import Recorded
from ratings.models.choices import BELOW_LISTING, CRITERIA


class ExtractionRules(Recorded):
    """How the yard judges extractions from this record on, and why it changed.

    soils: the table of soils under vibration, each
        {name, factor, factor_source, needed_amplitude_in, amplitude_source, kinds}; rules on
        record from before kinds were asked have none.
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
    crane_share = MeasuredField(
        "share of the crane’s chart an extraction may use",
        least=0.05,
        most=1,
        example="0.75",
        help_text="A pile that breaks out lets go at once, and hook and boom recoil: the chart is "
        "for loads that hang still. 0.75 is common practice, with no published source.",
    )
    criterion = models.CharField("how the ground’s hold is judged", max_length=14, choices=CRITERIA)
    open_acceleration_g = MeasuredField(
        "least peak acceleration of sheets, H-piles and open pipes, g",
        least=0.1,
        most=100,
        example="9",
        help_text="Of the criterion that adds vibration and line pull (US Army EI 02G001, 1997, "
        "page 2-13: 9 g).",
    )
    closed_acceleration_g = MeasuredField(
        "least peak acceleration of closed pipes, g",
        least=0.1,
        most=100,
        example="5",
        help_text="The same source: 5 g.",
    )
    massive_acceleration_g = MeasuredField(
        "least peak acceleration of concrete and timber, g",
        least=0.1,
        most=100,
        example="3",
        help_text="The same source: 3 g.",
    )
    longest_hold_days = LargeCountField(
        "a job may hold a unit for, days", least=1, most=3_650, example="180"
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
                    crane_share__gt=0,
                    crane_share__lte=1,
                    criterion__in=list(CRITERIA),
                    open_acceleration_g__gt=0,
                    closed_acceleration_g__gt=0,
                    massive_acceleration_g__gt=0,
                    longest_hold_days__gte=1,
                ),
            ),
            models.CheckConstraint(
                name="extraction_rules_range_has_width",
                condition=Q(high_factor__gte=F("low_factor")),
            ),
        ]

    def __str__(self) -> str:
        return f"extraction rules {self.pk}: {self.reason}"
