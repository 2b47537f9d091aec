from __future__ import annotations

import io
import re
import time
from functools import cache

import pytest
from django.contrib.auth.models import User
from PIL import Image
from playwright.sync_api import Dialog, FilePayload, Page, expect

from fleet.models import OutOfService
from inspections.models import Inspection, Photo, PhotoFile
from inspections.photos.pieces import received
from ratings.models import CurrentRating, LedgerEntry
from tests.browser.phone import Phone, begin, find, sign, sign_and_answer, state
from tests.builders import MONDAY, Unit, rated_unit
from tests.factories import ManagerFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

POST = b"POST /field/inspections/"
PUT = b"PUT /field/photos/"


@cache
def noisy_photo() -> bytes:
    """A picture that stays several pieces long when it is made smaller."""
    held = io.BytesIO()
    Image.effect_noise((2400, 1800), 90).save(held, "JPEG", quality=90)
    return held.getvalue()


def add_photo(page: Page, place: str = ".photo-strip") -> None:
    chosen: FilePayload = {
        "name": "clamp.jpg",
        "mimeType": "image/jpeg",
        "buffer": noisy_photo(),
    }
    page.locator(f"{place} input[type=file]").last.set_input_files(chosen)
    expect(page.locator(f"{place} img")).to_be_visible()


def counted(phone: Phone, unit: Unit, *unsound: str, condition: str = "cracked") -> Page:
    """A count without signal, in the outbox."""
    page = phone.page
    begin(page, unit.housing.mark)
    page.get_by_role("button", name="All others sound").tap()
    find(page, condition, *unsound)
    sign(page)
    expect(page.locator(".outbox-item")).to_have_count(1)
    return page


def standing(unit: Unit) -> str:
    return CurrentRating.objects.get(housing=unit.housing).head.standing


def test_an_inspection_made_without_signal_lands_once_and_flags_the_unit(phone: Phone) -> None:
    unit = rated_unit(is_guided=False)
    phone.ready(unit.manager)
    phone.lose_signal()
    page = phone.go("/field/")
    expect(page.locator("#signal")).to_contain_text("No signal")
    begin(page, unit.housing.mark)
    page.get_by_role("button", name="All others sound").tap()
    find(page, "cracked", "A1", "A2", "A3")
    page.get_by_label("Travel, taped").fill("5.5")
    expect(page.locator(".figure")).to_contain_text("no more than 5.5 tons (11,000 lbf)")
    expect(page.locator(".figure")).to_contain_text("twice side A, the weaker")
    expect(page.locator(".figure")).to_contain_text("Not yet in the ledger")
    expect(page.locator(".figure")).to_contain_text("below the listed 20.0 tons")
    page.get_by_role("button", name="Add a finding").tap()
    page.get_by_role("button", name="out of service at once").tap()
    page.get_by_label("What was found").fill("Crack in the lifting eye")
    page.get_by_label("Who must act").fill("Yard welder")
    page.get_by_label("Act by").fill("2030-01-15")
    add_photo(page, ".finding")
    sign(page)
    expect(state(page)).to_contain_text("Waits for signal")
    before = Inspection.objects.count()

    phone.find_signal()
    expect(state(page)).to_contain_text("Sent")
    expect(page.locator(".outbox-item")).to_contain_text("below listing, line pull 5.5 tons")
    assert Inspection.objects.count() == before + 1
    inspection = Inspection.objects.order_by("pk").last()
    assert inspection is not None
    assert (inspection.travel_in, inspection.pads.count()) == (5.5, 8)
    assert inspection.findings.get().photos.get().held.width == 1600
    assert standing(unit) == "below listing"
    outage = OutOfService.objects.of_units([unit.housing.pk]).get()
    assert outage.reason == "Crack in the lifting eye"
    assert outage.machine == unit.housing
    page.get_by_role("link", name="Its record").click()
    expect(page.locator("h1")).to_contain_text(unit.housing.mark)


