"""Units being rated again are watched on a page that may be closed and opened anew."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from fleet.long_work import queue
from fleet.models import LongWork
from ratings.models import LotRating
from ratings.rerating import long_work
from tests.browser.chromium import Visit
from tests.builders import rated_unit

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_withdrawal_goes_on_while_its_page_is_closed_and_tells_by_itself_when_it_is_over(
    visit: Visit, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[Callable[[], Any]] = []
    monkeypatch.setattr(long_work, "MOST_AT_ONCE", 0)
    monkeypatch.setattr(queue, "start", begun.append)
    unit = rated_unit()
    rating = LotRating.objects.in_force().get(lot=unit.lot)
    page = visit(reverse("lot-rating", args=[rating.pk]), unit.manager)
    page.get_by_label("Why it is withdrawn").fill("The stand was off")
    page.get_by_role("button", name="Withdraw the rating").click()
    expect(page.get_by_text("Not begun yet:")).to_be_visible()
    page.close()
    again = visit(reverse("lot", args=[unit.lot.pk]), unit.manager)
    again.get_by_role("link", name=f"Withdrawal of rating {rating.pk}").click()
    expect(again.get_by_role("progressbar")).to_be_visible()
    queue.do(LongWork.objects.get())
    expect(again.get_by_text("1 unit got a new ledger entry")).to_be_visible()
