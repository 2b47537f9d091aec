from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from fleet.dates import moment_words
from fleet.models import Mounting, StockMove
from fleet.stock import NotEnoughInStock, move_stock
from ratings.listings import record_listing
from ratings.mechanics.unit_rating import Policy
from ratings.models import CurrentRating, LedgerEntry, Listing, RatingPolicy
from ratings.models.policy import policy_in_force
from ratings.mounting import mount_housing
from ratings.policy import change_policy
from tests.all_tables import changed, everything
from tests.builders import MONDAY, Unit, list_hammer, rated_unit, receive
from tests.factories import HammerFactory, HousingFactory, ManagerFactory, PadLotFactory

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + timedelta(days=1)


def head(unit: Unit) -> LedgerEntry:
    return CurrentRating.objects.get(housing=unit.housing).head


def list_at(unit: Unit, lbf: float, submission_id: uuid.UUID) -> Any:
    return record_listing(
        is_read_again=True,
        read_again_reason="As printed",
        submission_id=submission_id,
        hammer=unit.hammer,
        listed_lbf=lbf,
        source="Sheet 4",
        dated=date(2021, 5, 6),
        by=unit.manager,
    )


def test_a_second_copy_of_a_listing_changes_nothing() -> None:
    unit, submission_id = rated_unit(), uuid.uuid4()
    first = list_at(unit, 60_000, submission_id)
    before = everything()
    assert list_at(unit, 70_000, submission_id) == first
    assert changed(before) == set()


def test_a_listing_corrected_is_in_force_no_more_and_its_entry_is_named() -> None:
    unit = rated_unit()
    wrong = list_hammer(unit.hammer, unit.manager, 90_000)
    wrong_entry = head(unit)
    right = list_hammer(unit.hammer, unit.manager, 45_000, corrects=wrong)
    assert Listing.objects.in_force_by_hammer([unit.hammer.pk]) == {unit.hammer.pk: right}
    assert head(unit).corrects == wrong_entry
    assert head(unit).listed_lbf == 45_000


def test_correcting_an_older_listing_leaves_the_newer_one_in_force() -> None:
    unit = rated_unit()
    oldest = unit.hammer.listings.get()
    newest = list_hammer(unit.hammer, unit.manager, 50_000)
    list_hammer(unit.hammer, unit.manager, 41_000, corrects=oldest)
    assert Listing.objects.in_force_by_hammer([unit.hammer.pk]) == {unit.hammer.pk: newest}


@pytest.mark.parametrize("lbf", [0.0, -1.0, 1e8])
def test_the_database_refuses_a_listing_that_cannot_be(lbf: float) -> None:
    unit = rated_unit()
    with pytest.raises(IntegrityError), transaction.atomic():
        list_at(unit, lbf, uuid.uuid4())


def test_a_second_copy_of_a_policy_changes_nothing() -> None:
    unit, submission_id = rated_unit(), uuid.uuid4()
    first = change_policy(
        submission_id=submission_id,
        policy=Policy(pad_spread_pct=8.0),
        reason="wider",
        by=unit.manager,
    )
    before = everything()
    second = change_policy(
        submission_id=submission_id,
        policy=Policy(pad_spread_pct=9.0),
        reason="wider still",
        by=unit.manager,
    )
    assert second == first
    assert changed(before) == set()


def test_a_policy_in_force_is_the_newest_and_the_defaults_before_any() -> None:
    manager = ManagerFactory()
    assert policy_in_force(RatingPolicy.objects.first()) == Policy()
    for spread in (7.0, 6.0):
        change_policy(
            submission_id=uuid.uuid4(),
            policy=Policy(pad_spread_pct=spread),
            reason="tried",
            by=manager,
        )
    assert policy_in_force(RatingPolicy.objects.first()).pad_spread_pct == 6.0


def test_a_policy_gives_no_ledger_to_a_housing_that_was_never_counted() -> None:
    housing = HousingFactory()
    change_policy(
        submission_id=uuid.uuid4(), policy=Policy(confidence=0.9), reason="x", by=ManagerFactory()
    )
    assert not housing.ledger_entries.exists()


def test_a_wider_spread_lowers_the_working_capacity_and_not_the_pull() -> None:
    unit = rated_unit()
    before = head(unit)
    change_policy(
        submission_id=uuid.uuid4(), policy=Policy(pad_spread_pct=20.0), reason="x", by=unit.manager
    )
    assert head(unit).pull_lbf == before.pull_lbf
    then_lbf, now_lbf = before.working_capacity_lbf, head(unit).working_capacity_lbf
    assert then_lbf is not None
    assert now_lbf is not None
    assert now_lbf < then_lbf


