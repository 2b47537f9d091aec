"""Two answers side by side, what differs marked by a word."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from tests.all_tables import changed, everything
from tests.factories import HousingFactory
from tests.job_builders import extraction_job, figured_unit
from tests.site.html_form import words

pytestmark = pytest.mark.django_db
URL = "/jobs/compare/"


def compared(client: Client, **sides: str | int) -> str:
    before = everything()
    response = client.get(URL, {"other_job": "", "other_unit": "", **sides})
    assert response.status_code == 200
    assert changed(before) == set()
    return words(response)


def test_two_units_on_one_job(auditor_client: Client) -> None:
    weak, strong, job = figured_unit(), figured_unit(rate_lbf_in=1500.0), extraction_job()
    page = compared(auditor_client, job=job.pk, unit=weak.housing.pk, other_unit=strong.housing.pk)
    assert f"{weak.housing.mark} on {weak.hammer.mark}" in page
    assert f"{strong.housing.mark} on {strong.hammer.mark}" in page
    assert f"{strong.housing.mark} has more to spare" in page
    assert f"{weak.housing.mark} has more to spare" not in page
    assert "The ground holds with" in page


def test_one_unit_on_two_jobs(auditor_client: Client) -> None:
    unit, job = figured_unit(), extraction_job()
    short = extraction_job(site="Pier 4", embedment_ft=20.0)
    page = compared(auditor_client, job=job.pk, unit=unit.housing.pk, other_job=short.pk)
    assert "for Ferry slip" in page
    assert "for Pier 4" in page
    assert "Pier 4 has more to spare" in page


def test_figures_that_are_the_same_are_told_so(auditor_client: Client) -> None:
    unit, job, twin = figured_unit(), extraction_job(), extraction_job(site="Its twin")
    page = compared(auditor_client, job=job.pk, unit=unit.housing.pk, other_job=twin.pk)
    assert "has more to spare" not in page
    assert "differs" not in page.split("Difference", 1)[1]


def test_a_link_with_one_side_asks_for_the_other(auditor_client: Client) -> None:
    unit, job = figured_unit(), extraction_job()
    response = auditor_client.get(URL, {"job": job.pk, "unit": unit.housing.pk})
    assert "Please correct" not in words(response)
    assert f'value="{unit.housing.pk}" selected' in response.content.decode()


def test_the_same_answer_twice_is_refused(auditor_client: Client) -> None:
    unit, job = figured_unit(), extraction_job()
    page = compared(auditor_client, job=job.pk, unit=unit.housing.pk)
    assert "Both sides are the same answer: choose another unit, another job, or both." in page


@pytest.mark.parametrize("given", ["no", "0", "99999", "9" * 400, "-1"])
@pytest.mark.parametrize("field", ["job", "unit", "other_job", "other_unit"])
def test_what_is_no_job_or_unit_is_refused_at_its_field(
    auditor_client: Client, field: str, given: str
) -> None:
    unit, other, job = figured_unit(), figured_unit(), extraction_job()
    sides = {"job": job.pk, "unit": unit.housing.pk, "other_unit": other.housing.pk}
    page = compared(auditor_client, **sides | {field: given})
    assert "choose one of the list" in page


def test_a_housing_off_its_hammer_can_not_be_chosen(auditor_client: Client) -> None:
    unit, job, loose = figured_unit(), extraction_job(), HousingFactory()
    page = compared(auditor_client, job=job.pk, unit=unit.housing.pk, other_unit=loose.pk)
    assert "No such unit hangs from a hammer: choose one of the list." in page


def test_stacked_on_a_phone_each_side_is_called_what_it_is(auditor_client: Client) -> None:
    unit, job, later = figured_unit(), extraction_job(), extraction_job(site="Pier 4")
    other = figured_unit(rate_lbf_in=1500.0)
    asked: dict[str, int | str] = {"job": job.pk, "unit": unit.housing.pk}
    asked |= {"other_job": "", "other_unit": ""}

    def page_of(**more: int | str) -> str:
        return auditor_client.get(URL, asked | more).content.decode()

    units = page_of(other_unit=other.housing.pk)
    assert f'data-label="{unit.housing.mark}"' in units
    both = page_of(other_unit=other.housing.pk, other_job=later.pk)
    assert f'data-label="{other.housing.mark} for Pier 4"' in both
    twin = extraction_job(first_day=job.first_day + timedelta(days=30))
    assert page_of(other_job=twin.pk).count('data-label="Ferry slip, ') >= 2
