"""Say what a lot's trend tells, and what in it may mislead."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import timedelta
from statistics import fmean, stdev

from fleet.dates import day_words
from fleet.models import PadLot
from fleet.quantities import Quantity, plain_number
from ratings.mechanics.pooling import lower_bound_of_one_pad
from ratings.mechanics.surveillance import Slope, Trend
from ratings.surveillance.plans import CONFIDENCE, PROPORTION
from ratings.surveillance.trends import (
    BAND,
    LIMIT_SHARE,
    LotTrend,
    Occasion,
    Origin,
    PadTest,
    softening_lots,
)

HOURS = 1000.0
# Receipts further apart than this leave it open which pads are how old.
SAME_DELIVERY = timedelta(days=90)
# Rubber that much warmer is softer, whatever its age.
ALIKE_F = 20.0
_FALL = f"{100 * (1 - LIMIT_SHARE):.0f} %"


@dataclass(frozen=True)
class Softening:
    """A lot that softens, and how, in words that follow its mark.

    is_taken_up: a rating was approved since its last pads were drawn.
    """

    lot: PadLot
    words: str
    is_taken_up: bool

    def __str__(self) -> str:
        return f"Lot {self.lot.mark} {self.words}."


def softenings(lot_ids: Collection[int] | None = None) -> tuple[Softening, ...]:
    """Return the lots that soften, of those given or else of all in use, by mark."""
    return tuple(
        Softening(each.lot, softening_words(each), each.is_taken_up)
        for each in softening_lots(lot_ids)
        if lot_ids is not None or each.lot.retired_on is None
    )


def softening_words(trend: LotTrend) -> str:
    """Say how fast a lot softens and when it will have lost a tenth; "" where it doesn't."""
    parts = []
    if trend.by_age is not None and trend.by_age.slope.is_softening:
        parts.append(f"softens by {_pace(trend, trend.by_age.slope, 1.0, 'a year')}")
        parts.append(_when(trend))
    if trend.by_hours is not None and trend.by_hours.slope.is_softening:
        verb = "that is" if parts else "softens by"
        pace = _pace(trend, trend.by_hours.slope, HOURS, f"per {HOURS:,.0f} h worked")
        hours = trend.falls_below_after_hours
        is_ahead = hours is not None and hours > trend.by_hours.last_at
        below = f": {_below(trend)} after {_about(hours)} h" if hours and is_ahead else ""
        parts.append(f"{verb} {pace}{below}")
    return "; ".join(parts)


def trend_words(trend: LotTrend) -> Iterator[str]:
    """Yield what the lines tell where nothing softens, or why there is none."""
    if trend.by_age is None:
        yield _why_none(trend)
    elif not trend.by_age.slope.is_softening:
        yield _steady(trend, trend.by_age, 1.0, "a year")
    if trend.by_hours is None:
        if trend.by_age is not None:
            yield "Too few pads have their hours on record to tell a trend against hours."
    elif not trend.by_hours.slope.is_softening:
        yield _steady(trend, trend.by_hours, HOURS, f"per {HOURS:,.0f} h worked")


def limit_words(trend: LotTrend) -> str:
    """Name the rate at which the lot has softened by a tenth."""
    return _below(trend)


def newest_words(trend: LotTrend, system: str) -> str:
    """Say what the single pads drawn in the last year promise of the others.

    "" of fewer than two.
    """
    since = trend.today - timedelta(days=365)
    rates = [
        each.rate_lbf_in
        for each in trend.of_age
        if each.first.origin is Origin.SERVICE
        and each.first.test.pads_in_test == 1
        and each.first.day > since
    ]
    if len(rates) < 2:
        return ""
    bound = lower_bound_of_one_pad(fmean(rates), stdev(rates), len(rates), PROPORTION, CONFIDENCE)
    words = Quantity.RATE.words
    return (
        f"The {len(rates)} single pads drawn in the last year have {words(fmean(rates), system)} "
        f"on average, standard deviation {words(stdev(rates), system)}: with "
        f"{CONFIDENCE * 100:.0f} % confidence {PROPORTION * 100:.0f} % of the pads in service have "
        f"{words(bound, system)} or more."
    )


def caveats(trend: LotTrend, system: str) -> Iterator[str]:
    """Yield what may make the trend other than it looks, in the order of its weight."""
    drawn = [each for each in trend.of_age if each.first.origin is Origin.SERVICE]
    if trend.by_age is not None or trend.by_hours is not None:
        yield from _of_stands(trend)
        yield from _of_gauges(trend)
        yield from _of_housings(drawn)
    yield from _of_pads(trend, drawn)
    yield from _of_likeness(trend, system)
    yield from _of_age(trend)


