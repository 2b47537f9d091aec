"""What the yard's own pulls teach of the soils of its rules, and taking that into the rules."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.dates import days_words
from fleet.people.yards import in_every_yard
from ratings.jobs.rules import change_rules, rules_in_force
from ratings.mechanics.extraction.learning import (
    MOST_FACTOR,
    FactorSeen,
    Lesson,
    Prior,
    SoilPart,
    lesson,
    scatter_of_range,
)
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.soils import SoilResponse
from ratings.models import ExtractionRules, LearnedFactor, LearningRules, PullRecord

# No yard's ground is known better than to a twentieth, whatever range its rules have.
LEAST_SCATTER = 0.05
# Pulls of a soil that are listed beside what they teach.
MOST_SHOWN = 25
BEYOND = "more than all of the static hold: look at it again"


@dataclass(frozen=True)
class LearningPolicy:
    """How much pulls weigh: see the model's fields for each."""

    prior_pulls: float = 5.0
    least_share_pct: float = 70.0
    least_jobs: int = 3


def learning_in_force() -> LearningPolicy:
    """Return the learning rules recorded last; the defaults where there are none."""
    row = LearningRules.objects.first()
    if row is None:
        return LearningPolicy()
    return LearningPolicy(row.prior_pulls, row.least_share_pct, int(row.least_jobs))


@in_every_yard
@transaction.atomic
def change_learning(
    *, submission_id: uuid.UUID, policy: LearningPolicy, reason: str, by: User
) -> LearningRules:
    """Put learning rules in force. A second copy of a submission changes nothing.

    Raises ValidationError where nothing differs or no reason is given.
    """
    known = LearningRules.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why it changes."})
    if policy == learning_in_force():
        raise ValidationError("Nothing differs from what is in force: change one.")
    return LearningRules.objects.create(
        submission_id=submission_id,
        prior_pulls=policy.prior_pulls,
        least_share_pct=policy.least_share_pct,
        least_jobs=policy.least_jobs,
        reason=reason.strip(),
        recorded_by=by,
    )


@dataclass(frozen=True)
class Datum:
    """A pull, and what it says of its soil's factor; `why_not` where it says nothing."""

    pull: PullRecord
    seen: FactorSeen | None
    why_not: str = ""
    is_unusual: bool = False

    @property
    def is_beyond(self) -> bool:
        """Whether more was measured than all of the static hold."""
        return self.why_not == BEYOND

    @property
    def words(self) -> str:
        """What it says, or why it says nothing."""
        if self.seen is None:
            return self.why_not
        more = "more than " if self.seen.is_lower_bound else ""
        return f"{more}{self.seen.factor:.3f}"


@dataclass(frozen=True)
class SoilLesson:
    """What pulls teach of one soil of the rules.

    table: the soil as the table had it before any pull was taken into the rules. now: as it is.
    data: pulls in which it holds most, also those that say nothing.
    """

    now: SoilResponse
    table: SoilResponse
    data: tuple[Datum, ...]
    found: Lesson
    least_jobs: int

    @property
    def used(self) -> list[Datum]:
        return [each for each in self.data if each.seen is not None]

    @property
    def unusual(self) -> int:
        """How many of them the others would make unlikely."""
        return sum(each.is_unusual for each in self.data)

    @property
    def beyond(self) -> int:
        """How many are left out since they measured more than all of the static hold."""
        return sum(each.is_beyond for each in self.data)

    @property
    def shown(self) -> list[Datum]:
        """What the page has room for: all to be looked at again, and the newest of the rest."""
        first = len(self.data) - MOST_SHOWN
        return [
            each
            for place, each in enumerate(self.data)
            if each.is_unusual or each.is_beyond or place >= first
        ]

    @property
    def proposed(self) -> float:
        """The factor to take into the rules, to three figures, no more than 1."""
        return min(1.0, float(f"{self.found.posterior.factor:.3g}"))

    @property
    def source(self) -> str:
        """Where a factor so learned is from, for the rules."""
        used, found = self.used, self.found
        days = sorted(timezone.localtime(each.pull.pulled_at).date() for each in used)
        pulls = f"{found.pulls} pull{'' if found.pulls == 1 else 's'}"
        jobs = f"{found.jobs} job{'' if found.jobs == 1 else 's'}"
        return f"the yard’s own {pulls} on {jobs}, {days_words(days[0], days[-1])}"

    @property
    def is_taken(self) -> bool:
        """Whether the rules have this very factor from these very pulls."""
        return bool(self.used) and (self.now.factor, self.now.factor_source) == (
            self.proposed,
            self.source,
        )

    @property
    def jobs_lacking(self) -> int:
        return max(0, self.least_jobs - self.found.jobs)

    @property
    def may_be_taken(self) -> bool:
        return bool(self.used) and not self.jobs_lacking and not self.is_taken


def lessons(policy: ExtractionPolicy | None = None) -> list[SoilLesson]:
    """Return what pulls teach of every soil of the rules, those with pulls first."""
    rules, learning = policy or rules_in_force(), learning_in_force()
    tables = _before_learning(rules)
    pulls = standing_pulls()
    found = [
        _of_soil(soil, tables[soil.name], pulls.get(soil.name, []), rules, learning)
        for soil in rules.soils
    ]
    return sorted(found, key=lambda each: -len(each.data))


