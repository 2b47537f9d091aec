from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from contextlib import AbstractContextManager, suppress
from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
import rfc8785
from django.core.management import CommandError, call_command
from django.db import connection, transaction

from fleet import clock
from fleet.models import PadPosition, SuppressorHousing
from ratings.models import CurrentRating, LedgerEntry, Listing
from tests.builders import MONDAY, Unit, count, rated_unit

pytestmark = pytest.mark.django_db
Tampering = Callable[[], AbstractContextManager[None]]


@pytest.fixture
def unit() -> Unit:
    """A unit with four entries: a mounting, and three counts that differ."""
    unit = rated_unit()
    for day, fault in enumerate(("A1", "A2"), start=1):
        count(
            unit.housing,
            unit.manager,
            unit.lot,
            unsound={fault: "cracked"},
            at=MONDAY + timedelta(days=day),
        )
    return unit


def entry(unit: Unit, sequence: int) -> LedgerEntry:
    return LedgerEntry.objects.get(housing=unit.housing, sequence=sequence)


def verdict() -> str:
    """What the command prints, and what it fails with."""
    out, err = StringIO(), StringIO()
    try:
        call_command("ledger", "verify", stdout=out, stderr=err)
    except CommandError as broken:
        return f"exit {broken.returncode}: {broken}\n{err.getvalue()}"
    return out.getvalue()


def rewrite(found: LedgerEntry, change: Callable[[dict[str, Any]], None]) -> None:
    """Change an entry's document and give it the hash that fits, as a forger would."""
    contents = json.loads(found.document)
    change(contents)
    document = rfc8785.dumps(contents).decode()
    LedgerEntry.objects.filter(pk=found.pk).update(
        document=document, hash=hashlib.sha256(document.encode()).hexdigest()
    )


def test_an_untouched_ledger_holds_and_says_how_much_was_walked(unit: Unit) -> None:
    rated_unit()
    entries = LedgerEntry.objects.count()
    said = verdict()
    assert "rows: every row is what the journal says" in said
    assert said.endswith(
        f"{entries} entries of 2 housings hold: every hash and every result.\n"
        "0 answers given to jobs hold: every hash and every verdict.\n"
    )


def test_an_empty_ledger_holds() -> None:
    assert "0 entries of 0 housings hold" in verdict()


def test_a_changed_figure_is_named(unit: Unit, tampering: Tampering) -> None:
    with tampering():
        LedgerEntry.objects.filter(pk=entry(unit, 3).pk).update(pull_lbf=99_999.0)
    said = verdict()
    assert f"housing {unit.housing.mark}, entry 3" in said
    assert "pull_lbf is stored as 99999.0" in said
    assert said.startswith("exit 1: ")


def test_a_changed_document_is_named(unit: Unit, tampering: Tampering) -> None:
    found = entry(unit, 2)
    with tampering():
        LedgerEntry.objects.filter(pk=found.pk).update(
            document=found.document.replace('"travel_in":6', '"travel_in":9')
        )
    said = verdict()
    assert f"housing {unit.housing.mark}, entry 2: its document does not give its hash" in said


def test_a_figure_forged_with_its_hash_is_found_out_by_its_inputs(
    unit: Unit, tampering: Tampering
) -> None:
    def double(contents: dict[str, Any]) -> None:
        contents["results"]["pull_lbf"] *= 2

    found = entry(unit, 4)
    with tampering():
        rewrite(found, double)
        forged = entry(unit, 4)
        LedgerEntry.objects.filter(pk=found.pk).update(
            pull_lbf=forged.contents["results"]["pull_lbf"]
        )
        CurrentRating.objects.filter(head=found).update(head_hash=forged.hash)
    assert "entry 4: pull_lbf is written as" in verdict()


def test_a_removed_row_is_named(unit: Unit, tampering: Tampering) -> None:
    with tampering():
        LedgerEntry.objects.filter(pk=entry(unit, 2).pk).delete()
    assert f"housing {unit.housing.mark}, entry 2: it is not there" in verdict()


def test_swapped_rows_are_named(unit: Unit, tampering: Tampering) -> None:
    with tampering():
        for pair in ((2, 900), (3, 2), (900, 3)):
            LedgerEntry.objects.filter(housing=unit.housing, sequence=pair[0]).update(
                sequence=pair[1]
            )
    said = verdict()
    assert f"housing {unit.housing.mark}, entry 2" in said
    assert "the hash it names as the one before" in said


