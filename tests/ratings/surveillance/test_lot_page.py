"""The section of a lot's page on pads drawn from service."""

from __future__ import annotations

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from fleet.models import ReaderPreference
from ratings.surveillance.plans import set_plan
from tests.builders import count
from tests.factories import AuditorFactory, PadLotFactory
from tests.inspections.field.sent import signed_in
from tests.ratings.surveillance.drawn import SOFTENING, STEADY, Bench, day
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def page(client: Client, bench: Bench) -> str:
    return words(client.get(reverse("lot", args=[bench.lot.pk])))


def test_a_softening_lot_is_flagged_at_the_top(auditor_client: Client) -> None:
    bench = Bench().watched()
    assert f"Softening. Lot {bench.lot} softens by 4.6 % a year, band" in page(
        auditor_client, bench
    )


def test_a_steady_lot_is_not_flagged(auditor_client: Client) -> None:
    text = page(auditor_client, Bench().watched(STEADY))
    assert "Softening." not in text
    assert "No softening is seen" in text


def test_each_pad_drawn_has_a_row(auditor_client: Client) -> None:
    bench = Bench().watched(SOFTENING)
    bench.drawn(700.0, day(2026, 5), housing=None, fate="scrapped")
    html = auditor_client.get(reverse("lot", args=[bench.lot.pk])).content.decode()
    rows = html.split('id="drawn"')[1].split("<tbody")[1].split("</tbody>")[0]
    assert rows.count("<tr") == 7
    text = page(auditor_client, bench)
    assert "no mark" in text
    assert "scrapped" in text
    assert "1,800" in text


@pytest.mark.parametrize("column", ["mark", "housing", "hours", "age_years", "tested", "fate"])
@pytest.mark.parametrize("turned", ["", "-"])
def test_pads_sort_by_every_heading_though_much_of_them_is_unknown(
    auditor_client: Client, column: str, turned: str
) -> None:
    bench = Bench().watched(SOFTENING)
    bench.drawn(700.0, day(2026, 5), housing=None, hours=None, fate="")
    url = reverse("lot", args=[bench.lot.pk])
    answer = auditor_client.get(url, {"drawn-sort": turned + column})
    assert answer.status_code == 200
    assert "700 lbf/in" in words(answer)


def test_pads_tested_together_bear_their_mean(auditor_client: Client) -> None:
    bench = Bench()
    pads = [{"mark": mark, "origin": "from service"} for mark in ("P1", "P2")]
    bench.tested(950.0, day(2025), *pads)
    assert "950 lbf/in (mean of 2)" in page(auditor_client, bench)


def test_rates_are_in_the_units_of_who_reads() -> None:
    bench, reader = Bench().watched(), AuditorFactory()
    ReaderPreference.objects.create(user=reader, units="si")
    client = signed_in(reader)
    assert "149.2 N/mm" in page(client, bench)
    html = client.get(reverse("lot", args=[bench.lot.pk])).content.decode()
    assert "rate of a pad, N/mm</text>" in html


def test_a_graph_stands_against_age_and_one_against_hours(auditor_client: Client) -> None:
    html = auditor_client.get(reverse("lot", args=[Bench().watched().lot.pk])).content.decode()
    # Each for a wide page and for a phone.
    assert html.count("age of the lot, years</text>") == 2
    assert html.count("hours worked</text>") == 2


def test_the_plan_and_what_it_asks_for_are_told(manager_client: Client) -> None:
    bench = Bench()
    count(bench.housings[0], bench.by, bench.lot)
    assert "No plan asks for any" in page(manager_client, bench)
    set_plan(
        submission_id=uuid.uuid4(),
        lot=bench.lot,
        pads_a_year=6,
        reason="New supplier.",
        by=bench.by,
    )
    text = page(manager_client, bench)
    assert "6 pads a year, tested one at a time" in text
    assert "Plan of this lot: New supplier." in text
    assert "6 pads to draw by" in text


def test_a_lot_without_anything_on_record_has_its_section_too(auditor_client: Client) -> None:
    text = words(auditor_client.get(reverse("lot", args=[PadLotFactory().pk])))
    assert "Draw a pad, bench-test it, and say there that it came from service" in text
