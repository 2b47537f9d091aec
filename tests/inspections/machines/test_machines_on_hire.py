"""A machine that is with a hirer says so on its page and in its list, and stands in no yard."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from fleet.dates import day_words
from fleet.machines.recording import fit_clamp
from fleet.models import Hire
from fleet.setup.recording import change_thing
from tests.builders import Unit, days_ago, rated_unit
from tests.factories import ClampFactory, YardFactory
from tests.inspections.hire.test_hand_overs import back, let, out
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


@pytest.fixture
def unit() -> Unit:
    return rated_unit()


def with_clamp(unit: Unit) -> Any:
    clamp = ClampFactory()
    fit_clamp(clamp=clamp, hammer=unit.hammer, at=days_ago(30), by=unit.manager)
    return clamp


def test_every_machine_of_a_unit_on_hire_says_to_whom_since_when_and_till_when(
    manager_client: Client, unit: Unit
) -> None:
    clamp, hire = with_clamp(unit), out(unit)
    assert hire.left_on is not None
    told = f"n hire to Brandt Piling since {day_words(hire.left_on)}, back"
    for sort, machine in (("hammer", unit.hammer), ("housing", unit.housing), ("clamp", clamp)):
        assert told in words(manager_client.get(reverse("machine-page", args=[sort, machine.pk])))
        assert told in words(manager_client.get(reverse("machine-list", args=[sort])))
    back(unit, hire)
    page = words(manager_client.get(reverse("machine-page", args=["hammer", unit.hammer.pk])))
    assert "Brandt Piling" not in page


@pytest.mark.parametrize("name", ["housing", "hammer"])
def test_the_yard_of_a_machine_on_hire_is_not_changed_by_hand(unit: Unit, name: str) -> None:
    machine, yard = getattr(unit, name), YardFactory()

    def change() -> Any:
        return change_thing(
            machine,
            {"yard": yard},
            submission_id=uuid.uuid4(),
            reason="It stands there.",
            by=unit.manager,
        )

    hire = out(unit)
    with pytest.raises(ValidationError, match="on hire to Brandt Piling") as refusal:
        change()
    assert list(refusal.value.message_dict) == ["yard"]
    back(unit, hire)
    assert change().yard == yard


def test_one_only_agreed_to_go_on_hire_may_change_yard(unit: Unit) -> None:
    let(unit)
    yard = YardFactory()
    changed = change_thing(
        unit.housing,
        {"yard": yard},
        submission_id=uuid.uuid4(),
        reason="Sent over.",
        by=unit.manager,
    )
    assert changed.yard == yard


@pytest.mark.parametrize("asked", ["Brandt", "Pier 4", "555"])
def test_a_hire_is_found_by_the_search_box(manager_client: Client, unit: Unit, asked: str) -> None:
    hire = out(unit)
    page = manager_client.get(reverse("search"), {"q": asked}).content.decode()
    assert reverse("hire", args=[hire.pk]) in page
    assert Hire.objects.count() == 1
