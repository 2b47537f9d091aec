"""A pull that must stop short is told on every page as its pull sheet tells it."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from ratings.jobs.answer import answer_for_unit, question_of
from ratings.jobs.stops import STOPS_SHORT, stops_short_words
from ratings.jobs.validity import commitment_now
from ratings.models import ExtractionJob
from ratings.pullsheet.facts import read_sheet
from tests.builders import Unit, count
from tests.job_builders import commit, extraction_job, figured_unit
from tests.ratings.jobs.asked_job import answer, form_of, rows
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def short_job(unit: Unit) -> ExtractionJob:
    """A job with a crane good for little more than the pull expected."""
    found = answer_for_unit(question_of(extraction_job()), unit.housing.pk)
    assert found is not None
    hook_lbf = found.path.at_crane_lbf or 0.0
    return extraction_job(capacity_lbf=1.1 * hook_lbf / found.policy.crane_share)


def test_the_answer_and_the_commitment_say_what_the_sheet_says(dispatcher_client: Client) -> None:
    unit = figured_unit(rate_lbf_in=1500.0)
    job = short_job(unit)
    asked = words(dispatcher_client.get(reverse("job-unit", args=[job.pk, unit.housing.pk])))
    made = commit(unit, job)
    sheet = read_sheet(commitment_now(made.pk), "https://yard.example/1", "us")
    said = stops_short_words(sheet.groups, sheet.worst, "us")
    assert said
    assert said in asked.split("Commit this unit")[0]
    assert "may go with care" in asked
    page = words(dispatcher_client.get(reverse("commitment", args=[made.pk])))
    assert said in page
    assert "may go with care" in page


def test_the_ranking_says_of_it_what_the_unit_s_page_says(dispatcher_client: Client) -> None:
    job = short_job(figured_unit(rate_lbf_in=1500.0))
    (row,) = rows(answer(dispatcher_client, form_of(dispatcher_client, job)))
    assert STOPS_SHORT in row


def test_a_pull_with_room_to_its_stop_says_nothing_of_it(dispatcher_client: Client) -> None:
    unit, job = figured_unit(rate_lbf_in=1500.0), extraction_job(capacity_lbf=400_000.0)
    asked = words(dispatcher_client.get(reverse("job-unit", args=[job.pk, unit.housing.pk])))
    assert "must stop before" not in asked


def test_the_unit_s_answer_says_that_its_commitment_is_void_and_why(
    dispatcher_client: Client,
) -> None:
    unit, job = figured_unit(rate_lbf_in=1500.0), extraction_job()
    made = commit(unit, job)
    url = reverse("job-unit", args=[job.pk, unit.housing.pk])
    assert "VOID" not in words(dispatcher_client.get(url))
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), travel_in=5.5)
    now = commitment_now(made.pk)
    assert now.is_void
    found = words(dispatcher_client.get(url))
    assert f"VOID {now.state.reasons[0]}" in found
