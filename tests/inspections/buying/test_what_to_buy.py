"""What to buy: by what is short, promised and expected, less what comes; and the orders made."""

from __future__ import annotations

import csv
import io
import uuid
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet import clock
from fleet.models import PadLot, PadOrder, Yard
from fleet.prices import record_price
from inspections.buying import season as season_module
from inspections.buying.recording import ListChanged, order_lines
from inspections.buying.season import Line, Season, rests_on, season
from inspections.forecast.expected import ExpectedPads
from ratings.models import Commitment
from tests.builders import Unit, ordered_pads, rated_unit, receive
from tests.factories import PadLotFactory
from tests.job_builders import commit, figured_unit
from tests.site.html_form import fields_of, words

pytestmark = pytest.mark.django_db

DAYS = 120
THREE_GONE = {"A1": "cracked", "B2": "missing", "B3": "swollen"}


def until() -> Any:
    return clock.today() + timedelta(days=DAYS)


def short_unit(currency: str = "USD", **more: Any) -> Unit:
    """Three of eight pads gone; two more bring it to its listing of 34,000 lbf."""
    usual: dict[str, Any] = {"listed_lbf": 34_000.0, "unsound": THREE_GONE}
    unit = rated_unit(**(usual | more))
    Yard.objects.filter(pk=unit.housing.yard_id).update(currency=currency)
    PadLot.objects.filter(pk=unit.lot.pk).update(supplier="Nordhavn Rubber")
    unit.housing.refresh_from_db()
    return unit


def priced(unit: Unit, amount: str = "86.50", *, lead_days: int = 21, days_old: int = 0) -> None:
    record_price(
        submission_id=uuid.uuid4(),
        lot_id=unit.lot.pk,
        yard=Yard.objects.get(pk=unit.housing.yard_id),
        amount=Decimal(amount),
        valid_from=clock.today() - timedelta(days=days_old),
        source="Offer 4711",
        lead_days=lead_days,
        by=unit.manager,
    )


def asked() -> dict[str, Any]:
    return {"yard": None, "until": until(), "goal": "fewest"}


def line_of(unit: Unit, found: Season | None = None) -> Line:
    found = found or season(None, until())
    (line,) = [each for each in found.lines if each.lot == unit.lot]
    return line


def held_by_a_job(unit: Unit, first_in_days: int) -> None:
    made, day = commit(figured_unit()), clock.today() + timedelta(days=first_in_days)
    Commitment.objects.filter(pk=made.pk).update(
        housing=unit.housing, first_day=day, last_day=day + timedelta(days=5)
    )


def on_order(unit: Unit, pads: int, in_days: int) -> PadOrder:
    day = clock.today()
    return ordered_pads(
        yard=unit.housing.yard,
        what=PadLot.objects.get(pk=unit.lot.pk),
        pads=pads,
        ordered_on=day - timedelta(days=30),
        promised_on=day + timedelta(days=in_days),
        by=unit.manager,
    )


def to_fail(monkeypatch: pytest.MonkeyPatch, unit: Unit, expected: float | None) -> None:
    """Have so many pads of a unit's lot expected to fail in its yard."""
    told = ExpectedPads(unit.lot, expected, 0, 9, "by hand")
    monkeypatch.setattr(
        season_module,
        "expected_by_yard",
        lambda yards, _until: {
            yard.pk: [told] if yard.pk == unit.housing.yard_id else [] for yard in yards
        },
    )


def test_what_no_shelf_gives_is_to_be_bought_with_cost_and_latest_day() -> None:
    unit = short_unit()
    priced(unit)
    line = line_of(unit)
    assert (line.short, line.to_buy, line.cost) == (2, 2, Decimal("173.00"))
    # It is short now: every day counts.
    assert (line.order_by, line.days_late) == (clock.today(), 0)


def test_nothing_is_bought_that_lies_on_the_shelf() -> None:
    unit = short_unit(in_stock=2)
    priced(unit)
    assert season(None, until()).to_buy == ()


@pytest.mark.parametrize(("in_days", "to_buy"), [(10, 0), (DAYS, 0), (DAYS + 1, 2), (-1, 2)])
def test_an_order_counts_where_it_comes_in_time_and_is_not_late(in_days: int, to_buy: int) -> None:
    unit = short_unit()
    priced(unit)
    on_order(unit, 2, in_days)
    assert line_of(unit).to_buy == to_buy


def test_for_a_job_after_the_season_an_order_counts_that_comes_before_it() -> None:
    unit = short_unit()
    priced(unit)
    held_by_a_job(unit, first_in_days=DAYS + 30)
    on_order(unit, 2, DAYS + 20)
    assert line_of(unit).to_buy == 0


