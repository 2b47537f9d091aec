from __future__ import annotations

import ast
import uuid
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from django.conf import settings
from django.contrib.auth.models import Group, User
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Model
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.guards import AppendOnly
from fleet.hours import record_hours
from fleet.models import (
    HourReading,
    HousingGuide,
    LotCorrection,
    Qualification,
    QualificationWithdrawal,
)
from fleet.quantities import listed_words
from fleet.roles import MANAGER, who_words
from inspections.count.signing import Correction
from inspections.exchange.acts import ACTS as REGISTER_ACTS
from inspections.exchange.acts import Entry
from inspections.models import ForeignCheck, Inspection
from ratings.bench.reduction import reduce_test
from ratings.guides import record_guide
from ratings.hours import correct_hours
from ratings.ledger.posting import Cause
from ratings.ledger.verify import verify_all
from ratings.listings import record_listing
from ratings.lots.correcting import correct_lot
from ratings.lots.recording import withdraw_rating
from ratings.mechanics.remarks import Refused
from ratings.models import (
    BenchTest,
    GaugeCalibration,
    LedgerEntry,
    Listing,
    ProofPull,
    Proposal,
    ProposalAnswer,
    PullRecord,
    RatingPolicy,
    RatingWithdrawal,
    ReferenceCheck,
)
from ratings.models.policy import Safeguards, rating_policy, safeguards
from ratings.payload import CannotBeKept, written
from ratings.policy import change_policy
from ratings.proposals.acts import ACTS as PROPOSAL_ACTS
from ratings.proposals.acts import SecondPersonNeeded
from ratings.proposals.recording import (
    confirm_proposal,
    confirmers_of,
    details_of,
    propose,
    turn_down,
)
from tests.all_tables import changed, everything
from tests.builders import (
    MONDAY,
    Unit,
    approve,
    bench_test,
    count,
    days_ago,
    drafted_test,
    list_hammer,
    picture,
    proof_pull,
    qualified,
    rated_unit,
)
from tests.factories import (
    AuditorFactory,
    DispatcherFactory,
    GaugeFactory,
    ManagerFactory,
    PadLotFactory,
    TestStandFactory,
)
from tests.inspections.field.sent import payload, send, signed_in
from tests.inspections.hire.test_foreign_checks import checked
from tests.job_builders import commit, figured_unit, pull_done
from tests.site.html_form import words
from tests.stand_builders import calibrate, check_stand

pytestmark = pytest.mark.django_db


def ask_for(**asked: bool) -> None:
    """Put what is asked for beyond one person's word in force."""
    ManagerFactory()
    change_policy(
        submission_id=uuid.uuid4(),
        policy=rating_policy(),
        asks=replace(Safeguards(), **asked),
        reason="Four eyes",
        by=ManagerFactory(),
    )


def proposed(record: Callable[[], Any], by: User, why: str = "As the plate says") -> Proposal:
    """Propose what a recording function refuses to record alone."""
    with pytest.raises(SecondPersonNeeded) as needed:
        record()
    return propose(
        submission_id=uuid.uuid4(),
        what=needed.value.act.what,
        payload=written(needed.value.arguments),
        why=why,
        by=by,
    )


def confirm(proposal: Proposal, by: User, submission_id: uuid.UUID | None = None) -> ProposalAnswer:
    return confirm_proposal(submission_id=submission_id or uuid.uuid4(), proposal=proposal, by=by)


@pytest.fixture
def unit() -> Unit:
    return rated_unit()


@pytest.fixture
def listing(unit: Unit) -> Proposal:
    """A listing that waits for a second person."""
    ask_for(second_person_listings=True)
    return proposed(lambda: list_hammer(unit.hammer, unit.manager, 60_000), unit.manager)


def test_nothing_is_asked_for_until_the_policy_does(unit: Unit) -> None:
    assert safeguards() == Safeguards()
    assert list_hammer(unit.hammer, unit.manager, 60_000).pk


def test_a_listing_recorded_alone_is_refused_and_leaves_nothing(unit: Unit) -> None:
    ask_for(second_person_listings=True)
    before = everything()
    with pytest.raises(SecondPersonNeeded, match="asks for a second person for a listing"):
        list_hammer(unit.hammer, unit.manager, 60_000)
    assert changed(before) == set()


