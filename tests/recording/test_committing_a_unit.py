from __future__ import annotations

import json
import uuid
from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.db import DatabaseError, transaction
from django.utils import timezone

from fleet.models import SuppressorHousing
from ratings.extraction.candidates import candidates
from ratings.extraction.recompute import answer_fault, recompute
from ratings.models import Commitment, ExtractionJob, JobAnswer
from ratings.recording.commitment import CannotCommit, commit_unit, is_void, release_unit
from ratings.recording.job import save_job
from tests.builders import count
from tests.conftest import append_only_lifted
from tests.factories import DispatcherFactory
from tests.jobs import GROUND, commit, extraction_job, figured_unit

pytestmark = pytest.mark.django_db

DAY = timezone.localdate() + timedelta(days=2)


def held(unit, job: ExtractionJob, first: date, last: date, **changes) -> Commitment:
    """A commitment put in by hand, past every function that looks first."""
    answer = JobAnswer.objects.latest("pk")
    copy = JobAnswer.objects.create(
        submission_id=uuid.uuid4(),
        job=job,
        housing=answer.housing,
        hammer=answer.hammer,
        entry=answer.entry,
        verdict=answer.verdict,
        document=answer.document,
        hash=answer.hash,
        recorded_by=answer.recorded_by,
    )
    plain = {"housing": answer.housing, "hammer": answer.hammer}
    return Commitment.objects.create(
        answer=copy, job=job, first_day=first, last_day=last, **plain | changes
    )


def test_a_suitable_unit_is_committed_for_the_days_of_the_job() -> None:
    unit, job = figured_unit(), extraction_job(first_day=DAY, days=3)
    made = commit(unit, job)
    assert (made.first_day, made.last_day) == (DAY, DAY + timedelta(days=2))
    assert made.answer.entry == unit.housing.current_rating.head


def test_a_second_copy_commits_once() -> None:
    unit, job = figured_unit(), extraction_job()
    sent = uuid.uuid4()
    for _ in range(2):
        commit_unit(submission_id=sent, job=job, housing=unit.housing, by=DispatcherFactory())
    assert Commitment.objects.count() == 1


def test_a_unit_that_is_not_suitable_is_refused_with_what_governs() -> None:
    unit = figured_unit(listed_lbf=90_000)
    with pytest.raises(CannotCommit, match="not suitable for this job"):
        commit(unit)
    assert not JobAnswer.objects.exists()


def test_a_unit_that_cannot_be_judged_is_refused() -> None:
    unit = figured_unit({"eccentric_moment_lb_in": None})
    with pytest.raises(CannotCommit, match="cannot be judged"):
        commit(unit)


def test_a_unit_held_by_another_job_is_refused() -> None:
    unit = figured_unit()
    commit(unit, extraction_job(first_day=DAY))
    with pytest.raises(CannotCommit, match="dates"):
        commit(unit, extraction_job(first_day=DAY + timedelta(days=2)))


def test_the_database_refuses_days_that_overlap() -> None:
    unit = figured_unit()
    job = extraction_job(first_day=DAY, days=3)
    commit(unit, job)
    with pytest.raises(DatabaseError, match=r"overlap|held by"), transaction.atomic():
        held(unit, job, DAY + timedelta(days=2), DAY + timedelta(days=5))


def test_the_database_refuses_one_hammer_under_two_housings_on_one_day() -> None:
    unit, other = figured_unit(), figured_unit()
    job = extraction_job(first_day=DAY, days=3)
    commit(unit, job)
    with pytest.raises(DatabaseError, match=r"overlap|held by"), transaction.atomic():
        held(unit, job, DAY, DAY, housing=other.housing)


def test_the_database_refuses_days_moved_onto_others() -> None:
    unit = figured_unit()
    job = extraction_job(first_day=DAY, days=3)
    commit(unit, job)
    later = held(unit, job, DAY + timedelta(days=3), DAY + timedelta(days=4))
    with pytest.raises(DatabaseError, match=r"overlap|held by"), transaction.atomic():
        Commitment.objects.filter(pk=later.pk).update(first_day=DAY)


def test_days_that_touch_do_not_overlap() -> None:
    unit = figured_unit()
    commit(unit, extraction_job(first_day=DAY, days=3))
    commit(unit, extraction_job(first_day=DAY + timedelta(days=3), days=3))
    assert Commitment.objects.count() == 2


def test_a_released_unit_may_be_committed_again() -> None:
    unit, job = figured_unit(), extraction_job()
    release_unit(commitment=commit(unit, job), reason="Rained off.", by=DispatcherFactory())
    assert commit(unit, job).is_in_force


def test_a_release_wants_a_reason() -> None:
    made = commit(figured_unit())
    with pytest.raises(ValidationError, match="say why"):
        release_unit(commitment=made, reason=" ", by=DispatcherFactory())


def test_it_is_void_once_the_rating_changes() -> None:
    unit = figured_unit()
    made = commit(unit)
    assert not is_void(made)
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=timezone.now())
    assert is_void(made)


def test_an_answer_recomputes_from_its_document_alone() -> None:
    unit, job = figured_unit(), extraction_job()
    answer = commit(unit, job).answer
    save_job(
        submission_id=uuid.uuid4(),
        job=job,
        fields={"embedment_ft": 12.0},
        layers=GROUND,
        distances={},
        by=DispatcherFactory(),
    )
    SuppressorHousing.objects.filter(pk=unit.housing.pk).update(weight_lb=9.0)
    assert recompute(answer)


def test_the_days_of_a_job_that_holds_units_do_not_change() -> None:
    unit, job = figured_unit(), extraction_job(first_day=DAY)
    commit(unit, job)
    with pytest.raises(ValidationError, match="release it first"):
        save_job(
            submission_id=uuid.uuid4(),
            job=job,
            fields={"first_day": DAY + timedelta(days=1)},
            layers=GROUND,
            distances={},
            by=DispatcherFactory(),
        )


def test_an_answer_tampered_with_is_found() -> None:
    answer = commit(figured_unit()).answer
    contents = json.loads(answer.document)
    contents["job"]["crane"]["capacity_lbf"] = 999_000
    with append_only_lifted():
        JobAnswer.objects.filter(pk=answer.pk).update(document=json.dumps(contents))
    answer.refresh_from_db()
    assert "hash" in answer_fault(answer)
    with pytest.raises(CommandError, match="does not hold"):
        call_command("ledger", "verify")


def test_the_database_refuses_to_change_an_answer() -> None:
    answer = commit(figured_unit()).answer
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        JobAnswer.objects.filter(pk=answer.pk).update(verdict="suitable")


def test_candidates_take_as_many_queries_for_two_units_as_for_four(
    django_assert_num_queries,
) -> None:
    for _ in range(2):
        figured_unit()
    candidates(DAY, DAY)
    with django_assert_num_queries(7):
        assert len(candidates(DAY, DAY)) == 2
    for _ in range(2):
        figured_unit()
    candidates(DAY, DAY)
    with django_assert_num_queries(7):
        assert len(candidates(DAY, DAY)) == 4
