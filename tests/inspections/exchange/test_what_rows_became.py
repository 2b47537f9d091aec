"""What each row of a sheet or register became is kept with it, and leads to the record."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from fleet.models import Hammer
from fleet.numbers import Decimals
from inspections.exchange.incoming import Fate, Refused
from inspections.exchange.rows import parsed
from inspections.exchange.taken import take_and_keep
from inspections.models import Inspection, TakenImport
from tests.builders import rated_unit
from tests.factories import ManagerFactory, YardFactory
from tests.inspections.sheets.sheet_makers import taken_sheet
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def place(fate: Fate) -> str:
    return f"{fate.table}, line {fate.line}"


def test_each_row_of_a_sheet_leads_to_the_inspection_it_became(auditor_client: Client) -> None:
    unit = rated_unit()
    taken = taken_sheet(unit)
    page = auditor_client.get(reverse("taken-import", args=[taken.pk]))
    for inspection in Inspection.objects.filter(seen_at__month=8, seen_at__year=2026):
        assert reverse("inspection", args=[inspection.pk]) in page.content.decode()
    assert [each[2] for each in taken.rows] == ["new", "new"]
    assert "row 2" in words(page)
    assert taken.name in words(auditor_client.get(reverse("taken-imports")))


def test_a_row_on_record_before_leads_to_what_was_there() -> None:
    yard, by = YardFactory(name="North"), ManagerFactory()
    hammers = [
        (line, {"mark": mark, "yard": yard.name}, Decimals.POINT)
        for line, mark in enumerate(("V-1", "V-2"), start=1)
    ]
    take_and_keep(name="One", rows=parsed({"hammers": hammers[:1]}), by=by, place_of=place)
    take_and_keep(name="Both", rows=parsed({"hammers": hammers}), by=by, place_of=place)
    keys = {hammer.mark: hammer.pk for hammer in Hammer.objects.all()}
    assert TakenImport.objects.latest("pk").rows == [
        ["hammers, line 1", "hammers", "on record before", "V-1", ["fleet.hammer", keys["V-1"]]],
        ["hammers, line 2", "hammers", "new", "V-2", ["fleet.hammer", keys["V-2"]]],
    ]


def test_of_a_register_that_is_refused_nothing_is_kept() -> None:
    rows = parsed({"hammers": [(1, {"mark": "V-1", "yard": "nowhere"}, Decimals.POINT)]})
    with pytest.raises(Refused):
        take_and_keep(name="One", rows=rows, by=ManagerFactory(), place_of=place)
    assert not TakenImport.objects.exists()


def test_what_rows_became_is_append_only() -> None:
    taken = taken_sheet(rated_unit())
    with pytest.raises(IntegrityError), transaction.atomic():
        TakenImport.objects.filter(pk=taken.pk).update(name="Other")
