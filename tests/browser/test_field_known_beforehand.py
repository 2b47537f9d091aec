"""What the phone knows by itself it says at once, with no word from the ledger."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from fleet.quantities import pull_words
from inspections.models import Inspection
from tests.browser.phone import Phone, begin, sign, sign_and_answer, state
from tests.builders import count, proof_pull, rated_unit
from tests.factories import HousingFactory
from tests.inspections.field.sent import day_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_time_set_by_hand_stands_whatever_the_phones_clock_says(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    page.clock.install(time=timezone.now() + timedelta(days=1))
    page.reload()
    expect(page.locator(".caution", has_text="clock is 24 hours ahead")).to_be_visible()
    begin(page, unit.housing.mark)
    true = timezone.localtime(timezone.now() - timedelta(minutes=20)).replace(second=0)
    page.get_by_label("Seen at").fill(f"{true:%Y-%m-%dT%H:%M}")
    page.get_by_role("button", name="All others sound").tap()
    sign(page)
    expect(state(page)).to_contain_text("Sent")
    inspection = Inspection.objects.order_by("pk").last()
    assert inspection is not None
    assert abs(inspection.seen_at - true) < timedelta(minutes=1)
    assert inspection.note == ""


def test_a_grave_finding_is_told_on_its_phone_before_it_is_in_the_ledger(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    phone.lose_signal()
    begin(page, unit.housing.mark)
    page.get_by_role("button", name="Add a finding").tap()
    page.get_by_role("button", name="out of service at once").tap()
    page.get_by_label("What was found").fill("Hook latch gone")
    page.get_by_label("Who must act").fill("Odo")
    page.get_by_label("Act by").fill(day_in(2))
    sign(page)
    page.locator(".site-head").get_by_role("link", name="Units").click()
    told = "Signed out of service here, not yet in the ledger: Hook latch gone"
    expect(page.locator(".unit-card")).to_contain_text(told)
    begin(page, unit.housing.mark)
    expect(page.locator(".caution", has_text="Hook latch gone")).to_be_visible()


def test_a_draft_nothing_was_entered_in_keeps_no_old_time(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    phone.go(f"/field/#inspect/{unit.housing.pk}")
    expect(page.get_by_label("Seen at")).to_be_visible()
    page.clock.install(time=timezone.now() + timedelta(days=7))
    # As a phone closed over it comes back: nothing says that the form was left.
    page.goto("about:blank")
    phone.go(f"/field/#inspect/{unit.housing.pk}")
    a_week_on = timezone.localtime(timezone.now() + timedelta(days=7))
    expect(page.get_by_label("Seen at")).to_have_value(re.compile(f"^{a_week_on:%Y-%m-%d}T"))


def test_a_tape_is_read_in_fractions_too(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    page.get_by_label("Travel, taped").fill('5 1/2"')
    expect(page.locator(".figure")).to_contain_text("at 5.5 in")
    page.get_by_label("Travel, taped").fill("99")
    expect(page.locator(".figure")).to_contain_text("last taped")
    page.get_by_label("Travel, taped").fill("5-3/8")
    sign(page)
    expect(state(page)).to_contain_text("Sent")
    assert Inspection.objects.latest("pk").travel_in == 5.375


def test_a_unit_softer_than_its_pads_is_shown_no_more_than_its_ledger_says(phone: Phone) -> None:
    unit = rated_unit()
    proof_pull(unit.housing, unit.manager, 0.7)
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    head = unit.housing.ledger_entries.latest("sequence")
    said = pull_words(head.pull_lbf, "us", listed_lbf=head.listed_lbf)
    expect(page.locator(".figure")).to_contain_text(said)
    expect(page.locator(".figure")).to_contain_text("a proof pull found 70 % of it")


def test_hours_of_a_housing_on_no_hammer_are_refused_before_it_is_signed(phone: Phone) -> None:
    unit = rated_unit()
    housing = HousingFactory(positions_per_side=1)
    page = phone.ready(unit.manager)
    begin(page, housing.mark)
    page.get_by_label("Hour meter").fill("100")
    sign(page)
    expect(page.locator(".field.bad")).to_contain_text("there is no meter: leave it blank")


def test_more_hours_than_the_clock_had_are_asked_about_before_they_are_signed(
    phone: Phone,
) -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), hours=1500.0)
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    page.get_by_label("Hour meter").fill("99999")
    asked = sign_and_answer(page, accept=False)
    assert asked.startswith("99999 h is more above the 1,500 h read last")
    expect(page.get_by_label("Hour meter")).to_have_value("99999")


def test_what_waits_of_a_unit_is_told_where_it_is_inspected_again(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    phone.lose_signal()
    begin(page, unit.housing.mark)
    page.get_by_role("button", name="All others sound").tap()
    page.get_by_label("Travel, taped").fill("5.5")
    sign(page)
    expect(state(page)).to_contain_text("Waits")
    # Nothing was tried, so it may still be taken back.
    expect(page.get_by_role("button", name="Take it back")).to_be_visible()
    page.locator(".site-head").get_by_role("link", name="Units").click()
    begin(page, unit.housing.mark)
    told = page.locator(".caution", has_text="waits to be sent")
    expect(told).to_contain_text("8 of 8 pads sound, travel 5.5 in")