def test_what_can_not_be_recorded_anyway_is_refused_for_that(unit: Unit) -> None:
    ask_for(second_person_corrections=True)
    with pytest.raises(ValidationError, match="Nothing differs") as refused:
        _correct_lot(unit, unit.lot.hardness_shore_a)
    assert not isinstance(refused.value, SecondPersonNeeded)


def test_a_second_person_confirms_and_the_record_is_the_proposers(listing: Proposal) -> None:
    second = ManagerFactory()
    answer = confirm(listing, second)
    made = Listing.objects.latest("pk")
    assert (made.listed_lbf, made.recorded_by) == (60_000, listing.recorded_by)
    assert (answer.cause, answer.record) == (Cause.LISTING, made.pk)
    entry = LedgerEntry.objects.latest("pk")
    assert entry.listed_lbf == 60_000
    assert confirmers_of([entry]) == {entry.pk: answer}
    assert answer.recorded_by == second
    verify_all()


def test_whoever_confirms_a_listing_sees_what_it_takes_the_place_of(listing: Proposal) -> None:
    page = words(signed_in(ManagerFactory()).get(reverse("proposal", args=[listing.pk])))
    was = Listing.objects.get()
    assert f"In force today {listed_words(was.listed_lbf, 'us')} by {was.source}" in page


def test_whoever_proposed_it_can_not_confirm_it(listing: Proposal) -> None:
    with pytest.raises(ValidationError, match="You proposed this"):
        confirm(listing, listing.recorded_by)
    assert not Listing.objects.filter(listed_lbf=60_000).exists()


def test_the_database_refuses_a_confirmation_by_the_same_person(listing: Proposal) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        ProposalAnswer.objects.create(
            submission_id=uuid.uuid4(),
            proposal=listing,
            proposed_by=listing.recorded_by,
            recorded_by=listing.recorded_by,
            is_confirmed=True,
        )


def test_a_second_person_let_in_no_more_confirms_nothing(listing: Proposal) -> None:
    second = ManagerFactory()
    # As somebody whose page was open when their account was closed.
    User.objects.filter(pk=second.pk).update(is_active=False)
    with pytest.raises(ValidationError, match="is no equipment manager who signs in"):
        confirm(listing, second)


def test_an_auditor_and_a_manager_of_before_confirm_nothing(listing: Proposal) -> None:
    before = ManagerFactory()
    before.groups.remove(Group.objects.get(name=MANAGER))
    for person in (AuditorFactory(), before):
        with pytest.raises(ValidationError, match="is no equipment manager"):
            confirm(listing, person)


def test_what_somebody_proposed_who_left_since_is_not_recorded(listing: Proposal) -> None:
    User.objects.filter(pk=listing.recorded_by.pk).update(is_active=False)
    with pytest.raises(ValidationError, match="keeps records no more"):
        confirm(listing, ManagerFactory())


def test_confirmed_twice_by_one_press_it_is_recorded_once(listing: Proposal) -> None:
    second, press = ManagerFactory(), uuid.uuid4()
    first = confirm(listing, second, press)
    before = everything()
    assert confirm(listing, second, press) == first
    assert changed(before) == set()


def test_confirmed_in_two_tabs_the_second_is_told(listing: Proposal) -> None:
    second = ManagerFactory()
    confirm(listing, second)
    with pytest.raises(ValidationError, match=f"{who_words(second)} confirmed it on"):
        confirm(listing, second)
    with pytest.raises(ValidationError, match="confirmed it on"):
        turn_down(submission_id=uuid.uuid4(), proposal=listing, reason="No", by=second)


@pytest.mark.parametrize(
    ("fault", "told"), [(Refused("too much"), ValidationError), (ValueError("a plain"), ValueError)]
)
def test_a_fault_of_the_program_is_no_refusal_of_what_is_confirmed(
    listing: Proposal, fault: Exception, told: type[Exception]
) -> None:
    with (
        patch("ratings.listings.post", side_effect=fault),
        pytest.raises(told, match=f"{fault}"),
    ):
        confirm(listing, ManagerFactory())
    assert not ProposalAnswer.objects.exists()


