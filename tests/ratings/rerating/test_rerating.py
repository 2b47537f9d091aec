"""What rates many units again is done beside its page, by the function that does it at once."""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, OperationalError, transaction
from django.db.models import Model
from django.test import Client
from django.urls import reverse

from fleet.fields import SubmissionForm
from fleet.long_work import queue
from fleet.models import LongWork, LotCorrection, PadLot, Refusal
from ratings.bench.recording import record_bench_test
from ratings.ledger import ahead, posting
from ratings.ledger.posting import Cause
from ratings.lots.correcting import correct_lot
from ratings.lots.recording import withdraw_rating
from ratings.mechanics.arguments import not_negative
from ratings.mechanics.remarks import Refused
from ratings.mechanics.unit_rating import Policy
from ratings.models import (
    BenchTest,
    CurrentRating,
    LedgerEntry,
    LotRating,
    ProposalAnswer,
    RatingApproval,
    RatingPolicy,
    RatingState,
    RatingWithdrawal,
)
from ratings.models.policy import Safeguards
from ratings.payload import written
from ratings.policy import change_policy
from ratings.proposals.acts import SecondPersonNeeded
from ratings.proposals.recording import propose
from ratings.rerating import long_work
from ratings.rerating.long_work import record_or_begin
from ratings.rerating.telling import see
from tests.builders import Unit, drafted_test, rated_unit, set_up
from tests.fleet.people.bound import may_no_more
from tests.ratings.stands.test_stand_pages import certificate_fields
from tests.site.html_form import words

pytestmark = pytest.mark.django_db
Begun = list[Callable[[], Any]]
Post = Callable[..., Any]


@pytest.fixture(autouse=True)
def begun(monkeypatch: pytest.MonkeyPatch) -> Begun:
    """What was begun beside the page, any number of units being many."""
    found: Begun = []
    monkeypatch.setattr(long_work, "MOST_AT_ONCE", 0)
    monkeypatch.setattr(ahead, "MANY", 1)
    monkeypatch.setattr(queue, "start", found.append)
    return found


@pytest.fixture
def unit() -> Unit:
    return rated_unit()


@pytest.fixture
def rating(unit: Unit) -> LotRating:
    return LotRating.objects.in_force().get(lot=unit.lot)


@pytest.fixture
def post(manager_client: Client, django_capture_on_commit_callbacks: Any) -> Post:
    def posted(name: str, key: int, sent: dict[str, Any], query: str = "") -> Any:
        with django_capture_on_commit_callbacks(execute=True):
            address = reverse(name, args=[key] if key else [])
            return manager_client.post(address + query, sent, follow=True)

    return posted


@pytest.fixture
def withdraw(post: Post, rating: LotRating) -> Callable[..., Any]:
    def withdrawn(submission: uuid.UUID | None = None, reason: str = "the stand was off") -> Any:
        sent = {"submission_id": submission or uuid.uuid4(), "reason": reason}
        return post("withdraw-rating", rating.pk, sent)

    return withdrawn


def state_of(rating: LotRating) -> RatingState:
    return LotRating.objects.with_state().get(pk=rating.pk).state


def head(unit: Unit) -> LedgerEntry:
    return CurrentRating.objects.get(housing=unit.housing).head


def work() -> LongWork:
    return LongWork.objects.latest("pk")


def test_a_withdrawal_changes_no_figure_until_it_is_done_and_then_all(
    unit: Unit, rating: LotRating, withdraw: Callable[..., Any], begun: Begun
) -> None:
    page = words(withdraw())
    assert f"Withdrawal of rating {rating.pk} of lot {unit.lot}" in page
    assert "Every unit keeps" not in page
    assert (state_of(rating), head(unit).standing) == (RatingState.APPROVED, "meets listing")
    begun[0]()
    assert (state_of(rating), head(unit).standing) == (RatingState.WITHDRAWN, "unrated")
    assert work().result == {"rated": 1}


