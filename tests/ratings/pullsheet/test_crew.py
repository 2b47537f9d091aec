"""The page that the code on a pull sheet leads to: no account, and nothing given away."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import Settings

from fleet.models import LongWork
from fleet.throttle import address_of
from ratings.jobs.commitments import release_unit
from ratings.jobs.validity import commitment_now
from ratings.models import Commitment, LotRating
from ratings.pullsheet.crew import MOST_A_MINUTE
from ratings.pullsheet.facts import read_sheet
from tests.builders import count
from tests.factories import DispatcherFactory
from tests.job_builders import commit, extraction_job, figured_unit
from tests.ratings.rerating.made import made_rerating
from tests.site.html_form import words as words_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _nobody_has_asked_yet() -> None:
    cache.clear()


def asked(made: Commitment, client: Client | None = None, **more: Any) -> Any:
    return (client or Client()).get(reverse("crew", args=[made.code]), **more)


def begun() -> Commitment:
    """A commitment of a job whose days have begun."""
    return commit(figured_unit(), extraction_job(first_day=timezone.localdate()))


def test_it_needs_no_account_and_says_valid() -> None:
    page = words_of(asked(begun()))
    assert "VALID" in page
    assert "It is no leave to pull" in page


def test_a_sheet_whose_days_have_not_begun_is_not_yet_valid() -> None:
    page = words_of(asked(commit(figured_unit())))
    assert "NOT YET" in page
    assert "Do not pull on it." in page


def test_a_sheet_whose_rating_changed_is_void() -> None:
    unit = figured_unit()
    made = commit(unit, extraction_job(first_day=timezone.localdate()))
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=timezone.now())
    page = words_of(asked(made))
    assert "VOID" in page
    assert "Do not pull on it." in page


def test_a_sheet_whose_unit_is_being_rated_again_is_to_be_asked_for_in_a_minute() -> None:
    unit = figured_unit()
    made = commit(unit, extraction_job(first_day=timezone.localdate()))
    going = made_rerating(LotRating.objects.in_force().get(lot=unit.lot), unit.manager)
    page = words_of(asked(made))
    assert "ASK AGAIN IN A MINUTE" in page
    assert "Do not pull on it." in page
    assert str(unit.manager) not in page
    LongWork.objects.filter(pk=going.pk).update(ended_at=timezone.now())
    assert "VALID" in words_of(asked(made))


def test_a_sheet_whose_days_are_over_is_void() -> None:
    made = begun()
    past = timezone.localdate() - timedelta(days=1)
    Commitment.objects.filter(pk=made.pk).update(first_day=past, last_day=past)
    assert "VOID" in words_of(asked(made))


def test_it_says_of_which_sheet_it_is_by_the_number_printed_on_it() -> None:
    made = begun()
    assert f"Pull sheet {made.pk}" in words_of(asked(made))
    assert read_sheet(commitment_now(made.pk), "", "us", "").record.number == made.pk


def test_it_gives_nothing_away() -> None:
    unit = figured_unit()
    made = commit(unit, extraction_job(first_day=timezone.localdate(), site="Secret quay"))
    by = DispatcherFactory(last_name="Vance", username="ovance")
    pages = [asked(made)]
    release_unit(commitment=made, reason="The client Harrow called it off.", by=by)
    pages.append(asked(made))
    for page in pages:
        for secret in (
            "Secret quay",
            unit.housing.mark,
            unit.hammer.mark,
            unit.lot.mark,
            "Vance",
            "Harrow",
            "lbf",
            f"/commitments/{made.pk}",
            "entry",
        ):
            assert secret not in page.text, secret


def test_who_is_signed_in_finds_the_way_to_the_commitment(auditor_client: Client) -> None:
    made = begun()
    assert reverse("commitment", args=[made.pk]) in asked(made, auditor_client).text


def test_no_two_commitments_bear_one_code_and_none_can_be_guessed() -> None:
    codes = {commit(figured_unit()).code for _ in range(3)}
    assert len(codes) == 3
    # Six bits a letter: 128 bits in all.
    assert {len(code) for code in codes} == {22}


@pytest.mark.parametrize("code", ["1", "no-such-code", "a" * 300])
def test_a_code_that_was_never_given_is_not_known(code: str) -> None:
    response = Client().get(reverse("crew", args=[code]))
    assert response.status_code == 404
    assert "NOT KNOWN" in words_of(response)


def test_nobody_keeps_or_indexes_it() -> None:
    response = asked(begun())
    assert "no-store" in response["Cache-Control"]
    assert "noindex" in response["X-Robots-Tag"]
    assert response["Referrer-Policy"] == "no-referrer"
    assert '<meta name="robots" content="noindex' in response.text


def test_it_is_only_read(auditor_client: Client) -> None:
    assert auditor_client.post(reverse("crew", args=[begun().code])).status_code == 405


@pytest.mark.usefixtures("within_one_minute")
def test_an_address_that_asks_too_often_is_refused_for_a_while_and_no_other_is() -> None:
    made, client = begun(), Client()
    for _ in range(MOST_A_MINUTE):
        assert asked(made, client).status_code == 200
    refused = asked(made, client)
    assert refused.status_code == 429
    assert refused["Retry-After"] == "60"
    assert "VALID" not in words_of(refused)
    assert "no-store" in refused["Cache-Control"]
    assert asked(made, client, REMOTE_ADDR="203.0.113.9").status_code == 200


@pytest.mark.usefixtures("within_one_minute")
def test_codes_tried_at_random_are_counted_too() -> None:
    client = Client()
    answers = [client.get(f"/sheet/try{n}/").status_code for n in range(MOST_A_MINUTE + 1)]
    assert answers[-2:] == [404, 429]


@pytest.mark.usefixtures("within_one_minute")
def test_the_minute_over_it_answers_again(monkeypatch: pytest.MonkeyPatch) -> None:
    made, client = begun(), Client()
    for _ in range(MOST_A_MINUTE + 1):
        last = asked(made, client)
    assert last.status_code == 429
    later = timezone.now().timestamp() + 61
    monkeypatch.setattr("fleet.throttle.time.time", lambda: later)
    assert asked(made, client).status_code == 200


@pytest.mark.parametrize(
    ("given", "is_proxied", "counted"),
    [
        ({"REMOTE_ADDR": "203.0.113.9"}, False, "203.0.113.9"),
        ({"REMOTE_ADDR": "2001:db8:1:2:3::4"}, False, "2001:db8:1:2::/64"),
        # Without a proxy anybody may write the header.
        (
            {"REMOTE_ADDR": "203.0.113.9", "HTTP_X_FORWARDED_FOR": "198.51.100.7"},
            False,
            "203.0.113.9",
        ),
        (
            {"REMOTE_ADDR": "127.0.0.1", "HTTP_X_FORWARDED_FOR": "1.2.3.4, 198.51.100.7"},
            True,
            "198.51.100.7",
        ),
        ({"REMOTE_ADDR": ""}, False, "unknown"),
    ],
)
def test_whom_a_request_is_counted_to(
    rf: Any, settings: Settings, given: dict[str, str], is_proxied: bool, counted: str
) -> None:
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if is_proxied else None
    assert address_of(rf.get("/", **given)) == counted
