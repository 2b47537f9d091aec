"""A lot's pads against years and hours: what was tested, what line it makes, what may mislead."""

from __future__ import annotations

import math
import uuid
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from statistics import fmean

from django.db.models import Prefetch, Q
from django.utils import timezone

from fleet.models import PadLot, PadPosition, StockMove
from ratings.bench.recording import bench_rate
from ratings.bench.reduction import reduce_test
from ratings.mechanics.load_curve import MonotoneCurve
from ratings.mechanics.pooling import BenchRate
from ratings.mechanics.surveillance import Slope, Trend, TrendPoint, fit_trend, slope_within_stands
from ratings.mechanics.unit_rating import Policy
from ratings.models import BenchPad, BenchTest, LotRating
from ratings.models.policy import rating_policy
from ratings.surveillance.draws import identity

DAYS_A_YEAR = 365.25
# The same pad stretched again within so long is a repeat; later it has aged.
REPEAT_DAYS = 31
# How far the rate may fall below the approved one before the lot should be rated anew.
LIMIT_SHARE = 0.90
# Either end of a band holds by itself with 95 % confidence, as the flag does.
BAND = 0.90
# No pad is foretold further.
HORIZON_YEARS = 30.0
HORIZON_HOURS = 100_000.0
# Tests that reached as far as one another, but for this share, tell rates that compare.
SAME_REACH = 0.10


class Origin(StrEnum):
    """Where the pads of a test came from."""

    NEW = "new"
    SERVICE = "from service"
    MIXED = "new and from service"
    NOT_SAID = "not said"


@dataclass(frozen=True)
class PadTest:
    """One bench test as a trend takes it.

    age_years: of the lot that day. hours: mean of its pads', 0 of new ones; None where not known.
    own_lbf_in, stand_lbf_in: standard uncertainty, as of mechanics.surveillance.TrendPoint.
    """

    test: BenchTest
    pads: tuple[BenchPad, ...]
    origin: Origin
    day: date
    age_years: float
    hours: float | None
    rate_lbf_in: float
    own_lbf_in: float
    stand_lbf_in: float

    @property
    def stand(self) -> str:
        """The stand and the gauge it was read with: either may be off."""
        return f"{self.test.stand.name} with gauge {self.test.gauge.mark}"

    @property
    def identity(self) -> frozenset[object]:
        """Which pads these are, so that the same are known again."""
        if len(self.pads) < self.test.pads_in_test:
            return frozenset({("test", self.test.pk)})
        return frozenset(identity(pad) for pad in self.pads)


@dataclass(frozen=True)
class Occasion:
    """The same pads on the same stand within a month: one point, however often stretched."""

    tests: tuple[PadTest, ...]

    @property
    def first(self) -> PadTest:
        return self.tests[0]

    @property
    def rate_lbf_in(self) -> float:
        return fmean(test.rate_lbf_in for test in self.tests)

    @property
    def age_years(self) -> float:
        return fmean(test.age_years for test in self.tests)

    @property
    def hours(self) -> float | None:
        known = [test.hours for test in self.tests if test.hours is not None]
        return fmean(known) if known else None

    def point(self, at: float) -> TrendPoint:
        """Return it as a point of a trend."""
        many = len(self.tests)
        return TrendPoint(
            at=at,
            rate_lbf_in=self.rate_lbf_in,
            pads=self.first.test.pads_in_test,
            own_lbf_in=math.hypot(*(test.own_lbf_in for test in self.tests)) / many,
            stand=self.first.stand,
            stand_lbf_in=fmean(test.stand_lbf_in for test in self.tests),
        )


