"""Record a bench test with its instruments as they are that day, and draft the lot's rating."""

from __future__ import annotations

import math
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from fleet import clock
from fleet.housings import lock_all_housings
from fleet.models import PadLot, PadPosition, SuppressorHousing
from fleet.models.retirable import refuse_out_of_use
from fleet.people.yards import in_yard_of, lock_and_look_again
from fleet.quantities import Measured, Quantity
from fleet.uploads import Form, let_in
from ratings.bench.comparison import refuse_copies
from ratings.bench.reduction import Reduction, plausibility_of, reduce_test
from ratings.bench.tested_pads import TestedPad, check_pads, pads_of, record_pads, told_pads
from ratings.ledger.ahead import rated_ahead
from ratings.ledger.posting import Cause, post
from ratings.lot_pools import decision_on, figures_of, pool_of, pool_of_all, why_not_for_rating
from ratings.mechanics.bench import CycleReading
from ratings.mechanics.lot_rate import LotPool, bench_rate_of, lot_rate
from ratings.mechanics.pooling import BenchRate, PooledRate
from ratings.mechanics.unit_rating import Policy
from ratings.models import (
    BenchReading,
    BenchTest,
    Gauge,
    LotRating,
    RatedTest,
    RatingPolicy,
    Tape,
    TestStand,
    Thermometer,
    What,
)
from ratings.models.policy import policy_in_force
from ratings.proposals.acts import (
    Act,
    Arguments,
    asks_where_it_corrects,
    second_person,
    stand_words,
)
from ratings.proposals.telling import FINEST, beside, told_fields, told_readings
from ratings.read_again import note_read_again


@dataclass(frozen=True)
class PooledTests:
    """Tests of a lot that count, and what they come to.

    rates: of each, over the stretch of the furthest, as they are pooled. These and the weights
    are in the order of the tests.
    """

    tests: tuple[BenchTest, ...]
    reductions: tuple[Reduction, ...]
    rates: tuple[BenchRate, ...]
    rate: PooledRate


def usable_tests(lot: PadLot) -> list[BenchTest]:
    """Return the lot's tests that may rate: in calibration that day and corrected by none."""
    tests = lot.bench_tests.standing().prefetch_related("readings", "pads")
    return [test for test in tests.order_by("tested_at", "pk") if test.is_for_rating]


def pool_tests(tests: Sequence[BenchTest], policy: Policy) -> PooledTests:
    """Reduce and pool tests that are known to count; there must be one at the least."""
    return pooled_tests(pool_of_all(tests, policy), tests)


def pooled_tests(found: LotPool, tests: Iterable[BenchTest]) -> PooledTests:
    """Return a pool with its tests that count, each reduced."""
    by_name = {str(test.pk): test for test in tests}
    counted = tuple(by_name[each.name] for each in found.tests)
    reductions = tuple(reduce_test(test, test.measured, 100.0) for test in counted)
    return PooledTests(counted, reductions, found.rates, found.pooled)


def bench_rate(test: BenchTest, reduction: Reduction) -> BenchRate:
    """Return a test's rate with what is its own kept apart from what its stand puts on all."""
    return bench_rate_of(reduction.fit, reduction.budget, test.pads_in_test)


def draft_rating(lot: PadLot, by: User) -> LotRating | None:
    """Draft the rating of a lot from its usable tests; None where it has none.

    Which of them count, and why the others do not, is kept with the draft.
    """
    policy = policy_in_force(RatingPolicy.objects.first())
    tests = {str(test.pk): test for test in usable_tests(lot)}
    if all(why_not_for_rating(test, policy) for test in tests.values()):
        return None
    found = pool_of(tests.values(), policy, clock.now(), decision_on(lot))
    counted = [tests[each.name] for each in found.tests]
    temperatures = [t.rubber_temperature_f for t in counted if t.rubber_temperature_f is not None]
    rate, pooled = lot_rate(lot.mark, found, policy), found.pooled
    rating = LotRating.objects.create(
        lot=lot,
        recorded_by=by,
        tested_at=max(test.tested_at for test in counted),
        rate_lbf_in=rate.rate_lbf_in,
        common_uncertainty_lbf_in=pooled.shared_lbf_in,
        degrees_of_freedom=_finite(pooled.degrees_of_freedom),
        spread_lbf_in=rate.spread_lbf_in,
        spread_degrees_of_freedom=rate.spread_degrees_of_freedom,
        linearity_error_pct=rate.linearity_error_pct,
        tested_stretch_in=rate.tested_stretch_in,
        coldest_f=min(temperatures, default=None),
        warmest_f=max(temperatures, default=None),
        curve_doubt=asdict(rate.curve_doubt),
        curve=[[knot.stretch_in, knot.force_lbf, knot.slope_lbf_in] for knot in rate.curve],
        figures=figures_of(found, rate, policy),
    )
    RatedTest.objects.bulk_create(RatedTest(rating=rating, test=test) for test in counted)
    return rating


def _finite(value: float) -> float | None:
    return None if math.isinf(value) else value


