from __future__ import annotations

import uuid
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import IntegrityError, transaction

from inspections.count.replacement import PadFitted, Replaced, sign_replacement
from inspections.count.signing import Correction, Signed
from inspections.count.submission import Submission
from inspections.models import Inspection, PadReplacement
from ratings.models import LedgerEntry
from tests.builders import MONDAY, Unit, count, rated_unit

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + timedelta(days=1)
FRIDAY = MONDAY + timedelta(days=4)


def entries(unit: Unit) -> list[LedgerEntry]:
    return list(LedgerEntry.objects.filter(housing=unit.housing).order_by("sequence"))


def correct(
    unit: Unit,
    wrong: Inspection | PadReplacement,
    *,
    unsound: dict[str, str] | None = None,
    travel_in: float | None = 6.0,
) -> Signed:
    if isinstance(wrong, Inspection):
        at, correction = wrong.seen_at, Correction("misread", inspection=wrong)
    else:
        at, correction = wrong.fitted_at, Correction("wrong position", replacement=wrong)
    return count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound=unsound,
        travel_in=travel_in,
        at=at,
        correction=correction,
    )


def replace_a1(unit: Unit) -> Replaced:
    return sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=TUESDAY,
        pads=[PadFitted("A", 1, unit.lot.pk)],
        by=unit.manager,
    )


def test_a_correction_names_the_entry_it_corrects_and_both_stay_readable() -> None:
    unit = rated_unit()
    wrong = count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=TUESDAY)
    documents = [entry.document for entry in entries(unit)]
    right = correct(unit, wrong.inspection, unsound={"A2": "cracked"})
    assert right.entry is not None
    assert wrong.entry is not None
    assert right.entry.corrects == wrong.entry
    assert right.entry.contents["corrects"] == {
        "sequence": wrong.entry.sequence,
        "hash": wrong.entry.hash,
    }
    assert "misread" in right.entry.cause_words
    assert [entry.document for entry in entries(unit)][: len(documents)] == documents
    assert wrong.inspection.pads.get(side="A", number=1).condition == "cracked"


def test_a_corrected_count_counts_no_more() -> None:
    unit = rated_unit()
    wrong = count(
        unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, travel_in=3, at=TUESDAY
    )
    correct(unit, wrong.inspection, travel_in=None)
    unit.housing.refresh_from_db()
    # The correction taped nothing, and the travel it corrects is gone: Monday's holds.
    assert unit.housing.travel_in == 6.0
    assert not unit.housing.positions.exclude(condition="sound").exists()


def test_newer_facts_stand_when_an_older_one_is_corrected() -> None:
    unit = rated_unit()
    wrong = count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=TUESDAY)
    count(unit.housing, unit.manager, unit.lot, unsound={"B1": "missing"}, travel_in=5, at=FRIDAY)
    correct(unit, wrong.inspection, unsound={"A2": "cracked"}, travel_in=4)
    unit.housing.refresh_from_db()
    assert unit.housing.travel_in == 5
    unsound = unit.housing.positions.exclude(condition="sound")
    assert [str(position) for position in unsound] == ["B1"]


def test_a_correction_posts_an_entry_even_where_no_figure_changed() -> None:
    unit = rated_unit()
    wrong = count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=TUESDAY)
    right = correct(unit, wrong.inspection, unsound={"A1": "cracked"})
    assert right.entry is not None
    assert right.entry.corrects == wrong.entry
    assert right.entry.inputs == entries(unit)[-2].inputs


def test_a_correction_can_itself_be_corrected() -> None:
    unit = rated_unit()
    wrong = count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=TUESDAY)
    second = correct(unit, wrong.inspection, unsound={"A2": "cracked"})
    third = correct(unit, second.inspection, unsound={"A3": "cracked"})
    assert third.entry is not None
    assert third.entry.corrects == second.entry
    unsound = unit.housing.positions.exclude(condition="sound")
    assert [str(position) for position in unsound] == ["A3"]


def test_a_record_is_corrected_once() -> None:
    unit = rated_unit()
    wrong = count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=TUESDAY)
    correct(unit, wrong.inspection)
    with pytest.raises(IntegrityError), transaction.atomic():
        correct(unit, wrong.inspection)
    assert Inspection.objects.count() == 3


def test_a_corrected_replacement_counts_no_more() -> None:
    unit = rated_unit(unsound={"A1": "cracked", "A2": "cracked"}, in_stock=1)
    wrong = replace_a1(unit)
    right = correct(unit, wrong.replacement, unsound={"A1": "cracked"})
    assert right.entry is not None
    assert right.entry.corrects == wrong.entry
    assert right.inspection.corrects_replacement == wrong.replacement
    conditions = {str(each): each.condition for each in unit.housing.positions.all()}
    assert (conditions["A1"], conditions["A2"]) == ("cracked", "sound")
    assert wrong.replacement.pads.count() == 1


def test_a_correction_without_a_reason_is_refused_by_the_database() -> None:
    unit = rated_unit()
    wrong = unit.housing.inspections.get()
    with pytest.raises(IntegrityError), transaction.atomic():
        count(unit.housing, unit.manager, unit.lot, at=MONDAY, correction=Correction("", wrong))


def test_a_ledger_with_corrections_holds() -> None:
    unit = rated_unit(in_stock=1)
    wrong = count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=TUESDAY)
    correct(unit, wrong.inspection, unsound={"A2": "cracked"})
    correct(unit, replace_a1(unit).replacement, unsound={"A3": "cracked"})
    out = StringIO()
    call_command("ledger", "verify", stdout=out)
    assert "every hash and every result" in out.getvalue()
