from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Any, Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from fleet.as_of import AsOf
from fleet.characters import check_name
from fleet.models.measured_fields import MeasuredField
from fleet.models.recorded import CorrectableQuerySet, Recorded
from fleet.models.retirable import Retirable
from fleet.models.yard import named_once
from fleet.quantities import Quantity
from fleet.questions import among
from ratings.mechanics.bench import Branch
from ratings.mechanics.linepull import ProofFactor
from ratings.mechanics.proof_pull import (
    PullFound,
    Verdict,
    doubtful_reason,
    e_n_words,
    expanded,
    proof_factor,
    softness_in_force,
    verdict,
)
from ratings.mechanics.unit_rating import Policy
from ratings.models.choices import BRANCHES

MOST_LOAD_LBF = 10_000_000.0
MOST_STRETCH_IN = 40.0


def load_field(name: str, **kwargs: Any) -> MeasuredField:
    """Return a field of what a load indicator shows."""
    return MeasuredField(name, quantity=Quantity.FORCE, least=0, most=MOST_LOAD_LBF, **kwargs)


def is_in_calibration(calibrated_on: date | None, due_on: date | None, at: datetime) -> bool:
    """Say whether an instrument calibrated and due on these days was in calibration then."""
    if calibrated_on is None or due_on is None:
        return False
    return calibrated_on <= timezone.localtime(at).date() <= due_on


