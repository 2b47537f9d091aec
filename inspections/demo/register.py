"""Enter the demo's people, yards, hammers, housings, stands and lots."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import Group, User

from fleet.housings import enter_housing
from fleet.models import Hammer, PadLot, SuppressorHousing, Yard
from fleet.roles import MANAGER
from ratings.models import Gauge, Tape, TestStand

PASSWORD = "line-pull-demo"


def enter_register(scenario: dict[str, Any]) -> None:
    """Enter all that the events of the scenario speak of."""
    for person in scenario["people"]:
        _enter_person(person)
    yards = {each["name"]: Yard.objects.create(**each) for each in scenario["yards"]}
    for stand in scenario["stands"]:
        TestStand.objects.create(**stand | {"yard": yards[stand["yard"]]})
    for gauge in scenario["gauges"]:
        Gauge.objects.create(**gauge | {"yard": yards[gauge["yard"]]})
    for tape in scenario["tapes"]:
        Tape.objects.create(**tape | {"yard": yards[tape["yard"]]})
    for lot in scenario["lots"]:
        PadLot.objects.create(**lot)
    for hammer in scenario["hammers"]:
        Hammer.objects.create(**hammer | {"yard": yards[hammer["yard"]]})
    for housing in scenario["housings"]:
        enter_housing(SuppressorHousing(**housing | {"yard": yards[housing["yard"]]}))


def _enter_person(person: dict[str, str]) -> None:
    first_name, last_name = person["name"].split(" ", 1)
    user = User.objects.create_user(
        person["username"],
        password=PASSWORD,
        email=f"{person['username']}@saltmere.example",
        first_name=first_name,
        last_name=last_name,
        is_staff=person["role"] == MANAGER,
    )
    user.groups.add(Group.objects.get(name=person["role"]))
