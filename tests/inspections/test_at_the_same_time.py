"""Two people at once, each with a connection of their own."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from functools import partial
from io import StringIO
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.db import connections

from fleet.models import PadLot
from fleet.stock import NotEnoughInStock
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.signing import Seen, sign_inspection
from inspections.count.submission import ChangedMeanwhile, Submission
from inspections.models import Inspection, PadReplacement
from ratings import listings as listing
from ratings.jobs.commitments import (
    CannotCommit,
    commit_unit,
    confirm_commitment,
    release_unit,
)
from ratings.ledger.posting import post
from ratings.listings import record_listing
from ratings.models import (
    Commitment,
    CommitmentConfirmation,
    CurrentRating,
    JobAnswer,
    LedgerEntry,
    Listing,
    LotRating,
)
from ratings.mounting import mount_housing
from tests.builders import MONDAY, Unit, approve, count, drafted_test, pads, rated_unit
from tests.factories import DispatcherFactory, HammerFactory
from tests.factories import TestStandFactory as StandFactory
from tests.job_builders import commit, extraction_job, figured_unit

pytestmark = pytest.mark.django_db(transaction=True)
TUESDAY = MONDAY + timedelta(days=1)
Act = Callable[[], Any]


def at_once(*acts: Act) -> list[Any]:
    """What each act returned, or the exception it ended in."""
    start = threading.Barrier(len(acts))

    def run(act: Act) -> Any:
        try:
            start.wait(timeout=10)
            return act()
        except Exception as trouble:
            return trouble
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(acts)) as pool:
        return list(pool.map(run, acts))


def sequence(unit: Unit) -> int:
    return CurrentRating.objects.get(housing=unit.housing).sequence


def signing(unit: Unit, fault: str, submission: Submission, why: str = "") -> Act:
    seen = Seen(
        TUESDAY,
        pads(unit.housing, unit.lot, {fault: "cracked"}),
        travel_in=6.0,
        sound_again_reason=why,
    )
    return lambda: sign_inspection(
        housing=unit.housing, submission=submission, seen=seen, by=unit.manager
    )


def fitting(unit: Unit, lot: PadLot, side: str, number: int) -> Act:
    return lambda: sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=TUESDAY,
        pads=[PadFitted(side, number, lot.pk)],
        by=unit.manager,
    )


def assert_the_ledger_holds() -> None:
    out = StringIO()
    call_command("ledger", "verify", stdout=out)
    assert "every hash and every result" in out.getvalue()


def test_of_two_who_sign_one_unit_from_the_same_page_one_is_asked_to_look_again() -> None:
    unit = rated_unit()
    before = sequence(unit)
    outcomes = at_once(
        *(signing(unit, fault, Submission(uuid.uuid4(), before)) for fault in ("A1", "A2"))
    )
    assert [type(each) for each in outcomes].count(ChangedMeanwhile) == 1
    assert sequence(unit) == before + 1
    assert unit.housing.inspections.count() == 2
    assert unit.housing.positions.exclude(condition="sound").count() == 1
    assert_the_ledger_holds()


def test_of_those_who_sign_out_of_sight_of_each_other_the_later_are_asked_why() -> None:
    unit = rated_unit()
    outcomes = at_once(
        *(signing(unit, fault, Submission(uuid.uuid4())) for fault in ("A1", "A2", "A3"))
    )
    # Each calls the pads of the others sound: what the first saw is not healed without a word.
    refused = [each for each in outcomes if isinstance(each, ValidationError)]
    assert [list(each.message_dict) for each in refused] == [["sound_again_reason"]] * 2
    assert unit.housing.inspections.count() == 2
    assert_the_ledger_holds()


def test_those_who_sign_out_of_sight_of_each_other_with_a_reason_are_all_taken() -> None:
    unit = rated_unit()
    outcomes = at_once(
        *(
            signing(unit, fault, Submission(uuid.uuid4()), "Only dirt")
            for fault in ("A1", "A2", "A3")
        )
    )
    assert not [each for each in outcomes if isinstance(each, Exception)]
    assert unit.housing.inspections.count() == 4
    # Each calls the pads of the others sound, and nobody looked at them a second time.
    assert unit.housing.positions.exclude(condition="sound").count() == 3
    assert_the_ledger_holds()


def test_one_submission_sent_three_times_at_once_is_recorded_once() -> None:
    unit = rated_unit()
    before = sequence(unit)
    submission = Submission(uuid.uuid4(), before)
    outcomes = at_once(*[signing(unit, "A1", submission)] * 3)
    assert len({each.inspection.pk for each in outcomes}) == 1
    assert Inspection.objects.count() == 2
    assert sequence(unit) == before + 1


def test_one_replacement_sent_twice_at_once_takes_one_pad() -> None:
    unit = rated_unit(unsound={"A1": "cracked"}, in_stock=5)
    submission = Submission(uuid.uuid4())

    def fit() -> Any:
        return sign_replacement(
            housing=unit.housing,
            submission=submission,
            fitted_at=TUESDAY,
            pads=[PadFitted("A", 1, unit.lot.pk)],
            by=unit.manager,
        )

    outcomes = at_once(fit, fit)
    assert len({each.replacement.pk for each in outcomes}) == 1
    unit.lot.refresh_from_db()
    assert unit.lot.in_stock == 4


def test_of_two_who_take_the_last_pad_one_is_refused() -> None:
    first, second = rated_unit(unsound={"A1": "cracked"}, in_stock=1), rated_unit()
    count(second.housing, second.manager, first.lot, unsound={"B2": "missing"})
    outcomes = at_once(fitting(first, first.lot, "A", 1), fitting(second, first.lot, "B", 2))
    assert [type(each) for each in outcomes].count(NotEnoughInStock) == 1
    assert PadReplacement.objects.count() == 1
    first.lot.refresh_from_db()
    assert first.lot.in_stock == 0
    unsound = [
        unit.housing.positions.exclude(condition="sound").count() for unit in (first, second)
    ]
    assert sorted(unsound) == [0, 1]


def test_replacements_that_cross_two_lots_never_wait_for_each_other_for_ever() -> None:
    one, two = rated_unit(in_stock=2), rated_unit(in_stock=2)

    def both(unit: Unit, first: PadLot, second: PadLot) -> Act:
        fitted = [PadFitted("A", 1, first.pk), PadFitted("A", 2, second.pk)]
        return lambda: sign_replacement(
            housing=unit.housing,
            submission=Submission(uuid.uuid4()),
            fitted_at=TUESDAY,
            pads=fitted,
            by=unit.manager,
        )

    outcomes = at_once(both(one, one.lot, two.lot), both(two, two.lot, one.lot))
    assert not [each for each in outcomes if isinstance(each, Exception)]
    assert set(PadLot.objects.values_list("in_stock", flat=True)) == {0}


def test_a_lot_re_rated_while_it_is_fitted_elsewhere_ends_with_the_new_rate_everywhere() -> None:
    holder, taker = rated_unit(in_stock=4), rated_unit()
    stand = StandFactory()
    last = holder.lot.bench_tests.get()
    for day, rate in enumerate((900.0, 1100.0, 950.0, 1050.0), start=1):
        drafted = drafted_test(
            holder.lot,
            holder.manager,
            rate_lbf_in=rate,
            at=MONDAY + timedelta(days=day),
            stand=stand,
            corrects=last,
        )
        last = drafted.test
        assert drafted.draft is not None
        outcomes = at_once(partial(approve, drafted.draft), fitting(taker, holder.lot, "A", day))
        assert not [each for each in outcomes if isinstance(each, Exception)]
        for unit in (holder, taker):
            rates = {
                lot["lot"]: lot["rate_lbf_in"]
                for lot in CurrentRating.objects.get(housing=unit.housing).head.inputs["lots"]
            }
            assert rates[holder.lot.mark] == pytest.approx(rate)
    assert_the_ledger_holds()


def test_of_two_bench_tests_of_one_lot_at_once_the_second_is_drafted_with_the_first() -> None:
    unit, stand = rated_unit(), StandFactory()
    outcomes = at_once(
        *(
            lambda rate=rate: drafted_test(
                unit.lot, unit.manager, rate_lbf_in=rate, at=TUESDAY, stand=stand
            )
            for rate in (900.0, 800.0)
        )
    )
    assert not [each for each in outcomes if isinstance(each, Exception)]
    newest = max((each.draft for each in outcomes), key=lambda draft: draft.pk)
    assert newest.tests.count() == 3
    approve(newest)
    head = LedgerEntry.objects.filter(housing=unit.housing).latest("sequence")
    assert head.pull_lbf == pytest.approx(8 * 900 * 6)
    assert_the_ledger_holds()


def test_of_two_who_approve_one_draft_at_once_one_is_told_that_it_is_done() -> None:
    unit = rated_unit()
    draft = drafted_test(unit.lot, unit.manager, rate_lbf_in=900).draft
    assert draft is not None
    before = sequence(unit)
    fresh = [LotRating.objects.get(pk=draft.pk) for _ in range(2)]
    outcomes = at_once(*(lambda rating=rating: approve(rating) for rating in fresh))
    assert [type(each) for each in outcomes].count(ValidationError) == 1
    assert sequence(unit) == before + 1
    assert_the_ledger_holds()


def test_of_two_housings_put_on_one_hammer_at_once_one_hangs_there_in_the_end() -> None:
    first, second, free = rated_unit(), rated_unit(), HammerFactory()
    outcomes = at_once(
        *(
            lambda unit=unit: mount_housing(
                housing=unit.housing, hammer=free, at=TUESDAY, by=unit.manager
            )
            for unit in (first, second)
        )
    )
    assert not [each for each in outcomes if isinstance(each, Exception)]
    assert free.mountings.filter(removed_at__isnull=True).count() == 1
    assert_the_ledger_holds()


def test_a_hammer_listed_while_a_housing_is_put_on_it_judges_that_housing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit, free = rated_unit(), HammerFactory()
    written = threading.Event()

    def slow_post(*args: Any, **kwargs: Any) -> Any:
        # The listing is written and not yet committed; leave the other time to pass by.
        written.set()
        threading.Event().wait(0.4)
        return post(*args, **kwargs)

    def list_it() -> Listing:
        return record_listing(
            submission_id=uuid.uuid4(),
            hammer=free,
            listed_lbf=30_000.0,
            source="Sheet 9",
            dated=date(2020, 1, 1),
            by=unit.manager,
        )

    def mount_it() -> Any:
        written.wait(timeout=10)
        return mount_housing(housing=unit.housing, hammer=free, at=TUESDAY, by=unit.manager)

    monkeypatch.setattr(listing, "post", slow_post)
    outcomes = at_once(list_it, mount_it)
    assert not [each for each in outcomes if isinstance(each, Exception)]
    head = CurrentRating.objects.get(housing=unit.housing).head
    assert head.listed_lbf == 30_000


def test_of_two_jobs_that_ask_for_one_unit_one_gets_it() -> None:
    unit, jobs = figured_unit(), [extraction_job(), extraction_job()]
    outcomes = at_once(*(partial(commit, unit, job, unit.manager) for job in jobs))
    assert [type(each) for each in outcomes].count(CannotCommit) == 1
    assert (Commitment.objects.count(), JobAnswer.objects.count()) == (1, 1)
    assert_the_ledger_holds()


def test_one_commitment_sent_three_times_at_once_is_made_once() -> None:
    unit, job, sent = figured_unit(), extraction_job(), uuid.uuid4()

    def send() -> Commitment:
        return commit_unit(
            is_care_known=True,
            watched_by="Odd Brandt",
            submission_id=sent,
            job=job,
            housing=unit.housing,
            by=unit.manager,
        )

    assert len({each.pk for each in at_once(send, send, send)}) == 1
    assert JobAnswer.objects.count() == 1


def test_one_confirmation_sent_twice_at_once_is_kept_once() -> None:
    made, by, sent = commit(figured_unit()), DispatcherFactory(), uuid.uuid4()
    confirming = partial(
        confirm_commitment,
        submission_id=sent,
        commitment=made,
        by=by,
        is_care_known=True,
        watched_by="Odd Brandt",
    )
    first, second = at_once(confirming, confirming)
    assert first == second
    assert CommitmentConfirmation.objects.count() == 1


def test_released_and_confirmed_at_once_it_is_released_and_never_both_by_halves() -> None:
    made, by = commit(figured_unit()), DispatcherFactory()
    _released, confirmed = at_once(
        partial(release_unit, commitment=made, reason="Rained off.", by=by),
        partial(
            confirm_commitment,
            submission_id=uuid.uuid4(),
            commitment=made,
            by=by,
            is_care_known=True,
            watched_by="Odd Brandt",
        ),
    )
    made.refresh_from_db()
    assert not made.is_in_force
    # Whichever came first, an answer is kept with its confirmation or not at all.
    kept = CommitmentConfirmation.objects.count()
    assert JobAnswer.objects.count() == 1 + kept
    assert isinstance(confirmed, CannotCommit) == (kept == 0)
