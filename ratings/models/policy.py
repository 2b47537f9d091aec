"""The policy in force, as the mechanics take it."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import models
from django.db.models import F, Q

from fleet.models.measured_fields import CountField, LargeCountField, MeasuredField
from fleet.models.recorded import Recorded
from fleet.quantities import Quantity
from fleet.questions import Question
from ratings.by_name import made_by_name
from ratings.mechanics.unit_rating import Policy
from ratings.models.choices import STALE_RATES


class RatingPolicy(Recorded):
    """How the yard rates: the newest row is in force, before the first the defaults are."""

    # Entered and shown as a percentage.
    confidence = MeasuredField(
        "confidence of the working capacity",
        least=0.5,
        above_least=True,
        most=0.9999,
        example="0.95",
        help_text="One-sided: how sure the yard is that the unit pulls at least this much.",
    )
    pad_spread_pct = MeasuredField(
        "assumed pad-to-pad spread, % of the rate",
        least=0,
        most=100,
        example="5",
        help_text="Standard deviation from pad to pad, where no tests show it.",
    )
    linearity_limit_pct = MeasuredField(
        "linearity limit, % of full scale",
        least=0,
        above_least=True,
        most=100,
        example="5",
        help_text="Beyond it a lot is called bent. Every lot is rated by its curve as measured.",
    )
    tape_resolution_in = MeasuredField(
        "travel is taped to the nearest",
        quantity=Quantity.DIAMETER,
        least=0.001,
        most=2,
        example="0.125",
    )
    rate_valid_days = LargeCountField(
        "a rate holds for, days after its newest test", least=1, most=36_500, example="730"
    )
    coldest_f = MeasuredField(
        "coldest rubber to test at",
        quantity=Quantity.TEMPERATURE,
        least=-40,
        most=200,
        example="40",
    )
    warmest_f = MeasuredField(
        "warmest rubber to test at",
        quantity=Quantity.TEMPERATURE,
        least=-40,
        most=200,
        example="100",
    )
    stale_rates = models.CharField("a stale rate", max_length=4, choices=STALE_RATES)
    pad_spread_degrees_of_freedom = MeasuredField(
        "what that assumption is worth, degrees of freedom",
        least=1,
        most=1000,
        example="8",
        default=8.0,
        help_text="The more, the longer single pads tested take to change it.",
    )
    conditions_pct = MeasuredField(
        "conditions of use, ± % of the force",
        least=0,
        most=50,
        example="5",
        default=5.0,
        help_text="How far temperature, dwell and rate of pull may take the force of a pad in "
        "use from that on the bench.",
    )
    unknown_temperature_pct = MeasuredField(
        "added where the rubber’s temperature was not read, ± %",
        least=0,
        most=50,
        example="3",
        default=3.0,
    )
    seal_friction_pct = MeasuredField(
        "taken off where no unloading was read, %",
        least=0,
        most=50,
        example="3",
        default=3.0,
        help_text="The cylinder’s seals hold back so much; unloading readings cancel it.",
    )
    first_stretch_pct = MeasuredField(
        "taken off where the pads were not conditioned, %",
        least=0,
        most=50,
        example="10",
        default=10.0,
        help_text="Rubber is stiffer the first times it is stretched.",
    )
    conditioning_cycles = CountField(
        "stretched so often before reading, pads are conditioned",
        least=0,
        most=100,
        example="3",
        default=3,
    )
    gap_band_pct = MeasuredField(
        "doubt between two readings, ± % of the rise between them",
        least=0,
        most=100,
        example="5",
        default=5.0,
    )
    largest_strain_pct = MeasuredField(
        "largest strain, stretch over rubber thickness, %",
        least=1,
        most=1000,
        example="100",
        null=True,
        blank=True,
        help_text="Left empty where the yard sets none.",
    )
    refused_shortcuts = models.JSONField("a test rates nothing with", default=list, blank=True)
    second_person_listings = models.BooleanField("for listings", default=False)
    second_person_policy = models.BooleanField("for a change of this policy", default=False)
    second_person_corrections = models.BooleanField(
        "for corrections of inspections, readings of hours, lots, guides, listings, bench tests, "
        "proof pulls, pulls, certificates of gauges, reference checks and checks of hammers that "
        "are not ours, and for withdrawing a rating so that one before it rates again",
        default=False,
    )
    second_person_releases = models.BooleanField("for releases to service", default=False)
    qualified_rates = models.BooleanField("to approve a lot’s rating", default=False)
    qualified_yearly = models.BooleanField("to sign a yearly inspection", default=False)
    reason = models.CharField("why it changes", max_length=200)

    class Meta:
        ordering = ["-pk"]
        verbose_name_plural = "rating policies"
        constraints = [
            models.CheckConstraint(
                name="rating_policy_in_range",
                condition=Q(
                    confidence__gt=0.5,
                    confidence__lt=1,
                    pad_spread_pct__gte=0,
                    pad_spread_pct__lte=100,
                    linearity_limit_pct__gt=0,
                    linearity_limit_pct__lte=100,
                    tape_resolution_in__gt=0,
                    tape_resolution_in__lte=2,
                    rate_valid_days__gte=1,
                    warmest_f__gt=F("coldest_f"),
                    stale_rates__in=list(STALE_RATES),
                    pad_spread_degrees_of_freedom__gte=1,
                    conditions_pct__gte=0,
                    conditions_pct__lte=50,
                    unknown_temperature_pct__gte=0,
                    unknown_temperature_pct__lte=50,
                    seal_friction_pct__gte=0,
                    seal_friction_pct__lte=50,
                    first_stretch_pct__gte=0,
                    first_stretch_pct__lte=50,
                    gap_band_pct__gte=0,
                    gap_band_pct__lte=100,
                ),
            ),
            models.CheckConstraint(
                name="rating_policy_strain_possible",
                condition=Q(largest_strain_pct__isnull=True)
                | Q(
                    largest_strain_pct__gte=1,
                    largest_strain_pct__lte=1000,
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"policy {self.pk}"


@dataclass(frozen=True)
class Safeguards:
    """What the yard asks for beyond one person's word; no figure rests on it.

    second_person_…: what somebody proposes and another person confirms. qualified_…: what only
    somebody signs whose qualification for it holds that day.
    """

    second_person_listings: bool = False
    second_person_policy: bool = False
    second_person_corrections: bool = False
    second_person_releases: bool = False
    qualified_rates: bool = False
    qualified_yearly: bool = False

    @property
    def asked(self) -> frozenset[str]:
        """The names of all that are asked for."""
        return frozenset(name for name, on in vars(self).items() if on)

    @property
    def second_person(self) -> frozenset[str]:
        """The names of those by which a second person is asked for."""
        return frozenset(name for name in self.asked if name.startswith("second_person_"))


_NEWEST = Question(lambda: RatingPolicy.objects.all()[:1])


def newest_policy() -> RatingPolicy | None:
    """Return the stored policy in force, None before there is one."""
    return _NEWEST.first()


def safeguards_of(row: RatingPolicy | None) -> Safeguards:
    """Return what a stored policy asks for; nothing where there is none."""
    return Safeguards() if row is None else made_by_name(Safeguards, row)


def safeguards() -> Safeguards:
    """Return what the policy in force asks for."""
    return safeguards_of(newest_policy())


def policy_in_force(row: RatingPolicy | None) -> Policy:
    """Return a stored policy as the mechanics take it; the defaults where there is none."""
    return Policy() if row is None else made_by_name(Policy, row)


def rating_policy() -> Policy:
    """Return the policy in force now."""
    return policy_in_force(newest_policy())