@dataclass(frozen=True)
class LotTrend:
    """How a lot's pads fare.

    made_on: the day its age counts from; is_received where that is a receipt. receipts: the days
    pads of it came in. tests: all with pads from service, and all others that count.
    of_age, of_hours: what the lines are fitted to. by_age, by_hours: None where no trend can be
    told. within: what the stands show each by itself. stretch_in: where the rates are compared,
    None where each test's own fitted rate does. reference_lbf_in: the approved rate, or where
    that doesn't compare the line at its start (is_reference_approved tells). rating: in force.
    """

    lot: PadLot
    today: date
    made_on: date
    is_received: bool
    receipts: tuple[date, ...]
    tests: tuple[PadTest, ...]
    of_age: tuple[Occasion, ...]
    of_hours: tuple[Occasion, ...]
    by_age: Trend | None
    by_hours: Trend | None
    within: Slope | None
    stretch_in: float | None
    reference_lbf_in: float | None
    is_reference_approved: bool
    rating: LotRating | None

    @property
    def is_taken_up(self) -> bool:
        """Whether a rating was approved since the last pads were drawn, by who read of it."""
        drawn = [each.test.recorded_at for each in self.from_service]
        if self.rating is None or not drawn:
            return False
        return bool(self.rating.approval.recorded_at >= max(drawn))

    @property
    def is_softening(self) -> bool:
        """Whether the rate falls with age or with hours by more than chance and stands explain."""
        return any(
            trend is not None and trend.slope.is_softening for trend in (self.by_age, self.by_hours)
        )

    @property
    def limit_lbf_in(self) -> float | None:
        """The rate at which the lot has softened by a tenth."""
        if self.reference_lbf_in is None:
            return None
        return LIMIT_SHARE * self.reference_lbf_in

    @property
    def from_service(self) -> tuple[PadTest, ...]:
        """The tests that count and whose pads all came from service."""
        return tuple(
            each for each in self.tests if each.origin is Origin.SERVICE and each.test.is_for_rating
        )

    def day_at(self, age_years: float) -> date:
        """Return the day on which the lot is so old."""
        return self.made_on + timedelta(days=age_years * DAYS_A_YEAR)

    @property
    def falls_below_on(self) -> date | None:
        """The day the line comes down to the limit; None where it doesn't within thirty years."""
        if self.by_age is None or self.limit_lbf_in is None:
            return None
        at = self.by_age.line_reaches(self.limit_lbf_in, self._horizon)
        return None if at is None else self.day_at(at)

    @property
    def may_fall_below_on(self) -> date | None:
        """The day the lower end of the band comes down to the limit."""
        if self.by_age is None or self.limit_lbf_in is None:
            return None
        at = self.by_age.band_reaches(self.limit_lbf_in, self._horizon, BAND)
        return None if at is None else self.day_at(at)

    @property
    def falls_below_after_hours(self) -> float | None:
        """The hours after which the line against hours comes down to the limit."""
        if self.by_hours is None or self.limit_lbf_in is None:
            return None
        return self.by_hours.line_reaches(self.limit_lbf_in, HORIZON_HOURS)

    @property
    def _horizon(self) -> float:
        return (self.today - self.made_on).days / DAYS_A_YEAR + HORIZON_YEARS


def softening_lots(lot_ids: Collection[int] | None = None) -> list[LotTrend]:
    """Return the trends of the lots that soften, of those given, by mark.

    Unless any are given, of all that lie on a shelf or in a housing.
    """
    drawn = BenchPad.objects.filter(
        origin=BenchPad.Origin.FROM_SERVICE, test__corrected_by__isnull=True
    )
    lots = PadLot.objects.filter(pk__in=drawn.order_by().values("test__lot"))
    if lot_ids is None:
        fitted = PadPosition.objects.filter(lot__isnull=False).order_by().values("lot")
        lots = lots.filter(Q(in_stock__gt=0) | Q(pk__in=fitted))
    else:
        lots = lots.filter(pk__in=lot_ids)
    found = lot_trends(lots.order_by("mark")).values()
    return [each for each in found if each.is_softening]


