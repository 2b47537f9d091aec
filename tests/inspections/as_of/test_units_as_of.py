"""What was so and what was known of units, worked out by hand.

Each sound pad of these units pulls 1,000 lbf an inch.
"""

from __future__ import annotations

import uuid
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from fleet import clock
from fleet.as_of import AsOf
from fleet.models import SuppressorHousing
from fleet.outages import take_out_of_service
from fleet.units import Hung, hung_as_of
from inspections.as_of.units import By, facts_as_of, units_as_of
from inspections.count.findings import out_of_service_for
from inspections.units.board import board_units
from ratings.ledger.facts import gather, sources
from ratings.listings import record_listing
from ratings.mechanics.standing import Standing
from ratings.models import LedgerEntry
from ratings.mounting import mount_housing
from ratings.transfers.recording import record_arrival
from tests.builders import Unit, bench_test, list_hammer, proof_pull, rated_unit
from tests.factories import HammerFactory, HousingFactory, YardFactory
from tests.inspections.as_of.histories import (
    counted,
    day,
    fitted,
    known,
    monday_unit,
    pull_lbf,
    so,
    then,
)
from tests.job_builders import transfer
from tests.site.large_yard import fill_large_yard
from tests.tamper.yard import with_the_file_in_hand

pytestmark = pytest.mark.django_db


def seen_monday_synced_thursday() -> Unit:
    """A1 and A2 seen cracked on Monday evening, on record on Thursday; A1 renewed on Tuesday."""
    unit = monday_unit(in_stock=4)
    fitted(unit, ("A", 1), day(1))
    counted(unit, day(0, 8), day(3), {"A1": "cracked", "A2": "cracked"})
    return unit


def several_units() -> None:
    """Units whose histories have a proof pull, a correction, a late record, a move, and none."""
    with clock.set_to(day(2)):
        soft = rated_unit()
        proof_pull(soft.housing, soft.manager, ratio=0.8)
    corrected = monday_unit(is_guided=False)
    wrong = counted(corrected, day(2), day(2), {"A3": "swollen"}, travel_in=5.0)
    counted(corrected, day(2), day(4), {"A4": "missing"}, corrects=wrong.inspection)
    seen_monday_synced_thursday()
    moved = monday_unit()
    with clock.set_to(day(4)):
        mount_housing(housing=moved.housing, hammer=None, at=day(3), by=moved.manager)
    HousingFactory()


def test_a_late_record_changes_what_was_so_and_not_what_was_known() -> None:
    unit = seen_monday_synced_thursday()
    assert [pull_lbf(unit, known(number)) for number in (0, 1, 2, 3)] == [
        48_000.0,
        48_000.0,
        48_000.0,
        42_000.0,
    ]
    # Monday evening six of eight were sound, from Tuesday's repair on seven.
    assert [pull_lbf(unit, so(number)) for number in (0, 1, 2, 3)] == [
        36_000.0,
        42_000.0,
        42_000.0,
        42_000.0,
    ]


def test_figures_come_from_an_entry_where_one_rests_on_the_facts_of_the_day() -> None:
    unit = seen_monday_synced_thursday()
    assert [then(unit, so(number)).by for number in (0, 1, 3)] == [By.METHOD, By.LATER, By.THEN]
    assert then(unit, known(0)).by is By.THEN
    last = LedgerEntry.objects.filter(housing=unit.housing).latest("sequence")
    assert then(unit, so(1)).entry == last


def test_what_was_so_rests_on_what_is_known_by_the_day_asked() -> None:
    unit = seen_monday_synced_thursday()
    assert pull_lbf(unit, so(0, known_on=2)) == 48_000.0
    assert pull_lbf(unit, so(0, known_on=3)) == 36_000.0


def test_before_a_correction_the_misread_figure_was_known_and_the_right_one_was_so() -> None:
    unit = monday_unit()
    wrong = counted(unit, day(2), day(2), travel_in=5.0)
    counted(unit, day(2), day(4), travel_in=5.5, corrects=wrong.inspection)
    assert [pull_lbf(unit, known(number)) for number in (1, 2, 3, 4)] == [
        48_000.0,
        40_000.0,
        40_000.0,
        44_000.0,
    ]
    assert [pull_lbf(unit, so(number)) for number in (1, 2, 3, 4)] == [
        48_000.0,
        44_000.0,
        44_000.0,
        44_000.0,
    ]


