from __future__ import annotations

import contextlib
import secrets
import struct
import zlib
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Error, Page, expect

from fleet.models import ReaderPreference
from inspections.field import shell as shell
from inspections.models import Inspection
from tests.browser.phone import Phone, begin, find, sign, state
from tests.browser.test_every_page import BROKEN_REFERENCES, overflow, violations
from tests.builders import Unit, count, rated_unit
from tests.factories import DispatcherFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def until(page: Page, script: str) -> None:
    """Wait for a promise of the page's to come true."""
    for _ in range(100):
        # A page that is just being opened again can't be asked.
        with contextlib.suppress(Error):
            if page.evaluate(script):
                return
        page.wait_for_timeout(100)
    raise AssertionError(script)


def test_a_phone_that_is_full_says_so_and_keeps_what_is_typed_in_the_open_page(
    phone: Phone,
) -> None:
    unit = rated_unit()
    phone.room_bytes = 2_000_000
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    find(page, "cracked", "A1")
    # By chance, so that the browser can't press it together.
    long = secrets.token_urlsafe(3_000_000)
    page.get_by_label("Note").fill(long)
    full = page.locator(".errors.full")
    expect(full).to_contain_text("This phone has no room left")
    expect(full).to_contain_text("in this open page only")
    page.get_by_role("button", name="All others sound").tap()
    expect(page.locator("[data-pad=A2]")).to_contain_text("sound")
    expect(page.locator("[data-pad=A1]")).to_contain_text("cracked")
    page.once("dialog", lambda dialog: dialog.dismiss())
    page.locator(".site-head").get_by_role("link", name="Units").click()
    assert page.get_by_label("Note").input_value() == long
    # At times Chromium counts what it refused to keep, so that room is freed as asked for.
    phone.limit(50_000_000)
    page.get_by_label("Note").fill("Rain and mud")
    expect(full).to_be_hidden()
    sign(page)
    expect(state(page)).to_contain_text("Sent")


def test_a_new_version_leaves_an_open_form_alone_and_is_used_when_asked_for(
    phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    page.get_by_label("Note").fill("Half way through")
    monkeypatch.setattr(shell, "version", lambda: "the next one")
    page.evaluate("navigator.serviceWorker.ready.then((each) => each.update())")
    until(page, "navigator.serviceWorker.getRegistration().then((each) => Boolean(each.waiting))")
    expect(page.get_by_label("Note")).to_have_value("Half way through")
    find(page, "swollen", "A1")
    page.locator(".site-head").get_by_role("link", name="Units").click()
    expect(page.get_by_text("A newer version of this page is ready")).to_be_visible()
    with page.expect_navigation():
        page.get_by_role("button", name="Use it now").tap()
    assert page.evaluate("caches.keys()") == ["at-the-hammer-the next one"]
    page.get_by_role("link", name="Go on with the draft").click()
    expect(page.get_by_label("Note")).to_have_value("Half way through")
    expect(page.locator("[data-pad=A1]")).to_contain_text("swollen")


def test_a_new_version_is_used_when_the_browser_is_opened_next(
    lasting_phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    unit = rated_unit()
    page = lasting_phone.ready(unit.manager)
    # In use, so that it is not taken at once.
    page.get_by_label("Find a unit").fill(unit.housing.mark)
    monkeypatch.setattr(shell, "version", lambda: "the next one")
    page.evaluate("navigator.serviceWorker.ready.then((each) => each.update())")
    until(page, "navigator.serviceWorker.getRegistration().then((each) => Boolean(each.waiting))")
    lasting_phone.close()
    page = lasting_phone.open("/field/")
    until(page, "caches.keys().then((names) => names.join() === 'at-the-hammer-the next one')")
    expect(page.get_by_role("link", name="Inspect")).to_be_visible()


def png_head(wide: int, high: int) -> bytes:
    """A picture that claims to be so large."""
    chunk = b"IHDR" + struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0)
    crc = struct.pack(">I", zlib.crc32(chunk))
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk + crc + b"\0" * 20_000


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"not a picture", "is no picture this phone can read"),
        (png_head(1_000_000, 1_000_000), "1000000 × 1000000 dots, too many"),
        (b"\0" * 60 * 1024 * 1024, "has 60 MB, more than any photo"),
    ],
    ids=["no picture", "a million dots a side", "60 MB"],
)
def test_what_is_no_photo_is_said_and_nothing_else_is_lost(
    phone: Phone, tmp_path: Path, content: bytes, words: str
) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    page.get_by_label("Note").fill("Still here")
    chosen = tmp_path / "odd.jpg"
    chosen.write_bytes(content)
    page.locator(".photo-strip input[type=file]").last.set_input_files(chosen)
    expect(page.locator(".photo-strip .error")).to_contain_text(words)
    sign(page)
    expect(state(page)).to_contain_text("Sent")
    assert Inspection.objects.filter(note="Still here").exists()


