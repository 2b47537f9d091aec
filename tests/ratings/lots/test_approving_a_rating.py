"""A rating drafted, approved by a second person, withdrawn; pooled from all a lot's tests."""

from __future__ import annotations

import statistics
import uuid
from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction

from fleet import clock
from ratings.lots.outlook import one_pad_outlook
from ratings.lots.recording import approve_rating, withdraw_rating
from ratings.mechanics.bench import CycleReading
from ratings.mechanics.unit_rating import Policy
from ratings.models import CurrentRating, LedgerEntry, LotRating, RatingApproval, RatingWithdrawal
from ratings.policy import change_policy
from tests.all_tables import changed, everything
from tests.builders import MONDAY, Unit, approve, bench_test, count, drafted_test, rated_unit
from tests.factories import GaugeFactory, ManagerFactory, PadLotFactory

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + timedelta(days=1)


def head(unit: Unit) -> LedgerEntry:
    return CurrentRating.objects.get(housing=unit.housing).head


def draft(unit: Unit, **more: Any) -> LotRating:
    drafted = drafted_test(unit.lot, unit.manager, at=TUESDAY, **more).draft
    assert drafted is not None
    return drafted


def withdraw(rating: LotRating, by: Any, reason: str = "the stand was off") -> list[LedgerEntry]:
    return withdraw_rating(submission_id=uuid.uuid4(), rating=rating, reason=reason, by=by)


def test_approval_re_rates_every_housing_that_holds_the_lot_and_no_other() -> None:
    first, second, stranger = rated_unit(), rated_unit(), rated_unit()
    count(second.housing, second.manager, first.lot, at=TUESDAY)
    rating = draft(first, rate_lbf_in=900)
    stands_at = head(stranger).sequence
    entries = approve(rating)
    assert {entry.housing_id for entry in entries} == {first.housing.pk, second.housing.pk}
    assert head(first).pull_lbf == head(second).pull_lbf == pytest.approx(8 * 950 * 6)
    assert {(entry.cause, entry.cause_record) for entry in entries} == {("lot rated", rating.pk)}
    assert {entry.contents["cause"]["record"] for entry in entries} == {rating.pk}
    assert f"Rating {rating.pk} of lot {first.lot} approved" in entries[0].cause_words
    assert head(stranger).sequence == stands_at


def test_an_unsound_pad_of_the_lot_counts_as_held() -> None:
    unit, other = rated_unit(unsound={"A1": "cracked"}), PadLotFactory()
    count(unit.housing, unit.manager, other, unsound={"A1": "cracked"}, at=TUESDAY)
    rated = bench_test(other, unit.manager, rate_lbf_in=900, at=TUESDAY)
    assert [entry.housing for entry in rated.entries] == [unit.housing]


def test_the_ledger_keeps_which_rating_each_rate_came_from() -> None:
    unit = rated_unit()
    again = bench_test(unit.lot, unit.manager, rate_lbf_in=900, at=TUESDAY)
    assert head(unit).contents["provenance"]["lot_ratings"] == {unit.lot.mark: again.rating.pk}


def test_whoever_drafted_it_is_refused() -> None:
    unit = rated_unit()
    rating = draft(unit)
    before = everything()
    with pytest.raises(ValidationError, match="a second person must approve it"):
        approve(rating, unit.manager)
    assert changed(before) == set()


def test_the_database_too_refuses_whoever_drafted_it() -> None:
    unit = rated_unit()
    with pytest.raises(IntegrityError), transaction.atomic():
        RatingApproval.objects.create(
            submission_id=uuid.uuid4(),
            rating=draft(unit),
            drafted_by=unit.manager,
            recorded_by=unit.manager,
        )


def test_a_rating_is_approved_once() -> None:
    unit = rated_unit()
    rating = draft(unit)
    approve(rating)
    with pytest.raises(ValidationError, match="approved already"):
        approve(LotRating.objects.get(pk=rating.pk))


def test_a_draft_that_rests_on_a_test_since_corrected_is_refused() -> None:
    unit = rated_unit()
    wrong = drafted_test(unit.lot, unit.manager, rate_lbf_in=2000, at=TUESDAY)
    drafted_test(unit.lot, unit.manager, at=TUESDAY, corrects=wrong.test)
    assert wrong.draft is not None
    with pytest.raises(ValidationError, match="was corrected since"):
        approve(wrong.draft)
    assert head(unit).pull_lbf == pytest.approx(48_000)


