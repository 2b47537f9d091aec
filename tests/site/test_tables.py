"""Pages of records are sorted, filtered, turned and written in the reader's units."""

from __future__ import annotations

import re
import uuid
from datetime import date
from io import BytesIO
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from fleet.models import PadLot
from fleet.tables import NEWEST_SHOWN
from inspections.labels import views as labels
from ratings.lots import views as lots
from ratings.lots.tables import LotTable
from tests.builders import count, rated_unit
from tests.factories import HammerFactory, PadLotFactory, YardFactory
from tests.job_builders import extraction_job
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def lot_marks(client: Client, **query: Any) -> list[str]:
    page = client.get(reverse("lots"), query).content.decode()
    return re.findall(r'<a href="/lots/\d+/"><strong>(.*?)</strong>', page)


def three_lots() -> None:
    for mark, in_stock in (("B", 5), ("C", 1), ("A", 9)):
        PadLotFactory(mark=mark, in_stock=in_stock, reorder_point=2)


def test_a_table_is_sorted_by_a_heading_either_way(auditor_client: Client) -> None:
    three_lots()
    assert lot_marks(auditor_client) == ["A", "B", "C"]
    assert lot_marks(auditor_client, sort="in_stock") == ["C", "B", "A"]
    assert lot_marks(auditor_client, sort="-in_stock") == ["A", "B", "C"]