def test_a_move_recorded_late_is_so_from_when_it_was_made() -> None:
    unit = monday_unit()
    with clock.set_to(day(0, 1)):
        other = HammerFactory(yard=unit.housing.yard)
        list_hammer(other, unit.manager, 60_000)
    with clock.set_to(day(4)):
        mount_housing(housing=unit.housing, hammer=other, at=day(1), by=unit.manager)
    assert [then(unit, known(number)).hammer for number in (2, 4)] == [unit.hammer, other]
    assert [then(unit, so(number)).hammer for number in (0, 2)] == [unit.hammer, other]
    # 48,000 lbf meet a listing of 40,000, and fall short of 60,000.
    assert then(unit, known(2)).standing is Standing.MEETS_LISTING
    assert then(unit, so(2)).standing is Standing.BELOW_LISTING


def test_an_outage_found_late_was_so_before_it_was_known() -> None:
    unit = monday_unit()
    with clock.set_to(day(3)):
        take_out_of_service(
            submission_id=uuid.uuid4(),
            machine=unit.hammer,
            since=day(1),
            reason="Oil in the gear case",
            by=unit.manager,
        )
    assert [len(then(unit, known(number)).outages) for number in (0, 2, 3)] == [0, 0, 1]
    assert [len(then(unit, so(number)).outages) for number in (0, 2, 3)] == [0, 1, 1]


def test_an_outage_that_reached_back_was_known_from_its_first_beginning_on() -> None:
    unit = monday_unit()
    for seen, recorded in ((5, 5), (3, 7)):
        with clock.set_to(day(recorded)):
            out_of_service_for(unit.housing, day(seen), "Lug", uuid.uuid4(), unit.manager)
    assert then(unit, known(6)).outages[0].since == day(5)
    assert then(unit, known(7)).outages[0].since == day(3)
    assert [len(then(unit, so(number)).outages) for number in (2, 4)] == [0, 1]
    assert [len(then(unit, known(number)).outages) for number in (2, 4)] == [0, 0]


def test_a_rating_holds_from_its_approval_and_never_backwards() -> None:
    unit = monday_unit()
    with clock.set_to(day(4)):
        newer = bench_test(unit.lot, unit.manager, rate_lbf_in=900.0, at=day(1))
    for as_of in (known(3), so(3)):
        entry = then(unit, as_of).entry
        assert entry is not None
        assert entry.pull_lbf == pytest.approx(48_000.0)
    after = then(unit, so(4)).entry
    assert after is not None
    assert after.contents["provenance"]["lot_ratings"] == {unit.lot.mark: newer.rating.pk}


def test_a_listing_put_right_was_so_from_its_first_record_on() -> None:
    unit = monday_unit()
    listing = unit.hammer.listings.get()
    with clock.set_to(day(5)):
        record_listing(
            submission_id=uuid.uuid4(),
            hammer=unit.hammer,
            listed_lbf=50_000.0,
            source="Data plate",
            dated=listing.dated,
            by=unit.manager,
            corrects=listing,
        )
    assert then(unit, known(4)).standing is Standing.MEETS_LISTING
    assert then(unit, so(4)).standing is Standing.BELOW_LISTING
    assert then(unit, so(0, known_on=4)).standing is Standing.MEETS_LISTING


def test_before_its_first_count_a_unit_had_no_figures() -> None:
    unit = monday_unit()
    before = AsOf(day(0, -1), day(9))
    assert units_as_of(before, [unit.housing.pk]) == []