def test_a_withdrawal_lets_the_rating_before_count_again_and_the_ledger_says_why() -> None:
    unit = rated_unit()
    later = bench_test(unit.lot, unit.manager, rate_lbf_in=960, at=TUESDAY).rating
    assert head(unit).pull_lbf == pytest.approx(8 * 980 * 6)
    # Whoever drafted it may withdraw it: taking back is never refused.
    entries = withdraw(later, unit.manager, "the tape had slipped")
    assert [entry.housing for entry in entries] == [unit.housing]
    assert head(unit).pull_lbf == pytest.approx(48_000)
    assert (head(unit).cause, head(unit).cause_record) == ("rate withdrawn", later.pk)
    assert "withdrawn: the tape had slipped" in head(unit).cause_words
    assert LotRating.objects.get(pk=later.pk).state == "withdrawn"


def test_with_no_rating_before_the_pads_add_nothing() -> None:
    units = [rated_unit(), rated_unit()]
    only = units[0].lot.ratings.get()
    count(units[1].housing, units[1].manager, units[0].lot, at=TUESDAY)
    assert len(withdraw(only, units[0].manager)) == 2
    for unit in units:
        assert head(unit).standing == "unrated"
    assert LotRating.objects.in_force_by_lot([units[0].lot.pk]) == {}


def test_only_an_approved_rating_is_withdrawn() -> None:
    unit = rated_unit()
    with pytest.raises(ValidationError, match="This rating is draft"):
        withdraw(draft(unit), unit.manager)
    rating = unit.lot.ratings.get(approval__isnull=False)
    withdraw(rating, unit.manager)
    with pytest.raises(ValidationError, match="This rating is withdrawn"):
        withdraw(LotRating.objects.get(pk=rating.pk), unit.manager)


def test_a_second_copy_of_an_approval_or_a_withdrawal_changes_nothing() -> None:
    unit, second = rated_unit(), ManagerFactory()
    rating, approval, withdrawal = draft(unit), uuid.uuid4(), uuid.uuid4()
    approve_rating(submission_id=approval, rating=rating, by=second, has_read_doubts=True)
    before = everything()
    again = LotRating.objects.get(pk=rating.pk)
    assert approve_rating(submission_id=approval, rating=again, by=second) == []
    assert changed(before) == set()
    taken_back: dict[str, Any] = {"submission_id": withdrawal, "reason": "twice", "by": second}
    withdraw_rating(rating=again, **taken_back)
    before = everything()
    assert withdraw_rating(rating=LotRating.objects.get(pk=rating.pk), **taken_back) == []
    assert changed(before) == set()
    assert RatingWithdrawal.objects.count() == 1


@pytest.mark.parametrize("act", ["approve", "withdraw"])
def test_an_error_in_one_unit_s_ledger_undoes_it_all(
    monkeypatch: pytest.MonkeyPatch, act: str
) -> None:
    unit, second = rated_unit(), ManagerFactory()
    rating = draft(unit, rate_lbf_in=900)
    if act == "withdraw":
        approve(rating, second)
    before = everything()

    def fail(*_: Any) -> None:
        raise RuntimeError("the calculation broke")

    monkeypatch.setattr("ratings.ledger.ahead.results_of_format", fail)
    with pytest.raises(RuntimeError):
        approve(rating, second) if act == "approve" else withdraw(rating, second)
    assert changed(before) == set()


def test_the_ledger_holds_through_approval_and_withdrawal() -> None:
    unit = rated_unit()
    withdraw(bench_test(unit.lot, unit.manager, rate_lbf_in=500, at=TUESDAY).rating, unit.manager)
    out = StringIO()
    call_command("ledger", "verify", stdout=out)
    assert "every hash and every result" in out.getvalue()


def test_single_pads_measure_the_spread_from_pad_to_pad() -> None:
    unit = rated_unit()
    rates = (1000.0, 960.0, 1040.0, 980.0)
    for rate in rates[1:]:
        rating = draft(unit, rate_lbf_in=rate)
    assert rating.tests.count() == 4
    assert rating.rate_lbf_in == pytest.approx(statistics.mean(rates))
    assert rating.spread_lbf_in == pytest.approx(statistics.stdev(rates))
    assert rating.spread_degrees_of_freedom == 3
    assert head(unit).results["is_assumed_spread"] is True
    approve(rating)
    assert head(unit).results["is_assumed_spread"] is False
    assert head(unit).inputs["lots"][0]["spread_lbf_in"] == rating.spread_lbf_in