def lot_trends(lots: Iterable[PadLot]) -> dict[int, LotTrend]:
    """Return how the pads of each lot fare, by its key; a lot without tests has none.

    In a fixed number of queries.
    """
    listed = {lot.pk: lot for lot in lots}
    if not listed:
        return {}
    policy, today = rating_policy(), timezone.localdate()
    tests: dict[int, list[BenchTest]] = {}
    for test in _tests(listed):
        tests.setdefault(test.lot_id, []).append(test)
    receipts: dict[int, list[date]] = {}
    received = StockMove.objects.filter(lot__in=listed, kind=StockMove.Kind.RECEIVED)
    for lot_id, at in received.order_by("occurred_at").values_list("lot_id", "occurred_at"):
        receipts.setdefault(lot_id, []).append(timezone.localtime(at).date())
    ratings = LotRating.objects.in_force_by_lot(listed)
    return {
        pk: _lot_trend(lot, tests[pk], receipts.get(pk, []), ratings.get(pk), policy, today)
        for pk, lot in listed.items()
        if pk in tests
    }


def _tests(lot_ids: Collection[int]) -> Iterable[BenchTest]:
    """The tests that count, and those kept of pads from service, the oldest first."""
    return (
        BenchTest.objects.standing()
        .filter(
            Q(pk__in=BenchPad.objects.filter(test__lot__in=lot_ids).order_by().values("test"))
            | Q(gauge_calibrated_on__isnull=False, gauge_due_on__isnull=False),
            lot__in=lot_ids,
        )
        .select_related("lot", "stand", "gauge")
        .prefetch_related("readings", Prefetch("pads", BenchPad.objects.select_related("housing")))
        .order_by("tested_at", "pk")
    )


def _lot_trend(
    lot: PadLot,
    tests: list[BenchTest],
    receipts: list[date],
    rating: LotRating | None,
    policy: Policy,
    today: date,
) -> LotTrend:
    first_test = timezone.localtime(tests[0].tested_at).date()
    made_on = min([first_test, *receipts[:1]])
    reduced = [(test, _reduced(test, policy.linearity_limit_pct)) for test in tests]
    stretch_in = _stretch_to_compare_at([pair for pair in reduced if pair[0].is_for_rating])
    all_tests = [_pad_test(*pair, made_on, stretch_in) for pair in reduced]
    counting = [each for each in all_tests if each.test.is_for_rating]
    of_age, of_hours = _of_age(counting), _of_hours(counting)
    by_age = _fitted([each.point(each.age_years) for each in of_age], policy)
    by_hours = _fitted(
        [each.point(each.hours) for each in of_hours if each.hours is not None], policy
    )
    is_approved = rating is not None and stretch_in is None
    start = by_age or by_hours
    reference = rating.rate_lbf_in if rating is not None and is_approved else None
    if reference is None and start is not None:
        reference = start.rate_at(start.first_at)
    return LotTrend(
        lot=lot,
        today=today,
        made_on=made_on,
        is_received=receipts[:1] == [made_on],
        receipts=tuple(dict.fromkeys(receipts)),
        tests=tuple(
            each
            for each in all_tests
            if each.test.is_for_rating or each.origin in (Origin.SERVICE, Origin.MIXED)
        ),
        of_age=of_age,
        of_hours=of_hours,
        by_age=by_age,
        by_hours=by_hours,
        within=(
            slope_within_stands(
                [each.point(each.age_years) for each in of_age], policy.pad_spread_pct or 1.0
            )
            if by_age is not None
            else None
        ),
        stretch_in=stretch_in,
        # A line may come to nothing at its start only where it rises, and then nothing softens.
        reference_lbf_in=reference if reference is None or reference > 0 else None,
        is_reference_approved=is_approved,
        rating=rating,
    )


def _fitted(points: Sequence[TrendPoint], policy: Policy) -> Trend | None:
    if len(points) < 3 or len({point.at for point in points}) < 2:
        return None
    # It only shares out the weights, so that a policy that assumes no spread shares them alike.
    return fit_trend(points, policy.pad_spread_pct or 1.0)


@dataclass(frozen=True)
class _Reduced:
    """What a test's readings come to, as far as a trend asks."""

    rate: BenchRate
    is_linear: bool
    tested_stretch_in: float
    curve: MonotoneCurve


# A test never changes, so that what it came to holds as long as this runs: the board asks anew
# with every look at it.
_MOST_KEPT = 5000
_kept: dict[tuple[uuid.UUID, float], _Reduced] = {}