def test_a_first_count_synced_late_was_so_before_any_entry() -> None:
    rated = monday_unit()
    with clock.set_to(day(0)):
        housing = HousingFactory(positions_per_side=4)
    spare = Unit(housing, rated.hammer, rated.lot, rated.manager)
    counted(spare, day(1), day(3), travel_in=5.0)
    assert then(spare, known(2)).entry is None
    first = then(spare, so(2))
    assert (first.told, first.by) == (None, By.LATER)
    # Eight sound pads at 5 in; with no hammer it has no listing, and no standing.
    assert first.entry is not None
    assert first.entry.pull_lbf == pytest.approx(40_000.0)
    assert first.standing is Standing.UNRATED
    assert then(spare, so(0)).entry is None


def test_an_arrival_recorded_late_was_so_from_its_day_on() -> None:
    unit = monday_unit()
    with clock.set_to(day(0)):
        there = YardFactory()
        sent = transfer(unit, goal=there, leaves_on=date(2026, 3, 3), arrives_on=date(2026, 3, 4))
    with clock.set_to(day(5)):
        record_arrival(
            submission_id=uuid.uuid4(),
            transfer=sent,
            arrived_on=date(2026, 3, 4),
            by=unit.manager,
        )
    here = str(unit.housing.yard)
    assert [then(unit, known(number)).yard for number in (1, 3, 5)] == [here, here, str(there)]
    assert [then(unit, so(number)).yard for number in (1, 3, 5)] == [here, str(there), str(there)]


def test_where_the_entry_of_then_stands_the_facts_of_then_are_those_known_then() -> None:
    several_units()
    hung_then: dict[AsOf, dict[int, Hung]] = {}
    stood = 0
    for number in range(6):
        for unit in units_as_of(so(number)):
            if unit.by is not By.THEN:
                continue
            facts = [
                facts_as_of([unit.housing], as_of, hung_then.setdefault(as_of, hung_as_of(as_of)))
                for as_of in (so(number), known(number))
            ]
            assert facts[0][unit.housing.pk].inputs == facts[1][unit.housing.pk].inputs
            stood += 1
    assert stood > 6


def now() -> AsOf:
    moment = timezone.now()
    return AsOf(moment, moment)


def test_as_known_now_every_unit_is_as_the_board_has_it() -> None:
    fill_large_yard(30)
    live, told = list(board_units()), units_as_of(now())
    assert [each.housing for each in told] == live
    for board, unit in zip(live, told, strict=True):
        rating = getattr(board, "current_rating", None)
        assert unit.entry == (rating.head if rating else None)
        assert (unit.hammer.mark if unit.hammer else None) == getattr(board, "hammer_mark", None)
        assert bool(unit.outages) == (getattr(board, "out_since", None) is not None)


def test_the_facts_of_now_are_those_a_rating_rests_on() -> None:
    several_units()
    housings = list(SuppressorHousing.objects.in_use())
    live, as_of = gather(housings), now()
    with clock.set_to(as_of.at):
        told = facts_as_of(housings, as_of, hung_as_of(as_of))
    for housing in housings:
        assert told[housing.pk].inputs == live[housing.pk].inputs
        assert sources(told[housing.pk].provenance) == sources(live[housing.pk].provenance)


def queries(as_of: AsOf) -> int:
    with CaptureQueriesContext(connection) as asked:
        units_as_of(as_of)
    return len(asked)


def test_queries_do_not_grow_with_units() -> None:
    seen_monday_synced_thursday()
    few = queries(so(0)), queries(known(2))
    for _ in range(3):
        seen_monday_synced_thursday()
    assert (queries(so(0)), queries(known(2))) == few


def test_a_lot_gone_from_the_records_leaves_the_past_of_other_units() -> None:
    bare, other = monday_unit(), monday_unit()
    housings, as_of = [bare.housing, other.housing], known(0)
    hung = hung_as_of(as_of)
    before = facts_as_of(housings, as_of, hung)
    with with_the_file_in_hand() as cursor:
        cursor.execute("DELETE FROM fleet_padlot WHERE id = %s", [bare.lot.pk])
        found = facts_as_of(housings, as_of, hung)
    assert found[other.housing.pk].inputs == before[other.housing.pk].inputs
    positions = found[bare.housing.pk].inputs.positions
    assert {each.lot for each in positions} == {None}
    assert {each.lot for each in before[bare.housing.pk].inputs.positions} == {bare.lot.mark}
