from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet import unchanged
from fleet.models import ReaderPreference, SuppressorHousing
from fleet.outages import take_out_of_service
from fleet.quantities import share_words
from fleet.tables import table_of
from inspections.count.signing import Correction
from inspections.service.recording import release_to_service
from inspections.units import board
from ratings.models import CurrentRating
from ratings.mounting import mount_housing
from tests.builders import MONDAY, count, qualified, rated_unit
from tests.factories import HammerFactory, HousingFactory, ManagerFactory, PadLotFactory
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def marks(response: Any) -> list[str]:
    """The units on the board, in the order shown."""
    return re.findall(r'<a href="/units/\d+/"><strong>(.*?)</strong>', response.content.decode())


def shown(client: Client, **query: Any) -> list[str]:
    response = client.get(reverse("board"), query)
    assert response.status_code == 200
    return marks(response)


def never_counted() -> SuppressorHousing:
    """A housing that hangs on a hammer, and that nobody ever counted."""
    housing = HousingFactory(mark="NEVER")
    mount_housing(housing=housing, hammer=HammerFactory(), at=MONDAY, by=ManagerFactory())
    return housing


def one_of_each() -> dict[str, str]:
    """A unit of each standing and its mark."""
    never = never_counted()
    units = {
        "meets listing": rated_unit(listed_lbf=30_000).housing,
        "below listing": rated_unit(listed_lbf=90_000).housing,
        "not proven": rated_unit(listed_lbf=47_500).housing,
    }
    for standing, housing in units.items():
        assert CurrentRating.objects.get(housing=housing).head.standing == standing
    return {standing: each.mark for standing, each in units.items()} | {"unrated": never.mark}


def test_the_worst_come_first(auditor_client: Client) -> None:
    mark = one_of_each()
    order = ("below listing", "unrated", "not proven", "meets listing")
    assert shown(auditor_client) == [mark[standing] for standing in order]


def test_of_two_below_their_listing_the_shorter_comes_first(auditor_client: Client) -> None:
    short, shorter = rated_unit(listed_lbf=60_000), rated_unit(listed_lbf=80_000)
    assert shown(auditor_client) == [shorter.housing.mark, short.housing.mark]


def take_out(housing: SuppressorHousing) -> None:
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=housing,
        since=MONDAY,
        reason="Crack at the yoke weld.",
        by=ManagerFactory(),
    )


def test_what_is_out_of_service_comes_before_every_standing(auditor_client: Client) -> None:
    mark = one_of_each()
    out = rated_unit(listed_lbf=30_000).housing
    take_out(out)
    assert shown(auditor_client)[:2] == [out.mark, mark["below listing"]]
    assert shown(auditor_client, sort="standing")[0] == out.mark
    assert shown(auditor_client, sort="-standing")[-1] == out.mark


def test_a_row_says_that_it_is_out_of_service_since_when_why_and_how_it_stands(
    auditor_client: Client,
) -> None:
    take_out(rated_unit(listed_lbf=30_000).housing)
    text = words(auditor_client.get(reverse("board")))
    assert (
        "out of service since 2 Mar 2026 · 2 more since 2 Mar 2026 · Crack at the yoke weld · "
        "meets listing by its pads" in text
    )


def test_what_is_out_of_service_does_not_look_good_to_go(auditor_client: Client) -> None:
    take_out(rated_unit(listed_lbf=30_000).housing)
    page = auditor_client.get(reverse("board")).content.decode()
    row = page[page.index("<tbody") :]
    assert 'class="standing meets"' not in row[: row.index("</tr>")]


def test_out_of_service_is_counted_and_filtered_apart_from_the_standings(
    auditor_client: Client,
) -> None:
    good, out = rated_unit().housing, rated_unit().housing
    take_out(out)
    text = words(auditor_client.get(reverse("board")))
    assert "1 out of service 0 below listing 0 unrated 0 not proven 1 meets listing" in text
    assert shown(auditor_client, standing="out of service") == [out.mark]
    assert shown(auditor_client, standing="meets listing") == [good.mark]


