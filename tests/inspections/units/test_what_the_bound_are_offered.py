"""What pages offer to somebody who is bound to yards, and with what lists open."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from fleet.models import Yard
from tests.builders import ordered_pads, ordered_repair, rated_unit
from tests.factories import AuditorFactory, YardFactory
from tests.fleet.people.bound import bound_to
from tests.job_builders import transfer
from tests.site.html_form import words

pytestmark = pytest.mark.django_db
SAID = "you record for North Pier"


@pytest.fixture
def yard() -> Yard:
    return YardFactory(name="North Pier", currency="USD")


@pytest.fixture
def client(yard: Yard) -> Client:
    client = Client()
    client.force_login(bound_to(yard))
    return client


def test_a_unit_of_another_yard_offers_no_act_and_says_why(client: Client) -> None:
    unit = rated_unit()
    page = client.get(reverse("unit", args=[unit.housing.pk]))
    assert f"{unit.housing} stands in {unit.housing.yard}; {SAID}" in words(page)
    for act in ("replace-pads", "mounting", "take-out-of-service"):
        assert reverse(act, args=[unit.housing.pk]) not in page.content.decode()
    assert reverse("history-report", args=[unit.housing.pk]) in page.content.decode()


def test_a_unit_of_their_own_yard_offers_what_it_ever_did(client: Client, yard: Yard) -> None:
    unit = rated_unit(yard=yard)
    page = client.get(reverse("unit", args=[unit.housing.pk]))
    assert SAID not in words(page)
    assert reverse("replace-pads", args=[unit.housing.pk]) in page.content.decode()


def test_whoever_only_reads_is_told_nothing_of_acts(yard: Yard) -> None:
    client = Client()
    client.force_login(bound_to(yard, person=AuditorFactory()))
    page = words(client.get(reverse("unit", args=[rated_unit().housing.pk])))
    assert "you record for" not in page


def test_a_machine_and_its_repair_of_another_yard_offer_no_act(client: Client) -> None:
    unit = rated_unit()
    repair = ordered_repair(unit.hammer, unit.manager)
    for url in (
        reverse("machine-page", args=["hammer", unit.hammer.pk]),
        reverse("machine-documents", args=["hammer", unit.hammer.pk]),
        reverse("repair-order", args=[repair.pk]),
    ):
        page = client.get(url)
        assert f"{unit.hammer} stands in {unit.hammer.yard}; {SAID}" in words(page)
        assert 'method="post"' not in _main(page.content.decode())


def _two_of_each(yard: Yard) -> None:
    """A unit here and one elsewhere, with a repair, a transfer and an order of pads of each."""
    mine = rated_unit(mark="H-MINE", yard=yard)
    theirs = rated_unit(mark="H-THEIRS", yard=YardFactory(currency="USD"))
    for unit in (mine, theirs):
        ordered_repair(unit.housing, unit.manager)
        transfer(unit)
        ordered_pads(yard=unit.housing.yard, supplier=f"of {unit.housing}")


@pytest.mark.parametrize("page", ["due", "machine-list", "repairs", "transfers", "pad-orders"])
def test_lists_open_with_what_stands_in_their_yards_and_show_all_at_one_press(
    client: Client, yard: Yard, page: str
) -> None:
    _two_of_each(yard)
    url = reverse(page, args=["housing"] if page == "machine-list" else [])
    opened = _main(client.get(url, follow=True).content.decode())
    assert "H-MINE" in opened
    assert "H-THEIRS" not in opened
    assert f'<a href="{url}?bound=">Show all yards</a>' in opened
    everything = _main(client.get(f"{url}?bound=").content.decode())
    assert "H-MINE" in everything
    assert "H-THEIRS" in everything


def test_whoever_is_bound_to_none_sees_all_at_once(manager_client: Client, yard: Yard) -> None:
    _two_of_each(yard)
    page = manager_client.get(reverse("repairs")).content.decode()
    assert "H-THEIRS" in page
    assert "Yards you act in" not in page


def _main(page: str) -> str:
    return page.partition("<main")[2]