class LoadIndicator(Retirable):
    """What a whole unit is pulled against, and its calibration as it stands now.

    A proof pull keeps its own copy of what the indicator was that day.
    """

    class Kind(models.TextChoices):
        LOAD_CELL = "load cell", "load cell"
        CRANE = "crane", "load indicator of a crane"

    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="load_indicators")
    mark = models.CharField("yard mark", max_length=40, unique=True, validators=[check_name])
    kind = models.CharField(max_length=9, choices=Kind)
    accuracy_pct = MeasuredField(
        "accuracy (±), % of what it shows",
        least=0.01,
        most=50,
        example="1",
        help_text="From its certificate. A crane’s indicator is seldom better than 3 %.",
    )
    resolution_lbf = MeasuredField(
        "read to the nearest", quantity=Quantity.FORCE, least=0.1, most=20_000, example="100"
    )
    certificate_number = models.CharField(max_length=80, blank=True)
    calibrated_on = models.DateField(null=True, blank=True)
    due_on = models.DateField("calibration due on", null=True, blank=True)

    class Meta:
        ordering = ["mark"]
        constraints = [
            named_once("mark", "load_indicator_marked_once"),
            models.CheckConstraint(
                name="load_indicator_possible",
                condition=Q(
                    accuracy_pct__gt=0,
                    accuracy_pct__lte=50,
                    resolution_lbf__gt=0,
                    kind__in=["load cell", "crane"],
                ),
            ),
            models.CheckConstraint(
                name="load_indicator_due_after_calibrated",
                condition=Q(calibrated_on__isnull=True)
                | Q(due_on__isnull=True)
                | Q(due_on__gt=F("calibrated_on")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mark} ({self.get_kind_display()}, ± {self.accuracy_pct:g} %)"

    def is_in_calibration_to(self, day: date) -> bool:
        """Whether its calibration as it stands now lasts over a day, and it is in use then."""
        if self.calibrated_on is None or self.due_on is None:
            return False
        return self.due_on >= day and self.is_in_use_on(day)


class Reservation(StrEnum):
    """What keeps a proof pull from lifting a softness found before; kept with it."""

    OUT_OF_CALIBRATION = "indicator out of calibration"
    COLD = "cold rubber"
    UNRATED_PADS = "unrated pads"
    PADS_CHANGED = "pads changed since"

    @property
    def words(self) -> str:
        """The whole sentence, for the page."""
        return _RESERVATIONS[self]


_RESERVATIONS = {
    Reservation.OUT_OF_CALIBRATION: "The load indicator was not in calibration that day: the pull "
    "is on record and decides nothing.",
    Reservation.COLD: "The rubber was colder than rates are tested at, and cold rubber is "
    "stiffer: the pull may show a unit soft, never lift a softness found before.",
    Reservation.UNRATED_PADS: "Sound pads of a lot without an approved rate pull too, and are not "
    "in what was expected: the pull may show a unit soft, never lift a softness found before.",
    Reservation.PADS_CHANGED: "The pads on record changed after the pull and before it was "
    "recorded: it is held to the pads of then, and may show the unit soft, never lift a softness "
    "found before.",
}


@dataclass(frozen=True)
class PullsOfUnit:
    """What a unit's proof pulls come to now.

    softness: the pull whose softness holds. newest: the last that may decide.
    """

    softness: ProofPull | None
    newest: ProofPull | None

    def telling(self, policy: Policy, pads_digest: str) -> ProofPull | None:
        """The pull a unit is held to beside its pads, None where its pads tell best.

        A softness in force, whatever the pads are now. Else the newest pull where it agrees and
        is of these very pads at these rates, came out a little lower, and knows the unit better
        than tests of single pads do: a poorer pull must lower nothing.
        """
        if self.softness is not None:
            return self.softness
        pull = self.newest
        if pull is None or pull.reservations or pull.verdict is not Verdict.AGREES:
            return None
        is_of_these_pads = pull.pads_digest == pads_digest
        is_better = pull.factor(policy).standard_share <= pull.pads_share
        return pull if is_of_these_pads and is_better and round(pull.ratio, 3) < 1.0 else None


NO_PULLS = PullsOfUnit(None, None)


class ProofPullQuerySet(CorrectableQuerySet["ProofPull"]):
    """Proof pulls of units."""

    def by_housing(
        self, housing_ids: Iterable[int], as_of: AsOf | None = None
    ) -> dict[int, PullsOfUnit]:
        """What its pulls come to, of each housing that has one that may decide; in one query."""
        return come_to_by_housing(self.that_may_decide(list(housing_ids), as_of))

    def that_may_decide(self, housing_ids: Sequence[int], as_of: AsOf | None = None) -> Self:
        """Those of some housings that nobody set aside, in the order they were pulled."""
        standing = self.standing() if as_of is None else self.as_of(as_of, "pulled_at")
        counts = Q(decision__isnull=True)
        if as_of is not None:
            counts |= Q(decision__recorded_at__gt=as_of.known_by)
        return standing.filter(counts, among("housing", housing_ids)).order_by("pulled_at", "pk")

    def softness_by_housing(self, housing_ids: Iterable[int]) -> dict[int, ProofPull]:
        """The pull whose softness holds, of each housing where one does."""
        found = self.by_housing(housing_ids)
        return {key: each.softness for key, each in found.items() if each.softness is not None}


def come_to_by_housing(pulls: Iterable[ProofPull]) -> dict[int, PullsOfUnit]:
    """What pulls that may decide, in the order they were pulled, come to for each housing."""
    of_housing: dict[int, list[ProofPull]] = {}
    for pull in pulls:
        if pull.is_for_rating:
            of_housing.setdefault(pull.housing_id, []).append(pull)
    return {housing_id: _come_to(each) for housing_id, each in of_housing.items()}


def _come_to(pulls: list[ProofPull]) -> PullsOfUnit:
    place = softness_in_force([pull.found for pull in pulls])
    return PullsOfUnit(None if place is None else pulls[place], pulls[-1])


class ProofPull(Recorded):
    """A whole unit pulled against a load indicator, and what that came to. Never edited.

    The figures are those it had when it was recorded, held to the ledger entry it names.
    """

    housing = models.ForeignKey(
        "fleet.SuppressorHousing", models.PROTECT, related_name="proof_pulls"
    )
    entry = models.ForeignKey("ratings.LedgerEntry", models.PROTECT, related_name="proof_pulls")
    indicator = models.ForeignKey(LoadIndicator, models.PROTECT, related_name="proof_pulls")
    tape = models.ForeignKey("ratings.Tape", models.PROTECT, related_name="proof_pulls")
    # The instruments as they were that day.
    indicator_kind = models.CharField(max_length=9, choices=LoadIndicator.Kind)
    accuracy_pct = models.FloatField()
    resolution_lbf = models.FloatField()
    certificate_number = models.CharField(max_length=80, blank=True)
    calibrated_on = models.DateField(null=True)
    due_on = models.DateField(null=True)
    tape_resolution_in = models.FloatField()

    pulled_at = models.DateTimeField()
    tare_lbf = load_field(
        "indicator with the unit hanging free",
        example="21500",
        help_text="What it showed before the anchor took load: rigging, housing and hammer. 0 "
        "for a load cell between clamp and anchor, or an indicator set to nothing there.",
    )
    weight_below_lb = MeasuredField(
        "weight hanging below the pads",
        quantity=Quantity.WEIGHT,
        least=0,
        most=1_000_000,
        example="9800",
        null=True,
        help_text="Exciter and clamp: they stretch the pads before the pull begins.",
    )
    rubber_temperature_f = MeasuredField(
        "rubber temperature",
        quantity=Quantity.TEMPERATURE,
        least=-40,
        most=200,
        example="68",
        null=True,
    )
    anchor = models.CharField(
        "what it was pulled against",
        max_length=200,
        help_text="The fixed anchor, and the load it is rated for.",
    )
    witness = models.CharField(max_length=80, blank=True)
    note = models.TextField(blank=True)
    corrects = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )

    sag_in = models.FloatField(help_text="Stretch the weight below gave the pads beforehand.")
    stretch_in = models.FloatField(help_text="The largest stretch compared, from hanging free.")
    measured_lbf = models.FloatField(help_text="Pull at it, by all readings together.")
    expected_lbf = models.FloatField(help_text="Pull at it by what the ledger says of the pads.")
    stiffness_lbf_in = models.FloatField()
    expected_stiffness_lbf_in = models.FloatField()
    ratio = models.FloatField(help_text="Measured over expected.")
    half_width = models.FloatField(help_text="Expanded uncertainty of the ratio.")
    own_share = models.FloatField(help_text="Standard uncertainty of it, from the pull alone.")
    own_degrees_of_freedom = models.FloatField(null=True, help_text="None for infinitely many.")
    coverage_factor = models.FloatField()
    e_n = models.FloatField()
    offset_lbf = models.FloatField(null=True)
    pads_digest = models.CharField(
        max_length=64, help_text="Of the pads and the rates it was held to."
    )
    parts = models.JSONField(help_text="[name, standard share of the expected pull] of each doubt.")
    reservations = models.JSONField(help_text="What keeps it from lifting a softness.")

    objects = ProofPullQuerySet.as_manager()

    class Meta:
        ordering = ["-pulled_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="proof_pull_possible",
                condition=Q(
                    tare_lbf__gte=0,
                    accuracy_pct__gt=0,
                    resolution_lbf__gt=0,
                    tape_resolution_in__gt=0,
                    sag_in__gte=0,
                    stretch_in__gt=0,
                    expected_lbf__gt=0,
                    ratio__gt=0,
                    half_width__gt=0,
                    own_share__gt=0,
                ),
            ),
            models.CheckConstraint(name="proof_pull_against_an_anchor", condition=~Q(anchor="")),
        ]

    def __str__(self) -> str:
        return f"proof pull {self.pk} of {self.housing}"

    @property
    def is_for_rating(self) -> bool:
        """Whether its indicator was in calibration; a pull that isn't is kept, not used."""
        return is_in_calibration(self.calibrated_on, self.due_on, self.pulled_at)

    @property
    def verdict(self) -> Verdict:
        return verdict(self.e_n, self.half_width)

    @property
    def e_n_words(self) -> str:
        return e_n_words(self.e_n)

    @property
    def half_width_pct(self) -> float:
        """The expanded uncertainty of the ratio, % of what was expected."""
        return 100.0 * self.half_width

    @property
    def doubts(self) -> list[tuple[str, float]]:
        """What leaves it in doubt: its name and standard uncertainty, % of what was expected."""
        return [(name, 100.0 * standard) for name, standard in self.parts]

    @property
    def is_softer(self) -> bool:
        return self.verdict is Verdict.SOFTER

    @property
    def is_stiffer(self) -> bool:
        return self.verdict is Verdict.STIFFER

    @property
    def found(self) -> PullFound:
        """What it found, as the mechanics choose among several."""
        return PullFound(
            ratio=self.ratio,
            own_half_width=expanded(self.own_share, self.own_freedom),
            e_n=self.e_n,
            half_width=self.half_width,
            may_lift=not self.reservations,
        )

    @property
    def pads_share(self) -> float:
        """Standard uncertainty of what the ledger said of the pads, as a share of it."""
        return float(self.parts[-1][1])

    @property
    def own_freedom(self) -> float:
        """The degrees of freedom of what the pull alone leaves in doubt."""
        return math.inf if self.own_degrees_of_freedom is None else self.own_degrees_of_freedom

    def factor(self, policy: Policy) -> ProofFactor:
        """Return what it tells of the unit in use, under a policy."""
        is_temperature_known = self.rubber_temperature_f is not None
        unknown_pct = 0.0 if is_temperature_known else policy.unknown_temperature_pct
        return proof_factor(
            self.ratio,
            self.own_share,
            self.own_freedom,
            policy.conditions_pct + unknown_pct,
            # Of the day everywhere: the same fact must read the same wherever the site is run.
            self.pulled_at.astimezone(UTC).date().isoformat(),
        )

    @property
    def reservation_words(self) -> list[str]:
        return [Reservation(each).words for each in self.reservations]

    @property
    def doubtful_reason(self) -> str:
        """What a mistake would look like this, where the ratio is far from 1."""
        return doubtful_reason(self.ratio)