def test_a_unit_released_is_back_among_the_others(auditor_client: Client) -> None:
    unit = rated_unit()
    take_out(unit.housing)
    count(unit.housing, unit.manager, unit.lot, at=MONDAY + timedelta(days=1))
    release_to_service(
        machine=unit.housing,
        at=MONDAY + timedelta(days=2),
        reason="Weld made good.",
        qualified_person=qualified("Hale Winter"),
        by=unit.manager,
    )
    response = auditor_client.get(reverse("board"), {"standing": "meets listing"})
    assert marks(response) == [unit.housing.mark]
    assert "yoke weld" not in words(response)


def test_the_summary_counts_every_standing(auditor_client: Client) -> None:
    one_of_each()
    text = words(auditor_client.get(reverse("board")))
    for standing in ("below listing", "unrated", "not proven", "meets listing"):
        assert f"1 {standing}" in text


def test_a_row_shows_the_figures_and_what_limits_them(auditor_client: Client) -> None:
    unit = rated_unit(listed_lbf=40_000, unsound={"A1": "cracked"}, to_in=5.0)
    text = words(auditor_client.get(reverse("board")))
    # 7 pads × 1,000 lbf/in × 5 in tested.
    assert "17.5 tons (35,000 lbf)" in text
    assert "20.0 tons (40,000 lbf)" in text
    # Of listed is the working capacity, which is what the unit is held to.
    capacity_lbf = CurrentRating.objects.get().head.working_capacity_lbf
    assert capacity_lbf is not None
    assert share_words(capacity_lbf / 40_000) in text
    assert "7 of 8" in text
    assert "limited by tests" in text
    assert f"on {unit.hammer.mark}" in text


def test_a_unit_out_of_balance_or_with_unrated_pads_says_so(auditor_client: Client) -> None:
    rated_unit(unsound={"A1": "missing", "A2": "missing", "A3": "missing"})
    unknown = rated_unit()
    count(unknown.housing, unknown.manager, PadLotFactory(), at=MONDAY + timedelta(days=1))
    text = words(auditor_client.get(reverse("board")))
    assert "out of balance" in text
    assert "8 pads unrated" in text


def test_a_housing_never_counted_stands_as_unrated(auditor_client: Client) -> None:
    never_counted()
    response = auditor_client.get(reverse("board"))
    assert marks(response) == ["NEVER"]
    assert "1 unrated" in words(response)


def test_a_spare_housing_stands_last_and_counts_in_no_alarm(auditor_client: Client) -> None:
    HousingFactory(mark="A-SPARE")
    good = rated_unit(listed_lbf=30_000).housing
    response = auditor_client.get(reverse("board"))
    assert marks(response) == [good.mark, "A-SPARE"]
    text = words(response)
    assert "0 unrated" in text
    assert "1 spare" in text
    assert "needs" not in text.split("A-SPARE")[1].split("Hammers")[0]


def test_an_empty_yard_says_what_to_do(auditor_client: Client) -> None:
    assert "An equipment manager enters housings" in words(auditor_client.get(reverse("board")))


@pytest.mark.parametrize("standing", ["below listing", "unrated", "not proven", "meets listing"])
def test_the_board_narrows_to_a_standing(auditor_client: Client, standing: str) -> None:
    mark = one_of_each()
    assert shown(auditor_client, standing=standing) == [mark[standing]]


def test_the_board_narrows_to_a_yard(auditor_client: Client) -> None:
    here, _there = rated_unit(), rated_unit()
    assert shown(auditor_client, yard=here.housing.yard_id) == [here.housing.mark]


def test_the_board_narrows_to_housings_on_or_off_a_hammer(auditor_client: Client) -> None:
    on, off = rated_unit(), rated_unit()
    mount_housing(housing=off.housing, hammer=None, at=MONDAY, by=off.manager)
    assert shown(auditor_client, mounted="yes") == [on.housing.mark]
    assert shown(auditor_client, mounted="no") == [off.housing.mark]


