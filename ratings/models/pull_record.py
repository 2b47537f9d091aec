from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from enum import StrEnum
from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from fleet.dates import day_words
from fleet.models.measured_fields import MeasuredField
from fleet.models.recorded import CorrectableQuerySet, Recorded
from fleet.quantities import Quantity
from ratings.models.choices import PILE_KINDS
from ratings.models.rules import ExtractionRules

MOST_LOAD_LBF = 10_000_000.0
MOST_STRETCH_IN = 40.0


class PullDoubt(StrEnum):
    """What looks wrong of a pull and may be right all the same; kept with it."""

    NOT_ITS_DAYS = "not its days"
    ABOVE_CRANE = "above the crane"
    ABOVE_PADS = "above the pads"
    ABOVE_CLAMP = "above the clamp"
    ABOVE_RIGGING = "above the rigging"
    NO_SHEET = "no valid sheet"
    READ_AS_PADS = "read as the pads’ pull"
    BEYOND_USABLE = "beyond usable travel"
    OTHER_METHOD = "other method"
    CANNOT_VIBRATE = "cannot vibrate"
    MORE_THAN_GROUP = "more than the group"

    @property
    def words(self) -> str:
        """The whole sentence, for the page."""
        return _DOUBTS[self]


_DOUBTS = {
    PullDoubt.NOT_ITS_DAYS: "It was pulled on a day the unit was not committed for.",
    PullDoubt.ABOVE_CRANE: "The hook load is above the crane’s capacity for this pull.",
    PullDoubt.ABOVE_PADS: "The pads were pulled with more than their working capacity.",
    PullDoubt.ABOVE_CLAMP: "The clamp was pulled with more than its jaws hold.",
    PullDoubt.ABOVE_RIGGING: "The rigging was pulled with more than its limit.",
    PullDoubt.NO_SHEET: "No sheet was valid when it was pulled.",
    PullDoubt.READ_AS_PADS: "The hook load is what the pads alone carry at that stretch: the "
    "weights above them are missing from it.",
    PullDoubt.BEYOND_USABLE: "The stretch is beyond the unit’s usable travel.",
    PullDoubt.OTHER_METHOD: "It was not pulled the way the answer was calculated for.",
    PullDoubt.CANNOT_VIBRATE: "The unit’s records have no frequency or moment to vibrate with.",
    PullDoubt.MORE_THAN_GROUP: "More piles of its group are out than the job says there are.",
}
# What went beyond a limit is looked at before it pulls again.
OVERLOADS = (
    PullDoubt.ABOVE_PADS,
    PullDoubt.ABOVE_CLAMP,
    PullDoubt.ABOVE_CRANE,
    PullDoubt.ABOVE_RIGGING,
)


class PullRecordQuerySet(CorrectableQuerySet["PullRecord"]):
    """What became of pulls."""

    def with_all(self) -> Self:
        """With what a row or a page says of each."""
        return self.select_related(
            "commitment__job",
            "commitment__housing",
            "commitment__hammer",
            "recorded_by",
            "corrected_by",
        )

    def open_overloads(self, counted: Mapping[int, datetime | None]) -> dict[int, PullRecord]:
        """Return the last overload of each housing that no full count came after, by its key.

        counted: when each housing was last counted in full, None where it never was. In one query.
        """
        pulled = (
            self.standing()
            .filter(commitment__housing__in=list(counted), hook_load_lbf__isnull=False)
            .exclude(doubts=[])
            .select_related("commitment")
            .order_by("pulled_at", "pk")
        )
        found: dict[int, PullRecord] = {}
        for pull in pulled:
            housing = pull.commitment.housing_id
            counted_at = counted[housing]
            if pull.is_overload and (counted_at is None or counted_at <= pull.pulled_at):
                found[housing] = pull
        return found