def test_pads_tested_together_leave_the_spread_to_the_policy() -> None:
    lot, manager = PadLotFactory(), ManagerFactory()
    drafted_test(lot, manager, rate_lbf_in=1000, pads_in_test=2)
    rating = drafted_test(lot, manager, rate_lbf_in=900, pads_in_test=2).draft
    assert rating is not None
    assert rating.rate_lbf_in == pytest.approx(950)
    assert rating.spread_lbf_in is None


def test_a_test_of_more_pads_weighs_more() -> None:
    lot, manager = PadLotFactory(), ManagerFactory()
    drafted_test(lot, manager, rate_lbf_in=1000, pads_in_test=3)
    rating = drafted_test(lot, manager, rate_lbf_in=990, pads_in_test=1).draft
    assert rating is not None
    # Their means scatter as 1/√3 and 1 of the spread, so they weigh three to one.
    assert rating.rate_lbf_in == pytest.approx((3 * 1000 + 990) / 4, rel=1e-6)


def test_straight_pads_that_differ_are_still_linear() -> None:
    lot, manager = PadLotFactory(), ManagerFactory()
    drafted_test(lot, manager, rate_lbf_in=1200)
    rating = drafted_test(lot, manager, rate_lbf_in=800).draft
    assert rating is not None
    assert rating.linearity_error_pct == pytest.approx(0, abs=1e-6)


def test_a_better_gauge_never_widens_what_all_pads_share() -> None:
    shared = []
    for grade in ("D", "B", "2A", "4A"):
        rating = drafted_test(
            PadLotFactory(), ManagerFactory(), gauge=GaugeFactory(grade=grade)
        ).draft
        assert rating is not None
        shared.append(rating.common_uncertainty_lbf_in)
    assert shared == sorted(shared, reverse=True)


def test_a_rating_keeps_the_coldest_and_warmest_rubber_of_its_tests() -> None:
    lot, manager = PadLotFactory(), ManagerFactory()
    for temperature in (68.0, None, 45.0, 81.0):
        rating = drafted_test(lot, manager, rubber_temperature_f=temperature).draft
    assert rating is not None
    assert (rating.coldest_f, rating.warmest_f) == (45.0, 81.0)


def test_the_outlook_of_one_pad_needs_two_single_pads() -> None:
    lot, manager = PadLotFactory(), ManagerFactory()
    drafted_test(lot, manager, rate_lbf_in=1000)
    drafted_test(lot, manager, rate_lbf_in=1000, pads_in_test=2)
    assert one_pad_outlook(lot) is None
    drafted_test(lot, manager, rate_lbf_in=980)
    drafted_test(lot, manager, rate_lbf_in=500, gauge=GaugeFactory(due_on=None))
    outlook = one_pad_outlook(lot)
    assert outlook is not None
    assert outlook.single_pads == 2
    # k of two at 90 % with 95 % confidence is 20.581 (NIST/SEMATECH handbook, 7.2.6.3).
    sd = statistics.stdev((1000.0, 980.0))
    assert outlook.lower_bound_lbf_in == pytest.approx(990 - 20.581 * sd, rel=1e-3)
    assert outlook.more_pads == 1


@pytest.mark.parametrize("stale_rates", ["keep", "drop"])
def test_a_rate_too_old_counts_as_the_policy_says(stale_rates: str) -> None:
    unit = rated_unit()
    policy = Policy(rate_valid_days=1, stale_rates=stale_rates)
    change_policy(submission_id=uuid.uuid4(), policy=policy, reason="short-lived", by=unit.manager)
    assert "older than the policy" in head(unit).inputs["lots"][0]["stale"]
    if stale_rates == "keep":
        assert head(unit).pull_lbf == pytest.approx(48_000)
        assert head(unit).standing == "meets listing"
    else:
        assert head(unit).pull_lbf in (None, 0.0)
        assert head(unit).standing == "unrated"


