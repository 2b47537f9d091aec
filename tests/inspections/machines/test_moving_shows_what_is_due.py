"""Who moves a machine sees what will be due at the unit as it hangs together then."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from fleet.hours import running_hours
from fleet.machines.recording import fit_clamp
from fleet.models import MachineSort, Mounting
from inspections.models import MovedRecords
from tests.builders import days_ago, rated_unit
from tests.factories import ClampFactory, HammerFactory, PowerPackFactory
from tests.inspections.history.test_history_report import pages
from tests.inspections.machines.test_what_stays_with_the_hammer import inspected, move, scheduled
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def test_a_housing_shows_the_oil_change_overdue_on_the_hammer_it_is_to_hang_on(
    manager_client: Client,
) -> None:
    unit, other = rated_unit(), HammerFactory(mark="V-77")
    scheduled(unit)
    inspected(days_ago(20), "oil change", housing=unit.housing)
    address = reverse("mounting", args=[unit.housing.pk])
    given = {"hammer": str(other.pk), "at": "2026-11-01T08:00", "show": ""}
    page = words(manager_client.post(address, given))
    assert "Overdue at the unit then:" in page
    assert "hammer V-77: overdue oil change: never made" in page
    assert Mounting.objects.current().get(housing=unit.housing).hammer == unit.hammer


def test_a_clamp_shows_what_is_due_of_the_hammer_it_is_to_go_on(manager_client: Client) -> None:
    unit, clamp, there = rated_unit(), ClampFactory(), ClampFactory(mark="C-8")
    fit_clamp(clamp=there, hammer=unit.hammer, at=days_ago(30), by=unit.manager)
    scheduled(unit)
    address = reverse("fit-clamp", args=[clamp.pk])
    blank = manager_client.get(address)
    shown = {"hammer": str(unit.hammer.pk), "at": "2026-11-01T08:00", "show": ""}
    form_id = blank.context["form"]["submission_id"].value()
    page = words(manager_client.post(address, shown | {"submission_id": str(form_id)}))
    assert f"hammer {unit.hammer}: overdue oil change: never made" in page
    assert f"C-8 comes off hammer {unit.hammer.mark}" in page
    assert not clamp.fittings.exists()


def test_the_meter_of_a_power_pack_is_changed_on_its_page(manager_client: Client) -> None:
    pack = PowerPackFactory()
    address = reverse("pack-meter", args=[pack.pk])
    form_id = manager_client.get(address).context["form"]["submission_id"].value()
    given = {
        "submission_id": str(form_id),
        "changed_at": "2026-03-02T09:00",
        "old_hours": "510",
        "new_hours": "3",
        "reason": "Glass broken.",
    }
    assert manager_client.post(address, given)["Location"] == address
    assert running_hours([pack.pk], MachineSort.POWER_PACK)[pack.pk].now == 510
    assert "Glass broken." in words(manager_client.get(address))
    page = reverse("machine-page", args=["power-pack", pack.pk])
    assert address in manager_client.get(page).content.decode()


def test_the_history_lists_each_machine_inspected_by_itself_while_part_of_the_unit(
    manager_client: Client,
) -> None:
    unit, clamp = rated_unit(), ClampFactory(mark="C-5")
    strange = inspected(days_ago(40), machine=clamp)
    fit_clamp(clamp=clamp, hammer=unit.hammer, at=days_ago(30), by=unit.manager)
    of_clamp = inspected(days_ago(20), machine=clamp)
    of_hammer = inspected(days_ago(19), machine=unit.hammer)
    move(unit.housing, None, days_ago(10))
    later = inspected(days_ago(5), machine=unit.hammer)
    text = " ".join(pages(manager_client, unit.housing))
    for inspection, machine in ((of_clamp, "Clamp C-5"), (of_hammer, f"Hammer {unit.hammer}")):
        assert f"Inspection {inspection.pk} (" in text
        assert f"{machine} by itself" in text
    assert f"Inspection {strange.pk} (" not in text
    assert f"Inspection {later.pk} (" not in text


def test_records_put_to_their_machine_stand_on_the_unit_and_in_its_history(
    manager_client: Client,
) -> None:
    unit, other = rated_unit(), HammerFactory()
    page = reverse("unit", args=[unit.housing.pk])
    assert "Records put to their machine" not in words(manager_client.get(page))
    late = inspected(days_ago(5), housing=unit.housing)
    move(unit.housing, other, days_ago(10))
    [moved] = MovedRecords.objects.of(other)
    told = words(manager_client.get(page))
    assert "Records put to their machine" in told
    assert moved.why in told
    text = " ".join(pages(manager_client, unit.housing))
    assert "Records put to their machine" in text
    assert f"inspections {late.pk}, kept at housing {unit.housing} before" in text


def test_a_housing_put_on_a_hammer_of_another_yard_is_told_before_and_after(
    manager_client: Client,
) -> None:
    unit, elsewhere = rated_unit(), HammerFactory(mark="V-77")
    address = reverse("mounting", args=[unit.housing.pk])
    given = {"hammer": str(elsewhere.pk), "at": "2026-11-01T08:00"}
    told = f"stands in {unit.housing.yard} by the record, hammer V-77 in {elsewhere.yard}"
    assert told in words(manager_client.post(address, given | {"show": ""}))
    assert told in words(manager_client.post(address, given, follow=True))


def test_a_housing_put_on_a_hammer_of_its_own_yard_is_told_nothing_of_yards(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    near = HammerFactory(yard=unit.housing.yard)
    address = reverse("mounting", args=[unit.housing.pk])
    given = {"hammer": str(near.pk), "at": "2026-11-01T08:00"}
    assert "by the record, hammer" not in words(manager_client.post(address, given, follow=True))