class PullRecord(Recorded):
    """What happened when a pile of a committed job was pulled. Never edited.

    It stands beside the answer the unit was committed on. The figures calculated are of that
    answer's own ground and rules, at the depth the toe had when it broke out.
    """

    class Outcome(models.TextChoices):
        CAME = "came", "it came"
        STAYED = "did not come", "it did not come"
        PART = "came in part", "it came in part, then stuck"
        BROKE = "broke", "pile or pulling gear broke"

    class LoadSource(models.TextChoices):
        INDICATOR = "load indicator", "load indicator"
        NOT_READ = "not read", "not read"

    class Method(models.TextChoices):
        VIBRATED = "vibrated", "vibrated"
        STILL = "crane alone", "by the crane alone, hammer still"

    answer = models.ForeignKey("ratings.JobAnswer", models.PROTECT, related_name="pulls")
    commitment = models.ForeignKey("ratings.Commitment", models.PROTECT, related_name="pulls")
    pile_group = models.PositiveSmallIntegerField(help_text="Its number in the answer, from 1.")
    group_label = models.CharField(max_length=80, blank=True)
    pile_mark = models.CharField(
        "which pile",
        max_length=40,
        help_text="Its number or mark on the site, such as 7 or B3.",
    )
    pulled_at = models.DateTimeField()
    outcome = models.CharField("did it come", max_length=12, choices=Outcome)
    method = models.CharField("how it was pulled", max_length=11, choices=Method)
    load_source = models.CharField("hook load read from", max_length=14, choices=LoadSource)
    hook_load_lbf = MeasuredField(
        "highest hook load",
        quantity=Quantity.FORCE,
        least=0,
        above_least=True,
        most=MOST_LOAD_LBF,
        example="62000",
        null=True,
        help_text="What the indicator showed at its highest, all weights in it. Blank where "
        "none was read.",
    )
    tare_lbf = MeasuredField(
        "indicator with the hammer hanging free",
        quantity=Quantity.FORCE,
        least=0,
        most=MOST_LOAD_LBF,
        example="17000",
        null=True,
        help_text="Before the clamp closed on the pile; 0 where the indicator was set to nothing "
        "there. Blank: weights on record are taken.",
    )
    stretch_in = MeasuredField(
        "stretch at break-out",
        quantity=Quantity.LENGTH,
        least=0,
        most=MOST_STRETCH_IN,
        example="3.5",
        null=True,
        help_text="Of the pads, as the rule on the housing shows it.",
    )
    minutes = MeasuredField(
        "minutes from line taut to break-out",
        least=0,
        above_least=True,
        most=1_440,
        example="12",
        null=True,
        help_text="Till it was given up, where it did not come.",
    )
    toe_depth_ft = MeasuredField(
        "toe below ground at break-out",
        quantity=Quantity.DEPTH,
        least=0,
        above_least=True,
        most=500,
        example="40",
        null=True,
        help_text="What was left of the pile in the ground. Blank: all its embedment.",
    )
    in_the_way = models.CharField(
        "what was in the way",
        max_length=500,
        blank=True,
        help_text="Such as a boulder, concrete on the toe, a bent flange; or anything else.",
    )
    watched_by = models.CharField(
        "who watched the pull",
        max_length=80,
        blank=True,
        help_text="By name: who kept an eye on stretch and load, and nothing else.",
    )
    clock_words = models.CharField(max_length=200, blank=True)
    corrects = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )
    correction_reason = models.CharField("why it is corrected", max_length=200, blank=True)

    # What it was calculated to be, of the answer's own figures, when it was recorded.
    pile_kind = models.CharField(max_length=10, choices=PILE_KINDS)
    weights_lb = models.FloatField(null=True, help_text="All that hangs from the hook, pile too.")
    measured_lbf = models.FloatField(
        null=True, help_text="Resistance: hook load less the weights. A bound where it stayed."
    )
    expected_lbf = models.FloatField(null=True, help_text="Resistance by the answer's ground.")
    low_lbf = models.FloatField(null=True)
    high_lbf = models.FloatField(null=True)
    soil = models.CharField(max_length=80, blank=True, help_text="That holds most of the pile.")
    soil_share = models.FloatField(null=True, help_text="Of the resistance expected.")
    soil_static_lbf = models.FloatField(null=True, help_text="What that soil holds at rest.")
    soil_rest_lbf = models.FloatField(null=True, help_text="What holds the pile beside it.")
    doubts = models.JSONField(default=list)

    objects = PullRecordQuerySet.as_manager()

    class Meta:
        ordering = ["-pulled_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="pull_record_words_known",
                condition=Q(
                    outcome__in=["came", "did not come", "came in part", "broke"],
                    method__in=["vibrated", "crane alone"],
                    load_source__in=["load indicator", "not read"],
                    pile_group__gte=1,
                )
                & ~Q(pile_mark=""),
            ),
            models.CheckConstraint(
                name="pull_record_load_read_or_not",
                condition=Q(load_source="load indicator", hook_load_lbf__gt=0)
                | Q(
                    load_source="not read",
                    hook_load_lbf__isnull=True,
                    tare_lbf__isnull=True,
                    measured_lbf__isnull=True,
                ),
            ),
            models.CheckConstraint(
                name="pull_record_possible",
                condition=(Q(stretch_in__isnull=True) | Q(stretch_in__gte=0))
                & (Q(minutes__isnull=True) | Q(minutes__gt=0))
                & (Q(toe_depth_ft__isnull=True) | Q(toe_depth_ft__gt=0))
                & (Q(tare_lbf__isnull=True) | Q(tare_lbf__gte=0, tare_lbf__lt=F("hook_load_lbf"))),
            ),
            models.CheckConstraint(
                name="pull_record_corrected_for_a_reason",
                condition=Q(corrects__isnull=True, correction_reason="")
                | (Q(corrects__isnull=False) & ~Q(correction_reason="")),
            ),
        ]

    def __str__(self) -> str:
        return f"pull {self.pk}: pile {self.pile_mark}, {self.outcome}"

    @property
    def is_lower_bound(self) -> bool:
        """Whether the ground held with more than was measured."""
        return self.outcome in (self.Outcome.STAYED, self.Outcome.BROKE)

    @property
    def is_break_out(self) -> bool:
        """Whether what was measured is what it took."""
        return self.outcome == self.Outcome.CAME

    @property
    def ratio(self) -> float | None:
        """Measured over expected, None where either is not known."""
        if self.measured_lbf is None or not self.expected_lbf:
            return None
        return self.measured_lbf / self.expected_lbf

    @property
    def is_overload(self) -> bool:
        """Whether it went beyond what pads, clamp, crane or rigging are good for."""
        return bool(set(self.doubts) & set(OVERLOADS))

    @property
    def overload_words(self) -> str:
        """What to do of an overload, to stand after the unit it was."""
        day = day_words(timezone.localtime(self.pulled_at).date())
        return f"overloaded in a pull on {day}: inspect it before the next pull"

    @property
    def doubt_words(self) -> list[str]:
        return [PullDoubt(each).words for each in self.doubts]