def test_a_proposal_left_until_its_facts_changed_is_out_of_date(unit: Unit) -> None:
    ask_for(second_person_listings=True)
    first, second = (
        proposed(partial(list_hammer, unit.hammer, unit.manager, lbf), unit.manager)
        for lbf in (60_000, 61_000)
    )
    confirm(first, ManagerFactory())
    with pytest.raises(ValidationError, match=r"listing of hammer .* was Data plate .* and is"):
        confirm(second, ManagerFactory())
    assert not Listing.objects.filter(listed_lbf=61_000).exists()


def test_the_same_proposed_twice_waits_once(unit: Unit) -> None:
    ask_for(second_person_listings=True)
    press = uuid.uuid4()

    def record() -> Listing:
        return record_listing(
            submission_id=press,
            hammer=unit.hammer,
            listed_lbf=60_000,
            source="Plate",
            dated=date(2021, 1, 1),
            by=unit.manager,
        )

    assert proposed(record, unit.manager) == proposed(record, unit.manager)


@pytest.mark.parametrize("why", ["", "   "])
def test_a_proposal_wants_a_reason(unit: Unit, why: str) -> None:
    ask_for(second_person_listings=True)
    with pytest.raises(ValidationError, match="This is blank"):
        proposed(lambda: list_hammer(unit.hammer, unit.manager, 60_000), unit.manager, why)


def test_turned_down_it_says_why_and_records_nothing(listing: Proposal) -> None:
    second = ManagerFactory()
    with pytest.raises(ValidationError, match="This is blank"):
        turn_down(submission_id=uuid.uuid4(), proposal=listing, reason=" ", by=second)
    turn_down(submission_id=uuid.uuid4(), proposal=listing, reason="Other plate", by=second)
    with pytest.raises(ValidationError, match="turned it down on"):
        confirm(listing, ManagerFactory())
    assert not Listing.objects.filter(listed_lbf=60_000).exists()


def test_a_row_of_the_register_is_refused_too(unit: Unit) -> None:
    ask_for(second_person_listings=True)
    row = Entry(
        parts={},
        id=uuid.uuid4(),
        by=unit.manager,
        values={
            "hammer": unit.hammer,
            "listed_lbf": 60_000.0,
            "source": "Plate",
            "dated": date(2021, 1, 1),
            "note": "",
        },
    )
    with pytest.raises(ValidationError, match="propose it there"):
        REGISTER_ACTS["listings"].record(row)


def test_a_change_of_the_policy_waits_for_a_second_person(unit: Unit) -> None:
    ask_for(second_person_policy=True)
    stricter = replace(rating_policy(), conditions_pct=6.0)
    proposal = proposed(
        lambda: change_policy(
            submission_id=uuid.uuid4(),
            policy=stricter,
            asks=None,
            reason="Winter",
            by=unit.manager,
        ),
        unit.manager,
    )
    assert rating_policy().conditions_pct == 5.0
    confirm(proposal, ManagerFactory())
    assert rating_policy().conditions_pct == 6.0
    assert safeguards().second_person_policy


def test_what_asks_for_a_second_person_is_not_switched_off_by_one(unit: Unit) -> None:
    ask_for(second_person_listings=True)

    def off() -> RatingPolicy:
        return change_policy(
            submission_id=uuid.uuid4(),
            policy=rating_policy(),
            asks=Safeguards(),
            reason="In a hurry",
            by=unit.manager,
        )

    proposal = proposed(off, unit.manager)
    assert safeguards().second_person_listings
    confirm(proposal, ManagerFactory())
    assert safeguards() == Safeguards()


def test_a_qualification_is_not_switched_off_by_one_while_second_persons_are_asked_for(
    unit: Unit,
) -> None:
    ask_for(second_person_releases=True, qualified_rates=True, qualified_yearly=True)

    def off() -> RatingPolicy:
        return change_policy(
            submission_id=uuid.uuid4(),
            policy=rating_policy(),
            asks=Safeguards(second_person_releases=True, qualified_yearly=True),
            reason="In a hurry",
            by=unit.manager,
        )

    proposal = proposed(off, unit.manager)
    assert safeguards().qualified_rates
    confirm(proposal, ManagerFactory())
    assert not safeguards().qualified_rates


