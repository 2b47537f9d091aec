"""Pads that the plan asks for, and lots that soften, where what is due is told."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.core import mail
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet import clock
from ratings.lots.recording import approve_rating
from ratings.surveillance.plans import set_plan
from tests.builders import count, receive
from tests.factories import ManagerFactory
from tests.ratings.surveillance.drawn import Bench
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def planned(days_ago: int, pads: int = 3) -> Bench:
    """A lot in service, every inspection of it made today, and its plan since some days ago."""
    bench = Bench()
    now = timezone.now()
    for kind in ("yearly", "pad count"):
        count(bench.housings[0], bench.by, bench.lot, at=now, kind=kind)
    with clock.set_to(now - timedelta(days=days_ago)):
        set_plan(
            submission_id=uuid.uuid4(),
            lot=bench.lot,
            pads_a_year=pads,
            reason="To see it soften.",
            by=bench.by,
        )
    return bench


def in_stock() -> Bench:
    """A lot that softens and of which pads lie on a shelf."""
    bench = Bench().watched()
    receive(bench.lot, bench.by, 4)
    return bench


def letter() -> str:
    ManagerFactory(email="yard@ledger.example")
    call_command("digest", site="https://ledger.example")
    return str(mail.outbox[0].body) if mail.outbox else ""


def section(client: Client) -> str:
    html = client.get(reverse("due")).content.decode()
    return html.split('id="draws"')[1].split('id="calendar"')[0]


def test_pads_overdue_stand_on_what_is_due_and_on_the_board(auditor_client: Client) -> None:
    bench = planned(400)
    told = section(auditor_client)
    assert bench.lot.mark in told
    assert "overdue</strong>: 3 pads to draw by" in told
    assert f"overdue: 3 of lot {bench.lot}" in words(auditor_client.get(reverse("board")))


def test_pads_due_within_a_month_stand_on_what_is_due_alone(auditor_client: Client) -> None:
    bench = planned(340)
    assert bench.lot.mark in section(auditor_client)
    assert "Pads to draw from service" not in words(auditor_client.get(reverse("board")))


def test_pads_due_later_are_not_told(auditor_client: Client) -> None:
    bench = planned(100)
    assert bench.lot.mark not in section(auditor_client)
    assert "None within a month" in section(auditor_client)


def test_the_letter_tells_what_is_to_be_drawn() -> None:
    bench = planned(400)
    assert f"- Lot {bench.lot}: overdue, 3 pads to draw by" in letter()


def test_the_letter_leaves_out_what_is_due_later() -> None:
    planned(100)
    assert "Pads to draw from service" not in letter()


def test_the_letter_and_the_pages_name_a_lot_that_softens(auditor_client: Client) -> None:
    bench = in_stock()
    said = f"Lot {bench.lot} softens by 4.6 % a year"
    assert f"Lots that soften\n- {said.replace(' softens', ': softens')}" in letter()
    for name in ("due", "board"):
        assert said in words(auditor_client.get(reverse(name)))


def test_a_lot_is_told_of_until_a_rating_is_approved_from_its_newest_pads(
    auditor_client: Client,
) -> None:
    """The board goes on to say so, as do its own page and its units."""
    bench = in_stock()
    approve_rating(
        submission_id=uuid.uuid4(),
        rating=bench.lot.ratings.latest("pk"),
        by=ManagerFactory(),
        has_read_doubts=True,
    )
    assert "Lots that soften" not in letter()
    assert "Softening." not in words(auditor_client.get(reverse("due")))
    assert "Softening." in words(auditor_client.get(reverse("board")))


def test_a_lot_of_which_the_yard_has_no_pads_any_more_is_not_told_of(
    auditor_client: Client,
) -> None:
    Bench().watched()
    assert "Lots that soften" not in letter()
    assert "Softening." not in words(auditor_client.get(reverse("board")))


def test_the_list_of_lots_names_it(auditor_client: Client) -> None:
    bench = in_stock()
    html = auditor_client.get(reverse("lots")).content.decode()
    assert f'href="/lots/{bench.lot.pk}/#drawn">softens</a>' in html


def test_many_lots_that_soften_take_no_more_queries_than_one(auditor_client: Client) -> None:
    counts = []
    for _ in range(2):
        in_stock()
        auditor_client.get(reverse("board"))
        with CaptureQueriesContext(connection) as asked:
            auditor_client.get(reverse("board"))
        counts.append(len(asked))
    assert counts[0] == counts[1]