def test_its_page_tells_how_far_it_is_and_by_whom_it_was_asked_for(
    manager: User, withdraw: Callable[..., Any], manager_client: Client
) -> None:
    withdraw()
    address = reverse("rerating", args=[work().pk])
    assert "Not begun yet" in words(manager_client.get(address))
    assert queue.take_up() == work()
    LongWork.objects.update(done=4, arguments={**work().arguments, "units": 9})
    page = words(manager_client.get(address))
    assert "4 of 9 units worked out" in page
    assert f"by {manager.get_full_name() or manager.username}" in page


def test_it_tells_of_each_unit_as_it_is_worked_out(withdraw: Callable[..., Any]) -> None:
    withdraw()
    told: list[int] = []
    long_work.do({**work().arguments, "work": work().pk}, told.append)
    assert told == [1]


def test_units_worked_out_are_not_rated_again_under_the_locks(
    withdraw: Callable[..., Any], begun: Begun, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_facts: object) -> None:
        raise AssertionError("a unit is rated while others wait")

    withdraw()
    monkeypatch.setattr(posting, "work_out", refuse)
    begun[0]()
    assert work().result == {"rated": 1}


def test_the_page_says_in_the_end_what_came_of_it(
    withdraw: Callable[..., Any], begun: Begun, manager_client: Client, unit: Unit
) -> None:
    withdraw()
    begun[0]()
    for address in (
        reverse("rerating", args=[work().pk]),
        reverse("lot", args=[unit.lot.pk]),
    ):
        assert "1 unit got a new ledger entry." in words(manager_client.get(address))


def test_all_that_holds_the_lot_says_that_it_is_under_way(
    withdraw: Callable[..., Any], manager_client: Client, unit: Unit
) -> None:
    other = rated_unit()
    withdraw()
    about_to = "Figures are about to change."
    for address in (reverse("board"), reverse("unit", args=[unit.housing.pk])):
        assert about_to in words(manager_client.get(address)), address
    stranger = manager_client.get(reverse("unit", args=[other.housing.pk]))
    assert about_to not in words(stranger)
    assert "Being rated again." in words(manager_client.get(reverse("lot", args=[unit.lot.pk])))


def test_one_whose_worker_died_is_done_again_and_changes_nothing_twice(
    withdraw: Callable[..., Any], unit: Unit
) -> None:
    withdraw()
    for _ in range(2):
        long_work.do({**work().arguments, "work": work().pk}, lambda _number: None)
    assert RatingWithdrawal.objects.count() == 1
    assert LedgerEntry.objects.filter(cause=Cause.RATE_WITHDRAWN).count() == 1
    assert work().result == {"rated": 1}


def test_a_second_copy_leads_to_the_same(withdraw: Callable[..., Any]) -> None:
    submission = uuid.uuid4()
    first, second = withdraw(submission), withdraw(submission)
    assert first.redirect_chain == second.redirect_chain
    assert LongWork.objects.count() == 1


def test_another_act_on_the_lot_is_refused_while_it_is_under_way(
    withdraw: Callable[..., Any], post: Post, unit: Unit
) -> None:
    withdraw()
    page = withdraw(reason="the gauge was off")
    assert "is under way and rates the same units again" in words(page)
    sent = {"submission_id": uuid.uuid4(), "hardness_shore_a": "61", "reason": "Read again"}
    assert "is under way and rates the same units again" in words(
        post("correct-lot", unit.lot.pk, sent)
    )
    assert LongWork.objects.count() == 1
    assert not LotCorrection.objects.exists()


def test_the_database_holds_no_two_under_way_of_one_lot(
    withdraw: Callable[..., Any], manager: User, begun: Begun
) -> None:
    withdraw()
    about = work().about
    with pytest.raises(IntegrityError), transaction.atomic():
        queue.ask(long_work.WHAT, {}, by=manager, about=about)
    begun[0]()
    assert queue.ask(long_work.WHAT, {}, by=manager, about=about).about == about


def test_what_would_be_refused_is_refused_as_it_is_asked_for(
    withdraw: Callable[..., Any], rating: LotRating, unit: Unit
) -> None:
    withdraw_rating(submission_id=uuid.uuid4(), rating=rating, reason="off", by=unit.manager)
    assert "only an approved one is withdrawn" in words(withdraw())
    assert not LongWork.objects.exists()


