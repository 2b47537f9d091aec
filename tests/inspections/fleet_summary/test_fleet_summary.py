"""Tons ready against listed, how they came about, and days out of service."""

from __future__ import annotations

import re
import uuid
from datetime import date, datetime, timedelta
from io import BytesIO
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from fleet import clock
from fleet.machines.recording import connect_power_pack, fit_clamp
from fleet.models import SuppressorHousing
from fleet.outages import take_out_of_service
from inspections.fleet_summary.facts import days_told, fleet_summary
from tests.builders import MONDAY, days_ago, rated_unit
from tests.factories import (
    ClampFactory,
    HammerFactory,
    HousingFactory,
    ManagerFactory,
    PowerPackFactory,
)
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def today() -> date:
    return timezone.localdate()


def last_year() -> Any:
    return fleet_summary(today() - timedelta(days=365), today())


def take_out(housing: Any, since: datetime) -> None:
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=housing,
        since=since,
        reason="Crack at the yoke weld.",
        by=ManagerFactory(),
    )


def test_only_units_in_service_that_meet_their_listing_are_ready() -> None:
    good, short = rated_unit(listed_lbf=30_000), rated_unit(listed_lbf=90_000)
    out = rated_unit(listed_lbf=30_000)
    take_out(out.housing, days_ago(2))
    found = last_year().total
    assert (found.units, found.ready_units, found.out_units) == (3, 1, 1)
    assert found.listed_lbf == 150_000.0
    assert found.ready_lbf == good.housing.current_rating.head.working_capacity_lbf
    assert found.share == pytest.approx(found.ready_lbf / 150_000.0)
    assert short.housing.current_rating.head.working_capacity_lbf is not None


def test_each_yard_is_told_apart_and_one_may_be_asked_for() -> None:
    one, other = rated_unit(), rated_unit()
    told = {yard: each.units for yard, each in last_year().by_yard}
    assert told == {one.housing.yard: 1, other.housing.yard: 1}
    alone = fleet_summary(today(), today(), one.housing.yard)
    assert [yard for yard, _ in alone.by_yard] == [one.housing.yard]


def test_the_trend_tells_what_the_ledger_said_on_each_day() -> None:
    with clock.set_to(timezone.now() - timedelta(days=100)):
        rated_unit(listed_lbf=30_000)
    rated_unit(listed_lbf=30_000)
    trend = last_year().trend
    assert trend[0][1].units == 0
    assert next(each.units for day, each in trend if day >= today() - timedelta(days=90)) == 1
    assert (trend[-1][0], trend[-1][1].units) == (today(), 2)


def test_days_out_of_service_are_those_within_the_span() -> None:
    unit = rated_unit()
    take_out(unit.housing, days_ago(40))
    [told] = fleet_summary(today() - timedelta(days=9), today()).outages
    assert told.machine == unit.housing.mark
    assert told.is_out_now
    # From the first midnight of the span to now.
    begun = timezone.localtime().replace(hour=0, minute=0, second=0) - timedelta(days=9)
    assert told.days == pytest.approx((timezone.now() - begun).total_seconds() / 86_400, abs=0.01)
    assert fleet_summary(today() - timedelta(days=90), today() - timedelta(days=50)).outages == ()


def test_what_is_left_out_is_named() -> None:
    HousingFactory(mark="NEVER")
    HammerFactory(mark="BARE")
    found = last_year()
    assert found.never_counted == ("NEVER",)
    assert found.bare_hammers == ("BARE",)


@pytest.mark.parametrize(("days", "told"), [(0, 1), (1, 2), (5, 6), (365, 13)])
def test_a_trend_has_the_first_and_last_day_and_few_between(days: int, told: int) -> None:
    first = date(2026, 1, 1)
    shown = days_told(first, first + timedelta(days=days))
    assert len(shown) == told
    assert (shown[0], shown[-1]) == (first, first + timedelta(days=days))


def printed(client: Client, **asked: Any) -> str:
    response = client.get(reverse("fleet-summary"), asked)
    assert response["Content-Type"] == "application/pdf"
    pages = PdfReader(BytesIO(response.content)).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


