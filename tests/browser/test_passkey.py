"""Passkeys in a real browser, on a device that it makes up itself."""

from __future__ import annotations

from typing import Any

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import CDPSession, Page, expect

from fleet.models import Passkey
from tests.browser.chromium import Visit
from tests.factories import AuditorFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PASSWORD = "line-pull-test"


class MadeUp:
    """The device of a page’s browser: what it keeps is read and written by the test."""

    def __init__(self, page: Page) -> None:
        self.session: CDPSession = page.context.new_cdp_session(page)
        self.session.send("WebAuthn.enable")
        options = {
            "protocol": "ctap2",
            "transport": "internal",
            "hasResidentKey": True,
            "hasUserVerification": True,
            "isUserVerified": True,
            "automaticPresenceSimulation": True,
        }
        made = self.session.send("WebAuthn.addVirtualAuthenticator", {"options": options})
        self.id = made["authenticatorId"]

    def kept(self) -> dict[str, Any]:
        """The one passkey it keeps."""
        (found,) = self.session.send("WebAuthn.getCredentials", {"authenticatorId": self.id})[
            "credentials"
        ]
        return dict(found)

    def keep_instead(self, passkey: dict[str, Any]) -> None:
        """Let it keep another passkey than its own."""
        of = {"authenticatorId": self.id}
        self.session.send("WebAuthn.clearCredentials", of)
        self.session.send("WebAuthn.addCredential", of | {"credential": passkey})


def add(page: Page, person: User) -> None:
    page.goto("/passkeys/new/")
    page.get_by_label("Where it is kept").fill("office laptop")
    page.get_by_label("Current password").fill(PASSWORD)
    page.get_by_role("button", name="Add it").click()
    expect(page.locator("h1")).to_have_text("Your second step is set up")
    assert Passkey.objects.filter(person=person).exists()


def sign_out(page: Page) -> None:
    page.context.clear_cookies()
    page.goto("/sign-in/")


def by_password(page: Page, person: User) -> None:
    page.get_by_label("Username").fill(person.username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


def test_somebody_adds_one_and_signs_in_with_it_alone(visit: Visit) -> None:
    person = AuditorFactory()
    page = visit("/", by=person)
    MadeUp(page)
    add(page, person)
    sign_out(page)
    page.get_by_role("button", name="Use a passkey").click()
    page.wait_for_url("**/")
    expect(page.locator("h1")).to_have_text("What each unit can pull today")
    page.goto(f"/people/{person.pk}/")
    expect(page.locator("main")).to_contain_text("office laptop")


def test_it_is_the_second_step_of_a_password(visit: Visit) -> None:
    person = AuditorFactory()
    page = visit("/", by=person)
    MadeUp(page)
    add(page, person)
    sign_out(page)
    by_password(page, person)
    page.get_by_role("button", name="Use a passkey").click()
    expect(page.locator("h1")).to_have_text("What each unit can pull today")


def test_a_copy_that_counts_less_is_refused(visit: Visit) -> None:
    person = AuditorFactory()
    page = visit("/", by=person)
    device = MadeUp(page)
    add(page, person)
    copied = device.kept()
    sign_out(page)
    page.get_by_role("button", name="Use a passkey").click()
    expect(page.locator("h1")).to_have_text("What each unit can pull today")
    sign_out(page)
    device.keep_instead(copied)
    page.get_by_role("button", name="Use a passkey").click()
    expect(page.get_by_role("alert").first).to_contain_text("it may have been copied")


def test_that_of_another_person_is_no_second_step(visit: Visit) -> None:
    person, other = AuditorFactory(), AuditorFactory()
    page = visit("/", by=other)
    device = MadeUp(page)
    add(page, other)
    of_other = device.kept()
    page = visit("/", by=person)
    device = MadeUp(page)
    add(page, person)
    own = device.kept()
    # One that says that it is this person’s, and signs with the key of the other.
    device.keep_instead(of_other | {"credentialId": own["credentialId"]})
    sign_out(page)
    by_password(page, person)
    page.get_by_role("button", name="Use a passkey").click()
    expect(page.get_by_role("alert").first).to_contain_text("You are not let in.")


def test_a_browser_without_passkeys_is_told_so_and_signs_in_all_the_same(visit: Visit) -> None:
    person = AuditorFactory()
    page = visit("/sign-in/", java_script_enabled=False)
    expect(page.get_by_role("button", name="Use a passkey")).to_be_hidden()
    by_password(page, person)
    page.goto("/passkeys/new/")
    expect(page.locator("main")).to_contain_text("This browser makes no passkeys")
