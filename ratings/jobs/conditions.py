"""Whether the conditions of commitments are met, by what is on record."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.utils import timezone

from fleet import clock
from fleet.dates import day_words
from fleet.models import OutOfService, PadPosition, SuppressorHousing
from fleet.models.housing import Condition
from fleet.signers import signer_words
from ratings.jobs.ahead import Plan, is_before_it_goes, plan_of
from ratings.jobs.candidates import seen_whole_on
from ratings.ledger.facts import staleness
from ratings.models import (
    Commitment,
    CommitmentCondition,
    ConditionKind,
    LotRating,
    RatingPolicy,
)
from ratings.models.policy import policy_in_force

# A condition comes due so many days before its last.
SOON_DAYS = 7


@dataclass(frozen=True)
class ConditionNow:
    """A condition as it stands. how: what on record meets it, "" where nothing does.

    still: what is wanting of one half done.
    """

    condition: CommitmentCondition
    plan: Plan
    first_day: date
    how: str
    today: date
    still: str = ""

    @property
    def is_met(self) -> bool:
        return bool(self.how)

    @property
    def is_missed(self) -> bool:
        """Whether its last day is past and it isn't met."""
        return not self.is_met and self.plan.to_day < self.today

    @property
    def is_before_it_goes(self) -> bool:
        """Whether it must be met before the unit goes, and not while it is held."""
        return is_before_it_goes(self.plan, self.first_day)

    @property
    def is_wanting(self) -> bool:
        """Whether no sheet prints for lack of it."""
        return not self.is_met and (self.is_before_it_goes or self.is_missed)

    @property
    def is_soon(self) -> bool:
        """Whether it comes due within a week and isn't met."""
        last = self.plan.to_day
        return not self.is_met and self.today <= last <= self.today + timedelta(days=SOON_DAYS)

    @property
    def needs_a_person(self) -> bool:
        """Whether no record can show it, so that somebody must say so."""
        return self.plan.kind is ConditionKind.OTHER

    @property
    def word(self) -> str:
        """How it stands, in a word or two."""
        if self.is_met:
            return "met"
        return "missed" if self.is_missed else "to do"

    @property
    def words(self) -> str:
        """What is to be done, and on which days."""
        words = f"{self.plan.said}, {self.plan.days}"
        return f"{words}: {self.still}" if self.still else words


def conditions_now(commitments: Collection[Commitment]) -> dict[int, list[ConditionNow]]:
    """Return the conditions of commitments by the commitment's key, in a few queries for all."""
    rows = list(
        CommitmentCondition.objects.filter(commitment__in=commitments)
        .select_related("commitment", "lot", "indicator", "met__recorded_by")
        .order_by("to_day", "pk")
    )
    if not rows:
        return {}
    evidence = _Evidence(rows)
    found: dict[int, list[ConditionNow]] = defaultdict(list)
    for row in rows:
        found[row.commitment_id].append(
            ConditionNow(
                row,
                plan_of(row),
                row.commitment.first_day,
                evidence.of(row),
                clock.today(),
                evidence.still(row),
            )
        )
    return found


def _midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time.min))


class _Evidence:
    """What is on record for some conditions, asked for once for all."""

    def __init__(self, rows: Sequence[CommitmentCondition]) -> None:
        housings = {row.commitment.housing_id for row in rows}
        asked = {ConditionKind(row.kind) for row in rows}
        self.counts: dict[int, list[date]] = defaultdict(list)
        self.hammers_seen: dict[int, list[date]] = defaultdict(list)
        if ConditionKind.COUNT in asked:
            since = _midnight(min(row.from_day for row in rows))
            for housing_id, at in SuppressorHousing.objects.full_counts(housings, since):
                self.counts[housing_id].append(timezone.localdate(at))
            for housing_id, at in SuppressorHousing.objects.hammers_seen(housings, since):
                self.hammers_seen[housing_id].append(timezone.localdate(at))
        self.fitted: dict[int, dict[tuple[str, int], int | None]] = defaultdict(dict)
        if ConditionKind.PADS in asked:
            sound = PadPosition.objects.filter(housing__in=housings, condition=Condition.SOUND)
            for each in sound:
                self.fitted[each.housing_id][each.side, each.number] = each.lot_id
        self.ratings: Mapping[int, LotRating] = {}
        if ConditionKind.RATE in asked:
            lots = {row.lot_id for row in rows if row.lot_id is not None}
            self.ratings = LotRating.objects.in_force_by_lot(lots)
            self.policy = policy_in_force(RatingPolicy.objects.first())
        self.out: set[int] = set()
        if ConditionKind.SERVICE in asked:
            out = OutOfService.objects.open().of_units(housings)
            self.out = set(out.values_list("unit_today", flat=True))

    def of(self, row: CommitmentCondition) -> str:
        """Return what meets a condition, "" where nothing does."""
        held = row.commitment
        match ConditionKind(row.kind):
            case ConditionKind.COUNT:
                counted, hammer = self._seen_by(row)
                whole = seen_whole_on(counted, hammer)
                if whole is None or whole < row.from_day or counted is None or hammer is None:
                    return ""
                words = f"counted in full {day_words(counted)}"
                return words if whole == counted else f"{words}, hammer seen {day_words(whole)}"
            case ConditionKind.PADS:
                there = self.fitted[held.housing_id]
                places = [(side, number) for side, number in row.positions]
                is_fitted = all(there.get(place) == row.lot_id for place in places)
                return f"{len(places)} pads of lot {row.lot} are fitted" if is_fitted else ""
            case ConditionKind.RATE:
                rating = self.ratings.get(row.lot_id or 0)
                if rating is None or staleness(rating, self.policy, _midnight(held.last_day)):
                    return ""
                return f"rating {rating.pk} of lot {row.lot} holds to the last day"
            case ConditionKind.CALIBRATION:
                indicator = row.indicator
                due_on = indicator.due_on if indicator else None
                if indicator is None or due_on is None:
                    return ""
                if not indicator.is_in_calibration_to(held.last_day):
                    return ""
                return f"load indicator {indicator} is in date to {day_words(due_on)}"
            case ConditionKind.SERVICE:
                return "" if held.housing_id in self.out else "in service"
            case ConditionKind.OTHER:
                met = getattr(row, "met", None)
                return f"{met.note.rstrip('.')} ({signer_words(met)})" if met else ""

    def still(self, row: CommitmentCondition) -> str:
        """Return what is still wanting of a count half made, "" where nothing is."""
        if ConditionKind(row.kind) is not ConditionKind.COUNT or self.of(row):
            return ""
        counted, _hammer = self._seen_by(row)
        if counted is not None and counted >= row.from_day:
            return (
                f"its housing was counted in full {day_words(counted)}, and the hammer it hangs on "
                "now is still to be inspected"
            )
        return ""

    def _seen_by(self, row: CommitmentCondition) -> tuple[date | None, date | None]:
        """Return the last full count of a housing and the last inspection of its hammer by then."""
        counts, hammers = (
            max((day for day in seen[row.commitment.housing_id] if day <= row.to_day), default=None)
            for seen in (self.counts, self.hammers_seen)
        )
        return counts, hammers