def test_a_browser_closed_and_opened_keeps_the_draft_and_the_outbox(lasting_phone: Phone) -> None:
    unit, other = rated_unit(), rated_unit()
    lasting_phone.ready(unit.manager)
    lasting_phone.lose_signal()
    counted(lasting_phone, unit, "A1")
    page = lasting_phone.go("/field/")
    begin(page, other.housing.mark)
    find(page, "swollen", "A2")
    page.get_by_label("Note").fill("Rain; half done")
    add_photo(page)
    lasting_phone.close()

    page = lasting_phone.open("/field/")
    expect(page.locator("#signal")).to_contain_text("No signal")
    expect(page.locator(".unit-card", has_text="signed")).to_contain_text("waiting")
    page.get_by_role("link", name="Go on with the draft").click()
    expect(page.locator("[data-pad=A2]")).to_contain_text("swollen")
    expect(page.get_by_label("Note")).to_have_value("Rain; half done")
    expect(page.locator(".photos img")).to_be_visible()
    page.locator(".site-head").get_by_role("link", name="Outbox").click()
    expect(state(page)).to_contain_text("Waits")
    lasting_phone.find_signal()
    expect(state(page)).to_contain_text("Sent")


def test_an_answer_that_is_lost_makes_no_second_record(phone: Phone) -> None:
    unit = rated_unit()
    phone.ready(unit.manager)
    before, entries = Inspection.objects.count(), LedgerEntry.objects.count()
    phone.wire.lose_answer_to = POST
    page = counted(phone, unit, "A1", "A2", "A3")
    # It waits before it is sent and after the answer was lost: only the record tells them apart.
    for _ in range(100):
        if Inspection.objects.count() > before:
            break
        page.wait_for_timeout(100)
    expect(state(page)).to_contain_text("Waits for signal")
    assert Inspection.objects.count() == before + 1
    expect(page.get_by_role("button", name="Take it back")).to_have_count(0)

    phone.find_signal()
    page.get_by_role("button", name="Send now").tap()
    expect(state(page)).to_contain_text("Sent")

    assert len(phone.wire.requests(POST)) > 1
    assert Inspection.objects.count() == before + 1
    assert LedgerEntry.objects.count() == entries + 1


def begin_once_taken_along(page: Page, mark: str, told: str) -> None:
    """Open the inspection of a unit as soon as the phone has fetched what it says there."""
    for _ in range(50):
        page.locator(".site-head").get_by_role("link", name="Units").click()
        begin(page, mark)
        if told in page.locator(".inspection").inner_text():
            return
        page.wait_for_timeout(200)
    raise AssertionError(told)


def offset_of(head: bytes) -> int:
    """From which byte on a request sends a photo."""
    found = re.search(rb"(?i)upload-offset: (\d+)", head)
    assert found is not None
    return int(found[1])