def test_who_keeps_records_alone_can_not_ask_for_a_second_person(db: None) -> None:
    alone = ManagerFactory()
    with pytest.raises(ValidationError, match="let another equipment manager in first"):
        change_policy(
            submission_id=uuid.uuid4(),
            policy=rating_policy(),
            asks=Safeguards(second_person_releases=True),
            reason="Four eyes",
            by=alone,
        )


def _correct_lot(unit: Unit, hardness: float | None) -> Any:
    return correct_lot(
        submission_id=uuid.uuid4(),
        lot_id=unit.lot.pk,
        hardness_shore_a=hardness,
        bonded_area_in2=unit.lot.bonded_area_in2,
        rubber_thickness_in=unit.lot.rubber_thickness_in,
        reason="Read off the wrong line",
        by=unit.manager,
    )


def _correct_inspection(unit: Unit) -> Any:
    last = unit.housing.inspections.latest("pk")
    return count(
        unit.housing,
        unit.manager,
        unit.lot,
        travel_in=5.0,
        at=last.seen_at,
        correction=Correction("Read from the wrong end", last),
    )


def _correct_guide(unit: Unit) -> Any:
    return record_guide(
        submission_id=uuid.uuid4(),
        housing=unit.housing,
        is_guided=False,
        reason="The rods are cut",
        occurred_at=MONDAY,
        by=unit.manager,
        corrects=unit.housing.guides.get(),
    )


def _correct_test(unit: Unit) -> Any:
    test = unit.lot.bench_tests.get()
    return drafted_test(unit.lot, unit.manager, rate_lbf_in=900.0, corrects=test)


def _correct_pull(unit: Unit) -> Any:
    return proof_pull(unit.housing, unit.manager, 0.7, corrects=unit.housing.proof_pulls.get())


def _correct_check(unit: Unit) -> Any:
    check = ReferenceCheck.objects.get()
    with_which: dict[str, Any] = {"piece": check.piece, "gauge": check.gauge, "tape": check.tape}
    return check_stand(check.stand, unit.manager, rate_lbf_in=505.0, corrects=check, **with_which)


def _correct_certificate(unit: Unit) -> Any:
    wrong = GaugeCalibration.objects.latest("calibrated_on")
    return calibrate(wrong.gauge, unit.manager, expanded_psi=4.0, corrects=wrong)


def _correct_hours(unit: Unit) -> Any:
    wrong = HourReading.objects.get(hours=900.0)
    return correct_hours(
        submission_id=uuid.uuid4(),
        corrects=wrong,
        hours=90.0,
        read_at=wrong.read_at,
        by=unit.manager,
    )


def _correct_done(unit: Unit) -> Any:
    wrong = PullRecord.objects.get()
    misread: dict[str, Any] = {"corrects": wrong, "correction_reason": "Misread"}
    return pull_done(wrong.commitment, unit.manager, hook_load_lbf=46_000.0, **misread)


def _correct_foreign(unit: Unit) -> Any:
    wrong = ForeignCheck.objects.get()
    return checked(corrects=wrong, correction_reason="Misread", travel_in=5.0, by=unit.manager)


@dataclass(frozen=True)
class Corrects:
    """A correction, the table its record is in, and a figure of that record as proposed."""

    propose: Callable[[Unit], Any]
    table: type[Model]
    figure: Callable[[Any], Any]
    proposed: Any
    posts: bool = True