def test_wrong_entries_are_each_named_at_their_field(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark, "each shift")
    page.get_by_label("Travel, taped").fill("9,5,5")
    page.get_by_label("Hour meter").fill("-1")
    page.get_by_label("Note").fill("x" * 100_000)
    page.get_by_label("Seen at").fill("1900-01-01T10:00")
    page.get_by_role("button", name="Add a finding").tap()
    page.get_by_role("button", name="to be corrected").tap()
    page.get_by_label("Act by").fill("1900-01-01")
    sign(page)
    for words in (
        "“9,5,5” has a comma",
        "“-1” won’t do: give 0 or more",
        "This has 100,000 characters: 2,000 at the most.",
        "This is too long ago: give when it happened.",
        "8 items of the list not answered yet",
        "Say what was found.",
        "Say who must act.",
        "This is before it was seen: give a day to come.",
    ):
        expect(page.locator(".field-error .error", has_text=words)).to_be_visible()
        expect(page.locator(".errors:not(.full)")).to_contain_text(words)
    assert len(page.get_by_label("Note").input_value()) == 100_000


def test_travel_beyond_design_asks_for_a_reason_and_speaks_the_readers_units(
    phone: Phone,
) -> None:
    unit = rated_unit()
    ReaderPreference.objects.create(user=unit.manager, units="si")
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    page.get_by_label("Travel, taped from rest to the stops, mm").fill("210")
    expect(page.locator(".figure")).to_contain_text("kN")
    sign(page)
    expect(page.locator(".field.bad")).to_contain_text("why a travel beyond the design travel")
    page.get_by_label("Why the travel is beyond").fill("Stop plate gone")
    sign(page)
    expect(state(page)).to_contain_text("Sent")
    inspection = Inspection.objects.order_by("pk").last()
    assert inspection is not None
    assert inspection.travel_in == pytest.approx(210 / 25.4)
    assert inspection.travel_reason == "Stop plate gone"


