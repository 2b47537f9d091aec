"""The load indicator that watches the pull: its calibration judged on every day of the hold."""

from __future__ import annotations

import uuid
from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import localdate

from ratings.jobs.ahead import Plan
from ratings.jobs.answer import answer_for_unit, question_of
from ratings.jobs.commitments import CannotCommit, commit_unit
from ratings.jobs.history import differences
from ratings.jobs.validity import ReasonKey, Word, commitment_now
from ratings.ledger.answers import answer_fault
from ratings.mechanics.extraction.outcomes import ConditionKey, ConditionState
from ratings.models import Commitment, ConditionKind, ExtractionJob, LoadIndicator
from ratings.pullsheet.back import place_rows
from ratings.pullsheet.facts import read_sheet
from tests.builders import Unit
from tests.factories import DispatcherFactory, LoadIndicatorFactory
from tests.job_builders import commit, extraction_job, figured_unit
from tests.ratings.jobs.job_form import filled

pytestmark = pytest.mark.django_db


def first_day() -> date:
    return localdate() + timedelta(days=1)


def last_day() -> date:
    return first_day() + timedelta(days=2)


def watched_job(indicator: LoadIndicator | None = None) -> ExtractionJob:
    return extraction_job(first_day=first_day(), days=3, indicator=indicator)


def state(unit: Unit, job: ExtractionJob) -> ConditionState | None:
    answer = answer_for_unit(question_of(job), unit.housing.pk)
    assert answer is not None
    found = answer.verdict.condition(ConditionKey.CALIBRATION)
    return found.state if found else None


@pytest.mark.parametrize(
    ("due_in_days", "found"),
    [
        (3, ConditionState.HOLDS),
        (2, ConditionState.TO_DO),
        (0, ConditionState.TO_DO),
        (None, ConditionState.TO_DO),
    ],
)
def test_its_calibration_is_to_last_to_the_last_day(
    due_in_days: int | None, found: ConditionState
) -> None:
    due_on = None if due_in_days is None else localdate() + timedelta(days=due_in_days)
    assert state(figured_unit(), watched_job(LoadIndicatorFactory(due_on=due_on))) is found


def test_nothing_is_asked_where_none_is_named_and_the_stretch_tells() -> None:
    assert state(figured_unit(), watched_job()) is None


def test_a_lapsing_calibration_keeps_a_unit_until_it_is_planned_and_done() -> None:
    unit, indicator = figured_unit(), LoadIndicatorFactory(due_on=first_day())
    job = watched_job(indicator)
    with pytest.raises(CannotCommit, match="not calibrated to the last day"):
        commit(unit, job)
    made = commit_unit(
        submission_id=uuid.uuid4(),
        job=job,
        housing=unit.housing,
        by=DispatcherFactory(),
        is_care_known=True,
        watched_by="Odd Brandt",
        plans=[Plan(ConditionKind.CALIBRATION, localdate(), first_day(), indicator=indicator)],
    )
    assert commitment_now(made.pk).word is Word.NOT_YET
    indicator.due_on = last_day()
    indicator.save()
    assert not commitment_now(made.pk).wanting
    assert answer_fault(made.answer) == ""


def word_after(made: Commitment) -> frozenset[ReasonKey]:
    return commitment_now(made.pk).keys


def test_a_calibration_that_no_longer_lasts_voids_the_sheet() -> None:
    indicator = LoadIndicatorFactory(due_on=last_day())
    made = commit(figured_unit(), watched_job(indicator))
    assert not word_after(made)
    indicator.due_on = first_day()
    indicator.save()
    assert word_after(made) == {ReasonKey.CALIBRATION}


def test_another_indicator_named_voids_the_sheet() -> None:
    made = commit(figured_unit(), watched_job(LoadIndicatorFactory()))
    ExtractionJob.objects.update(indicator=LoadIndicatorFactory())
    assert word_after(made) == {ReasonKey.CALIBRATION}
    ExtractionJob.objects.update(indicator=None)
    assert word_after(made) == {ReasonKey.CALIBRATION}


def test_the_sheet_says_which_it_is_and_how_long_it_is_in_date() -> None:
    indicator = LoadIndicatorFactory(mark="LC-7", due_on=last_day())
    made = commit(figured_unit(), watched_job(indicator))
    rows = dict(place_rows(read_sheet(commitment_now(made.pk), "http://yard/c/1", "us")))
    assert rows["Load indicator"].startswith("LC-7, load cell; in calibration to ")
    unnamed = commit(figured_unit(), watched_job())
    rows = dict(place_rows(read_sheet(commitment_now(unnamed.pk), "http://yard/c/1", "us")))
    assert rows["Load indicator"].startswith("not named on the job")


def test_the_form_names_it_and_the_history_tells(dispatcher_client: Client) -> None:
    indicator = LoadIndicatorFactory(mark="LC-7")
    fields = filled(dispatcher_client)
    dispatcher_client.post(reverse("new-job"), fields | {"indicator": str(indicator.pk)})
    job = ExtractionJob.objects.get()
    assert job.indicator == indicator
    first = job.versions.get().contents
    unsaid = first | {"job": {**first["job"], "indicator": None}}
    (told,) = differences(unsaid, first, "us")
    assert told.label == "Load indicator that watches the pull"
    assert (told.before, told.after) == ("blank", str(indicator))


@pytest.mark.parametrize("given", ["999999", "LC-7", "1;--"])
def test_an_indicator_that_is_none_is_refused_at_its_field(
    dispatcher_client: Client, given: str
) -> None:
    fields = filled(dispatcher_client) | {"indicator": given}
    response = dispatcher_client.post(reverse("new-job"), fields)
    assert "There is no such load indicator: choose one of the list." in response.content.decode()
    assert not ExtractionJob.objects.exists()
