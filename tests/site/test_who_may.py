from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from fleet.setup.yard_things import YARD
from inspections.schedule.calendar import make_feed
from tests.all_tables import changed, everything
from tests.factories import (
    AuditorFactory,
    UserFactory,
    YardFactory,
)
from tests.fleet.people.bound import bound_to
from tests.site.every_page import (
    ASKED,
    LEADS,
    OPEN,
    OWN,
    PHONE,
    PLAN,
    PLAN_POSTED,
    POSTED,
    READ,
    THINGS,
    WRITE,
    every_page,
)
from tests.site.html_form import words

pytestmark = pytest.mark.django_db

NO_PAGE_TAKES = ("put", "patch", "delete", "trace")
METHODS = ("get", "head", "post", "options", *NO_PAGE_TAKES)


@pytest.fixture(scope="module")
def urls(module_db: None) -> dict[str, str]:
    return every_page()


def test_every_page_is_spoken_of_here(urls: dict[str, str]) -> None:
    assert set(urls) == READ | LEADS | PHONE | PLAN | PLAN_POSTED | ASKED | WRITE | OPEN


@pytest.mark.parametrize("method", METHODS)
def test_a_visitor_who_has_not_signed_in_sees_only_the_sign_in_page(
    urls: dict[str, str], method: str
) -> None:
    before = everything()
    for name in (
        READ
        | LEADS
        | PLAN
        | PLAN_POSTED
        | ASKED
        | WRITE
        | {"choose-units", "calendar-feed", "own-password", "hide-first-steps"}
        | {"new-token", "end-token", "second-step", "set-up-second-step"}
        | {"new-passkey", "end-passkey", "new-recovery-codes"}
    ):
        response = getattr(Client(), method)(urls[name])
        assert response.status_code == 302, name
        assert response["Location"].startswith(reverse("sign-in")), name
    assert changed(before) == set()


@pytest.mark.parametrize("name", sorted(PHONE))
def test_a_phone_nobody_is_signed_in_on_is_told_so(urls: dict[str, str], name: str) -> None:
    before = everything()
    for method in ("get", "post", "put"):
        answer = getattr(Client(), method)(urls[name])
        assert answer.status_code == 401, name
        assert "sign in" in answer.json()["errors"][""][0], name
    assert changed(before) == set()


@pytest.mark.parametrize("role", ["dispatcher", "auditor"])
def test_a_reader_signs_nothing_on_a_phone(
    urls: dict[str, str], role: str, request: pytest.FixtureRequest
) -> None:
    client = request.getfixturevalue(f"{role}_client")
    before = everything()
    assert client.post(urls["field-inspections"]).status_code == 403
    assert client.put(urls["field-photo"]).status_code == 403
    assert changed(before) == set()


NOBODY_S = {"own-password", "sign-out", "second-step", "set-up-second-step", "new-passkey"}
# Open to whoever has the address, or to everybody: what they show is theirs to say.
WITHOUT_SIGN_IN = {
    "paper-file",
    "health",
    "ready",
    "metrics",
    "password-by-link",
    "sign-in",
    "passkey-options",
    "calendar",
    "crew",
    "ask-paper",
    "paper",
    "field",
    "field-manifest",
    "field-worker",
}


@pytest.mark.parametrize("method", METHODS)
def test_who_has_no_role_sees_nothing_by_any_method(urls: dict[str, str], method: str) -> None:
    client = Client()
    client.force_login(UserFactory())
    before = everything()
    for name in set(urls) - NOBODY_S - WITHOUT_SIGN_IN:
        answer = getattr(client, method)(urls[name])
        assert answer.status_code == 403, name
        assert method == "head" or "no role" in answer.content.decode(), name
    assert changed(before) == set()


ROLES = ["manager", "dispatcher", "auditor"]
# Whoever has no role any more may still choose a password, take a second step, and sign out.
STILL_OPEN = NOBODY_S | WITHOUT_SIGN_IN


@pytest.mark.parametrize("role", ROLES)
def test_a_role_taken_away_takes_every_page_with_it(
    urls: dict[str, str], role: str, request: pytest.FixtureRequest
) -> None:
    client = request.getfixturevalue(f"{role}_client")
    shown = ("board", "unit", "lot-certificate", "field-pack")
    assert [client.get(urls[name]).status_code for name in shown] == [200] * len(shown)
    User.objects.get(pk=client.session["_auth_user_id"]).groups.clear()
    before = everything()
    answers = {
        (name, method): getattr(client, method)(urls[name]).status_code
        for name in set(urls) - STILL_OPEN
        for method in ("get", "post")
    }
    assert {asked: status for asked, status in answers.items() if status != 403} == {}
    assert changed(before) == set()


