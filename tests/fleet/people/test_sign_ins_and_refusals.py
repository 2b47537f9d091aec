"""Who came in, and what was refused to whom, is on record whatever the refusal undid."""

from __future__ import annotations

import time
from typing import Any

import pytest
from django.core.cache import cache
from django.db import DatabaseError, Error, IntegrityError, InterfaceError, transaction
from django.test import Client
from django.urls import reverse

from fleet import refusals
from fleet.models import Leaf, Refusal, SignIn
from fleet.people.guesses import NOT_THE_PASSWORD
from fleet.refusals import OTHER_SITE
from tests.builders import rated_unit
from tests.factories import HammerFactory, ManagerFactory
from tests.site.html_form import opened

pytestmark = pytest.mark.django_db
PASSWORD = "line-pull-test"


@pytest.fixture(autouse=True)
def _counted_anew() -> None:
    cache.clear()


def sign_in(username: str, password: str = PASSWORD) -> Client:
    client = Client()
    client.post(reverse("sign-in"), {"username": username, "password": password})
    return client


def kept() -> Refusal:
    return Refusal.objects.get()


def test_a_sign_in_and_a_sign_out_are_on_record_with_a_leaf_each() -> None:
    user = ManagerFactory()
    sign_in(user.username).post(reverse("sign-out"))
    told = SignIn.objects.order_by("pk").values_list("what", "person")
    assert list(told) == [("in", user.pk), ("out", user.pk)]
    assert Leaf.objects.filter(model="fleet.signin").count() == 2


def test_a_wrong_password_is_on_record_and_what_was_typed_is_not() -> None:
    user = ManagerFactory()
    sign_in(user.username, "not-this-one")
    failed = SignIn.objects.get()
    assert (failed.what, failed.person) == ("failed", user)
    assert not Leaf.objects.filter(document__contains="not-this-one").exists()


def test_a_name_that_is_nobodys_may_be_a_password_and_is_not_kept() -> None:
    sign_in("my-password-in-the-wrong-field")
    assert SignIn.objects.get().person is None
    assert not Leaf.objects.filter(document__contains="wrong-field").exists()


def test_a_sign_in_made_by_the_program_itself_is_nobody_at_a_page(manager_client: Client) -> None:
    manager_client.get(reverse("board"))
    assert not SignIn.objects.exists()


def test_a_form_refused_is_on_record_with_its_fields_and_words(
    manager_client: Client, manager: Any
) -> None:
    url = reverse("new-listing", args=[HammerFactory().pk])
    manager_client.post(url, opened(manager_client, url) | {"listed_lbf": "lots"})
    refusal = kept()
    assert (refusal.why, refusal.person, refusal.page) == ("given", manager, "new-listing")
    assert refusal.path == url
    assert "Listed" in refusal.fields
    assert "lots" in refusal.words
    leaf = Leaf.objects.get(model="fleet.refusal")
    assert f'"by":{manager.pk},' in leaf.document


def test_a_refusal_stays_though_all_that_the_act_wrote_is_rolled_back(
    manager_client: Client,
) -> None:
    unit = rated_unit(in_stock=1)
    url = reverse("lot-stock", args=[unit.lot.pk])
    manager_client.post(url, opened(manager_client, url) | {"kind": "scrapped", "pads": "400"})
    assert kept().page == "lot-stock"


def test_an_act_taken_is_no_refusal(manager_client: Client) -> None:
    url = reverse("new-lot")
    fields = {"mark": "L-1", "hardness_shore_a": "60"}
    answer = manager_client.post(url, opened(manager_client, url) | fields)
    assert answer.status_code == 302
    assert not Refusal.objects.exists()


def test_what_is_only_previewed_is_no_refusal(manager_client: Client) -> None:
    url = reverse("new-listing", args=[HammerFactory().pk])
    manager_client.post(url, {"listed_lbf": "lots"}, headers={"HX-Request": "true"})
    assert not Refusal.objects.exists()


