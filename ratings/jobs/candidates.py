"""Every unit that could be sent to a job, and what the extraction check needs to know of it."""

from __future__ import annotations

import json
from collections import OrderedDict, defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from typing import Any, NamedTuple

from django.db.models import FilteredRelation, Q
from django.utils import timezone

from fleet import clock
from fleet.dates import days_words
from fleet.models import (
    Clamp,
    ClampFitting,
    Hammer,
    Hire,
    OutOfService,
    PadLot,
    SuppressorHousing,
    Transfer,
)
from fleet.models.clamp import HELD_BY_COLUMN, kinds_held
from ratings.ledger.facts import staleness
from ratings.mechanics.extraction.rated_pads import RatedPads, rated_pads
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.record import read_inputs
from ratings.mechanics.standing import Standing
from ratings.mechanics.unit_rating import Policy, UnitInputs, stiff_groups, unknown_stiffness
from ratings.models import (
    Commitment,
    CurrentRating,
    LedgerEntry,
    LoadIndicator,
    LotRating,
    RatingPolicy,
)
from ratings.models.policy import policy_in_force


@dataclass(frozen=True)
class Watch:
    """What watches a pull by its load. mark: of the load indicator, "" where none is named.

    lapsing: the same where its calibration does not last to the last day.
    """

    mark: str = ""
    lapsing: tuple[str, ...] = ()


NOT_NAMED = Watch()


def watch_of(indicator: LoadIndicator | None, last_day: date) -> Watch:
    """Return what watches a pull that ends on a day, by its calibration as it stands now."""
    if indicator is None:
        return NOT_NAMED
    lapses = not indicator.is_in_calibration_to(last_day)
    return Watch(indicator.mark, (indicator.mark,) if lapses else ())


# Commitments by the key of their housing, and by that of their hammer.
Overlapping = tuple[Mapping[int, list[Commitment]], Mapping[int, list[Commitment]]]


def commitments_overlapping(
    first_day: date, last_day: date, leave_out_job: int | None = None
) -> Overlapping:
    """Return the commitments in force that overlap a span of days, both days included.

    leave_out_job: whose commitments don't count.
    """
    by_housing: dict[int, list[Commitment]] = defaultdict(list)
    by_hammer: dict[int, list[Commitment]] = defaultdict(list)
    for each in Commitment.objects.overlapping(first_day, last_day).select_related("job"):
        if each.job_id != leave_out_job:
            by_housing[each.housing_id].append(each)
            by_hammer[each.hammer_id].append(each)
    return by_housing, by_hammer


def _committed_words(overlapping: Overlapping, housing_id: int, hammer_id: int) -> str:
    """Return which jobs hold a housing or its hammer, and when; "" where none does.

    Either alone keeps the unit from going: the housing may have changed hammers since.
    """
    by_housing, by_hammer = overlapping
    found = [
        *by_housing.get(housing_id, []),
        *(each for each in by_hammer.get(hammer_id, []) if each.housing_id != housing_id),
    ]
    return "; ".join(
        f"{each.job.site}, {days_words(each.first_day, each.last_day)}" for each in found
    )


# The figures on record that the check takes, by the name it knows each by: of what, and its column.
FIGURES = {
    "eccentric_moment_lb_in": ("hammer", "eccentric_moment_lb_in"),
    "frequency_vpm": ("hammer", "frequency_vpm"),
    "exciter_weight_lb": ("hammer", "exciter_weight_lb"),
    "clamp_weight_lb": ("clamp", "weight_lb"),
    "clamp_force_lbf": ("clamp", "clamp_force_lbf"),
    "housing_weight_lb": ("housing", "weight_lb"),
}


def figures_of(housing: SuppressorHousing, hammer: Hammer, clamp: Clamp | None) -> dict[str, Any]:
    """Return the figures of a hammer, its clamp and its housing, as they stand on record.

    By the names that the check knows them by.
    """
    machines = {"housing": housing, "hammer": hammer, "clamp": clamp}
    return {
        name: getattr(machines[machine], column) if machines[machine] else None
        for name, (machine, column) in FIGURES.items()
    }


MOST_KEPT = 20_000
# Databases take only so many parameters; beyond this every head is read instead.
MOST_ASKED_BY_HASH = 500


_kept: OrderedDict[str, RatedPads] = OrderedDict()


