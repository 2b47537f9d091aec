"""Plans that bring short units to their listing: made, kept, gone stale, ordered, carried out."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from fleet import clock
from fleet.models import Hire, PadLot, ShelfCount, Transfer, Yard
from fleet.models.housing import SuppressorHousing
from fleet.prices import record_price
from inspections.count.signing import Correction
from inspections.models import RepairOrder, RestorePlan
from inspections.restoring import planning
from inspections.restoring.planning import Asked, changes_since, make
from inspections.restoring.recording import keep_plan, order_from_plan
from ratings.jobs.needs import PadsNeeded
from ratings.mechanics.unit_rating import Policy, StaleRates
from ratings.models import Commitment, CurrentRating, LotRating
from ratings.policy import change_policy
from tests.all_tables import changed, everything
from tests.builders import Unit, bench_test, count, kept_plan, proof_pull, rated_unit, receive
from tests.factories import PadLotFactory, YardFactory
from tests.job_builders import commit, extraction_job, figured_unit
from tests.site.html_form import fields_of, opened, words

pytestmark = pytest.mark.django_db

THREE_GONE = {"A1": "cracked", "B2": "missing", "B3": "swollen"}


def short_unit(**more: Any) -> Unit:
    """Three of eight pads gone: 5 × 6,000 = 30,000 lbf against a listing of 34,000."""
    usual: dict[str, Any] = {"listed_lbf": 34_000.0, "unsound": THREE_GONE, "in_stock": 6}
    return rated_unit(**(usual | more))


def priced(
    lot: PadLot, unit: Unit, amount: str, lead_days: int = 10, currency: str = "USD"
) -> None:
    Yard.objects.filter(pk=unit.housing.yard_id).update(currency=currency)
    record_price(
        submission_id=uuid.uuid4(),
        lot_id=lot.pk,
        yard=Yard.objects.get(pk=unit.housing.yard_id),
        amount=Decimal(amount),
        valid_from=clock.today(),
        source="Offer 4711",
        lead_days=lead_days,
        by=unit.manager,
    )


def head_capacity(housing: SuppressorHousing) -> float | None:
    rating = CurrentRating.objects.select_related("head").get(housing=housing)
    return rating.head.working_capacity_lbf


def test_a_plan_carried_out_gives_the_promised_capacity_to_the_last_digit(
    manager_client: Client,
) -> None:
    unit = short_unit()
    plan = kept_plan(unit)
    (planned,) = plan.document["units"]
    page = reverse("restoring-plan", args=[plan.pk])
    response = manager_client.get(page)
    assert "none of them changed since" in words(response)
    # The link fills the form: it is signed as it comes.
    url = next(
        line.split('"')[0] for line in response.content.decode().split('href="') if "?fit=" in line
    )
    signed = manager_client.post(url.split("?")[0], opened(manager_client, url), follow=True)
    assert "meets listing" in words(signed)
    assert head_capacity(unit.housing) == planned["after"]["capacity_lbf"]
    after = words(manager_client.get(page))
    assert "Carried out." in after
    assert "Stale." not in after


@pytest.mark.parametrize("is_guided", [True, False])
def test_with_a_new_lot_the_promise_holds_too(manager_client: Client, is_guided: bool) -> None:
    unit = short_unit(in_stock=0, is_guided=is_guided)
    new = PadLotFactory(rubber_thickness_in=2.0)
    bench_test(new, unit.manager, rate_lbf_in=1_150.0, to_in=8.0)
    receive(new, unit.manager, 8)
    (planned,) = make(Asked("fewest", unit.housing)).document["units"]
    assert planned["meets"]
    url = reverse("replace-pads", args=[unit.housing.pk])
    fields = opened(manager_client, url) | {
        f"lot-{at['side']}{at['number']}": at["lot_id"] for at in planned["placed"]
    }
    manager_client.post(url, fields)
    assert head_capacity(unit.housing) == planned["after"]["capacity_lbf"]


@pytest.mark.parametrize(("ratio", "is_softer"), [(0.75, True), (0.99, False)])
def test_the_promise_holds_for_a_unit_that_was_pulled(
    manager_client: Client, ratio: float, is_softer: bool
) -> None:
    unit = short_unit(listed_lbf=22_000.0 if is_softer else 34_000.0)
    proof_pull(unit.housing, unit.manager, ratio)
    made = make(Asked("fewest", unit.housing)).document
    (planned,) = made["units"]
    assert (planned["is_softer"], planned["meets"]) == (is_softer, True)
    url = reverse("replace-pads", args=[unit.housing.pk])
    fields = opened(manager_client, url) | {
        f"lot-{at['side']}{at['number']}": at["lot_id"] for at in planned["placed"]
    }
    manager_client.post(url, fields)
    assert head_capacity(unit.housing) == planned["after"]["capacity_lbf"]


def test_a_unit_that_only_an_agreeing_pull_holds_lower_is_pulled_again_and_gets_no_pads(
    manager_client: Client,
) -> None:
    # Four pads of 5,000 lbf.
    unit = rated_unit(listed_lbf=17_500.0, positions_per_side=2, travel_in=5.0, in_stock=4)
    assert not make(Asked("fewest", unit.housing)).document["held"]
    proof_pull(unit.housing, unit.manager, 0.97)
    before = head_capacity(unit.housing)
    document = make(Asked("fewest", unit.housing)).document
    assert document["units"] == []
    assert [each["before"]["capacity_lbf"] for each in document["held"]] == [before]
    shown = words(manager_client.get(f"{reverse('restore')}?unit={unit.housing.pk}"))
    assert "By its pads it meets its listing; a proof pull holds it lower: pull it again." in shown
    assert "No unit here is short" not in shown
    # Were it a short one, its pads would be taken for another.
    other = short_unit(in_stock=0)
    SuppressorHousing.objects.filter(pk=other.housing.pk).update(yard=unit.housing.yard)
    other.housing.refresh_from_db()
    ShelfCount.objects.all().delete()
    (planned,) = make(Asked("fewest", other.housing, takes_from_units=True)).document["units"]
    assert planned["placed"] == []


def test_a_short_unit_that_was_pulled_is_shown_with_the_figure_of_the_ledger() -> None:
    unit = short_unit()
    proof_pull(unit.housing, unit.manager, 0.97)
    (planned,) = make(Asked("fewest", unit.housing)).document["units"]
    assert planned["before"]["capacity_lbf"] == head_capacity(unit.housing)
    assert planned["meets"]


def test_the_least_cost_of_a_unit_found_softer_is_answered_without_any_price(
    manager_client: Client,
) -> None:
    unit = short_unit()
    proof_pull(unit.housing, unit.manager, 0.75)
    shown = manager_client.get(f"{reverse('restore')}?unit={unit.housing.pk}&goal=cheapest")
    assert f"Left out: lot {unit.lot.mark}: no price on record" in words(shown)


def test_the_least_cost_leaves_out_and_names_a_lot_without_a_price(manager_client: Client) -> None:
    unit = short_unit()
    other = PadLotFactory()
    bench_test(other, unit.manager, rate_lbf_in=1_000.0, to_in=8.0)
    receive(other, unit.manager, 6)
    priced(other, unit, "86.50")
    url = f"{reverse('restore')}?unit={unit.housing.pk}&goal=cheapest"
    shown = words(manager_client.get(url))
    assert f"Left out: lot {unit.lot.mark}: no price on record" in shown
    made = make(Asked("cheapest", unit.housing)).document
    (planned,) = made["units"]
    assert {at["lot"] for at in planned["placed"]} == {other.mark}
    assert Decimal(made["cost"]) == Decimal("86.50") * made["pads"]
    priced(unit.lot, unit, "40")
    cheaper = make(Asked("cheapest", unit.housing)).document
    assert Decimal(cheaper["cost"]) == Decimal(40) * cheaper["pads"]
    (draw,) = cheaper["units"][0]["draws"]
    assert "40.00 USD each." in words(manager_client.get(url))
    assert draw["currency"] == "USD"


def test_pads_are_bought_only_where_asked_and_with_their_days() -> None:
    unit = short_unit(in_stock=0)
    priced(unit.lot, unit, "80", lead_days=21)
    assert not make(Asked("fewest", unit.housing)).document["units"][0]["meets"]
    made = make(Asked("fewest", unit.housing, buys=True)).document
    assert (made["ready"], made["days"]) == (1, 21)
    assert made["units"][0]["draws"][0]["kind"] == "buy"


def test_pads_of_a_spare_housing_are_a_source_where_asked() -> None:
    unit = short_unit(in_stock=0)
    spare = rated_unit(unsound={"A1": "missing"})
    SuppressorHousing.objects.filter(pk=spare.housing.pk).update(yard=unit.housing.yard)
    spare.housing.mountings.update(removed_at=clock.now())
    assert not make(Asked("fewest", unit.housing)).document["units"][0]["meets"]
    made = make(Asked("fewest", unit.housing, takes_from_units=True)).document
    (draw,) = made["units"][0]["draws"]
    assert (draw["kind"], draw["where"]) == ("unit", f"housing {spare.housing.mark}")


def test_where_nothing_does_the_page_says_what_it_would_take(manager_client: Client) -> None:
    unit = short_unit(listed_lbf=60_000.0)
    shown = words(manager_client.get(f"{reverse('restore')}?unit={unit.housing.pk}"))
    assert "The best that can be had" in shown
    assert "Never alter a housing or take out a bumper for it" in shown


def test_a_plan_goes_stale_when_stock_prices_or_pads_change() -> None:
    unit = short_unit()
    plan = kept_plan(unit)
    assert changes_since(plan) == []
    receive(unit.lot, unit.manager, 1)
    assert changes_since(plan) == ["the pads in stock"]
    priced(unit.lot, unit, "80")
    assert changes_since(plan) == ["the pads in stock", "the price of a pad"]


def test_one_tap_makes_one_repair_order(manager_client: Client) -> None:
    unit = short_unit()
    plan = kept_plan(unit)
    url = reverse("order-restoring", args=[plan.pk, unit.housing.pk])
    filled = manager_client.post(url, follow=True)
    order = RepairOrder.objects.get(housing=unit.housing)
    # The same tap leads to the form of the replacement, filled in as the plan has it.
    assert f"Repair order {order.pk} is made." in words(filled)
    (planned,) = plan.document["units"]
    fields = fields_of(filled)
    for at in planned["placed"]:
        assert fields[f"lot-{at['side']}{at['number']}"] == str(at["lot_id"])
    made = manager_client.get(reverse("repair-order", args=[order.pk]))
    assert f"Fit pads by restoring plan {plan.pk}" in words(made)
    assert f'href="{reverse("restoring-plan", args=[plan.pk])}"' in made.content.decode()
    manager_client.post(url)
    assert RepairOrder.objects.filter(housing=unit.housing).count() == 1


def test_from_the_plan_as_it_is_shown_one_tap_keeps_orders_and_fills(
    manager_client: Client,
) -> None:
    unit = short_unit()
    url = f"{reverse('restore')}?unit={unit.housing.pk}"
    fields = fields_of(manager_client.get(url)) | {"order": "1"}
    filled = manager_client.post(url, fields, follow=True)
    assert filled.redirect_chain[-1][0].startswith(
        reverse("replace-pads", args=[unit.housing.pk]) + "?fit="
    )
    order, plan = RepairOrder.objects.get(), RestorePlan.objects.get()
    assert f"restoring plan {plan.pk}" in order.what


def test_who_only_plans_orders_nothing_whatever_is_sent(dispatcher_client: Client) -> None:
    unit = short_unit()
    url = f"{reverse('restore')}?unit={unit.housing.pk}"
    page = dispatcher_client.get(url)
    assert "Order it and fill in the form" not in words(page)
    dispatcher_client.post(url, fields_of(page) | {"order": "1"})
    assert RestorePlan.objects.count() == 1
    assert not RepairOrder.objects.exists()


def test_pads_still_to_be_bought_are_ordered_and_no_form_is_filled(
    manager_client: Client,
) -> None:
    unit = short_unit(in_stock=0)
    priced(unit.lot, unit, "80", lead_days=21)
    url = f"{reverse('restore')}?unit={unit.housing.pk}&goal=fewest&buy=on"
    fields = fields_of(manager_client.get(url)) | {"order": "1"}
    made = manager_client.post(url, fields, follow=True)
    order = RepairOrder.objects.get()
    assert made.redirect_chain[-1][0] == reverse("repair-order", args=[order.pk])
    assert order.planned_on == clock.today() + timedelta(days=21)


def test_the_unit_s_page_asks_the_planner_itself(manager_client: Client) -> None:
    unit = short_unit()
    page = manager_client.get(reverse("unit", args=[unit.housing.pk]))
    brief = reverse("restore-brief", args=[unit.housing.pk])
    assert f'hx-get="{brief}"' in page.content.decode()
    # Where no script runs its own page is a link away.
    assert f'href="{reverse("restore")}?unit={unit.housing.pk}"' in page.content.decode()
    (planned,) = make(Asked("fewest", unit.housing)).document["units"]
    shown = manager_client.get(brief)
    places = ", ".join(f"{at['side']}{at['number']}" for at in planned["placed"])
    assert f"Best plan: {len(planned['placed'])} of lot {unit.lot.mark} from" in words(shown)
    assert f"at {places}. Working capacity" in words(shown)
    assert "meets listing" in words(shown)
    assert "?fit=" in shown.content.decode()


def test_the_best_that_can_be_had_is_told_as_such_on_the_unit_s_page(
    auditor_client: Client,
) -> None:
    brief = reverse("restore-brief", args=[short_unit(listed_lbf=60_000.0).housing.pk])
    shown = words(auditor_client.get(brief))
    assert "No pads in reach bring it to its listing. The best that can be had:" in shown
    assert "Fill in the replacement form" not in shown
    ShelfCount.objects.all().delete()
    empty = reverse("restore-brief", args=[short_unit(in_stock=0).housing.pk])
    assert "No pad in reach would raise it." in words(auditor_client.get(empty))


def committed(unit: Unit, first_day: int = 10) -> Commitment:
    """A job that holds a unit from so many days on; it was promised before pads were lost."""
    made = commit(unit, extraction_job())
    today = clock.today()
    Commitment.objects.filter(pk=made.pk).update(
        first_day=today + timedelta(days=first_day), last_day=today + timedelta(days=first_day + 4)
    )
    made.refresh_from_db()
    return made


def test_jobs_are_made_ready_by_what_they_ask_of_the_unit_they_hold(
    manager_client: Client,
) -> None:
    unit = figured_unit(in_stock=4)
    made = committed(unit)
    gone = {"A1": "missing", "A2": "missing", "B1": "missing", "B2": "missing"}
    count(unit.housing, unit.manager, unit.lot, unsound=gone, at=clock.now())
    asked = Asked("ready")
    document = make(asked).document
    assert (document["jobs"], document["jobs_ready_before"], document["jobs_ready"]) == (1, 0, 1)
    (planned,) = document["units"]
    assert [(each["was_ready"], each["is_ready"]) for each in planned["jobs"]] == [(False, True)]
    shown = words(manager_client.get(f"{reverse('restore')}?goal=ready"))
    assert "1 of 1 committed job has a unit whose pads do for it in time, 0 now." in shown
    assert "its pads will do" in shown
    plan = keep_plan(submission_id=uuid.uuid4(), asked=asked, by=unit.manager)
    assert changes_since(plan) == []
    Commitment.objects.filter(pk=made.pk).update(last_day=made.last_day + timedelta(days=1))
    assert changes_since(plan) == ["which units jobs hold, or what they ask of them"]


def test_pads_whose_rate_lapses_within_the_job_make_it_not_ready() -> None:
    unit = figured_unit(in_stock=4)
    committed(unit)
    assert make(Asked("ready")).document["jobs_ready_before"] == 1
    rating = LotRating.objects.get(lot=unit.lot)
    days = (clock.today() - rating.tested_at.date()).days
    change_policy(
        submission_id=uuid.uuid4(),
        policy=Policy(rate_valid_days=days + 12, stale_rates=StaleRates.DROP),
        reason="Rubber ages.",
        by=unit.manager,
    )
    document = make(Asked("ready")).document
    assert (document["jobs_ready_before"], document["jobs_ready"]) == (0, 0)


def test_a_job_whose_pads_do_but_for_an_agreeing_pull_is_not_told_ready(
    monkeypatch: pytest.MonkeyPatch, manager_client: Client
) -> None:
    # Four pads of 5,000 lbf.
    unit = rated_unit(listed_lbf=10_000.0, positions_per_side=2, travel_in=5.0, in_stock=4)
    made = committed(figured_unit())
    Commitment.objects.filter(pk=made.pk).update(housing=unit.housing)
    made.refresh_from_db()
    without = head_capacity(unit.housing)
    proof_pull(unit.housing, unit.manager, 0.97)
    pulled = head_capacity(unit.housing)
    assert pulled is not None
    assert without is not None
    assert pulled < without
    need = PadsNeeded(
        lambda _, rating: (rating.working_capacity_lbf or 0.0) > (pulled + without) / 2, 0.0, ""
    )
    monkeypatch.setattr(planning, "needs_of_pads", lambda _: {made: need})
    document = make(Asked("ready")).document
    assert (document["jobs_ready_before"], document["jobs_ready"]) == (0, 0)
    assert document["units"] == []
    assert [each["housing"] for each in document["held"]] == [unit.housing.pk]
    shown = words(manager_client.get(f"{reverse('restore')}?goal=ready"))
    assert "By its pads it does for its job; a proof pull holds it lower: pull it again." in shown


def test_of_jobs_it_is_not_said_that_the_listing_is_not_reached(manager_client: Client) -> None:
    unit = figured_unit(listed_lbf=10_000.0)
    committed(unit)
    gone = {"A1": "missing", "A2": "missing", "B1": "missing", "B2": "missing"}
    count(unit.housing, unit.manager, unit.lot, unsound=gone, at=clock.now())
    (planned,) = make(Asked("ready")).document["units"]
    assert planned["before"]["standing"] == "meets listing"
    shown = words(manager_client.get(f"{reverse('restore')}?goal=ready"))
    assert "No pads in reach make it do for its job" in shown
    assert "the unit to the listing" not in shown
    assert "raises its working capacity" not in shown


def test_pads_that_come_after_the_first_day_make_no_job_ready() -> None:
    unit = figured_unit(in_stock=0)
    committed(unit, first_day=10)
    gone = {"A1": "missing", "A2": "missing", "B1": "missing", "B2": "missing"}
    count(unit.housing, unit.manager, unit.lot, unsound=gone, at=clock.now())
    priced(unit.lot, unit, "80", lead_days=11)
    late = make(Asked("ready", buys=True)).document
    assert (late["ready"], late["jobs_ready"]) == (1, 0)
    priced(unit.lot, unit, "80", lead_days=10)
    assert make(Asked("ready", buys=True)).document["jobs_ready"] == 1


def test_a_stale_plan_is_not_ordered() -> None:
    unit = short_unit()
    plan = kept_plan(unit)
    receive(unit.lot, unit.manager, 1)
    before = everything()
    with pytest.raises(ValidationError, match="Make it anew"):
        order_from_plan(plan=plan, housing_id=unit.housing.pk, by=unit.manager)
    with pytest.raises(ValidationError, match="fits no pads"):
        order_from_plan(plan=plan, housing_id=0, by=unit.manager)
    assert changed(before) == set()


def test_a_plan_is_kept_once_however_often_it_is_sent(dispatcher_client: Client) -> None:
    unit = short_unit()
    url = f"{reverse('restore')}?unit={unit.housing.pk}"
    fields = fields_of(dispatcher_client.get(url))
    for _ in range(2):
        shown = words(dispatcher_client.post(url, fields, follow=True))
        assert "Restoring plan" in shown
        # Who plans but does not record is shown no button that would be refused.
        assert "Make the repair order" not in shown
    assert RestorePlan.objects.count() == 1


def test_a_fleet_in_two_currencies_is_asked_yard_by_yard(manager_client: Client) -> None:
    one, other = short_unit(), short_unit()
    priced(one.lot, one, "80")
    priced(other.lot, other, "70")
    Yard.objects.filter(pk=other.housing.yard_id).update(currency="EUR")
    record_price(
        submission_id=uuid.uuid4(),
        lot_id=other.lot.pk,
        yard=Yard.objects.get(pk=other.housing.yard_id),
        amount=Decimal(70),
        valid_from=clock.today(),
        source="Offer 12",
        lead_days=3,
        by=other.manager,
    )
    shown = words(manager_client.get(f"{reverse('restore')}?goal=cheapest"))
    assert "ask yard by yard" in shown
    both = words(manager_client.get(f"{reverse('restore')}?goal=fewest"))
    assert "2 of 2 short units" in both
    assert "no sum is made" in both


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("goal=best", "best is not one of the available choices"),
        ("goal=fewest&yard=999999", "That choice is not one of the available choices"),
        ("unit=x&goal=fewest", "short units"),
    ],
)
def test_what_cannot_be_planned_is_said(manager_client: Client, query: str, said: str) -> None:
    assert said in words(manager_client.get(f"{reverse('restore')}?{query}"))


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"goal": "best"}, "goal"),
        ({"goal": "ready"}, "goal"),
        ({"is_of_yard": True}, "yard"),
        ({"is_yard_closed": True}, "yard"),
        ({"is_retired": True}, "housing"),
    ],
)
def test_what_makes_no_sense_is_refused_by_its_field(given: dict[str, Any], field: str) -> None:
    unit = short_unit()
    yard = unit.housing.yard if {"is_of_yard", "is_yard_closed"} & set(given) else None
    housing = None if "is_yard_closed" in given else unit.housing
    if yard and "is_yard_closed" in given:
        yard.retired_on = clock.today()
    if housing and "is_retired" in given:
        housing.retired_on = clock.today()
    with pytest.raises(ValidationError) as refusal:
        make(Asked(given.get("goal", "fewest"), housing, yard))
    assert list(refusal.value.message_dict) == [field]


def spare_of(unit: Unit) -> Unit:
    """A spare housing with seven sound pads in the yard of a unit."""
    spare = rated_unit(unsound={"A1": "missing"})
    spare.housing.mountings.update(removed_at=clock.now())
    SuppressorHousing.objects.filter(pk=spare.housing.pk).update(yard=unit.housing.yard)
    return spare


def commit_it(giver: Unit) -> None:
    today = clock.today()
    made = commit(figured_unit())
    Commitment.objects.filter(pk=made.pk).update(
        housing=giver.housing, first_day=today, last_day=today
    )


def hire_it(giver: Unit) -> None:
    today = clock.today()
    Hire.objects.create(
        submission_id=uuid.uuid4(),
        housing=giver.housing,
        hammer=giver.hammer,
        hirer="Brandt Piling",
        contact="Odd Brandt",
        place="Pier 4",
        from_day=today + timedelta(days=3),
        back_due=today + timedelta(days=9),
        recorded_by=giver.manager,
    )


def send_it(giver: Unit) -> None:
    Transfer.objects.create(
        submission_id=uuid.uuid4(),
        housing=giver.housing,
        origin=giver.housing.yard,
        goal=YardFactory(),
        leaves_on=clock.today(),
        arrives_on=clock.today() + timedelta(days=1),
        recorded_by=giver.manager,
    )


@pytest.mark.parametrize("held", [commit_it, hire_it, send_it])
def test_a_unit_that_is_held_let_or_on_its_way_gives_no_pads(held: Callable[[Unit], None]) -> None:
    unit = short_unit(in_stock=0)
    spare = spare_of(unit)
    asked = Asked("fewest", unit.housing, takes_from_units=True)
    assert make(asked).document["ready"] == 1
    held(spare)
    assert make(asked).document["ready"] == 0


@pytest.mark.parametrize(
    ("held", "said"), [(hire_it, "it is let to Brandt Piling"), (send_it, "it is on its way to")]
)
def test_a_unit_let_or_on_its_way_gets_no_pads_and_the_page_says_why(
    held: Callable[[Unit], None], said: str, manager_client: Client
) -> None:
    unit = short_unit()
    held(unit)
    shown = words(manager_client.get(f"{reverse('restore')}?unit={unit.housing.pk}"))
    assert said in shown
    assert "is short of its listing" not in shown
    fleet = words(manager_client.get(f"{reverse('restore')}?goal=fewest"))
    assert f"nothing is planned for them: {unit.housing.mark}" in fleet


def test_a_unit_without_a_travel_is_not_said_to_meet_its_listing(manager_client: Client) -> None:
    unit = short_unit()
    SuppressorHousing.objects.filter(pk=unit.housing.pk).update(travel_in=None, travel_seen_at=None)
    shown = words(manager_client.get(f"{reverse('restore')}?unit={unit.housing.pk}"))
    assert "can’t be planned: it needs" in shown
    assert "is short of its listing" not in shown


def test_a_price_of_a_lot_that_may_not_be_fitted_makes_no_second_currency() -> None:
    unit = short_unit()
    untested = PadLotFactory()
    priced(untested, unit, "50", currency="EUR")
    priced(unit.lot, unit, "30")
    made = make(Asked("cheapest", unit.housing)).document
    assert (made["currency"], made["is_in_several_currencies"]) == ("USD", False)


def test_a_price_in_a_currency_the_yard_has_no_more_is_not_used() -> None:
    unit = short_unit()
    priced(unit.lot, unit, "30")
    Yard.objects.filter(pk=unit.housing.yard_id).update(currency="EUR")
    unit.housing.refresh_from_db()
    made = make(Asked("fewest", unit.housing)).document
    assert (made["cost"], made["units"][0]["draws"][0]["each"]) == (None, None)


def test_a_plan_other_than_the_one_shown_is_not_kept(manager_client: Client) -> None:
    unit = short_unit()
    url = f"{reverse('restore')}?unit={unit.housing.pk}"
    fields = fields_of(manager_client.get(url))
    receive(unit.lot, unit.manager, 1)
    shown = words(manager_client.post(url, fields, follow=True))
    assert "what it rests on changed since it was shown. Look again." in shown
    assert not RestorePlan.objects.exists()
    manager_client.post(url, fields_of(manager_client.get(url)))
    assert RestorePlan.objects.count() == 1


def test_pads_that_come_after_more_than_a_year_are_ordered_later() -> None:
    unit = short_unit(in_stock=0)
    priced(unit.lot, unit, "80", lead_days=400)
    plan = kept_plan(unit, buys=True)
    with pytest.raises(ValidationError, match="come in 400 days"):
        order_from_plan(plan=plan, housing_id=unit.housing.pk, by=unit.manager)
    assert not RepairOrder.objects.exists()


def test_pads_put_in_by_a_replacement_that_was_corrected_carry_no_plan_out(
    manager_client: Client,
) -> None:
    unit = short_unit()
    plan = kept_plan(unit)
    (planned,) = plan.document["units"]
    url = reverse("replace-pads", args=[unit.housing.pk])
    fields = opened(manager_client, url) | {
        f"lot-{at['side']}{at['number']}": at["lot_id"] for at in planned["placed"]
    }
    manager_client.post(url, fields)
    page = reverse("restoring-plan", args=[plan.pk])
    assert "Carried out." in words(manager_client.get(page))
    done = unit.housing.replacements.get()
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound=THREE_GONE,
        at=done.fitted_at,
        correction=Correction("No pad was put in.", replacement=done),
    )
    assert "Carried out." not in words(manager_client.get(page))


def test_nothing_short_is_nothing_to_keep() -> None:
    unit = rated_unit()
    with pytest.raises(ValidationError, match="nothing to plan"):
        kept_plan(unit)


def test_a_unit_with_an_open_order_leads_to_it_and_is_not_ordered_twice(
    manager_client: Client,
) -> None:
    unit = short_unit()
    url = f"{reverse('restore')}?unit={unit.housing.pk}"
    fields = fields_of(manager_client.get(url)) | {"order": "1"}
    manager_client.post(url, fields)
    order = RepairOrder.objects.get()
    shown = manager_client.get(url)
    assert f"Ordered already: repair order {order.pk} is open" in words(shown)
    assert "Order it and fill in the form" not in words(shown)
    again = manager_client.post(url, fields | {"submission_id": str(uuid.uuid4())})
    assert again["Location"] == reverse("repair-order", args=[order.pk])
    with pytest.raises(ValidationError, match=f"Repair order {order.pk} is open by another plan"):
        order_from_plan(plan=kept_plan(unit), housing_id=unit.housing.pk, by=unit.manager)
    assert RepairOrder.objects.count() == 1


def test_sound_pads_that_a_plan_takes_out_are_told_by_their_number(manager_client: Client) -> None:
    unit = short_unit(unsound={}, listed_lbf=60_000.0, in_stock=0)
    stiffer = PadLotFactory()
    bench_test(stiffer, unit.manager, rate_lbf_in=3_000.0)
    receive(stiffer, unit.manager, 8)
    (planned,) = make(Asked("fewest", unit.housing)).document["units"]
    out = sum(at["is_sound_now"] for at in planned["placed"])
    shown = words(manager_client.get(f"{reverse('restore')}?unit={unit.housing.pk}"))
    told = re.search(r"(\d+) sound pads? (is|are) taken out and written off", shown)
    assert (int(told[1]) if told else 0) == out > 0


def test_a_plan_of_no_pads_is_told_as_such_and_not_kept(manager_client: Client) -> None:
    unit = short_unit(in_stock=0)
    shown = words(manager_client.get(f"{reverse('restore')}?unit={unit.housing.pk}"))
    assert "No pads in reach raise the working capacity of the unit" in shown
    assert "The best that can be had" not in shown
    assert "With these pads" not in shown
    assert "Keep this plan" not in shown
    with pytest.raises(ValidationError, match="nothing to plan"):
        kept_plan(unit)
