"""The board of somebody who is bound to yards."""

from __future__ import annotations

from urllib.parse import parse_qsl

import pytest
from django.test import Client
from django.urls import reverse

from tests.builders import Unit, rated_unit
from tests.factories import YardFactory
from tests.fleet.people.bound import bound_to

pytestmark = pytest.mark.django_db


@pytest.fixture
def units() -> tuple[Unit, Unit]:
    return rated_unit(mark="H-MINE"), rated_unit(mark="H-THEIRS", yard=YardFactory())


@pytest.fixture
def client(units: tuple[Unit, Unit]) -> Client:
    client = Client()
    client.force_login(bound_to(units[0].housing.yard))
    return client


def test_it_opens_with_what_stands_in_their_yards(client: Client) -> None:
    page = client.get(reverse("board"), follow=True).content.decode()
    assert "H-MINE" in page
    assert "H-THEIRS" not in page
    assert "Narrowed as below" in page


def test_all_units_are_one_press_away_and_stay_shown(client: Client) -> None:
    client.get(reverse("board") + "?all=1", follow=True)
    page = client.get(reverse("board"), follow=True).content.decode()
    assert "H-MINE" in page
    assert "H-THEIRS" in page


def test_a_choice_of_standing_keeps_to_their_yards_next_time(client: Client) -> None:
    client.get(reverse("board") + "?standing=meets+listing")
    answer = client.get(reverse("board"))
    # Databases keep what was chosen in orders of their own.
    assert sorted(parse_qsl(answer["Location"].removeprefix("/?"))) == [
        ("bound", "yours"),
        ("standing", "meets listing"),
    ]


def test_whoever_is_bound_to_none_is_asked_nothing_of_yards_they_act_in(
    units: tuple[Unit, Unit], manager_client: Client
) -> None:
    page = manager_client.get(reverse("board")).content.decode()
    assert "H-THEIRS" in page
    assert "Yards you act in" not in page
