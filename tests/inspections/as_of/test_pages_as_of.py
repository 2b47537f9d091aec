"""The pages of past days, as an auditor reads them."""

from __future__ import annotations

import csv
from datetime import timedelta
from io import StringIO
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet import clock
from ratings.lots.recording import withdraw_rating
from ratings.mounting import mount_housing
from tests.builders import Unit, receive
from tests.factories import HammerFactory, HousingFactory
from tests.inspections.as_of.histories import counted, day, fitted, monday_unit
from tests.job_builders import commit, figured_unit
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def read(client: Client, name: str, *keys: object, **asked: str) -> str:
    return words(client.get(reverse(name, args=keys), asked))


def late_unit() -> Unit:
    """A1 and A2 seen cracked on Monday evening, on record on Thursday; A1 renewed on Tuesday."""
    unit = monday_unit(in_stock=4)
    fitted(unit, ("A", 1), day(1))
    counted(unit, day(0, 8), day(3), {"A1": "cracked", "A2": "cracked"})
    return unit


def test_the_board_of_a_day_names_the_units_of_which_the_ledger_said_otherwise(
    auditor_client: Client,
) -> None:
    unit = late_unit()
    so = read(auditor_client, "board-as-of", day="2026-03-02")
    assert "What was so on 2 Mar 2026" in so
    assert "Of 1 unit the ledger said otherwise that day" in so
    assert "18.0 tons" in so
    known = read(auditor_client, "board-as-of", day="2026-03-02", sense="known")
    assert "said otherwise" not in known
    assert "24.0 tons" in known
    assert unit.housing.mark in known


def test_a_units_page_tells_both_senses_where_they_differ(auditor_client: Client) -> None:
    unit = late_unit()
    for sense in ("so", "known"):
        page = read(auditor_client, "unit-as-of", unit.housing.pk, day="2026-03-02", sense=sense)
        assert "What was so and what was known differ here." in page
        assert "24.0 tons" in page
        assert "18.0 tons" in page
        assert f"A1, A2: sound, lot {unit.lot.mark} → cracked, lot {unit.lot.mark}" in page
    so = read(auditor_client, "unit-as-of", unit.housing.pk, day="2026-03-02")
    assert "rated again by today’s method, number 4" in so
    known = read(auditor_client, "unit-as-of", unit.housing.pk, day="2026-03-05", sense="known")
    assert "differ here" not in known


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"day": ""}, "This is blank: give the day."),
        ({"day": "soon"}, "This is not a day: give one such as 2026-03-14."),
        ({"day": "2999-01-01"}, "1 Jan 2999 is in the future"),
        ({"day": "1066-10-14"}, "14 Oct 1066 is too long ago for this trade."),
        (
            {"day": "2026-03-05", "known_on": "2026-03-04"},
            "This is before the day asked about, 5 Mar 2026",
        ),
        (
            {"day": "2026-03-05", "known_on": "2026-03-09", "sense": "known"},
            "What was known is told by its own day",
        ),
        ({"day": "2026-03-05", "sense": "guessed"}, "Select a valid choice."),
    ],
    ids=str,
)
def test_a_day_that_cannot_be_asked_is_refused_with_what_would_do(
    auditor_client: Client, asked: dict[str, str], said: str
) -> None:
    for name in ("board-as-of", "board-as-of-csv"):
        page = read(auditor_client, name, **asked)
        assert "Nothing can be shown for this." in page
        assert said in page


def test_reversed_days_have_no_differences(auditor_client: Client) -> None:
    page = read(auditor_client, "as-of-differences", day="2026-03-05", other="2026-03-04")
    assert "This is not after the first day, 5 Mar 2026: give it later." in page


def test_a_day_before_the_first_record_says_when_that_was(auditor_client: Client) -> None:
    monday_unit()
    page = read(auditor_client, "board-as-of", day="2020-01-01")
    assert "as of 1 Jan 2020: the first record is of 2 Mar 2026." in page


