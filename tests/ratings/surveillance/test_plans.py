"""How many pads are drawn from service a year: who says so, and which plan holds."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from fleet import clock
from fleet.models import PadLot
from ratings.models import SurveillancePlan
from ratings.surveillance.plans import promise_words, set_plan
from tests.all_tables import changed, everything
from tests.factories import ManagerFactory, PadLotFactory
from tests.site.html_form import error_at, opened, words

pytestmark = pytest.mark.django_db


def plan(lot: PadLot | None, pads: int | None, year: int = 2026, **more: Any) -> SurveillancePlan:
    with clock.set_to(datetime(year, 1, 1, 12, tzinfo=UTC)):
        return set_plan(
            **{
                "submission_id": uuid.uuid4(),
                "lot": lot,
                "pads_a_year": pads,
                "reason": "To see it soften.",
                "by": ManagerFactory(),
            }
            | more
        )


def in_force(lot: PadLot) -> Any:
    return SurveillancePlan.objects.in_force_by_lot([lot.pk]).get(lot.pk)


def test_before_any_plan_nothing_is_asked_for() -> None:
    assert in_force(PadLotFactory()) is None


def test_a_lot_without_a_plan_of_its_own_follows_that_for_all() -> None:
    plan(None, 3)
    found = in_force(PadLotFactory())
    assert (found.pads_a_year, found.is_own) == (3, False)


def test_a_lot_s_own_plan_holds_whatever_is_said_of_all_later() -> None:
    lot = PadLotFactory()
    plan(lot, 6)
    plan(None, 3)
    assert (in_force(lot).pads_a_year, in_force(lot).is_own) == (6, True)
    assert in_force(PadLotFactory()).pads_a_year == 3


def test_a_lot_s_plan_without_a_number_lets_it_follow_that_for_all_again() -> None:
    lot = PadLotFactory()
    plan(None, 3)
    plan(lot, 6)
    plan(lot, None)
    assert (in_force(lot).pads_a_year, in_force(lot).is_own) == (3, False)


def test_saying_it_anew_puts_off_nothing() -> None:
    """Whoever lowers a plan and raises it again, or moves it to the lot, gains a year at most."""
    lot = PadLotFactory()
    plan(None, 4, 2023)
    plan(lot, 5, 2024)
    plan(lot, 4, 2025)
    plan(lot, None, 2026)
    assert in_force(lot).since == date(2023, 1, 1)
    plan(lot, 6, 2027)
    assert in_force(lot).since == date(2027, 1, 1)


def test_a_second_copy_of_a_submission_changes_nothing() -> None:
    once = uuid.uuid4()
    first = plan(None, 3, submission_id=once)
    before = everything()
    assert plan(None, 9, submission_id=once) == first
    assert {"ratings.SurveillancePlan"} & changed(before) == set()


@pytest.mark.parametrize("pads", [-1, 41])
def test_a_number_beyond_its_bounds_is_refused_whoever_calls(pads: int) -> None:
    with pytest.raises(ValidationError, match="won’t do: give 0 or more, up to 40"):
        plan(None, pads)


def test_for_all_lots_a_number_is_needed() -> None:
    with pytest.raises(ValidationError, match="give how many pads a year, 0 for none"):
        plan(None, None)


def test_what_is_in_force_already_is_refused() -> None:
    lot = PadLotFactory()
    plan(None, 3)
    plan(lot, 5)
    for of, pads in ((None, 3), (lot, 5)):
        with pytest.raises(ValidationError, match="in force already"):
            plan(of, pads)


def test_a_lot_without_a_plan_cannot_be_sent_back_to_that_for_all() -> None:
    with pytest.raises(ValidationError, match="follows the plan for all lots already"):
        plan(PadLotFactory(), None)


@pytest.mark.parametrize(("has_lot", "pads"), [(False, None), (True, 41)])
def test_the_database_refuses_what_cannot_be(has_lot: bool, pads: int | None) -> None:
    lot, by = PadLotFactory() if has_lot else None, ManagerFactory()
    with pytest.raises(IntegrityError), transaction.atomic():
        SurveillancePlan.objects.create(
            submission_id=uuid.uuid4(), lot=lot, pads_a_year=pads, reason="x", recorded_by=by
        )


def test_it_says_what_so_many_pads_promise() -> None:
    """The one-sided tolerance factor of 6 for 90 % at 95 %, 3.00626."""
    said = promise_words(6)
    assert "with 95 % confidence 90 % of the lot’s pads in service" in said
    assert "less 3.01 times" in said
    assert "no bound can be given" in promise_words(1)
    assert "nothing tells" in promise_words(0)


def test_a_manager_sets_the_plan_for_all_lots(manager_client: Client) -> None:
    url = reverse("surveillance")
    fields = opened(manager_client, url) | {"pads_a_year": "4", "reason": "As agreed."}
    page = manager_client.post(url, fields, follow=True)
    assert SurveillancePlan.objects.get().pads_a_year == 4
    assert "4 pads a year, tested one at a time" in words(page)


def test_a_manager_sets_the_plan_of_a_lot(manager_client: Client) -> None:
    lot = PadLotFactory()
    url = reverse("lot-surveillance", args=[lot.pk])
    fields = opened(manager_client, url) | {"pads_a_year": "2", "reason": "Few are left."}
    assert manager_client.post(url, fields).status_code == 302
    assert SurveillancePlan.objects.get().lot == lot


def test_the_same_form_sent_twice_is_taken_once(manager_client: Client) -> None:
    url = reverse("surveillance")
    fields = opened(manager_client, url) | {"pads_a_year": "4", "reason": "As agreed."}
    for _ in range(2):
        assert manager_client.post(url, fields).status_code == 302
    assert SurveillancePlan.objects.count() == 1


@pytest.mark.parametrize(("given", "said"), [("", "This is blank"), ("3", "in force already")])
def test_a_refusal_stands_beside_its_field(manager_client: Client, given: str, said: str) -> None:
    plan(None, 3)
    url = reverse("surveillance")
    fields = opened(manager_client, url) | {"pads_a_year": given, "reason": "As agreed."}
    before = everything()
    assert said in error_at(manager_client.post(url, fields), "pads_a_year")
    assert changed(before) == set()


@pytest.mark.parametrize("role", ["dispatcher", "auditor"])
def test_a_reader_cannot_set_it(role: str, request: pytest.FixtureRequest) -> None:
    client = request.getfixturevalue(f"{role}_client")
    before = everything()
    sent = {"submission_id": uuid.uuid4(), "pads_a_year": "0", "reason": "mine"}
    assert client.post(reverse("surveillance"), sent).status_code == 403
    assert changed(before) == set()
