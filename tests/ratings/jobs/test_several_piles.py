"""A job of several groups of piles: the worst is the answer, and each can be looked at."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from ratings.models import ExtractionJob
from tests.builders import Unit
from tests.job_builders import extraction_job, figured_unit
from tests.ratings.jobs.asked_job import answer, details, form_of, rows
from tests.site.html_form import words

pytestmark = pytest.mark.django_db

LIGHT = {"label": "corner", "count": 2, "embedment_ft": 15.0}
DEEP = {"label": "toe wall", "count": 12, "embedment_ft": 45.0}


def asked() -> tuple[Unit, ExtractionJob]:
    return figured_unit(rate_lbf_in=1500.0), extraction_job(piles=[LIGHT, DEEP])


def page(client: Client, unit: Unit, job: ExtractionJob, **query: str | int) -> str:
    return words(client.get(reverse("job-unit", args=[job.pk, unit.housing.pk]), query))


def test_the_row_names_the_group_that_comes_out_worst(dispatcher_client: Client) -> None:
    _, job = asked()
    (row,) = rows(answer(dispatcher_client, form_of(dispatcher_client, job)))
    assert "Worst of 2 groups of piles: group 2, toe wall (12 piles)." in row


def test_the_head_tells_of_the_group_the_ground_holds_with_most(dispatcher_client: Client) -> None:
    _, job = asked()
    told = words(answer(dispatcher_client, form_of(dispatcher_client, job)))
    deep, alone = (
        re.search(r"with ([\d,]+ lbf)", told_of)
        for told_of in (
            told.split("one pile of group 2, toe wall (12 piles), the group it holds with most,")[
                1
            ],
            words(
                answer(dispatcher_client, form_of(dispatcher_client, extraction_job(piles=[DEEP])))
            ).split("The ground holds the pile")[1],
        )
    )
    assert deep is not None
    assert alone is not None
    assert deep[1] == alone[1]


def test_a_job_of_one_group_says_nothing_of_groups(dispatcher_client: Client) -> None:
    unit, job = figured_unit(), extraction_job()
    (row,) = rows(answer(dispatcher_client, form_of(dispatcher_client, job)))
    assert "group" not in row
    assert "The groups of piles" not in page(dispatcher_client, unit, job)


def test_the_units_page_shows_the_worst_and_leads_to_the_others(auditor_client: Client) -> None:
    unit, job = asked()
    told = page(auditor_client, unit, job)
    assert "for group 2, toe wall (12 piles), the worst of them" in told
    assert "Group 1, corner (2 piles)" in told
    other = page(auditor_client, unit, job, pile=1)
    assert "for group 1, corner (2 piles); another group comes out worse" in other
    assert other != told


@pytest.mark.parametrize("number", ["3", "0", "-1", "two", "9" * 400])
def test_a_group_there_is_not_shows_the_worst(auditor_client: Client, number: str) -> None:
    unit, job = asked()
    assert "toe wall (12 piles), the worst of them" in page(auditor_client, unit, job, pile=number)


def test_each_group_is_looked_at_in_place_too(dispatcher_client: Client) -> None:
    unit, job = asked()
    fields = form_of(dispatcher_client, job)
    worst = words(details(dispatcher_client, fields, unit.housing))
    light = words(details(dispatcher_client, fields | {"pile": "1"}, unit.housing))
    assert re.search(r"Group 2, toe wall \(12 piles\) ?, the worst", worst)
    assert "Group 1, corner (2 piles)" in light
    assert light.index("looked at below") < worst.index("looked at below")


def test_what_would_help_says_of_which_group_it_is(auditor_client: Client) -> None:
    unit = figured_unit()
    job = extraction_job(piles=[DEEP, DEEP | {"label": "river wall"}], capacity_lbf=36_000.0)
    told = page(auditor_client, unit, job)
    assert "Raising and digging are told of group 1. Group 2 of the piles falls short too" in told


def test_a_unit_is_committed_for_every_group_whichever_is_looked_at(
    dispatcher_client: Client,
) -> None:
    unit = figured_unit(rate_lbf_in=1500.0)
    job = extraction_job(piles=[LIGHT, DEEP], capacity_lbf=44_000.0)
    assert "By its forces suitable" in page(dispatcher_client, unit, job, pile=1)
    assert "Commit this unit" not in page(dispatcher_client, unit, job, pile=1)
