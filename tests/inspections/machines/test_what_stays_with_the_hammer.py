"""What belongs to a machine stays with it, whatever it hangs on."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.hours import record_hours, running_hours
from fleet.machines.recording import connect_power_pack, fit_clamp
from fleet.models import Hammer, HourReading, MachineSort, OutOfService, SuppressorHousing
from fleet.outages import outages_of_unit, take_out_of_service
from inspections.count.findings import FoundFault, Observations
from inspections.count.signing import Correction, Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.models import Finding, Inspection, MovedRecords
from inspections.schedule.due import due_of_fleet, due_of_machine
from inspections.schedule.intervals import Row
from inspections.schedule.recording import add_kind, change_schedule
from inspections.service.recording import release_to_service
from ratings.hours import correct_hours
from ratings.jobs.candidates import counted_on
from ratings.mounting import mount_housing
from tests.builders import Unit, count, days_ago, pads, qualified, rated_unit
from tests.factories import ClampFactory, HammerFactory, ManagerFactory, PowerPackFactory
from tests.inspections.field.sent import signed_in
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def scheduled(unit: Unit) -> None:
    """Have an oil change of the hammer due each 90 days."""
    add_kind(
        submission_id=uuid.uuid4(),
        name="oil change",
        looks_at=[MachineSort.HAMMER],
        by=unit.manager,
    )
    rows = [Row("oil change", 90, None, "a fitter", "yard rule")]
    change_schedule(submission_id=uuid.uuid4(), rows=rows, reason="Oil.", by=unit.manager)


def inspected(at: datetime, kind: str = "pad count", *, by: Any = None, **more: Any) -> Inspection:
    """Sign an inspection of a unit or a machine that noted one thing."""
    findings = more.pop("findings", ())
    figures = {name: more.pop(name) for name in ("hours", "pack_hours") if name in more}
    return sign_inspection(
        submission=Submission(uuid.uuid4()),
        seen=Seen(
            seen_at=at,
            pads=(),
            note="Looked at.",
            kind=kind,
            observations=Observations(findings=findings),
            **figures,
        ),
        by=by or ManagerFactory(),
        **more,
    ).inspection


def last_made(machine: Any, kind: str = "oil change") -> Any:
    """The day a kind was last made at a machine; None where it never was."""
    [found] = [each for each in due_of_machine(machine).kinds if each.row.kind == kind]
    return found.last.day if found.last else None


def day(at: datetime) -> Any:
    return timezone.localtime(at).date()


def move(housing: SuppressorHousing, hammer: Hammer | None, at: datetime) -> None:
    mount_housing(housing=housing, hammer=hammer, at=at, by=ManagerFactory())


def test_a_housing_is_moved_without_losing_an_oil_change() -> None:
    unit, other = rated_unit(), HammerFactory()
    scheduled(unit)
    inspected(days_ago(20), "oil change", housing=unit.housing)
    move(unit.housing, other, days_ago(10))
    assert last_made(unit.hammer) == day(days_ago(20))
    assert last_made(other) is None
    units = {each.name: each for each in due_of_fleet()}
    assert not units[unit.hammer.mark].overdue
    assert units[f"{unit.housing} on {other}"].overdue[0].row.kind == "oil change"


def test_an_open_finding_and_an_outage_of_the_hammer_stay_with_it() -> None:
    unit, other = rated_unit(), HammerFactory()
    hose = FoundFault(1, "stop", "Hose chafed", act_by=day(days_ago(0)), who_acts="Kay")
    inspected(days_ago(20), housing=unit.housing, findings=[hose])
    assert [each.machine for each in outages_of_unit(unit.housing)] == [unit.hammer]
    move(unit.housing, other, days_ago(10))
    assert outages_of_unit(unit.housing) == []
    assert not Finding.objects.open().of_units([unit.housing.pk]).exists()
    assert Finding.objects.open().of(unit.hammer).get().text == "Hose chafed"


def test_the_gate_of_extraction_goes_by_the_older_of_count_and_hammer() -> None:
    unit, other = rated_unit(), HammerFactory()
    inspected(days_ago(40), machine=other)
    count(unit.housing, unit.manager, unit.lot, at=days_ago(5))
    asked = SuppressorHousing.objects.filter(pk=unit.housing.pk)
    assert counted_on(asked.with_last_seen().get()) == day(days_ago(5))
    move(unit.housing, other, days_ago(2))
    assert counted_on(asked.with_last_seen().get()) == day(days_ago(40))


def test_a_hammer_never_inspected_shuts_the_gate() -> None:
    unit = rated_unit()
    move(unit.housing, HammerFactory(), days_ago(2))
    asked = SuppressorHousing.objects.filter(pk=unit.housing.pk)
    assert counted_on(asked.with_last_seen().get()) is None


def test_an_inspection_signed_late_counts_for_the_hammer_of_its_time() -> None:
    unit, other = rated_unit(), HammerFactory()
    scheduled(unit)
    move(unit.housing, other, days_ago(10))
    late = inspected(days_ago(12), "oil change", housing=unit.housing)
    assert late.hammer == unit.hammer
    assert last_made(other) is None


def test_a_correction_after_a_move_stays_with_the_hammer_of_its_time() -> None:
    unit, other = rated_unit(), HammerFactory()
    scheduled(unit)
    wrong = inspected(days_ago(20), "oil change", housing=unit.housing)
    move(unit.housing, other, days_ago(10))
    right = inspected(
        days_ago(19),
        "oil change",
        housing=unit.housing,
        correction=Correction("A day later.", wrong),
    )
    assert right.hammer == unit.hammer
    assert last_made(unit.hammer) == day(days_ago(19))


def test_a_clamp_changed_between_is_looked_at_only_while_it_is_there() -> None:
    unit, first, second = rated_unit(), ClampFactory(), ClampFactory()
    fit_clamp(clamp=first, hammer=unit.hammer, at=days_ago(30), by=unit.manager)
    count(unit.housing, unit.manager, unit.lot, at=days_ago(20), kind="monthly")
    fit_clamp(clamp=second, hammer=unit.hammer, at=days_ago(10), by=unit.manager)
    assert last_made(first, "monthly") == day(days_ago(20))
    assert last_made(second, "monthly") is None
    [unit_due] = [each for each in due_of_fleet() if each.housing == unit.housing]
    [monthly] = [each for each in unit_due.kinds if each.row.kind == "monthly"]
    assert (monthly.machine, monthly.is_overdue) == (f"clamp {second}", True)


def test_a_hammer_never_mounted_is_inspected_found_wrong_taken_out_and_released() -> None:
    hammer, by = HammerFactory(), ManagerFactory()
    seized = FoundFault(1, "stop", "Bearing seized", act_by=day(days_ago(0)), who_acts="Kay")
    inspection = inspected(days_ago(9), machine=hammer, by=by, findings=[seized])
    assert (inspection.hammer, inspection.housing) == (hammer, None)
    assert OutOfService.objects.open().of(hammer).count() == 1
    found = Finding.objects.get()
    assert found.machine == hammer
    release: dict[str, Any] = {
        "machine": hammer,
        "at": days_ago(1),
        "reason": "New bearing",
        "qualified_person": qualified(),
        "by": by,
    }
    with pytest.raises(ValidationError, match="inspect it"):
        release_to_service(**release)
    inspected(days_ago(5), machine=hammer, by=by)
    with pytest.raises(ValidationError, match="still open"):
        release_to_service(**release)


def test_two_housings_that_change_hammers_on_one_day_leave_each_its_own() -> None:
    one, two = rated_unit(), rated_unit()
    scheduled(one)
    inspected(days_ago(20), "oil change", housing=one.housing)
    inspected(days_ago(15), "oil change", housing=two.housing)
    noon = days_ago(10)
    move(one.housing, None, noon)
    move(two.housing, one.hammer, noon + timedelta(minutes=5))
    move(one.housing, two.hammer, noon + timedelta(minutes=10))
    assert last_made(one.hammer) == day(days_ago(20))
    assert last_made(two.hammer) == day(days_ago(15))
    after = inspected(noon + timedelta(minutes=20), "oil change", housing=one.housing)
    assert after.hammer == two.hammer


def test_a_mounting_recorded_after_the_inspection_puts_it_to_the_hammer_of_then() -> None:
    unit, other = rated_unit(), HammerFactory()
    scheduled(unit)
    hose = FoundFault(1, "mend", "Hose chafed", act_by=day(days_ago(0)), who_acts="Kay")
    made = inspected(days_ago(5), "oil change", housing=unit.housing, findings=[hose])
    assert made.hammer == unit.hammer
    move(unit.housing, other, days_ago(8))
    made.refresh_from_db()
    assert made.hammer == other
    assert (last_made(unit.hammer), last_made(other)) == (None, day(days_ago(5)))
    assert Finding.objects.get().machine == other
    [posted] = MovedRecords.objects.of(other)
    assert (posted.inspections, posted.unit) == ([made.pk], unit.housing)


def test_a_housing_runs_the_hours_of_each_hammer_while_it_hangs_there() -> None:
    unit, other = rated_unit(), HammerFactory()
    count(unit.housing, unit.manager, unit.lot, at=days_ago(20), kind="monthly", hours=1000.0)
    record_hours(
        submission_id=uuid.uuid4(),
        machine=unit.hammer,
        hours=1060.0,
        read_at=days_ago(10),
        by=unit.manager,
    )
    move(unit.housing, other, days_ago(10))
    for hours, at in ((500.0, days_ago(10)), (540.0, days_ago(2))):
        record_hours(
            submission_id=uuid.uuid4(), machine=other, hours=hours, read_at=at, by=unit.manager
        )
    [monthly] = [each for each in due_of_machine(unit.housing).kinds if each.row.kind == "monthly"]
    # 60 h on the first hammer and 40 h on the second, of 250 h.
    assert monthly.hours_left == 150.0


def test_a_kind_by_hours_is_refused_without_them_at_their_field() -> None:
    unit = rated_unit()
    with pytest.raises(ValidationError, match="read the meter of hammer") as refusal:
        inspected(days_ago(1), "monthly", housing=unit.housing)
    assert set(refusal.value.message_dict) == {"hours"}
    assert inspected(days_ago(1), "monthly", housing=unit.housing, hours=100.0).hour_reading


def test_a_power_pack_by_itself_needs_its_own_hours() -> None:
    pack = PowerPackFactory()
    with pytest.raises(ValidationError, match="read the meter of power pack"):
        inspected(days_ago(1), "monthly", machine=pack)
    read = inspected(days_ago(1), "monthly", machine=pack, pack_hours=70.0)
    assert read.pack_hour_reading is not None
    assert running_hours([pack.pk], MachineSort.POWER_PACK)[pack.pk].now == 70.0


def test_a_kind_by_hours_asks_for_those_of_a_pack_whose_meter_was_read() -> None:
    unit, pack = rated_unit(), PowerPackFactory()
    connect_power_pack(power_pack=pack, hammer=unit.hammer, at=days_ago(9), by=unit.manager)
    given: dict[str, Any] = {"housing": unit.housing, "hours": 100.0}
    # Nobody ever read it: nothing is known of its hours, and a common kind asks for none.
    assert inspected(days_ago(5), "monthly", **given).pack_hour_reading is None
    inspected(days_ago(4), "monthly", pack_hours=50.0, **given)
    with pytest.raises(ValidationError, match="read the meter of power pack") as refusal:
        inspected(days_ago(3), "monthly", **given)
    assert set(refusal.value.message_dict) == {"pack_hours"}


def test_a_kind_of_the_yards_own_by_hours_of_packs_asks_for_them_at_once() -> None:
    unit, pack = rated_unit(), PowerPackFactory()
    connect_power_pack(power_pack=pack, hammer=unit.hammer, at=days_ago(9), by=unit.manager)
    add_kind(
        submission_id=uuid.uuid4(),
        name="filter change",
        looks_at=[MachineSort.POWER_PACK],
        by=unit.manager,
    )
    rows = [Row("filter change", None, 500.0, "a fitter", "yard rule")]
    change_schedule(submission_id=uuid.uuid4(), rows=rows, reason="Filters.", by=unit.manager)
    with pytest.raises(ValidationError, match="read the meter of power pack"):
        inspected(days_ago(3), "filter change", housing=unit.housing)
    read = inspected(days_ago(3), "filter change", housing=unit.housing, pack_hours=20.0)
    assert read.pack_hour_reading is not None


def test_hours_entered_by_themselves_are_put_right_by_a_later_record() -> None:
    unit = rated_unit()
    read: dict[str, Any] = {"machine": unit.hammer, "read_at": days_ago(1), "by": unit.manager}
    wrong = read | {"submission_id": uuid.uuid4(), "hours": 900.0}
    right = read | {"submission_id": uuid.uuid4(), "hours": 90.0}
    reading = record_hours(**wrong)
    assert record_hours(**wrong) == reading
    with pytest.raises(ValidationError, match="below"):
        record_hours(**right)
    del right["machine"]
    correct_hours(**right, corrects=reading)
    assert running_hours([unit.hammer.pk])[unit.hammer.pk].now == 90.0
    assert HourReading.objects.count() == 2


def test_a_unit_is_out_where_any_of_its_machines_is() -> None:
    unit, clamp = rated_unit(), ClampFactory()
    fit_clamp(clamp=clamp, hammer=unit.hammer, at=days_ago(9), by=unit.manager)
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=clamp,
        since=days_ago(3),
        reason="Jaw cracked",
        by=unit.manager,
    )
    assert [each.machine for each in outages_of_unit(unit.housing)] == [clamp]
    fit_clamp(clamp=clamp, hammer=None, at=days_ago(1), by=unit.manager)
    assert outages_of_unit(unit.housing) == []


def test_pads_of_a_machine_by_itself_are_refused() -> None:
    unit = rated_unit()
    with pytest.raises(ValidationError, match="no pads"):
        sign_inspection(
            machine=unit.hammer,
            submission=Submission(uuid.uuid4()),
            seen=Seen(seen_at=days_ago(1), pads=pads(unit.housing, unit.lot)),
            by=unit.manager,
        )


def test_the_page_of_a_move_says_what_goes_and_what_stays(manager_client: Client) -> None:
    unit = rated_unit()
    hose = FoundFault(1, "mend", "Hose chafed", act_by=day(days_ago(0)), who_acts="Kay")
    torn = FoundFault(2, "mend", "Pad A1 torn", act_by=day(days_ago(0)), who_acts="Kay")
    inspected(days_ago(5), housing=unit.housing, findings=[hose, torn])
    text = words(manager_client.get(reverse("mounting", args=[unit.housing.pk])))
    goes, stays = text.split("Stays behind")
    assert "“Pad A1 torn”" in goes.split("Goes with it")[1]
    assert "“Hose chafed”" in stays


def test_the_page_of_a_machine_shows_what_is_its_own(manager_client: Client) -> None:
    unit = rated_unit()
    hose = FoundFault(1, "mend", "Hose chafed", act_by=day(days_ago(0)), who_acts="Kay")
    inspected(days_ago(5), housing=unit.housing, findings=[hose])
    pages = {
        "hammer": manager_client.get(reverse("machine-page", args=["hammer", unit.hammer.pk])),
        "housing": manager_client.get(reverse("machine-page", args=["housing", unit.housing.pk])),
    }
    assert "Hose chafed" in words(pages["hammer"])
    assert "Hose chafed" not in words(pages["housing"])


def test_the_meters_of_a_yard_are_recorded_all_or_none(manager_client: Client) -> None:
    hammer, pack = HammerFactory(), PowerPackFactory()
    page, at = reverse("read-meters"), timezone.localtime(days_ago(1)).strftime("%Y-%m-%dT%H:%M")
    form = {"submission_id": str(uuid.uuid4()), "read_at": at, f"hammer_{hammer.pk}": "120"}
    refused = manager_client.post(page, form | {f"power_pack_{pack.pk}": "many"})
    assert "many" in words(refused)
    assert not HourReading.objects.exists()
    for _ in range(2):
        manager_client.post(page, form | {f"power_pack_{pack.pk}": "70"})
    assert sorted(HourReading.objects.values_list("hours", flat=True)) == [70.0, 120.0]


def test_a_hammer_is_inspected_by_the_form_of_it_alone(manager_client: Client) -> None:
    hammer = HammerFactory()
    page = reverse("inspect-machine", args=["hammer", hammer.pk]) + "?kind=each shift"
    items = [
        name.removeprefix("state-")
        for name in manager_client.get(page).context["form"].fields
        if name.startswith("state-")
    ]
    assert items == ["bolts-look", "hoses-look", "guards-on"]
    form = {
        "submission_id": str(uuid.uuid4()),
        "seen_at": timezone.localtime(days_ago(1)).strftime("%Y-%m-%dT%H:%M"),
        "severity": "stop",
        "who_acts": "Kay",
        "act_by": str(day(days_ago(0))),
        **{f"state-{key}": "done" for key in items},
    }
    wrong = form | {"state-hoses-look": "finding"}
    assert "Say what was found." in words(manager_client.post(page, wrong))
    manager_client.post(page, wrong | {"words-hoses-look": "Hose burst"})
    assert Finding.objects.get().machine == hammer
    assert OutOfService.objects.open().of(hammer).exists()


def test_hours_of_two_readings_are_those_near_what_the_meter_showed_last() -> None:
    unit = rated_unit()
    read: dict[str, Any] = {"machine": unit.hammer, "by": unit.manager, "hours": 1190.0}
    record_hours(submission_id=uuid.uuid4(), read_at=days_ago(9), **read)
    url = reverse("enter-hours", args=["hammer", unit.hammer.pk])
    at = timezone.localtime().strftime("%Y-%m-%dT%H:%M")
    sent = {"submission_id": str(uuid.uuid4()), "hours": "1,210", "read_at": at}
    assert signed_in(unit.manager).post(url, sent).status_code == 302
    assert running_hours([unit.hammer.pk])[unit.hammer.pk].now == 1210.0
