"""A job entered on a desk, on a phone, and where no script runs."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from playwright.sync_api import Page, expect

from ratings.models import ExtractionJob
from tests.browser.chromium import Visit
from tests.browser.watch import DESKTOP, PHONE
from tests.builders import rated_unit
from tests.factories import DispatcherFactory
from tests.job_builders import job_of
from tests.ratings.jobs.job_form import saved

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PLAIN = {**PHONE, "java_script_enabled": False}


def open_group(page: Page, key: str) -> None:
    group = page.locator(f"#group-{key}")
    if group.get_attribute("open") is None:
        group.locator("> summary").click()


def fill_pile(page: Page) -> None:
    page.get_by_label("Section", exact=True).fill("hp12x53")
    page.get_by_label("Length of the pile").fill("50")
    page.get_by_label("Embedment").fill("40")


@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_choices_fill_the_form_and_the_answer_follows(visit: Visit, device: dict[str, Any]) -> None:
    unit = rated_unit()
    page = visit("/jobs/new/", DispatcherFactory(), **device)
    answer = page.locator("#answer")
    expect(answer).to_contain_text("This is blank: name the site")
    page.get_by_label("Site", exact=True).fill("Pier 4")
    open_group(page, "pile")
    fill_pile(page)
    expect(page.locator("#id_pile-0-weight_lb_ft")).to_have_value("53")
    expect(page.locator("#id_pile-0-kind")).to_have_value("H")
    open_group(page, "ground")
    page.get_by_label("Start from a profile").select_option("generic:loam")
    expect(page.get_by_label("Thickness")).to_have_count(2)
    expect(answer).to_contain_text(unit.housing.mark)

    page.get_by_role("button", name="Put one above layer 2").click()
    expect(page.get_by_label("Thickness")).to_have_count(3)
    page.get_by_role("button", name="Save the job").click()
    expect(page.get_by_role("status").first).to_contain_text("is saved")
    assert len(job_of(ExtractionJob.objects.get()).layers) == 2


def test_a_saved_job_on_a_phone_is_folded_to_its_words(visit: Visit) -> None:
    by, client = DispatcherFactory(), Client()
    client.force_login(by)
    page = visit(f"/jobs/{saved(client).pk}/", by, **PHONE)
    expect(page.locator("#group-pile[open]")).to_have_count(0)
    expect(page.locator("#group-pile .job-summary")).to_contain_text("1 × HP12×53, 50 ft long")


def test_it_is_entered_without_a_script(visit: Visit) -> None:
    page = visit("/jobs/new/", DispatcherFactory(), **PLAIN)
    page.get_by_label("Site", exact=True).fill("Pier 4")
    fill_pile(page)
    page.get_by_label("Start from a profile").select_option("generic:sand")
    page.get_by_role("button", name="Fill in its layers").click()
    expect(page.get_by_label("Site", exact=True)).to_have_value("Pier 4")
    page.get_by_role("button", name="More layers").click()
    expect(page.get_by_label("Thickness")).to_have_count(2)
    page.get_by_role("button", name="Save the job").click()
    expect(page.get_by_role("status").first).to_contain_text("is saved")
    assert ExtractionJob.objects.get().pile_groups.get().weight_lb_ft == 53


def test_a_second_group_of_piles_is_filled_by_its_own_section(visit: Visit) -> None:
    page = visit("/jobs/new/", DispatcherFactory(), **DESKTOP)
    page.get_by_label("Site", exact=True).fill("Pier 4")
    fill_pile(page)
    page.get_by_role("button", name="Another group of piles").click()
    expect(page.get_by_label("Section", exact=True)).to_have_count(2)
    expect(page.locator("#id_pile-0-section")).to_have_value("HP12×53")
    page.locator("#id_pile-1-section").fill("pipe, 24 in outside, 0.5 in wall")
    page.locator("#id_pile-1-length_ft").fill("60")
    page.locator("#id_pile-1-embedment_ft").fill("30")
    expect(page.locator("#id_pile-1-kind")).to_have_value("pipe")
    expect(page.locator("#id_pile-0-kind")).to_have_value("H")
    # Its end is asked of the pipe alone.
    expect(page.locator("#id_pile-0-end")).to_be_hidden()
    page.locator("#id_pile-1-end").select_option("open, cored")
    page.get_by_label("Start from a profile").select_option("generic:loam")
    expect(page.get_by_label("Thickness")).to_have_count(2)
    page.get_by_role("button", name="Save the job").click()
    expect(page.get_by_role("status").first).to_contain_text("is saved")
    first, second = ExtractionJob.objects.get().pile_groups.all()
    assert (first.kind, second.kind, second.end) == ("H", "pipe", "open, cored")