CORRECTIONS = {
    "lot": Corrects(
        lambda unit: _correct_lot(unit, 62.0),
        LotCorrection,
        lambda found: found.lot.hardness_shore_a,
        62.0,
        posts=False,
    ),
    "inspection": Corrects(_correct_inspection, Inspection, lambda found: found.travel_in, 5.0),
    "guide": Corrects(_correct_guide, HousingGuide, lambda found: found.is_guided, False),
    # What it posts is of the doubt in the rating, and names no record.
    "bench test": Corrects(
        _correct_test,
        BenchTest,
        lambda found: round(reduce_test(found, found.measured, 100.0).fit.rate_lbf_in),
        900,
        posts=False,
    ),
    "proof pull": Corrects(_correct_pull, ProofPull, lambda found: round(found.ratio, 2), 0.7),
    "listing": Corrects(
        lambda unit: list_hammer(
            unit.hammer, unit.manager, 41_000, corrects=unit.hammer.listings.get()
        ),
        Listing,
        lambda found: found.listed_lbf,
        41_000,
    ),
    "gauge": Corrects(
        _correct_certificate,
        GaugeCalibration,
        lambda found: found.expanded_psi,
        4.0,
        posts=False,
    ),
    "check": Corrects(
        _correct_check,
        ReferenceCheck,
        lambda found: round(found.rate_lbf_in),
        505,
        posts=False,
    ),
    "hours": Corrects(_correct_hours, HourReading, lambda found: found.hours, 90.0, posts=False),
    "pull": Corrects(
        _correct_done, PullRecord, lambda found: found.hook_load_lbf, 46_000.0, posts=False
    ),
    "foreign": Corrects(
        _correct_foreign, ForeignCheck, lambda found: found.travel_in, 5.0, posts=False
    ),
}


@pytest.mark.parametrize("what", CORRECTIONS)
def test_a_correction_waits_for_a_second_person_and_is_then_what_was_proposed(
    unit: Unit, what: str
) -> None:
    proof_pull(unit.housing, unit.manager)
    check_stand(TestStandFactory(), unit.manager)
    calibrate(GaugeFactory(), unit.manager)
    if what == "foreign":
        checked()
    if what == "pull":
        pull_done(commit(figured_unit()))
    read: dict[str, Any] = {"submission_id": uuid.uuid4(), "read_at": timezone.now()}
    record_hours(machine=unit.hammer, hours=900.0, by=unit.manager, **read)
    ask_for(second_person_corrections=True)
    case = CORRECTIONS[what]
    before = everything()
    proposal = proposed(lambda: case.propose(unit), unit.manager)
    proposal_alone = {each.split(".")[1] for each in changed(before)} - {
        # What it was made with.
        "Yard", "TestStand", "Gauge", "Tape", "LoadIndicator"
    }  # fmt: skip
    assert proposal_alone == {"Proposal", "Leaf"}
    second = ManagerFactory()
    answer = confirm(proposal, second)
    made: Any = case.table._default_manager.get(pk=answer.record)
    assert (case.figure(made), made.recorded_by) == (case.proposed, unit.manager)
    posted = LedgerEntry.objects.filter(cause=answer.cause, cause_record=answer.record)
    assert [each.recorded_by for each in posted] == [unit.manager] * case.posts


def test_every_function_that_corrects_asks_for_a_second_person() -> None:
    guarded = {each.record.__name__ for each in PROPOSAL_ACTS.values()}
    correcting = set()
    for app in ("fleet", "ratings", "inspections"):
        for path in (Path(settings.BASE_DIR) / app).rglob("*.py"):
            for found in ast.walk(ast.parse(path.read_text())):
                if isinstance(found, ast.FunctionDef):
                    given = {each.arg for each in found.args.kwonlyargs}
                    if "by" in given and given & {"corrects", "correction"}:
                        correcting.add(found.name)
    assert {"correct_hours", "record_pull", "record_check", "sign_inspection"} <= correcting
    # What records nothing by itself: the ledger's own entry, a preview, the steps of signing.
    assert correcting - guarded == {"post", "preview_inspection", "put_on_record"}


def test_a_rating_is_withdrawn_alone_unless_that_brings_one_before_it_back(unit: Unit) -> None:
    ask_for(second_person_corrections=True)
    older = unit.lot.ratings.get()
    newer = bench_test(unit.lot, unit.manager, rate_lbf_in=800.0).rating
    withdraw: dict[str, Any] = {"reason": "Gauge dropped", "by": unit.manager}
    proposal = proposed(
        lambda: withdraw_rating(submission_id=uuid.uuid4(), rating=newer, **withdraw), unit.manager
    )
    assert not RatingWithdrawal.objects.exists()
    told = dict(details_of(proposal, "us"))
    assert told["Rates again"].startswith(f"rating {older.pk}: ")
    answer = confirm(proposal, ManagerFactory())
    assert (answer.cause, answer.record) == (Cause.RATE_WITHDRAWN, newer.pk)
    # With none before it the units are rated no more, and that waits for nobody.
    withdraw_rating(submission_id=uuid.uuid4(), rating=older, **withdraw)
    assert RatingWithdrawal.objects.count() == 2