def test_for_a_job_an_order_counts_where_it_comes_before_its_first_day() -> None:
    unit = short_unit()
    priced(unit, lead_days=30)
    held_by_a_job(unit, first_in_days=20)
    on_order(unit, 2, 25)
    line = line_of(unit)
    assert (line.for_jobs, line.needed_by) == (2, clock.today() + timedelta(days=20))
    assert (line.to_buy, line.days_late) == (2, 10)
    ordered_pads(
        yard=unit.housing.yard,
        what=PadLot.objects.get(pk=unit.lot.pk),
        pads=2,
        promised_on=clock.today() + timedelta(days=20),
        is_more=True,
        by=unit.manager,
    )
    assert line_of(unit).to_buy == 0


@pytest.mark.parametrize(
    ("short", "for_jobs", "expected", "free", "in_time", "too_late", "to_buy"),
    [
        (5, 2, 0.0, 0, 0, 0, 5),
        # What comes after the job began is for the rest alone.
        (5, 2, 0.0, 0, 0, 9, 2),
        (5, 2, 0.0, 0, 9, 0, 0),
        (0, 0, 2.5, 0, 0, 0, 3),
        (0, 0, 2.4, 1, 0, 0, 1),
        (5, 2, 1.2, 0, 3, 1, 2),
        (0, 0, 0.4, 0, 0, 0, 0),
        (0, 0, None, 4, 0, 0, 0),
    ],
)
def test_the_sum_of_a_line_worked_by_hand(
    short: int,
    for_jobs: int,
    expected: float | None,
    free: int,
    in_time: int,
    too_late: int,
    to_buy: int,
) -> None:
    line = Line(
        Yard(name="North"),
        PadLot(mark="L"),
        until(),
        None,
        short=short,
        for_jobs=for_jobs,
        expected=expected,
        free=free,
        in_time=in_time,
        too_late=too_late,
    )
    assert line.to_buy == to_buy


def test_pads_expected_to_fail_are_bought_less_what_lies_free(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit = short_unit(unsound={})
    priced(unit)
    to_fail(monkeypatch, unit, 3.2)
    assert line_of(unit).to_buy == 3
    # In no yard: any may fit them, and the list says so.
    receive(unit.lot, unit.manager, 2)
    found = season(None, until())
    assert (line_of(unit, found).to_buy, found.loose) == (1, 2)
    assert found.loose_words == f"2 of lot {unit.lot}"
    assert line_of(unit).order_by == until() - timedelta(days=21)


def test_what_cannot_be_forecast_is_told_and_counts_for_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit = short_unit()
    priced(unit)
    to_fail(monkeypatch, unit, None)
    found = season(None, until())
    assert [lot for _, lot, _ in found.no_forecast] == [unit.lot.mark]
    assert line_of(unit, found).to_buy == 2


def test_a_lot_without_a_price_is_named_and_summed_by_nothing(manager_client: Client) -> None:
    unit = short_unit()
    found = season(None, until())
    assert (line_of(unit, found).to_buy, line_of(unit, found).cost) == (2, None)
    assert (found.without_price, found.by_currency) == ((unit.lot.mark,), ())
    shown = words(manager_client.get(f"{reverse('what-to-buy')}?until={until()}"))
    assert f"Not priced: lot {unit.lot.mark}" in shown
    assert "no price" in shown


def test_a_lot_with_a_price_is_bought_before_one_without() -> None:
    unit = short_unit()
    priced(unit)
    PadLotFactory(mark="A-UNPRICED")
    assert [each.lot for each in season(None, until()).to_buy] == [unit.lot]


def test_two_currencies_are_never_added_up() -> None:
    one, other = short_unit(), short_unit("EUR")
    priced(one, "80")
    priced(other, "70")
    found = season(None, until())
    assert found.by_currency == (("EUR", Decimal("140.00")), ("USD", Decimal("160.00")))
    yard = Yard.objects.get(pk=other.housing.yard_id)
    assert [each.currency for each in season(yard, until()).totals] == ["EUR"]


def posted(client: Client, **given: Any) -> str:
    url = f"{reverse('what-to-buy')}?until={until()}"
    page = client.get(url)
    return words(client.post(url, fields_of(page) | given, follow=True))


def test_one_press_makes_orders_of_the_lines_ticked_once(manager_client: Client) -> None:
    unit = short_unit()
    priced(unit)
    name, url = line_of(unit).name, f"{reverse('what-to-buy')}?until={until()}"
    fields = fields_of(manager_client.get(url)) | {"line": name, f"pads-{name}": "4"}
    for _ in range(2):
        shown = words(manager_client.post(url, fields, follow=True))
        assert "1 order of 4 pads recorded" in shown
    made = PadOrder.objects.get()
    assert (made.pads, made.price_each, made.supplier) == (4, Decimal("86.50"), "Nordhavn Rubber")
    assert made.promised_on == clock.today() + timedelta(days=21)
    assert season(None, until()).to_buy == ()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, "No line is chosen"),
        ({"pads": "0"}, "give 1 to 10,000"),
        ({"pads": "x"}, "“x”"),
        ({"pads": "2.5"}, "whole"),
        ({"line": "9-9", "pads": "1"}, "is no line of this list"),
    ],
)
def test_a_line_that_cannot_be_ordered_is_said(
    manager_client: Client, given: dict[str, str], said: str
) -> None:
    unit = short_unit()
    priced(unit)
    name = given.get("line", line_of(unit).name)
    sent = {"line": name, f"pads-{name}": given["pads"]} if given else {}
    assert said in posted(manager_client, **sent)
    assert not PadOrder.objects.exists()


