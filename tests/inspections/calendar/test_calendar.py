"""The calendar of units by days: what holds each, what is due, which are free."""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.outages import take_out_of_service
from inspections.calendar.days import Event, State, UnitDays, days_of
from inspections.schedule.calendar import make_feed
from inspections.schedule.due import due_of_fleet
from ratings.jobs.commitments import release_unit
from ratings.mounting import mount_housing
from ratings.transfers.recording import record_arrival
from tests.builders import Unit, count, rated_unit
from tests.factories import DispatcherFactory, HammerFactory, HousingFactory
from tests.job_builders import commit, extraction_job, figured_unit, transfer
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def day(ahead: int) -> date:
    return timezone.localdate() + timedelta(days=ahead)


def row(unit: Unit, first: int = 0, last: int = 13) -> UnitDays:
    (found,) = days_of([unit.housing], day(first), day(last))
    return found


def events(unit: Unit, state: State, **days: int) -> list[Event]:
    return [each for each in row(unit, **days).events if each.state is state]


def ask(client: Client, **query: Any) -> Any:
    return client.get(reverse("units-calendar"), query)


def shown(answer: Any) -> list[str]:
    return [each.housing.mark for each, _to_do in answer.context["rows"]]


def test_a_job_and_the_days_on_the_way_are_shown() -> None:
    unit = figured_unit()
    commit(unit, extraction_job(site="Coal quay", first_day=day(3), days=2))
    (job,) = events(unit, State.CONFIRMED)
    before, after = events(unit, State.TRANSPORT)
    assert (job.words, job.first_day, job.last_day) == ("Coal quay", day(3), day(4))
    assert (before.first_day, before.last_day) == (day(2), day(2))
    assert (after.first_day, after.last_day) == (day(5), day(5))


def test_a_long_haul_takes_more_days_on_the_way() -> None:
    unit = figured_unit()
    commit(unit, extraction_job(first_day=day(5), distances={unit.housing.yard_id: 600.0}))
    before, _after = events(unit, State.TRANSPORT)
    assert (before.last_day - before.first_day).days + 1 == 3


def test_one_released_is_free_again() -> None:
    unit = figured_unit()
    made = commit(unit)
    release_unit(commitment=made, reason="Put off", by=unit.manager)
    assert not [each for each in row(unit).events if each.holds]


def test_days_on_the_way_of_a_job_outside_the_days_shown_are_shown() -> None:
    unit = figured_unit()
    commit(unit, extraction_job(first_day=day(5), days=2))
    found = row(unit, 7, 9)
    assert [run.state for run in found.runs] == [State.TRANSPORT, State.FREE]


def test_a_transfer_is_shown_until_it_arrived() -> None:
    unit = rated_unit()
    sent = transfer(unit, -4)
    (late,) = events(unit, State.TRANSFER, first=-6)
    assert (late.last_day, "late" in late.words) == (day(0), True)
    record_arrival(submission_id=uuid.uuid4(), transfer=sent, arrived_on=day(-2), by=unit.manager)
    (done,) = events(unit, State.TRANSFER, first=-6)
    assert done.last_day == day(-2)


def test_a_unit_out_of_service_is_out_on_every_day_to_come() -> None:
    unit = rated_unit()
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unit.housing,
        since=timezone.now(),
        reason="Crack",
        by=unit.manager,
    )
    assert {run.state for run in row(unit).runs} == {State.OUT}
    assert State.OUT not in {run.state for run in row(unit, -9, -1).runs}


def test_an_inspection_due_stands_on_its_day() -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), kind="monthly")
    monthly = [each for each in events(unit, State.DUE, last=60) if each.words == "monthly"]
    (due,) = due_of_fleet([unit.housing])
    asked = next(each for each in due.kinds if each.row.kind == "monthly")
    assert [each.first_day for each in monthly] == [asked.due_on]


def test_one_overdue_stands_on_today() -> None:
    overdue = [each for each in row(rated_unit()).events if "overdue" in each.words]
    assert {each.first_day for each in overdue} == {day(0)}


def test_a_unit_held_twice_on_a_day_is_a_clash() -> None:
    unit = figured_unit()
    commit(unit, extraction_job(first_day=day(3), days=2))
    commit(unit, extraction_job(first_day=day(5), days=2))
    # On the way back from one and there for the other, and at work on both of those days.
    assert [run.first_day for run in row(unit).clashes] == [day(4), day(5)]


def test_a_hammer_committed_under_another_housing_is_told() -> None:
    unit = figured_unit()
    commit(unit, extraction_job(site="Coal quay", first_day=day(3)))
    other = HousingFactory()
    mount_housing(housing=other, hammer=unit.hammer, at=timezone.now(), by=unit.manager)
    (found,) = days_of([other], day(0), day(9))
    assert any(f"committed with {unit.housing}: Coal quay" in each.words for each in found.events)


def test_every_day_is_in_one_run() -> None:
    unit = figured_unit()
    commit(unit, extraction_job(first_day=day(3)))
    for span in (0, 13, 30):
        assert sum(run.days for run in row(unit, 0, span).runs) == span + 1