def test_a_calendar_ends_with_the_role_of_its_person(auditor_client: Client) -> None:
    person = AuditorFactory()
    address = f"/calendar/{make_feed(person)}.ics"
    assert Client().get(address).status_code == 200
    person.groups.clear()
    assert Client().get(address).status_code == 404


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("method", NO_PAGE_TAKES)
def test_no_page_takes_any_other_method_from_anybody(
    urls: dict[str, str], method: str, role: str, request: pytest.FixtureRequest
) -> None:
    client = request.getfixturevalue(f"{role}_client")
    before = everything()
    answers = {name: getattr(client, method)(url).status_code for name, url in urls.items()}
    # A phone is answered for itself: that a piece of a photo is none, or that it is not theirs.
    others = {name: answers.pop(name) for name in PHONE}
    assert {name: status for name, status in answers.items() if status != 405} == {}
    assert set(others.values()) <= {400, 403, 404, 405, 411, 422}, others
    assert changed(before) == set()


def test_a_page_that_is_not_there_tells_a_visitor_nothing() -> None:
    assert Client().get("/units/999999/").status_code == 302


@pytest.mark.parametrize("role", ["dispatcher", "auditor"])
def test_a_reader_reads_every_page(
    urls: dict[str, str], role: str, request: pytest.FixtureRequest
) -> None:
    client = request.getfixturevalue(f"{role}_client")
    for name in READ:
        # The unit was never inspected, so that no card may hang on it: the page says so.
        expected = 409 if name == "stretch-card" else 200
        assert client.get(urls[name]).status_code == expected, name


@pytest.mark.parametrize("role", ["dispatcher", "auditor"])
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_reader_is_refused_every_page_that_writes(
    urls: dict[str, str], role: str, method: str, request: pytest.FixtureRequest
) -> None:
    client = request.getfixturevalue(f"{role}_client")
    before = everything()
    for name in WRITE:
        response = getattr(client, method)(urls[name])
        assert response.status_code == 403, name
        assert "The equipment manager writes the records" in words(response), name
    assert changed(before) == set()


def test_a_dispatcher_opens_every_page_that_plans(
    urls: dict[str, str], dispatcher_client: Client
) -> None:
    for name in PLAN:
        assert dispatcher_client.get(urls[name]).status_code == 200, name


@pytest.mark.parametrize("method", ["get", "post"])
def test_an_auditor_is_refused_every_page_that_plans(
    urls: dict[str, str], method: str, auditor_client: Client
) -> None:
    before = everything()
    for name in PLAN | PLAN_POSTED:
        response = getattr(auditor_client, method)(urls[name])
        assert response.status_code == 403, name
        assert "whoever dispatches plans jobs" in words(response), name
    for name in ("job", "job-unit", "transfer", "yard-hauls", "transport-rules"):
        assert auditor_client.post(urls[name]).status_code == 403, name
    assert changed(before) == set()


@pytest.mark.parametrize("role", ["manager", "dispatcher", "auditor"])
def test_anybody_signed_in_may_ask_and_nothing_is_kept(
    urls: dict[str, str], role: str, request: pytest.FixtureRequest
) -> None:
    client = request.getfixturevalue(f"{role}_client")
    before = everything()
    for name in ASKED:
        assert client.post(urls[name]).status_code == 200, name
        assert client.get(urls[name]).status_code == 405, name
    assert changed(before) == set()


@pytest.mark.parametrize("role", ["dispatcher", "auditor"])
def test_a_reader_cannot_change_the_policy(role: str, request: pytest.FixtureRequest) -> None:
    client = request.getfixturevalue(f"{role}_client")
    before = everything()
    sent = {
        "submission_id": uuid.uuid4(),
        "confidence_pct": "90",
        "pad_spread_pct": "5",
        "linearity_limit_pct": "5",
        "tape_resolution_in": "0.125",
        "rate_valid_days": "365",
        "coldest_f": "40",
        "warmest_f": "100",
        "stale_rates": "drop",
        "reason": "mine",
    }
    assert client.post(reverse("policy"), sent).status_code == 403
    assert changed(before) == set()


def test_a_manager_opens_every_page_that_writes(
    urls: dict[str, str], manager_client: Client
) -> None:
    # Of these one leads elsewhere, one is of a kind in use, one takes what a page before held, and
    # two order and close what another unit's plan doesn't have, one keeps what can't be
    # forecast, and one leads back to the page it stands on.
    elsewhere = {
        "correct-entry",
        "retire-kind",
        "new-proposal",
        "close-restoring",
        "order-restoring",
        "keep-forecast",
        "see-rerating",
    }
    for name in WRITE - OWN - elsewhere:
        method = manager_client.post if name in POSTED else manager_client.get
        assert method(urls[name]).status_code == 200, name


@pytest.mark.parametrize(
    "name",
    [
        "unit",
        "lots",
        "lot",
        "bench-test",
        "lot-rating",
        "listings",
        "policy",
        "surveillance",
        "proof-pull",
    ],
)
def test_only_a_manager_is_shown_the_way_to_write(
    urls: dict[str, str], name: str, manager_client: Client, dispatcher_client: Client
) -> None:
    for_manager, for_reader = (
        client.get(urls[name]).content.decode() for client in (manager_client, dispatcher_client)
    )
    ways = [urls[each] for each in WRITE if f'href="{urls[each]}' in for_manager]
    ways += [each for each in ("Put in force", "Approve the rating") if each in for_manager]
    assert ways, "the manager is offered nothing to write here"
    assert not [way for way in ways if way in for_reader]
    assert 'class="main"' not in for_reader