def _reduced(test: BenchTest, limit_pct: float) -> _Reduced:
    key = (test.submission_id, limit_pct)
    if key not in _kept:
        if len(_kept) >= _MOST_KEPT:
            _kept.clear()
        reduction = reduce_test(test, test.measured, limit_pct)
        fit = reduction.fit
        _kept[key] = _Reduced(
            bench_rate(test, reduction), fit.is_linear, fit.tested_stretch_in, reduction.curve
        )
    return _kept[key]


def _stretch_to_compare_at(reduced: Sequence[tuple[BenchTest, _Reduced]]) -> float | None:
    """Return the stretch that all tests reached, where rates fitted further don't compare.

    A bent load curve has another rate for each reach; a straight one, or one stretched alike,
    has not.
    """
    found = [each for _, each in reduced]
    if not found or all(each.is_linear for each in found):
        return None
    reaches = [each.tested_stretch_in for each in found]
    least = min(reaches)
    return None if max(reaches) <= (1.0 + SAME_REACH) * least else least


def _pad_test(
    test: BenchTest, reduced: _Reduced, made_on: date, stretch_in: float | None
) -> PadTest:
    pads = tuple(test.pads.all())
    day = timezone.localtime(test.tested_at).date()
    origin = _origin(pads, test.pads_in_test)
    return PadTest(
        test=test,
        pads=pads,
        origin=origin,
        day=day,
        age_years=(day - made_on).days / DAYS_A_YEAR,
        hours=_hours(pads, origin),
        rate_lbf_in=(
            reduced.curve.force_lbf(stretch_in) / stretch_in
            if stretch_in is not None and stretch_in <= reduced.tested_stretch_in
            else reduced.rate.rate_lbf_in
        ),
        own_lbf_in=reduced.rate.own_lbf_in,
        stand_lbf_in=reduced.rate.common_lbf_in,
    )


def _origin(pads: Sequence[BenchPad], pads_in_test: int) -> Origin:
    service = sum(1 for pad in pads if pad.origin == BenchPad.Origin.FROM_SERVICE)
    new = sum(1 for pad in pads if pad.origin == BenchPad.Origin.NEW)
    if service == pads_in_test:
        return Origin.SERVICE
    if service:
        return Origin.MIXED
    return Origin.NEW if new == pads_in_test else Origin.NOT_SAID


def _hours(pads: Sequence[BenchPad], origin: Origin) -> float | None:
    if origin is Origin.NEW:
        return 0.0
    known = [pad.hours for pad in pads if pad.hours is not None]
    return fmean(known) if origin is Origin.SERVICE and len(known) == len(pads) else None


def _of_age(tests: Sequence[PadTest]) -> tuple[Occasion, ...]:
    """Pads from service, and others as the start they had.

    Those from the shelf tested once pads were drawn are left out: they never worked, and would
    hide what work does.
    """
    first = min((each.day for each in tests if each.origin is Origin.SERVICE), default=None)
    if first is None:
        return ()
    return _occasions(
        each
        for each in tests
        if each.origin is Origin.SERVICE
        or (each.origin in (Origin.NEW, Origin.NOT_SAID) and each.day < first)
    )


def _of_hours(tests: Sequence[PadTest]) -> tuple[Occasion, ...]:
    """Pads from service whose hours are known, and new ones at none."""
    if not any(each.origin is Origin.SERVICE for each in tests):
        return ()
    return _occasions(each for each in tests if each.hours is not None)


def _occasions(tests: Iterable[PadTest]) -> tuple[Occasion, ...]:
    made: list[list[PadTest]] = []
    last: dict[tuple[frozenset[object], str], list[PadTest]] = {}
    for each in sorted(tests, key=lambda test: (test.day, test.test.pk)):
        key = (each.identity, each.stand)
        before = last.get(key)
        if before is not None and (each.day - before[0].day).days <= REPEAT_DAYS:
            before.append(each)
        else:
            last[key] = [each]
            made.append(last[key])
    return tuple(Occasion(tuple(group)) for group in made)
