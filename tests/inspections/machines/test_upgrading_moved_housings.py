"""A yard whose housings were moved, brought up to date: every due date worked out by hand."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.commands import manage, rows

# The last migrations before inspections named the machines they were of.
BEFORE = (
    "fleet 0013_people_and_set_up, inspections 0006_pull_photos, "
    "ratings 0022_load_indicator_of_a_job"
)
# 2026: S-1 on V-1 and S-2 on V-2 from 1 March. On 10 March they change hammers: at noon S-1 goes to
# V-2 and S-2 comes off, an hour later S-2 goes to V-1. Clamp C-1 goes from V-1 to V-2 on 11 March.
# V-3 hangs on nothing.
HISTORY = """
import uuid
from datetime import UTC, datetime
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
targets = [tuple(target.split()) for target in {before!r}.split(", ")]
executor = MigrationExecutor(connection)
executor.migrate(targets)
apps = MigrationExecutor(connection).loader.project_state(targets).apps
def model(app, name):
    return apps.get_model(app, name).objects
def at(day, hour=12):
    return datetime(2026, 3, day, hour, tzinfo=UTC)
who = apps.get_model("auth", "User").objects.create(username="kay")
yard = model("fleet", "Yard").create(name="South yard")
V1, V2, V3 = (
    model("fleet", "Hammer").create(yard=yard, mark=mark) for mark in ("V-1", "V-2", "V-3")
)
S1, S2 = (
    model("fleet", "SuppressorHousing").create(
        yard=yard, mark=mark, positions_per_side=4, design_travel_in=8.0
    )
    for mark in ("S-1", "S-2")
)
C1 = model("fleet", "Clamp").create(yard=yard, mark="C-1")
def mount(housing, hammer, begun, ended=None):
    model("fleet", "Mounting").create(
        housing=housing, hammer=hammer, mounted_at=begun, removed_at=ended
    )
mount(S1, V1, at(1), at(10))
mount(S2, V2, at(1), at(10))
mount(S1, V2, at(10))
mount(S2, V1, at(10, 13))
for hammer, begun, ended in ((V1, at(1), at(11)), (V2, at(11), None)):
    model("fleet", "ClampFitting").create(
        clamp=C1, hammer=hammer, fitted_at=begun, removed_at=ended
    )
def by(**more):
    return more | {{"recorded_by": who, "submission_id": uuid.uuid4()}}
oil, bond = (
    model("inspections", "OwnKind").create(**by(name=name))
    for name in ("oil change", "pad bond test")
)
def row(kind, days, hours=None):
    return {{"kind": kind, "days": days, "hours": hours, "by_whom": "", "basis": "",
            "keep_months": None, "in_use_only": False}}
model("inspections", "ServiceSchedule").create(
    **by(
        rows=[row("monthly", 31, 250.0), row("yearly", 365), row("oil change", 90, 500.0),
              row("pad bond test", 180)],
        reason="Yard rule",
    )
)
def inspect(housing, seen_at, kind, hammer=None, hours=None):
    own = {{"oil change": oil, "pad bond test": bond}}.get(kind)
    reading = None
    if hours is not None:
        reading = model("fleet", "HourReading").create(
            hammer=hammer, hours=hours, read_at=seen_at, recorded_by=who
        )
    return model("inspections", "Inspection").create(
        **by(housing=housing, seen_at=seen_at, kind="" if own else kind, own_kind=own,
             hour_reading=reading)
    )
def find(inspection, number, text, severity="mend", outage=None):
    model("inspections", "Finding").create(
        inspection=inspection, number=number, housing=inspection.housing, severity=severity,
        text=text, act_by=datetime(2026, 4, 1).date(), who_acts="Kay", out_of_service=outage,
    )
inspect(S1, at(3), "oil change", V1, 100.0)
monthly = inspect(S1, at(4), "monthly", V1, 110.0)
find(monthly, 1, "Hose chafed at the swivel")
find(monthly, 2, "B3 torn at its edge")
find(monthly, 3, "Travel short by a hand")
inspect(S2, at(5), "monthly", V2, 50.0)
inspect(S1, at(6), "pad bond test")
seized = inspect(S2, at(7), "each shift")
outage = model("fleet", "OutOfService").create(
    **by(housing=S2, since=at(7), reason="Exciter bearing seized")
)
find(seized, 1, "Exciter bearing seized", "stop", outage)
by_hand = model("fleet", "OutOfService").create(
    **by(housing=S1, since=at(8), reason="Below its listing")
)
inspect(S1, at(12), "monthly", V2, 80.0)
inspect(S2, at(14), "yearly", V1, 150.0)
"""
TOLD = """
import json
from fleet.models import Clamp, Hammer, SuppressorHousing
from inspections.schedule.due import due_of_fleet, due_of_machine
told = {{}}
for each in (*Hammer.objects.all(), *SuppressorHousing.objects.all(), *Clamp.objects.all()):
    for kind in due_of_machine(each).kinds:
        made = kind.last is not None
        told[f"{{each}} {{kind.row.kind}}"] = str(kind.due_on) if made else "never made"