def test_the_board_is_searched_by_mark_hammer_make_and_yard(auditor_client: Client) -> None:
    unit, _other = rated_unit(), rated_unit()
    unit.hammer.make = "Plumley"
    unit.hammer.save()
    unit.housing.yard.name = "Gravel Pit"
    unit.housing.yard.save()
    for word in (unit.housing.mark, unit.hammer.mark, "plum", "gravel"):
        assert unit.housing.mark in shown(auditor_client, search=word)
    assert shown(auditor_client, search="plum") == [unit.housing.mark]
    assert shown(auditor_client, search="no such thing") == []


def test_a_moved_housing_is_on_the_board_once_and_under_its_last_hammer(
    auditor_client: Client,
) -> None:
    unit, other = rated_unit(), HammerFactory(mark="NEXT")
    mount_housing(
        housing=unit.housing, hammer=other, at=MONDAY + timedelta(days=1), by=unit.manager
    )
    count(unit.housing, unit.manager, unit.lot, at=MONDAY + timedelta(days=2))
    response = auditor_client.get(reverse("board"))
    assert marks(response) == [unit.housing.mark]
    assert "on NEXT" in words(response)
    assert shown(auditor_client, search=unit.hammer.mark) == []


def test_hammers_without_a_housing_are_named(auditor_client: Client) -> None:
    unit, spare = rated_unit(), HammerFactory(mark="SPARE")
    freed = rated_unit()
    mount_housing(housing=freed.housing, hammer=None, at=MONDAY, by=freed.manager)
    text = words(auditor_client.get(reverse("board")))
    assert f"{spare.mark}: no housing" in text
    assert f"{freed.hammer.mark}: no housing" in text
    assert f"{unit.hammer.mark}: no housing" not in text


@pytest.mark.parametrize(
    ("sort", "first"), [("pull_lbf", 1000.0), ("-pull_lbf", 2000.0), ("share", 1000.0)]
)
def test_the_board_is_sorted_by_a_column(auditor_client: Client, sort: str, first: float) -> None:
    units = {rate: rated_unit(rate_lbf_in=rate).housing.mark for rate in (2000.0, 1000.0)}
    assert shown(auditor_client, sort=sort)[0] == units[first]