def pads_of(hashes: Iterable[str]) -> dict[str, RatedPads]:
    """Return the pads of entries by hash: one query, and none where all were read before."""
    wanted = set(hashes)
    found = {each: kept for each in wanted if (kept := _kept.get(each)) is not None}
    unread = [each for each in wanted if each not in found]
    documents: Iterable[tuple[str, str]] = ()
    if len(unread) > MOST_ASKED_BY_HASH:
        documents = CurrentRating.objects.values_list("head__hash", "head__document").iterator()
    elif unread:
        documents = LedgerEntry.objects.filter(hash__in=unread).values_list("hash", "document")
    for entry_hash, document in documents:
        if entry_hash in wanted and entry_hash not in found:
            inputs = read_inputs(json.loads(document)["inputs"])
            found[entry_hash] = _kept[entry_hash] = rated_pads(inputs)
    while len(_kept) > MOST_KEPT:
        _kept.popitem(last=False)
    return found


def with_stiffness(unit: Unit, inputs: UnitInputs) -> Unit:
    """Return a unit that says what every pad fitted may pull, by what its entry rests on."""
    return replace(
        unit, stiff_groups=stiff_groups(inputs), unknown_stiffness=unknown_stiffness(inputs)
    )


@dataclass(frozen=True)
class Candidate:
    """A housing on a hammer, the head of its ledger, and its facts for the check.

    clamp: the one fitted to the hammer, None where none is on record. entry: that the unit is
    judged by. The housing comes with when it was last seen (HousingQuerySet.with_last_seen).
    """

    housing: SuppressorHousing
    hammer: Hammer
    entry: LedgerEntry | None
    unit: Unit
    clamp: Clamp | None = None

    @property
    def counted_on(self) -> date | None:
        """The day its gate goes by, of counted_on."""
        return counted_on(self.housing)

    @property
    def hammer_seen_on(self) -> date | None:
        """The day its hammer was last inspected, None where it never was."""
        at = getattr(self.housing, "hammer_seen_at", None)
        return timezone.localdate(at) if at else None

    @property
    def is_hammer_older(self) -> bool:
        """Whether its hammer was inspected on another day than its housing was last counted."""
        return self.pads_counted_on is not None and self.hammer_seen_on != self.pads_counted_on

    @property
    def pads_counted_on(self) -> date | None:
        """The day of the last full count of its housing, None where there was none."""
        at = getattr(self.housing, "counted_at", None)
        return timezone.localdate(at) if at else None

    @property
    def looked_at_later_on(self) -> date | None:
        """The day it was last inspected without a full count, where that came after the last one.

        None of an answer on record: what was seen since is no matter of it.
        """
        at, counted_at = (getattr(self.housing, each, None) for each in ("looked_at", "counted_at"))
        if at is None or at == counted_at:
            return None
        return timezone.localdate(at)


def counted_on(housing: SuppressorHousing) -> date | None:
    """Return the day by which a unit was last inspected whole, None where it never was.

    The older of its housing's last full count and its hammer's own last inspection: a hammer that
    came under a housing counted lately was not looked at with it. The housing comes from
    with_last_seen.
    """
    both = [getattr(housing, name, None) for name in ("counted_at", "hammer_seen_at")]
    return seen_whole_on(*(timezone.localdate(at) if at else None for at in both))


def seen_whole_on(counted_on: date | None, hammer_seen_on: date | None) -> date | None:
    """Return the day a unit was last inspected whole, by those of its housing and its hammer.

    The older of the two: the one rule of the gate and of a condition that waits for a count.
    """
    if counted_on is None or hammer_seen_on is None:
        return None
    return min(counted_on, hammer_seen_on)


class OnHammer(NamedTuple):
    """A unit that could be sent, as the check takes it, and the keys of its records.

    clamp, entry: None where no clamp is on record, where it was never rated.
    """

    unit: Unit
    housing: int
    hammer: int
    clamp: int | None
    entry: int | None


def candidates(
    first_day: date,
    last_day: date,
    distances: Mapping[int, float] | None = None,
    leave_out_job: int | None = None,
    only_housing: int | None = None,
    watch: Watch | None = None,
) -> list[Candidate]:
    """Return every unit of units_on_hammers, with its records."""
    return with_records(
        units_on_hammers(first_day, last_day, distances, leave_out_job, only_housing, watch)
    )


def with_records(units: Collection[OnHammer]) -> list[Candidate]:
    """Return units with the records of their housing, hammer, clamp and entry, in their order.

    In as many queries for a few hundred units as for one.
    """
    seen = SuppressorHousing.objects.select_related("yard", "current_rating__head")
    # The document of an entry is long, and read once for all by pads_of.
    housings = (
        seen.defer("current_rating__head__document")
        .with_last_seen()
        .in_bulk({each.housing for each in units})
    )
    hammers = Hammer.objects.in_bulk({each.hammer for each in units})
    clamps = Clamp.objects.in_bulk({each.clamp for each in units if each.clamp is not None})
    heads = (head for each in housings.values() if (head := _head(each)) is not None)
    entries = {head.pk: head for head in heads}
    judged_by = {each.entry for each in units if each.entry is not None}
    if before := judged_by - entries.keys():
        # A newer one was posted since.
        entries |= LedgerEntry.objects.defer("document").in_bulk(before)
    return [
        Candidate(
            housings[each.housing],
            hammers[each.hammer],
            None if each.entry is None else entries[each.entry],
            each.unit,
            None if each.clamp is None else clamps[each.clamp],
        )
        for each in units
    ]