def test_a_clock_a_day_fast_is_put_right_and_the_record_says_so(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    page.clock.install(time=timezone.now() + timedelta(days=1))
    page.reload()
    begin(page, unit.housing.mark)
    page.get_by_role("button", name="All others sound").tap()
    sign(page)
    expect(state(page)).to_contain_text("Sent")
    inspection = Inspection.objects.order_by("pk").last()
    assert inspection is not None
    assert abs(inspection.seen_at - timezone.now()) < timedelta(minutes=5)
    assert "clock was 1 d" in inspection.note


def test_a_late_sending_changes_no_newer_fact(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    phone.lose_signal()
    begin(page, unit.housing.mark)
    an_hour_ago = timezone.localtime(timezone.now() - timedelta(hours=1))
    page.get_by_label("Seen at").fill(f"{an_hour_ago:%Y-%m-%dT%H:%M}")
    page.get_by_role("button", name="All others sound").tap()
    find(page, "missing", "A1", "A2", "A3")
    sign(page)
    expect(state(page)).to_contain_text("Waits")
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound={"A1": "cracked", "A2": "cracked", "A3": "cracked"},
        at=timezone.now() - timedelta(minutes=1),
    )
    phone.find_signal()
    expect(state(page)).to_contain_text("Sent")
    stands = [pad.condition for pad in unit.housing.positions.order_by("side", "number")]
    assert stands == ["cracked"] * 3 + ["sound"] * 5


def test_a_reader_sees_the_units_and_is_told_that_they_may_not_sign(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(DispatcherFactory())
    expect(page.locator(".note")).to_contain_text("You may read here and not sign")
    begin(page, unit.housing.mark)
    expect(page.get_by_role("button", name="Sign as")).to_have_count(0)


def test_a_draft_is_discarded_or_gone_on_with(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    page.locator(".site-head").get_by_role("link", name="Units").click()
    expect(page.get_by_role("link", name="Inspect")).to_be_visible()
    begin(page, unit.housing.mark)
    find(page, "cracked", "A1")
    page.locator(".site-head").get_by_role("link", name="Units").click()
    page.get_by_role("link", name="Go on with the draft").click()
    expect(page.locator("[data-pad=A1]")).to_contain_text("cracked")
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Discard this draft").tap()
    page.get_by_role("link", name="Inspect").click()
    expect(page.locator("[data-pad=A1]")).to_contain_text("not counted")


def test_a_draft_open_in_one_tab_is_not_opened_in_another(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    find(page, "cracked", "A1")
    second = phone.context.new_page()
    second.goto("/field/")
    second.get_by_role("link", name="Go on with the draft").click()
    expect(second.locator("main")).to_contain_text("open in another tab")


def screens(phone: Phone, unit: Unit) -> Any:
    """Each screen of the page in turn, with something on it."""
    page = phone.ready(unit.manager)
    yield "units", page
    page.get_by_label("Find a unit").fill("nothing so named")
    yield "no unit found", page
    page.get_by_label("Find a unit").fill("")
    begin(page, unit.housing.mark, "each shift")
    find(page, "cracked", "A1")
    page.get_by_role("button", name="Add a finding").tap()
    sign(page)
    yield "inspection with troubles", page
    page.get_by_role("button", name="Remove this finding").tap()
    page.get_by_role("button", name="All others sound").tap()
    # Nobody says by one tap that a pad known as cracked is sound, or that none is torn.
    find(page, "cracked", "A2")
    page.get_by_role("button", name="All others done").tap()
    torn = page.get_by_role("group", name="No pad torn, gone or hanging out of line", exact=True)
    torn.get_by_role("button", name="Finding").first.tap()
    page.get_by_role("button", name="monitor").tap()
    page.get_by_label("What was found").fill("Two pads cracked")
    phone.lose_signal()
    sign(page)
    expect(state(page)).to_contain_text("Waits")
    yield "outbox", page


def test_every_screen_fits_reads_and_prints_for_everybody(phone: Phone) -> None:
    troubles = []
    for name, page in screens(phone, rated_unit(unsound={"A2": "cracked"})):
        troubles += [
            f"{name}: {over} px too wide at {width}"
            for width in (320, 390)
            if (over := overflow(page, width)) > 0
        ]
        troubles += [f"{name}: no #{each}" for each in page.evaluate(BROKEN_REFERENCES)]
        troubles += violations(page, f"{name}, light")
        page.emulate_media(color_scheme="dark")
        troubles += violations(page, f"{name}, dark")
        page.emulate_media(media="print", color_scheme="light")
        troubles += violations(page, f"{name}, printed")
        page.emulate_media(media="screen")
    assert troubles == []


def test_nothing_shifts_while_the_page_opens(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    page.add_init_script(
        """self.shifted = 0;
        new PerformanceObserver((list) => {
          for (const each of list.getEntries()) self.shifted += each.value;
        }).observe({ type: "layout-shift", buffered: true });"""
    )
    page.reload()
    expect(page.get_by_role("link", name="Inspect")).to_be_visible()
    expect(page.locator("#signal")).to_contain_text("Connected")
    page.wait_for_timeout(500)
    assert page.evaluate("self.shifted") == 0
