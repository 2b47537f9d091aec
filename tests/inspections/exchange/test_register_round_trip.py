from __future__ import annotations

import uuid
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from itertools import zip_longest
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connection, transaction
from django.utils import timezone

from fleet import clock, together
from fleet.hours import record_meter_change, running_hours
from fleet.journal.scope import journaled_models
from fleet.machines.recording import connect_power_pack, fit_clamp
from fleet.models import (
    Hammer,
    HousingGuide,
    MachineSort,
    OutOfService,
    PadPosition,
    ShelfCount,
    SuppressorHousing,
)
from fleet.models.clamp import HELD_BY_COLUMN
from fleet.models.leaf import Leaf
from fleet.outages import take_out_of_service
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.submission import Submission
from inspections.exchange.incoming import take_register, try_register
from inspections.exchange.outgoing import register_rows, write_csvs, write_workbook
from inspections.exchange.reading import read_file
from inspections.exchange.rows import Row, parsed
from inspections.models import Inspection
from inspections.schedule.recording import add_kind
from inspections.service.recording import release_to_service
from ratings.bench.tested_pads import TestedPad, pads_of
from ratings.guides import record_guide
from ratings.models import (
    BenchTest,
    CurrentRating,
    GaugeCalibration,
    Listing,
    LotRating,
    ReferenceCheck,
)
from ratings.mounting import mount_housing
from tests.builders import (
    MONDAY,
    Unit,
    approve,
    bench_test,
    count,
    keep_level,
    list_hammer,
    qualified,
    rated_unit,
    receive,
)
from tests.conftest import append_only_lifted, empty_the_database
from tests.factories import (
    ClampFactory,
    GaugeFactory,
    HammerFactory,
    ManagerFactory,
    PadLotFactory,
    PowerPackFactory,
    TestStandFactory,
    ThermometerFactory,
)
from tests.stand_builders import OFF, calibrate, check_stand

Writer = Callable[[dict[str, Any]], bytes]


def story() -> Unit:
    """A unit with two lots, a repair and a later count."""
    unit = rated_unit(unsound={"A1": "cracked", "B2": "missing"})
    other = PadLotFactory()
    bench_test(other, unit.manager, rate_lbf_in=1200)
    receive(other, unit.manager, 6)
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=MONDAY + timedelta(days=1),
        pads=[PadFitted("A", 1, other.pk), PadFitted("B", 2, other.pk)],
        by=unit.manager,
        note="=HYPERLINK('x')",
    )
    return unit


def figures() -> dict[str, tuple[Any, ...]]:
    """How every unit stands, by its mark."""
    heads = CurrentRating.objects.select_related("head", "housing")
    return {
        head.housing.mark: (
            head.head.standing,
            head.head.pull_lbf,
            head.head.working_capacity_lbf,
            head.head.usable_travel_in,
            head.head.sound_pads,
        )
        for head in heads
    }


def emptied() -> User:
    """The same database with nothing in it but a manager."""
    empty_the_database(None)
    return ManagerFactory()


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(("name", "write"), [("r.xlsx", write_workbook), ("r.zip", write_csvs)])
def test_what_is_exported_imports_to_the_same_figures(name: str, write: Writer) -> None:
    story()
    before, file = figures(), write(register_rows())
    shelves = sorted(ShelfCount.objects.values_list("lot__mark", "pads"))
    manager = emptied()
    trial = take_register(parsed(read_file(name, file)), manager)
    assert not trial.refused
    for rating in LotRating.objects.order_by("pk"):
        approve(rating)
    assert figures() == before
    assert sorted(ShelfCount.objects.values_list("lot__mark", "pads")) == shelves


def everything_after_taking(rows: list[Row], by: User) -> dict[str, list[Any]]:
    """Return every row and every leaf that taking a register leaves, and keep none of it."""
    beside: list[type[Any]] = [Leaf, CurrentRating, PadPosition]
    with transaction.atomic():
        take_register(rows, by)
        found = {
            model._meta.label: list(model._default_manager.order_by("pk").values_list())
            for model in (*journaled_models(), *beside)
        }
        transaction.set_rollback(True)
    return found