def test_a_photo_cut_in_the_middle_goes_on_from_where_it_was(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    add_photo(page)
    phone.wire.cut_after = (PUT, 100_000)
    phone.wire.skip = 3
    sign(page)
    expect(state(page)).to_contain_text("Recorded; photos wait")
    expect(page.locator(".outbox-item")).to_contain_text("% sent")
    assert Photo.objects.count() == 1
    assert not PhotoFile.objects.exists()
    here = received(Photo.objects.get().pk)
    assert here > 0
    sent = len(phone.wire.requests(PUT))

    phone.find_signal()
    page.get_by_role("button", name="Send now").tap()
    expect(state(page)).to_contain_text("Sent")
    # The yard may have kept part of the piece that was cut, after it was asked above.
    assert offset_of(phone.wire.requests(PUT)[sent]) >= here
    assert PhotoFile.objects.get().width == 1600


def test_a_refused_item_says_why_and_is_mended_and_sent_under_its_own_id(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    page.get_by_label("Hour meter").fill("900")
    sign(page)
    expect(state(page)).to_contain_text("Sent")
    begin_once_taken_along(page, unit.housing.mark, "Last read 900 h")
    page.get_by_label("Hour meter").fill("90")
    assert sign_and_answer(page, accept=True).startswith("90 h is below the 900 h read last")
    expect(page.locator(".outbox-item.refused")).to_contain_text("90 h is below the 900 h")
    before = Inspection.objects.count()

    page.get_by_role("button", name="Correct it").tap()
    expect(page.locator(".field.bad")).to_contain_text("90 h is below the 900 h")
    expect(page.get_by_label("Hour meter")).to_have_value("90")
    page.get_by_label("Hour meter").fill("910")
    sign(page)
    expect(page.locator(".outbox-item")).to_have_count(2)
    expect(state(page)).to_contain_text("Sent")
    assert Inspection.objects.count() == before + 1
    posted = Inspection.objects.order_by("pk").last()
    assert posted is not None
    assert posted.hour_reading is not None
    assert posted.hour_reading.hours == 910


def test_a_slow_network_keeps_nobody_waiting_and_what_is_signed_lands(phone: Phone) -> None:
    unit = rated_unit()
    phone.ready(unit.manager)
    phone.wire.delay_s = 5.0
    started = time.monotonic()
    page = phone.go("/field/")
    begin(page, unit.housing.mark)
    assert time.monotonic() - started < 5
    page.get_by_role("button", name="All others sound").tap()
    sign(page)
    expect(state(page)).to_contain_text("Is being sent")
    expect(state(page)).to_contain_text("Sent", timeout=30_000)
    assert Inspection.objects.filter(seen_at__gt=MONDAY).count() == 1


def _sign_out(phone: Phone) -> None:
    """End the session for good: an answer on its way would bring its cookie back."""
    quiet = 0
    while quiet < 5:
        quiet = 0 if phone.context.cookies() else quiet + 1
        phone.context.clear_cookies()
        time.sleep(0.2)


def test_signed_out_nothing_is_lost_and_signing_in_sends_it(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    _sign_out(phone)
    counted(phone, unit, "A1")
    expect(state(page)).to_contain_text("Sign in to send")
    page.locator(".outbox-item").get_by_role("link", name="Sign in").click()
    type_password(page, unit.manager)
    expect(page.locator("#signal")).to_contain_text("Connected")
    page.locator(".site-head").get_by_role("link", name="Outbox").click()
    expect(state(page)).to_contain_text("Sent")


def test_another_person_is_told_of_what_is_not_theirs_and_cannot_send_it(phone: Phone) -> None:
    unit = rated_unit()
    other = rated_unit().manager
    page = phone.ready(unit.manager)
    phone.lose_signal()
    counted(phone, unit, "A1")
    before = Inspection.objects.count()
    phone.find_signal_for(other)
    name = unit.manager.get_full_name()
    expect(page.locator(".note")).to_contain_text(f"1 unsent item of {name}")
    page.locator(".site-head").get_by_role("link", name="Outbox").click()
    expect(state(page)).to_contain_text(f"Signed by {name}: sign in as them")
    assert Inspection.objects.count() == before
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Sign out, and in as them").tap()
    expect(page.get_by_label("Username")).to_be_visible()


def test_two_phones_at_one_unit_both_land_and_the_newest_facts_stand(
    phone: Phone, other_phone: Phone
) -> None:
    unit, other = rated_unit(), ManagerFactory()
    for each, person in ((phone, unit.manager), (other_phone, other)):
        each.ready(person)
        each.lose_signal()
    pages = [
        counted(phone, unit, "A1", "A3"),
        counted(other_phone, unit, "A1", "A3", condition="swollen"),
    ]
    for each, page in ((other_phone, pages[1]), (phone, pages[0])):
        each.find_signal()
        # It goes by itself once there is signal.
        expect(state(page)).to_contain_text("Sent", timeout=40_000)
    signed = Inspection.objects.filter(seen_at__gt=MONDAY)
    assert {each.recorded_by for each in signed} == {unit.manager, other}
    newest = signed.order_by("seen_at", "recorded_at").last()
    assert newest is not None
    for number in (1, 3):
        stands = unit.housing.positions.get(side="A", number=number)
        assert stands.condition == newest.pads.get(side="A", number=number).condition


def test_signing_out_warns_of_what_is_not_sent(phone: Phone) -> None:
    unit, other = rated_unit(), rated_unit().manager
    page = phone.ready(unit.manager)
    phone.lose_signal()
    counted(phone, unit, "A1")
    phone.find_signal_for(other)
    expect(page.locator(".note")).to_contain_text("1 unsent item")
    page.goto("/")
    said: list[str] = []

    def refuse(dialog: Dialog) -> None:
        said.append(dialog.message)
        dialog.dismiss()

    page.locator(".site-menu summary").tap()
    page.once("dialog", refuse)
    with page.expect_event("dialog"):
        page.get_by_role("button", name="Sign out").tap()
    assert "1 signed inspection on this phone is not sent yet" in said[0]
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Sign out").tap()
    expect(page).to_have_title("Sign in · Line-Pull Ledger")
    page = phone.go("/field/")
    expect(page.locator("#signal")).to_contain_text("Signed out")
    page.locator(".site-head").get_by_role("link", name="Outbox").click()
    expect(page.locator(".outbox-item")).to_have_count(1)


def type_password(page: Page, person: User) -> None:
    page.get_by_label("Username").fill(person.username)
    page.get_by_label("Password").fill("line-pull-test")
    page.get_by_role("button", name="Sign in").click()