def units_on_hammers(
    first_day: date,
    last_day: date,
    distances: Mapping[int, float] | None = None,
    leave_out_job: int | None = None,
    only_housing: int | None = None,
    watch: Watch | None = None,
) -> list[OnHammer]:
    """Return every unit whose housing is on a hammer, by its mark, in a fixed number of queries.

    Without its records, which take longer to make than all that is judged of most units.

    distances: miles from the site, by the yard's key. leave_out_job: whose commitments don't
    count, being this job's own. watch: what watches the pull; None where nobody is asked.
    """
    hung = _Hung.all(only_housing)
    rated = pads_of(each.entry_hash for each in hung if each.entry_hash is not None)
    clamps = _Clamp.by_hammer(None if only_housing is None else {each.hammer for each in hung})
    out = dict(OutOfService.objects.open().with_unit().values_list("unit_today", "reason"))
    overlapping = commitments_overlapping(first_day, last_day, leave_out_job)
    transfers = Transfer.objects.open_by_housing(None if only_housing is None else [only_housing])
    hires = hires_of_units()
    lots = {lot for pads in rated.values() for lot in pads.lots}
    stale, lapsing = rates_in_force(lots).stale_by(last_day)
    # What is so of every unit alike.
    state: dict[str, Any] = {
        "days_held": (last_day - first_day).days,
        "is_ahead": first_day > clock.today(),
        "watched_by": watch.mark if watch else None,
        "calibration_lapsing": watch.lapsing if watch else None,
    }
    zone, found = timezone.get_current_timezone(), []
    for each in hung:
        clamp, transfer = clamps.get(each.hammer, _NO_CLAMP), transfers.get(each.housing)
        pads = _UNRATED if each.entry_hash is None else rated.get(each.entry_hash, _UNRATED)
        counted = seen_whole_on(
            *(at and at.astimezone(zone).date() for at in (each.counted_at, each.hammer_seen_at))
        )
        unit = Unit(
            mark=each.mark,
            groups=pads.groups,
            usable_travel_in=each.usable_travel_in,
            travel_uncertainty_in=pads.travel_uncertainty_in,
            confidence=pads.confidence,
            proof=pads.proof,
            standing=Standing.UNRATED if each.standing is None else Standing(each.standing),
            eccentric_moment_lb_in=each.eccentric_moment_lb_in,
            frequency_vpm=each.frequency_vpm,
            exciter_weight_lb=each.exciter_weight_lb,
            clamp_weight_lb=clamp.clamp_weight_lb,
            clamp_force_lbf=clamp.clamp_force_lbf,
            housing_weight_lb=each.housing_weight_lb,
            stale_lots=tuple(sorted(pads.lots & stale)) if stale else (),
            lapsing_lots=tuple(sorted(pads.lots & lapsing)) if lapsing else (),
            drops_stale=pads.drops_stale,
            stiff_groups=pads.stiff_groups,
            unknown_stiffness=pads.unknown_stiffness,
            clamp_kinds=clamp.kinds,
            days_since_count=None if counted is None else max(0, (first_day - counted).days),
            out_of_service=out.get(each.housing, ""),
            committed=_committed_words(overlapping, each.housing, each.hammer)
            or away_words(transfer, hires, each.housing, each.hammer, first_day, last_day),
            distance_mi=(distances or {}).get(yard_on(each.yard, transfer, first_day)),
            **state,
        )
        found.append(OnHammer(unit, each.housing, each.hammer, clamp.key, each.entry))
    return found


class _Hung(NamedTuple):
    """What is read of a housing, the hammer it is on today, and the head of its ledger."""

    housing: int
    mark: str
    yard: int
    hammer: int
    entry: int | None
    entry_hash: str | None
    standing: str | None
    usable_travel_in: float | None
    counted_at: datetime | None
    hammer_seen_at: datetime | None
    housing_weight_lb: float | None
    eccentric_moment_lb_in: float | None
    frequency_vpm: float | None
    exciter_weight_lb: float | None

    @classmethod
    def all(cls, only_housing: int | None) -> list[_Hung]:
        """Return every housing that is on a hammer, or only one, by its mark: in one query."""
        today = FilteredRelation("mountings", condition=Q(mountings__removed_at__isnull=True))
        rows = SuppressorHousing.objects.with_last_seen().alias(today=today)
        rows = rows.filter(today__isnull=False).order_by("mark")
        if only_housing is not None:
            rows = rows.filter(pk=only_housing)
        head, places = "current_rating__head", {"housing": "", "hammer": "today__hammer__"}
        columns = {
            "housing": "pk",
            "yard": "yard_id",
            "hammer": "today__hammer_id",
            "entry": "current_rating__head_id",
            "entry_hash": f"{head}__hash",
            "standing": f"{head}__standing",
            "usable_travel_in": f"{head}__usable_travel_in",
        } | {
            name: f"{places[machine]}{column}"
            for name, (machine, column) in FIGURES.items()
            if machine in places
        }
        listed = rows.values_list(*(columns.get(name, name) for name in cls._fields))
        return [cls(*row) for row in listed]


