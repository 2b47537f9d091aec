"""Forecasts of units: shown, kept as they were made, gone stale, held to what came."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import DatabaseError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet import clock
from fleet.hours import record_hours
from fleet.models import SuppressorHousing
from fleet.outages import take_out_of_service
from inspections.count.signing import Correction
from inspections.forecast.came import Came, pasts_of, what_came
from inspections.forecast.forecasting import changes_since, forecast_of, forecasts_of
from inspections.forecast.held import kept_rows, scored_rows, season_words
from inspections.forecast.recording import ForecastChanged, keep_forecast, keep_monthly
from inspections.forecast.replay import replayed
from inspections.models import Forecast, ForecastReplay
from ratings.models import LotRating
from tests.all_tables import changed, everything
from tests.builders import Unit, count, list_hammer, rated_unit, receive
from tests.factories import HousingFactory
from tests.inspections.forecast.foreseen import kept_forecast
from tests.inspections.forecast.test_hours_and_expected_pads import plan
from tests.inspections.lives.worn import fit, month, worn_unit
from tests.site.html_form import opened, words

pytestmark = pytest.mark.django_db

LAST = month(5)
KNOWN = {"A1": "cracked", "A2": "missing", "B1": "debonded", "A3": "swollen"}
KNOWN |= {"B2": "cracked", "B3": "cracked"}


@pytest.fixture(autouse=True)
def _the_day_of_the_last_look() -> Iterator[None]:
    with clock.set_to(LAST + timedelta(hours=1)):
        yield


def good_unit() -> Unit:
    """The worn unit, listed so low that its six sound pads meet it and five do not."""
    unit = worn_unit()
    list_hammer(unit.hammer, unit.manager, 31_000.0)
    return unit


def look(unit: Unit, number: int, more: dict[str, str], hours: float) -> None:
    at = month(number)
    with clock.set_to(at + timedelta(hours=1)):
        count(unit.housing, unit.manager, unit.lot, unsound=KNOWN | more, at=at, hours=hours)


def came(forecast: Forecast, at_month: float) -> list[Came | str]:
    with clock.set_to(LAST + timedelta(days=30 * (at_month - 5) + 1)):
        return what_came(pasts_of(forecast))


def test_a_unit_is_likelier_to_be_short_the_further_ahead() -> None:
    document = forecast_of(good_unit().housing).document
    shorts = [each["not_proven"] + each["below"] for each in document["horizons"]]
    assert document["standing"] == "meets listing"
    assert 0.0 < shorts[0] < shorts[1] < shorts[2] < 1.0
    assert document["lots"][0]["basis"] == "its own failures, a Weibull law"


def test_a_rate_that_lapses_is_seen_ahead() -> None:
    unit = good_unit()
    tested = LotRating.objects.get(lot=unit.lot).tested_at
    # 730 days after its test the rate lapses, sixty days from now.
    with clock.set_to(tested + timedelta(days=670)):
        plan(unit)
        near, far, _ = forecast_of(unit.housing).document["horizons"]
    assert near["lapsed"] == []
    assert [lot for lot, _ in far["lapsed"]] == [unit.lot.mark]
    # The policy keeps the figure of a rate that lapsed, flagged, and so does the forecast.
    assert far["meets"] > 0.0
    assert far["keeps_lapsed"]


def test_what_cannot_be_forecast_says_why(auditor_client: Client) -> None:
    uncounted = HousingFactory()
    page = words(auditor_client.get(reverse("unit-forecast", args=[uncounted.pk])))
    assert "it is not rated yet: count its pads and tape its travel first" in page
    unit = rated_unit()
    page = words(auditor_client.get(reverse("unit-forecast", args=[unit.housing.pk])))
    assert "It can’t be forecast" in page
    assert "the hour meter of its hammer was never read" in page
    with pytest.raises(ValidationError, match="Nothing is kept"):
        kept_forecast(unit)


def test_a_kept_forecast_cannot_be_changed_or_taken_back() -> None:
    kept = kept_forecast()
    with pytest.raises(DatabaseError):
        Forecast.objects.filter(pk=kept.pk).update(made_on=clock.today() - timedelta(days=90))
    with pytest.raises(DatabaseError):
        kept.delete()


def test_one_more_of_a_day_that_rests_on_the_same_is_no_other() -> None:
    unit = good_unit()
    first = kept_forecast(unit)
    assert kept_forecast(unit) == first
    assert first.basis["entry"] == [unit.housing.current_rating.sequence, first.entry.hash]
    assert changes_since(first) == []


def test_a_forecast_goes_stale_with_what_it_rests_on() -> None:
    unit = good_unit()
    kept = kept_forecast(unit)
    plan(unit)
    assert changes_since(kept) == ["the hours planned"]
    look(unit, 5, {"A4": "cracked"}, 400.0)
    assert changes_since(kept) == [
        "pads or figures of the unit",
        "the hours planned",
        "what is known of how long pads of its lots last",
    ]


def test_another_reading_of_the_same_day_makes_a_forecast_stale() -> None:
    unit = good_unit()
    kept = kept_forecast(unit)
    record_hours(
        submission_id=uuid.uuid4(),
        machine=unit.hammer,
        hours=400.5,
        read_at=LAST + timedelta(minutes=30),
        by=unit.manager,
    )
    assert "the reading of its hour meter" in changes_since(kept)


def test_what_was_seen_is_what_is_kept_or_nothing() -> None:
    unit = good_unit()
    seen = forecast_of(unit.housing).digest
    plan(unit)
    before = everything()
    with pytest.raises(ForecastChanged):
        keep_forecast(submission_id=uuid.uuid4(), housing=unit.housing, by=unit.manager, seen=seen)
    assert not changed(before)


def test_nothing_is_kept_of_a_unit_out_of_use() -> None:
    unit = good_unit()
    SuppressorHousing.objects.filter(pk=unit.housing.pk).update(retired_on=clock.today())
    unit.housing.refresh_from_db()
    with pytest.raises(ValidationError, match="out of use since"):
        kept_forecast(unit)


def test_the_daily_job_keeps_one_a_month_of_each_unit() -> None:
    unit = good_unit()
    rated_unit()
    kept = keep_monthly(by=unit.manager)
    assert [each.housing for each in kept] == [unit.housing]
    assert keep_monthly(by=unit.manager) == []
    with clock.set_to(LAST + timedelta(days=32)):
        assert len(keep_monthly(by=unit.manager)) == 1


def test_what_came_is_read_from_the_count_nearest_to_the_day() -> None:
    unit = good_unit()
    kept = kept_forecast(unit)
    look(unit, 6, {"A4": "cracked"}, 460.0)
    near, far, _ = came(kept, 6)
    assert isinstance(near, Came)
    assert (near.failed, near.unknown, near.standing) == (1, 0, "below listing")
    assert near.counted_on == month(6).date()
    assert far == "its day is still to come"


def test_pads_fitted_since_do_not_make_a_forecast_wrong() -> None:
    unit = good_unit()
    kept = kept_forecast(unit)
    look(unit, 6, {"A4": "cracked"}, 460.0)
    receive(unit.lot, unit.manager, 7)
    after = month(6) + timedelta(hours=2)
    with clock.set_to(after):
        fit(unit, dict.fromkeys([*KNOWN, "A4"], unit.lot), after)
    at = month(6) + timedelta(days=1)
    with clock.set_to(at):
        count(unit.housing, unit.manager, unit.lot, at=at, hours=462.0)
    near, *_ = came(kept, 6.1)
    assert isinstance(near, Came)
    # The ledger has it with its new pads; the forecast was of the old ones.
    assert near.standing == "below listing"


def test_a_pad_taken_out_sound_or_missing_is_no_failure_and_decides_nothing() -> None:
    unit = good_unit()
    kept = kept_forecast(unit)
    receive(unit.lot, unit.manager, 1)
    with clock.set_to(LAST + timedelta(days=3)):
        fit(unit, {"A4": unit.lot}, LAST + timedelta(days=2))
    look(unit, 6, {"B4": "missing"}, 460.0)
    near, *_ = came(kept, 6)
    assert isinstance(near, Came)
    assert (near.failed, near.unknown, near.standing, near.is_short) == (0, 2, None, None)


def test_a_day_with_no_count_near_it_is_held_to_nothing() -> None:
    unit = good_unit()
    kept = kept_forecast(unit)
    look(unit, 7, {}, 520.0)
    near, *_ = came(kept, 7)
    assert near == "no count of all its pads within 15 days of it"


def test_a_forecast_made_the_day_before_a_failure_counts_among_all() -> None:
    unit = good_unit()
    kept_forecast(unit)
    with clock.set_to(month(6) - timedelta(days=1)):
        kept_forecast(unit)
    look(unit, 6, {"A4": "cracked"}, 460.0)
    look(unit, 7, {"A4": "cracked"}, 520.0)
    with clock.set_to(month(7) + timedelta(days=1)):
        rows = [row for row in kept_rows() if row.days == 30]
        assert len(scored_rows(rows)) == 2
        assert "2 days that were forecast" in season_words(LAST.date(), clock.today())
        assert "No forecast that was kept" in season_words(LAST.date(), LAST.date())


def test_a_unit_short_already_tells_nothing_of_how_good_a_forecast_was() -> None:
    unit = worn_unit()
    list_hammer(unit.hammer, unit.manager, 60_000.0)
    kept_forecast(unit)
    look(unit, 6, {}, 460.0)
    with clock.set_to(month(6) + timedelta(days=1)):
        rows = [row for row in kept_rows() if row.days == 30]
        assert [row.is_short for row in rows] == [True]
        assert scored_rows(rows) == []


def test_made_again_of_a_past_day_it_is_what_was_kept_that_day() -> None:
    unit = good_unit()
    kept = kept_forecast(unit)
    then = clock.now()
    look(unit, 6, {"A4": "cracked"}, 460.0)
    with clock.set_to(month(6) + timedelta(days=1)):
        plan(unit, hours=70.0)
        count(
            unit.housing,
            unit.manager,
            unit.lot,
            unsound=KNOWN | {"A4": "cracked", "A5": "cracked"},
            at=month(6),
            correction=Correction("It was two.", unit.housing.inspections.latest("pk")),
            hours=461.0,
        )
        again = forecasts_of([unit.housing], then, with_count=False)[unit.housing.pk]
        assert again.document["horizons"] == kept.document["horizons"]
        (row,) = [row for row in replayed([then]) if row.days == 30]
    assert row.came["failed"] == 2  # type: ignore[index]
    assert row.short == pytest.approx(
        kept.document["horizons"][0]["not_proven"] + kept.document["horizons"][0]["below"]
    )


def test_the_command_keeps_and_makes_again(capsys: pytest.CaptureFixture[str]) -> None:
    unit = good_unit()
    for _ in range(2):
        call_command("forecasts", "--as", unit.manager.username)
    assert "1 forecast kept" in capsys.readouterr().out
    assert ForecastReplay.objects.count() == 1
    with pytest.raises(CommandError, match="--as is 'nemo': give the username of an eq"):
        call_command("forecasts", "--as", "nemo")


def test_the_next_inspection_that_counts_pads_is_named(auditor_client: Client) -> None:
    unit = good_unit()
    with clock.set_to(timezone.now()):
        page = words(auditor_client.get(reverse("unit-forecast", args=[unit.housing.pk])))
    assert "catch it: the monthly one that counts its pads is overdue" in page


def test_a_manager_keeps_what_is_shown(manager_client: Client, auditor_client: Client) -> None:
    unit = good_unit()
    address = reverse("unit-forecast", args=[unit.housing.pk])
    page = words(manager_client.get(address))
    assert "No clearance to work." in page
    assert "the chance that it no longer meets its listing is" in page
    response = manager_client.post(
        reverse("keep-forecast", args=[unit.housing.pk]), opened(manager_client, address)
    )
    kept = Forecast.objects.get()
    assert response.headers["Location"] == reverse("forecast", args=[kept.pk])
    shown = words(auditor_client.get(reverse("forecast", args=[kept.pk])))
    assert "Nothing it rests on changed since." in shown
    assert "its day is still to come" in shown
    assert kept.entry.hash in shown
    assert "within 90 days: meets its listing" in words(
        auditor_client.get(reverse("unit", args=[unit.housing.pk]))
    )
    assert "Keep this forecast" not in words(auditor_client.get(address))


def test_what_is_shown_and_changed_since_is_looked_at_again(manager_client: Client) -> None:
    unit = good_unit()
    address = reverse("unit-forecast", args=[unit.housing.pk])
    sent = opened(manager_client, address)
    plan(unit)
    keep = reverse("keep-forecast", args=[unit.housing.pk])
    assert "what it rests on changed since it was shown" in words(
        manager_client.post(keep, sent, follow=True)
    )
    assert not Forecast.objects.exists()


def test_hours_are_planned_on_a_page(dispatcher_client: Client) -> None:
    unit = good_unit()
    address = reverse("new-planned-hours", args=[unit.housing.pk])
    sent = opened(dispatcher_client, address) | {
        "first_day": str(clock.today()),
        "last_day": str(clock.today() + timedelta(days=200)),
        "hours": "35",
        "per": "week",
        "reason": "bridge job",
    }
    refused = words(dispatcher_client.post(address, sent | {"hours": "0"}))
    assert "tick “It stands still”" in refused
    shown = words(dispatcher_client.post(address, sent, follow=True))
    assert "Hours till then: as planned." in shown
    assert "35 h a week" in shown


def test_a_unit_out_of_service_is_told_as_such(auditor_client: Client) -> None:
    unit = good_unit()
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unit.housing,
        since=LAST,
        reason="bent",
        by=unit.manager,
    )
    page = words(auditor_client.get(reverse("unit-forecast", args=[unit.housing.pk])))
    assert "hours ahead count as if it were released today" in page


def test_the_fleet_lists_the_likeliest_to_fall_short_first(auditor_client: Client) -> None:
    good, short, untold = good_unit(), worn_unit(), rated_unit()
    list_hammer(short.hammer, short.manager, 60_000.0)
    page = words(auditor_client.get(reverse("fleet-forecast")))
    places = [page.index(f" {each.housing.mark} ") for each in (good, short, untold)]
    assert places == sorted(places)
    assert "short today" in page
    assert "can’t be forecast, because the hour meter of its hammer was never read" in page


def test_the_fleet_names_units_out_of_service_and_spares(auditor_client: Client) -> None:
    unit, spare = good_unit(), HousingFactory()
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unit.housing,
        since=LAST,
        reason="bent",
        by=unit.manager,
    )
    page = words(auditor_client.get(reverse("fleet-forecast")))
    assert f" {unit.housing.mark} out of service meets listing by its pads " in page
    assert f" {spare.mark} spare " in page


def test_how_good_forecasts_were_is_drawn_and_told(auditor_client: Client) -> None:
    unit = good_unit()
    kept_forecast(unit)
    look(unit, 6, {"A4": "cracked"}, 460.0)
    with clock.set_to(month(6) + timedelta(days=1)):
        response = auditor_client.get(reverse("forecasts-held"))
    page = words(response)
    assert "1 of 1" in page
    assert "Brier score" in page
    assert "<svg" in response.content.decode()
