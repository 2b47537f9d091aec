"""Commitments made ahead of time: what is to be done, met by the record, and confirmed on it."""

from __future__ import annotations

import uuid
from datetime import date, datetime, time, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction
from django.utils import timezone
from django.utils.timezone import localdate

from fleet.outages import take_out_of_service
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.signing import Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.service.recording import release_to_service
from ratings.jobs.ahead import Plan, counts_needed, oldest_count_days
from ratings.jobs.commitments import (
    CannotCommit,
    CareNotKnown,
    NotWatched,
    commit_unit,
    confirm_commitment,
    meet_condition,
    release_unit,
)
from ratings.jobs.validity import CommitmentNow, ReasonKey, Word, commitment_now
from ratings.ledger.answers import answer_fault
from ratings.ledger.canonical import canonical_text
from ratings.mechanics import format_3
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.unit_rating import Policy, StaleRates
from ratings.models import (
    Commitment,
    CommitmentCondition,
    CommitmentConfirmation,
    ConditionKind,
    ConditionMet,
    ExtractionJob,
    JobAnswer,
    LedgerEntry,
)
from ratings.mounting import mount_housing
from ratings.policy import change_policy
from tests.builders import MONDAY, Unit, bench_test, count, qualified
from tests.conftest import append_only_lifted
from tests.factories import DispatcherFactory, HammerFactory, LoadIndicatorFactory
from tests.job_builders import commit, extraction_job, figured_unit

pytestmark = pytest.mark.django_db


def tomorrow() -> date:
    return localdate() + timedelta(days=1)


def at(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time(8)))


def overdue() -> Unit:
    """A unit last counted two months ago."""
    return figured_unit(counted_at=at(localdate() - timedelta(days=60)))


def planned(unit: Unit, *plans: Plan, job: ExtractionJob | None = None, **more: Any) -> Commitment:
    return commit_unit(
        is_care_known=True,
        watched_by="Odd Brandt",
        submission_id=more.pop("submission_id", uuid.uuid4()),
        job=job or extraction_job(),
        housing=unit.housing,
        by=DispatcherFactory(),
        plans=plans,
    )


def confirm(made: Commitment, submission_id: uuid.UUID | None = None) -> CommitmentConfirmation:
    return confirm_commitment(
        is_care_known=True,
        watched_by="Odd Brandt",
        submission_id=submission_id or uuid.uuid4(),
        commitment=made,
        by=DispatcherFactory(),
    )


def now_of(made: Commitment) -> CommitmentNow:
    return commitment_now(made.pk)


def count_by_tomorrow() -> Plan:
    return Plan(ConditionKind.COUNT, localdate(), tomorrow())


def test_a_unit_overdue_goes_once_it_is_counted_and_confirmed() -> None:
    unit = overdue()
    with pytest.raises(CannotCommit):
        commit(unit)
    made = planned(unit, count_by_tomorrow())
    assert now_of(made).word is Word.NOT_YET
    assert "count every pad and tape the travel" in now_of(made).not_yet_words
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    assert not now_of(made).wanting
    assert now_of(made).word is Word.NOT_YET
    confirm(made)
    assert now_of(made).word is Word.VALID


def test_the_answer_promised_on_stays_and_the_sheet_is_of_the_newest() -> None:
    unit = overdue()
    made = planned(unit, count_by_tomorrow())
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    newest = confirm(made).answer
    made.refresh_from_db()
    assert made.answer != newest
    assert made.newest_answer == now_of(made).answer == newest
    assert [answer_fault(each) for each in JobAnswer.objects.all()] == ["", ""]


def test_care_is_asked_again_of_who_confirms() -> None:
    unit = overdue()
    made = planned(unit, count_by_tomorrow())
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    with pytest.raises(CareNotKnown, match="knows that it is suitable with care only"):
        confirm_commitment(submission_id=uuid.uuid4(), commitment=made, by=DispatcherFactory())
    assert confirm(made).commitment == made


def test_who_watches_may_be_named_as_it_is_confirmed_and_no_later() -> None:
    unit = overdue()
    made = commit_unit(
        is_care_known=True,
        submission_id=uuid.uuid4(),
        job=extraction_job(),
        housing=unit.housing,
        by=DispatcherFactory(),
        plans=[count_by_tomorrow()],
    )
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    by = DispatcherFactory()
    known: Any = {"commitment": made, "is_care_known": True}
    with pytest.raises(NotWatched, match="Who watches the pull is blank"):
        confirm_commitment(submission_id=uuid.uuid4(), by=by, **known)
    first = confirm(made).answer
    # Whom its sheet named before, unless another is named.
    again = confirm_commitment(submission_id=uuid.uuid4(), by=by, **known).answer
    names = [each.contents["particulars"]["watched_by"] for each in (first, again)]
    assert names == ["Odd Brandt", "Odd Brandt"]