def test_a_truncated_tail_is_found_out_by_the_stored_head(unit: Unit, tampering: Tampering) -> None:
    head = CurrentRating.objects.get(housing=unit.housing)
    with tampering():
        # The head still names entry 4 by number and hash, the row itself is cut off.
        CurrentRating.objects.filter(pk=head.pk).update(head=entry(unit, 3))
        LedgerEntry.objects.filter(pk=head.head_id).delete()
    said = verdict()
    assert "entry 5: the stored head is entry 5 but the chain has 4" in said


def test_a_chain_whose_head_was_removed_is_named(unit: Unit, tampering: Tampering) -> None:
    other = rated_unit()
    with tampering():
        CurrentRating.objects.filter(housing=other.housing).delete()
    assert f"housing {other.housing.mark}" in verdict()
    assert "no stored head" in verdict()


def test_a_correction_pointed_at_another_entry_is_named(unit: Unit, tampering: Tampering) -> None:
    with tampering():
        LedgerEntry.objects.filter(pk=entry(unit, 3).pk).update(corrects=entry(unit, 1))
    assert "entry 3: corrects is stored as" in verdict()


def test_a_recorded_time_moved_is_named(unit: Unit, tampering: Tampering) -> None:
    with tampering():
        LedgerEntry.objects.filter(pk=entry(unit, 2).pk).update(recorded_at=MONDAY)
    assert "entry 2: recorded_at is stored as" in verdict()


def test_last_entries_are_held_to_rates_as_fresh_as_they_were_then(unit: Unit) -> None:
    other, later = rated_unit(), MONDAY + timedelta(days=3 * 365)
    with clock.set_to(later):
        count(other.housing, other.manager, unit.lot, unsound={"A1": "cracked"}, at=later)
    (then,) = entry(unit, 4).inputs["lots"]
    (stale,) = other.housing.ledger_entries.latest("sequence").inputs["lots"]
    assert then["lot"] == stale["lot"]
    assert then["stale"] == ""
    assert "is older than the policy lets a rate hold" in stale["stale"]
    assert "of 2 housings hold" in verdict()


def test_every_housing_that_does_not_hold_is_named(unit: Unit, tampering: Tampering) -> None:
    others = [rated_unit(), rated_unit()]
    with tampering():
        LedgerEntry.objects.filter(pk=entry(unit, 3).pk).update(pull_lbf=99_999.0)
        CurrentRating.objects.filter(housing=others[0].housing).delete()
        Listing.objects.filter(hammer=others[1].hammer).update(listed_lbf=1_000.0)
    said = verdict()
    assert f"housing {unit.housing.mark}, entry 3: pull_lbf is stored" in said
    assert f"housing {others[0].housing.mark}, entry 2: no stored head" in said
    assert f"housing {others[1].housing.mark}, entry 2: the records now" in said


class Undo(Exception):
    """Raised to roll back what a test did."""


def test_a_whole_chain_removed_is_found_out_by_its_leaves(unit: Unit, tampering: Tampering) -> None:
    said = []
    with suppress(Undo), transaction.atomic():
        with tampering(), connection.cursor() as cursor:
            cursor.execute(
                "DELETE FROM ratings_ledgerentry WHERE housing_id = %s", [unit.housing.pk]
            )
            said.append(verdict())
        raise Undo
    assert "sequence 1, housing" in said[0]
    assert "it was recorded, and it is not there" in said[0]


def test_a_travel_changed_behind_the_ledger_is_named(unit: Unit) -> None:
    SuppressorHousing.objects.filter(pk=unit.housing.pk).update(travel_in=7.5)
    assert "travel: it is kept as 7.5 in, and the newest tape says 6.0 in" in verdict()


def test_a_pad_changed_behind_the_ledger_is_named(unit: Unit) -> None:
    PadPosition.objects.filter(housing=unit.housing, condition="cracked").update(condition="sound")
    assert "position A2: it is kept as sound, and the newest facts say cracked" in verdict()


def test_a_listing_changed_behind_the_ledger_is_named(unit: Unit, tampering: Tampering) -> None:
    with tampering():
        Listing.objects.update(listed_lbf=1_000.0)
    assert "entry 5: the records now have other listed_lbf" in verdict()