def test_a_site_with_no_record_says_so(auditor_client: Client) -> None:
    assert "Nothing is on record of any unit yet." in read(
        auditor_client, "board-as-of", day="2020-01-01"
    )


def test_a_unit_with_no_history_says_so(auditor_client: Client) -> None:
    housing = HousingFactory()
    page = read(auditor_client, "unit-as-of", housing.pk, day="2026-03-02")
    assert f"Nothing is on record of housing {housing.mark} yet: no count, no move" in page


def test_a_unit_entered_late_was_not_known_and_the_page_says_how_it_was(
    auditor_client: Client,
) -> None:
    rated = monday_unit()
    late = Unit(HousingFactory(positions_per_side=4), rated.hammer, rated.lot, rated.manager)
    counted(late, day(1), day(30), travel_in=5.0)
    asked = {"day": "2026-03-04", "sense": "known"}
    page = read(auditor_client, "unit-as-of", late.housing.pk, **asked)
    assert f"Nothing of {late.housing.mark} was known on that day." in page
    assert "the first record is of 1 Apr 2026." in page
    assert "By what came on record since, it was so on that day:" in page
    # Eight sound pads at 5 in: 8 × 1,000 × 5 = 40,000 lbf.
    assert "20.0 tons (40,000 lbf)" in page
    board = read(auditor_client, "board-as-of", **asked)
    assert "Of 1 more unit nothing was known that day" in board
    assert late.housing.mark in board
    so = read(auditor_client, "board-as-of", day="2026-03-04")
    assert "nothing was known that day" not in so


def test_a_unit_out_of_use_on_the_day_says_so(auditor_client: Client) -> None:
    housing = HousingFactory(retired_on=timezone.localdate(day(1)))
    page = read(auditor_client, "unit-as-of", housing.pk, day="2026-03-05")
    assert f"Housing {housing.mark} was out of use on that day, since 3 Mar 2026." in page


def test_two_days_that_differ_in_much_are_told_page_by_page(auditor_client: Client) -> None:
    with clock.set_to(day(1)):
        marks = [HousingFactory(mark=f"N-{number:02}").mark for number in range(30)]
    asked = {"day": "2026-03-02", "other": "2026-03-04"}
    first = read(auditor_client, "as-of-differences", **asked)
    second = read(auditor_client, "as-of-differences", **asked, **{"units-page": "2"})
    assert "Units: 30 differ" in first
    assert [mark for mark in marks if mark in first] == marks[:25]
    assert [mark for mark in marks if mark in second] == marks[25:]
    assert "came on record" in second


def test_the_file_of_a_day_holds_every_unit_with_what_its_figures_come_from(
    auditor_client: Client,
) -> None:
    late, other = late_unit(), monday_unit()
    answer = auditor_client.get(reverse("board-as-of-csv"), {"day": "2026-03-02"})
    rows = {row["unit"]: row for row in csv.DictReader(StringIO(answer.content.decode()))}
    assert float(rows[late.housing.mark]["line_pull_lbf"]) == pytest.approx(36_000.0)
    assert rows[late.housing.mark]["ledger_entry"] == ""
    assert rows[late.housing.mark]["figures_by"] == "the facts of that day, by today’s method"
    assert float(rows[other.housing.mark]["line_pull_lbf"]) == pytest.approx(48_000.0)
    assert rows[other.housing.mark]["figures_by"] == "the entry then in force"