def _pace(trend: LotTrend, slope: Slope, per: float, words: str) -> str:
    low, high = slope.band(BAND)
    fall, least, most = (-each * per * _pct(trend) for each in (slope.per_unit, high, low))
    return f"{fall:.1f} % {words}, band {least:.1f} to {most:.1f}"


def _about(hours: float) -> str:
    """Write hours to the hundred: no trend knows them better."""
    return plain_number(round(hours, -2), 0)


def _steady(trend: LotTrend, line: Trend, per: float, words: str) -> str:
    slope = line.slope
    low, high = slope.band(BAND)
    pct = per * _pct(trend)
    return (
        f"No softening is seen: {slope.per_unit * pct:+.1f} % {words}, band {low * pct:+.1f} to "
        f"{high * pct:+.1f}. {line.points} points show a fall only from about "
        f"{slope.least_seen * pct:.1f} % {words} on."
    ).replace("-", "−")


def _pct(trend: LotTrend) -> float:
    return 100.0 / trend.reference_lbf_in if trend.reference_lbf_in else 0.0


def _below(trend: LotTrend) -> str:
    return f"{_FALL} below its {'' if trend.is_reference_approved else 'first '}rate"


def _when(trend: LotTrend) -> str:
    line, band = trend.falls_below_on, trend.may_fall_below_on
    if line is None:
        return "at this pace not yet a tenth in thirty years"
    below = _below(trend)
    if trend.by_age is not None and line <= trend.day_at(trend.by_age.last_at):
        return f"it was {below} or more already when last tested"
    if line <= trend.today:
        return f"at this pace {below} since {line:%b %Y}: draw pads again now"
    if band is None or f"{band:%b %Y}" == f"{line:%b %Y}":
        return f"at this pace {below} by {line:%b %Y}"
    soonest = "already" if band <= trend.today else f"by {band:%b %Y}"
    return f"at this pace {below} by {line:%b %Y}, at the worst {soonest}"


def _why_none(trend: LotTrend) -> str:
    drawn = len(trend.from_service)
    if not drawn:
        kept = [each for each in trend.tests if each.origin is Origin.SERVICE]
        if kept:
            return "No trend: the gauge was out of calibration at every test of pads from service."
        if any(each.origin is Origin.NEW for each in trend.tests):
            return (
                "No trend: all pads tested were new. They tell how rubber lies on a shelf, nothing "
                "of what work does to it. Draw pads from housings."
            )
        return "No trend: no pad was drawn from service yet."
    many = len(trend.of_age)
    if many < 3:
        return (
            f"No trend: {many} point{'s' * (many != 1)} to go by, new pads and drawn ones "
            "together. Two always lie on a line, so that nothing tells it from chance: three are "
            "needed, at two ages or more."
        )
    return "No trend: all pads were tested at one age. Draw pads again in another year."


def _of_stands(trend: LotTrend) -> Iterator[str]:
    spans: dict[str, list[Occasion]] = {}
    for each in trend.of_age:
        spans.setdefault(each.first.stand, []).append(each)
    if len(spans) < 2:
        return
    read = " and on ".join(
        f"{stand} ({_span(there[0].first, there[-1].tests[-1])})" for stand, there in spans.items()
    )
    if trend.within is None:
        apart = (
            "No stand read pads at two ages, so that a stand that reads lower than the one before "
            "would look the same. Read a reference piece on each."
        )
    else:
        pct = _pct(trend)
        low, high = (each * pct for each in trend.within.band(BAND))
        apart = (
            f"Within the stands alone they show {trend.within.per_unit * pct:+.1f} % a year, "
            f"band {low:+.1f} to {high:+.1f}."
        ).replace("-", "−")
    yield (
        f"The pads were read on {read}. {apart} The band has room for what the stands themselves "
        "leave in doubt."
    )


def _of_gauges(trend: LotTrend) -> Iterator[str]:
    certificates: dict[str, set[str]] = {}
    for occasion in trend.of_age:
        for each in occasion.tests:
            if each.test.gauge_certificate:
                seen = certificates.setdefault(each.test.gauge.mark, set())
                seen.add(each.test.gauge_certificate)
    anew = [mark for mark, seen in certificates.items() if len(seen) > 1]
    if anew:
        yield (
            f"Gauge {' and gauge '.join(anew)} was calibrated anew between the tests: had it been "
            "set right then, that would look the same. Look at what it was found to read."
        )


def _span(first: PadTest, last: PadTest) -> str:
    if first.day == last.day:
        return day_words(first.day)
    return f"{day_words(first.day)} to {day_words(last.day)}"


