"""What is worked out before the locks counts only where nothing moved until they are held."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from fleet import clock
from fleet.models import PadLot
from inspections.count.signing import Seen, sign_inspection
from inspections.count.submission import Submission
from ratings.ledger import ahead, posting
from ratings.lots.recording import approve_rating, withdraw_rating
from ratings.mechanics.unit_rating import Policy
from ratings.models import CurrentRating, LedgerEntry, LotRating
from ratings.policy import change_policy
from ratings.record.verify import verify_record
from tests.builders import (
    MONDAY,
    Unit,
    approve,
    bench_test,
    count,
    drafted_test,
    pads,
    rated_unit,
)
from tests.factories import ManagerFactory, PadLotFactory

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + timedelta(days=1)
WEDNESDAY = MONDAY + timedelta(days=2)


@pytest.fixture(autouse=True)
def _as_in_service(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each of these tests is a transaction, in which nothing would be worked out ahead."""
    monkeypatch.setattr(ahead, "may_work_ahead", lambda: True)
    monkeypatch.setattr(ahead, "MANY", 1)
    monkeypatch.setattr(posting, "may_work_ahead", lambda: True)


def just_before_the_locks(monkeypatch: pytest.MonkeyPatch, happens: Callable[[], object]) -> None:
    """Let something be recorded by others after all was worked out."""

    work_out = ahead.all_worked_out

    def worked_out(*given: Any) -> Any:
        found = work_out(*given)
        monkeypatch.undo()
        happens()
        return found

    monkeypatch.setattr(ahead, "all_worked_out", worked_out)


def none_worked_out_under_locks(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_facts: object) -> None:
        raise AssertionError("a unit is rated while others wait")

    monkeypatch.setattr(posting, "work_out", refuse)


def count_with_another(unit: Unit, lot: PadLot, another: PadLot) -> None:
    """Count a unit whose first pad is of another lot than all the rest."""
    first, *rest = pads(unit.housing, lot)
    sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(
            seen_at=TUESDAY,
            pads=[replace(first, lot_id=another.pk), *rest],
            travel_in=6.0,
            kind="pad count",
        ),
        by=unit.manager,
    )


def head(unit: Unit) -> LedgerEntry:
    return CurrentRating.objects.get(housing=unit.housing).head


def draft(unit: Unit, rate_lbf_in: float = 900.0) -> LotRating:
    drafted = drafted_test(unit.lot, unit.manager, at=TUESDAY, rate_lbf_in=rate_lbf_in).draft
    assert drafted is not None
    return drafted


def faults() -> list[str]:
    return [str(fault) for part in verify_record(only={"chains"}) for fault in part.faults]


def test_units_that_did_not_move_are_not_rated_again_under_the_locks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    first, second = rated_unit(), rated_unit()
    other = PadLotFactory()
    bench_test(other, first.manager)
    # With a pad of another rated lot, so that which lot comes first might matter.
    count_with_another(second, first.lot, other)
    rating = draft(first)
    none_worked_out_under_locks(monkeypatch)
    assert {each.housing_id for each in approve(rating)} == {first.housing.pk, second.housing.pk}
    assert head(first).pull_lbf == pytest.approx(8 * 950 * 6)
    assert not faults()


def test_a_count_between_working_out_and_the_locks_is_seen_and_the_chain_holds(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    moved, still = rated_unit(), rated_unit()
    count(still.housing, still.manager, moved.lot, at=TUESDAY)
    rating, before = draft(moved), head(moved).sequence
    just_before_the_locks(
        monkeypatch,
        lambda: count(
            moved.housing, moved.manager, moved.lot, unsound={"A1": "cracked"}, at=WEDNESDAY
        ),
    )
    assert len(approve(rating)) == 2
    seen = head(moved)
    assert seen.sequence == before + 2
    assert seen.sound_pads == 7
    assert {"side": "A", "number": 1, "condition": "cracked", "lot": moved.lot.mark} in seen.inputs[
        "positions"
    ]
    assert head(still).sound_pads == 8
    assert not faults()


def test_a_policy_changed_between_rates_every_unit(monkeypatch: pytest.MonkeyPatch) -> None:
    unit = rated_unit()
    rating = draft(unit)
    just_before_the_locks(
        monkeypatch,
        lambda: change_policy(
            submission_id=uuid.uuid4(),
            policy=replace(Policy(), confidence=0.99),
            reason="Stricter",
            by=unit.manager,
        ),
    )
    approve(rating)
    assert head(unit).inputs["policy"]["confidence"] == 0.99
    assert head(unit).contents["provenance"]["lot_ratings"] == {unit.lot.mark: rating.pk}
    assert not faults()


def test_a_rating_of_another_lot_approved_between_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    unit, other = rated_unit(), PadLotFactory()
    count_with_another(unit, unit.lot, other)
    rating = draft(unit)
    between: list[LotRating] = []
    just_before_the_locks(
        monkeypatch, lambda: between.append(bench_test(other, unit.manager).rating)
    )
    approve(rating)
    assert head(unit).contents["provenance"]["lot_ratings"] == {
        unit.lot.mark: rating.pk,
        other.mark: between[0].pk,
    }
    assert not faults()


def test_a_unit_that_came_to_hold_the_lot_between_is_rated_too(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit, late = rated_unit(), rated_unit()
    rating = draft(unit)
    just_before_the_locks(
        monkeypatch, lambda: count(late.housing, late.manager, unit.lot, at=WEDNESDAY)
    )
    assert len(approve(rating)) == 2
    assert head(late).contents["provenance"]["lot_ratings"] == {unit.lot.mark: rating.pk}
    assert not faults()


def test_a_withdrawal_brings_the_rate_before_back_as_worked_out_ahead(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit = rated_unit()
    first = head(unit).contents["provenance"]["lot_ratings"]
    rating = draft(unit)
    approve(rating)
    none_worked_out_under_locks(monkeypatch)
    entries = withdraw_rating(
        submission_id=uuid.uuid4(), rating=rating, reason="the stand was off", by=unit.manager
    )
    assert len(entries) == 1
    assert head(unit).contents["provenance"]["lot_ratings"] == first
    assert not faults()


def test_a_withdrawal_of_the_only_rate_leaves_none(monkeypatch: pytest.MonkeyPatch) -> None:
    unit = rated_unit()
    (only,) = LotRating.objects.in_force()
    none_worked_out_under_locks(monkeypatch)
    withdraw_rating(submission_id=uuid.uuid4(), rating=only, reason="wrong pads", by=unit.manager)
    assert head(unit).standing == "unrated"
    assert not faults()


def test_nothing_is_worked_out_for_an_approval_that_is_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit = rated_unit()
    rating = draft(unit)

    def refuse(*_: object) -> None:
        raise AssertionError("worked out for nothing")

    monkeypatch.setattr(ahead, "all_worked_out", refuse)
    with pytest.raises(ValidationError, match="Read the doubts above"):
        approve_rating(submission_id=uuid.uuid4(), rating=rating, by=ManagerFactory())


def test_rates_gone_stale_are_posted_as_worked_out_ahead(monkeypatch: pytest.MonkeyPatch) -> None:
    unit = rated_unit()
    none_worked_out_under_locks(monkeypatch)
    assert posting.post_stale_rates(unit.manager) == []
    with clock.set_to(clock.now() + timedelta(days=Policy().rate_valid_days + 1)):
        assert len(posting.post_stale_rates(unit.manager)) == 1
    assert not faults()
