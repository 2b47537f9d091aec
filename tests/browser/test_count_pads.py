from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from inspections.models import Inspection
from tests.browser.conftest import Visit
from tests.browser.watch import DESKTOP, PHONE, press, standing
from tests.builders import MONDAY, bench_test, count, rated_unit
from tests.factories import PadLotFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

devices = pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
STEPS = ["sound", "cracked", "debonded", "swollen", "missing"]


def pad(page: Page, name: str) -> Any:
    return page.locator(f"#condition-{name}")


def preview(page: Page) -> Any:
    return page.locator("#preview")


@devices
def test_a_count_by_tap_flags_the_unit_on_its_page_and_on_the_board(
    visit: Visit, device: dict[str, Any]
) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/", unit.manager, **device)
    assert standing(page) == "meets listing"
    page.get_by_role("link", name="Count pads").click()
    expect(preview(page)).to_contain_text("48,000 lbf")
    expect(pad(page, "A1")).to_contain_text("not counted")
    press(page, "#all-sound")
    for taps, name in enumerate(["A1", "A2", "A3", "B4"], start=1):
        press(page, f"#condition-{name}", taps)
        expect(pad(page, name)).to_contain_text(STEPS[taps])
    expect(preview(page)).to_contain_text("24,000 lbf")
    expect(preview(page)).to_contain_text("below listing")
    expect(preview(page)).to_contain_text("4 of 8 pads sound")

    page.get_by_role("button", name="Sign the inspection").click()
    expect(page.get_by_role("status")).to_contain_text("below listing")
    assert standing(page) == "below listing"
    page.get_by_role("link", name="Board").click()
    expect(page.locator("td.c-standing")).to_contain_text("below listing")
    expect(page.locator("td.c-sound_pads")).to_contain_text("4 of 8")


def test_taps_are_undone_and_all_are_made_sound(visit: Visit) -> None:
    unit = rated_unit(unsound={"A1": "missing", "B2": "cracked"})
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **PHONE)
    expect(page.get_by_role("button", name="Undo")).to_be_disabled()
    expect(preview(page)).to_contain_text("6 of 8 pads sound")
    press(page, "#condition-B2", 2)
    expect(pad(page, "B2")).to_contain_text("cracked")
    press(page, "#undo")
    expect(pad(page, "B2")).to_contain_text("sound")
    press(page, "#undo")
    expect(pad(page, "B2")).to_contain_text("not counted")
    press(page, "#all-sound")
    expect(page.locator(".pad-button .pad-word", has_text="sound")).to_have_count(8)
    expect(preview(page)).to_contain_text("8 of 8 pads sound")
    press(page, "#undo")
    expect(page.locator(".pad-button .pad-word", has_text="not counted")).to_have_count(8)


def test_a_tap_can_set_the_lot_of_one_or_of_all(visit: Visit) -> None:
    unit = rated_unit()
    other = PadLotFactory(mark="OTHER")
    bench_test(other, unit.manager, rate_lbf_in=500)
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **DESKTOP)
    press(page, "#all-sound")
    expect(page.get_by_role("button", name="That lot for all")).to_be_disabled()
    page.get_by_label("A tap sets").select_option(label="lot OTHER")
    press(page, "#condition-A1")
    expect(pad(page, "A1").locator(".pad-lot")).to_have_text("OTHER")
    expect(pad(page, "A1")).to_contain_text("sound")
    expect(preview(page)).to_contain_text("45,000 lbf")
    press(page, "#lot-for-all")
    expect(preview(page)).to_contain_text("24,000 lbf")
    page.get_by_role("button", name="Sign the inspection").click()
    expect(page.locator(".pad-lot", has_text="OTHER")).to_have_count(8)


def test_the_travel_typed_shows_in_the_preview(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **PHONE)
    page.get_by_label("Travel").fill("3")
    expect(preview(page)).to_contain_text("24,000 lbf")


def test_the_keyboard_alone_counts_and_signs(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **DESKTOP)
    _tab_to(page, "all-sound")
    page.keyboard.press("Enter")
    _tab_to(page, "condition-A1")
    for key, name, word in [
        ("c", "A1", "cracked"),
        ("ArrowDown", "A2", "sound"),
        ("d", "A2", "debonded"),
        ("ArrowRight", "B2", "sound"),
        ("w", "B2", "swollen"),
        ("ArrowUp", "B1", "sound"),
        ("m", "B1", "missing"),
        ("u", "B1", "sound"),
        ("m", "B1", "missing"),
        ("ArrowLeft", "A1", "cracked"),
        ("s", "A1", "sound"),
        ("Enter", "A1", "cracked"),
    ]:
        page.keyboard.press(key)
        expect(pad(page, name)).to_be_focused()
        expect(pad(page, name)).to_contain_text(word)
    expect(preview(page)).to_contain_text("4 of 8 pads sound")
    _tab_to(page, "sign")
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(rf"/units/{unit.housing.pk}/$"))
    assert standing(page) == "below listing"