def _of_housings(drawn: list[Occasion]) -> Iterator[str]:
    housings = {
        pad.housing for each in drawn for test in each.tests for pad in test.pads if pad.housing
    }
    if len(drawn) > 1 and len(housings) == 1:
        yield (
            f"All were drawn from housing {housings.pop()}: what that hammer did to them need not "
            "be true of the lot. Draw from other housings too."
        )
    unknown = sum(1 for each in drawn if any(pad.housing_id is None for pad in each.first.pads))
    if unknown:
        yield f"Of {_counted(unknown, 'test')} it isn’t said which housing the pads came from."


def _of_pads(trend: LotTrend, drawn: list[Occasion]) -> Iterator[str]:
    unread = sum(1 for each in drawn if each.hours is None)
    if unread:
        yield (
            f"Of {_counted(unread, 'draw')} the hours were not read: against hours "
            f"{'it counts' if unread == 1 else 'they count'} for nothing."
        )
    repeats = [each for each in trend.of_age if len(each.tests) > 1]
    if repeats:
        tests = ", ".join(str(test.test.pk) for each in repeats for test in each.tests)
        yield (
            f"Bench tests {tests} stretched the same pads again within a month: their mean counts "
            "once."
        )
    unmarked = sum(
        1 for each in drawn if any(not pad.mark and not pad.place for pad in each.first.pads)
    )
    if unmarked:
        yield (
            f"{_counted(unmarked, 'draw').capitalize()} had pads without mark or position: were it "
            "one pad tested again, the band would be too narrow."
        )
    silent = [
        str(test.test.pk)
        for each in trend.of_age
        for test in each.tests
        if test.origin is Origin.NOT_SAID
    ]
    if silent:
        yield (
            f"Taken as new, for nothing is said of where the pads came from: bench test "
            f"{', '.join(silent)}. Against hours that counts for nothing."
        )
    late = sum(
        1
        for each in trend.tests
        if each.origin in (Origin.NEW, Origin.NOT_SAID) and drawn and each.day >= drawn[0].first.day
    )
    if late:
        yield (
            f"Left out against age: {_counted(late, 'test')} of pads not from service, made since "
            "the first were drawn. Pads from the shelf would hide what work does."
        )
    mixed = [str(each.test.pk) for each in trend.tests if each.origin is Origin.MIXED]
    if mixed:
        yield (
            f"Left out, for pads from service were stretched together with others: bench test "
            f"{', '.join(mixed)}. Test them apart."
        )
    kept = [
        str(each.test.pk)
        for each in trend.tests
        if not each.test.is_for_rating and each.origin is Origin.SERVICE
    ]
    if kept:
        yield f"Left out, for the gauge was out of calibration: bench test {', '.join(kept)}."


def _of_likeness(trend: LotTrend, system: str) -> Iterator[str]:
    tests = [test for each in trend.of_age for test in each.tests]
    if len(tests) < 2:
        return
    unlike = []
    if len({_has_unloading(each) for each in tests}) > 1:
        unlike.append("some read the unloading and some did not, which friction of the seal tells")
    if len({each.test.conditioning_cycles > 0 for each in tests}) > 1:
        unlike.append("some stretched the pads beforehand and some did not")
    warmths = [
        each.test.rubber_temperature_f
        for each in tests
        if each.test.rubber_temperature_f is not None
    ]
    if len(warmths) < len(tests):
        unlike.append(f"{len(tests) - len(warmths)} did not read how warm the rubber was")
    if warmths and max(warmths) - min(warmths) > ALIKE_F:
        least, most = (Quantity.TEMPERATURE.words(f(warmths), system) for f in (min, max))
        unlike.append(f"the rubber was at {least} to {most}")
    if unlike:
        yield f"The tests were not made alike: {'; '.join(unlike)}. That may look like a trend."
    if trend.stretch_in is not None:
        stretch = Quantity.LENGTH.words(trend.stretch_in, system)
        yield (
            f"The load curve is bent and the tests went unequally far: rates are compared at "
            f"{stretch}, which all reached."
        )


def _has_unloading(each: PadTest) -> bool:
    return any(reading.branch == "unloading" for reading in each.test.readings.all())


def _of_age(trend: LotTrend) -> Iterator[str]:
    if not trend.is_received:
        yield (
            f"No receipt of the lot is on record before its first test: its age counts from that, "
            f"{day_words(trend.made_on)}, and is more. The slope is the same."
        )
    elif trend.receipts[-1] - trend.receipts[0] > SAME_DELIVERY:
        yield (
            f"Pads of the lot came in from {day_words(trend.receipts[0])} to "
            f"{day_words(trend.receipts[-1])}: age counts from the first, and some are younger."
        )


def _counted(many: int, thing: str) -> str:
    return f"{'one' if many == 1 else many} {thing}{'' if many == 1 else 's'}"
