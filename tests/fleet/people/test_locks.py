"""Who guesses passwords is locked out for a while, and whoever that hits is let in by a manager."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from axes.models import AccessAttempt
from django.contrib.auth.models import User
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.db.models import F
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import Leaf, PersonChange, SignIn
from fleet.people.recording import choose_password, lift_lock
from tests.builders import rated_unit
from tests.factories import AuditorFactory, ManagerFactory
from tests.inspections.field.sent import payload, send
from tests.site.html_form import opened, words

pytestmark = pytest.mark.django_db
PASSWORD = "line-pull-test"
LIMIT = 5
ELSEWHERE = "198.51.100.7"


@pytest.fixture(autouse=True)
def _counted_anew() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()


def try_in(user: Any, password: str = "not it", address: str = "192.0.2.1", **meta: Any) -> Any:
    name = user if isinstance(user, str) else user.username
    sent = {"username": name, "password": password}
    return Client().post(reverse("sign-in"), sent, REMOTE_ADDR=address, **meta)


def locked_out(user: Any, **where: str) -> Any:
    for _ in range(LIMIT):
        last = try_in(user, **where)
    return last


def test_the_fifth_wrong_password_locks_and_the_right_one_is_not_tried_then() -> None:
    person = AuditorFactory()
    assert [try_in(person).status_code for _ in range(LIMIT)] == [200] * (LIMIT - 1) + [429]
    assert try_in(person, PASSWORD).status_code == 429


def said(answer: Any) -> str:
    """What the page of a sign-in that failed says of it, without the field that names who."""
    page = words(answer)
    return page[page.index("You are not signed in.") : page.index("User")]


def test_each_wrong_password_says_how_many_more_lock_the_name_out() -> None:
    person = AuditorFactory()
    expected = [f"After {left} more wrong tries" for left in (4, 3, 2)] + [
        "After one more wrong try"
    ]
    for each in expected:
        assert f"{each}, this name is locked out from here for 15 minutes." in words(try_in(person))


def test_the_tries_left_tell_nobody_which_names_there_are() -> None:
    for _ in range(LIMIT - 1):
        assert said(try_in(AuditorFactory.create(username="somebody"))) == said(try_in("no-one"))
        User.objects.filter(username="somebody").update(username=f"was-{uuid.uuid4()}")


def test_a_field_left_blank_is_no_try() -> None:
    person = AuditorFactory()
    assert "more wrong" not in words(try_in(person, ""))
    assert "After 4 more wrong tries" in words(try_in(person))


def test_the_page_says_until_when_and_who_lifts_it() -> None:
    answer = locked_out(AuditorFactory())
    until = timezone.localtime(timezone.now() + timedelta(minutes=15))
    page = words(answer)
    assert "in 15 minutes" in page
    assert f"{until:%H:%M}" in page or f"{until - timedelta(minutes=1):%H:%M}" in page
    assert "An equipment manager can lift the lock" in page
    assert 14 * 60 < int(answer["Retry-After"]) <= 15 * 60


def test_one_address_locks_nobody_out_elsewhere_nor_anybody_else() -> None:
    person, other = AuditorFactory(), AuditorFactory()
    locked_out(person)
    assert try_in(person, PASSWORD, address=ELSEWHERE).status_code == 302
    assert try_in(other, PASSWORD).status_code == 302


def test_another_browser_is_no_way_around_it() -> None:
    person = AuditorFactory()
    for number in range(LIMIT):
        try_in(person, HTTP_USER_AGENT=f"browser {number}")
    assert try_in(person, PASSWORD, HTTP_USER_AGENT="one more").status_code == 429


def test_it_ends_by_itself_and_a_try_meanwhile_does_not_lengthen_it() -> None:
    person = AuditorFactory()
    locked_out(person)
    AccessAttempt.objects.update(attempt_time=F("attempt_time") - timedelta(minutes=14))
    assert try_in(person).status_code == 429
    AccessAttempt.objects.update(attempt_time=F("attempt_time") - timedelta(minutes=2))
    assert try_in(person, PASSWORD).status_code == 302


def test_whoever_signs_in_begins_anew() -> None:
    person = AuditorFactory()
    for _ in range(2):
        for _ in range(LIMIT - 1):
            try_in(person)
        assert try_in(person, PASSWORD).status_code == 302


def test_a_name_that_is_nobody_s_is_locked_alike_and_kept_nowhere() -> None:
    typed = "my-password-in-the-wrong-field"
    assert locked_out(typed).status_code == 429
    attempt = AccessAttempt.objects.get()
    assert typed not in f"{attempt.username} {attempt.post_data} {attempt.get_data}"


def test_failures_and_lock_are_on_record_once_without_the_address() -> None:
    person = AuditorFactory()
    locked_out(person)
    try_in(person)
    told = [each.what for each in SignIn.objects.filter(person=person)]
    assert (told.count("failed"), told.count("locked")) == (LIMIT + 1, 1)
    assert not Leaf.objects.filter(document__contains="192.0.2.1").exists()


def test_who_did_what_tells_of_the_lock(auditor_client: Client) -> None:
    person = AuditorFactory()
    locked_out(person)
    page = words(auditor_client.get(reverse("who-did-what")))
    assert f"{person.get_full_name()} was locked out for a while" in page


def test_behind_a_proxy_the_address_is_the_one_the_proxy_saw(settings: Any) -> None:
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    person = AuditorFactory()
    for number in range(LIMIT):
        try_in(person, HTTP_X_FORWARDED_FOR=f"10.0.0.{number}, {ELSEWHERE}")
    there = {"HTTP_X_FORWARDED_FOR": f"10.9.9.9, {ELSEWHERE}"}
    assert try_in(person, PASSWORD, **there).status_code == 429
    beside = {"HTTP_X_FORWARDED_FOR": "203.0.113.5"}
    assert try_in(person, PASSWORD, **beside).status_code == 302


@pytest.mark.parametrize("address", ["2001:db8:1:2::7", "no address"])
def test_any_address_is_counted(address: str) -> None:
    person = AuditorFactory()
    locked_out(person, address=address)
    assert try_in(person, PASSWORD, address=address).status_code == 429


def test_a_phone_whose_session_ran_out_locks_nobody_out() -> None:
    unit = rated_unit()
    for _ in range(2 * LIMIT):
        assert send(Client(), payload(unit)).status_code in {401, 403}
    assert not AccessAttempt.objects.exists()
    assert try_in(unit.manager, PASSWORD).status_code == 302


def test_a_manager_lifts_it_on_the_person_s_page(manager_client: Client, manager: Any) -> None:
    person = AuditorFactory()
    locked_out(person)
    page = words(manager_client.get(reverse("person", args=[person.pk])))
    assert "Locked out" in page
    assert "192.0.2.1" in page
    url = reverse("person-lock", args=[person.pk])
    assert manager_client.post(url, opened(manager_client, url)).status_code == 302
    assert try_in(person, PASSWORD).status_code == 302
    change = PersonChange.objects.get(user=person)
    assert (change.kind, change.recorded_by) == ("lock lifted", manager)


def test_no_reader_sees_the_address(auditor_client: Client) -> None:
    person = AuditorFactory()
    locked_out(person)
    page = words(auditor_client.get(reverse("person", args=[person.pk])))
    assert "Locked out" in page
    assert "192.0.2.1" not in page


def test_a_second_copy_of_a_lifting_changes_nothing(manager: Any) -> None:
    person, submission_id = AuditorFactory(), uuid.uuid4()
    locked_out(person)
    for _ in range(2):
        lift_lock(submission_id=submission_id, user=person, by=manager)
    assert PersonChange.objects.filter(kind="lock lifted").count() == 1


def test_where_nothing_is_locked_nothing_is_lifted(manager_client: Client) -> None:
    person = AuditorFactory()
    url = reverse("person-lock", args=[person.pk])
    page = words(manager_client.post(url, opened(manager_client, url)))
    assert f"{person.get_full_name()} is not locked out" in page
    assert not PersonChange.objects.filter(kind="lock lifted").exists()


def test_the_machine_lifts_it_where_no_manager_can_sign_in() -> None:
    kay = ManagerFactory()
    locked_out(kay)
    out = StringIO()
    call_command("lift_lock", kay.username, stdout=out)
    assert "may try to sign in again" in out.getvalue()
    assert try_in(kay, PASSWORD).status_code == 302
    with pytest.raises(CommandError, match="is not locked out"):
        call_command("lift_lock", kay.username)
    with pytest.raises(CommandError, match="Nobody signs in as “nobody-here”"):
        call_command("lift_lock", "nobody-here")


def test_a_new_password_begins_anew() -> None:
    person = AuditorFactory()
    locked_out(person)
    choose_password(user=User.objects.get(pk=person.pk), password="tall crane by the quay")
    assert try_in(person, "tall crane by the quay").status_code == 302