def standing_pulls() -> dict[str, list[PullRecord]]:
    """Return the pulls nothing corrects, by the soil that holds most, in the order pulled."""
    by_soil: dict[str, list[PullRecord]] = defaultdict(list)
    for pull in PullRecord.objects.standing().with_all().order_by("pulled_at", "pk"):
        by_soil[pull.soil].append(pull)
    return by_soil


def _before_learning(rules: ExtractionPolicy) -> dict[str, SoilResponse]:
    """Return each soil as it was before pulls were taken into the rules: what they begin from."""
    learned = {
        (row.soil, row.factor, row.factor_source): row
        for row in LearnedFactor.objects.order_by("pk")
    }
    tables = {}
    for soil in rules.soils:
        row = learned.get((soil.name, soil.factor, soil.factor_source))
        tables[soil.name] = (
            replace(soil, factor=row.prior_factor, factor_source=row.prior_source) if row else soil
        )
    return tables


def _of_soil(
    now: SoilResponse,
    table: SoilResponse,
    pulls: Iterable[PullRecord],
    rules: ExtractionPolicy,
    learning: LearningPolicy,
) -> SoilLesson:
    data = [datum_of(pull, learning.least_share_pct / 100.0) for pull in pulls]
    used = [place for place, each in enumerate(data) if each.seen is not None]
    prior = Prior(table.factor, learning.prior_pulls, _scatter(rules))
    found = lesson(prior, [seen for each in data if (seen := each.seen) is not None])
    for place in found.unusual:
        data[used[place]] = replace(data[used[place]], is_unusual=True)
    return SoilLesson(now, table, tuple(data), found, learning.least_jobs)


def _scatter(rules: ExtractionPolicy) -> float:
    """What one pull is thought to scatter by, from the range of the ground in the rules."""
    if rules.high_factor <= rules.low_factor:
        return LEAST_SCATTER
    return max(LEAST_SCATTER, scatter_of_range(rules.low_factor, rules.high_factor))


def datum_of(pull: PullRecord, least_share: float) -> Datum:
    """Return what a pull says of the factor of the soil that holds most of its pile."""
    seen, why_not = _seen(pull, least_share)
    return Datum(pull, seen, why_not)


def _seen(pull: PullRecord, least_share: float) -> tuple[FactorSeen | None, str]:
    if pull.outcome == PullRecord.Outcome.PART:
        return None, "it came in part: what it took is between break-out and where it stuck"
    if pull.method != PullRecord.Method.VIBRATED:
        return None, "pulled by the crane alone: it says nothing of vibration"
    if pull.hook_load_lbf is None:
        return None, "no hook load was read"
    if pull.measured_lbf is None:
        return None, "the weights on the hook are not on record"
    if not pull.soil_static_lbf or pull.soil_share is None or pull.soil_rest_lbf is None:
        return None, "no soil of its ground has a name"
    if pull.soil_share < least_share:
        return None, f"this soil has only {100 * pull.soil_share:.0f} % of the hold"
    part = SoilPart(pull.soil, pull.soil_share, pull.soil_static_lbf, pull.soil_rest_lbf)
    factor = part.factor(pull.measured_lbf)
    if factor <= 0.0:
        return None, (
            "what it was held with so low tells nothing"
            if pull.is_lower_bound
            else "less was measured than holds it beside this soil: read load and weights again"
        )
    if factor > MOST_FACTOR:
        return None, BEYOND
    return FactorSeen(factor, pull.commitment.job_id, pull.is_lower_bound), ""


@in_every_yard
@transaction.atomic
def take_into_rules(
    *, submission_id: uuid.UUID, soil: str, factor: float, source: str, reason: str, by: User
) -> LearnedFactor:
    """Put a factor learned of a soil in force, as an engineer approves it.

    factor, source: as they were shown. A second copy of a submission changes nothing. Raises
    ValidationError where pulls or rules changed since, where too few jobs stand behind it, and
    without a reason.
    """
    known = LearnedFactor.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    # One at a time: two at once would each leave out the other's soil.
    ExtractionRules.objects.select_for_update().first()
    rules = rules_in_force()
    told = next((each for each in lessons(rules) if each.now.name == soil), None)
    if told is None:
        raise ValidationError(f"“{soil}” is not in the rules any more: look at them again.")
    if not told.used or (told.proposed, told.source) != (factor, source):
        raise ValidationError(
            "Pulls or rules changed since you opened the page: look at what they teach now."
        )
    if told.is_taken:
        raise ValidationError("The rules have this factor already.")
    if told.jobs_lacking:
        raise ValidationError(
            f"Its pulls are of {told.found.jobs} jobs, and the learning rules ask for "
            f"{told.least_jobs}: piles of one job stand in the same ground."
        )
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say what you looked at."})
    taken = replace(told.now, factor=factor, factor_source=source)
    row = change_rules(
        submission_id=submission_id,
        policy=replace(
            rules, soils=tuple(taken if each.name == soil else each for each in rules.soils)
        ),
        reason=reason.strip(),
        by=by,
    )
    return LearnedFactor.objects.create(
        submission_id=submission_id,
        rules=row,
        soil=soil,
        prior_factor=told.table.factor,
        prior_source=told.table.factor_source,
        prior_pulls=learning_in_force().prior_pulls,
        factor=factor,
        factor_source=source,
        low=told.found.posterior.printed.low,
        high=told.found.posterior.printed.high,
        pulls=[each.pull.pk for each in told.used],
        recorded_by=by,
    )