class _Clamp(NamedTuple):
    """What is read of the clamp on a hammer. key: None of none, of which nothing is known."""

    key: int | None
    clamp_weight_lb: float | None = None
    clamp_force_lbf: float | None = None
    kinds: tuple[str, ...] | None = None

    @classmethod
    def by_hammer(cls, hammers: Collection[int] | None) -> dict[int, _Clamp]:
        """Return the clamp on each of some hammers, or of all where None: in one query."""
        fitted = ClampFitting.objects.current()
        if hammers is not None:
            fitted = fitted.filter(hammer__in=hammers)
        figures = [FIGURES[each][1] for each in ("clamp_weight_lb", "clamp_force_lbf")]
        listed = fitted.values_list(
            "hammer_id", "clamp_id", *(f"clamp__{each}" for each in (*figures, *HELD_BY_COLUMN))
        )
        return {
            hammer: cls(key, weight_lb, force_lbf, kinds_held(held))
            for hammer, key, weight_lb, force_lbf, *held in listed
        }


_NO_CLAMP = _Clamp(None)
# Of a unit never rated no pad counts, and nothing is known of those fitted.
_UNRATED = RatedPads((), 0.0, Unit.confidence, frozenset())


@dataclass(frozen=True)
class RatesInForce:
    """The ratings of some lots in force now, and the policy by which one goes stale."""

    ratings: tuple[LotRating, ...]
    policy: Policy

    def stale_by(self, last_day: date) -> tuple[set[str], set[str]]:
        """Return the lots whose rate is stale now, and those whose will be.

        Will be: before last_day is over. Whatever the ledger says yet.
        """
        now, end = clock.now(), timezone.make_aware(datetime.combine(last_day, time.max))
        return (stale := self._stale_at(now)), self._stale_at(end) - stale

    def _stale_at(self, moment: datetime) -> set[str]:
        return {each.lot.mark for each in self.ratings if staleness(each, self.policy, moment)}


def rates_in_force(marks: Collection[str]) -> RatesInForce:
    """Return the ratings in force of lots by their marks, and the policy: in two queries."""
    lots = PadLot.objects.order_by()
    if len(marks) <= MOST_ASKED_BY_HASH:
        lots = lots.filter(mark__in=marks)
    ratings = LotRating.objects.in_force_by_lot(lots.values_list("pk", flat=True))
    return RatesInForce(tuple(ratings.values()), policy_in_force(RatingPolicy.objects.first()))


Hires = tuple[Mapping[int, Hire], Mapping[int, Hire]]


def hires_of_units() -> Hires:
    """Return the open hires by the key of their housing, and by that of their hammer."""
    found = list(Hire.objects.open())
    return {each.housing_id: each for each in found}, {each.hammer_id: each for each in found}


def hire_of(hires: Hires, housing_id: int, hammer_id: int) -> Hire | None:
    """Return the open hire of a housing or of its hammer."""
    by_housing, by_hammer = hires
    return by_housing.get(housing_id) or by_hammer.get(hammer_id)


def away_words(
    transfer: Transfer | None,
    hires: Hires,
    housing_id: int,
    hammer_id: int,
    first_day: date,
    last_day: date,
) -> str:
    """Return which transfer or hire keeps a unit from going on some days; "" where none does."""
    if transfer is not None and transfer.is_away_during(first_day, last_day):
        return f"its {transfer.words}"
    hire = hire_of(hires, housing_id, hammer_id)
    if hire is not None and hire.is_away_during(first_day, last_day):
        return f"its {hire.words}"
    return ""


def yard_on(yard_id: int, transfer: Transfer | None, day: date) -> int:
    """Return the key of the yard a housing of this yard is in on a day, its open transfer done."""
    if transfer is not None and transfer.last_day_away < day:
        return transfer.goal_id
    return yard_id


def _head(housing: SuppressorHousing) -> LedgerEntry | None:
    rating = getattr(housing, "current_rating", None)
    return rating.head if rating else None
