"""What is to be said of a bench test because of its stand: its checks, its gauge, its tools.

Beside what its readings tell by themselves (`ratings.bench.reduction`). It changes as checks and
certificates come in, and whoever approves a rating must see it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Subquery
from django.utils import timezone

from fleet.dates import day_words
from fleet.quantities import Quantity, plain_number
from ratings.mechanics.gauge import FoundError, found_errors
from ratings.mechanics.stand_checks import JudgedCheck, judge_checks
from ratings.models import BenchTest, GaugeCalibration, ReferenceCheck
from ratings.models.stand_checks import LONG_AGO


@dataclass(frozen=True)
class StandCheck:
    """A check of a reference piece on a stand, and how it is judged by those before it."""

    record: ReferenceCheck
    judged: JudgedCheck

    @property
    def at(self) -> datetime:
        return self.record.checked_at

    @property
    def words(self) -> str:
        """What it came to and what it is held to, for a sentence, in US units."""
        return self.words_in("us")

    def words_in(self, system: str) -> str:
        """Say what it came to and what it is held to, in the reader's units."""
        rate = Quantity.RATE.words(self.judged.check.rate_lbf_in, system, 1)
        limits = self.judged.limits
        if limits is None:
            return f"{self.record.piece.mark} gave {rate}, which disagrees with its first check"
        shown = (Quantity.RATE.shown(each, system) for each in (limits.lower, limits.upper))
        bounds = "–".join(plain_number(each, 1) for each in shown)
        return f"{self.record.piece.mark} gave {rate}, limits {bounds}"


def stand_checks(stand_ids: set[int]) -> dict[int, list[StandCheck]]:
    """Return the checks of each stand that nothing corrects, in the order made, each judged.

    Each piece has a chart of its own on each stand.
    """
    records = ReferenceCheck.objects.standing().filter(stand__in=stand_ids)
    series: dict[tuple[int, int], list[ReferenceCheck]] = {}
    for record in records.select_related("piece").order_by("checked_at", "pk"):
        series.setdefault((record.stand_id, record.piece_id), []).append(record)
    found: dict[int, list[StandCheck]] = {stand: [] for stand in stand_ids}
    for (stand, _), checks in series.items():
        judged = judge_checks([each.rate for each in checks])
        found[stand] += [StandCheck(*pair) for pair in zip(checks, judged, strict=True)]
    for each in found.values():
        each.sort(key=lambda check: (check.at, check.record.pk))
    return found


def stand_warnings(tests: Sequence[BenchTest], system: str = "us") -> list[tuple[str, ...]]:
    """Return what is to be said of each test, saved or not, in a fixed number of queries.

    system: the reader's units.
    """
    checks = stand_checks({test.stand_id for test in tests})
    certificates: dict[int, list[GaugeCalibration]] = {}
    gauges = {test.gauge_id for test in tests}
    standing = GaugeCalibration.objects.standing().filter(gauge__in=gauges)
    for each in standing.order_by("calibrated_on", "pk"):
        certificates.setdefault(each.gauge_id, []).append(each)
    told_by = calibrations_that_tell_of(tests)
    return [
        (
            *_of_checks(test, checks[test.stand_id], system),
            *_of_next_calibration(test, told_by.get(test.pk), system),
            *_of_certificate(test, certificates.get(test.gauge_id, []), system),
            *_of_tools(test),
        )
        for test in tests
    ]


def calibrations_that_tell_of(tests: Sequence[BenchTest]) -> dict[int, GaugeCalibration]:
    """Return, by the key of each test, the first calibration of its gauge after it."""
    keys = [test.pk for test in tests if test.pk is not None]
    tells = GaugeCalibration.objects.that_tell_of().order_by("calibrated_on", "pk")
    by_test = dict(
        BenchTest.objects.filter(pk__in=keys)
        .annotate(told_by=Subquery(tells.values("pk")[:1]))
        .values_list("pk", "told_by")
    )
    found = GaugeCalibration.objects.select_related("gauge").in_bulk(
        {each for each in by_test.values() if each is not None}
    )
    return {test: found[key] for test, key in by_test.items() if key is not None}


def found_off_words(calibration: GaugeCalibration, system: str = "us") -> str:
    """Return how far a gauge was off as found, such as "error up to 30 psi at 1,000 psi"."""
    worst = worst_found(calibration)
    assert worst is not None
    error, applied, allowed = (
        Quantity.PRESSURE.shown(each, system)
        for each in (abs(worst.error_psi), worst.applied_psi, worst.allowed_psi)
    )
    symbol = Quantity.PRESSURE.scale(system).symbol
    return (
        f"error up to {plain_number(error, 1)} {symbol}, at {plain_number(applied, 0)} {symbol}, "
        f"where its grade allows {plain_number(allowed, 1)}"
    )


