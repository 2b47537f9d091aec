"""The answer beside a job's form: it changes in place, and details that stood open stay open."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.chromium import Visit
from tests.browser.watch import DESKTOP, PHONE
from tests.factories import DispatcherFactory
from tests.job_builders import extraction_job, figured_unit

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def change(page: Page, field: str, value: str) -> None:
    page.locator(f"#group-{group_of(page, field)}").evaluate("group => { group.open = true }")
    page.locator(f"#id_{field}").fill(value)
    page.locator(f"#id_{field}").blur()


def group_of(page: Page, field: str) -> str:
    found = page.locator(f"#id_{field}").evaluate("field => field.closest('.job-group').id")
    return str(found).removeprefix("group-")


@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_a_changed_number_marks_the_unit_and_is_read_out(
    visit: Visit, device: dict[str, Any]
) -> None:
    unit, job = figured_unit(rate_lbf_in=1500.0), extraction_job()
    page = visit(f"/jobs/{job.pk}/", DispatcherFactory(), **device)
    row = page.locator(".ranked")
    expect(row).to_contain_text("suitable")
    expect(page.locator("#answer-news")).to_be_empty()
    change(page, "capacity_lbf", "20000")
    expect(page.locator("#answer-news")).to_have_text(
        f"1 unit changed: {unit.housing.mark} not suitable, was suitable."
    )
    expect(row).to_contain_text("Changed; was: suitable")


def test_details_open_in_place_and_stay_open_until_closed(visit: Visit) -> None:
    figured_unit()
    page = visit(f"/jobs/{extraction_job().pk}/", DispatcherFactory(), **DESKTOP)
    summary = page.get_by_text("All checks, load path and what would help")
    summary.click()
    expect(page.get_by_role("region", name="All checks")).to_be_visible()
    change(page, "capacity_lbf", "90000")
    expect(page.locator("#answer-news")).not_to_be_empty()
    expect(page.get_by_role("region", name="All checks")).to_contain_text("67,500 lbf")
    summary.click()
    change(page, "capacity_lbf", "80000")
    expect(page.locator("#answer details[open]")).to_have_count(0)


def test_from_the_answer_to_a_commitment_on_a_phone(visit: Visit) -> None:
    unit, job = figured_unit(), extraction_job()
    page = visit(f"/jobs/{job.pk}/", DispatcherFactory(), **PHONE)
    page.get_by_role("link", name=f"Commit {unit.housing.mark}").click()
    page.locator("#commit").get_by_label("I know that it is suitable with care only").check()
    page.locator("#commit").get_by_label("Who watches the pull, by name").fill("Ines Halloran")
    page.get_by_role("button", name="Commit this unit for").click()
    expect(page.locator("main")).to_contain_text("the pull is watched by Ines Halloran")
    expect(page.get_by_role("link", name="Pull sheet")).to_be_visible()


def test_numbers_answered_once_are_not_asked_again_as_the_field_is_left(visit: Visit) -> None:
    figured_unit()
    page = visit(f"/jobs/{extraction_job().pk}/", DispatcherFactory(), **DESKTOP)
    expect(page.locator(".ranked")).to_be_visible()
    asked: list[str] = []
    page.on("request", lambda each: asked.append(each.url) if "/answer/" in each.url else None)
    field = page.locator("#id_capacity_lbf")
    with page.expect_response("**/jobs/answer/"):
        field.fill("90000")
    field.blur()
    page.wait_for_timeout(600)
    assert len(asked) == 1


def test_what_changed_is_told_against_what_stood_before_the_typing_began(visit: Visit) -> None:
    unit, job = figured_unit(rate_lbf_in=1500.0), extraction_job()
    page = visit(f"/jobs/{job.pk}/", DispatcherFactory(), **DESKTOP)
    expect(page.locator(".ranked")).to_contain_text("suitable")
    field = page.locator("#id_capacity_lbf")
    for typed in ("2", "20000"):
        with page.expect_response("**/jobs/answer/"):
            field.fill(typed)
    expect(page.locator("#answer-news")).to_have_text(
        f"1 unit changed: {unit.housing.mark} not suitable, was suitable."
    )
