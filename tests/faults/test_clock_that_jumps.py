"""The machine's clock is put forward or back: told in words, nothing lost and nothing half kept."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from io import StringIO

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.dates import moment_words
from inspections.models import Inspection
from ratings.lots.recording import withdraw_rating
from ratings.models import CurrentRating, LedgerEntry, LotRating, RatingState
from tests.builders import MONDAY, Unit, approve, bench_test, count, drafted_test, rated_unit
from tests.inspections.field.sent import payload, send, signed_in

pytestmark = pytest.mark.django_db
Clock = Callable[[timedelta], None]
HOUR = timedelta(hours=1)
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