class LearningRules(Recorded):
    """How much the yard's own pulls weigh against the table of soils, from this record on."""

    prior_pulls = MeasuredField(
        "how many pulls a factor of the table is worth",
        least=2,
        most=1_000,
        example="5",
        help_text="The more, the slower pulls move it. Of fewer than 2 nobody can tell a scatter.",
    )
    least_share_pct = MeasuredField(
        "least share of the hold that one soil must have, %",
        least=50,
        most=100,
        example="70",
        help_text="Pulls through mixed ground, where no soil holds so much, teach nothing of one.",
    )
    least_jobs = MeasuredField(
        "least number of jobs before a factor may be taken into the rules",
        least=1,
        most=100,
        example="3",
        help_text="Piles of one job stand in the same ground.",
    )
    reason = models.CharField("why it changes", max_length=200)

    class Meta:
        ordering = ["-pk"]
        verbose_name_plural = "learning rules"
        constraints = [
            models.CheckConstraint(
                name="learning_rules_in_range",
                condition=Q(
                    prior_pulls__gte=2,
                    least_share_pct__gte=50,
                    least_share_pct__lte=100,
                    least_jobs__gte=1,
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"learning rules {self.pk}: {self.reason}"


class LearnedFactor(Recorded):
    """A soil's factor taken into the rules from the yard's own pulls, and all it rests on.

    prior_factor, prior_source: of the table, before any pull; what is learned later begins there
    again, so that no pull counts twice.
    """

    rules = models.ForeignKey(ExtractionRules, models.PROTECT, related_name="learned")
    soil = models.CharField(max_length=80)
    prior_factor = models.FloatField()
    prior_source = models.CharField(max_length=160)
    prior_pulls = models.FloatField()
    factor = models.FloatField()
    factor_source = models.CharField(max_length=160)
    low = models.FloatField()
    high = models.FloatField()
    pulls = models.JSONField(help_text="Keys of the pulls it rests on.")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="learned_factor_in_range",
                condition=Q(
                    prior_factor__gt=0,
                    factor__gt=0,
                    factor__lte=1,
                    low__gt=0,
                    high__gte=F("low"),
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.soil}: {self.factor:g}"
