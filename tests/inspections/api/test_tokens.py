"""Tokens: made for oneself, shown once, no wider than their person, and stopped for good."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import ApiScope, ApiToken, ApiTokenEnd, Leaf
from fleet.people.recording import change_access, change_role
from fleet.people.tokens import LONGEST_DAYS, end_token, hash_of, make_token
from fleet.roles import AUDITOR, DISPATCHER, MANAGER
from fleet.throttle import FAILURES_IN_A_MINUTE
from tests.all_tables import changed, everything
from tests.factories import AuditorFactory, DispatcherFactory, ManagerFactory
from tests.inspections.api.asking import Program, program_of, token_of
from tests.site.html_form import words

pytestmark = pytest.mark.django_db
PASSWORD = "line-pull-test"


@pytest.fixture(autouse=True)
def _no_failures_of_before() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()


def client_of(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def form_of_a_token(**changes: Any) -> dict[str, Any]:
    plain = {
        "submission_id": str(uuid.uuid4()),
        "name": "Telematics",
        "role": DISPATCHER,
        "scopes": ["read", "pulls"],
        "expires_on": (timezone.localdate() + timedelta(days=30)).isoformat(),
        "old": PASSWORD,
    }
    return plain | changes


def secret_on(page: Any) -> str:
    found = re.search(r"lpl_[\w-]{43}", page.content.decode())
    assert found is not None
    return found[0]


def test_a_token_is_shown_once_and_only_its_hash_is_kept() -> None:
    client, sent = client_of(DispatcherFactory()), form_of_a_token()
    secret = secret_on(client.post(reverse("new-token"), sent))
    token = ApiToken.objects.get()
    assert token.token_hash == hash_of(secret)
    assert secret.startswith(token.begins)
    again = client.post(reverse("new-token"), sent)
    assert secret not in again.content.decode()
    assert "is not shown again" in words(again)
    assert ApiToken.objects.count() == 1
    leaf = Leaf.objects.get(model="fleet.apitoken")
    assert secret not in leaf.document
    assert token.token_hash not in leaf.document
    assert Program(secret).get("yards").status_code == 200


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"old": "another"}, "This is not your password"),
        ({"role": MANAGER}, "not one of the available choices"),
        ({"scopes": []}, "Nothing is ticked"),
        ({"scopes": ["read", "inspections"]}, "A token as dispatcher may not sign inspections"),
        ({"name": " "}, "say what uses the token"),
        ({"expires_on": "2020-01-01"}, "give a day from today on"),
        ({"expires_on": "9999-12-31"}, "at the latest"),
        ({"expires_on": "soon"}, "This is not a day"),
    ],
)
def test_a_token_that_cannot_be_is_refused_in_words(wrong: dict[str, Any], says: str) -> None:
    page = client_of(DispatcherFactory()).post(reverse("new-token"), form_of_a_token(**wrong))
    assert says in words(page)
    assert not ApiToken.objects.exists()


@pytest.mark.usefixtures("within_one_minute")
def test_passwords_cannot_be_tried_on_the_form_of_a_token() -> None:
    client = client_of(DispatcherFactory())
    for _ in range(FAILURES_IN_A_MINUTE):
        client.post(reverse("new-token"), form_of_a_token(old="wrong"))
    assert client.post(reverse("new-token"), form_of_a_token()).status_code == 429
    assert not ApiToken.objects.exists()


def test_no_recording_makes_a_token_wider_than_its_person() -> None:
    for changes in (
        {"role": MANAGER},
        {"role": "owner"},
        {"scopes": ["everything"]},
        {"expires_on": timezone.localdate() + timedelta(days=LONGEST_DAYS + 1)},
    ):
        with pytest.raises(ValidationError):
            token_of(DispatcherFactory(), **{"scopes": ["read"], **changes})  # type: ignore[arg-type]


def test_a_manager_may_make_a_token_that_only_reads_as_an_auditor() -> None:
    made = token_of(ManagerFactory(), ["read"], role=AUDITOR)
    assert Program(made.secret).get("yards").status_code == 200


def test_a_session_of_the_site_opens_nothing(manager_client: Client) -> None:
    answer = manager_client.get("/api/v1/yards")
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"].startswith("Bearer")


@pytest.mark.parametrize("sent", ["Bearer", "Bearer x", "Basic eDp5", "lpl_x", "Bearer \xff", ""])
def test_what_is_no_token_opens_nothing(sent: str) -> None:
    answer = Client().get("/api/v1/yards", headers={"Authorization": sent})
    assert answer.status_code == 401
    assert answer["Content-Type"] == "application/problem+json"


def shut_out(person: User, by: User) -> None:
    change_access(submission_id=uuid.uuid4(), user=person, may_sign_in=False, reason="left", by=by)


def let_in_again(person: User, by: User) -> None:
    shut_out(person, by)
    change_access(submission_id=uuid.uuid4(), user=person, may_sign_in=True, reason="back", by=by)


def made_auditor(person: User, by: User) -> None:
    change_role(submission_id=uuid.uuid4(), user=person, role=AUDITOR, reason="moved", by=by)


def manager_again(person: User, by: User) -> None:
    made_auditor(person, by)
    change_role(submission_id=uuid.uuid4(), user=person, role=MANAGER, reason="moved", by=by)


def withdrawn(person: User, by: User) -> None:
    end_token(submission_id=uuid.uuid4(), token=ApiToken.objects.get(), reason="lost", by=by)


@pytest.mark.parametrize("stop", [shut_out, let_in_again, made_auditor, manager_again, withdrawn])
def test_a_token_stops_for_good_with_the_role_or_access_of_its_person(stop: Any) -> None:
    person = ManagerFactory()
    program = program_of(person)
    assert program.get("yards").status_code == 200
    stop(person, ManagerFactory())
    answer = program.get("yards")
    assert answer.status_code == 401
    assert "works no more" in answer.json()["detail"]


def test_a_token_stops_the_day_after_its_last() -> None:
    made = token_of(ManagerFactory(), expires_on=timezone.localdate())
    assert Program(made.secret).get("yards").status_code == 200
    ended = Program(late_token().secret).get("yards")
    assert ended.status_code == 401
    assert "it held until" in ended.json()["detail"]


def late_token() -> Any:
    """A token whose last day has been, made with a clock of before."""
    with pytest.MonkeyPatch.context() as patch:
        before = timezone.localdate() - timedelta(days=3)
        patch.setattr("fleet.people.tokens.timezone.localdate", lambda: before)
        return token_of(ManagerFactory(), expires_on=before)


def test_a_token_does_no_more_than_its_scopes() -> None:
    program = program_of(ManagerFactory(), [ApiScope.HOURS])
    answer = program.get("yards")
    assert answer.status_code == 403
    assert "may not read everything" in answer.json()["detail"]


@pytest.mark.usefixtures("within_one_minute")
def test_who_tries_many_tokens_is_told_to_wait_and_a_token_that_works_is_not() -> None:
    good = program_of(ManagerFactory())
    for _ in range(FAILURES_IN_A_MINUTE):
        assert Program("lpl_guess").get("yards").status_code == 401
    refused = Program("lpl_guess").get("yards")
    assert (refused.status_code, refused["Retry-After"]) == (429, "60")
    assert good.get("yards").status_code == 200


def test_when_a_token_was_last_used_is_kept_and_nothing_else() -> None:
    made = token_of(AuditorFactory())
    before = everything()
    Program(made.secret).get("yards")
    Program(made.secret).get("yards")
    assert changed(before) == {"fleet.ApiTokenUse"}
    assert ApiToken.objects.get().use.used_at <= timezone.now()


def test_whose_a_token_is_and_managers_see_and_withdraw_it() -> None:
    person, other = DispatcherFactory(), AuditorFactory()
    token = token_of(person).token
    page, end = reverse("person", args=[person.pk]), reverse("end-token", args=[token.pk])
    for user in (person, ManagerFactory()):
        assert "Telematics of the cranes" in words(client_of(user).get(page))
        assert client_of(user).get(end).status_code == 200
    assert "Telematics" not in words(client_of(other).get(page))
    assert client_of(other).post(end, {"reason": "mine"}).status_code == 403
    sent = {"submission_id": str(uuid.uuid4()), "reason": "lost"}
    client_of(person).post(end, sent)
    assert ApiTokenEnd.objects.get().recorded_by == person
    assert "withdrawn on" in words(client_of(person).get(page))


def test_nobody_makes_a_token_for_somebody_else() -> None:
    manager, person = ManagerFactory(), DispatcherFactory()
    page = client_of(manager).get(reverse("person", args=[person.pk]))
    assert "They make their own" in words(page)
    assert reverse("new-token") not in page.content.decode()


def test_who_has_no_role_makes_no_token() -> None:
    person = User.objects.create_user("nobody", password=PASSWORD)
    assert client_of(person).post(reverse("new-token"), form_of_a_token()).status_code == 403
    with pytest.raises(ValidationError):
        make_token(
            submission_id=uuid.uuid4(),
            name="x",
            role=AUDITOR,
            scopes=["read"],
            expires_on=timezone.localdate(),
            by=person,
        )
