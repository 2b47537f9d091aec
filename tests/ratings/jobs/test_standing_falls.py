"""A commitment as it stands now: what fell, what is void, and what the job asks since."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from fleet.models import OutOfService
from ratings.jobs.commitments import release_unit
from ratings.jobs.validity import CommitmentNow, commitments_of_job, commitments_of_unit
from ratings.models import Commitment, ExtractionJob
from ratings.mounting import mount_housing
from tests.builders import Unit, count, list_hammer
from tests.factories import DispatcherFactory, HammerFactory
from tests.job_builders import commit, extraction_job, figured_unit

pytestmark = pytest.mark.django_db


@pytest.fixture
def unit() -> Unit:
    return figured_unit()


@pytest.fixture
def job() -> ExtractionJob:
    return extraction_job()


def held(job: ExtractionJob) -> CommitmentNow:
    (only,) = commitments_of_job(job)
    return only


def test_all_as_it_was_says_nothing(unit: Unit, job: ExtractionJob) -> None:
    commit(unit, job)
    found = held(job)
    assert (found.words, found.fell, found.is_void) == ("", False, False)


def test_a_standing_that_fell_is_said(unit: Unit, job: ExtractionJob) -> None:
    commit(unit, job)
    faults = {f"A{number}": "cracked" for number in (1, 2, 3)}
    count(unit.housing, unit.manager, unit.lot, unsound=faults, at=timezone.now())
    found = held(job)
    assert found.fell
    assert found.lead == "Do not send it out."
    assert "fell from meets listing to below listing since it was committed" in found.words


def test_another_rating_of_the_same_standing_voids_the_sheet(
    unit: Unit, job: ExtractionJob
) -> None:
    commit(unit, job)
    list_hammer(unit.hammer, unit.manager, 30_000.0)
    found = held(job)
    assert (found.fell, found.is_void) == (False, True)
    assert found.lead == "Its sheet is void."


def test_out_of_service_comes_first(unit: Unit, job: ExtractionJob) -> None:
    commit(unit, job)
    OutOfService.objects.create(
        housing=unit.housing,
        since=timezone.now(),
        reason="Cracked lug.",
        recorded_by=unit.manager,
        submission_id=uuid.uuid4(),
    )
    assert held(job).words == f"{unit.housing.mark} is out of service: Cracked lug."
    assert held(job).fell


def test_a_housing_moved_to_another_hammer_is_said(unit: Unit, job: ExtractionJob) -> None:
    commit(unit, job)
    other = HammerFactory()
    mount_housing(housing=unit.housing, hammer=other, at=timezone.now(), by=unit.manager)
    found = held(job)
    assert found.words.endswith(f"and is on {other.mark} now.")
    assert (found.fell, found.is_void) == (True, True)


def test_a_job_that_asks_something_else_since_is_said(unit: Unit, job: ExtractionJob) -> None:
    commit(unit, job)
    job.pile_groups.update(embedment_ft=44.0)
    found = held(ExtractionJob.objects.get(pk=job.pk))
    assert found.is_job_changed
    assert found.lead == "Its sheet is void."
    assert "The numbers of the job changed" in found.words


def test_nothing_is_said_of_what_was_released(unit: Unit, job: ExtractionJob) -> None:
    release_unit(commitment=commit(unit, job), reason="Rained off.", by=DispatcherFactory())
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=timezone.now())
    assert held(job).words == ""
    assert commitments_of_unit(unit.housing) == []


def test_nothing_is_said_of_what_is_over(unit: Unit, job: ExtractionJob) -> None:
    commit(unit, job)
    yesterday = timezone.localdate() - timedelta(days=1)
    Commitment.objects.update(first_day=yesterday, last_day=yesterday)
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=timezone.now())
    assert held(job).words == ""
    assert commitments_of_unit(unit.housing) == []


def test_a_job_with_many_units_takes_as_many_queries(
    django_assert_num_queries: DjangoAssertNumQueries, job: ExtractionJob
) -> None:
    commit(figured_unit(), job)
    with django_assert_num_queries(19):
        commitments_of_job(job)
    for _ in range(2):
        commit(figured_unit(), job)
    with django_assert_num_queries(19):
        assert len(commitments_of_job(job)) == 3