def test_the_board_is_shown_page_by_page(
    auditor_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(board.BoardTable, "rows_on_a_page", 2)
    for number in range(5):
        HousingFactory(mark=f"N{number}")
    assert shown(auditor_client) == ["N0", "N1"]
    assert shown(auditor_client, page=3) == ["N4"]
    assert "Page 2 of 3" in words(auditor_client.get(reverse("board"), {"page": 2}))


def test_filters_are_kept_from_page_to_page(
    auditor_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(board.BoardTable, "rows_on_a_page", 1)
    HousingFactory.create_batch(2)
    page = auditor_client.get(reverse("board"), {"standing": "spare"}).content.decode()
    assert re.search(r'rel="next"\s+href="\?[^"]*standing=spare', page)


@pytest.mark.parametrize(
    "query",
    [
        {"page": "abc"},
        {"page": "-4"},
        {"page": "999999999999999999999999"},
        {"per_page": "0"},
        {"per_page": "-1"},
        {"per_page": "x"},
        {"sort": "garbage"},
        {"sort": "-"},
        {"standing": "splendid"},
        {"yard": "x"},
        {"yard": "99999999999999999999999999"},
        {"mounted": "sometimes"},
        {"search": "\x00"},
        {"search": "%_'\"<b>"},
        {"search": "x" * 5000},
    ],
)
def test_a_query_nobody_would_type_never_breaks_the_board(
    auditor_client: Client, query: dict[str, str]
) -> None:
    rated_unit()
    assert auditor_client.get(reverse("board"), query).status_code == 200


def test_the_page_asks_as_often_for_twelve_units_as_for_three(auditor_client: Client) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert auditor_client.get(reverse("board")).status_code == 200
        return len(captured)

    for _ in range(3):
        rated_unit()
    for_three = queries()
    for _ in range(9):
        rated_unit()
    assert queries() == for_three


def test_htmx_is_sent_the_table_alone(auditor_client: Client) -> None:
    unit = rated_unit()
    response = auditor_client.get(reverse("board"), headers={"HX-Request": "true"})
    page = response.content.decode()
    assert marks(response) == [unit.housing.mark]
    assert "<html" not in page
    assert 'class="filters"' not in page


def test_the_reader_s_choice_of_si_is_kept_and_is_theirs_alone(
    auditor_client: Client, dispatcher_client: Client
) -> None:
    rated_unit()
    response = auditor_client.post(reverse("choose-units"), {"units": "si", "back": "/"})
    assert response["Location"] == "/"
    text = words(auditor_client.get(reverse("board")))
    # 48,000 lbf is 213.5 kN, 6 in is 152 mm.
    assert "213.5 kN" in text
    assert "152 mm" in text
    assert "lbf" not in text
    assert "(48,000 lbf)" in words(dispatcher_client.get(reverse("board")))


def test_a_reader_may_go_back_to_us_units(auditor_client: Client) -> None:
    rated_unit()
    for units in ("si", "us"):
        auditor_client.post(reverse("choose-units"), {"units": units})
    assert "(48,000 lbf)" in words(auditor_client.get(reverse("board")))
    assert ReaderPreference.objects.count() == 1


@pytest.mark.parametrize(
    "back", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)", ""]
)
def test_the_choice_of_units_never_leads_to_another_site(auditor_client: Client, back: str) -> None:
    response = auditor_client.post(reverse("choose-units"), {"units": "si", "back": back})
    assert response["Location"] == "/"


def test_the_choice_of_units_goes_back_to_the_page_it_was_made_on(auditor_client: Client) -> None:
    sent = {"units": "si", "back": "/lots/?x=1"}
    assert auditor_client.post(reverse("choose-units"), sent)["Location"] == "/lots/?x=1"


def test_the_choice_of_units_is_not_made_by_a_link(auditor_client: Client) -> None:
    assert auditor_client.get(reverse("choose-units"), {"units": "si"}).status_code == 405
    assert not ReaderPreference.objects.exists()


def test_units_nobody_knows_are_refused(auditor_client: Client) -> None:
    assert auditor_client.post(reverse("choose-units"), {"units": "cubits"}).status_code == 400


def test_an_unrated_unit_says_on_the_board_what_it_wants(auditor_client: Client) -> None:
    unit = rated_unit()
    at = MONDAY + timedelta(days=1)
    mount_housing(housing=unit.housing, hammer=HammerFactory(), at=at, by=unit.manager)
    assert "needs a listed rating" in words(auditor_client.get("/"))


def test_both_days_stand_where_a_unit_was_looked_at_since_its_last_full_count(
    auditor_client: Client,
) -> None:
    unit, _other = rated_unit(), rated_unit()
    count(unit.housing, unit.manager, None, travel_in=None, at=MONDAY + timedelta(days=5))
    board = words(auditor_client.get(reverse("board"), {"sort": "counted_at"}))
    assert board.count("looked at 7 Mar 2026") == 1


def test_a_count_put_right_since_is_no_last_count(auditor_client: Client) -> None:
    unit = rated_unit()
    wrong = count(unit.housing, unit.manager, unit.lot, at=MONDAY + timedelta(days=40))
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        at=MONDAY + timedelta(days=3),
        correction=Correction("It was the month before.", wrong.inspection),
    )
    board = words(auditor_client.get(reverse("board")))
    assert "5 Mar 2026" in board
    assert "11 Apr 2026" not in board


def test_the_board_is_narrowed_as_its_reader_left_it_and_says_so(auditor_client: Client) -> None:
    mark = one_of_each()
    shown(auditor_client, standing="unrated", search="x")
    response = auditor_client.get(reverse("board"), follow=True)
    assert marks(response) == [mark["unrated"]]
    assert "Narrowed as below. Show all units" in words(response)
    assert len(marks(auditor_client.get(reverse("board"), {"all": "1"}, follow=True))) == 4
    assert len(shown(auditor_client)) == 4


