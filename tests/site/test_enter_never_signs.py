"""Enter in a one-line field presses the first button of a form: that one never signs."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from fleet.models import Passkey
from tests.builders import rated_unit
from tests.factories import ManagerFactory, YardFactory
from tests.fleet.people.authenticator import given as given_passkey
from tests.inspections.api.asking import token_of
from tests.inspections.field.sent import signed_in
from tests.inspections.receiving.test_receiving import Sold, emptied, sold_unit

pytestmark = pytest.mark.django_db


class FirstButtons(HTMLParser):
    """The attributes of the first button of each form of a page that a person fills in."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[dict[str, str | None]] = []
        self.is_sought = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "form":
            self.is_sought = given.get("method") == "post" and "action" not in given
        elif tag == "button" and self.is_sought and given.get("type") != "button":
            self.found.append(given)
            self.is_sought = False


PAGES = {
    "count-pads": "housing",
    "replace-pads": "housing",
    "take-out-of-service": "housing",
    "guide": "housing",
    "mounting": "housing",
    "new-proof-pull": "housing",
    "new-listing": "hammer",
    "policy": "",
    "new-job": "",
    "new-pad-order": "",
    "retention-rule": "kind",
    "new-token": "",
    "end-token": "token",
    "end-passkey": "passkey",
}


@pytest.mark.parametrize("name", PAGES)
def test_enter_signs_nothing(name: str) -> None:
    unit = rated_unit()
    kinds: dict[str, object] = {"kind": "inspection-photos"}
    given_passkey(unit.manager)
    kinds["passkey"] = Passkey.objects.get().pk
    kinds["token"] = token_of(unit.manager).token.pk
    client = Client()
    client.force_login(unit.manager)
    of = PAGES[name]
    args = [] if not of else [kinds[of] if of in kinds else getattr(unit, of).pk]
    page = client.get(reverse(name, args=args))
    first = FirstButtons()
    first.feed(page.content.decode())
    assert first.found
    for button in first.found:
        assert "disabled" in button or button.get("name") == "show"


def test_enter_takes_in_no_unit_that_came_from_another_site() -> None:
    sold = Sold(sold_unit())
    emptied()
    client, yard = signed_in(ManagerFactory()), YardFactory()
    page = reverse("receive-unit")
    sent = SimpleUploadedFile("unit.zip", sold.archive, "application/zip")
    client.post(page, {"act": "send", "file": sent, "seal": sold.seal})
    form = client.get(page).context["arrival"]
    fields = {name: str(form[name].value() or "") for name in form.fields}
    tried = client.post(page, fields | {"act": "try", "yard": str(yard.pk)})
    assert b'value="take"' in tried.content
    first = FirstButtons()
    first.feed(tried.content.decode())
    assert [button.get("value") for button in first.found] == ["try", "send"]