units = {{
    f"{{unit.name}} {{kind.row.kind}}":
        f"{{kind.machine}} {{kind.due_on if kind.last else 'never'}}"
    for unit in due_of_fleet() for kind in unit.kinds
}}
print(json.dumps([told, units]))
"""


@pytest.fixture(scope="module")
def upgraded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the database of that yard, brought up to date."""
    var = tmp_path_factory.mktemp("moved")
    for step in (("shell", "-c", HISTORY.format(before=BEFORE)), ("migrate",)):
        done = manage(var, *step)
        assert done.returncode == 0, done.stderr
    return var


@pytest.fixture(scope="module")
def told(upgraded: Path) -> list[dict[str, Any]]:
    """What is due at each machine, and at each unit and of which of its machines."""
    done = manage(upgraded, "shell", "-c", TOLD.format())
    assert done.returncode == 0, done.stderr
    found: list[dict[str, Any]] = json.loads(done.stdout.splitlines()[-1])
    return found


def test_every_due_date_of_every_machine_is_what_it_is_by_hand(told: list[dict[str, Any]]) -> None:
    assert told[0] == {
        # The yearly of 14 March was at S-2 on V-1, and is a monthly too: 14 March and 31 days.
        "V-1 monthly": "2026-04-14",
        "V-1 yearly": "2027-03-14",
        # Of 3 March, at S-1, which hung on V-1: and 90 days.
        "V-1 oil change": "2026-06-01",
        # Of 12 March, at S-1, on V-2 by then.
        "V-2 monthly": "2026-04-12",
        "V-2 yearly": "never made",
        "V-2 oil change": "never made",
        "V-3 monthly": "never made",
        "V-3 yearly": "never made",
        "V-3 oil change": "never made",
        "S-1 monthly": "2026-04-12",
        "S-1 yearly": "never made",
        # Of 6 March, and 180 days: it goes with the pads, whatever they hang on.
        "S-1 pad bond test": "2026-09-02",
        "S-2 monthly": "2026-04-14",
        "S-2 yearly": "2027-03-14",
        "S-2 pad bond test": "never made",
        # On V-1 on 4 March, on V-2 on 12 March; gone from V-1 by the yearly of 14 March.
        "C-1 monthly": "2026-04-12",
        "C-1 yearly": "never made",
    }


def test_what_is_due_at_a_unit_is_what_is_due_at_its_worst_machine(
    told: list[dict[str, Any]],
) -> None:
    units = told[1]
    assert units["S-2 on V-1 oil change"] == " 2026-06-01"
    assert units["S-1 on V-2 oil change"] == " never"
    assert units["S-1 on V-2 pad bond test"] == " 2026-09-02"
    assert units["V-3 monthly"] == " never"


def test_findings_and_outages_are_at_the_machine_they_are_of(upgraded: Path) -> None:
    found = (
        "SELECT f.text, COALESCE(h.mark, s.mark) FROM inspections_finding f "
        "LEFT JOIN fleet_hammer h ON h.id = f.hammer_id "
        "LEFT JOIN fleet_suppressorhousing s ON s.id = f.housing_id ORDER BY f.id"
    )
    assert rows(upgraded, found) == [
        ("Hose chafed at the swivel", "V-1"),
        ("B3 torn at its edge", "S-1"),
        ("Travel short by a hand", "S-1"),
        ("Exciter bearing seized", "V-2"),
    ]
    outages = (
        "SELECT o.reason, COALESCE(h.mark, s.mark) FROM fleet_outofservice o "
        "LEFT JOIN fleet_hammer h ON h.id = o.hammer_id "
        "LEFT JOIN fleet_suppressorhousing s ON s.id = o.housing_id ORDER BY o.id"
    )
    assert rows(upgraded, outages) == [
        ("Exciter bearing seized", "V-2"),
        ("Below its listing", "S-1"),
    ]


def test_what_was_put_where_is_posted_for_each_machine_and_unit(upgraded: Path) -> None:
    posted = (
        "SELECT COALESCE(h.mark, c.mark), u.mark, m.inspections, m.findings, m.outages "
        "FROM inspections_movedrecords m "
        "JOIN fleet_suppressorhousing u ON u.id = m.unit_id "
        "LEFT JOIN fleet_hammer h ON h.id = m.hammer_id "
        "LEFT JOIN fleet_clamp c ON c.id = m.clamp_id ORDER BY 1, 2"
    )
    # The inspections, as they were made: 1 to 7; their findings: 1 to 4; the first outage.
    assert rows(upgraded, posted) == [
        ("C-1", "S-1", "[1, 2, 4, 6]", "[]", "[]"),
        ("V-1", "S-1", "[1, 2, 4]", "[1]", "[]"),
        ("V-1", "S-2", "[7]", "[]", "[]"),
        ("V-2", "S-1", "[6]", "[]", "[]"),
        ("V-2", "S-2", "[3, 5]", "[4]", "[1]"),
    ]
    why = "SELECT why FROM inspections_movedrecords WHERE hammer_id = 1 AND unit_id = 1"
    [(words,)] = rows(upgraded, why)
    assert words.endswith("Until then they counted for V-2, which hangs on S-1 now.")