def test_a_count_waited_for_asks_for_the_hammer_too_as_the_gate_does() -> None:
    unit = overdue()
    made = planned(unit, count_by_tomorrow())
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    other = HammerFactory(yard=unit.housing.yard)
    mount_housing(housing=unit.housing, hammer=other, at=timezone.now(), by=unit.manager)
    [condition] = now_of(made).conditions
    assert not condition.is_met
    assert "the hammer it hangs on now is still to be inspected" in condition.words
    sign_inspection(
        machine=other,
        submission=Submission(uuid.uuid4()),
        seen=Seen(seen_at=timezone.now(), pads=[], note="Greased and looked over."),
        by=unit.manager,
    )
    [condition] = now_of(made).conditions
    assert condition.is_met
    assert not condition.still


def test_a_bare_note_meets_no_condition_of_a_count() -> None:
    unit = overdue()
    made = planned(unit, count_by_tomorrow())
    sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(seen_at=timezone.now(), pads=[], note="Walked past it."),
        by=unit.manager,
    )
    assert [each.word for each in now_of(made).conditions] == ["to do"]
    with pytest.raises(CannotCommit, match="not done yet: count every pad"):
        confirm(made)


def test_a_count_before_its_days_meets_nothing() -> None:
    unit = overdue()
    made = planned(unit, Plan(ConditionKind.COUNT, tomorrow(), tomorrow()))
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    assert now_of(made).wanting


def test_pads_planned_are_rated_by_the_method_of_the_entry(monkeypatch: pytest.MonkeyPatch) -> None:
    unit = figured_unit(unsound={"A1": "cracked", "A2": "cracked"}, in_stock=4)
    places = (("A", 1), ("A", 2))
    made = planned(
        unit, Plan(ConditionKind.PADS, localdate(), tomorrow(), lot=unit.lot, positions=places)
    )
    contents = made.answer.entry.contents | {"format": 3}
    with append_only_lifted():
        LedgerEntry.objects.filter(pk=made.answer.entry_id).update(
            document=canonical_text(contents)
        )
    answer = JobAnswer.objects.get(pk=made.answer_id)
    assert answer_fault(answer) == ""
    # A method by which such pads would have used less travel.
    then = format_3.results
    monkeypatch.setattr(
        format_3, "results", lambda inputs: then(inputs) | {"usable_travel_in": 0.5}
    )
    assert "its unit’s usable travel is not what ledger entry" in answer_fault(answer)


def test_pads_to_be_fitted_are_met_once_they_are_in_their_places() -> None:
    unit = figured_unit(unsound={"A1": "cracked", "A2": "cracked"}, in_stock=4)
    with pytest.raises(CannotCommit):
        commit(unit)
    places = (("A", 1), ("A", 2))
    made = planned(
        unit, Plan(ConditionKind.PADS, localdate(), tomorrow(), lot=unit.lot, positions=places)
    )
    assert "fit 2 pads of lot" in now_of(made).not_yet_words
    assert answer_fault(made.answer) == ""
    _fit(unit, places[:1])
    assert now_of(made).wanting
    assert now_of(made).word is Word.NOT_YET
    _fit(unit, places[1:])
    assert not now_of(made).wanting
    confirm(made)
    assert now_of(made).word is Word.VALID


def _fit(unit: Unit, places: tuple[tuple[str, int], ...]) -> None:
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=timezone.now(),
        pads=[PadFitted(side, number, unit.lot.pk) for side, number in places],
        by=unit.manager,
    )


def test_pads_that_would_not_do_are_refused_beforehand() -> None:
    unit = figured_unit(
        unsound={f"A{number}": "cracked" for number in (1, 2, 3)}, in_stock=4, listed_lbf=45_000
    )
    plan = Plan(ConditionKind.PADS, localdate(), tomorrow(), lot=unit.lot, positions=(("A", 1),))
    with pytest.raises(
        CannotCommit, match=r"Even with all that is planned done, .* would still be not"
    ):
        planned(unit, plan)
    assert not JobAnswer.objects.exists()


def test_a_unit_that_falls_before_it_is_confirmed_is_told_though_all_may_still_be_done() -> None:
    unit = overdue()
    made = planned(unit, count_by_tomorrow())
    faults = {f"A{number}": "cracked" for number in (1, 2, 3)}
    count(unit.housing, unit.manager, unit.lot, unsound=faults, at=timezone.now())
    assert now_of(made).keys == {ReasonKey.STANDING}
    assert now_of(made).fell