def test_it_takes_no_more_queries_for_many_units(dispatcher_client: Client) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert ask(dispatcher_client).status_code == 200
        return len(asked)

    commit(figured_unit())
    transfer(rated_unit())
    queries()
    few = queries()
    for _ in range(3):
        transfer(rated_unit())
        commit(figured_unit())
    assert queries() == few


def test_only_those_free_and_fit_are_left_in(dispatcher_client: Client) -> None:
    free, held, away = figured_unit(), figured_unit(), figured_unit()
    commit(held, extraction_job(first_day=day(3)))
    transfer(away, 3)
    HousingFactory(mark="OFF")  # on no hammer
    days = {"free_from": day(3).isoformat(), "free_to": day(5).isoformat()}
    assert shown(ask(dispatcher_client, **days)) == [free.housing.mark]
    assert "1 unit. 3 others are left out" in words(ask(dispatcher_client, **days))


def test_months_ahead_a_unit_to_be_counted_first_is_free_and_says_so(
    dispatcher_client: Client,
) -> None:
    unit = figured_unit()
    answer = ask(dispatcher_client, free_from=day(90).isoformat())
    assert shown(answer) == [unit.housing.mark]
    assert "to do first: " in words(answer)


def test_it_is_narrowed_by_yard_and_by_mark(dispatcher_client: Client) -> None:
    one, other = rated_unit(), rated_unit()
    assert shown(ask(dispatcher_client, yard=one.housing.yard_id)) == [one.housing.mark]
    assert shown(ask(dispatcher_client, search=other.hammer.mark)) == [other.housing.mark]


def test_it_is_turned_page_by_page(dispatcher_client: Client) -> None:
    for number in range(27):
        HousingFactory(mark=f"P-{number:02}")
    assert len(shown(ask(dispatcher_client))) == 25
    assert shown(ask(dispatcher_client, page=2)) == ["P-25", "P-26"]


def test_every_state_is_a_word_beside_its_shape(dispatcher_client: Client) -> None:
    unit = figured_unit()
    commit(unit, extraction_job(site="Coal quay", first_day=day(3)))
    page = words(ask(dispatcher_client))
    for word in ("on a job", "transport", "free", "inspection due"):
        assert word in page


@pytest.mark.parametrize(
    ("name", "query", "said"),
    [
        ("start", {"start": "0001-01-01"}, "too long ago"),
        ("start", {"start": "9999-12-31"}, "ten years ahead"),
        ("start", {"start": "2026-02-30"}, "This is not a day"),
        ("span", {"span": "90"}, "not one of the available choices"),
        ("yard", {"yard": "999999"}, "not one of the available choices"),
        ("yard", {"yard": "x"}, "not one of the available choices"),
        ("search", {"search": "x" * 81}, "80 at the most"),
        ("free_from", {"free_to": "2026-03-01"}, "This is blank"),
        ("free_to", {"free_from": "2026-03-14", "free_to": "2026-03-01"}, "before the first"),
        ("free_to", {"free_from": "2026-03-14", "free_to": "2028-03-01"}, "at the most"),
    ],
)
def test_what_cannot_be_asked_is_answered_beside_its_field(
    dispatcher_client: Client, name: str, query: dict[str, str], said: str
) -> None:
    answer = ask(dispatcher_client, **query)
    assert answer.status_code == 200
    assert said in " ".join(answer.context["form"].errors[name])
    assert said in words(answer)


def test_a_housing_off_every_hammer_is_shown_so(dispatcher_client: Client) -> None:
    HousingFactory()
    HammerFactory()
    assert "off the hammer" in words(ask(dispatcher_client))


def voided() -> Unit:
    """A unit rated worse since it was committed."""
    unit = figured_unit()
    commit(unit, extraction_job(site="Coal quay", first_day=day(3), days=5))
    faults = {f"A{number}": "cracked" for number in (1, 2, 3)}
    count(unit.housing, unit.manager, unit.lot, unsound=faults, at=timezone.now())
    return unit


def test_one_whose_sheet_is_void_is_no_good_job() -> None:
    unit = voided()
    (job,) = events(unit, State.VOID)
    assert (job.words, job.is_void) == ("Coal quay", True)
    assert not events(unit, State.CONFIRMED)


def test_a_void_one_is_told_by_word_and_shape_in_both_widths(dispatcher_client: Client) -> None:
    voided()
    answer = ask(dispatcher_client)
    # Among what the shapes say, in the table of a wide screen and in the list of a phone.
    assert answer.content.decode().count("M3.5 12.5l9-9") == 3
    assert words(answer).count("void: do not send") == 3


def test_the_feed_says_that_one_is_void(dispatcher_client: Client) -> None:
    voided()
    secret = make_feed(DispatcherFactory())
    text = dispatcher_client.get(reverse("calendar", args=[secret])).content.decode()
    assert "SUMMARY:VOID\\, do not send: " in text
