"""Each pad in its position: since when, what every look found, how it ended."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from fleet.hours import record_hours
from inspections.count.signing import Correction
from inspections.lives.history import Ending, PadTime
from inspections.lives.lot_lives import LeftOut, Since, lives_by_lot, pad_records
from inspections.lives.tables import ageing_words
from ratings.mechanics.survival import Life, Told, lot_life
from ratings.mounting import mount_housing
from tests.builders import MONDAY, Unit, count, days_ago, rated_unit, receive
from tests.factories import HammerFactory, PadLotFactory
from tests.inspections.lives.worn import FITTED, fit, month, worn_unit
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def times_of(unit: Unit, side: str, number: int) -> list[PadTime]:
    records = pad_records([unit.housing.pk])
    return [each.time for each in records if each.time.key == (side, number)]


def lives_of(unit: Unit, since: Since = Since.FITTED) -> tuple[Life, ...]:
    return lives_by_lot(pad_records([unit.housing.pk]), since)[unit.lot.pk].lives


def test_a_pad_found_unsound_ended_between_its_last_two_looks() -> None:
    _, pad = times_of(worn_unit(), "B", 1)
    assert (pad.ending, pad.condition) == (Ending.FAILED, "debonded")
    assert pad.fitted_at == FITTED
    assert (pad.last_sound_at, pad.ended_at) == (month(2), month(3))
    assert [look.condition for look in pad.looks][:3] == ["sound", "sound", "debonded"]


def test_a_pad_found_missing_ended_in_its_own_way_and_is_no_failure_of_its_lot() -> None:
    unit = worn_unit()
    _, pad = times_of(unit, "A", 2)
    assert (pad.ending, pad.last_sound_at, pad.ended_at) == (Ending.MISSING, month(2), month(3))
    # One of two found in that month is debonded; the missing one was sound for 120 h, no more.
    lives = lives_of(unit)
    assert lives.count(Life(120.0, 180.0)) == 1
    assert lives.count(Life(120.0)) == 1


def test_looks_at_an_empty_place_are_no_looks_at_the_pad_that_was_there() -> None:
    unit = rated_unit()
    for days, found in ((2, {}), (30, {"A1": "missing"}), (60, {"A1": "missing"})):
        at = MONDAY + timedelta(days=days)
        count(unit.housing, unit.manager, unit.lot, unsound=found, at=at)
    [pad] = times_of(unit, "A", 1)
    conditions = [look.condition for look in pad.looks]
    assert conditions.count("missing") == 1
    assert conditions[-1] == "missing"


def test_a_missing_pad_said_to_be_sound_again_is_in_doubt() -> None:
    unit = rated_unit(unsound={"A1": "missing"})
    count(unit.housing, unit.manager, unit.lot, at=MONDAY + timedelta(days=5))
    [pad] = times_of(unit, "A", 1)
    assert pad.ending is Ending.DOUBTFUL


def test_the_pad_before_a_new_one_was_taken_out_sound() -> None:
    first, _ = times_of(worn_unit(), "A", 2)
    assert (first.ending, first.ended_at, first.fitted_at) == (Ending.TAKEN_OUT, FITTED, None)
    assert not first.is_in


def test_a_pad_never_found_unsound_is_still_in() -> None:
    _, pad = times_of(worn_unit(), "B", 6)
    assert (pad.ending, pad.ended_at, pad.last_sound_at) == (Ending.STILL_IN, None, month(5))


def test_a_pad_fitted_where_one_was_found_missing_begins_anew() -> None:
    unit = worn_unit()
    receive(unit.lot, unit.manager, 1)
    fit(unit, {"A2": unit.lot}, month(5) + timedelta(days=1))
    _, failed, new = times_of(unit, "A", 2)
    assert (failed.ending, failed.ended_at) == (Ending.MISSING, month(3))
    assert (new.ending, new.looks, new.fitted_at) == (
        Ending.STILL_IN,
        [],
        month(5) + timedelta(days=1),
    )
    assert Life(0.0) in lives_of(unit)


def test_hours_are_the_hammers_between_the_looks() -> None:
    lives = sorted(lives_of(worn_unit()), key=lambda life: (life.after_hours, life.by_hours or 1e9))
    # Fitted at 100 h; looked at at 160, 220, 280, 340 and 400 h.
    assert lives == [
        Life(0.0, 60.0),
        Life(120.0, 180.0),
        Life(120.0),
        Life(180.0, 240.0),
        Life(240.0, 300.0),
        Life(240.0, 300.0),
        *[Life(300.0)] * 6,
    ]


def test_a_look_that_read_no_meter_lies_between_the_readings_about_it() -> None:
    unit = worn_unit()
    unsound = {"A1": "cracked", "A2": "missing", "B1": "debonded", "A3": "swollen"}
    unsound |= {"B2": "cracked", "B3": "cracked", "B6": "cracked"}
    at = month(5) + timedelta(days=10)
    count(unit.housing, unit.manager, unit.lot, unsound=unsound, at=at)
    # No later reading: the meter ran no faster than the clock, for ten days.
    assert Life(300.0, 300.0 + 240.0) in lives_of(unit)
    record_hours(
        submission_id=uuid.uuid4(),
        machine=unit.hammer,
        hours=450.0,
        read_at=at + timedelta(days=5),
        by=unit.manager,
    )
    assert Life(300.0, 350.0) in lives_of(unit)


def test_no_hours_run_while_the_housing_is_off_its_hammer() -> None:
    unit = worn_unit()
    other = HammerFactory(yard=unit.housing.yard)
    moved = month(5) + timedelta(days=1)
    for hours, at in ((5000.0, moved), (5040.0, moved + timedelta(days=9))):
        record_hours(
            submission_id=uuid.uuid4(), machine=other, hours=hours, read_at=at, by=unit.manager
        )
    record_hours(
        submission_id=uuid.uuid4(),
        machine=unit.hammer,
        hours=400.0,
        read_at=moved,
        by=unit.manager,
    )
    mount_housing(housing=unit.housing, hammer=other, at=moved, by=unit.manager)
    known = {"A1": "cracked", "A2": "missing", "B1": "debonded", "A3": "swollen"}
    known |= {"B2": "cracked", "B3": "cracked"}
    at = moved + timedelta(days=9)
    count(unit.housing, unit.manager, unit.lot, unsound=known, at=at)
    assert lives_of(unit).count(Life(340.0)) == 6


def test_another_lot_seen_with_no_replacement_on_record_is_another_pad() -> None:
    unit = rated_unit()
    other = PadLotFactory()
    count(unit.housing, unit.manager, other, at=MONDAY + timedelta(days=5))
    first, second = times_of(unit, "A", 1)
    assert (first.ending, first.lot_id) == (Ending.CHANGED, unit.lot.pk)
    assert (second.lot_id, second.fitted_at, second.is_in) == (other.pk, None, True)


def test_a_count_that_was_corrected_ends_no_pad() -> None:
    unit = rated_unit()
    wrong = count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound={"A1": "cracked"},
        at=MONDAY + timedelta(days=5),
    )
    assert times_of(unit, "A", 1)[0].ending is Ending.FAILED
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound={"A2": "cracked"},
        at=MONDAY + timedelta(days=5),
        correction=Correction("It was A2.", wrong.inspection),
    )
    assert times_of(unit, "A", 2)[0].ending is Ending.FAILED


def test_a_pad_a_second_look_calls_sound_with_no_new_one_is_in_doubt_and_left_out() -> None:
    unit = rated_unit(unsound={"A1": "cracked"})
    count(unit.housing, unit.manager, unit.lot, at=MONDAY + timedelta(days=5))
    [pad] = times_of(unit, "A", 1)
    assert pad.ending is Ending.DOUBTFUL
    own = lives_by_lot(pad_records([unit.housing.pk]), Since.SEEN)[unit.lot.pk]
    assert own.left_out[LeftOut.DOUBTFUL] == 1


def test_a_pad_of_a_hammer_whose_meter_was_never_read_is_left_out_and_said() -> None:
    unit = rated_unit(unsound={"A1": "cracked"})
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=days_ago(3))
    own = lives_by_lot(pad_records([unit.housing.pk]), Since.SEEN)[unit.lot.pk]
    assert own.left_out == {LeftOut.NO_HOURS: 7, LeftOut.FIRST_UNSOUND: 1}
    assert own.told.told is Told.NO_PADS


def test_the_page_of_a_unit_tells_every_pad(auditor_client: Client) -> None:
    unit = worn_unit()
    address = reverse("unit-pads", args=[unit.housing.pk])
    assert (
        f'href="{address}"'
        in auditor_client.get(reverse("unit", args=[unit.housing.pk])).content.decode()
    )
    page = words(auditor_client.get(address))
    assert "found cracked 2 Apr 2026, last known sound 3 Mar 2026; not replaced" in page
    assert "failed or taken out is not on record; not replaced" in page
    assert "taken out sound, 3 Mar 2026" in page
    assert "5 looks" in page


def test_the_page_of_a_lot_tells_its_life(auditor_client: Client) -> None:
    unit = worn_unit()
    address = reverse("lot-life", args=[unit.lot.pk])
    assert (
        f'href="{address}"'
        in auditor_client.get(reverse("lot", args=[unit.lot.pk])).content.decode()
    )
    page = words(auditor_client.get(address))
    assert "5 of 12 pads were found unsound; 7 were sound when last seen." in page
    assert "One in ten failed after" in page
    assert "12 pads: when it was fitted is not on record" in page


@pytest.mark.parametrize(
    ("unsound", "told"),
    [
        ({}, "None of 8 pads was found unsound"),
        ({"A1": "cracked"}, "1 of 8 pads was found unsound"),
    ],
)
def test_too_few_failures_are_said(
    unsound: dict[str, str], told: str, auditor_client: Client
) -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, at=MONDAY + timedelta(days=2), hours=100.0)
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound=unsound,
        at=MONDAY + timedelta(days=30),
        hours=180.0,
    )
    page = words(auditor_client.get(reverse("lot-life", args=[unit.lot.pk])))
    assert told in page
    assert "The life of a lot is told once 5 of its pads have failed." in page
    assert "No pad of it tells anything yet." in page


@pytest.mark.parametrize(
    ("lives", "told"),
    [
        ([Life(100.0 + 20 * each, 120.0 + 20 * each) for each in range(12)], "they fail oftener"),
        ([Life(hours, hours) for hours in (1, 1, 2, 5, 30, 300, 3000, 30000)], "less often"),
        ([Life(hours, hours) for hours in (20, 60, 120, 220, 400)], "can’t be told yet"),
    ],
)
def test_whether_pads_age_is_said_only_where_the_failures_tell_it(
    lives: list[Life], told: str
) -> None:
    assert told in ageing_words(lot_life(lives))