@pytest.mark.django_db(transaction=True)
def test_rows_taken_together_leave_what_each_by_itself_leaves_to_the_last_leaf(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("its keys go on though what had them is undone")
    unit = story()
    other = HammerFactory(mark="HAM-other")
    housing, keeper = unit.housing, unit.manager
    mount_housing(housing=housing, hammer=other, at=MONDAY + timedelta(days=2), by=keeper)
    list_hammer(other, unit.manager, 90_000.0)
    list_hammer(other, unit.manager, 95_000.0, dated=date(2024, 1, 2))
    keep_level(unit.housing, unit.manager)
    count(unit.housing, unit.manager, unit.lot, at=MONDAY + timedelta(days=3))
    mount_housing(housing=housing, hammer=None, at=MONDAY + timedelta(days=4), by=keeper)
    sent = write_csvs(register_rows())
    by, rows = emptied(), parsed(read_file("register.zip", sent))
    with clock.set_to(timezone.now()):
        taken = everything_after_taking(rows, by)
        assert len(taken["fleet.Leaf"]) > 20
        assert len(taken["ratings.LedgerEntry"]) > 2

        def saved(record: Any, save: Callable[[], object], **_: Any) -> None:
            record.full_clean()
            save()

        monkeypatch.setattr(together, "recorded_together", nullcontext)
        for module in ("inspections.exchange.acts", "fleet.machines.recording"):
            monkeypatch.setattr(f"{module}.save_held", saved)
        alone = everything_after_taking(rows, by)
    for name, of_table in alone.items():
        differing = [pair for pair in zip_longest(taken[name], of_table) if pair[0] != pair[1]]
        assert differing[:1] == [], name


@pytest.mark.django_db(transaction=True)
def test_clamps_and_power_packs_come_along_with_the_hammers_they_were_on() -> None:
    manager, hammer, other = ManagerFactory(), HammerFactory(), HammerFactory()
    clamp = ClampFactory(
        yard=hammer.yard, weight_lb=0.0, clamp_force_lbf=250_000.5, figures_source="=Plate"
    )
    unseen = ClampFactory(
        yard=hammer.yard, **dict.fromkeys(HELD_BY_COLUMN), retired_on=date(2026, 9, 1)
    )
    pack = PowerPackFactory(yard=hammer.yard, flow_gpm=110.4, figures_source="Plate")
    for day, what, where in ((0, unseen, hammer), (1, clamp, hammer), (2, clamp, other)):
        at = MONDAY + timedelta(days=day)
        fit_clamp(clamp=what, hammer=where, at=at, by=manager)
    fit_clamp(clamp=clamp, hammer=None, at=MONDAY + timedelta(days=3), by=manager)
    connect_power_pack(power_pack=pack, hammer=other, at=MONDAY, by=manager)
    before, file = register_rows(), write_csvs(register_rows())
    again = emptied()
    trial = take_register(parsed(read_file("r.zip", file)), again)
    assert not trial.refused
    for table in ("clamps", "power_packs", "clamp_fittings", "power_pack_connections"):
        assert register_rows()[table] == before[table]
    assert take_register(parsed(read_file("r.zip", file)), again).news == 0


@pytest.mark.django_db(transaction=True)
def test_the_pads_of_a_bench_test_come_along() -> None:
    unit = rated_unit()
    pads = (
        TestedPad(1, mark="=K; 7", origin="new", fate="put back"),
        TestedPad(
            3,
            origin="from service",
            housing=unit.housing,
            side="B",
            position=2,
            hours=812.5,
            fate="scrapped",
        ),
    )
    bench_test(PadLotFactory(), unit.manager, pads=pads, pads_in_test=3)
    file = write_csvs(register_rows())
    manager = emptied()
    assert not take_register(parsed(read_file("r.zip", file)), manager).refused
    came = pads_of(BenchTest.objects.get(pads_in_test=3))
    assert came == (pads[0], replace(pads[1], housing=SuppressorHousing.objects.get()))


@pytest.mark.django_db(transaction=True)
def test_certificates_and_checks_come_along_and_tests_are_reduced_by_them_again() -> None:
    unit = rated_unit()
    gauge = GaugeFactory(calibrated_on=date(2026, 1, 2), certificate_number="")
    calibrate(gauge, unit.manager, on=date(2026, 2, 1), points=OFF, serial_number="SN 1")
    stand, thermometer = TestStandFactory(bore_measured_on=date(2026, 1, 1)), ThermometerFactory()
    check = check_stand(stand, unit.manager, gauge=gauge, rate_lbf_in=520.0, temperature_f=61.0)
    lot = PadLotFactory()
    made = bench_test(
        lot, unit.manager, stand=stand, gauge=gauge, thermometer=thermometer, rate_lbf_in=1100
    )
    calibrate(gauge, unit.manager, on=date(2026, 6, 1), serial_number="SN 1")
    file, correction = write_csvs(register_rows()), made.test.gauge_correction
    manager = emptied()
    for _ in range(2):
        assert not take_register(parsed(read_file("r.zip", file)), manager).refused
        assert GaugeCalibration.objects.count() == 3
    came = BenchTest.objects.get(lot__mark=lot.mark)
    assert came.gauge_correction == correction
    assert came.thermometer is not None
    assert came.bore_measured_on == date(2026, 1, 1)
    again = ReferenceCheck.objects.get()
    assert (again.rate_lbf_in, again.own_lbf_in) == (check.rate_lbf_in, check.own_lbf_in)
    assert again.temperature_f == 61.0
    first, second, third = GaugeCalibration.objects.order_by("calibrated_on")
    assert (first.points, second.is_found_off, third.is_found_off) == ([], True, False)
    assert third.drift_psi is not None


@pytest.mark.django_db(transaction=True)
def test_a_meter_that_was_changed_and_a_kind_of_the_yards_own_come_along() -> None:
    unit = rated_unit()
    kind = add_kind(
        submission_id=uuid.uuid4(),
        name="oil change",
        looks_at=[MachineSort.HAMMER],
        by=unit.manager,
    )
    read = partial(count, unit.housing, unit.manager, unit.lot)
    read(at=MONDAY + timedelta(days=2), hours=5120.0)
    record_meter_change(
        submission_id=uuid.uuid4(),
        hammer=unit.hammer,
        changed_at=MONDAY + timedelta(days=3),
        old_hours=5121.0,
        new_hours=0.0,
        reason="Glass broken",
        by=unit.manager,
    )
    read(at=MONDAY + timedelta(days=4), hours=6.0, kind=kind.name)
    file = write_workbook(register_rows())
    manager = emptied()
    assert not take_register(parsed(read_file("r.xlsx", file)), manager).refused
    assert running_hours([Hammer.objects.get().pk])[Hammer.objects.get().pk].now == 5127.0
    assert Inspection.objects.latest("seen_at").kind_name == "oil change"


@pytest.mark.django_db(transaction=True)
def test_a_unit_out_of_service_stays_out_and_one_released_stays_released() -> None:
    out, back = rated_unit(), rated_unit()
    for unit in (out, back):
        take_out_of_service(
            submission_id=uuid.uuid4(),
            machine=unit.housing,
            since=MONDAY + timedelta(days=1),
            reason="Yoke cracked",
            by=unit.manager,
        )
    count(back.housing, back.manager, back.lot, at=MONDAY + timedelta(days=2))
    release_to_service(
        machine=back.housing,
        at=MONDAY + timedelta(days=3),
        reason="Welded",
        qualified_person=qualified("Hale Winter"),
        by=back.manager,
    )
    file = write_workbook(register_rows())
    manager = emptied()
    qualified()
    assert not take_register(parsed(read_file("r.xlsx", file)), manager).refused
    still_out = OutOfService.objects.get(released_at__isnull=True)
    assert still_out.machine.mark == out.housing.mark
    released = OutOfService.objects.get(released_at__isnull=False)
    assert (released.machine.mark, released.qualified_person) == (back.housing.mark, "Hale Winter")


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(("name", "write"), [("r.xlsx", write_workbook), ("r.zip", write_csvs)])
def test_what_was_said_of_guides_comes_along_but_for_what_was_corrected(
    name: str, write: Writer
) -> None:
    unit = rated_unit(is_guided=False)
    say = partial(record_guide, housing=unit.housing, by=unit.manager)
    said = MONDAY + timedelta(days=3)
    wrong = say(submission_id=uuid.uuid4(), is_guided=True, reason="Rods", occurred_at=said)
    say(
        submission_id=uuid.uuid4(),
        is_guided=False,
        reason="=rods bent",
        occurred_at=MONDAY,
        corrects=wrong,
    )
    file = write(register_rows())
    manager = emptied()
    assert not take_register(parsed(read_file(name, file)), manager).refused
    guide = HousingGuide.objects.get()
    assert (guide.is_guided, guide.reason, guide.occurred_at) == (False, "=rods bent", MONDAY)
    assert guide.housing.mark == unit.housing.mark
    assert take_register(parsed(read_file(name, file)), manager).count("new") == 0


@pytest.mark.django_db(transaction=True)
def test_the_listing_in_force_stays_in_force_whatever_day_its_source_bears() -> None:
    unit = rated_unit(listed_lbf=90_000)
    list_hammer(unit.hammer, unit.manager, 60_000, dated=date(2024, 1, 1))
    wrong = list_hammer(unit.hammer, unit.manager, 50_000, dated=date(2010, 1, 1))
    list_hammer(unit.hammer, unit.manager, 51_000, dated=date(2010, 1, 1), corrects=wrong)
    file = write_workbook(register_rows())
    manager = emptied()
    take_register(parsed(read_file("r.xlsx", file)), manager)
    hammer = Hammer.objects.get()
    assert Listing.objects.in_force_by_hammer([hammer.pk])[hammer.pk].listed_lbf == 51_000


@pytest.mark.django_db(transaction=True)
def test_a_unit_taken_out_again_at_the_moment_it_came_back_is_taken_in() -> None:
    unit = rated_unit()
    before: dict[str, Any] = {"machine": unit.housing, "by": unit.manager}
    back = MONDAY + timedelta(days=3)
    take_out_of_service(
        submission_id=uuid.uuid4(), since=MONDAY + timedelta(days=1), reason="Cracked", **before
    )
    count(unit.housing, unit.manager, unit.lot, at=MONDAY + timedelta(days=2))
    release_to_service(
        at=back, reason="Welded", qualified_person=qualified("Hale Winter"), **before
    )
    take_out_of_service(submission_id=uuid.uuid4(), since=back, reason="Cracked again", **before)
    file = write_workbook(register_rows())
    manager = emptied()
    qualified()
    assert not take_register(parsed(read_file("r.xlsx", file)), manager).refused
    assert OutOfService.objects.get(released_at__isnull=True).reason == "Cracked again"


@pytest.mark.django_db
def test_importing_twice_changes_nothing() -> None:
    unit = story()
    rows = parsed(read_file("r.xlsx", write_workbook(register_rows())))
    trial = take_register(rows, unit.manager)
    assert trial.count("new") == 0
    assert not trial.refused


@pytest.mark.django_db
def test_a_trial_keeps_nothing() -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, at=MONDAY + timedelta(days=2))
    file = write_workbook(register_rows())
    many = Inspection.objects.count()
    with append_only_lifted():
        Inspection.objects.latest("pk").pads.all().delete()
        Inspection.objects.latest("pk").delete()
    trial = try_register(parsed(read_file("r.xlsx", file)), unit.manager)
    assert trial.count("new") == 1
    assert Inspection.objects.count() == many - 1