class ProofReading(models.Model):
    """One reading of load and stretch, in the order it was entered. Never edited."""

    pull = models.ForeignKey(ProofPull, models.PROTECT, related_name="readings")
    number = models.PositiveSmallIntegerField()
    branch = models.CharField(max_length=9, choices=BRANCHES, default=Branch.LOADING.value)
    load_lbf = load_field("load", example="42000")
    stretch_in = MeasuredField(
        "stretch",
        quantity=Quantity.LENGTH,
        least=0,
        above_least=True,
        most=MOST_STRETCH_IN,
        example="2.5",
    )
    measured_lbf = models.FloatField(help_text="Load less what hung there already.")
    expected_lbf = models.FloatField(
        null=True, help_text="What the pads should give there; none where they are not known."
    )

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(name="proof_reading_once", fields=["pull", "number"]),
            models.CheckConstraint(
                name="proof_reading_possible",
                condition=Q(load_lbf__gte=0, stretch_in__gt=0, measured_lbf__gt=0),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.load_lbf:g} lbf at {self.stretch_in:g} in"


class ProofDecision(Recorded):
    """A second person's word that a softness found by a pull counts no more, and why."""

    pull = models.OneToOneField(ProofPull, models.PROTECT, related_name="decision")
    pull_recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    reason = models.CharField(
        "why it counts no more",
        max_length=200,
        help_text="What was found, such as a sling chafing on the guide; not that it is unwelcome.",
    )

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="proof_pull_set_aside_by_a_second_person",
                condition=~Q(recorded_by=F("pull_recorded_by")),
            ),
            models.CheckConstraint(
                name="proof_pull_set_aside_for_a_reason", condition=~Q(reason="")
            ),
        ]

    def __str__(self) -> str:
        return f"proof pull {self.pull_id} set aside"