def test_a_unit_out_of_service_waits_for_its_release() -> None:
    unit = figured_unit()
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unit.housing,
        since=timezone.now() - timedelta(hours=1),
        reason="Swivel worn.",
        by=unit.manager,
    )
    made = planned(unit, Plan(ConditionKind.SERVICE, localdate(), tomorrow()))
    assert now_of(made).word is Word.NOT_YET
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    release_to_service(
        machine=unit.housing,
        at=timezone.now(),
        reason="Swivel fitted.",
        qualified_person=qualified("Odo Vance"),
        by=unit.manager,
    )
    confirm(made)
    assert now_of(made).word is Word.VALID


def test_what_no_record_can_show_is_met_by_a_person_with_a_note() -> None:
    made = planned(
        figured_unit(), Plan(ConditionKind.OTHER, localdate(), tomorrow(), words="Permit")
    )
    condition = made.conditions.get()
    with pytest.raises(ValidationError, match="say how it is known"):
        meet_condition(
            submission_id=uuid.uuid4(), condition=condition, note=" ", by=DispatcherFactory()
        )
    sent = uuid.uuid4()
    for _ in range(2):
        meet_condition(
            submission_id=sent, condition=condition, note="Permit 12 came.", by=DispatcherFactory()
        )
    assert ConditionMet.objects.count() == 1
    confirm(made)
    assert now_of(made).word is Word.VALID


def test_what_the_record_shows_is_not_ticked() -> None:
    made = planned(overdue(), count_by_tomorrow())
    with pytest.raises(ValidationError, match="met by what is on record"):
        meet_condition(
            submission_id=uuid.uuid4(),
            condition=made.conditions.get(),
            note="Counted, trust me.",
            by=DispatcherFactory(),
        )


def test_a_rate_that_runs_out_during_the_hold_waits_for_another() -> None:
    unit = figured_unit()
    # The lot was tested on a Monday of March; its rate holds to the day before the last.
    days = (tomorrow() + timedelta(days=1) - timezone.localdate(MONDAY)).days
    change_policy(
        submission_id=uuid.uuid4(),
        policy=Policy(rate_valid_days=days, stale_rates=StaleRates.DROP),
        reason="Rubber ages.",
        by=unit.manager,
    )
    job = extraction_job(days=3)
    with pytest.raises(CannotCommit, match="a rate of its pads is stale"):
        commit(unit, job)
    made = planned(unit, Plan(ConditionKind.RATE, localdate(), tomorrow(), lot=unit.lot), job=job)
    assert now_of(made).word is Word.NOT_YET
    bench_test(unit.lot, unit.manager, at=timezone.now())
    assert not now_of(made).wanting


def test_a_load_indicator_is_in_date_to_the_last_day() -> None:
    indicator = LoadIndicatorFactory(due_on=tomorrow())
    made = planned(
        figured_unit(),
        Plan(ConditionKind.CALIBRATION, localdate(), tomorrow(), indicator=indicator),
        job=extraction_job(days=3),
    )
    assert now_of(made).wanting
    indicator.due_on = tomorrow() + timedelta(days=2)
    indicator.save()
    assert not now_of(made).wanting


def test_what_was_not_done_in_time_voids_it(monkeypatch: pytest.MonkeyPatch) -> None:
    made = planned(overdue(), count_by_tomorrow())
    real = timezone.localdate
    monkeypatch.setattr(
        timezone, "localdate", lambda *at: real(*at) if at else tomorrow() + timedelta(days=1)
    )
    assert ReasonKey.CONDITION in now_of(made).keys
    assert now_of(made).word is Word.VOID


def test_a_hold_longer_than_a_count_holds_is_counted_again_while_it_lasts() -> None:
    unit, job = figured_unit(), extraction_job(first_day=localdate(), days=60)
    with pytest.raises(CannotCommit):
        commit(unit, job)
    plans = list(
        counts_needed(
            localdate(), ExtractionPolicy(), job.first_day, job.last_day, today=localdate()
        )
    )
    made = planned(unit, *plans, job=job)
    assert now_of(made).word is Word.VALID
    assert [each.word for each in now_of(made).conditions] == ["to do"] * len(plans)
    assert not any(each.is_before_it_goes for each in now_of(made).conditions)


