"""What pages offer to somebody who is bound to yards, and with what lists open."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from fleet.models import Yard
from tests.builders import ordered_pads, ordered_repair, rated_unit
from tests.factories import AuditorFactory, YardFactory
from tests.fleet.people.bound import bound_to
from tests.inspections.schedule.test_due_page import with_finding
from tests.inspections.schedule.test_pads_to_draw import planned
from tests.job_builders import attached, commit, extraction_job, figured_unit, transfer
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


def test_what_is_due_opens_with_findings_and_draws_of_their_yards_alone(
    client: Client, yard: Yard
) -> None:
    mine, theirs = rated_unit(mark="H-MINE", yard=yard), rated_unit(mark="H-THEIRS")
    of_mine, of_theirs = with_finding(mine), with_finding(theirs)
    lot = planned(400).lot
    url = reverse("due")

    def listed(asked: str = "") -> list[bool]:
        page = client.get(url + asked, follow=True).content.decode()
        lists = page[page.index('id="findings"') : page.index('id="calendar"')]
        looked_for = (
            *(
                f'{reverse("inspection", args=[each.inspection_id])}"'
                for each in (of_mine, of_theirs)
            ),
            f"{reverse('lot', args=[lot.pk])}#drawn",
        )
        return [each in lists for each in looked_for]

    assert listed() == [True, False, False]
    assert listed("?bound=") == [True, True, True]


def test_links_in_lists_lead_bound_readers_to_no_act_of_another_yard(
    client: Client, yard: Yard
) -> None:
    mine, theirs = rated_unit(yard=yard), rated_unit()
    findings = [with_finding(each) for each in (mine, theirs)]
    due = client.get(f"{reverse('due')}?bound=").content.decode()
    offered = [reverse("close-finding", args=[each.pk]) in due for each in findings]
    assert offered == [True, False]
    listings = client.get(reverse("listings")).content.decode()
    acts = [reverse("new-listing", args=[each.hammer.pk]) in listings for each in (mine, theirs)]
    assert acts == [True, False]


def test_a_lot_whose_pads_are_elsewhere_too_offers_its_shelf_alone(
    client: Client, yard: Yard
) -> None:
    unit = rated_unit()
    page = client.get(reverse("lot", args=[unit.lot.pk]))
    assert SAID in words(page)
    html = _main(page.content.decode())
    for act in ("new-bench-test", "retire-lot", "correct-lot", "lot-surveillance", "lot-keeping"):
        assert reverse(act, args=[unit.lot.pk]) not in html, act
    for act in ("lot-stock", "move-yards", "lot-price"):
        assert reverse(act, args=[unit.lot.pk]) in html, act
    rating = client.get(reverse("lot-rating", args=[unit.lot.ratings.get().pk]))
    assert SAID in words(rating)
    assert 'method="post"' not in _main(rating.content.decode())


@pytest.mark.parametrize(("whose", "offered"), [("origin", 2), ("goal", 1), ("neither", 0)])
def test_a_transfer_is_ended_by_where_it_stands_and_received_by_where_it_goes_too(
    client: Client, yard: Yard, whose: str, offered: int
) -> None:
    unit = rated_unit(yard=yard) if whose == "origin" else rated_unit()
    moved = transfer(unit, goal=yard) if whose == "goal" else transfer(unit)
    html = _main(client.get(reverse("transfer", args=[moved.pk])).content.decode())
    assert html.count('method="post"') == offered
    assert ('name="arrive"' in html, 'name="cancel"' in html) == (offered > 0, offered > 1)


def test_a_job_that_holds_a_unit_of_another_yard_is_tried_and_not_saved(client: Client) -> None:
    made = commit(figured_unit())
    file = attached(made.job)
    page = client.get(reverse("job", args=[made.job_id]))
    html = _main(page.content.decode())
    assert SAID in words(page)
    assert "Save the job" not in html
    assert reverse("release-commitment", args=[made.pk]) not in html
    # A copy holds no unit yet.
    assert reverse("copy-job", args=[made.job_id]) in html
    files = client.get(reverse("job-attachments", args=[made.job_id])).content.decode()
    assert reverse("withdraw-attachment", args=[file.pk]) not in files
    assert "Attach a file" not in files


def test_a_unit_of_another_yard_is_offered_to_no_job(client: Client, yard: Yard) -> None:
    theirs, mine, job = figured_unit(), figured_unit(yard=yard), extraction_job()
    for unit, is_offered in ((theirs, False), (mine, True)):
        page = client.get(reverse("job-unit", args=[job.pk, unit.housing.pk]))
        assert ('id="commit"' in page.content.decode()) is is_offered
        assert (SAID in words(page)) is not is_offered


def test_whoever_is_bound_to_none_sees_all_at_once(manager_client: Client, yard: Yard) -> None:
    _two_of_each(yard)
    page = manager_client.get(reverse("repairs")).content.decode()
    assert "H-THEIRS" in page
    assert "Yards you act in" not in page


def _main(page: str) -> str:
    return page.partition("<main")[2]
