"""Somebody who never saw the site sets a yard up from the empty board, by its first steps."""

from __future__ import annotations

import math
from io import StringIO

import pytest
from django.core.management import call_command
from playwright.sync_api import Page, expect

from fleet.models import SetUpChange
from ratings.models import LedgerEntry
from tests.browser.chromium import Visit
from tests.browser.watch import DESKTOP, press, standing

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PASSWORD = "tall crane by the quay"
# Of the stand's bore of 4 in, without a rod.
AREA_IN2 = math.pi / 4 * 4.0**2


def choose_password(page: Page) -> None:
    page.get_by_label("New password", exact=True).fill(PASSWORD)
    page.get_by_label("New password again").fill(PASSWORD)
    page.get_by_role("button", name="Keep this password").click()


def sign_in(page: Page, username: str) -> None:
    page.get_by_label("Username").fill(username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


def step(page: Page, words: str) -> None:
    """Follow a step of the list on the board."""
    page.goto("/")
    page.locator(".first-steps").get_by_role("link", name=words).click()


def fill(page: Page, **fields: str) -> None:
    """Fill fields by their names, and send the form."""
    for name, value in fields.items():
        box = page.locator(f"main [name={name}]")
        if box.evaluate("box => box.tagName") == "SELECT":
            box.select_option(value)
        else:
            box.fill(value)
    page.locator("main form button.main").click()


def done(page: Page) -> int:
    page.goto("/")
    return page.locator(".first-steps li.done").count()


def pull_the_pads(page: Page, rate_lbf_in: float) -> None:
    for name, value in {"end": "blind", "stand": "1", "gauge": "1", "tape": "1"}.items():
        box = page.locator(f"main [name={name}]")
        box.select_option(value if name == "end" else None, index=None if name == "end" else 1)
    page.get_by_label("Pads sharing the load").fill("1")
    page.get_by_label("Tape at rest").fill("10")
    for number, stretch in enumerate((2, 4, 6, 8), start=1):
        pressure = f"{rate_lbf_in * stretch / AREA_IN2:.2f}"
        page.get_by_label(f"Tape of reading {number}", exact=True).fill(f"{10 + stretch}")
        page.get_by_label(f"Gauge of reading {number}", exact=True).fill(pressure)
    page.get_by_role("button", name="Record the test").click()


def test_a_yard_is_set_up_from_the_empty_board_to_its_first_figure(visit: Visit) -> None:
    out = StringIO()
    call_command("first_manager", username="kay", name="Kay Lund", link=True, stdout=out)
    page = visit(out.getvalue().split()[-1], **DESKTOP)
    choose_password(page)
    sign_in(page, "kay")
    assert done(page) == 0

    step(page, "Enter a yard")
    fill(page, name="Ferry yard", place="4 Quay Road, Saltmere")
    page.get_by_role("link", name="Enter a second equipment manager").click()
    page.get_by_label("Sign-in name").fill("ines")
    page.get_by_label("First name").fill("Ines")
    page.get_by_label("Last name").fill("Farrow")
    page.get_by_role("button", name="Enter this person").click()
    second_link = page.get_by_label("Link").input_value()

    # The only yard is filled in beforehand on every form from here on.
    step(page, "Enter a hammer")
    fill(page, mark="V-1")
    step(page, "Enter its housing")
    fill(page, mark="S-1", positions_per_side="4", design_travel_in="8")
    step(page, "Hang the housing on the hammer")
    expect(page.locator("[name=hammer] option:checked")).to_have_text("V-1")
    page.get_by_role("button", name="Record the move").click()
    step(page, "Record what the hammer is listed at")
    fill(page, listed_lbf="40000", source="Leaflet", dated="2026-01-05")
    step(page, "Enter your test stand")
    fill(page, name="Shed bench", bore_in="4", rod_in="2")
    step(page, "Enter its gauge, in calibration")
    fill(
        page,
        mark="SG-1",
        span_psi="2000",
        grade="1A",
        resolution_psi="5",
        certificate_number="C-17",
        calibrated_on="2026-01-05",
        due_on="2099-01-05",
    )
    step(page, "Enter your tape")
    fill(page, mark="T-1", resolution_in="1/16")
    step(page, "Enter the lot of your pads")
    fill(page, mark="L-1")
    step(page, "Bench-test the lot")
    pull_the_pads(page, 1000.0)
    expect(page.get_by_role("status")).to_contain_text("until a second person approves it")
    assert done(page) == 11

    other = visit(second_link, **DESKTOP)
    choose_password(other)
    sign_in(other, "ines")
    step(other, "Have the rating approved by the second manager")
    doubts = other.get_by_label("I have read the doubts above")
    if doubts.count():
        doubts.check()
    other.get_by_role("button", name="Approve the rating").click()

    step(page, "Count every pad and tape the travel")
    press(page, ".all-sound")
    press(page, "[data-pad=A1]")
    page.get_by_label("Lot of A1").select_option(label="L-1")
    page.get_by_role("button", name="That lot for all").click()
    page.get_by_label("Travel, taped").fill("6")
    page.get_by_role("button", name="Sign as").click()
    expect(page.locator(".outbox-item .state").first).to_contain_text("Sent")

    page.goto("/")
    expect(page.locator(".first-steps")).to_have_count(0)
    page.goto("/set-up/first-steps/")
    expect(page.locator("main")).to_contain_text("All are done")
    entry = LedgerEntry.objects.latest("pk")
    assert entry.listed_lbf == 40_000.0
    # Of 8 pads at 6 in, less the 12.7 % for what one test of one pad leaves out.
    assert entry.pull_lbf == pytest.approx(8 * 1000.0 * 6.0 * (1 - 0.127), rel=0.001)
    page.goto(f"/units/{entry.housing_id}/")
    assert standing(page) in ("meets listing", "not proven")
    # A yard, hammer, housing, stand, gauge and tape, each on record with who entered it.
    entered = SetUpChange.objects.values_list("recorded_by__username", flat=True)
    assert list(entered) == ["kay"] * 6