def test_the_paper_tells_yards_days_and_what_it_leaves_out(auditor_client: Client) -> None:
    unit = rated_unit(listed_lbf=30_000)
    HousingFactory(mark="NEVER")
    text = printed(auditor_client, first="2026-01-01", last=today().isoformat())
    assert "Fleet summary: all yards" in text
    assert unit.housing.yard.name in text
    assert "15.0 tons (30,000 lbf)" in text
    assert "NEVER" in text
    assert "Units that are flagged or out of service add nothing" in text


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"first": "x", "last": "2026-01-01"}, "This is not a day"),
        ({"first": "", "last": ""}, "is blank"),
        ({"first": "2026-02-01", "last": "2026-01-01"}, "This is before the first day, 1 Feb 2026"),
        ({"first": "2026-01-01", "last": "2099-01-01"}, "is in the future"),
        ({"first": "1999-01-01", "last": "2026-01-01"}, "more than 3,660 days"),
        ({"first": "2026-01-01", "last": "2026-01-02", "yard": "999"}, "yard"),
    ],
)
def test_days_that_will_not_do_are_said_beside_their_field(
    auditor_client: Client, asked: dict[str, str], said: str
) -> None:
    response = auditor_client.get(reverse("fleet-summary"), asked)
    assert response["Content-Type"].startswith("text/html")
    assert said in words(response)


def test_the_board_leads_to_it(auditor_client: Client) -> None:
    rated_unit()
    assert reverse("fleet-summary") in auditor_client.get(reverse("board")).content.decode()


def test_a_unit_is_out_while_its_housing_or_its_hammer_is_and_days_count_once() -> None:
    unit = rated_unit()
    for machine, since in ((unit.housing, 4), (unit.hammer, 6)):
        take_out(machine, days_ago(since))
    out = last_year()
    assert len(out.outages) == 2
    (only,) = out.units_out
    assert (only.machine, only.times, only.is_out_now) == (unit.housing.mark, 1, True)
    assert only.days == pytest.approx(6.0, abs=0.6)


def test_what_is_ready_in_each_yard_adds_up_to_the_trend() -> None:
    rated_unit(listed_lbf=30_000), rated_unit(listed_lbf=30_000)
    found = last_year()
    assert len(found.trend_by_yard) == 2
    for place, (day, told) in enumerate(found.trend):
        of_yards = [days[place] for _, days in found.trend_by_yard]
        assert {each for each, _ in of_yards} == {day}
        assert sum(ready_lbf for _, ready_lbf in of_yards) == pytest.approx(told.ready_lbf)
    assert found.trend[-1][1].ready_lbf > 0


@pytest.mark.parametrize(
    ("make", "put_on", "named"),
    [
        (ClampFactory, fit_clamp, "clamp"),
        (PowerPackFactory, connect_power_pack, "power_pack"),
    ],
)
def test_a_unit_is_out_while_its_clamp_or_power_pack_is(make: Any, put_on: Any, named: str) -> None:
    unit = rated_unit(listed_lbf=30_000)
    machine = make(yard=unit.housing.yard)
    begun = max(days_ago(20), MONDAY)
    put_on(**{named: machine}, hammer=unit.hammer, at=begun, by=unit.manager)
    take_out(machine, days_ago(8))
    out = last_year()
    assert (out.total.out_units, out.total.ready_units, out.total.ready_lbf) == (1, 0, 0.0)
    (only,) = out.units_out
    assert (only.machine, only.times, only.is_out_now) == (unit.housing.mark, 1, True)
    assert only.days == pytest.approx(8.0, abs=0.6)
    put_on(**{named: machine}, hammer=None, at=days_ago(3), by=unit.manager)
    later = last_year()
    assert (later.total.out_units, later.total.ready_units) == (0, 1)
    assert later.units_out[0].days == pytest.approx(5.0, abs=0.6)
    assert not later.units_out[0].is_out_now


def test_a_housing_is_counted_until_the_day_it_is_retired() -> None:
    unit = rated_unit(listed_lbf=30_000)
    retired_on = today() - timedelta(days=2)
    SuppressorHousing.objects.filter(pk=unit.housing.pk).update(retired_on=retired_on)
    found = fleet_summary(today() - timedelta(days=5), today())
    assert found.total.units == 0
    assert found.never_counted == found.without_listing == ()
    assert fleet_summary(today() - timedelta(days=5), today() - timedelta(days=3)).total.units == 1