def test_a_dispatcher_is_told_that_managers_put_a_pull_right() -> None:
    pull = pull_done(commit(figured_unit()))
    ask_for(second_person_corrections=True)
    url = reverse("new-pull", args=[pull.commitment_id]) + f"?corrects={pull.pk}"
    sent = {
        "submission_id": uuid.uuid4(),
        "pile_group": "1",
        "pile_mark": "1",
        "pulled_at": timezone.localtime(pull.pulled_at).strftime("%Y-%m-%dT%H:%M"),
        "outcome": "came",
        "method": "vibrated",
        "load_source": "load indicator",
        "hook_load_lbf": "46000",
        "are_doubts_known": "on",
        "correction_reason": "Misread",
    }
    page = signed_in(DispatcherFactory()).post(url, sent)
    assert "Nothing was saved. The policy asks for two equipment managers" in words(page)
    assert "Not recorded yet." in words(signed_in(ManagerFactory()).post(url, sent))
    photographed = signed_in(ManagerFactory()).post(url, sent | {"photo": picture()})
    assert "a photo can’t be kept with a proposal: leave it out" in words(photographed)
    assert PullRecord.objects.count() == 1


def test_what_is_no_correction_is_recorded_alone(unit: Unit) -> None:
    ask_for(second_person_corrections=True)
    proof_pull(unit.housing, unit.manager)
    count(unit.housing, unit.manager, unit.lot, travel_in=5.5, at=MONDAY + timedelta(days=1))
    drafted_test(unit.lot, unit.manager)
    list_hammer(unit.hammer, unit.manager, 41_000)
    assert Listing.objects.latest("pk").listed_lbf == 41_000


def test_a_count_signed_since_puts_a_proposed_correction_out_of_date(unit: Unit) -> None:
    ask_for(second_person_corrections=True)
    proposal = proposed(lambda: _correct_inspection(unit), unit.manager)
    count(unit.housing, unit.manager, unit.lot, travel_in=5.5, at=MONDAY + timedelta(days=1))
    with pytest.raises(ValidationError, match=r"newest record of .* was inspection"):
        confirm(proposal, ManagerFactory())


def test_a_file_can_not_be_kept_with_a_proposal() -> None:
    with pytest.raises(CannotBeKept):
        written({"photo": picture()})


def test_proposals_and_answers_are_append_only(listing: Proposal) -> None:
    refused = f"{AppendOnly.refusal}"
    answer = confirm(listing, ManagerFactory())
    for record in (listing, answer):
        with pytest.raises(IntegrityError, match=refused), transaction.atomic():
            type(record).objects.filter(pk=record.pk).update(submission_id=uuid.uuid4())


def test_a_rate_is_approved_by_somebody_qualified_that_day() -> None:
    ask_for(qualified_rates=True)
    draft = drafted_test(PadLotFactory(), ManagerFactory()).draft
    assert draft is not None
    able = qualified("Ida Frost", "rates")
    with pytest.raises(ValidationError, match=r"no qualification for approval of rates.*Ida Frost"):
        approve(draft)
    assert approve(draft, able) == []


def test_a_qualification_for_rates_that_ended_yesterday_approves_nothing() -> None:
    ask_for(qualified_rates=True)
    draft = drafted_test(PadLotFactory(), ManagerFactory()).draft
    assert draft is not None
    ended = qualified("Ida Frost", "rates", until=timezone.localdate() - timedelta(days=1))
    with pytest.raises(ValidationError, match=r"until .* only.*Nobody is, that day"):
        approve(draft, ended)