@dataclass(frozen=True)
class TestSetUp:
    """How, with what and before whom pads were tested.

    pads: those of which something was said.
    """

    __test__ = False  # How a test was set up, not a test for pytest to collect.

    stand: TestStand
    gauge: Gauge
    tape: Tape
    end: str
    pads_in_test: int
    tape_datum_in: float
    tested_at: datetime
    gauge_zero_psi: float = 0.0
    conditioning_cycles: int = 0
    rubber_temperature_f: float | None = None
    thermometer: Thermometer | None = None
    tape_after_in: float | None = None
    arrangement: str = ""
    witness: str = ""
    note: str = ""
    photo: Any = None
    pads: tuple[TestedPad, ...] = ()


@dataclass(frozen=True)
class RecordedTest:
    """A bench test on record, and the draft it led to; none where no test of its lot may rate."""

    test: BenchTest
    draft: LotRating | None


# What a proposal of a correction tells of each, and what it is called there; pads come after.
TOLD = {
    "stand": "Stand",
    "gauge": "Gauge",
    "tape": "Tape",
    "thermometer": "Thermometer",
    "tested_at": "Tested at",
    "end": "Pressure acts on",
    "pads_in_test": "Pads in the test",
    "tape_datum_in": "Tape at rest",
    "gauge_zero_psi": "Gauge at rest",
    "conditioning_cycles": "Conditioning cycles",
    "rubber_temperature_f": "Rubber temperature",
    "tape_after_in": "Tape after unloading",
    "arrangement": "Arrangement",
    "witness": "Witness",
    "note": "Note",
    "photo": "Photo",
}


def told_cycle(readings: Iterable[CycleReading], system: str) -> str:
    """Tell readings of tape and gauge, each run and branch by itself."""
    return told_readings(
        (
            f"Run {each.run}, {each.branch}",
            f"{Quantity.LENGTH.words(each.tape_in, system, FINEST)} at "
            f"{Quantity.PRESSURE.words(each.gauge_psi, system, FINEST)}",
        )
        for each in readings
    )


def instrument_words(instruments: Mapping[str, Any]) -> dict[str, str]:
    """Return cylinder and instruments as facts that a proposal rests on, by what each is called."""
    return {f"its {name.replace('_', ' ')}": str(value) for name, value in instruments.items()}


def _facts(given: Arguments) -> dict[str, str]:
    set_up, corrects = given["set_up"], given["corrects"]
    instruments = instruments_on(set_up.stand, set_up.gauge, set_up.tape, set_up.tested_at)
    found = instrument_words(instruments)
    if corrects is not None:
        found[f"bench test {corrects.pk}"] = stand_words(BenchTest, corrects)
    return found


def _details(given: Arguments, system: str) -> list[tuple[str, str]]:
    set_up, corrects = given["set_up"], given["corrects"]
    told = [
        ("Lot", beside(str(given["lot"]), str(corrects.lot))),
        ("Corrects", f"bench test {corrects.pk}"),
        *told_fields(set_up, corrects, TOLD, system),
        ("Pads", beside(told_pads(set_up.pads), told_pads(pads_of(corrects)))),
        (
            "Readings",
            beside(
                told_cycle(given["readings"], system),
                told_cycle(corrects.measured, system),
            ),
        ),
    ]
    return [(label, words) for label, words in told if words]


def _rates_none_or_has_a_photo(given: Arguments) -> bool:
    # A photo would be kept for the trial as well, and its file is not undone with it.
    return given.get("corrects") is None or bool(given["set_up"].photo)


BENCH_ACT = Act(
    What.BENCH_TEST,
    asks=asks_where_it_corrects,
    title=lambda given: f"Correction of bench test {given['corrects'].pk} of lot {given['lot']}",
    about=lambda given: given["lot"],
    facts=_facts,
    details=_details,
    page=lambda given: reverse("bench-test", args=[given["corrects"].pk]),
    known=BenchTest,
    cause="bench test",
    outcome=lambda recorded: recorded.test.pk,
    rates_many=True,
)


