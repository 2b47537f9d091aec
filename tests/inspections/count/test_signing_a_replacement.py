from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from fleet.models import PadLot, StockMove
from fleet.stock import NotEnoughInStock
from inspections.count import replacement
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.submission import ChangedMeanwhile, Submission
from inspections.models import PadReplacement
from tests.all_tables import changed, everything
from tests.builders import MONDAY, Unit, bench_test, rated_unit, receive
from tests.factories import PadLotFactory

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + timedelta(days=1)
A1, A2, B1 = ("A", 1), ("A", 2), ("B", 1)


def fit(
    unit: Unit,
    *places: tuple[str, int],
    lot: PadLot | None = None,
    submission: Submission | None = None,
) -> Any:
    return sign_replacement(
        housing=unit.housing,
        submission=submission or Submission(uuid.uuid4()),
        fitted_at=TUESDAY,
        pads=[PadFitted(side, number, (lot or unit.lot).pk) for side, number in places],
        by=unit.manager,
    )


def in_stock(lot: PadLot) -> int:
    lot.refresh_from_db()
    return lot.in_stock


def test_pads_leave_the_shelf_and_the_figures_move_with_them() -> None:
    unit = rated_unit(unsound={"A1": "cracked", "A2": "missing"}, in_stock=5)
    replaced = fit(unit, A1, A2)
    assert in_stock(unit.lot) == 3
    move = StockMove.objects.get(kind="fitted")
    assert (move.change, move.occurred_at, move.recorded_by) == (-2, TUESDAY, unit.manager)
    assert not unit.housing.positions.exclude(condition="sound").exists()
    assert replaced.entry.cause == "pad replacement"
    assert replaced.entry.pull_lbf == pytest.approx(48_000)


def test_the_stock_is_always_the_sum_of_its_moves() -> None:
    unit = rated_unit(unsound={"A1": "cracked"}, in_stock=5)
    fit(unit, A1)
    assert sum(move.change for move in unit.lot.moves.all()) == in_stock(unit.lot) == 4


def test_what_was_taken_out_is_kept_with_its_condition_and_lot() -> None:
    unit = rated_unit(unsound={"A1": "cracked", "A2": "missing"})
    other = PadLotFactory()
    receive(other, unit.manager, 2)
    pads = fit(unit, A1, A2, lot=other).replacement.pads
    cracked, missing = pads.get(number=1), pads.get(number=2)
    assert (cracked.removed_condition, cracked.removed_lot) == ("cracked", unit.lot)
    assert (missing.removed_condition, missing.removed_lot) == ("missing", None)
    assert cracked.lot == other


def test_pads_of_another_rated_lot_pull_at_their_own_rate() -> None:
    unit = rated_unit(unsound={"A1": "cracked"})
    stiffer = PadLotFactory()
    bench_test(stiffer, unit.manager, rate_lbf_in=1500)
    receive(stiffer, unit.manager, 1)
    assert fit(unit, A1, lot=stiffer).entry.pull_lbf == pytest.approx(7 * 6000 + 9000)


def test_more_pads_than_the_shelf_holds_are_refused_and_nothing_is_kept() -> None:
    unit = rated_unit(unsound={"A1": "cracked", "A2": "cracked"}, in_stock=1)
    before = everything()
    with pytest.raises(NotEnoughInStock, match="has 1 in stock and 2 are asked for"):
        fit(unit, A1, A2)
    assert changed(before) == set()


def test_a_second_lot_that_falls_short_puts_the_first_back() -> None:
    unit = rated_unit(unsound={"A1": "cracked", "A2": "cracked"}, in_stock=5)
    empty = PadLotFactory()
    before = everything()
    with pytest.raises(NotEnoughInStock):
        sign_replacement(
            housing=unit.housing,
            submission=Submission(uuid.uuid4()),
            fitted_at=TUESDAY,
            pads=[PadFitted("A", 1, unit.lot.pk), PadFitted("A", 2, empty.pk)],
            by=unit.manager,
        )
    assert changed(before) == set()


def test_the_database_itself_refuses_a_stock_below_zero() -> None:
    lot = PadLotFactory()
    with pytest.raises(IntegrityError), transaction.atomic():
        PadLot.objects.filter(pk=lot.pk).update(in_stock=-1)
    assert in_stock(lot) == 0


def test_a_second_copy_takes_nothing_more_from_the_shelf() -> None:
    unit = rated_unit(unsound={"A1": "cracked", "A2": "cracked"}, in_stock=5)
    submission = Submission(uuid.uuid4())
    first = fit(unit, A1, submission=submission)
    before = everything()
    second = fit(unit, A2, submission=submission)
    assert second.replacement == first.replacement
    assert changed(before) == set()


@pytest.mark.parametrize(
    ("places", "words"),
    [
        ((), "No position was given a pad"),
        ((A1, A1), "A1 is given twice"),
        ((A1, ("A", 5)), "A5 is not on housing"),
    ],
)
def test_positions_that_cannot_be_filled_leave_nothing_behind(
    places: tuple[tuple[str, int], ...], words: str
) -> None:
    unit = rated_unit(in_stock=5)
    before = everything()
    with pytest.raises(ValidationError, match=words):
        fit(unit, *places)
    assert changed(before) == set()


def test_a_lot_not_on_record_leaves_nothing_behind() -> None:
    unit = rated_unit(in_stock=5)
    before = everything()
    with pytest.raises(ValidationError, match="The lot given at A1 is not on record"):
        fit(unit, A1, lot=PadLot(pk=999_999))
    assert changed(before) == set()


def test_a_replacement_based_on_an_older_entry_is_refused() -> None:
    unit = rated_unit(in_stock=5)
    before = everything()
    with pytest.raises(ChangedMeanwhile):
        fit(unit, A1, submission=Submission(uuid.uuid4(), based_on=0))
    assert changed(before) == set()


def test_an_error_while_it_is_posted_puts_the_pads_back(monkeypatch: pytest.MonkeyPatch) -> None:
    unit = rated_unit(unsound={"A1": "cracked"}, in_stock=1)
    before = everything()

    def fail(*_: Any, **__: Any) -> None:
        assert in_stock(unit.lot) == 0
        raise RuntimeError("posting broke")

    monkeypatch.setattr(replacement, "post", fail)
    with pytest.raises(RuntimeError):
        fit(unit, A1)
    assert changed(before) == set()
    assert not PadReplacement.objects.exists()


def test_a_sound_pad_replaced_by_one_of_its_own_lot_is_on_record_without_an_entry() -> None:
    unit = rated_unit(in_stock=1)
    replaced = fit(unit, B1)
    assert replaced.entry is None
    assert unit.housing.replacements.get() == replaced.replacement
    assert in_stock(unit.lot) == 0