def test_a_price_of_last_year_makes_no_order(manager_client: Client) -> None:
    unit = short_unit()
    priced(unit, days_old=400)
    found = season(None, until())
    assert found.old_prices == (unit.lot.mark,)
    with pytest.raises(ValidationError, match="over a year old"):
        order_lines(
            submission_id=uuid.uuid4(),
            **asked(),
            seen=found.digest,
            pads={line_of(unit, found).name: 1},
            by=unit.manager,
        )
    shown = words(manager_client.get(f"{reverse('what-to-buy')}?until={until()}"))
    assert "over a year old" in shown


def test_a_list_that_changed_since_it_was_shown_orders_nothing() -> None:
    unit = short_unit()
    priced(unit)
    found = season(None, until())
    priced(unit, "99")
    with pytest.raises(ListChanged):
        order_lines(
            submission_id=uuid.uuid4(),
            **asked(),
            seen=found.digest,
            pads={line_of(unit, found).name: 1},
            by=unit.manager,
        )


def test_two_who_press_at_once_order_once() -> None:
    unit = short_unit()
    priced(unit)
    found = season(None, until())
    sent: dict[str, Any] = {"seen": found.digest, "pads": {line_of(unit, found).name: 2}}
    order_lines(submission_id=uuid.uuid4(), by=unit.manager, **asked(), **sent)
    with pytest.raises(ListChanged, match="changed since it was shown"):
        order_lines(submission_id=uuid.uuid4(), by=unit.manager, **asked(), **sent)
    assert PadOrder.objects.count() == 1


def test_lines_ticked_after_going_back_are_not_dropped_without_a_word() -> None:
    one, other = short_unit(), short_unit()
    priced(one)
    priced(other)
    found = season(None, until())
    sent: dict[str, Any] = asked() | {"submission_id": uuid.uuid4(), "seen": found.digest}
    first, second = (line_of(each, found).name for each in (one, other))
    (made,) = order_lines(pads={first: 2}, by=one.manager, **sent)
    with pytest.raises(ListChanged, match=f"made order {made.pk}. The lines ticked since"):
        order_lines(pads={first: 2, second: 2}, by=one.manager, **sent)
    assert order_lines(pads={first: 2}, by=one.manager, **sent) == [made]


def test_who_only_reads_sees_the_list_and_orders_nothing(auditor_client: Client) -> None:
    unit = short_unit()
    priced(unit)
    url = f"{reverse('what-to-buy')}?until={until()}"
    assert "Record the orders ticked" not in words(auditor_client.get(url))
    assert auditor_client.post(url, {"line": line_of(unit).name}).status_code == 403


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("until=2020-01-01", "is not to come"),
        ("until=soon", "This is not a day"),
        ("until=2090-01-01", "over two years off"),
        ("until=&goal=fewest", "give the last day of the season"),
        ("until=2027-05-05&goal=ready", "ready is not one of the available choices"),
        ("until=2027-05-05&yard=99999", "not one of the available choices"),
    ],
)
def test_what_cannot_be_asked_is_said(manager_client: Client, query: str, said: str) -> None:
    for page in ("what-to-buy", "order-list", "order-list-csv"):
        assert said in words(manager_client.get(f"{reverse(page)}?{query}"))


def test_the_list_is_printed_and_sent_as_a_table(manager_client: Client) -> None:
    unit = short_unit()
    priced(unit)
    paper = manager_client.get(f"{reverse('order-list')}?until={until()}")
    assert paper.content.startswith(b"%PDF")
    sent = manager_client.get(f"{reverse('order-list-csv')}?until={until()}")
    (row,) = csv.DictReader(io.StringIO(sent.content.decode()))
    assert (row["lot"], row["to buy"], row["cost"]) == (unit.lot.mark, "2", "173.00")
    assert (row["free in no yard"], row["on order after the job began"]) == ("0", "0")
    assert (row["currency"], row["source of the price"]) == ("USD", "Offer 4711")


def test_what_the_list_rests_on_is_said(manager_client: Client) -> None:
    unit = short_unit()
    priced(unit)
    shown = words(manager_client.get(f"{reverse('what-to-buy')}?until={until()}"))
    assert f"{unit.housing.mark} entry" in shown
    assert "86.50 USD of" in shown
    # No meter was read: how much it is to work is not known.
    assert f"{unit.housing.mark} not known" in shown


def test_more_yards_with_units_to_restore_take_no_more_queries() -> None:
    asked = []
    for _ in range(2):
        for _ in range(2):
            priced(short_unit())
        with CaptureQueriesContext(connection) as queries:
            found = season(None, until())
            rests_on(found)
        assert all(each.pads for each in found.units)
        asked.append(len(queries))
    assert asked[0] == asked[1]
