"""Kept plans held to what happened: carried out, half, otherwise, overtaken; and their record."""

from __future__ import annotations

import uuid
from collections.abc import Collection
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet import clock
from fleet.models import PadLot, Yard
from fleet.prices import record_price
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.signing import Correction
from inspections.count.submission import Submission
from inspections.models import PadReplacement, RepairLine, RepairOrder, RestorePlan
from inspections.repairs.recording import finish_repair
from inspections.restoring.held import Came, Fate, came_of, deviations, record_words
from inspections.restoring.planning import Asked, make
from inspections.restoring.promises import repair_days
from inspections.restoring.recording import close_with_parts, order_from_plan
from tests.builders import (
    Unit,
    bench_test,
    count,
    kept_plan,
    ordered_repair,
    rated_unit,
    receive,
    used_part,
)
from tests.factories import PadLotFactory
from tests.site.html_form import fields_of, words

pytestmark = pytest.mark.django_db

THREE_GONE = {"A1": "cracked", "B2": "missing", "B3": "swollen"}


def short_unit() -> Unit:
    """Three of eight pads gone, with enough on the shelf, in a yard that pays in USD."""
    unit = rated_unit(listed_lbf=34_000.0, unsound=THREE_GONE, in_stock=6)
    Yard.objects.filter(pk=unit.housing.yard_id).update(currency="USD")
    unit.housing.refresh_from_db()
    return unit


def priced(unit: Unit, amount: str = "80") -> None:
    record_price(
        submission_id=uuid.uuid4(),
        lot_id=unit.lot.pk,
        yard=unit.housing.yard,
        amount=Decimal(amount),
        valid_from=clock.today(),
        source="Offer 4711",
        lead_days=10,
        by=unit.manager,
    )


def fit(
    unit: Unit, plan: RestorePlan, *, only: int | None = None, other: Collection[int] = (),
    lot: PadLot | None = None,
) -> PadReplacement:  # fmt: skip
    """Fit the pads of a plan: the first so many, and another lot in some of the places."""
    (planned,) = plan.document["units"]
    pads = [
        PadFitted(at["side"], at["number"], lot.pk if lot and n in other else at["lot_id"])
        for n, at in enumerate(planned["placed"][:only])
    ]
    return sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=timezone.now(),
        pads=pads,
        by=unit.manager,
    ).replacement


def came(plan: RestorePlan) -> Came:
    (found,) = came_of([plan])
    return found


def repaired(unit: Unit, days: int) -> None:
    """A repair of its housing that is done so many days after it was ordered."""
    with clock.set_to(timezone.now() - timedelta(days=days)):
        order = ordered_repair(unit.housing, unit.manager)
    finish_repair(
        submission_id=uuid.uuid4(),
        order=order,
        ended_at=timezone.now(),
        text="Weld ground",
        done_by="Odd Brandt",
        closes_finding=False,
        by=unit.manager,
    )


def test_a_plan_carried_out_came_to_what_it_promised() -> None:
    unit = short_unit()
    plan = kept_plan(unit)
    assert came(plan).fate is Fate.WAITS
    fit(unit, plan)
    found = came(plan)
    assert (found.fate, found.pads, found.days) == (Fate.DONE, found.pads_promised, 0)
    assert found.capacity_lbf == found.capacity_promised_lbf
    assert (found.capacity_off_pct, found.pads_off_pct) == (0.0, 0.0)


def test_a_later_change_of_the_unit_changes_nothing_of_what_came() -> None:
    unit = short_unit()
    plan = kept_plan(unit)
    fit(unit, plan)
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=timezone.now())
    assert came(plan).capacity_off_pct == 0.0


def test_a_plan_done_half_is_told_and_counts_for_no_figure() -> None:
    unit = short_unit()
    plan = kept_plan(unit)
    fit(unit, plan, only=1)
    found = came(plan)
    assert found.fate is Fate.HALF
    assert found.words == f"1 of {found.pads_promised} positions were filled"
    assert all(each.values == () for each in deviations([found]))


def test_pads_of_another_lot_are_told_by_position() -> None:
    unit = short_unit()
    other = PadLotFactory()
    plan = kept_plan(unit)
    bench_test(other, unit.manager, rate_lbf_in=1_000.0)
    receive(other, unit.manager, 4)
    fit(unit, plan, other={0}, lot=other)
    found, place = came(plan), plan.document["units"][0]["placed"][0]
    assert found.fate is Fate.OTHERWISE
    assert found.words == f"other pads: {place['side']}{place['number']} with lot {other}"
    assert all(each.values == () for each in deviations([found]))


