"""A register that its person sends twice at once: a second press, or a page that broke off.

On PostgreSQL alone, where two write at once.
"""

from __future__ import annotations

import pytest
from django.contrib.auth.models import User
from django.db import connection

from fleet.models import Yard
from inspections.exchange import long_register
from inspections.exchange.incoming import Trial
from inspections.exchange.reading import read_file
from inspections.models import TakenImport
from tests.at_once import held_up_by

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite has one writer at a time"),
]


def test_the_second_finds_all_of_it_on_record_and_refuses_no_row(manager: User) -> None:
    lines = read_file("yards.csv", b"name\r\nNorth Pier\r\nGravel Bank\r\n")

    def take() -> Trial:
        return long_register.take(lines, manager)

    second = held_up_by(take, take)
    assert isinstance(second, Trial), second
    assert (second.news, second.refused) == (0, [])
    assert Yard.objects.filter(name__in=["North Pier", "Gravel Bank"]).count() == 2
    assert TakenImport.objects.count() == 1
