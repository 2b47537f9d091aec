"""Guesses are counted for the whole site, whichever of its processes was asked."""

from __future__ import annotations

import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.cache import cache
from django.db import DatabaseError, Error, InterfaceError, connection
from django.http import HttpRequest
from django.test import Client, RequestFactory
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from fleet.models import Tally
from fleet.throttle import (
    FAILURES_IN_A_MINUTE,
    count,
    count_failure,
    has_failed_often,
    times_counted,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("within_one_minute")]
NAME = "own password"


@pytest.fixture(autouse=True)
def _counted_anew() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()


def request_from(address: str) -> HttpRequest:
    return RequestFactory().post("/", REMOTE_ADDR=address)


def fail(address: str, times: int = 1) -> None:
    for _ in range(times):
        count_failure(request_from(address), NAME)


def test_what_fails_at_one_process_counts_at_every_other() -> None:
    fail("192.0.2.1", FAILURES_IN_A_MINUTE - 1)
    # The memory of a process that was not asked before.
    cache.clear()
    assert not has_failed_often(request_from("192.0.2.1"), NAME)
    fail("192.0.2.1")
    assert has_failed_often(request_from("192.0.2.1"), NAME)


def test_failures_of_other_addresses_let_nobody_begin_anew() -> None:
    fail("192.0.2.1", FAILURES_IN_A_MINUTE)
    for number in range(400):
        fail(f"198.51.{number // 200}.{number % 200 + 1}")
    assert has_failed_often(request_from("192.0.2.1"), NAME)
    assert not has_failed_often(request_from("198.51.0.1"), NAME)


def test_one_thing_that_was_failed_at_shuts_no_other() -> None:
    fail("192.0.2.1", FAILURES_IN_A_MINUTE)
    assert not has_failed_often(request_from("192.0.2.1"), "sign-in")


def test_a_sign_in_is_refused_where_an_address_failed_too_often_at_other_processes() -> None:
    for _ in range(FAILURES_IN_A_MINUTE):
        count_failure(request_from("127.0.0.1"), "sign-in")
    cache.clear()
    sent = {"username": "nobody", "password": "none of them"}
    assert Client().post(reverse("sign-in"), sent).status_code == 429


def test_nothing_of_an_address_is_kept_as_it_is() -> None:
    fail("192.0.2.1")
    assert "192.0.2.1" not in Tally.objects.get().key


def test_what_counts_no_more_is_let_go_when_another_begins(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for number in range(20):
        fail(f"192.0.2.{number}")
    later = time.time() + 200
    monkeypatch.setattr("fleet.throttle.time.time", lambda: later)
    fail("192.0.2.99")
    assert Tally.objects.count() == 1


def test_who_goes_on_guessing_asks_the_database_nothing(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    fail("192.0.2.1", FAILURES_IN_A_MINUTE)
    assert has_failed_often(request_from("192.0.2.1"), NAME)
    with django_assert_num_queries(0):
        assert has_failed_often(request_from("192.0.2.1"), NAME)


@pytest.mark.parametrize(
    "trouble", [DatabaseError("database or disk is full"), InterfaceError("connection closed")]
)
def test_a_database_that_takes_nothing_breaks_no_answer(
    trouble: Error, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail_to(*_: object, **__: object) -> None:
        raise trouble

    monkeypatch.setattr(Tally._default_manager, "bulk_create", fail_to)
    fail("192.0.2.1")
    assert not has_failed_often(request_from("192.0.2.1"), NAME)


@pytest.mark.django_db(transaction=True)
def test_who_fail_at_one_moment_are_all_counted() -> None:
    def work(_: int) -> None:
        try:
            for _each in range(5):
                count("guesses", 60)
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as at_once:
        list(at_once.map(work, range(6)))
    assert times_counted("guesses") == 30
    assert Tally.objects.count() == 1