def test_of_two_plans_of_a_unit_the_one_kept_last_is_held_to_it() -> None:
    unit = short_unit()
    first, last = kept_plan(unit), kept_plan(unit)
    fit(unit, last)
    assert came(first).fate is Fate.OVERTAKEN
    assert came(first).words == f"by plan {last.pk}"
    assert came(last).fate is Fate.DONE


def test_a_plan_ordered_and_carried_out_is_not_overtaken_by_one_kept_later(
    manager_client: Client,
) -> None:
    unit = short_unit()
    plan = kept_plan(unit)
    order_from_plan(plan=plan, housing_id=unit.housing.pk, by=unit.manager)
    kept_plan(unit)
    fit(unit, plan)
    assert came(plan).fate is Fate.DONE
    shown = words(manager_client.get(reverse("restoring-plan", args=[plan.pk])))
    assert "overtaken" not in shown


def test_a_replacement_that_was_corrected_carries_nothing_out() -> None:
    unit = short_unit()
    plan = kept_plan(unit)
    done = fit(unit, plan)
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound=THREE_GONE,
        at=done.fitted_at,
        correction=Correction("No pad was put in.", replacement=done),
    )
    assert came(plan).fate is Fate.WAITS


def test_more_pads_than_planned_are_counted() -> None:
    unit = short_unit()
    plan = kept_plan(unit)
    fit(unit, plan, only=1)
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=timezone.now(),
        pads=[PadFitted("B", 4, unit.lot.pk)],
        by=unit.manager,
    )
    (planned,) = plan.document["units"]
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=timezone.now(),
        pads=[PadFitted(at["side"], at["number"], at["lot_id"]) for at in planned["placed"][1:]],
        by=unit.manager,
    )
    assert came(plan).pads == len(planned["placed"]) + 1


@pytest.mark.parametrize(
    ("part", "cost", "said"),
    [
        ({"price_each": Decimal(90)}, Decimal("180.00"), "parts of repair order"),
        ({}, None, "has no price"),
        (None, None, "no part is recorded on repair order"),
    ],
)
def test_the_cost_that_came_is_of_the_parts_of_the_repair_order(
    part: dict[str, Any] | None, cost: Decimal | None, said: str
) -> None:
    unit = short_unit()
    priced(unit)
    plan = kept_plan(unit)
    order = order_from_plan(plan=plan, housing_id=unit.housing.pk, by=unit.manager)
    fit(unit, plan)
    used_part(order, unit.manager, kind="labour", text="Odd", price_each=Decimal(500))
    if part is not None:
        used_part(order, unit.manager, text="Pads", amount=Decimal(2), **part)
    found = came(plan)
    assert found.cost == cost
    assert said in found.cost_words


def test_parts_paid_in_another_currency_are_not_compared() -> None:
    unit = short_unit()
    priced(unit)
    plan = kept_plan(unit)
    order = order_from_plan(plan=plan, housing_id=unit.housing.pk, by=unit.manager)
    Yard.objects.filter(pk=unit.housing.yard_id).update(currency="EUR")
    used_part(order, unit.manager, price_each=Decimal(90))
    fit(unit, plan)
    found = came(plan)
    assert (found.cost, found.cost_words) == (None, "the parts were paid in EUR")


def test_parts_paid_in_two_currencies_are_never_added_up() -> None:
    unit = short_unit()
    # No price is on record: the plan has no currency either.
    plan = kept_plan(unit)
    order = order_from_plan(plan=plan, housing_id=unit.housing.pk, by=unit.manager)
    used_part(order, unit.manager, price_each=Decimal(90))
    Yard.objects.filter(pk=unit.housing.yard_id).update(currency="EUR")
    used_part(order, unit.manager, price_each=Decimal(90))
    fit(unit, plan)
    found = came(plan)
    assert (found.cost, found.cost_words) == (None, "the parts were paid in EUR, USD")


def test_days_are_promised_by_the_repairs_of_the_yard() -> None:
    unit = short_unit()
    for days in (2, 4, 9):
        repaired(unit, days)
    (planned,) = make(Asked("fewest", unit.housing)).document["units"]
    assert (planned["promised_days"], planned["no_days"]) == (4, "")


def test_days_for_pads_to_come_are_added() -> None:
    unit = rated_unit(listed_lbf=34_000.0, unsound=THREE_GONE)
    Yard.objects.filter(pk=unit.housing.yard_id).update(currency="USD")
    unit.housing.refresh_from_db()
    priced(unit)
    for days in (2, 4, 9):
        repaired(unit, days)
    (planned,) = make(Asked("fewest", unit.housing, buys=True)).document["units"]
    assert planned["promised_days"] == 10 + 4


