"""Reading a unit beside the hammer, with no signal: its figures, and how old they are."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from ratings.models import LotRating
from tests.browser.phone import Phone
from tests.builders import rated_unit
from tests.factories import AuditorFactory
from tests.inspections.field.sent import finding_sent, payload, send, signed_in
from tests.ratings.rerating.made import made_rerating

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_unit_is_read_without_signal_as_kept_and_is_gone_once_signed_out(phone: Phone) -> None:
    unit = rated_unit(unsound={"A2": "cracked"}, listed_lbf=44_000)
    sent = payload(
        unit, pads=[], travel_in=None, kind="monthly", hours=100, findings=[finding_sent()]
    )
    assert send(signed_in(unit.manager), sent).status_code == 201
    phone.ready(AuditorFactory())
    phone.lose_signal()
    page = phone.go("/field/")
    page.get_by_role("link", name=unit.housing.mark, exact=True).tap()
    main = page.locator("main")
    for words in (
        "below listing",
        "Working capacity",
        "Listed22.0 tons (44,000 lbf)",
        "Line pull21.0 tons (42,000 lbf)",
        "7 of 8",
        "Hose chafed",
        "Kept on this phone as of",
        "What was recorded since is not in it.",
    ):
        expect(main).to_contain_text(words)
    expect(page.locator(".pad", has_text="A2")).to_contain_text("cracked")
    expect(page.get_by_role("link", name="Inspect", exact=True)).to_have_count(0)
    page.set_viewport_size({"width": 320, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 320

    # A day later it says that it is old.
    day_ago = "new Date(Date.now() - 30 * 3600e3).toISOString()"
    page.evaluate(
        f"""() => new Promise(resolve => {{
            const opening = indexedDB.open('at-the-hammer');
            opening.onsuccess = () => {{
                const kept = opening.result.transaction('kept', 'readwrite').objectStore('kept');
                kept.get('pack').onsuccess = (got) => {{
                    const pack = {{...got.target.result, made_at: {day_ago}, clock_off_ms: 0}};
                    kept.put(pack, 'pack').onsuccess = resolve;
                }};
            }};
        }})"""
    )
    page.reload()
    expect(main).to_contain_text("30 hours ago. That is more than a day: fetch the units again")

    phone.find_signal()
    phone.go("/")
    page.locator(".site-menu summary").tap()
    page.get_by_role("button", name="Sign out").tap()
    expect(page).to_have_title("Sign in · Line-Pull Ledger")
    phone.lose_signal()
    phone.go(f"/field/#unit/{unit.housing.pk}")
    expect(main).not_to_contain_text("Working capacity")
    expect(main).to_contain_text("Nothing is on this phone yet")


def test_a_unit_being_rated_again_says_so_wherever_its_figures_are_told(phone: Phone) -> None:
    unit = rated_unit()
    made_rerating(LotRating.objects.in_force().get(lot=unit.lot), unit.manager)
    phone.ready(unit.manager)
    phone.lose_signal()
    page = phone.go("/field/")
    for address in ("#", f"#unit/{unit.housing.pk}", f"#inspect/{unit.housing.pk}"):
        page.goto(f"/field/{address}")
        main = page.locator("main")
        expect(main).to_contain_text("Being rated again since")
        expect(main).to_contain_text("Its figures here are of before: fetch the units again")
