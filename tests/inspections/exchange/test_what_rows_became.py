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
from tests.factories import GaugeFactory, ManagerFactory, TestStandFactory, YardFactory
from tests.inspections.field.sent import signed_in
from tests.inspections.sheets.sheet_makers import taken_sheet
from tests.site.html_form import words
from tests.stand_builders import check_stand

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


def test_certificates_and_checks_lead_to_their_pages_new_or_on_record_before() -> None:
    by, gauge, stand = ManagerFactory(), GaugeFactory(calibrated_on=None), TestStandFactory()
    check = check_stand(stand, by, gauge=gauge, rate_lbf_in=520.0)
    certificate = {
        "certificate": "one",
        "gauge": gauge.mark,
        "certificate_number": "C-7",
        "calibrated_on": "2026-02-01",
        "due_on": "2027-02-01",
        "laboratory": "Fen Laboratory",
        "expanded_psi": "10",
        "coverage_factor": "2",
    }
    points = [
        (line, {"certificate": "one", "applied_psi": psi, "as_found_psi": psi}, Decimals.POINT)
        for line, psi in enumerate(("0", "500", "1000", "1500", "2000"), start=1)
    ]
    known = {"check": "a", "stand": stand.name, "gauge": gauge.mark, "tape": check.tape.mark}
    known |= {"piece": check.piece.mark, "checked_at": check.checked_at.isoformat()}
    known |= {"end": check.end, "tape_datum_in": str(check.tape_datum_in)}
    sent = parsed(
        {
            "certificates": [(1, certificate, Decimals.POINT)],
            "certificate_points": points,
            "checks": [(1, known, Decimals.POINT)],
        }
    )
    take_and_keep(name="Kept", rows=sent, by=by, place_of=place)
    made = gauge.calibrations.get(certificate_number="C-7")
    assert [(each[2], each[4]) for each in TakenImport.objects.get().rows] == [
        ("new", ["ratings.gaugecalibration", made.pk]),
        ("on record before", ["ratings.referencecheck", check.pk]),
    ]
    page = signed_in(by).get(reverse("taken-import", args=[TakenImport.objects.get().pk]))
    for name, record in (("gauge-calibration", made), ("reference-check", check)):
        assert f'href="{reverse(name, args=[record.pk])}"' in page.content.decode()


def test_of_a_register_that_is_refused_nothing_is_kept() -> None:
    rows = parsed({"hammers": [(1, {"mark": "V-1", "yard": "nowhere"}, Decimals.POINT)]})
    with pytest.raises(Refused):
        take_and_keep(name="One", rows=rows, by=ManagerFactory(), place_of=place)
    assert not TakenImport.objects.exists()


def test_what_rows_became_is_append_only() -> None:
    taken = taken_sheet(rated_unit())
    with pytest.raises(IntegrityError), transaction.atomic():
        TakenImport.objects.filter(pk=taken.pk).update(name="Other")