def worst_found(calibration: GaugeCalibration) -> FoundError | None:
    """Return the error as found that is largest for what the gauge's grade allows there."""
    gauge = calibration.gauge
    found = found_errors(calibration.calibration_points, gauge.grade, gauge.span_psi)
    return max(found, key=lambda each: abs(each.error_psi) / each.allowed_psi, default=None)


def _of_checks(test: BenchTest, checks: Sequence[StandCheck], system: str) -> Iterator[str]:
    before = [each for each in checks if each.at <= test.tested_at]
    after = [each for each in checks if each.at > test.tested_at]
    if not before or _day(before[-1].at) != test.day:
        if after and _day(after[0].at) == test.day:
            at = timezone.localtime(after[0].at)
            yield (
                f"The stand was checked by its reference piece only after the test, at {at:%H:%M}: "
                "check it before the first test of a day."
            )
        else:
            yield (
                "No reference piece was pulled on the stand that day: nothing shows that it "
                "measured then as it did before."
            )
    if before and before[-1].judged.is_out:
        yield (
            f"The last check of the stand before it, on {day_words(before[-1].at)}, was out of "
            f"its limits: {before[-1].words_in(system)}."
        )
    if after and after[0].judged.is_out:
        yield (
            f"The next check of the stand, on {day_words(after[0].at)}, was out of its limits: "
            f"{after[0].words_in(system)}. "
            "What was wrong then may have been wrong in this test already."
        )


def _of_next_calibration(
    test: BenchTest, told_by: GaugeCalibration | None, system: str
) -> Iterator[str]:
    if told_by is None:
        return
    day = day_words(told_by.calibrated_on)
    if told_by.is_found_off:
        yield f"Its gauge was found off on {day}: {found_off_words(told_by, system)}."
    elif told_by.found_error_psi is None:
        yield (
            f"Its gauge was calibrated next on {day} with nothing read as found: nobody can say "
            "whether it was right in this test."
        )


def _of_certificate(
    test: BenchTest, standing: Sequence[GaugeCalibration], system: str
) -> Iterator[str]:
    used = test.gauge_calibration_id
    if used is not None and used not in {each.pk for each in standing}:
        yield (
            "The certificate of its gauge that it was reduced by was corrected since: correct the "
            "test, so that it is reduced by the right one."
        )
        return
    since = test.gauge_calibrated_on or LONG_AGO
    later = [each for each in standing if since < each.calibrated_on < test.day]
    if later:
        yield (
            f"Certificate {later[-1].certificate_number} of its gauge, of "
            f"{day_words(later[-1].calibrated_on)}, came on record after the test: correct the "
            "test, so that it is reduced by it."
        )
    correction = test.correction
    if correction is None:
        return
    highest = max((each.gauge_psi for each in test.measured), default=0.0) if test.pk else 0.0
    end_psi = correction.points[-1][0]
    if highest > end_psi:
        read, end = (Quantity.PRESSURE.shown(each, system) for each in (highest, end_psi))
        symbol = Quantity.PRESSURE.scale(system).symbol
        yield (
            f"The gauge was read to {plain_number(read, 0)} {symbol} and its certificate ends at "
            f"{plain_number(end, 0)}: beyond that its grade counts."
        )


def _of_tools(test: BenchTest) -> Iterator[str]:
    """Yield one sentence of all that is not known to have been calibrated that day."""
    lacking = [
        f"tape {test.tape.mark} {words}"
        for words in _overdue(test, test.tape_calibrated_on, test.tape_due_on)
    ]
    if test.bore_measured_on is None or test.bore_measured_on > test.day:
        lacking.append("nobody is on record as having measured bore and rod")
    if test.thermometer is not None:
        dates = (test.thermometer_calibrated_on, test.thermometer_due_on)
        lacking += [
            f"thermometer {test.thermometer.mark} {words}" for words in _overdue(test, *dates)
        ]
    elif test.rubber_temperature_f is not None:
        lacking.append("no thermometer is named")
    if lacking:
        yield f"Not known to be right that day: {'; '.join(lacking)}."


def _overdue(test: BenchTest, calibrated_on: date | None, due_on: date | None) -> Iterator[str]:
    if calibrated_on is None:
        yield "has no calibration on record"
    elif calibrated_on > test.day:
        yield f"was calibrated only on {day_words(calibrated_on)}"
    elif due_on is None:
        yield "has no day on record by which it is due"
    elif due_on < test.day:
        yield f"was due for calibration on {day_words(due_on)}"


def _day(at: datetime) -> date:
    return timezone.localtime(at).date()