def test_a_yearly_inspection_is_signed_by_somebody_qualified_the_day_it_was_made(
    unit: Unit,
) -> None:
    ask_for(qualified_yearly=True)
    seen = days_ago(40)
    able = qualified("Ida Frost", "yearly", until=timezone.localdate() - timedelta(days=10))
    sign: dict[str, Any] = {"lot": unit.lot, "kind": "yearly", "at": seen, "hours": 100.0}
    with pytest.raises(ValidationError, match=r"yearly inspections on record.*Ida Frost"):
        count(unit.housing, unit.manager, **sign)
    assert count(unit.housing, able, **sign).inspection.recorded_by == able
    with pytest.raises(ValidationError, match=r"until .* only"):
        count(unit.housing, able, **(sign | {"at": days_ago(1)}))
    # Of the other kinds nothing is asked.
    assert count(unit.housing, unit.manager, **(sign | {"kind": "monthly"})).inspection.pk


def test_a_phone_is_told_who_is_qualified_for_a_yearly_inspection(unit: Unit) -> None:
    ask_for(qualified_yearly=True)
    qualified("Ida Frost", "yearly")
    refused = send(signed_in(unit.manager), payload(unit, kind="yearly", hours=100))
    assert refused.status_code in (400, 422)
    assert "Qualified that day: Ida Frost" in refused.content.decode()
    assert not unit.housing.inspections.filter(kind="yearly").exists()


def test_a_qualification_withdrawn_signs_no_yearly_inspection(unit: Unit) -> None:
    ask_for(qualified_yearly=True)
    able = qualified("Ida Frost", "yearly")
    QualificationWithdrawal.objects.create(
        submission_id=uuid.uuid4(),
        qualification=Qualification.objects.get(holder=able),
        reason="Lapsed",
        recorded_by=able,
    )
    with pytest.raises(ValidationError, match="withdrawn"):
        count(unit.housing, able, unit.lot, kind="yearly", hours=100.0)


def test_the_page_proposes_and_another_confirms(
    unit: Unit, manager_client: Client, manager: User
) -> None:
    ask_for(second_person_listings=True)
    form = {
        "submission_id": uuid.uuid4(),
        "listed_lbf": "61000",
        "source": "Plate 7",
        "dated": "2021-01-01",
    }
    url = reverse("new-listing", args=[unit.hammer.pk])
    offered = manager_client.post(url, form)
    assert b"Not recorded yet." in offered.content
    sealed = offered.context["sealed"]
    blank = {"sealed": sealed, "submission_id": uuid.uuid4(), "why": ""}
    assert b"This is blank" in manager_client.post(reverse("new-proposal"), blank).content
    manager_client.post(reverse("new-proposal"), blank | {"why": "The plate is new"})
    proposal = Proposal.objects.get()
    page = reverse("proposal", args=[proposal.pk])
    assert b"it is not yours to confirm" in manager_client.get(page).content
    assert page.encode() not in manager_client.get(reverse("waiting")).content

    second = ManagerFactory()
    other = Client()
    other.force_login(second)
    assert page.encode() in other.get(reverse("waiting")).content
    sent = {"submission_id": uuid.uuid4()}
    other.post(reverse("confirm-proposal", args=[proposal.pk]), sent)
    assert Listing.objects.latest("pk").listed_lbf == 61_000
    ledger = other.get(reverse("unit-records", args=[unit.housing.pk, "ledger"])).content.decode()
    assert f"{who_words(manager)}, confirmed by {who_words(second)}" in ledger


def test_a_proposal_sealed_for_one_person_is_not_taken_from_another(
    unit: Unit, manager_client: Client
) -> None:
    ask_for(second_person_listings=True)
    form = {
        "submission_id": uuid.uuid4(),
        "listed_lbf": "61000",
        "source": "Plate 7",
        "dated": "2021-01-01",
    }
    url = reverse("new-listing", args=[unit.hammer.pk])
    sealed = manager_client.post(url, form).context["sealed"]
    other = Client()
    other.force_login(ManagerFactory())
    sent = {"submission_id": uuid.uuid4(), "why": "So"}
    theirs = other.post(reverse("new-proposal"), sent | {"sealed": sealed})
    assert theirs.status_code == 400
    assert "Somebody else entered this" in theirs.content.decode()
    altered = other.post(reverse("new-proposal"), sent | {"sealed": "x" + sealed})
    assert altered.status_code == 400
    assert "This is no proposal of this site" in altered.content.decode()
    assert not Proposal.objects.exists()
