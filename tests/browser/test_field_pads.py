from __future__ import annotations

import time

import pytest
from playwright.sync_api import Page, expect

from inspections.models import Inspection
from tests.browser.phone import Phone, begin, find, sign, state
from tests.browser.watch import DESKTOP
from tests.builders import bench_test, rated_unit
from tests.factories import PadLotFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

FAR_BELOW_30_S = 10


def seen() -> list[str]:
    inspection = Inspection.objects.order_by("pk").last()
    assert inspection is not None
    return [f"{pad.side}{pad.number} {pad.condition}" for pad in inspection.pads.all()]


def test_twenty_four_sound_pads_take_two_taps_and_each_exception_two_more(phone: Phone) -> None:
    unit = rated_unit(positions_per_side=12)
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    started = time.monotonic()
    page.get_by_role("button", name="All others sound").tap()
    find(page, "swollen", "B7")
    sign(page)
    expect(state(page)).to_contain_text("Sent")
    assert time.monotonic() - started < FAR_BELOW_30_S
    assert len(seen()) == 24
    assert [each for each in seen() if not each.endswith("sound")] == ["B7 swollen"]


def test_the_strip_goes_on_to_the_next_pad_by_itself(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    for condition in ("sound", "cracked", "debonded", "swollen", "missing", *["sound"] * 3):
        page.locator(f".pad-setters [data-condition={condition}]").tap()
    sign(page)
    expect(state(page)).to_contain_text("Sent")
    assert seen()[:5] == ["A1 sound", "A2 cracked", "A3 debonded", "A4 swollen", "B1 missing"]


def test_taps_are_undone_one_by_one(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    expect(page.get_by_role("button", name="Undo")).to_be_disabled()
    page.get_by_role("button", name="All others sound").tap()
    find(page, "cracked", "A2")
    page.get_by_role("button", name="Undo").tap()
    expect(page.locator("[data-pad=A2]")).to_contain_text("sound")
    page.get_by_role("button", name="Undo").tap()
    expect(page.locator("[data-pad=A2]")).to_contain_text("not counted")


def test_every_target_is_44_px_or_more_at_320_px(phone: Phone) -> None:
    unit = rated_unit(positions_per_side=12)
    page = phone.ready(unit.manager)
    page.set_viewport_size({"width": 320, "height": 640})
    begin(page, unit.housing.mark, "each shift")
    page.get_by_role("button", name="Add a finding").tap()
    small = page.evaluate(
        """() => ["button", "select", "input", "label.button"]
          .flatMap((each) => [...document.querySelectorAll(`main ${each}`)])
          .filter((each) => each.offsetParent && !each.classList.contains("visually-hidden"))
          .filter((each) => each.offsetHeight < 44 || each.offsetWidth < 44)
          .map((each) => each.outerHTML.slice(0, 80))"""
    )
    assert small == []
    assert page.evaluate("document.documentElement.scrollWidth") == 320


def test_the_strip_stands_at_the_hand_that_works(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    assert middle(page, ".pad-strip") > middle(page, ".pad-side-by-side")
    page.get_by_role("button", name="Left-handed").tap()
    assert middle(page, ".pad-strip") < middle(page, ".pad-side-by-side")
    page.reload()
    expect(page.locator(".pad-strip")).to_be_visible()
    assert middle(page, ".pad-strip") < middle(page, ".pad-side-by-side")


def middle(page: Page, selector: str) -> float:
    box = page.locator(selector).bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2


def test_a_lot_is_chosen_for_one_pad_or_for_all(phone: Phone) -> None:
    unit = rated_unit(is_guided=False)
    other = PadLotFactory(mark="OTHER")
    bench_test(other, unit.manager, rate_lbf_in=500)
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    page.get_by_role("button", name="All others sound").tap()
    page.locator("[data-pad=A3]").tap()
    page.get_by_label("Lot of A3").select_option(label="OTHER")
    expect(page.locator(".figure")).to_contain_text("42,000 lbf")
    page.get_by_role("button", name="That lot for all").tap()
    expect(page.locator(".figure")).to_contain_text("24,000 lbf")
    sign(page)
    expect(state(page)).to_contain_text("Sent")
    inspection = Inspection.objects.order_by("pk").last()
    assert inspection is not None
    assert set(inspection.pads.values_list("lot__mark", flat=True)) == {"OTHER"}


def test_a_count_begun_and_not_ended_says_which_pads_are_left(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.ready(unit.manager)
    begin(page, unit.housing.mark)
    find(page, "sound", "A1", "A2", "A3", "A4", "B1", "B2")
    expect(page.locator(".figure")).to_contain_text("6 of 8 counted so far")
    sign(page)
    expect(page.get_by_role("alert").first).to_contain_text("Not counted: B3, B4")
    find(page, "sound", "B3", "B4")
    expect(page.get_by_text("Not signed yet")).to_be_hidden()
    sign(page)
    expect(state(page)).to_contain_text("Sent")


def test_all_of_it_is_done_with_keys_alone(phone: Phone) -> None:
    unit = rated_unit()
    page = phone.open("/field/", **DESKTOP, has_touch=False, is_mobile=False)
    phone.sign_in(unit.manager)
    page.reload()
    expect(page.get_by_role("link", name="Inspect")).to_be_visible()
    tab_to(page, "Inspect")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Inspect")).to_be_focused()
    page.get_by_label("Kind").focus()
    page.keyboard.type("each")
    tab_to(page, "A1")
    page.keyboard.type("scdwm")
    expect(page.locator("[data-pad=B2]")).to_be_focused()
    page.keyboard.type("u")
    expect(page.locator("[data-pad=B1]")).to_be_focused()
    expect(page.locator("[data-pad=B1]")).to_contain_text("not counted")
    page.keyboard.type("ssss")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    expect(page.locator(".pad-setters [data-condition=sound]")).to_be_focused()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("[data-pad=B3]")).to_contain_text("cracked")
    expect(page.locator("[data-pad=B4]")).to_be_focused()
    tab_to(page, "All others done")
    page.keyboard.press("Enter")
    # Of pads counted as unsound the list can't say that none is torn: that is a finding.
    tab_to(page, "Finding")
    tab_to(page, "Finding")
    page.keyboard.press("Enter")
    tab_to(page, "to be corrected")
    page.keyboard.press("Enter")
    tab_to(page, "out of service")
    page.keyboard.press("Tab")
    page.keyboard.type("Four pads to replace")
    # The machine it is at is offered already.
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.type("Yard welder")
    page.keyboard.press("Tab")
    page.keyboard.type("01152030")
    tab_to(page, "Sign as")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Outbox")).to_be_focused()
    expect(state(page)).to_contain_text("Sent")
    assert seen() == [
        *("A1 sound", "A2 cracked", "A3 debonded", "A4 swollen"),
        *("B1 sound", "B2 sound", "B3 cracked", "B4 sound"),
    ]


def tab_to(page: Page, name: str) -> None:
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.innerText")[: len(name)] == name:
            return
    raise AssertionError(f"no tab comes to {name}")