def test_the_board_is_narrowed_the_same_after_signing_in_anew(auditor_client: Client) -> None:
    mark = one_of_each()
    shown(auditor_client, standing="unrated")
    elsewhere = Client()
    elsewhere.force_login(User.objects.get(pk=auditor_client.session["_auth_user_id"]))
    assert marks(elsewhere.get(reverse("board"), follow=True)) == [mark["unrated"]]


def test_how_one_reader_narrowed_the_board_is_no_matter_of_another(
    auditor_client: Client, dispatcher_client: Client
) -> None:
    one_of_each()
    shown(auditor_client, standing="unrated")
    assert len(shown(dispatcher_client)) == 4


def test_what_is_no_word_of_a_unit_is_looked_for_in_the_whole_ledger(
    auditor_client: Client,
) -> None:
    lot = rated_unit().lot
    page = auditor_client.get(reverse("board"), {"search": lot.mark}).content.decode()
    link = re.search(r'href="(/search/[^"]*)"[^>]*>Find', page)
    assert link
    found = words(auditor_client.get(link[1]))
    assert f"Lot {lot.mark}" in found


@pytest.mark.parametrize("query", [{"standing": "splendid"}, {"yard": "999"}, {"mounted": "x"}])
def test_what_the_board_can_not_be_narrowed_by_is_not_remembered(
    auditor_client: Client, query: dict[str, str]
) -> None:
    auditor_client.get(reverse("board"), query)
    assert auditor_client.get(reverse("board")).status_code == 200


def test_filters_emptied_are_forgotten(auditor_client: Client) -> None:
    one_of_each()
    shown(auditor_client, standing="unrated")
    shown(auditor_client, standing="", yard="", mounted="", search="")
    assert len(shown(auditor_client)) == 4


def without_tokens(response: Any) -> str:
    return re.sub(r"[A-Za-z0-9]{64}", "", response.content.decode())


@pytest.mark.django_db(transaction=True)
def test_rows_that_are_kept_say_what_rows_found_anew_say(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    marks_by_standing = one_of_each()
    HousingFactory(mark="SPARE")
    take_out(rated_unit(unsound={"A1": "cracked"}).housing)
    client.force_login(ManagerFactory())
    unchanged.forget()
    times_found: list[tuple[int, ...]] = []
    with monkeypatch.context() as patched:
        patched.setattr(board, "rows_told", noting(board.rows_told, times_found))
        first, kept = (without_tokens(client.get(reverse("board"))) for _ in range(2))
    assert len(times_found) == 1
    # As the library makes rows, of records that are read for this page alone.
    monkeypatch.setattr(board, "table_of", lambda *given, known: table_of(*given))
    anew = without_tokens(client.get(reverse("board")))
    assert first == anew
    assert kept == anew
    assert all(mark in kept for mark in (*marks_by_standing.values(), "SPARE"))


def noting(find: Callable[..., Any], asked: list[tuple[int, ...]]) -> Callable[..., Any]:
    """Find as before, and note each time of which units."""

    def found(keys: tuple[int, ...], system: str) -> Any:
        asked.append(keys)
        return find(keys, system)

    return found


@pytest.mark.django_db(transaction=True)
def test_rows_that_are_kept_are_each_readers_in_their_own_units(client: Client) -> None:
    rated_unit()
    first, second = ManagerFactory(), ManagerFactory()
    ReaderPreference.objects.create(user=second, units="si")
    pages = []
    for reader in (first, second, first):
        client.force_login(reader)
        pages.append(words(client.get(reverse("board"))))
    assert ["kN" in page for page in pages] == [False, True, False]


@pytest.mark.django_db(transaction=True)
def test_a_row_that_is_kept_says_at_once_what_is_recorded_of_its_unit(client: Client) -> None:
    unit = rated_unit()
    client.force_login(unit.manager)
    assert "no hydraulic oil" not in words(client.get(reverse("board")))
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unit.housing,
        since=MONDAY,
        reason="no hydraulic oil",
        by=unit.manager,
    )
    assert "no hydraulic oil" in words(client.get(reverse("board")))