def _tab_to(page: Page, place: str) -> None:
    """Press Tab until the place has the focus: an element's id, or a class of what holds it."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate(
            "place => document.activeElement.id === place"
            " || document.activeElement.parentElement?.className === place",
            place,
        ):
            return
    pytest.fail(f"Tab never reached {place}.")


@devices
def test_the_preview_covers_neither_the_pad_in_hand_nor_the_sign_button(
    visit: Visit, device: dict[str, Any]
) -> None:
    unit = rated_unit(positions_per_side=14, listed_lbf=100_000, unsound={"A1": "cracked"})
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **device)
    press(page, "#all-sound")
    press(page, "#condition-A1")
    expect(preview(page)).to_contain_text("27 of 28 pads sound")
    height = preview(page).bounding_box()["height"]
    assert height <= 0.12 * device["viewport"]["height"]
    pad(page, "A1").focus()
    for _ in range(13):
        page.keyboard.press("ArrowDown")
        assert page.evaluate(
            "() => document.activeElement.getBoundingClientRect().bottom"
            " <= document.getElementById('preview').getBoundingClientRect().top"
        )
    page.get_by_role("button", name="Sign the inspection").click()
    expect(page).to_have_url(re.compile(rf"/units/{unit.housing.pk}/$"))


def test_every_place_to_tap_is_as_high_as_a_thumb(visit: Visit) -> None:
    unit = rated_unit(in_stock=4)
    for name in ("count", "replace"):
        page = visit(f"/units/{unit.housing.pk}/{name}/", unit.manager, **PHONE)
        targets = page.locator("main :is(button, select, a.button):visible")
        assert targets.count() >= 8
        boxes = [each.bounding_box() for each in targets.all()]
        assert [box for box in boxes if box is None or box["height"] < 44] == []


def test_a_double_click_on_sign_records_once(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **DESKTOP)
    press(page, "#all-sound")
    press(page, "#condition-A1")
    page.get_by_role("button", name="Sign the inspection").dblclick()
    expect(page).to_have_url(re.compile(rf"/units/{unit.housing.pk}/$"))
    expect(page.locator("h1")).to_be_visible()
    assert Inspection.objects.filter(housing=unit.housing).count() == 2


def test_going_back_and_signing_again_records_once(visit: Visit) -> None:
    unit = rated_unit(listed_lbf=45_000)
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **DESKTOP)
    press(page, "#all-sound")
    press(page, "#condition-A1")
    page.get_by_role("button", name="Sign the inspection").click()
    expect(page.get_by_role("status")).to_contain_text("Signed.")
    page.go_back()
    press(page, "#all-sound")
    press(page, "#condition-A1")
    page.get_by_role("button", name="Sign the inspection").click()
    expect(page.get_by_role("status")).to_contain_text("nothing was recorded twice")
    assert standing(page) == "below listing"
    assert Inspection.objects.filter(housing=unit.housing).count() == 2


def test_a_form_opened_anew_after_signing_is_another_inspection(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **DESKTOP)
    press(page, "#all-sound")
    page.get_by_role("button", name="Sign the inspection").click()
    expect(page.get_by_role("status")).to_contain_text("It changed no figure")
    page.get_by_role("link", name="Count pads").click()
    press(page, "#all-sound")
    page.get_by_role("button", name="Sign the inspection").click()
    expect(page.get_by_role("status")).to_contain_text("It changed no figure")
    assert Inspection.objects.filter(housing=unit.housing).count() == 3


def test_a_form_come_back_to_never_overwrites_what_another_signed(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **DESKTOP)
    press(page, "#all-sound")
    press(page, "#condition-A1")
    page.get_by_role("link", name="Cancel").click()
    expect(page.locator("h1")).to_contain_text("on hammer")
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound={"B2": "missing"},
        at=MONDAY + timedelta(days=1),
    )
    page.go_back()
    page.get_by_role("button", name="Sign the inspection").click()
    expect(page.get_by_role("alert")).to_contain_text("signed this unit since you opened the page")
    assert Inspection.objects.filter(housing=unit.housing).count() == 2