@pytest.mark.parametrize("days_ago", [0, 10, 31, 90, None])
@pytest.mark.parametrize("hold", [1, 25, 26, 60, 180])
@pytest.mark.parametrize("off", [0, 5, 90])
def test_the_counts_a_hold_needs_leave_no_day_without_one(
    days_ago: int | None, hold: int, off: int
) -> None:
    counted = None if days_ago is None else localdate() - timedelta(days=days_ago)
    first, rules = localdate() + timedelta(days=off), ExtractionPolicy()
    last = first + timedelta(days=hold - 1)
    plans = list(counts_needed(counted, rules, first, last, localdate()))
    oldest = oldest_count_days(counted, plans, first, last)
    assert oldest is not None
    assert oldest <= rules.inspection_days
    assert all(localdate() <= plan.from_day <= plan.to_day <= max(last, first) for plan in plans)
    # None is asked for that could be left out.
    for plan in plans:
        fewer = oldest_count_days(
            counted, [each for each in plans if each is not plan], first, last
        )
        assert fewer is None or fewer > rules.inspection_days


def test_a_job_in_the_past_holds_no_unit() -> None:
    job = extraction_job(first_day=localdate() - timedelta(days=9), days=3)
    with pytest.raises(CannotCommit, match="are past"):
        commit(figured_unit(), job)


def test_a_hold_longer_than_the_rules_allow_is_refused_with_the_reason() -> None:
    most = ExtractionPolicy().longest_hold_days
    job = extraction_job(first_day=localdate(), days=most + 1)
    with pytest.raises(CannotCommit, match=f"held for {most} days at the most, since nobody"):
        commit(figured_unit(), job)


@pytest.mark.parametrize(
    ("kind", "from_in_days", "to_in_days", "words", "said"),
    [
        (ConditionKind.COUNT, 1, 0, "", "turn the days round"),
        (ConditionKind.COUNT, -3, -1, "", "past"),
        (ConditionKind.COUNT, 0, 9, "", "by then"),
        (ConditionKind.SERVICE, 0, 2, "", "by then"),
        (ConditionKind.OTHER, 0, 0, " ", "say what is to be done"),
        (ConditionKind.OTHER, 0, 99, "x", "last day"),
        (ConditionKind.PADS, 0, 0, "", "say which pads"),
    ],
)
def test_what_cannot_be_done_in_time_is_refused(
    kind: ConditionKind, from_in_days: int, to_in_days: int, words: str, said: str
) -> None:
    first, last = (localdate() + timedelta(days=days) for days in (from_in_days, to_in_days))
    with pytest.raises(ValidationError, match=said):
        planned(figured_unit(), Plan(kind, first, last, words=words))
    assert not Commitment.objects.exists()


def test_no_more_is_asked_than_a_person_can_read() -> None:
    plans = [
        Plan(ConditionKind.OTHER, localdate(), localdate(), words=f"Thing {n}") for n in range(21)
    ]
    with pytest.raises(ValidationError, match="20 at the most"):
        planned(figured_unit(), *plans)


def test_a_second_copy_of_a_confirmation_changes_nothing() -> None:
    made, sent = commit(figured_unit()), uuid.uuid4()
    assert confirm(made, sent) == confirm(made, sent)
    assert JobAnswer.objects.count() == 2
    with pytest.raises(CannotCommit, match="sent for another commitment"):
        confirm(commit(figured_unit()), sent)


def test_a_released_commitment_is_confirmed_no_more() -> None:
    made = commit(figured_unit())
    release_unit(commitment=made, reason="Rained off.", by=DispatcherFactory())
    with pytest.raises(CannotCommit, match="was released"):
        confirm(made)


def test_a_commitment_that_is_over_is_confirmed_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    made, real = commit(figured_unit()), timezone.localdate
    later = localdate() + timedelta(days=30)
    monkeypatch.setattr(timezone, "localdate", lambda *at: real(*at) if at else later)
    with pytest.raises(CannotCommit, match="Its last day was"):
        confirm(made)


def test_a_job_changed_since_is_answered_again_without_a_release() -> None:
    job = extraction_job()
    made = commit(figured_unit(), job)
    job.pile_groups.update(embedment_ft=38.0)
    assert now_of(made).keys == {ReasonKey.JOB}
    confirm(made)
    assert now_of(made).word is Word.VALID


def test_a_job_changed_to_what_the_unit_cannot_do_is_not_answered_again() -> None:
    job = extraction_job()
    made = commit(figured_unit(), job)
    ExtractionJob.objects.filter(pk=job.pk).update(capacity_lbf=9_000.0)
    with pytest.raises(CannotCommit, match="for this job"):
        confirm(made)
    assert not CommitmentConfirmation.objects.exists()


def test_the_database_keeps_conditions_as_they_were_made() -> None:
    made = planned(overdue(), count_by_tomorrow())
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        CommitmentCondition.objects.update(to_day=localdate() + timedelta(days=99))
    with pytest.raises(DatabaseError), transaction.atomic():
        CommitmentCondition.objects.create(
            submission_id=uuid.uuid4(),
            commitment=made,
            kind="pads",
            from_day=localdate(),
            to_day=localdate(),
            recorded_by=made.answer.recorded_by,
        )
