"""An edit of an old record behind the site never comes into the ledger with an honest look."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from fleet.models import PadPosition, SuppressorHousing
from inspections.count.newest_facts import NotOfTheFacts, unexplained
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.signing import Correction, Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.models import Inspection, PadCount
from ratings.models import LedgerEntry
from tests.all_tables import changed, everything
from tests.builders import MONDAY, Unit, count, rated_unit
from tests.conftest import append_only_lifted
from tests.site.html_form import words

pytestmark = pytest.mark.django_db

SHORT = {"A1": "cracked", "B2": "missing"}


def counts_edited(unit: Unit) -> None:
    PadCount.objects.update(condition="sound", lot=unit.lot)


def positions_edited(unit: Unit) -> None:
    PadPosition.objects.update(condition="sound", lot=unit.lot)


def both_edited(unit: Unit) -> None:
    counts_edited(unit)
    positions_edited(unit)


def travel_edited(unit: Unit) -> None:
    Inspection.objects.filter(travel_in__isnull=False).update(travel_in=7.5)


def count_removed(unit: Unit) -> None:
    PadCount.objects.filter(inspection=Inspection.objects.latest("pk")).delete()


def both_travels_edited(unit: Unit) -> None:
    travel_edited(unit)
    SuppressorHousing.objects.update(travel_in=7.5)


EDITS = [
    both_travels_edited,
    counts_edited,
    positions_edited,
    both_edited,
    travel_edited,
    count_removed,
]


def short_unit() -> Unit:
    """A unit that was whole on Monday and is short since Tuesday."""
    unit = rated_unit(in_stock=4)
    count(unit.housing, unit.manager, unit.lot, unsound=SHORT, at=MONDAY + timedelta(days=1))
    unit.housing.refresh_from_db()
    return unit


def look(unit: Unit) -> None:
    """A look at each shift: a note, and nothing else."""
    sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(seen_at=MONDAY + timedelta(days=2), pads=[], kind="each shift", note="All quiet"),
        by=unit.manager,
    )


def fit(unit: Unit) -> None:
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=MONDAY + timedelta(days=2),
        pads=[PadFitted("A", 1, unit.lot.pk)],
        by=unit.manager,
    )


def correct(unit: Unit) -> None:
    sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(seen_at=MONDAY, pads=[], travel_in=6.0, note="Read wrong"),
        by=unit.manager,
        correction=Correction("Read wrong", inspection=Inspection.objects.earliest("pk")),
    )


@pytest.mark.parametrize("edit", EDITS)
@pytest.mark.parametrize("sign", [look, fit, correct])
def test_nothing_is_posted_on_records_that_are_not_what_the_ledger_was_told(
    edit: Callable[[Unit], None], sign: Callable[[Unit], None]
) -> None:
    unit = short_unit()
    with append_only_lifted():
        edit(unit)
    before = everything()
    with pytest.raises(NotOfTheFacts, match="is not what its ledger was posted on"):
        sign(unit)
    assert changed(before) == set()


@pytest.mark.parametrize("sign", [look, fit, correct])
def test_records_that_are_what_the_ledger_was_told_are_signed_on(
    sign: Callable[[Unit], None],
) -> None:
    unit = short_unit()
    assert unexplained(unit.housing) == []
    sign(unit)
    assert unexplained(SuppressorHousing.objects.get(pk=unit.housing.pk)) == []


def test_the_unit_s_page_says_so_before_anybody_signs(auditor_client: Client) -> None:
    unit = short_unit()
    url = reverse("unit", args=[unit.housing.pk])
    assert "is not what its ledger was posted on" not in words(auditor_client.get(url))
    with append_only_lifted():
        counts_edited(unit)
    page = words(auditor_client.get(url))
    assert "What is on record of" in page
    assert "A1 is sound by the records and cracked on the unit" in page
    assert LedgerEntry.objects.latest("pk").standing == "below listing"