def test_moving_before_the_present_mounting_began_is_refused_and_nothing_is_kept() -> None:
    unit, other = rated_unit(), HammerFactory()
    before = everything()
    with pytest.raises(ValidationError, match=rf"only on {moment_words(MONDAY)}: give"):
        mount_housing(
            housing=unit.housing, hammer=other, at=MONDAY - timedelta(days=1), by=unit.manager
        )
    assert changed(before) == set()


def test_a_housing_cannot_be_put_where_it_could_not_have_been_before_its_last_move() -> None:
    unit, other = rated_unit(), HammerFactory()
    mount_housing(housing=unit.housing, hammer=None, at=TUESDAY, by=unit.manager)
    before = everything()
    with pytest.raises(ValidationError, match=r"came off .* only on 0?3 Mar 2026"):
        mount_housing(
            housing=unit.housing,
            hammer=other,
            at=TUESDAY - timedelta(hours=1),
            by=unit.manager,
        )
    assert changed(before) == set()


def test_displacing_a_housing_before_it_was_mounted_is_refused_and_nothing_is_kept() -> None:
    first, second = rated_unit(), rated_unit()
    third = HammerFactory()
    mount_housing(housing=second.housing, hammer=third, at=TUESDAY, by=second.manager)
    before = everything()
    with pytest.raises(ValidationError, match=f"Housing {second.housing} was mounted on {third}"):
        mount_housing(
            housing=first.housing,
            hammer=third,
            at=MONDAY + timedelta(hours=1),
            by=first.manager,
        )
    assert changed(before) == set()


@pytest.mark.parametrize("where", ["same hammer", "off"])
def test_moving_a_housing_to_where_it_is_changes_nothing(where: str) -> None:
    unit = rated_unit()
    if where == "off":
        mount_housing(housing=unit.housing, hammer=None, at=TUESDAY, by=unit.manager)
    before = everything()
    with pytest.raises(ValidationError, match="already: choose another"):
        mount_housing(
            housing=unit.housing,
            hammer=unit.hammer if where == "same hammer" else None,
            at=TUESDAY,
            by=unit.manager,
        )
    assert changed(before) == set()


def test_a_move_ends_the_mounting_before_at_the_moment_the_next_begins() -> None:
    unit, other = rated_unit(), HammerFactory()
    mount_housing(housing=unit.housing, hammer=other, at=TUESDAY, by=unit.manager)
    ended, begun = unit.housing.mountings.order_by("mounted_at")
    assert (ended.removed_at, begun.mounted_at, begun.removed_at) == (TUESDAY, TUESDAY, None)


def test_the_database_refuses_two_housings_on_one_hammer() -> None:
    unit, other = rated_unit(), HousingFactory()
    with pytest.raises(IntegrityError), transaction.atomic():
        Mounting.objects.create(housing=other, hammer=unit.hammer, mounted_at=TUESDAY)


def test_the_database_refuses_one_housing_on_two_hammers() -> None:
    unit, other = rated_unit(), HammerFactory()
    with pytest.raises(IntegrityError), transaction.atomic():
        Mounting.objects.create(housing=unit.housing, hammer=other, mounted_at=TUESDAY)


def test_the_database_refuses_a_mounting_that_ends_before_it_begins() -> None:
    unit = rated_unit()
    with pytest.raises(IntegrityError), transaction.atomic():
        Mounting.objects.update(removed_at=MONDAY - timedelta(days=1))
    assert unit.housing.mountings.get().removed_at is None


def test_a_second_copy_of_a_stock_move_changes_nothing() -> None:
    lot, by, submission_id = PadLotFactory(), ManagerFactory(), uuid.uuid4()
    for number in (12, 99):
        move_stock(
            lot_id=lot.pk,
            kind=StockMove.Kind.RECEIVED,
            change=number,
            occurred_at=MONDAY,
            by=by,
            submission_id=submission_id,
        )
    lot.refresh_from_db()
    assert lot.in_stock == 12
    assert lot.moves.count() == 1


def test_scrapping_more_than_the_shelf_holds_is_refused_in_words() -> None:
    lot, by = PadLotFactory(), ManagerFactory()
    receive(lot, by, 2)
    before = everything()
    with pytest.raises(NotEnoughInStock, match="has 2 in stock and 3 are asked for: take fewer"):
        move_stock(
            lot_id=lot.pk, kind=StockMove.Kind.SCRAPPED, change=-3, occurred_at=MONDAY, by=by
        )
    assert changed(before) == set()


def test_the_database_refuses_pads_received_that_leave_the_shelf() -> None:
    lot, by = PadLotFactory(), ManagerFactory()
    receive(lot, by, 2)
    with pytest.raises(IntegrityError), transaction.atomic():
        move_stock(
            lot_id=lot.pk, kind=StockMove.Kind.RECEIVED, change=-1, occurred_at=MONDAY, by=by
        )
    lot.refresh_from_db()
    assert lot.in_stock == 2