def test_what_changed_meanwhile_refuses_it_in_words(
    withdraw: Callable[..., Any],
    rating: LotRating,
    unit: Unit,
    begun: Begun,
    manager_client: Client,
) -> None:
    withdraw()
    withdraw_rating(submission_id=uuid.uuid4(), rating=rating, reason="off", by=unit.manager)
    begun[0]()
    page = words(manager_client.get(reverse("rerating", args=[work().pk])))
    assert "Not recorded. No unit was rated by it." in page
    assert f"Since it was asked for, rating {rating.pk} was approved and is withdrawn." in page
    assert RatingWithdrawal.objects.count() == 1


@pytest.mark.parametrize("change", ["role", "access", "yard"])
def test_who_may_no_more_by_then_records_nothing(
    change: str,
    withdraw: Callable[..., Any],
    manager: User,
    rating: LotRating,
    begun: Begun,
) -> None:
    withdraw()
    may_no_more(manager, change)
    begun[0]()
    ((label, said),) = work().result["refused"]
    assert ("is bound to" if change == "yard" else "is no equipment manager") in said
    assert label == ""
    assert state_of(rating) == RatingState.APPROVED


def approved(post: Post, client: Client, unit: Unit) -> tuple[LotRating, str]:
    """Draft a rating of a lot and approve it on its page; with it the doubts it was shown with."""
    drafted = drafted_test(unit.lot, unit.manager, rate_lbf_in=900.0).draft
    assert drafted is not None
    doubts: str = client.get(reverse("lot-rating", args=[drafted.pk])).context["doubts_mark"]
    sent = {
        "submission_id": uuid.uuid4(),
        "doubts_shown": doubts,
        "has_read_doubts": "on",
        "accepts_implausible": "on",
        "implausible_reason": "The rubber on record is a guess",
    }
    post("approve-rating", drafted.pk, sent)
    return drafted, doubts


def test_an_approval_is_refused_at_its_field_where_doubts_came_up_meanwhile(
    post: Post, unit: Unit, begun: Begun, manager_client: Client
) -> None:
    drafted, doubts = approved(post, manager_client, unit)
    given = work().arguments["given"]
    assert doubts in given
    # As if others were shown: doubts that came up since read the same way.
    LongWork.objects.update(
        arguments={
            **work().arguments,
            "given": given.replace(doubts, "0" * 64),
        }
    )
    begun[0]()
    assert work().result["refused"][0][0] == "I have read the doubts above"
    assert not RatingApproval.objects.filter(rating=drafted).exists()


def test_an_approval_rates_all_by_the_draft(
    post: Post, unit: Unit, begun: Begun, manager_client: Client
) -> None:
    drafted, _ = approved(post, manager_client, unit)
    assert state_of(drafted) == RatingState.DRAFT
    begun[0]()
    assert state_of(drafted) == RatingState.APPROVED
    assert head(unit).cause == Cause.LOT_RATED


def test_rubber_is_corrected_beside_the_page(
    post: Post, unit: Unit, begun: Begun, manager_client: Client
) -> None:
    sent = {
        "submission_id": uuid.uuid4(),
        "rubber_thickness_in": "1.5",
        "reason": "Read again",
    }
    post("correct-lot", unit.lot.pk, sent)
    begun[0]()
    assert PadLot.objects.get(pk=unit.lot.pk).rubber_thickness_in == 1.5


def begun_beside(
    by: User, record: Callable[..., Any], given: dict[str, Any], title: str, *, about: Model
) -> LongWork:
    """Begin to record something that rates many units again, as its page does."""
    found = record_or_begin(
        record,
        given,
        by=by,
        title=title,
        about=about,
        page=reverse("policy"),
        form=SubmissionForm(),
        system="us",
    )
    assert isinstance(found, LongWork)
    return found