@pytest.mark.parametrize(("temperature", "said"), [(30.0, "colder"), (120.0, "warmer")])
def test_a_rate_of_rubber_too_cold_or_too_warm_is_stale(temperature: float, said: str) -> None:
    unit = rated_unit()
    wrong = unit.lot.bench_tests.get()
    bench_test(unit.lot, unit.manager, corrects=wrong, rubber_temperature_f=temperature)
    assert said in head(unit).inputs["lots"][0]["stale"]
    assert head(unit).pull_lbf == pytest.approx(48_000)


NOTHING = "Nothing to post: no figure is other than the ledger has it.\n"


def refreshed(**options: Any) -> str:
    out = StringIO()
    call_command("ledger", "refresh", stdout=out, **options)
    return out.getvalue()


def test_refresh_posts_what_time_alone_has_changed_and_posts_it_once() -> None:
    with clock.set_to(MONDAY):
        unit, other = rated_unit(), rated_unit()
        other_test = bench_test(
            other.lot, other.manager, at=MONDAY, corrects=other.lot.bench_tests.get()
        ).test
    assert other_test.lot == other.lot
    with clock.set_to(MONDAY + timedelta(days=700)):
        bench_test(
            other.lot,
            other.manager,
            at=MONDAY + timedelta(days=700),
            corrects=other_test,
        )
        assert refreshed(username=unit.manager.username) == NOTHING
    with clock.set_to(MONDAY + timedelta(days=731)):
        assert refreshed(username=unit.manager.username) == "1 ledger entry posted.\n"
        assert head(unit).cause == "rate gone stale"
        assert head(unit).recorded_by == unit.manager
        assert head(unit).pull_lbf == pytest.approx(48_000)
    with clock.set_to(MONDAY + timedelta(days=800)):
        assert refreshed(username=unit.manager.username) == NOTHING


@pytest.mark.parametrize("username", [None, "nobody-here"])
def test_refresh_needs_somebody_who_answers_for_it(username: str | None) -> None:
    rated_unit()
    before = everything()
    with pytest.raises(CommandError, match="give the username"):
        refreshed(username=username)
    assert changed(before) == set()


def test_an_older_draft_is_refused_once_a_later_one_is_drafted() -> None:
    unit = rated_unit()
    older, later = draft(unit, rate_lbf_in=900), draft(unit, rate_lbf_in=950)
    with pytest.raises(ValidationError, match=f"Rating {later.pk} was drafted later"):
        approve(older)
    assert approve(later)


def test_a_rating_read_before_another_approved_it_is_refused_in_words() -> None:
    unit = rated_unit()
    rating = draft(unit, rate_lbf_in=900)
    as_first_seen = LotRating.objects.select_related("approval").get(pk=rating.pk)
    approve(rating)
    with pytest.raises(ValidationError, match="approved already"):
        approve(as_first_seen)


def test_a_correction_of_a_test_flags_the_rate_in_use_on_every_unit_at_once() -> None:
    unit = rated_unit()
    in_use = LotRating.objects.in_force_by_lot([unit.lot.pk])[unit.lot.pk]
    corrected = drafted_test(
        unit.lot, unit.manager, at=TUESDAY, rate_lbf_in=900, corrects=in_use.tests.get()
    )
    entry = head(unit)
    assert entry.cause == "rate gone stale"
    assert entry.results["stale_lots"] == [unit.lot.mark]
    assert "a test it rests on was corrected since" in entry.inputs["lots"][0]["stale"]
    assert corrected.draft is not None
    approve(corrected.draft)
    assert head(unit).results["stale_lots"] == []
    call_command("ledger", "verify", stdout=StringIO())


def test_the_doubt_of_a_bent_load_curve_reaches_the_unit() -> None:
    unit = rated_unit()
    bent = [CycleReading(10.0 + x, 60.0 * x + 12.0 * x * x) for x in (1.0, 2.0, 4.0, 6.0)]
    rating = drafted_test(unit.lot, unit.manager, at=TUESDAY, readings=bent).draft
    assert rating is not None
    approve(rating)
    lot = head(unit).inputs["lots"][0]
    assert lot["curve_doubt"] == rating.curve_doubt
    assert lot["curve_doubt"]["force_lbf"] > 0
    assert lot["curve_doubt"]["scatter_lbf"] > 0
