from __future__ import annotations

import pytest
from django.utils import timezone
from playwright.sync_api import Dialog, Page, expect

from inspections.models import PullPhotoFile
from ratings.models import Commitment, PullRecord
from tests.browser.phone import Phone, state
from tests.browser.test_field_offline import add_photo
from tests.factories import DispatcherFactory
from tests.job_builders import commit, extraction_job, figured_unit

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def made_today() -> Commitment:
    return commit(figured_unit(), extraction_job(first_day=timezone.localdate(), count=3))


def begin_pull(phone: Phone, made: Commitment) -> Page:
    page = phone.go(f"/field/#pull/{made.pk}")
    expect(page.get_by_role("heading", name="Pull at Ferry slip")).to_be_visible()
    return page


def fill(page: Page) -> None:
    page.get_by_label("Which pile, by its number").fill("B3")
    page.get_by_role("button", name="came", exact=True).tap()
    page.get_by_role("button", name="load indicator").tap()
    page.get_by_label("Highest hook load").fill("45000")
    page.get_by_label("Stretch at break-out").fill("2 1/2")
    page.get_by_label("Who watched the pull").fill("Ines Halloran")


def sign_pull(page: Page) -> None:
    page.get_by_role("button", name="Sign as").tap()


def test_a_pull_made_without_signal_lands_once_with_its_photo(phone: Phone) -> None:
    made = made_today()
    phone.ready(DispatcherFactory())
    phone.lose_signal()
    phone.go("/field/")
    page = begin_pull(phone, made)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    fill(page)
    page.get_by_label("Minutes from line taut").fill("9")
    page.get_by_label("What was in the way").fill("A boulder at 20 ft")
    add_photo(page)
    sign_pull(page)
    expect(state(page)).to_contain_text("Waits for signal")
    expect(page.locator(".outbox-item")).to_contain_text("pull of pile B3 at Ferry slip")
    assert not PullRecord.objects.exists()

    phone.find_signal()
    expect(state(page)).to_contain_text("Sent")
    expect(page.locator(".outbox-item")).to_contain_text("was calculated")
    pull = PullRecord.objects.get()
    assert (pull.pile_mark, pull.hook_load_lbf, pull.stretch_in) == ("B3", 45_000.0, 2.5)
    assert (pull.minutes, pull.in_the_way) == (9.0, "A boulder at 20 ft")
    assert PullPhotoFile.objects.get().photo.pull == pull
    page.get_by_role("link", name="Its record").click()
    expect(page.locator("h1")).to_contain_text("pile B3 at Ferry slip")


def test_what_cannot_be_is_said_on_the_phone_before_it_is_signed(phone: Phone) -> None:
    made = made_today()
    phone.ready(DispatcherFactory())
    phone.lose_signal()
    phone.go("/field/")
    page = begin_pull(phone, made)
    sign_pull(page)
    for words in ("give the number or mark", "Say whether it came", "whether the hook load"):
        expect(page.locator(".errors", has_text="Not signed yet")).to_contain_text(words)
    fill(page)
    for label, bad, words in (
        ("Highest hook load", "heavy", "is not a number"),
        ("Highest hook load", "-3", "won’t do"),
        ("Highest hook load", "267", "as kN it would be"),
        ("Highest hook load", "12000", "that hang from the hook"),
        ("Indicator with the hammer", "70000", "Not less than the highest"),
        ("Stretch at break-out", "9", "meets its stops"),
        ("Minutes from line taut", "0", "won’t do"),
        ("Toe below ground", "55", "The pile stood 40 ft deep"),
        ("Pulled at", "2020-01-01T10:00", "before the unit was committed"),
    ):
        field = page.get_by_label(label)
        before = field.input_value()
        field.fill(bad)
        sign_pull(page)
        expect(page.locator(".errors", has_text="Not signed yet")).to_contain_text(words)
        field.fill(before)
    expect(page.locator(".outbox-item")).to_have_count(0)


def test_what_is_doubtful_is_read_again_before_it_is_signed(phone: Phone) -> None:
    made = made_today()
    phone.ready(DispatcherFactory())
    asked: list[str] = []
    page = begin_pull(phone, made)
    fill(page)
    page.get_by_label("Highest hook load").fill("130000")

    def read_and_dismiss(dialog: Dialog) -> None:
        asked.append(dialog.message)
        dialog.dismiss()

    page.once("dialog", read_and_dismiss)
    sign_pull(page)
    expect(page.get_by_role("button", name="Sign as")).to_be_enabled()
    assert "above the crane’s capacity" in asked[0]
    page.once("dialog", lambda dialog: dialog.accept())
    sign_pull(page)
    expect(state(page)).to_contain_text("Sent")
    assert "above the crane" in PullRecord.objects.get().doubts


def test_a_pull_begun_is_gone_on_with_and_a_pile_out_already_comes_back_to_be_corrected(
    phone: Phone,
) -> None:
    made = made_today()
    by = DispatcherFactory()
    phone.ready(by)
    page = begin_pull(phone, made)
    fill(page)
    page = phone.go("/field/?again")
    page.get_by_role("link", name="Go on with the pull at Ferry slip").click()
    expect(page.get_by_label("Highest hook load")).to_have_value("45000")
    sign_pull(page)
    expect(state(page)).to_contain_text("Sent")
    page = begin_pull(phone, made)
    fill(page)
    sign_pull(page)
    expect(page.locator(".outbox-item.refused")).to_contain_text("Pile B3 came out")
    page.get_by_role("button", name="Correct it").click()
    page.get_by_label("Which pile, by its number").fill("B4")
    sign_pull(page)
    expect(page.locator(".outbox-item.sent")).to_have_count(2)
    assert {pull.pile_mark for pull in PullRecord.objects.all()} == {"B3", "B4"}