def test_a_change_of_the_policy_is_made_beside_its_page_which_tells_of_it(
    unit: Unit, manager: User, begun: Begun, manager_client: Client
) -> None:
    given = {
        "submission_id": uuid.uuid4(),
        "policy": replace(Policy(), confidence=0.99),
        "reason": "Stricter",
        "asks": Safeguards(),
    }
    found = begun_beside(
        manager, change_policy, given, "A change of the policy: Stricter", about=RatingPolicy()
    )
    page = words(manager_client.get(reverse("policy")))
    assert "Being rated again. A change of the policy: Stricter" in page
    queue.do(found)
    assert head(unit).inputs["policy"]["confidence"] == 0.99
    assert "1 unit got" in words(manager_client.get(reverse("policy")))


def test_a_policy_changed_by_another_meanwhile_refuses_a_change_of_it(
    unit: Unit, manager: User
) -> None:
    given = {
        "submission_id": uuid.uuid4(),
        "policy": replace(Policy(), confidence=0.99),
        "reason": "Stricter",
        "asks": None,
    }
    found = begun_beside(manager, change_policy, given, "Stricter", about=RatingPolicy())
    change_policy(
        submission_id=uuid.uuid4(),
        policy=replace(Policy(), rate_valid_days=300),
        reason="Sooner",
        by=unit.manager,
    )
    queue.do(found)
    assert "the policy in force was" in LongWork.objects.get(pk=found.pk).result["refused"][0][1]
    assert RatingPolicy.objects.count() == 1


def test_what_two_people_do_is_confirmed_beside_the_page(
    unit: Unit, rating: LotRating, post: Post, begun: Begun
) -> None:
    change_policy(
        submission_id=uuid.uuid4(),
        policy=Policy(),
        asks=replace(Safeguards(), second_person_corrections=True),
        reason="Two",
        by=unit.manager,
    )
    with pytest.raises(SecondPersonNeeded) as needed:
        correct(unit)
    proposal = propose(
        submission_id=uuid.uuid4(),
        what=needed.value.act.what,
        payload=written(needed.value.arguments),
        why="As the paper says",
        by=unit.manager,
    )
    post("confirm-proposal", proposal.pk, {"submission_id": uuid.uuid4()})
    assert not ProposalAnswer.objects.exists()
    begun[0]()
    assert ProposalAnswer.objects.get().is_confirmed
    assert LotCorrection.objects.get().recorded_by == unit.manager


def correct(unit: Unit) -> Any:
    return correct_lot(
        submission_id=uuid.uuid4(),
        lot_id=unit.lot.pk,
        hardness_shore_a=None,
        bonded_area_in2=None,
        rubber_thickness_in=1.5,
        reason="Read again",
        by=unit.manager,
    )


def test_a_corrected_bench_test_is_recorded_beside_the_page(unit: Unit, manager: User) -> None:
    test = unit.lot.bench_tests.get()
    given = {
        "submission_id": uuid.uuid4(),
        "lot": unit.lot,
        "set_up": set_up(tape_datum_in=10.25),
        "readings": [replace(each, gauge_psi=each.gauge_psi * 0.97) for each in test.measured],
        "corrects": test,
        "is_read_again": True,
        "read_again_reason": "Read twice",
    }
    found = begun_beside(
        manager, record_bench_test, given, f"Correction of bench test {test.pk}", about=unit.lot
    )
    assert not BenchTest.objects.filter(corrects=test).exists()
    queue.do(found)
    assert BenchTest.objects.get(corrects=test).recorded_by == manager
    assert head(unit).cause == Cause.RATE_STALE


