"""A phone of somebody who is bound to yards."""

from __future__ import annotations

import pytest
from django.urls import reverse

from inspections.models import Inspection
from tests.builders import rated_unit
from tests.factories import YardFactory
from tests.fleet.people.bound import bound_to
from tests.inspections.field.sent import payload, send, signed_in

pytestmark = pytest.mark.django_db


def test_a_phone_takes_along_the_units_of_its_persons_yards() -> None:
    mine, theirs = rated_unit(), rated_unit(yard=YardFactory())
    client = signed_in(bound_to(mine.housing.yard, person=mine.manager))
    pack = client.get(reverse("field-pack")).json()
    assert [each["mark"] for each in pack["units"]] == [mine.housing.mark]
    free = signed_in(theirs.manager).get(reverse("field-pack")).json()
    assert {each["mark"] for each in free["units"]} == {mine.housing.mark, theirs.housing.mark}


def test_a_count_of_a_unit_that_was_moved_away_is_refused_with_why_and_can_be_sent_again() -> None:
    unit, other = rated_unit(), YardFactory()
    bound_to(unit.housing.yard, person=unit.manager)
    client, sent = signed_in(unit.manager), payload(unit)
    before = Inspection.objects.count()
    type(unit.housing).objects.update(yard=other)
    refused = send(client, sent)
    assert refused.status_code == 422
    assert f"{unit.housing} stands in {other.name}" in str(refused.json()["errors"])
    assert Inspection.objects.count() == before
    # It keeps its id on the phone: sent again once that was put right, it is recorded.
    type(unit.housing).objects.update(yard=unit.housing.yard)
    assert send(client, sent).status_code == 201


def test_a_count_whose_answer_was_lost_is_told_as_recorded_wherever_the_unit_is_now() -> None:
    unit = rated_unit()
    bound_to(unit.housing.yard, person=unit.manager)
    client, sent = signed_in(unit.manager), payload(unit)
    assert send(client, sent).status_code == 201
    type(unit.housing).objects.update(yard=YardFactory())
    again = send(client, sent)
    assert (again.status_code, again.json()["outcome"]) == (200, "already recorded")