def test_two_days_tell_only_what_differs_with_its_record(auditor_client: Client) -> None:
    changed, same = monday_unit(), monday_unit()
    with clock.set_to(day(2)):
        hammer = HammerFactory(yard=changed.housing.yard)
    counted(changed, day(2), day(2), {"B1": "swollen"}, travel_in=5.0)
    with clock.set_to(day(3)):
        mount_housing(housing=changed.housing, hammer=hammer, at=day(3), by=changed.manager)
    page = auditor_client.get(
        reverse("as-of-differences"), {"day": "2026-03-02", "other": "2026-03-05"}
    )
    told = words(page)
    assert f"hammer: {changed.hammer} → {hammer}" in told
    assert f"B1: sound, lot {changed.lot.mark} → swollen, lot {changed.lot.mark}" in told
    assert "travel: 6 in → 5 in" in told
    # 8 × 6,000 lbf before; seven pads at 5 in after.
    assert "line pull: 24.0 tons (48,000 lbf) → 17.5 tons (35,000 lbf)" in told
    assert same.housing.mark not in told
    assert f"/units/{changed.housing.pk}/records/ledger/?entry=" in page.content.decode()


def test_two_days_alike_say_that_nothing_differs(auditor_client: Client) -> None:
    monday_unit()
    page = read(auditor_client, "as-of-differences", day="2026-03-04", other="2026-03-05")
    assert "Nothing differs between these days." in page


def test_a_lot_is_told_with_the_shelves_of_the_day(auditor_client: Client) -> None:
    unit = monday_unit()
    with clock.set_to(day(4)):
        receive(unit.lot, unit.manager, 7)
    # Received on Monday, on record on Friday.
    so = read(auditor_client, "lot-as-of", unit.lot.pk, day="2026-03-03")
    assert "no yard: 7 pads" in so
    known = read(auditor_client, "lot-as-of", unit.lot.pk, day="2026-03-03", sense="known")
    assert "None by the books." in known
    assert f"rating {unit.lot.ratings.get().pk}" in known.lower()


def test_a_rating_withdrawn_since_was_in_force_and_the_page_says_both(
    auditor_client: Client,
) -> None:
    unit = monday_unit()
    with clock.set_to(day(4)):
        withdraw_rating(
            submission_id=uuid4(),
            rating=unit.lot.ratings.get(),
            reason="Wrong pads",
            by=unit.manager,
        )
    page = read(auditor_client, "lot-as-of", unit.lot.pk, day="2026-03-03")
    assert "Rating" in page
    assert "It was withdrawn since." in page
    assert "None: pads of it added nothing" in read(
        auditor_client, "lot-as-of", unit.lot.pk, day="2026-03-06"
    )


def test_a_machine_hung_where_it_did_that_day(auditor_client: Client) -> None:
    unit = monday_unit()
    with clock.set_to(day(3)):
        mount_housing(housing=unit.housing, hammer=None, at=day(3), by=unit.manager)
    before = read(auditor_client, "machine-as-of", "hammer", unit.hammer.pk, day="2026-03-03")
    assert f"housing {unit.housing.mark}" in before
    after = read(auditor_client, "machine-as-of", "hammer", unit.hammer.pk, day="2026-03-06")
    assert f"housing {unit.housing.mark}" not in after


def test_a_promise_holds_from_when_it_was_made_until_it_was_released(
    auditor_client: Client,
) -> None:
    made = commit(figured_unit())
    today = timezone.localdate()
    job = read(auditor_client, "job-as-of", made.job_id, day=today.isoformat())
    assert f"{made.housing.mark} on {made.hammer.mark}" in job
    assert made.answer.verdict in job
    yesterday = (today - timedelta(days=1)).isoformat()
    before = read(auditor_client, "job-as-of", made.job_id, day=yesterday)
    assert "The job was not on record yet." in before
    assert made.housing.mark not in before


@pytest.mark.parametrize(
    ("name", "of"),
    [("board", None), ("unit", "housing"), ("machine-page", "hammer"), ("lot", "lot")],
)
def test_todays_page_leads_to_past_days(auditor_client: Client, name: str, of: str | None) -> None:
    unit = monday_unit()
    keys = [getattr(unit, of).pk] if of else []
    if name == "machine-page":
        keys = ["hammer", *keys]
    assert "/as-of/" in auditor_client.get(reverse(name, args=keys)).content.decode()
