"""Days on the way to a job and back: what they run into is known before a unit is held."""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import localdate

from ratings.jobs.commitments import CareNotKnown, commit_unit, confirm_commitment
from ratings.models import Commitment, ExtractionJob
from ratings.transport import change_transport_rules
from tests.builders import Unit
from tests.factories import DispatcherFactory
from tests.job_builders import commit, extraction_job, figured_unit, transfer
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def first_day() -> date:
    return localdate() + timedelta(days=5)


def far_job(unit: Unit, first_day: date, miles: float, site: str = "Ferry slip") -> ExtractionJob:
    """A job of three days, so many miles from the yard of a unit."""
    return extraction_job(
        first_day=first_day, days=3, site=site, distances={unit.housing.yard_id: miles}
    )


def asked(unit: Unit, job: ExtractionJob) -> list[str]:
    """What somebody must know of a unit's days on the way before a job holds it."""
    try:
        commit_unit(
            submission_id=uuid.uuid4(), job=job, housing=unit.housing, by=DispatcherFactory()
        )
    except CareNotKnown as refusal:
        assert not Commitment.objects.filter(job=job).exists()
        return [each for each in refusal.cares if "on the way" in each]
    return []


# By the rule in force before any other: 250 miles a day, one day at the least, each way.
@pytest.mark.parametrize(("gap", "clashes"), [(0, True), (2, True), (3, False)])
def test_days_there_and_back_are_kept_free_of_those_of_another_hold(
    gap: int, clashes: bool
) -> None:
    unit = figured_unit()
    commit(unit, far_job(unit, first_day(), 200.0, "Dolphin 9"))
    job = far_job(unit, first_day() + timedelta(days=3 + gap), 400.0)
    found = asked(unit, job)
    assert bool(found) is clashes
    if clashes:
        assert "2 days each way, run into its hold for Dolphin 9" in found[0]


def test_a_yard_next_door_that_counts_no_day_on_the_way_is_not_asked() -> None:
    change_transport_rules(
        submission_id=uuid.uuid4(),
        miles_a_day=250.0,
        least_days=0,
        reason="All sites are on the river.",
        by=DispatcherFactory(),
    )
    unit = figured_unit()
    commit(unit, far_job(unit, first_day(), 0.0, "Dolphin 9"))
    assert asked(unit, far_job(unit, first_day() + timedelta(days=3), 0.0)) == []


def test_a_transfer_they_run_into_is_named_and_somebody_may_know_of_it() -> None:
    unit = figured_unit()
    transfer(unit, ahead=8)
    job = far_job(unit, first_day(), 100.0)
    (found,) = asked(unit, job)
    assert "run into its transfer" in found
    assert commit(unit, job)


def test_the_page_asks_before_anything_is_sent(dispatcher_client: Client) -> None:
    unit = figured_unit()
    commit(unit, far_job(unit, first_day(), 200.0, "Dolphin 9"))
    job = far_job(unit, first_day() + timedelta(days=4), 200.0)
    page = dispatcher_client.get(reverse("job-unit", args=[job.pk, unit.housing.pk]))
    assert "and that its days on the way, 1 day each way, run into its hold for Dolphin 9" in (
        words(page)
    )


def test_they_are_asked_again_of_who_confirms() -> None:
    unit = figured_unit(rate_lbf_in=1500.0)
    made = commit(unit, far_job(unit, first_day(), 200.0))
    other = extraction_job(first_day=first_day() + timedelta(days=4), days=3, site="Dolphin 9")
    commit(unit, other)
    asked_again: Any = {"commitment": made, "by": DispatcherFactory()}
    with pytest.raises(CareNotKnown, match="on the way, 1 day each way, run into its hold for"):
        confirm_commitment(submission_id=uuid.uuid4(), **asked_again)
    found = confirm_commitment(
        submission_id=uuid.uuid4(), is_care_known=True, watched_by="Odd Brandt", **asked_again
    )
    assert found.commitment == made
