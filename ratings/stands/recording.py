"""Record what keeps a stand honest: certificates of gauges and checks of reference pieces."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from fleet import clock
from fleet.dates import day_words
from fleet.housings import lock_all_housings
from fleet.models import PadPosition, SuppressorHousing
from fleet.models.retirable import refuse_out_of_use
from fleet.people.yards import in_yard_of, lock_and_look_again
from fleet.quantities import Quantity
from ratings.bench.recording import instrument_words, instruments_on, told_cycle
from ratings.bench.reduction import refuse_beyond_range, refuse_single_stretch
from ratings.bench.stand_warnings import found_off_words, worst_found
from ratings.ledger.ahead import rated_ahead
from ratings.ledger.posting import Cause, post
from ratings.mechanics.bench import CycleReading
from ratings.mechanics.gauge import CalibrationPoint, check_points, drift_since
from ratings.mechanics.remarks import Refused
from ratings.mechanics.stand_checks import check_rate
from ratings.models import (
    Gauge,
    GaugeCalibration,
    ReferenceCheck,
    ReferencePiece,
    ReferenceReading,
    Tape,
    TestStand,
    What,
)
from ratings.proposals.acts import (
    Act,
    Arguments,
    asks_where_it_corrects,
    second_person,
    stand_words,
)
from ratings.proposals.telling import FINEST, beside, told_fields

# Before the register of certificates was kept, a gauge bore its last one itself.
NO_NUMBER = "not on record"
BEFORE_THE_REGISTER = "As it stood in the set-up, before its certificates were kept."


@dataclass(frozen=True)
class Certificate:
    """What a laboratory's certificate says of a gauge, pressures in psi.

    points: none where it has none; else expanded_psi and coverage_factor belong to them.
    no_found_reason: why nothing was read as found, where nothing was.
    """

    certificate_number: str
    calibrated_on: date
    due_on: date
    points: tuple[CalibrationPoint, ...] = ()
    expanded_psi: float | None = None
    coverage_factor: float | None = None
    laboratory: str = ""
    serial_number: str = ""
    no_found_reason: str = ""
    note: str = ""


# What a proposal of a correction tells of each, and what it is called there; points come after.
TOLD_OF_CERTIFICATE = {
    "certificate_number": "Certificate",
    "laboratory": "Laboratory",
    "serial_number": "Serial number",
    "calibrated_on": "Calibrated on",
    "due_on": "Due on",
    "expanded_psi": "Expanded uncertainty",
    "coverage_factor": "Coverage factor k",
    "no_found_reason": "Why nothing was read as found",
    "note": "Note",
}


def _gauge_details(given: Arguments, system: str) -> list[tuple[str, str]]:
    certificate, corrects = given["certificate"], given["corrects"]
    points = _told_points(
        [(each.applied_psi, each.as_found_psi, each.as_left_psi) for each in certificate.points],
        system,
    )
    told = [
        ("Gauge", str(given["gauge"])),
        ("Corrects", f"certificate {corrects.certificate_number} (record {corrects.pk})"),
        *told_fields(certificate, corrects, TOLD_OF_CERTIFICATE, system),
        ("Points", beside(points, _told_points(corrects.points, system))),
    ]
    return [(label, words) for label, words in told if words]


def _told_points(points: Iterable[Sequence[float | None]], system: str) -> str:
    def psi(pressure: float | None) -> str:
        if pressure is None:
            return "not read"
        return Quantity.PRESSURE.words(pressure, system, FINEST)

    return "\n".join(
        f"{psi(applied)}: as found {psi(found)}, as left {psi(left)}"
        for applied, found, left in points
    )


def _gauge_facts(given: Arguments) -> dict[str, str]:
    gauge, corrects = given["gauge"], given["corrects"]
    found = {
        f"the certificates of gauge {gauge.mark} on record": str(gauge.calibrations.count()),
    }
    if corrects is not None:
        found[f"certificate record {corrects.pk}"] = stand_words(GaugeCalibration, corrects)
    return found


GAUGE_ACT = Act(
    What.GAUGE,
    asks=asks_where_it_corrects,
    title=lambda given: (
        f"Correction of certificate {given['corrects'].certificate_number} of gauge "
        f"{given['gauge'].mark}"
    ),
    about=lambda given: given["gauge"],
    facts=_gauge_facts,
    details=_gauge_details,
    page=lambda given: reverse("gauge", args=[given["gauge"].pk]),
    known=GaugeCalibration,
    cause=What.GAUGE.value,
    rates_many=True,
)


@rated_ahead()
@second_person(GAUGE_ACT)
@in_yard_of("gauge")
@transaction.atomic
def record_gauge_calibration(
    *,
    submission_id: uuid.UUID,
    gauge: Gauge,
    certificate: Certificate,
    by: User,
    corrects: GaugeCalibration | None = None,
) -> GaugeCalibration:
    """Record a gauge's certificate; every unit whose ratings it puts in doubt says so at once.

    The gauge's own dates become those of its newest certificate. Tests on record keep what they
    were reduced by. A second copy of a submission changes nothing. Raises ValidationError by
    field, PointError and ValueError for points that can't be; then nothing is kept.
    """
    housings = lock_all_housings()
    known = GaugeCalibration.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    lock_and_look_again()
    gauge = Gauge.objects.select_for_update().get(pk=gauge.pk)
    _refuse_certificate(gauge, certificate, corrects)
    if certificate.points:
        check_points(certificate.points, gauge.span_psi)
    touched = _lots_touched(corrects) if corrects is not None else set()
    if corrects is None:
        _keep_what_the_gauge_bore(gauge, certificate, submission_id, by)
    calibration = GaugeCalibration(
        submission_id=submission_id,
        recorded_by=by,
        gauge=gauge,
        corrects=corrects,
        points=[
            [each.applied_psi, each.as_found_psi, each.as_left_psi] for each in certificate.points
        ],
        **{name: value for name, value in vars(certificate).items() if name != "points"},
    )
    _judge_as_found(calibration, certificate)
    calibration.save(force_insert=True)
    _bring_gauge_up_to_date(gauge)
    touched |= _lots_touched(calibration)
    _post_doubt(housings, touched, calibration, by)
    return calibration


def _refuse_certificate(
    gauge: Gauge, certificate: Certificate, corrects: GaugeCalibration | None
) -> None:
    errors: dict[str, str] = {}
    today = timezone.localtime(clock.now()).date()
    if certificate.calibrated_on > today:
        errors["calibrated_on"] = (
            f"{day_words(certificate.calibrated_on)} is in the future: give the day on the "
            "certificate."
        )
    if certificate.due_on <= certificate.calibrated_on:
        errors["due_on"] = (
            f"This is not after {day_words(certificate.calibrated_on)}, when it was calibrated: "
            "give the day it is due again."
        )
    if words := _number_trouble(gauge, certificate.certificate_number, corrects):
        errors["certificate_number"] = words
    if words := _serial_trouble(gauge, certificate.serial_number, corrects):
        errors["serial_number"] = words
    if certificate.points and certificate.expanded_psi is None:
        errors["expanded_psi"] = (
            "This is blank, but points are given: give the uncertainty that the certificate states."
        )
    if certificate.points and certificate.coverage_factor is None:
        errors["coverage_factor"] = (
            "This is blank, but points are given: give the k beside the uncertainty, 2 as a rule."
        )
    if not certificate.points and certificate.expanded_psi is not None:
        errors["expanded_psi"] = "There are no points that it belongs to: give them, or leave it."
    has_found = any(each.as_found_psi is not None for each in certificate.points)
    if not has_found and not certificate.no_found_reason.strip():
        errors["no_found_reason"] = (
            "Nothing is given as found: without it nobody can say whether the tests since the "
            "last calibration were right. Ask the laboratory for it, or say here why there is none."
        )
    if has_found and certificate.no_found_reason.strip():
        errors["no_found_reason"] = "As found is given at the points: leave this blank."
    if errors:
        raise ValidationError(errors)


def _number_trouble(gauge: Gauge, number: str, corrects: GaugeCalibration | None) -> str:
    if not number.strip():
        return "This is blank: give the number on the certificate."
    if number == NO_NUMBER:
        return ""
    same = GaugeCalibration.objects.standing().filter(certificate_number__iexact=number)
    if corrects is not None:
        same = same.exclude(pk=corrects.pk)
    known = same.select_related("gauge").first()
    if known is None:
        return ""
    if known.gauge_id != gauge.pk:
        return f"This certificate is on record as gauge {known.gauge.mark}’s: whose is it?"
    return "This certificate is on record already: correct that record if it is wrong."


def _serial_trouble(gauge: Gauge, serial: str, corrects: GaugeCalibration | None) -> str:
    before = gauge.calibrations.standing().exclude(serial_number="")
    if corrects is not None:
        before = before.exclude(pk=corrects.pk)
    last = before.order_by("-calibrated_on", "-pk").first()
    known = gauge.serial_number or (last.serial_number if last else "")
    if not known or serial.strip().lower() == known.strip().lower():
        return ""
    if not serial.strip():
        return f"This is blank: gauge {gauge.mark} has {known}. Copy it from the certificate."
    return (
        f"Gauge {gauge.mark} has {known}, this certificate is of another gauge. Choose the gauge "
        "it belongs to, or correct the serial number in the set-up."
    )


def _keep_what_the_gauge_bore(
    gauge: Gauge, certificate: Certificate, submission_id: uuid.UUID, by: User
) -> None:
    """Let the first certificate on record overwrite no dates that the gauge bore before it."""
    made, due = gauge.calibrated_on, gauge.due_on
    if made is None or due is None or made >= certificate.calibrated_on:
        return
    if gauge.calibrations.exists():
        return
    GaugeCalibration.objects.create(
        submission_id=uuid.uuid5(submission_id, "before the register"),
        recorded_by=by,
        gauge=gauge,
        certificate_number=gauge.certificate_number or NO_NUMBER,
        serial_number=gauge.serial_number,
        calibrated_on=made,
        due_on=due,
        no_found_reason=BEFORE_THE_REGISTER,
        note=BEFORE_THE_REGISTER,
    )


def _judge_as_found(calibration: GaugeCalibration, certificate: Certificate) -> None:
    worst = worst_found(calibration)
    if worst is not None:
        calibration.found_error_psi = worst.error_psi
        calibration.is_found_off = worst.is_beyond
    earlier = calibration.gauge.calibrations.standing().filter(
        calibrated_on__lt=calibration.calibrated_on
    )
    if calibration.corrects_id is not None:
        earlier = earlier.exclude(pk=calibration.corrects_id)
    before = earlier.order_by("-calibrated_on", "-pk").first()
    correction = before.correction if before is not None else None
    if correction is not None:
        calibration.drift_psi = drift_since(correction, certificate.points)


def _bring_gauge_up_to_date(gauge: Gauge) -> None:
    newest = gauge.calibrations.standing().order_by("-calibrated_on", "-pk").first()
    if newest is None:
        return
    for name in ("certificate_number", "calibrated_on", "due_on"):
        setattr(gauge, name, getattr(newest, name))
    gauge.save(update_fields=["certificate_number", "calibrated_on", "due_on"])


def _lots_touched(calibration: GaugeCalibration) -> set[int]:
    if not calibration.is_found_off:
        return set()
    return set(calibration.touched_tests.order_by().values_list("lot_id", flat=True))


def _post_doubt(
    housings: list[SuppressorHousing], lots: set[int], calibration: GaugeCalibration, by: User
) -> None:
    """Units that hold a lot rated on the gauge say so; where it was no fault, no longer."""
    if not lots:
        return
    holders = set(PadPosition.objects.filter(lot__in=lots).values_list("housing_id", flat=True))
    words = f"Gauge {calibration.gauge.mark}, calibrated {day_words(calibration.calibrated_on)}: "
    words += found_off_words(calibration) if calibration.is_found_off else "within its grade"
    post(
        [each for each in housings if each.pk in holders],
        cause=Cause(Cause.RATE_STALE, words),
        occurred_at=clock.now(),
        by=by,
    )


@dataclass(frozen=True)
class CheckSetUp:
    """With what and how a reference piece was pulled on a stand."""

    gauge: Gauge
    tape: Tape
    piece: ReferencePiece
    end: str
    tape_datum_in: float
    checked_at: datetime
    gauge_zero_psi: float = 0.0
    temperature_f: float | None = None
    note: str = ""


# What a proposal of a correction tells of each, and what it is called there.
TOLD_OF_CHECK = {
    "piece": "Reference piece",
    "gauge": "Gauge",
    "tape": "Tape",
    "checked_at": "Checked at",
    "end": "Pressure acts on",
    "tape_datum_in": "Tape at rest",
    "gauge_zero_psi": "Gauge at rest",
    "temperature_f": "Temperature of the piece",
    "note": "Note",
}


def _check_facts(given: Arguments) -> dict[str, str]:
    set_up, corrects = given["set_up"], given["corrects"]
    instruments = instruments_on(given["stand"], set_up.gauge, set_up.tape, set_up.checked_at)
    return {
        f"reference check {corrects.pk}": stand_words(ReferenceCheck, corrects),
        **instrument_words(instruments),
    }


def _check_details(given: Arguments, system: str) -> list[tuple[str, str]]:
    corrects = given["corrects"]
    then = told_cycle([row.measured for row in corrects.readings.all()], system)
    return [
        ("Stand", beside(str(given["stand"]), str(corrects.stand))),
        ("Corrects", f"reference check {corrects.pk}"),
        *told_fields(given["set_up"], corrects, TOLD_OF_CHECK, system),
        ("Readings", beside(told_cycle(given["readings"], system), then)),
    ]


CHECK_ACT = Act(
    What.CHECK,
    asks=asks_where_it_corrects,
    title=lambda given: (
        f"Correction of reference check {given['corrects'].pk} of stand {given['stand']}"
    ),
    about=lambda given: given["stand"],
    facts=_check_facts,
    details=_check_details,
    page=lambda given: reverse("reference-check", args=[given["corrects"].pk]),
    known=ReferenceCheck,
    cause=What.CHECK.value,
)


@second_person(CHECK_ACT)
@in_yard_of("stand")
@transaction.atomic
def record_reference_check(
    *,
    submission_id: uuid.UUID,
    stand: TestStand,
    set_up: CheckSetUp,
    readings: Sequence[CycleReading],
    by: User,
    corrects: ReferenceCheck | None = None,
) -> ReferenceCheck:
    """Record a check of a stand by a reference piece, with what it came to.

    A second copy of a submission changes nothing. Raises ValueError, mostly Refused, where the
    readings can't be reduced, ValidationError where an instrument was out of use or the stand has
    no rod for its rod end; then nothing is kept.
    """
    known = ReferenceCheck.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    lock_and_look_again()
    refuse_out_of_use(
        timezone.localdate(set_up.checked_at),
        piece=set_up.piece,
        gauge=set_up.gauge,
        tape=set_up.tape,
        stand=stand,
    )
    stand.refuse_rod_end_without_rod(set_up.end)
    check = ReferenceCheck(
        submission_id=submission_id,
        recorded_by=by,
        stand=stand,
        corrects=corrects,
        **vars(set_up),
        **instruments_on(stand, set_up.gauge, set_up.tape, set_up.checked_at),
    )
    if len(readings) < 2:
        raise Refused(
            f"{len(readings) or 'no'} reading{'' if len(readings) == 1 else 's'} given: give two "
            "or more"
        )
    refuse_beyond_range(check, readings)
    found = check_rate(check.set_up, check.instruments, readings)
    refuse_single_stretch([each.tape_in - set_up.tape_datum_in for each in readings])
    check.rate_lbf_in = found.rate_lbf_in
    check.own_lbf_in = found.own_lbf_in
    check.expanded_lbf_in = found.expanded_lbf_in
    check.save(force_insert=True)
    ReferenceReading.objects.bulk_create(
        ReferenceReading(
            reference_check=check,
            number=number,
            run=each.run,
            branch=each.branch.value,
            tape_in=each.tape_in,
            gauge_psi=each.gauge_psi,
        )
        for number, each in enumerate(readings, start=1)
    )
    return check
