from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from inspections.models import Inspection
from tests.browser.chromium import Visit
from tests.browser.watch import DESKTOP, PHONE, press, standing
from tests.builders import MONDAY, Unit, count, rated_unit

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

devices = pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])


def inspecting(page: Page, unit: Unit) -> Page:
    """Open the page Inspect by the button of the unit's page, for a count and nothing more."""
    page.goto(f"/units/{unit.housing.pk}/")
    page.locator("main").get_by_role("link", name="Inspect", exact=True).click()
    page.get_by_label("Kind").select_option("pad count")
    return page


def choose(page: Page, name: str, condition: str) -> None:
    """Say what is in a position: the pad, then one of the five buttons."""
    press(page, f"[data-pad={name}]")
    press(page, f".pad-setters [data-condition={condition}]")


def figure(page: Page) -> Locator:
    return page.locator(".figure")


@devices
def test_a_count_by_tap_flags_the_unit_on_its_page_and_on_the_board(
    visit: Visit, device: dict[str, Any]
) -> None:
    unit = rated_unit(is_guided=False)
    page = visit(f"/units/{unit.housing.pk}/", unit.manager, **device)
    assert standing(page) == "meets listing"
    inspecting(page, unit)
    expect(figure(page)).to_contain_text("48,000 lbf")
    expect(page.locator("[data-pad=A1]")).to_contain_text("not counted")
    press(page, ".all-sound")
    for name, condition in zip(
        ["A1", "A2", "A3", "B4"], ["cracked", "debonded", "swollen", "missing"], strict=True
    ):
        choose(page, name, condition)
        expect(page.locator(f"[data-pad={name}]")).to_contain_text(condition)
    # Twice the one sound pad of side A.
    expect(figure(page)).to_contain_text("12,000 lbf")
    expect(figure(page)).to_contain_text("twice side A, the weaker")
    expect(figure(page)).to_contain_text("below the listed")
    expect(figure(page)).to_contain_text("4 of 8 sound")

    page.get_by_role("button", name="Sign as").click()
    expect(page.locator(".outbox-item .state").first).to_contain_text("Sent")
    page.goto(f"/units/{unit.housing.pk}/")
    assert standing(page) == "below listing"
    if device is PHONE:
        press(page, ".site-menu summary")
    page.get_by_role("link", name="Board").click()
    expect(page.locator("td.c-standing")).to_contain_text("below listing")
    expect(page.locator("td.c-sound_pads")).to_contain_text("4 of 8")


def test_before_a_pad_is_counted_the_page_says_so_and_never_how_many_are_sound(
    visit: Visit,
) -> None:
    unit = rated_unit()
    page = inspecting(visit("/", unit.manager, **PHONE), unit)
    expect(figure(page)).to_contain_text("nothing counted yet")
    page.get_by_label("Travel, taped").fill("3")
    expect(figure(page)).to_contain_text("24,000 lbf")
    expect(figure(page)).not_to_contain_text("of 8")
    press(page, ".all-sound")
    expect(figure(page)).to_contain_text("8 of 8 sound")
    page.get_by_role("button", name="Undo").click()
    expect(figure(page)).to_contain_text("nothing counted yet")


@devices
def test_the_figure_covers_neither_the_pad_in_hand_nor_the_sign_button(
    visit: Visit, device: dict[str, Any]
) -> None:
    unit = rated_unit(positions_per_side=14, listed_lbf=100_000, unsound={"A1": "cracked"})
    page = inspecting(visit("/", unit.manager, **device), unit)
    press(page, ".all-sound")
    choose(page, "A1", "cracked")
    expect(figure(page)).to_contain_text("27 of 28 sound")
    bar = page.locator(".sign-bar").bounding_box()
    assert bar is not None
    assert bar["height"] <= 0.2 * device["viewport"]["height"]
    page.locator("[data-pad=A1]").focus()
    for _ in range(13):
        page.keyboard.press("ArrowDown")
        assert page.evaluate(
            "() => document.activeElement.getBoundingClientRect().bottom"
            " <= document.querySelector('.sign-bar').getBoundingClientRect().top"
        )
    # Nothing is sent, or it would arrive while the database is emptied after the test.
    page.context.set_offline(True)
    page.get_by_role("button", name="Sign as").click()
    expect(page.get_by_role("heading", name="Outbox")).to_be_focused()


def all_sound(page: Page, **exceptions: str) -> None:
    """Count by the plain form: the exceptions by name, every other position sound."""
    for name, condition in exceptions.items():
        page.get_by_label(f"{name} condition").select_option(condition)
    page.get_by_label("Every position left open is sound").check()


def test_every_place_to_tap_is_as_high_as_a_thumb(visit: Visit) -> None:
    unit = rated_unit(in_stock=4)
    for name in ("count", "replace"):
        page = visit(f"/units/{unit.housing.pk}/{name}/", unit.manager, **PHONE)
        # Help with a word stands in its sentence, as a link in it would (WCAG 2.2, 2.5.8).
        targets = page.locator("main :is(button:not(.term), select, a.button):visible")
        assert targets.count() >= 8
        boxes = [each.bounding_box() for each in targets.all()]
        assert [box for box in boxes if box is None or box["height"] < 44] == []


def test_a_double_click_on_sign_records_once(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **DESKTOP)
    all_sound(page, A1="cracked")
    page.get_by_role("button", name="Sign the inspection").dblclick()
    expect(page).to_have_url(re.compile(rf"/units/{unit.housing.pk}/$"))
    expect(page.locator("h1")).to_be_visible()
    assert Inspection.objects.filter(housing=unit.housing).count() == 2


def test_going_back_and_signing_again_records_once(visit: Visit) -> None:
    unit = rated_unit(listed_lbf=45_000)
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **DESKTOP)
    all_sound(page, A1="cracked")
    page.get_by_role("button", name="Sign the inspection").click()
    expect(page.get_by_role("status")).to_contain_text("Signed.")
    page.go_back()
    all_sound(page, A1="cracked")
    page.get_by_role("button", name="Sign the inspection").click()
    expect(page.get_by_role("status")).to_contain_text("nothing was recorded twice")
    assert standing(page) == "below listing"
    assert Inspection.objects.filter(housing=unit.housing).count() == 2


def test_a_form_opened_anew_after_signing_is_another_inspection(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **DESKTOP)
    all_sound(page)
    page.get_by_role("button", name="Sign the inspection").click()
    expect(page.get_by_role("status")).to_contain_text("It changed no figure")
    page.goto(f"/units/{unit.housing.pk}/count/")
    all_sound(page)
    page.get_by_role("button", name="Sign the inspection").click()
    expect(page.get_by_role("status")).to_contain_text("It changed no figure")
    assert Inspection.objects.filter(housing=unit.housing).count() == 3


def test_a_form_come_back_to_never_overwrites_what_another_signed(visit: Visit) -> None:
    unit = rated_unit()
    page = visit(f"/units/{unit.housing.pk}/count/", unit.manager, **DESKTOP)
    all_sound(page, A1="cracked")
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
