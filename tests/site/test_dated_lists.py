"""Lists of records are narrowed by days, all alike."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import get_resolver, reverse
from django.utils import timezone

from fleet.dates import start_of_day
from fleet.setup.tables import ThingTable
from fleet.tables import DayColumn, MomentColumn, RecordsFilter, RecordsTable
from inspections.units.records import RECORDS_OF_A_UNIT
from ratings.mounting import mount_housing
from tests.builders import MONDAY, count, rated_unit
from tests.fleet.people.authenticator import given as given_passkey
from tests.inspections.api.asking import token_of
from tests.job_builders import extraction_job
from tests.site.html_form import words

pytestmark = pytest.mark.django_db

LISTS = (
    "jobs",
    "pad-orders",
    "pulls",
    "proposals",
    "transfers",
    "repairs",
    "hires",
    "foreign-checks",
)
# What is listed there stands, and is of no day.
OF_NO_DAY = {"BoardFilter", "MachineFilter", "LotFilter", "DueFilter", "ListedHammerFilter"}
# What filters of lists are made from.
IN_COMMON = {"RecordsFilter", "OwnYardsFilter"}


def kinds(base: type[RecordsFilter]) -> set[type[RecordsFilter]]:
    return {base}.union(*(kinds(each) for each in base.__subclasses__()))


def test_every_filter_of_records_asks_their_days() -> None:
    assert get_resolver().url_patterns  # all views are loaded, and their filters with them
    undated = {
        each.__name__
        for each in kinds(RecordsFilter)
        if not {"since", "until"} <= each.base_filters.keys()
    }
    assert undated - IN_COMMON == OF_NO_DAY


@pytest.mark.parametrize("name", LISTS)
def test_reversed_days_are_refused_with_what_would_do(auditor_client: Client, name: str) -> None:
    page = auditor_client.get(reverse(name), {"since": "2026-03-05", "until": "2026-03-04"})
    assert "Until: This is before the first day, 5 Mar 2026: give it later." in words(page)


def test_reversed_days_of_a_units_records_are_refused(auditor_client: Client) -> None:
    unit = rated_unit()
    for what in RECORDS_OF_A_UNIT:
        url = reverse("unit-records", args=[unit.housing.pk, what])
        page = auditor_client.get(url, {"since": "2026-03-05", "until": "2026-03-04"})
        assert "This is before the first day, 5 Mar 2026" in words(page), what
        assert "<tbody>" not in page.content.decode(), what


@pytest.mark.parametrize("given", ["no day", "0001-01-01", "9999-12-31", "2026-02-30"])
def test_what_is_no_day_of_the_trade_is_refused(auditor_client: Client, given: str) -> None:
    page = auditor_client.get(reverse("pulls-csv"), {"until": given})
    assert page.status_code == 200
    assert "Nothing can be shown for this." in words(page)


def sites(client: Client, **asked: str) -> set[str]:
    page = words(client.get(reverse("jobs"), asked))
    return {site for site in ("Early pier", "Late pier") if site in page}


def test_a_job_is_listed_where_any_of_its_days_is_asked(auditor_client: Client) -> None:
    first = date(2026, 3, 10)
    for site, days in (("Early pier", 0), ("Late pier", 10)):
        begun = first + timedelta(days=days)
        extraction_job(site=site, first_day=begun, last_day=begun + timedelta(days=4))
    assert sites(auditor_client, since="2026-03-14", until="2026-03-19") == {"Early pier"}
    assert sites(auditor_client, since="2026-03-15", until="2026-03-20") == {"Late pier"}
    assert sites(auditor_client, since="2026-03-15") == {"Late pier"}
    assert sites(auditor_client, until="2026-03-10") == {"Early pier"}


def inspections_on(client: Client, housing: int, day: date) -> int:
    url = reverse("unit-records", args=[housing, "inspections"])
    asked = {"since": day.isoformat(), "until": day.isoformat()}
    return client.get(url, asked).content.decode().count(", pad count")


def test_a_day_is_that_of_the_yard_to_its_last_minute(auditor_client: Client) -> None:
    unit = rated_unit()
    day = timezone.localdate(MONDAY) + timedelta(days=3)
    last_minute = start_of_day(day) + timedelta(hours=23, minutes=59)
    for at in (last_minute, last_minute + timedelta(minutes=1)):
        count(unit.housing, unit.manager, unit.lot, at=at)
    assert inspections_on(auditor_client, unit.housing.pk, day) == 1
    assert inspections_on(auditor_client, unit.housing.pk, day + timedelta(days=1)) == 1
    assert inspections_on(auditor_client, unit.housing.pk, day + timedelta(days=2)) == 0


def mountings(client: Client, housing: int, day: datetime) -> int:
    url = reverse("unit-records", args=[housing, "mountings"])
    asked = {"since": day.date().isoformat(), "until": day.date().isoformat()}
    return client.get(url, asked).content.decode().count('class="c-hammer')


def test_what_lasts_is_listed_on_each_day_until_it_ended(auditor_client: Client) -> None:
    unit = rated_unit()
    begun = unit.housing.mountings.get().mounted_at
    later = begun + timedelta(days=20)
    assert mountings(auditor_client, unit.housing.pk, later) == 1
    mount_housing(housing=unit.housing, hammer=None, at=begun + timedelta(days=9), by=unit.manager)
    assert mountings(auditor_client, unit.housing.pk, later) == 0
    assert mountings(auditor_client, unit.housing.pk, begun + timedelta(days=5)) == 1


# These list what stands, as do those of things set up: none of their rows happened on a day.
TABLES_OF_NO_DAY = {
    "StandTable",
    "ToolTable",
    "PieceTable",
    "ComparisonTable",
    "LotTable",
    "PeopleTable",
    "KindTable",
    # What somebody signs in by today, since whenever they have it.
    "PasskeyTable",
    "TokenTable",
}


def tables_of_days() -> set[type[RecordsTable]]:
    assert get_resolver().url_patterns  # all views are loaded, and their tables with them
    found: set[type[RecordsTable]] = set()
    asked = [RecordsTable]
    while asked:
        asked.extend(new := asked.pop().__subclasses__())
        found.update(new)
    return {
        each
        for each in found
        if not issubclass(each, ThingTable)
        and any(
            isinstance(column, DayColumn | MomentColumn) for column in each.base_columns.values()
        )
    }


def test_every_table_of_dated_rows_is_narrowed_by_their_days() -> None:
    """By the days asked of its page, or by a filter of its own, which its page shows."""
    by_filters = {
        "PullTable",
        "UnitPullTable",
        "ProposalTable",
        "TransferTable",
        "PadOrderTable",
        "RepairOrderTable",
        "HireTable",
        "ForeignCheckTable",
        "DoingTable",
        *(each.table.__name__ for each in RECORDS_OF_A_UNIT.values()),
    }
    bare = {each.__name__ for each in tables_of_days() if not each.dated_by}
    assert bare - by_filters == TABLES_OF_NO_DAY


def lot_page(client: Client, lot: int, **asked: str) -> str:
    return client.get(reverse("lot", args=[lot]), asked).content.decode()


def test_days_asked_of_a_person_hide_nothing_that_lets_them_in(manager: User) -> None:
    given_passkey(manager)
    token_of(manager)
    client = Client()
    client.force_login(manager)
    long_ago = {"since": "2020-01-01", "until": "2020-01-02"}
    page = words(client.get(reverse("person", args=[manager.pk]), long_ago))
    assert "my phone" in page
    assert page.count("None of the days asked.") == 1


def test_days_asked_narrow_every_list_of_a_page(auditor_client: Client) -> None:
    unit = rated_unit()
    drafted_on = timezone.localdate(unit.lot.ratings.get().recorded_at)
    tested_on = timezone.localdate(unit.lot.bench_tests.get().tested_at)
    first, last = min(drafted_on, tested_on), max(drafted_on, tested_on)
    pages = {
        "whole": lot_page(auditor_client, unit.lot.pk),
        "all": lot_page(
            auditor_client, unit.lot.pk, since=first.isoformat(), until=last.isoformat()
        ),
        "after": lot_page(
            auditor_client, unit.lot.pk, since=(last + timedelta(days=1)).isoformat()
        ),
    }
    for cell in ('class="c-rate_lbf_in', 'class="c-pads_in_test'):
        listed = {name: page.count(cell) for name, page in pages.items()}
        assert listed == {"whole": 1, "all": 1, "after": 0}, cell
    assert "None of the days asked." in pages["after"]


def test_days_are_asked_once_a_page_and_keep_what_else_is_asked(auditor_client: Client) -> None:
    unit = rated_unit()
    asked = {"gain": "2", "moves-sort": "-pads", "moves-page": "2", "since": "2020-01-01"}
    page = lot_page(auditor_client, unit.lot.pk, **asked)
    assert page.count('id="days"') == 1
    assert '<input type="hidden" name="moves-sort" value="-pads">' in page
    assert 'name="moves-page"' not in page
    assert 'href="?gain=2&amp;moves-sort=-pads#days"' in page


def test_reversed_days_of_a_page_are_refused_with_what_would_do(auditor_client: Client) -> None:
    unit = rated_unit()
    url = reverse("machine-page", args=["hammer", unit.hammer.pk])
    page = auditor_client.get(url, {"since": "2026-03-05", "until": "2026-03-04"})
    assert "Until: This is before the first day, 5 Mar 2026: give it later." in words(page)
    assert "<tbody>" not in page.content.decode()
    # The field leads whoever can't see the page to these words.
    assert 'aria-describedby="days_until_error"' in page.content.decode()
    assert '<li id="days_until_error">' in page.content.decode()


@pytest.mark.parametrize("given", ["no day", "0001-01-01", "9999-12-31", "\0"])
def test_what_is_no_day_is_refused_on_pages_of_several_lists(
    auditor_client: Client, given: str
) -> None:
    unit = rated_unit()
    for url in (
        reverse("machine-page", args=["housing", unit.housing.pk]),
        reverse("unit-pads", args=[unit.housing.pk]),
    ):
        page = auditor_client.get(url, {"until": given})
        assert page.status_code == 200
        assert "Nothing can be shown for this." in words(page)


def test_pads_over_time_are_listed_on_each_day_until_they_ended(auditor_client: Client) -> None:
    unit = rated_unit()
    url = reverse("unit-pads", args=[unit.housing.pk])
    day = timezone.localdate(MONDAY)

    def listed(**asked: str) -> int:
        return auditor_client.get(url, asked).content.decode().count('class="c-position')

    assert listed(since=(day + timedelta(days=60)).isoformat()) == listed() > 0
    assert listed(until=(day - timedelta(days=900)).isoformat()) == 0
