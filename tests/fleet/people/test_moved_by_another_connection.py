"""What another moves while somebody bound to a yard records of it: the gate’s second look.

On PostgreSQL alone, where two write at once. On SQLite there is one writer, and what is moved
between the two looks is so in test_yards_bound_to.py.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.utils import timezone

from fleet.machines.recording import connect_power_pack, fit_clamp
from fleet.models import ClampFitting, OutOfService, PowerPackConnection, Yard
from fleet.outages import take_out_of_service
from fleet.people.yards import BoundElsewhere
from inspections.models import Finding, FindingClosing, Inspection
from inspections.service.recording import close_finding
from tests.at_once import Act, held_up_by
from tests.builders import Unit, count, rated_unit
from tests.factories import ClampFactory, PowerPackFactory, YardFactory
from tests.fleet.people.bound import bound_to
from tests.inspections.field.sent import finding_sent, payload, send, signed_in

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite has one writer at a time"),
]


def while_it_is_moved(thing: Any, yard: Yard, act: Act) -> Any:
    """What an act came to, or the exception it ended in, that waited while another moved a thing.

    The act has looked where it stands before it waits, and the move is kept only then.
    """
    rows = type(thing)._default_manager.filter(pk=thing.pk)
    return held_up_by(lambda: rows.update(yard=yard), act)


@pytest.fixture
def north_pier() -> Yard:
    return YardFactory(name="North Pier")


def counting(unit: Unit, by: User) -> Act:
    return lambda: count(unit.housing, by, unit.lot, unsound={"A1": "cracked"}, at=timezone.now())


def test_a_unit_moved_while_it_is_signed_for_is_its_new_yard_s(north_pier: Yard) -> None:
    unit = rated_unit()
    person, before = bound_to(unit.housing.yard, person=unit.manager), Inspection.objects.count()
    outcome = while_it_is_moved(unit.housing, north_pier, counting(unit, person))
    assert isinstance(outcome, BoundElsewhere)
    assert "stands in North Pier" in str(outcome)
    assert Inspection.objects.count() == before
    assert not unit.housing.positions.exclude(condition="sound").exists()


def test_a_unit_moved_between_yards_of_whoever_signs_is_signed_for(north_pier: Yard) -> None:
    unit = rated_unit()
    person = bound_to(unit.housing.yard, north_pier, person=unit.manager)
    outcome = while_it_is_moved(unit.housing, north_pier, counting(unit, person))
    assert outcome.inspection.pk
    unit.housing.refresh_from_db()
    assert unit.housing.yard == north_pier


@pytest.mark.parametrize("make", [ClampFactory, PowerPackFactory])
def test_a_machine_moved_while_it_is_taken_out_of_service_is_its_new_yard_s(
    make: Callable[[], Any], north_pier: Yard
) -> None:
    machine = make()
    person = bound_to(machine.yard)
    outcome = while_it_is_moved(
        machine,
        north_pier,
        lambda: take_out_of_service(
            submission_id=uuid.uuid4(),
            machine=machine,
            since=timezone.now(),
            reason="It leaks",
            by=person,
        ),
    )
    assert isinstance(outcome, BoundElsewhere)
    assert not OutOfService.objects.exists()


@pytest.mark.parametrize("sort", ["clamp", "power pack"])
def test_a_machine_moved_while_it_is_put_on_a_hammer_is_its_new_yard_s(
    sort: str, north_pier: Yard
) -> None:
    unit = rated_unit()
    here = unit.hammer.yard
    person = bound_to(*{here, unit.housing.yard})
    at = timezone.now()
    acts: dict[str, tuple[Any, Callable[[Any], object]]] = {
        "clamp": (
            ClampFactory(yard=here),
            lambda clamp: fit_clamp(clamp=clamp, hammer=unit.hammer, at=at, by=person),
        ),
        "power pack": (
            PowerPackFactory(yard=here),
            lambda pack: connect_power_pack(power_pack=pack, hammer=unit.hammer, at=at, by=person),
        ),
    }
    machine, put_on = acts[sort]
    outcome = while_it_is_moved(machine, north_pier, lambda: put_on(machine))
    assert isinstance(outcome, BoundElsewhere)
    for model in (ClampFitting, PowerPackConnection):
        assert not model.objects.filter(removed_at=None).exists()


def test_a_finding_whose_machine_moves_while_it_is_closed_stays_open(north_pier: Yard) -> None:
    unit = rated_unit()
    sent = payload(unit, pads=[], travel_in=None, findings=[finding_sent()])
    assert send(signed_in(unit.manager), sent).status_code == 201
    finding = Finding.objects.get()
    person = bound_to(finding.machine.yard)
    outcome = while_it_is_moved(
        finding.machine,
        north_pier,
        lambda: close_finding(
            submission_id=uuid.uuid4(),
            finding=finding,
            closed_at=timezone.now(),
            done="Hose replaced",
            by=person,
        ),
    )
    assert isinstance(outcome, BoundElsewhere)
    assert not FindingClosing.objects.exists()