def test_no_days_are_promised_where_too_few_repairs_are_on_record(manager_client: Client) -> None:
    unit = short_unit()
    repaired(unit, 3)
    (planned,) = make(Asked("fewest", unit.housing)).document["units"]
    assert planned["promised_days"] is None
    assert "1 finished repair of housings" in planned["no_days"]
    plan = kept_plan(unit)
    shown = words(manager_client.get(reverse("restoring-plan", args=[plan.pk])))
    assert "no days promised, because the yard has 1 finished repair of housings" in shown


def test_a_repair_that_waited_for_its_pads_took_no_longer_for_it() -> None:
    unit = rated_unit(listed_lbf=34_000.0, unsound=THREE_GONE)
    Yard.objects.filter(pk=unit.housing.yard_id).update(currency="USD")
    unit.housing.refresh_from_db()
    for days in (0, 0):
        repaired(unit, days)
    with clock.set_to(timezone.now() - timedelta(days=12)):
        priced(unit)
        order = order_from_plan(
            plan=kept_plan(unit, buys=True), housing_id=unit.housing.pk, by=unit.manager
        )
    finish_repair(
        submission_id=uuid.uuid4(),
        order=order,
        ended_at=timezone.now(),
        text="Fitted",
        done_by="Odd Brandt",
        closes_finding=False,
        by=unit.manager,
    )
    # Twelve days after it was ordered, ten of which it waited: 0, 0 and 2.
    assert repair_days([unit.housing.yard_id]) == {unit.housing.yard_id: (0, 3)}


def test_a_kept_plan_of_before_days_were_promised_says_so() -> None:
    unit = short_unit()
    plan = kept_plan(unit)
    for each in plan.document["units"]:
        del each["promised_days"], each["no_days"]
    assert came(plan).no_days == "the plan was kept before days were promised"


def test_the_record_gives_a_figure_once_three_were_carried_out(manager_client: Client) -> None:
    page = reverse("plans-record")
    for number in range(3):
        assert "too few to say" in words(manager_client.get(page)), number
        unit = short_unit()
        plan = kept_plan(unit)
        fit(unit, plan)
    shown = manager_client.get(page)
    assert "0.0 % (0.0 % to 0.0 %)" in words(shown)
    assert "<svg" in shown.content.decode()
    today = clock.today()
    assert "Working capacity came out 0.0 % (0.0 % to 0.0 %) of what was promised, over 3" in (
        " ".join(record_words(today, today))
    )
    assert record_words(today, today, unit.housing.yard_id)[0] == (
        "Of 1 units planned to be restored: 1 carried out."
    )


def test_a_year_without_a_plan_says_so() -> None:
    today = clock.today()
    assert record_words(today, today) == ["No plan to restore a unit was kept in these days."]


def test_the_page_of_a_plan_sets_what_came_beside_the_promise(auditor_client: Client) -> None:
    unit = short_unit()
    plan = kept_plan(unit)
    fit(unit, plan)
    shown = words(auditor_client.get(reverse("restoring-plan", args=[plan.pk])))
    assert "Held to what happened" in shown
    assert "2 promised 2 went in" in shown
    assert "no cost promised: a lot had no price" in shown


def test_the_replacement_of_a_plan_leads_to_its_order_closed_with_the_pads_as_parts(
    manager_client: Client,
) -> None:
    unit = short_unit()
    priced(unit)
    url = f"{reverse('restore')}?unit={unit.housing.pk}"
    filled = manager_client.post(url, fields_of(manager_client.get(url)) | {"order": "1"})
    signed = manager_client.post(
        filled["Location"], fields_of(manager_client.get(filled["Location"])), follow=True
    )
    plan, order = RestorePlan.objects.get(), RepairOrder.objects.get()
    assert signed.redirect_chain[-1][0] == reverse("repair-order", args=[order.pk])
    assert f"Close repair order {order.pk} with these parts" in words(signed)
    close = reverse("close-restoring", args=[plan.pk, unit.housing.pk])
    done = words(manager_client.post(close, follow=True))
    manager_client.post(close)
    assert f"Close repair order {order.pk} with these parts" not in done
    found = came(plan)
    assert not RepairOrder.objects.open().exists()
    assert order.lines.count() == len(plan.document["units"][0]["draws"])
    assert (found.fate, found.cost) == (Fate.DONE, Decimal(80) * found.pads_promised)
    assert found.cost == found.cost_promised


def test_an_order_whose_pads_are_not_in_is_not_closed_by_its_plan() -> None:
    unit = short_unit()
    plan = kept_plan(unit)
    order_from_plan(plan=plan, housing_id=unit.housing.pk, by=unit.manager)
    with pytest.raises(ValidationError, match="not all its pads went in"):
        close_with_parts(plan=plan, housing_id=unit.housing.pk, by=unit.manager)
    assert not RepairLine.objects.exists()