def test_what_is_alike_in_the_sorted_column_stands_on_one_page_alone(
    auditor_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(LotTable, "rows_on_a_page", 2)
    made: set[str] = {PadLotFactory().mark for _ in range(5)}
    shown = [
        mark for page in (1, 2, 3) for mark in lot_marks(auditor_client, sort="in_stock", page=page)
    ]
    assert len(shown) == 5
    assert set(shown) == made


def test_the_links_keep_sort_and_filter_and_go_back_to_the_first_page(
    auditor_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(LotTable, "rows_on_a_page", 1)
    three_lots()
    page = auditor_client.get(reverse("lots"), {"sort": "mark", "state": "unrated", "page": "2"})
    links = re.findall(r'href="(\?[^"]*)"', page.content.decode())
    assert "?sort=mark&amp;state=unrated&amp;page=3" in links
    assert "?sort=-mark&amp;state=unrated" in links


@pytest.mark.parametrize(
    ("query", "marks"),
    [
        ({"search": "b"}, ["B"]),
        ({"state": "order"}, ["C"]),
        ({"state": "rated"}, []),
        ({"state": "no such state"}, ["A", "B", "C"]),
        ({"page": "9", "sort": "nothing"}, ["A", "B", "C"]),
    ],
    ids=str,
)
def test_filters_narrow_and_nonsense_does_nothing(
    auditor_client: Client, query: dict[str, str], marks: list[str]
) -> None:
    three_lots()
    assert lot_marks(auditor_client, **query) == marks


def test_filters_that_leave_nothing_say_so(auditor_client: Client) -> None:
    three_lots()
    text = words(auditor_client.get(reverse("lots"), {"search": "nothing"}))
    assert "No lot matches: clear the filters." in text
    assert "No lot is on record" not in text


def test_to_htmx_only_the_table_is_sent_unless_it_restores_a_page(auditor_client: Client) -> None:
    three_lots()
    part = auditor_client.get(reverse("lots"), headers={"hx-request": "true"})
    assert "<html" not in part.content.decode()
    again = {"hx-request": "true", "hx-history-restore-request": "true"}
    assert "<html" in auditor_client.get(reverse("lots"), headers=again).content.decode()
    assert "HX-Request" in part["Vary"]


def test_a_table_speaks_si_to_a_reader_of_si(auditor_client: Client) -> None:
    rated_unit()
    auditor_client.post(reverse("choose-units"), {"units": "si"})
    assert "175.1 N/mm" in words(auditor_client.get(reverse("lots")))
    # 40,000 lbf are 177.929 kN: a listing is rounded up, never down.
    assert "177.93 kN" in words(auditor_client.get(reverse("listings")))


def test_jobs_are_found_by_the_time_they_take(dispatcher_client: Client) -> None:
    extraction_job(site="Over long ago", first_day=date(2020, 1, 1))
    extraction_job(site="Still to come")
    text = words(dispatcher_client.get(reverse("jobs"), {"when": "later"}))
    assert "Still to come" in text
    assert "Over long ago" not in text


def test_what_is_due_is_found_by_the_hammer_a_unit_hangs_on(auditor_client: Client) -> None:
    near, far = rated_unit(), rated_unit()
    query = {"search": near.hammer.mark, "kind": "monthly", "state": "overdue"}
    text = words(auditor_client.get(reverse("due"), query))
    assert f"{near.housing.mark} on {near.hammer.mark}" in text
    assert far.hammer.mark not in text
    assert "Nothing that is due matches" in words(
        auditor_client.get(reverse("due"), query | {"state": "soon"})
    )


def test_hammers_that_carry_no_housing_are_found(auditor_client: Client) -> None:
    unit, bare = rated_unit(), HammerFactory(mark="BARE")
    text = words(auditor_client.get(reverse("listings"), {"mounted": "no", "listed": "no"}))
    assert f"{bare.mark} none recorded" in text
    assert unit.hammer.mark not in text


def test_a_unit_shows_its_newest_entries_and_leads_to_all(auditor_client: Client) -> None:
    unit = rated_unit()
    for number in range(NEWEST_SHOWN + 2):
        count(unit.housing, unit.manager, unit.lot, travel_in=5.0 + number / 100)
    ledger = reverse("unit-records", args=[unit.housing.pk, "ledger"])
    page = auditor_client.get(reverse("unit", args=[unit.housing.pk])).content.decode()
    assert page.count('<tr id="entry-') == NEWEST_SHOWN
    assert f'href="{ledger}"' in page
    entries = unit.housing.ledger_entries.count()
    assert auditor_client.get(ledger).content.decode().count('<tr id="entry-') == entries
    alone = auditor_client.get(ledger, {"entry": 2}).content.decode()
    assert alone.count('<tr id="entry-') == 1
    assert "first entry of this housing" not in alone


def test_a_unit_has_no_records_of_a_kind_nobody_keeps(auditor_client: Client) -> None:
    unit = rated_unit()
    url = reverse("unit-records", args=[unit.housing.pk, "secrets"])
    assert auditor_client.get(url).status_code == 404


def test_labels_of_all_that_answer_to_a_word_are_printed(
    manager_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(labels, "BOXES_SHOWN", 1)
    for mark in ("N-1", "N-2", "OTHER"):
        PadLotFactory(mark=mark)
    url = reverse("labels") + "?search=N-"
    assert "The first 1 of 2: search to see others." in words(manager_client.get(url))
    form = {"every_lot": "on", "stock": "a4-24", "skip": "0"}
    sheet = manager_client.post(url, form)
    text = PdfReader(BytesIO(sheet.content)).pages[0].extract_text()
    assert "N-1" in text
    assert "N-2" in text
    assert "OTHER" not in text


def test_a_page_of_a_stock_take_posts_the_lots_it_was_sent_with(
    manager_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lots, "LOTS_ON_A_STOCK_TAKE", 1)
    yard = YardFactory()
    first, second = PadLotFactory(mark="A"), PadLotFactory(mark="B")
    url = reverse("stock-take") + f"?yard={yard.pk}"
    assert f"lot_{second.pk}" not in manager_client.get(url).context["form"].fields
    form = {
        "submission_id": str(uuid.uuid4()),
        "occurred_at": "2026-03-05T09:00",
        f"lot_{first.pk}": "7",
    }
    # A lot entered meanwhile stands first now.
    PadLotFactory(mark="0")
    answer = manager_client.post(url, form)
    assert answer["Location"].endswith(f"?yard={yard.pk}&page=2")
    assert PadLot.objects.get(mark="A").in_stock == 7
