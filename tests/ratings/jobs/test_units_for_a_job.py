"""What the extraction check is told of each unit."""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone
from django.utils.timezone import localdate
from pytest_django import DjangoAssertNumQueries

from fleet.dates import days_words
from fleet.machines.recording import fit_clamp
from fleet.outages import take_out_of_service
from inspections.count.signing import Correction, Seen, sign_inspection
from inspections.count.submission import Submission
from ratings.jobs import candidates as rated_pads
from ratings.jobs.candidates import Candidate, candidates, units_on_hammers, with_records
from ratings.jobs.commitments import release_unit
from ratings.mechanics.extraction.supply import capacity_lbf
from ratings.mechanics.standing import Standing
from ratings.mechanics.unit_rating import Policy
from ratings.models import CurrentRating
from ratings.mounting import mount_housing
from ratings.policy import change_policy
from tests.builders import Unit, count, days_ago, pads, rated_unit
from tests.factories import DispatcherFactory, HammerFactory, HousingFactory, PadLotFactory
from tests.job_builders import FIGURES, commit, extraction_job, figured_unit, fitted_clamp

pytestmark = pytest.mark.django_db


def day() -> date:
    return localdate() + timedelta(days=2)


def of(unit: Unit, **more: Any) -> Candidate:
    asked = {"first_day": day(), "last_day": day()} | more
    return next(each for each in candidates(**asked) if each.housing == unit.housing)


def test_a_unit_comes_with_the_figures_on_record() -> None:
    unit = figured_unit()
    found = of(unit)
    assert found.hammer == unit.hammer
    assert {name: getattr(found.unit, name) for name in FIGURES} == FIGURES
    assert found.unit.housing_weight_lb == 4000.0
    assert found.unit.standing is Standing.MEETS_LISTING


def test_its_pads_give_the_working_capacity_of_its_rating() -> None:
    found = of(figured_unit())
    assert found.entry is not None
    assert found.unit.usable_travel_in == found.entry.usable_travel_in == 6.0
    assert capacity_lbf(found.unit, 6.0) == pytest.approx(
        found.entry.working_capacity_lbf, rel=1e-12
    )


def test_a_housing_on_no_hammer_is_no_unit() -> None:
    HousingFactory()
    HammerFactory()
    assert candidates(day(), day()) == []


def test_a_housing_moved_comes_with_the_hammer_it_is_on_now() -> None:
    unit, other = figured_unit(), HammerFactory()
    mount_housing(housing=unit.housing, hammer=other, at=timezone.now(), by=unit.manager)
    assert of(unit).hammer == other
    assert len(candidates(day(), day())) == 1


def test_a_housing_never_counted_is_unrated() -> None:
    housing, hammer = HousingFactory(), HammerFactory()
    mount_housing(housing=housing, hammer=hammer, at=timezone.now(), by=figured_unit().manager)
    found = next(each for each in candidates(day(), day()) if each.housing == housing)
    assert found.unit.standing is Standing.UNRATED
    assert found.unit.usable_travel_in is None
    assert found.unit.days_since_count is None


def test_pads_without_a_rate_carry_nothing() -> None:
    unit, unrated = figured_unit(), PadLotFactory()
    count(unit.housing, unit.manager, unrated, at=timezone.now())
    assert of(unit).unit.groups == ()


def test_days_since_the_last_inspection_run_to_the_first_day() -> None:
    unit = figured_unit()
    assert of(unit).unit.days_since_count == 2
    assert of(unit, first_day=localdate() - timedelta(days=9)).unit.days_since_count == 0


@pytest.mark.parametrize(
    "seen",
    [
        {"note": "Walked past it."},
        {"hours": 12.0},
        {"travel_in": 6.0},
        {"pads": True},
    ],
    ids=["a bare note", "a meter reading", "a travel and no pad", "pads and no travel"],
)
def test_an_inspection_that_is_no_full_count_leaves_a_unit_overdue(seen: dict[str, Any]) -> None:
    unit = rated_unit()
    old = days_ago(60)
    count(unit.housing, unit.manager, unit.lot, at=old)
    counted = pads(unit.housing, unit.lot) if seen.pop("pads", False) else []
    sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(seen_at=timezone.now(), pads=counted, **seen),
        by=unit.manager,
    )
    found = of(unit)
    assert found.unit.days_since_count == 62
    assert found.looked_at_later_on == timezone.localdate()


def test_a_unit_looked_at_last_when_it_was_counted_in_full_has_no_second_day() -> None:
    assert of(figured_unit()).looked_at_later_on is None


def test_an_inspection_corrected_since_does_not_count() -> None:
    unit = figured_unit()
    wrong = unit.housing.inspections.latest("pk")
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        at=days_ago(40),
        correction=Correction("It was the month before.", wrong),
    )
    assert of(unit).unit.days_since_count == 42


def test_a_unit_out_of_service_says_why() -> None:
    unit = figured_unit()
    assert of(unit).unit.out_of_service == ""
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unit.housing,
        since=timezone.now(),
        reason="Cracked weld.",
        by=unit.manager,
    )
    assert of(unit).unit.out_of_service == "Cracked weld."


