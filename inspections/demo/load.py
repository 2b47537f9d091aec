"""Load the demo into an empty database, and only there."""

from __future__ import annotations

from enum import Enum, auto

from django.contrib.auth.models import User
from django.db import transaction

from fleet.models import SuppressorHousing, Yard
from inspections.demo.register import enter_register
from inspections.demo.scenario import read_scenario
from inspections.demo.story import tell


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
    enter_register(scenario)
    tell(scenario["events"])
