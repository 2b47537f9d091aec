from __future__ import annotations

import json
from typing import Any, cast

from django.db import models
from django.db.models import F, Q

from fleet.models.housing import MOST_POSITIONS_PER_SIDE, Side, travel_field
from fleet.models.measured_fields import CountField, MeasuredField
from fleet.models.recorded import CorrectableQuerySet, Recorded
from fleet.quantities import Quantity
from inspections.models.inspection import Inspection
from inspections.models.kept_picture import KeptPicture

LONGEST_REMARKS = 1000


class HandOver(Recorded):
    """A hired unit changes hands: by which inspection, who signed, and what it pulled then.

    entry: the head of the unit's ledger then. housing_mark, hammer_mark: as read off the machines.
    """

    class Way(models.TextChoices):
        OUT = "out", "handed out"
        BACK = "back", "taken back"

    hire = models.ForeignKey("fleet.Hire", models.PROTECT, related_name="hand_overs")
    way = models.CharField(max_length=4, choices=Way)
    inspection = models.ForeignKey(Inspection, models.PROTECT, related_name="hand_overs")
    entry = models.ForeignKey("ratings.LedgerEntry", models.PROTECT, related_name="+")
    signed_at = models.DateTimeField("handed over and signed at")
    given_by = models.CharField("who hands it over", max_length=80)
    taken_by = models.CharField("who takes it over", max_length=80)
    housing_mark = models.CharField(
        "mark on the housing", max_length=40, help_text="As read off the housing itself."
    )
    hammer_mark = models.CharField(
        "mark on the hammer", max_length=40, help_text="As read off the hammer itself."
    )
    remarks = models.CharField(max_length=LONGEST_REMARKS, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(name="handed_over_once_each_way", fields=["hire", "way"]),
            models.UniqueConstraint(name="hand_over_has_its_own_inspection", fields=["inspection"]),
            models.CheckConstraint(
                name="hand_over_signed_by_both",
                condition=Q(way__in=["out", "back"])
                & ~Q(given_by="")
                & ~Q(taken_by="")
                & ~Q(housing_mark="")
                & ~Q(hammer_mark=""),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.hire} {self.way}"


class HandOverPhoto(KeptPicture):
    """A photo taken at a hand-over, kept whole."""

    id = models.UUIDField(primary_key=True)
    hand_over = models.ForeignKey(HandOver, models.PROTECT, related_name="photos")
    caption = models.CharField(max_length=200, blank=True)
    file = models.FileField(upload_to="hires/%Y/%m/")

    class Meta:
        ordering = ["recorded_at"]

    def __str__(self) -> str:
        return f"photo of {self.hand_over}"


def pads_field(condition: str, side: Side) -> CountField:
    """Return a field of how many pads of a side are in a condition."""
    return CountField(
        f"{condition}, side {side}",
        least=0,
        most=MOST_POSITIONS_PER_SIDE,
        example="4",
        default=0,
    )


class RateFrom(models.TextChoices):
    """What is known of how stiff the pads of a hammer that is not ours are."""

    LOT = "lot", "they are of one of our lots"
    MEASURED = "measured", "a pad of theirs was measured"
    UNKNOWN = "unknown", "not known"


class ForeignCheck(Recorded):
    """A hammer that is not ours, checked: its pads counted, its travel taped, what it comes to.

    Kept apart from the fleet: it is on no board, in no total, no plan and no job. document:
    canonical JSON of what the figures rest on and of the figures; hash: SHA-256 of it.
    """

    owner = models.CharField("whose it is", max_length=120)
    make_and_type = models.CharField("make and type", max_length=120, help_text="As it is marked.")
    mark = models.CharField("mark", max_length=60, help_text="Mark or number on the machine.")
    checked_at = models.DateTimeField("checked at")
    positions_per_side = CountField(
        "pad positions on each side", least=1, most=MOST_POSITIONS_PER_SIDE, example="6"
    )
    sound_a = pads_field("sound", Side.A)
    cracked_a = pads_field("cracked", Side.A)
    debonded_a = pads_field("debonded", Side.A)
    swollen_a = pads_field("swollen", Side.A)
    missing_a = pads_field("missing", Side.A)
    sound_b = pads_field("sound", Side.B)
    cracked_b = pads_field("cracked", Side.B)
    debonded_b = pads_field("debonded", Side.B)
    swollen_b = pads_field("swollen", Side.B)
    missing_b = pads_field("missing", Side.B)
    travel_in = travel_field("travel, taped from rest to the stops")
    is_guided = models.BooleanField(
        "the housing is kept level, so that both sides stretch alike", default=False
    )
    guided_reason = models.CharField(
        "what keeps it level", max_length=200, blank=True, help_text="Such as: two guide rods."
    )
    rate_from = models.CharField("rate of its pads", max_length=8, choices=RateFrom)
    rating = models.ForeignKey(
        "ratings.LotRating", models.PROTECT, null=True, related_name="foreign_checks"
    )
    rate_lbf_in = MeasuredField(
        "rate of one pad, measured",
        quantity=Quantity.RATE,
        least=0,
        above_least=True,
        most=1_000_000,
        example="1000",
        null=True,
    )
    spread_lbf_in = MeasuredField(
        "spread from pad to pad",
        quantity=Quantity.RATE,
        least=0,
        most=1_000_000,
        example="50",
        null=True,
        help_text="Standard deviation between the pads measured; blank where only one was.",
    )
    pads_measured = CountField(
        "pads measured", least=1, most=2 * MOST_POSITIONS_PER_SIDE, example="3", null=True
    )
    rate_error_lbf_in = MeasuredField(
        "doubt of the rate by the instruments",
        quantity=Quantity.RATE,
        least=0,
        above_least=True,
        most=1_000_000,
        example="10",
        null=True,
        help_text="Standard uncertainty, as whoever measured it states it.",
    )
    tested_stretch_in = travel_field(
        "stretch it was measured to",
        null=True,
        help_text="Beyond it nothing is known of the pads, and nothing counts.",
    )
    measured_where = models.CharField(
        "where it was measured, by whom and when", max_length=200, blank=True
    )
    stated_listed_lbf = MeasuredField(
        "listed rating, as the owner states it",
        quantity=Quantity.FORCE,
        least=0,
        above_least=True,
        most=10_000_000,
        example="40000",
        null=True,
    )
    note = models.CharField(max_length=1000, blank=True)
    document = models.TextField()
    hash = models.CharField(max_length=64)
    corrects = models.OneToOneField("self", models.PROTECT, null=True, related_name="corrected_by")
    correction_reason = models.CharField(max_length=200, blank=True)

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        ordering = ["-checked_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="foreign_check_says_whose_and_which",
                condition=~Q(owner="") & ~Q(make_and_type="") & ~Q(mark=""),
            ),
            models.CheckConstraint(
                name="foreign_check_counts_every_position",
                condition=Q(
                    positions_per_side=F("sound_a")
                    + F("cracked_a")
                    + F("debonded_a")
                    + F("swollen_a")
                    + F("missing_a")
                )
                & Q(
                    positions_per_side=F("sound_b")
                    + F("cracked_b")
                    + F("debonded_b")
                    + F("swollen_b")
                    + F("missing_b")
                ),
            ),
            models.CheckConstraint(name="foreign_check_travel_known", condition=Q(travel_in__gt=0)),
            models.CheckConstraint(
                name="foreign_check_guided_for_a_reason",
                condition=Q(is_guided=False) | ~Q(guided_reason=""),
            ),
            models.CheckConstraint(
                name="foreign_check_rate_of_one_source",
                condition=Q(rate_from="lot", rating__isnull=False, rate_lbf_in__isnull=True)
                | (
                    Q(
                        rate_from="measured",
                        rating__isnull=True,
                        rate_lbf_in__gt=0,
                        tested_stretch_in__gt=0,
                        pads_measured__gte=1,
                    )
                    & ~Q(measured_where="")
                )
                | Q(rate_from="unknown", rating__isnull=True, rate_lbf_in__isnull=True),
            ),
            models.CheckConstraint(
                name="foreign_check_corrects_for_a_reason",
                condition=Q(corrects__isnull=True, correction_reason="")
                | (Q(corrects__isnull=False) & ~Q(correction_reason="")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mark} of {self.owner}"

    @property
    def contents(self) -> dict[str, Any]:
        """What the figures rest on, and the figures."""
        return cast("dict[str, Any]", json.loads(self.document))

    @property
    def results(self) -> dict[str, Any]:
        return cast("dict[str, Any]", self.contents["results"])

    @property
    def is_corrected(self) -> bool:
        return hasattr(self, "corrected_by")


class ForeignCheckPhoto(KeptPicture):
    """A photo of a hammer that is not ours, taken as it was checked; kept whole."""

    id = models.UUIDField(primary_key=True)
    check_of = models.ForeignKey(ForeignCheck, models.PROTECT, related_name="photos")
    caption = models.CharField(max_length=200, blank=True)
    file = models.FileField(upload_to="not-ours/%Y/%m/")

    class Meta:
        ordering = ["recorded_at"]

    def __str__(self) -> str:
        return f"photo of {self.check_of}"
