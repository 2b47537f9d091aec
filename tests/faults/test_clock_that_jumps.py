"""The machine's clock is put forward or back: told in words, nothing lost and nothing half kept."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import date, timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.dates import moment_words
from fleet.models import PadLot
from inspections.count.signing import Correction
from inspections.models import Inspection
from inspections.schedule.due import due_of_fleet
from inspections.schedule.intervals import Row
from inspections.schedule.recording import change_schedule
from ratings.ledger.facts import FOUND_OFF
from ratings.lots.recording import withdraw_rating
from ratings.models import BenchTest, CurrentRating, LedgerEntry, LotRating, RatingState
from tests.builders import MONDAY, Unit, approve, bench_test, count, drafted_test, rated_unit
from tests.inspections.field.sent import payload, send, signed_in
from tests.stand_builders import OFF, RIGHT, calibrate

pytestmark = pytest.mark.django_db
Clock = Callable[[timedelta], None]
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
JUNE = date(2026, 6, 1)
TUESDAY = MONDAY + timedelta(days=1)


@pytest.fixture
def put(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """Puts the clock of the machine off by so much from the time it is."""
    real = timezone.now

    def off_by(off: timedelta) -> None:
        monkeypatch.setattr(timezone, "now", lambda: real() + off)

    return off_by


def head(unit: Unit) -> LedgerEntry:
    return CurrentRating.objects.get(housing=unit.housing).head


def pull_lbf(unit: Unit) -> float:
    found = head(unit).pull_lbf
    assert found is not None
    return found


def assert_verified() -> None:
    out = StringIO()
    call_command("ledger", "verify", stdout=out)
    assert "of 1 housings hold: every hash and every result." in out.getvalue()


def test_an_entry_after_the_clock_was_put_back_follows_the_one_before_and_all_verifies(
    put: Clock,
) -> None:
    put(HOUR)
    unit = rated_unit()
    first, before_lbf = head(unit), pull_lbf(unit)
    put(timedelta())
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=timezone.now())
    second = head(unit)
    assert second.recorded_at < first.recorded_at
    assert (second.sequence, second.previous_hash) == (first.sequence + 1, first.hash)
    assert pull_lbf(unit) < before_lbf
    assert_verified()


def test_a_count_that_a_clock_put_back_makes_look_late_is_told_so(put: Clock) -> None:
    unit = rated_unit()
    put(HOUR)
    assert send(signed_in(unit.manager), payload(unit)).status_code == 201
    put(timedelta())
    answer = send(signed_in(unit.manager), payload(unit))
    assert answer.status_code == 201
    assert "Newer records stand: this one is kept in the history." in answer.json()["words"]
    assert_verified()


def test_a_time_that_a_clock_put_back_makes_future_is_refused_by_name(put: Clock) -> None:
    unit = rated_unit()
    client = signed_in(unit.manager)
    seen_at = timezone.now()
    put(-HOUR)
    sent = payload(unit, seen_at=seen_at.isoformat(), seen_by_hand=True)
    answer = send(client, sent)
    assert answer.status_code == 422
    assert answer.json()["errors"] == {
        "seen_at": [f"{moment_words(seen_at)} is in the future: give when it happened."]
    }
    assert Inspection.objects.count() == 1
    put(timedelta())
    assert send(client, sent).status_code == 201
    assert Inspection.objects.filter(submission_id=sent["id"]).count() == 1


def test_a_phone_s_own_time_is_put_right_by_the_clock_that_was_put_back(put: Clock) -> None:
    unit = rated_unit()
    sent = payload(unit)
    put(-HOUR)
    assert send(signed_in(unit.manager), sent).status_code == 201
    inspection = Inspection.objects.get(submission_id=sent["id"])
    assert abs(inspection.seen_at - timezone.now()) < timedelta(minutes=1)
    assert "1 h ahead" in inspection.note


def test_the_same_sent_again_after_the_clock_jumped_is_recorded_once(put: Clock) -> None:
    unit = rated_unit()
    sent, client = payload(unit), signed_in(unit.manager)
    assert send(client, sent).status_code == 201
    for off in (-HOUR, HOUR):
        put(off)
        assert send(client, sent).status_code == 200
    assert Inspection.objects.filter(submission_id=sent["id"]).count() == 1


def test_a_test_corrected_before_the_clock_was_put_back_is_corrected_still(put: Clock) -> None:
    unit = rated_unit()
    wrong = drafted_test(unit.lot, unit.manager, rate_lbf_in=2000, at=TUESDAY)
    put(HOUR)
    drafted_test(unit.lot, unit.manager, at=TUESDAY, corrects=wrong.test)
    put(-HOUR)
    assert wrong.draft is not None
    found = LotRating.objects.with_state().get(pk=wrong.draft.pk)
    assert found.state == RatingState.CORRECTED
    with pytest.raises(ValidationError, match="was corrected since"):
        approve(wrong.draft)


def test_a_rating_withdrawn_before_the_clock_was_put_back_rates_no_unit(put: Clock) -> None:
    unit = rated_unit()
    old_lbf = pull_lbf(unit)
    put(HOUR)
    weaker = bench_test(unit.lot, unit.manager, rate_lbf_in=700, at=timezone.now() - HOUR).rating
    assert pull_lbf(unit) < old_lbf
    put(timedelta())
    withdraw_rating(
        submission_id=uuid.uuid4(), rating=weaker, reason="the stand was off", by=unit.manager
    )
    put(-HOUR)
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=timezone.now())
    assert weaker.pk not in head(unit).contents["provenance"]["lot_ratings"].values()
    assert_verified()


def is_found_off(lot: PadLot) -> bool:
    rating: Any = LotRating.objects.in_force().get(lot=lot)
    return bool(rating.gauge_found_off)


def test_a_gauge_found_off_before_the_clock_was_put_back_is_found_off_still(put: Clock) -> None:
    unit = rated_unit()
    put(HOUR)
    gauge = BenchTest.objects.get(lot=unit.lot).gauge
    calibrate(gauge, unit.manager, on=JUNE, points=OFF)
    put(-HOUR)
    assert is_found_off(unit.lot)
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=timezone.now())
    assert FOUND_OFF in head(unit).inputs["lots"][0]["stale"]
    assert_verified()


def test_what_was_calibrated_between_before_the_clock_was_put_back_is_in_no_doubt(
    put: Clock,
) -> None:
    unit = rated_unit()
    gauge = BenchTest.objects.get(lot=unit.lot).gauge
    put(HOUR)
    calibrate(gauge, unit.manager, on=date(2026, 4, 1), points=RIGHT)
    put(timedelta())
    calibrate(gauge, unit.manager, on=JUNE, points=OFF)
    put(-HOUR)
    assert not is_found_off(unit.lot)


def test_a_certificate_put_right_before_the_clock_was_put_back_stays_put_right(
    put: Clock,
) -> None:
    unit = rated_unit()
    gauge = BenchTest.objects.get(lot=unit.lot).gauge
    wrong = calibrate(gauge, unit.manager, on=JUNE, points=OFF)
    put(HOUR)
    calibrate(gauge, unit.manager, on=JUNE, corrects=wrong)
    put(-HOUR)
    assert not is_found_off(unit.lot)


def overdue(unit: Unit) -> list[str]:
    [stands] = due_of_fleet([unit.housing])
    return [kind.row.kind for kind in stands.overdue]


def test_what_was_made_before_the_clock_was_put_back_is_due_no_more(put: Clock) -> None:
    unit = rated_unit()
    assert overdue(unit) == ["monthly", "yearly"]
    put(DAY)
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), kind="yearly")
    put(timedelta())
    assert overdue(unit) == []


def test_what_was_put_right_before_the_clock_was_put_back_is_due_still(put: Clock) -> None:
    unit = rated_unit()
    at = timezone.now()
    wrong = count(unit.housing, unit.manager, unit.lot, at=at, kind="yearly").inspection
    put(DAY)
    again = Correction("It was no yearly one", inspection=wrong)
    count(unit.housing, unit.manager, unit.lot, at=at, correction=again)
    put(-DAY)
    assert overdue(unit) == ["monthly", "yearly"]


def test_a_schedule_changed_before_the_clock_was_put_back_is_in_force(put: Clock) -> None:
    unit = rated_unit()
    put(DAY)
    change_schedule(
        submission_id=uuid.uuid4(),
        rows=[Row("yearly", 365, None, "a qualified person", "yard rule")],
        reason="Monthly ones are made by shift here.",
        by=unit.manager,
    )
    put(timedelta())
    assert overdue(unit) == ["yearly"]


def test_whoever_is_signed_in_stays_so_over_an_hour_and_signs_in_anew_after_a_month(
    put: Clock, client: Client
) -> None:
    client.force_login(rated_unit().manager)
    for off in (HOUR, -HOUR, timedelta()):
        put(off)
        assert client.get("/").status_code == 200
    put(timedelta(days=40))
    answer = client.get("/")
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("sign-in"))


def test_the_doctor_says_that_the_clock_is_behind_what_is_on_record(put: Clock) -> None:
    put(HOUR)
    rated_unit()
    put(timedelta())
    out = StringIO()
    with pytest.raises(CommandError):
        call_command("doctor", stdout=out)
    assert "the clock of this machine was ahead then, or is behind now" in out.getvalue()
