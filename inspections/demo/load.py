"""Load the demo into an empty database, and only there."""

from __future__ import annotations

import tomllib
from enum import Enum, auto
from pathlib import Path
from typing import Any

from django.contrib.auth.models import Group, User
from django.db import transaction

from fleet.models import SuppressorHousing, Yard
from inspections.demo.story import row_of, tell
from inspections.exchange.acts import put_on_record
from inspections.exchange.tables import NAMED
from ratings.models import LoadIndicator

PASSWORD = "line-pull-demo"
SCENARIO = Path(__file__).resolve().parents[2] / "fixtures" / "demo.toml"


def read_scenario() -> dict[str, Any]:
    """Return the scenario, its events in the order they happened."""
    scenario = tomllib.loads(SCENARIO.read_text(encoding="utf-8"))
    scenario["events"].sort(key=lambda event: event["at"])
    return scenario


class Found(Enum):
    """What a database holds before the demo is asked for."""

    NOTHING = auto()
    DEMO = auto()
    REAL_WORK = auto()


def look() -> Found:
    """Say whether the database is empty, holds the demo, or holds anything else."""
    if not (User.objects.exists() or Yard.objects.exists() or SuppressorHousing.objects.exists()):
        return Found.NOTHING
    scenario = read_scenario()
    people = {person["username"] for person in scenario["people"]}
    yards = {yard["name"] for yard in scenario["yards"]}
    is_demo = people <= set(User.objects.values_list("username", flat=True)) and yards <= set(
        Yard.objects.values_list("name", flat=True)
    )
    return Found.DEMO if is_demo else Found.REAL_WORK


@transaction.atomic
def load_demo() -> None:
    """Load the whole scenario, or nothing of it."""
    scenario = read_scenario()
    people = [_enter_person(person) for person in scenario["people"]]
    for table in (f"{name}s" for name in NAMED):
        for each in scenario[table]:
            put_on_record(row_of(table, each), people[0])
    for each in scenario["load_indicators"]:
        yard = Yard.objects.get(name=each["yard"])
        LoadIndicator.objects.create(**each | {"yard": yard})
    tell(scenario["events"])


def _enter_person(person: dict[str, str]) -> User:
    first_name, last_name = person["name"].split(" ", 1)
    user = User.objects.create_user(
        person["username"],
        password=PASSWORD,
        email=f"{person['username']}@saltmere.example",
        first_name=first_name,
        last_name=last_name,
    )
    user.groups.add(Group.objects.get(name=person["role"]))
    return user