def test_a_unit_held_on_any_of_the_days_says_by_what() -> None:
    unit = figured_unit()
    made = commit(unit, extraction_job(first_day=day(), days=3, site="Lock gate"))
    days = days_words(day(), day() + timedelta(days=2))
    assert of(unit).unit.committed == f"Lock gate, {days}"
    assert of(unit, leave_out_job=made.job_id).unit.committed == ""
    after = day() + timedelta(days=3)
    assert of(unit, first_day=after, last_day=after).unit.committed == ""
    release_unit(commitment=made, reason="Rained off.", by=DispatcherFactory())
    assert of(unit).unit.committed == ""


def test_a_unit_whose_hammer_is_held_under_another_housing_is_held() -> None:
    unit, other = figured_unit(), figured_unit()
    commit(unit, extraction_job(first_day=day(), site="Lock gate"))
    mount_housing(housing=other.housing, hammer=unit.hammer, at=timezone.now(), by=unit.manager)
    assert of(other).unit.committed.startswith("Lock gate, ")


def test_the_distance_is_that_of_the_yard_the_housing_is_at() -> None:
    unit, other = figured_unit(), figured_unit()
    distances = {unit.housing.yard_id: 120.0}
    assert of(unit, distances=distances).unit.distance_mi == 120.0
    assert of(other, distances=distances).unit.distance_mi is None


def test_a_rate_gone_stale_is_named_though_the_ledger_does_not_say_so_yet(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit = figured_unit()
    assert of(unit).unit.stale_lots == ()
    later = timezone.now() + timedelta(days=4000)
    monkeypatch.setattr("ratings.jobs.candidates.clock.now", lambda: later)
    assert of(unit).unit.stale_lots == (unit.lot.mark,)


def test_a_stale_rate_that_the_policy_drops_carries_nothing() -> None:
    unit = figured_unit()
    change_policy(
        submission_id=uuid.uuid4(),
        policy=Policy(rate_valid_days=1, stale_rates="drop"),
        reason="Old rates.",
        by=unit.manager,
    )
    found = of(unit)
    assert found.unit.groups == ()
    assert found.unit.stale_lots == (unit.lot.mark,)


def test_the_clamp_fitted_today_is_the_unit_s() -> None:
    unit = figured_unit()
    found = of(unit)
    assert found.clamp is not None
    assert (found.unit.clamp_weight_lb, found.unit.clamp_force_lbf) == (2_000.0, 250_000.0)
    other = fitted_clamp(unit, weight_lb=3_100.0, clamp_force_lbf=180_000.0)
    found = of(unit)
    assert found.clamp == other
    assert (found.unit.clamp_weight_lb, found.unit.clamp_force_lbf) == (3_100.0, 180_000.0)


def test_with_no_clamp_fitted_its_figures_are_not_known() -> None:
    unit = figured_unit()
    clamp = of(unit).clamp
    assert clamp is not None
    fit_clamp(clamp=clamp, hammer=None, at=timezone.now(), by=unit.manager)
    found = of(unit)
    assert (found.clamp, found.unit.clamp_weight_lb, found.unit.clamp_force_lbf) == (None,) * 3


def test_they_take_as_many_queries_for_six_units_as_for_two(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    for _ in range(2):
        figured_unit()
    candidates(day(), day())
    with django_assert_num_queries(12):
        assert len(candidates(day(), day())) == 2
    for _ in range(4):
        figured_unit()
    # One more, for the documents of entries not read before.
    with django_assert_num_queries(13):
        assert len(candidates(day(), day())) == 6
    with django_assert_num_queries(12):
        assert len(candidates(day(), day())) == 6


def test_the_entry_beside_a_unit_is_the_one_it_is_judged_by() -> None:
    unit = figured_unit()
    judged = units_on_hammers(day(), day())
    count(unit.housing, unit.manager, unit.lot, travel_in=5.0, at=timezone.now())
    (found,) = with_records(judged)
    assert found.entry is not None
    assert found.entry.pk == judged[0].entry
    assert found.entry != CurrentRating.objects.get(housing=unit.housing).head


def test_many_entries_not_read_before_still_take_one_query(
    django_assert_num_queries: DjangoAssertNumQueries, monkeypatch: pytest.MonkeyPatch
) -> None:
    for _ in range(3):
        figured_unit()
    monkeypatch.setattr(rated_pads, "MOST_ASKED_BY_HASH", 2)
    with django_assert_num_queries(13):
        assert all(each.unit.groups for each in candidates(day(), day()))


def test_no_more_entries_are_kept_in_mind_than_the_most(monkeypatch: pytest.MonkeyPatch) -> None:
    for _ in range(3):
        figured_unit()
    monkeypatch.setattr(rated_pads, "MOST_KEPT", 2)
    for _ in range(2):
        assert all(each.unit.groups for each in candidates(day(), day()))
    assert len(rated_pads._kept) == 2


def test_an_entry_read_once_is_not_read_again() -> None:
    unit = figured_unit()
    first = of(unit).unit.groups
    assert of(unit).unit.groups is first