def test_what_is_not_for_a_role_is_on_record(auditor_client: Client) -> None:
    auditor_client.get(reverse("new-lot"))
    refusal = kept()
    assert (refusal.why, refusal.page, refusal.words) == ("role", "new-lot", "")


def test_a_form_that_no_page_of_the_site_sent_is_on_record(manager: Any) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(manager)
    client.post(reverse("new-lot"), {"mark": "L-1"})
    refusal = kept()
    assert (refusal.why, refusal.words) == ("given", OTHER_SITE)


def test_an_answer_to_the_phone_is_read_for_its_fields(manager_client: Client) -> None:
    manager_client.post(reverse("field-inspections"), "{}", content_type="application/json")
    refusal = kept()
    assert refusal.page == "field-inspections"
    assert refusal.fields or refusal.words


def test_of_a_password_page_no_words_and_no_token_are_kept() -> None:
    Client().get(reverse("password-by-link", args=["who", "secret-token"]))
    refusal = kept()
    assert refusal.path == "/password/<str:key>/<str:token>/"
    assert not Leaf.objects.filter(document__contains="secret-token").exists()


def test_too_wrong_a_password_of_ones_own_is_on_record(manager_client: Client) -> None:
    url = reverse("own-password")
    manager_client.post(url, {"old": "guessed-wrong", "password": "new-one-77", "again": "x"})
    refusal = kept()
    assert refusal.page == "own-password"
    assert "guessed-wrong" not in refusal.words


@pytest.mark.parametrize("old", ["", None])
def test_a_password_left_blank_is_no_guess(manager_client: Client, old: str | None) -> None:
    url = reverse("own-password")
    typed = {} if old is None else {"old": old}
    for _ in range(11):
        answer = manager_client.post(url, typed | {"password": "new-one-77", "again": "x"})
        assert answer.status_code == 200
    assert not Refusal.objects.filter(words__contains=NOT_THE_PASSWORD).exists()


def test_a_flood_of_refusals_is_counted_and_not_kept_one_by_one(
    manager_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(refusals, "KEPT_IN_A_MINUTE", 2)
    monkeypatch.setattr(time, "time", lambda: 600.0)
    for _ in range(5):
        manager_client.post(reverse("new-lot"), {})
    assert Refusal.objects.count() == 2
    monkeypatch.setattr(time, "time", lambda: 700.0)
    manager_client.post(reverse("new-lot"), {})
    assert list(Refusal.objects.order_by("pk").values_list("left_out", flat=True)) == [0, 0, 3]


def test_a_flood_of_wrong_passwords_keeps_no_true_sign_in_off_the_record(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(refusals, "KEPT_IN_A_MINUTE", 2)
    monkeypatch.setattr(time, "time", lambda: 600.0)
    person = ManagerFactory()
    for _ in range(4):
        refusals.keep(SignIn, person, what=SignIn.What.FAILED)
    refusals.keep(SignIn, person, what=SignIn.What.IN)
    kept = SignIn.objects.order_by("pk").values_list("what", flat=True)
    assert list(kept) == ["failed", "failed", "in"]


@pytest.mark.parametrize(
    "trouble", [DatabaseError("database or disk is full"), InterfaceError("connection closed")]
)
def test_a_refusal_that_cannot_be_recorded_does_not_break_the_answer(
    trouble: Error, manager_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail_to(**_: Any) -> None:
        raise trouble

    monkeypatch.setattr(Refusal._default_manager, "create", fail_to)
    assert manager_client.post(reverse("new-lot"), {}).status_code == 200
    assert not Refusal.objects.exists()


def test_neither_is_ever_changed_or_removed() -> None:
    sign_in("nobody")
    with pytest.raises(IntegrityError), transaction.atomic():
        SignIn.objects.update(what="in")
    with pytest.raises(IntegrityError), transaction.atomic():
        SignIn.objects.get().delete()
