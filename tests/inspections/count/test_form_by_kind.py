"""The plain form of a kind: its list, its needs, its meters, and findings at the right machine."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from fleet.machines.recording import connect_power_pack
from fleet.models import MachineSort
from inspections.models import Finding, Inspection
from inspections.schedule.checklists import checklists_in_force
from tests.all_tables import changed, everything
from tests.builders import MONDAY, Unit, days_ago, rated_unit
from tests.factories import PowerPackFactory
from tests.site.html_form import Fields, all_sound, error_at, opened, words

pytestmark = pytest.mark.django_db


def form_of(unit: Unit, kind: str) -> str:
    return reverse("count-pads", args=[unit.housing.pk]) + f"?kind={kind}"


def answered(client: Client, url: str, kind: str, state: str = "done") -> Fields:
    """The form with every pad sound, the travel taped and every item answered alike."""
    fields = all_sound(client, url) | {"travel_in": "6", "hours": "100"}
    asked = [name for name in fields if name.startswith("state-")]
    assert len(asked) + 2 >= len(checklists_in_force()[kind].items)
    return fields | dict.fromkeys(asked, state)


@pytest.fixture
def unit() -> Unit:
    return rated_unit()


def test_a_kind_is_chosen_and_signed_with_its_list_without_a_script(
    manager_client: Client, unit: Unit
) -> None:
    url = form_of(unit, "monthly")
    shown = words(manager_client.get(url))
    assert "To count as an inspection “monthly” it needs every pad counted" in shown
    assert "Runs without new noise" in shown
    assert manager_client.post(url, answered(manager_client, url, "monthly")).status_code == 302
    signed = Inspection.objects.latest("pk")
    assert (signed.kind, signed.lacks, signed.travel_in) == ("monthly", "", 6.0)
    states = dict(signed.answers.values_list("key", "state"))
    assert states["exciter-heat"] == states["pads-counted"] == states["travel-taped"] == "done"


def test_no_tick_answers_what_the_records_can_tell(manager_client: Client, unit: Unit) -> None:
    url = form_of(unit, "monthly")
    fields = answered(manager_client, url, "monthly") | {"travel_in": ""}
    assert "state-travel-taped" not in fields
    shown = words(manager_client.post(url, fields, follow=True))
    assert "does not count as an inspection “monthly”, for it lacks: the travel taped" in shown
    assert Inspection.objects.latest("pk").answers.get(key="travel-taped").state == "not so"


def test_an_item_left_open_and_one_without_a_reason_are_named(
    manager_client: Client, unit: Unit
) -> None:
    url = form_of(unit, "each shift")
    fields = answered(manager_client, url, "each shift")
    fields |= {"state-guards-on": "", "state-hoses-look": "not applicable"}
    before = everything()
    refused = manager_client.post(url, fields)
    assert "say what it was like" in error_at(refused, "state-guards-on")
    assert "Say why this does not apply" in error_at(refused, "words-hoses-look")
    assert changed(before) == set()


def test_a_finding_is_put_to_the_machine_that_was_chosen_and_not_to_the_likely_one(
    manager_client: Client, unit: Unit
) -> None:
    url = form_of(unit, "each shift")
    fields = answered(manager_client, url, "each shift")
    assert fields["machine-hoses-look"] == "hammer"
    found = {"severity": "mend", "who_acts": "Kay", "act_by": days_ago(-3).date().isoformat()}
    fields |= found | {"state-hoses-look": "finding", "words-hoses-look": "Chafed at the yoke"}
    fields |= {"machine-hoses-look": "housing", "found": "Paint gone", "found_machine": ""}
    assert manager_client.post(url, fields).status_code == 302
    chafed, paint = Finding.objects.order_by("number")
    assert (chafed.machine, chafed.item_key) == (unit.housing, "hoses-look")
    assert paint.machine == unit.hammer


def test_a_kind_that_is_none_is_not_found(manager_client: Client, unit: Unit) -> None:
    assert manager_client.get(form_of(unit, "weekly")).status_code == 404


def test_the_line_pull_is_shown_and_the_list_keeps_what_was_typed(
    manager_client: Client, unit: Unit
) -> None:
    url = form_of(unit, "each shift")
    fields = answered(manager_client, url, "each shift") | {"show": "1", "found": "Half a word"}
    shown = manager_client.post(url, fields)
    assert "If signed as it stands now" in words(shown)
    assert "Half a word" in words(shown)
    assert b'value="done" selected' in shown.content


def test_hours_of_a_power_pack_are_asked_for_only_where_one_is_connected(
    manager_client: Client, unit: Unit
) -> None:
    url = form_of(unit, "pad count")
    assert "pack_hours" not in opened(manager_client, url)
    pack = PowerPackFactory(yard=unit.housing.yard)
    connect_power_pack(power_pack=pack, hammer=unit.hammer, at=MONDAY, by=unit.manager)
    fields = opened(manager_client, url) | {"hours": "120", "pack_hours": "1.234,5"}
    assert manager_client.post(url, fields).status_code == 302
    signed = Inspection.objects.latest("pk")
    assert signed.pack_hour_reading is not None
    assert signed.machines[MachineSort.POWER_PACK] == pack
    assert (signed.pack_hour_reading.power_pack, signed.pack_hour_reading.hours) == (pack, 1234.5)


def test_the_plain_form_goes_by_what_hung_there_when_it_was_seen(
    manager_client: Client, unit: Unit
) -> None:
    url = form_of(unit, "pad count")
    pack = PowerPackFactory(yard=unit.housing.yard)
    connect_power_pack(power_pack=pack, hammer=unit.hammer, at=days_ago(2), by=unit.manager)
    fields = opened(manager_client, url)
    assert f"power pack {pack}" not in words(manager_client.get(url))
    fields |= {"seen_at": f"{days_ago(5):%Y-%m-%dT%H:%M}", "note": "Looked at"}
    typed = {"pack_hours": "120"}
    found = {"found": "Leaks", "found_machine": "power pack", "severity": "note"}
    before = everything()
    refused = manager_client.post(url, fields | found)
    assert "power pack" in error_at(refused, "found_machine")
    assert error_at(manager_client.post(url, fields | typed), "pack_hours")
    assert changed(before) == set()