@rated_ahead(unless=_rates_none_or_has_a_photo)
@second_person(BENCH_ACT)
@in_yard_of("lot", "set_up.stand")
@transaction.atomic
def record_bench_test(
    *,
    submission_id: uuid.UUID,
    lot: PadLot,
    set_up: TestSetUp,
    readings: Sequence[CycleReading],
    by: User,
    corrects: BenchTest | None = None,
    is_read_again: bool = False,
    read_again_reason: str = "",
) -> RecordedTest:
    """Record a bench test and draft the rating its lot's tests come to together.

    is_read_again, read_again_reason: somebody's word, and why, where its rubber can't have such a
    rate; kept in its note. A second copy of a submission changes nothing. Raises NotReadAgain where
    it can't, and that is not said, ValueError where the readings can't be reduced, PadError where a
    pad can't be, ValidationError where an instrument was out of use or the stand has no rod for its
    rod end; then nothing is kept.
    """
    # A draft changes no unit, but two tests at once must not draft without each other.
    housings = lock_all_housings()
    lock_and_look_again()
    known = BenchTest.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return RecordedTest(known, known.ratings.order_by("pk").first())
    refuse_out_of_use(
        timezone.localdate(set_up.tested_at),
        stand=set_up.stand,
        gauge=set_up.gauge,
        tape=set_up.tape,
        thermometer=set_up.thermometer,
        lot=lot,
    )
    set_up.stand.refuse_rod_end_without_rod(set_up.end)
    test = unsaved_test(lot, set_up)
    test.submission_id, test.recorded_by, test.corrects = submission_id, by, corrects
    test.photo = kept_photo(set_up.photo)
    check_pads(set_up.pads, set_up.pads_in_test)
    reduction = reduce_test(test, readings, linearity_limit_pct=100.0)
    refuse_copies(test, readings)
    test.note = note_read_again(
        _doubt(test, reduction.fit.rate_lbf_in),
        test.note,
        is_read_again=is_read_again,
        reason=read_again_reason,
    )
    test.save(force_insert=True)
    BenchReading.objects.bulk_create(
        BenchReading(
            test=test,
            number=number,
            run=each.run,
            branch=each.branch.value,
            tape_in=each.tape_in,
            gauge_psi=each.gauge_psi,
        )
        for number, each in enumerate(readings, start=1)
    )
    record_pads(test, set_up.pads)
    draft = draft_rating(lot, by)
    if corrects is not None:
        _post_doubt(housings, test, by)
    return RecordedTest(test, draft)


def _doubt(test: BenchTest, rate_lbf_in: float) -> ValidationError | None:
    """Return why a test's rate can hardly be, by its lot's rubber; None where it may be."""
    found = plausibility_of(test, rate_lbf_in)
    if found is None or found.is_plausible:
        return None
    return ValidationError(
        "Not plausible: rubber of this hardness and size gives %(least)s to %(most)s, and this "
        "test %(rate)s. Look at readings, cylinder, number of pads and the lot’s data again; where "
        "it is right, tick this and say why.",
        params={
            "least": Measured(Quantity.RATE, found.rates.least_lbf_in),
            "most": Measured(Quantity.RATE, found.rates.most_lbf_in),
            "rate": Measured(Quantity.RATE, rate_lbf_in),
        },
    )


def _post_doubt(housings: list[SuppressorHousing], test: BenchTest, by: User) -> None:
    """The rating in use may rest on what was corrected: every unit that holds the lot says so."""
    holders = set(PadPosition.objects.filter(lot=test.lot).values_list("housing_id", flat=True))
    words = f"Bench test {test.pk} corrects bench test {test.corrects_id} of lot {test.lot}"
    post(
        [each for each in housings if each.pk in holders],
        cause=Cause(Cause.RATE_STALE, words),
        occurred_at=clock.now(),
        by=by,
    )


def kept_photo(sent: Any) -> ContentFile[bytes] | None:
    """Return a photo as it is kept, None for none. Raises NoPicture where it is no picture."""
    if not sent:
        return None
    sent.seek(0)
    made = let_in(sent.read(), Form.PICTURE)
    return ContentFile(made.content, name=f"{uuid.uuid4()}.jpg")


def unsaved_test(lot: PadLot, set_up: TestSetUp) -> BenchTest:
    """Return a test of this set-up with its instruments copied as they are now."""
    own = {name: value for name, value in vars(set_up).items() if name != "pads"}
    thermometer = set_up.thermometer
    return BenchTest(
        lot=lot,
        **own,
        **instruments_on(set_up.stand, set_up.gauge, set_up.tape, set_up.tested_at),
        thermometer_calibrated_on=thermometer.calibrated_on if thermometer else None,
        thermometer_due_on=thermometer.due_on if thermometer else None,
    )


def instruments_on(stand: TestStand, gauge: Gauge, tape: Tape, at: datetime) -> dict[str, Any]:
    """Return cylinder and instruments as they were when pulled on, by the columns of OnAStand.

    The gauge by the certificate that counted that day, where one is on record; else as it
    stands now.
    """
    calibration = gauge.calibrations.on(timezone.localtime(at).date())
    certified = gauge if calibration is None else calibration
    correction = None if calibration is None else calibration.correction
    kept = None if correction is None else asdict(correction)
    if kept is not None:
        # As it comes back from the database.
        kept["points"] = [list(point) for point in kept["points"]]
    return {
        "bore_in": stand.bore_in,
        "rod_in": stand.rod_in,
        "bore_tolerance_in": stand.bore_tolerance_in,
        "rod_tolerance_in": stand.rod_tolerance_in,
        "bore_measured_on": stand.bore_measured_on,
        "gauge_span_psi": gauge.span_psi,
        "gauge_grade": gauge.grade,
        "gauge_resolution_psi": gauge.resolution_psi,
        "gauge_certificate": certified.certificate_number,
        "gauge_calibrated_on": certified.calibrated_on,
        "gauge_due_on": certified.due_on,
        "gauge_calibration": calibration,
        "gauge_correction": kept,
        "tape_resolution_in": tape.resolution_in,
        "tape_certificate": tape.certificate_number,
        "tape_calibrated_on": tape.calibrated_on,
        "tape_due_on": tape.due_on,
    }