SHOWN = {"condition-A1": "missing", "show": "1"}


def test_previews_save_nothing(urls: dict[str, str], manager_client: Client) -> None:
    before = everything()
    for name in ("bench-preview", "count-pads", "replace-preview"):
        assert manager_client.post(urls[name], SHOWN).status_code == 200
    assert changed(before) == set()


@pytest.mark.parametrize(
    ("name", "kwargs"),
    [
        ("unit", {"housing_id": 999}),
        ("count-pads", {"housing_id": 10**30}),
        ("lot", {"lot_id": 999}),
        ("lot-rating", {"rating_id": 999}),
        ("lot-certificate", {"rating_id": 10**20}),
        ("bench-photo", {"test_id": 999}),
        ("proof-pull", {"pull_id": 999}),
        ("new-proof-pull", {"housing_id": 999}),
        ("new-listing", {"hammer_id": 10**19}),
        ("inspection", {"inspection_id": 10**25}),
        ("correct-entry", {"entry_id": 999}),
        ("history-report", {"housing_id": 2**63}),
    ],
)
def test_a_record_that_is_not_there_is_not_found(
    manager_client: Client, name: str, kwargs: dict[str, Any]
) -> None:
    response = manager_client.get(reverse(name, kwargs=kwargs))
    assert response.status_code == 404
    assert "There is no such page or record" in words(response)


def test_signing_in_with_a_wrong_password_says_so(manager: Any) -> None:
    response = Client().post(
        reverse("sign-in"), {"username": manager.username, "password": "wrong"}
    )
    assert response.status_code == 200
    assert "Nothing was saved" not in words(response)
    assert "correct username and password" in words(response)


def test_signing_in_leads_to_the_page_that_was_asked_for(manager: Any) -> None:
    response = Client().post(
        reverse("sign-in") + "?next=/lots/",
        {"username": manager.username, "password": "line-pull-test", "next": "/lots/"},
    )
    assert response["Location"] == "/lots/"


def test_signing_in_never_leads_to_another_site(manager: Any) -> None:
    response = Client().post(
        reverse("sign-in"),
        {
            "username": manager.username,
            "password": "line-pull-test",
            "next": "https://elsewhere.example/",
        },
    )
    assert response["Location"] == reverse("waiting")


def test_signing_out_needs_a_button_and_ends_the_session(manager_client: Client) -> None:
    assert manager_client.get(reverse("sign-out")).status_code == 405
    manager_client.post(reverse("sign-out"))
    assert manager_client.get(reverse("board")).status_code == 302


def test_a_preview_asked_for_after_the_session_ended_says_so_in_its_place(client: Client) -> None:
    answer = client.get("/sign-in/", headers={"HX-Request": "true"})
    assert "You are signed out" in answer.text
    assert "<html" not in answer.text


# Open to whoever is bound: the yard, the unit or the job is chosen in the form, or named by
# what it is of, and the recording functions look (tests/fleet/people/test_yards_bound_to.py).
CHOSEN_IN_FORM = {
    *(thing.new_page for thing in THINGS if thing is not YARD),
    "new-clamp",
    "new-power-pack",
    "new-hire",
    "new-repair",
    "new-transfer",
    "new-pad-order",
    "read-meters",
    "stock-take",
    "lot-stock",
    "lot-price",
    "move-yards",
    "restore",
    "plan",
    "new-proposal",
    "confirm-proposal",
    "turn-proposal-down",
    "withdraw-attachment",
}
# Of no yard: what is added touches nothing that is there.
OF_NO_YARD = {
    "new-lot",
    "new-foreign-check",
    "new-job",
    "copy-job",
    "new-pile-section",
    "new-soil-template",
    "see-rerating",
}


@pytest.mark.parametrize("method", ["get", "post"])
def test_who_is_bound_to_another_yard_is_refused_every_page_that_acts_on_what_stands_here(
    urls: dict[str, str], method: str
) -> None:
    client = Client()
    client.force_login(bound_to(YardFactory(name="North Pier")))
    before, opened = everything(), set()
    for name in WRITE | PLAN | PLAN_POSTED:
        answer = getattr(client, method)(urls[name])
        if answer.status_code == 403:
            assert "is bound to North Pier" in words(answer), name
            assert "an equipment manager who is bound to no yard" in words(answer), name
        else:
            opened.add(name)
    assert opened == CHOSEN_IN_FORM | OF_NO_YARD
    # That it was refused is on record.
    assert changed(before) <= {"fleet.Refusal", "fleet.Leaf"}


def test_who_is_bound_to_another_yard_reads_what_stands_here(urls: dict[str, str]) -> None:
    client = Client()
    client.force_login(bound_to(YardFactory(name="North Pier")))
    for name in ("unit", "machine-page", "lot", "inspection", "job", "commitment", "repair-order"):
        assert client.get(urls[name]).status_code == 200, name
