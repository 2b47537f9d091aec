from __future__ import annotations

import hashlib
import json
import uuid
from datetime import timedelta

import pytest
import rfc8785

from ratings.mechanics.record import read_inputs, results_record
from ratings.mechanics.unit_rating import Policy, rate_unit
from ratings.models import CurrentRating, LedgerEntry
from ratings.mounting import mount_housing
from ratings.policy import change_policy
from tests.builders import MONDAY, Unit, bench_test, count, list_hammer, rated_unit
from tests.factories import HammerFactory

pytestmark = pytest.mark.django_db


def last_entry(unit: Unit) -> LedgerEntry:
    return LedgerEntry.objects.filter(housing=unit.housing).latest("sequence")


def test_a_count_posts_the_line_pull_of_the_unit() -> None:
    unit = rated_unit()
    entry = last_entry(unit)
    assert entry.cause == "pad count"
    # 8 pads × 1,000 lbf/in × 6 in.
    assert entry.pull_lbf == pytest.approx(48_000)
    assert entry.standing == "meets listing"


def test_an_entry_recomputes_to_the_last_digit_from_its_document_alone() -> None:
    entry = last_entry(rated_unit(unsound={"A1": "cracked", "B3": "missing"}))
    contents = json.loads(entry.document)
    again = results_record(rate_unit(read_inputs(contents["inputs"])))
    assert rfc8785.dumps(again) == rfc8785.dumps(contents["results"])


def test_an_entry_s_hash_is_the_sha256_of_its_canonical_document() -> None:
    entry = last_entry(rated_unit())
    assert rfc8785.dumps(json.loads(entry.document)).decode() == entry.document
    assert hashlib.sha256(entry.document.encode()).hexdigest() == entry.hash


def test_each_entry_names_the_hash_of_the_one_before() -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=MONDAY)
    chain = list(LedgerEntry.objects.filter(housing=unit.housing).order_by("sequence"))
    assert [entry.previous_hash for entry in chain] == ["0" * 64] + [
        entry.hash for entry in chain[:-1]
    ]


def test_the_head_follows_the_last_entry() -> None:
    unit = rated_unit()
    head = CurrentRating.objects.get(housing=unit.housing)
    entry = last_entry(unit)
    assert (head.head_id, head.sequence, head.head_hash) == (entry.pk, entry.sequence, entry.hash)


def test_a_count_that_confirms_what_is_known_posts_no_entry() -> None:
    unit = rated_unit()
    before = LedgerEntry.objects.count()
    signed = count(unit.housing, unit.manager, unit.lot, at=MONDAY + timedelta(days=1))
    assert signed.entry is None
    assert LedgerEntry.objects.count() == before
    assert unit.housing.inspections.count() == 2


def test_a_lot_re_rated_posts_to_every_housing_that_holds_it_and_no_other() -> None:
    holder, stranger = rated_unit(), rated_unit()
    before = last_entry(stranger).sequence
    rated = bench_test(holder.lot, holder.manager, rate_lbf_in=900, at=MONDAY + timedelta(days=2))
    assert last_entry(holder).cause == "lot rated"
    assert last_entry(holder).cause_record == rated.rating.pk
    # Its two tests of a single pad weigh alike.
    assert last_entry(holder).pull_lbf == pytest.approx(8 * 950 * 6)
    assert last_entry(stranger).sequence == before


def test_an_older_bench_test_recorded_later_is_pooled_with_the_newer() -> None:
    unit = rated_unit()
    bench_test(unit.lot, unit.manager, rate_lbf_in=960, at=MONDAY - timedelta(days=30))
    assert last_entry(unit).pull_lbf == pytest.approx(8 * 980 * 6)


def test_a_listing_re_judges_the_unit() -> None:
    unit = rated_unit()
    list_hammer(unit.hammer, unit.manager, 60_000)
    assert last_entry(unit).cause == "listing"
    assert last_entry(unit).standing == "below listing"


def test_a_policy_re_rates_every_unit_and_its_ledger_says_why() -> None:
    units = [rated_unit(), rated_unit()]
    change_policy(
        submission_id=uuid.uuid4(),
        policy=Policy(pad_spread_pct=12.0),
        reason="New lots scatter more",
        by=units[0].manager,
    )
    for unit in units:
        assert last_entry(unit).cause == "policy"
        assert "New lots scatter more" in last_entry(unit).cause_words


def test_a_mounting_moved_judges_the_housing_by_its_new_hammer() -> None:
    unit = rated_unit()
    other = HammerFactory()
    list_hammer(other, unit.manager, 90_000)
    mount_housing(
        housing=unit.housing, hammer=other, at=MONDAY + timedelta(days=1), by=unit.manager
    )
    assert last_entry(unit).cause == "mounting"
    assert last_entry(unit).standing == "below listing"


def test_a_unit_taken_off_its_hammer_is_unrated_for_want_of_a_listing() -> None:
    unit = rated_unit()
    mount_housing(housing=unit.housing, hammer=None, at=MONDAY + timedelta(days=1), by=unit.manager)
    assert last_entry(unit).standing == "unrated"
    assert last_entry(unit).results["missing"] == ["a listed rating"]


def test_mounting_on_a_hammer_in_use_takes_the_other_housing_off_it() -> None:
    first, second = rated_unit(), rated_unit()
    mount_housing(
        housing=first.housing, hammer=second.hammer, at=MONDAY + timedelta(days=1), by=first.manager
    )
    assert not second.housing.mountings.filter(removed_at__isnull=True).exists()
    assert last_entry(second).standing == "unrated"


def test_every_input_of_the_figure_stands_in_the_entry() -> None:
    entry = last_entry(rated_unit())
    inputs = entry.inputs
    assert len(inputs["positions"]) == 8
    assert inputs["lots"][0]["rate_lbf_in"] == pytest.approx(1000)
    assert inputs["travel_in"] == 6
    assert inputs["listed_lbf"] == 40_000
    assert inputs["policy"]["confidence"] == 0.95
    assert entry.contents["provenance"]["listing"]["source"] == "Data plate"
