import pytest
from playwright.sync_api import expect
from tests.browser.phone import Phone
from tests.builders import rated_unit, count
from tests.factories import HousingFactory, PadLotFactory
from fleet.models import OutOfService
from django.utils import timezone
import uuid, io
from PIL import Image

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
D="/tmp/lv-fieldapp/"
def test_shots(phone: Phone) -> None:
    unit = rated_unit(positions_per_side=12, unsound={"A1":"cracked","B3":"missing"}, listed_lbf=100000)
    HousingFactory(mark="NEVER COUNTED 12")
    out = rated_unit()
    OutOfService.objects.create(housing=out.housing, since=timezone.now(), reason="Crack in the lifting eye", recorded_by=unit.manager, submission_id=uuid.uuid4())
    page = phone.ready(unit.manager)
    page.on("console", lambda m: print(m.type, m.text))
    def shot(name, full=False):
        for w,h in ((390,844),(320,640),(1280,900)):
            page.set_viewport_size({"width":w,"height":h})
            page.wait_for_timeout(150)
            over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            if over>0: print("OVER", name, w, over)
            page.screenshot(path=f"{D}{name}-{w}.png", full_page=full)
        page.set_viewport_size({"width":390,"height":844})
    shot("units", True)
    page.locator(".unit-card", has_text=unit.housing.mark).get_by_role("link").click()
    shot("inspect")
    page.get_by_role("button", name="All sound").tap()
    for name in ("A2","B5"):
        page.locator(f"[data-pad={name}]").tap()
        page.locator(".pad-setters [data-condition=cracked]").tap()
    for w in (390,320,1280):
        page.set_viewport_size({"width":w,"height":844 if w!=320 else 640})
        page.locator("[data-pad=A6]").scroll_into_view_if_needed()
        page.evaluate("document.querySelector('.pad-work').scrollIntoView({block:'start'})")
        page.wait_for_timeout(100)
        page.screenshot(path=f"{D}pads-{w}.png")
    page.set_viewport_size({"width":390,"height":844})
    page.get_by_label("Travel, taped").fill("9,5")
    page.get_by_role("button", name="Add a finding").tap()
    page.get_by_label("What was found").fill("Crack in the eye")
    page.get_by_role("button", name="out of service at once").tap()
    buf=io.BytesIO(); Image.effect_noise((2000,1500),80).save(buf,"JPEG")
    page.locator(".finding input[type=file]").set_input_files({"name":"a.jpg","mimeType":"image/jpeg","buffer":buf.getvalue()})
    expect(page.locator(".photos img")).to_be_visible()
    page.get_by_role("button", name="Sign as").tap()
    expect(page.locator(".errors:not(.full)")).to_be_visible()
    shot("errors", True)
    page.get_by_label("Travel, taped").fill("5.5")
    page.get_by_role("button", name="All others done").tap()
    page.get_by_label("Who must act").fill("Welder")
    page.get_by_label("Act by").fill("2027-01-03")
    page.locator("html").screenshot(path=D+"x.png")
    page.emulate_media(color_scheme="dark")
    shot("dark", True)
    page.emulate_media(color_scheme="light")
    phone.lose_signal()
    page.get_by_role("button", name="Sign as").tap()
    page.wait_for_timeout(500)
    shot("outbox", True)
    phone.find_signal()
    expect(page.locator(".outbox-item .state")).to_contain_text("Sent")
    shot("outboxsent", True)