def test_few_units_are_rated_while_whoever_asks_waits(
    withdraw: Callable[..., Any], rating: LotRating, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(long_work, "MOST_AT_ONCE", 1)
    withdraw()
    assert not LongWork.objects.exists()
    assert state_of(rating) == RatingState.WITHDRAWN


def test_a_proposal_is_made_without_rating_a_unit(
    unit: Unit, monkeypatch: pytest.MonkeyPatch
) -> None:
    change_policy(
        submission_id=uuid.uuid4(),
        policy=Policy(),
        asks=replace(Safeguards(), second_person_corrections=True),
        reason="Two",
        by=unit.manager,
    )

    def refuse(_housings: object) -> None:
        raise AssertionError("facts of units are gathered for nothing")

    monkeypatch.setattr(posting, "gather", refuse)
    with pytest.raises(SecondPersonNeeded):
        correct(unit)


def test_a_gauge_found_off_is_recorded_beside_its_page(
    post: Post, unit: Unit, begun: Begun, manager_client: Client
) -> None:
    gauge = BenchTest.objects.get(lot=unit.lot).gauge
    fields = certificate_fields(manager_client, gauge.pk)
    post("new-gauge-calibration", gauge.pk, fields)
    assert not gauge.calibrations.exists()
    begun[0]()
    assert work().result == {"rated": 1}
    assert gauge.calibrations.filter(certificate_number="K-2041").count() == 1
    assert "error up to" in head(unit).cause_words


def test_a_refusal_names_the_field_of_the_form_where_the_record_calls_it_otherwise(
    post: Post, unit: Unit, begun: Begun, manager_client: Client
) -> None:
    gauge = BenchTest.objects.get(lot=unit.lot).gauge
    post("new-gauge-calibration", gauge.pk, certificate_fields(manager_client, gauge.pk))
    given = json.loads(work().arguments["given"])
    # As if it was left out: nothing on a page lets it be gone by then.
    given["certificate"]["$made"][1]["expanded_psi"] = None
    LongWork.objects.update(arguments={**work().arguments, "given": json.dumps(given)})
    begun[0]()
    ((label, said),) = work().result["refused"]
    assert label == "Expanded uncertainty, in that unit"
    assert said.startswith("This is blank, but points are given")


def test_a_second_certificate_is_refused_while_one_is_under_way(
    post: Post, unit: Unit, manager_client: Client
) -> None:
    gauge = BenchTest.objects.get(lot=unit.lot).gauge
    for number in ("K-1", "K-2"):
        fields = certificate_fields(manager_client, gauge.pk, certificate_number=number)
        page = words(post("new-gauge-calibration", gauge.pk, fields))
    assert "is under way and rates the same units again, as shown above" in page
    assert "Being rated again." in page
    assert LongWork.objects.count() == 1


def test_it_is_tried_again_where_others_kept_it_waiting(
    withdraw: Callable[..., Any], begun: Begun, monkeypatch: pytest.MonkeyPatch
) -> None:
    withdraw()
    busy = [OperationalError("database is locked")]
    asked = ahead.ahead_of

    def ahead_of(*args: Any) -> Any:
        if busy:
            raise busy.pop()
        return asked(*args)

    monkeypatch.setattr(long_work, "ahead_of", ahead_of)
    monkeypatch.setattr(queue, "DONE_AGAIN_AFTER_SECONDS", 0.0)
    begun[0]()
    assert (busy, work().result) == ([], {"rated": 1})


def test_it_says_that_others_were_writing_where_it_waited_in_vain(
    withdraw: Callable[..., Any],
    begun: Begun,
    manager_client: Client,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def ahead_of(*_args: Any) -> Any:
        raise OperationalError("database is locked")

    withdraw()
    monkeypatch.setattr(long_work, "ahead_of", ahead_of)
    monkeypatch.setattr(queue, "DONE_AGAIN_AFTER_SECONDS", 0.0)
    begun[0]()
    page = words(manager_client.get(reverse("rerating", args=[work().pk])))
    assert "others were writing, or they did not answer" in page


def refuse_in_words(*_args: Any, **_given: Any) -> Any:
    raise Refused("the travel is 0")


def refuse_by_the_mechanics(*_args: Any, **_given: Any) -> Any:
    return not_negative("travel_in", -1.0, "in")


def fail(*_args: Any, **_given: Any) -> Any:
    return int("none")


@pytest.mark.parametrize(
    ("what", "is_refused", "is_logged"),
    [(refuse_in_words, True, False), (refuse_by_the_mechanics, True, True), (fail, False, True)],
)
def test_a_fault_of_the_program_is_no_refusal_and_is_logged(
    what: Callable[..., Any],
    is_refused: bool,
    is_logged: bool,
    withdraw: Callable[..., Any],
    begun: Begun,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    withdraw()
    monkeypatch.setattr(long_work, "ahead_of", what)
    begun[0]()
    assert set(work().result) == {"refused" if is_refused else "trouble"}
    assert work().trouble == ("" if is_refused else queue.BROKEN)
    assert Refusal.objects.filter(page="rerating").exists() is is_refused
    assert any(each.exc_info for each in caplog.records) is is_logged


def test_one_taken_for_dead_that_did_it_after_all_is_not_done_twice(
    withdraw: Callable[..., Any], rating: LotRating, monkeypatch: pytest.MonkeyPatch
) -> None:
    withdraw()
    asked, arguments = ahead.ahead_of, {**work().arguments, "work": work().pk}

    def ahead_of(*args: Any) -> Any:
        found = asked(*args)
        # The other records it in between.
        monkeypatch.setattr(long_work, "ahead_of", asked)
        long_work.do(arguments, lambda _number: None)
        return found

    monkeypatch.setattr(long_work, "ahead_of", ahead_of)
    long_work.do(arguments, lambda _number: None)
    assert (work().result, RatingWithdrawal.objects.count()) == ({"rated": 1}, 1)


def test_the_board_has_it_done_where_whoever_began_it_is_gone(
    withdraw: Callable[..., Any], rating: LotRating, begun: Begun, manager_client: Client
) -> None:
    withdraw()
    LongWork.objects.update(asked_at=work().asked_at - queue.FIRST_WAITS)
    begun.clear()
    manager_client.get(reverse("board"))
    begun[0]()
    assert state_of(rating) == RatingState.WITHDRAWN


def test_what_was_not_recorded_waits_until_somebody_says_they_saw_it_and_is_on_record(
    withdraw: Callable[..., Any],
    rating: LotRating,
    unit: Unit,
    begun: Begun,
    manager: User,
    manager_client: Client,
    auditor_client: Client,
) -> None:
    title = f"Withdrawal of rating {rating.pk} of lot {unit.lot}"
    withdraw()
    withdraw_rating(submission_id=uuid.uuid4(), rating=rating, reason="off", by=unit.manager)
    begun[0]()
    assert title in words(manager_client.get(reverse("waiting")))
    assert Refusal.objects.filter(words__startswith=title, page="rerating").count() == 1
    # A page that looks by itself, and is read by nobody, is no word of anybody.
    page = manager_client.get(reverse("rerating", args=[work().pk]), headers={"HX-Request": "true"})
    assert "I have seen it" in words(page)
    address = reverse("see-rerating", args=[work().pk])
    assert auditor_client.post(address).status_code == 403
    assert title in words(manager_client.get(reverse("waiting")))
    page = manager_client.post(address, follow=True)
    assert f"by {manager.get_full_name() or manager.username}" in words(page).split("Seen ")[1]
    assert "I have seen it" not in words(page)
    assert title not in words(manager_client.get(reverse("waiting")))


@pytest.mark.parametrize("is_seen", [True, False])
def test_what_was_not_recorded_is_kept_for_as_long_as_nobody_saw_it(
    withdraw: Callable[..., Any],
    rating: LotRating,
    unit: Unit,
    begun: Begun,
    manager: User,
    is_seen: bool,
) -> None:
    withdraw()
    withdraw_rating(submission_id=uuid.uuid4(), rating=rating, reason="off", by=unit.manager)
    begun[0]()
    if is_seen:
        see(work=work(), by=manager)
    LongWork.objects.update(ended_at=work().asked_at - queue.KEPT_FOR)
    queue.forget_old()
    assert LongWork.objects.exists() is not is_seen


@pytest.mark.parametrize("is_told", [True, False])
def test_what_is_on_record_is_kept_no_longer_than_other_work(
    is_told: bool, withdraw: Callable[..., Any], begun: Begun
) -> None:
    """Nor is that of an older release, which did not take it for told."""
    withdraw()
    begun[0]()
    LongWork.objects.update(ended_at=work().asked_at - queue.KEPT_FOR, is_told=is_told)
    queue.forget_old()
    assert not LongWork.objects.exists()
