"""A code from one's phone beside the password: set up, asked, asked of roles, helped when lost."""

from __future__ import annotations

import re
import subprocess
import sys
import uuid
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django_otp.oath import TOTP
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from fleet.models import PersonChange, SignIn
from fleet.people.phones import begin
from fleet.people.second_step import confirm, has_second_step, take_away
from fleet.roles import MANAGER
from tests.factories import AuditorFactory, DispatcherFactory, ManagerFactory
from tests.inspections.api.asking import program_of
from tests.site.html_form import opened, words
from tests.site.test_security import ROOT, plain_environment

pytestmark = pytest.mark.django_db
PASSWORD = "line-pull-test"


@pytest.fixture(autouse=True)
def _counted_anew() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()


def code_of(device: TOTPDevice) -> str:
    """What a phone shows now."""
    made = TOTP(device.bin_key, device.step, device.t0, device.digits, device.drift)
    return f"{made.token():06d}"


def set_up(user: Any) -> list[str]:
    """Set a second step up, and let a minute pass, so that the code of now is not used."""
    codes = confirm(user, code_of(begin(user)))
    TOTPDevice.objects.filter(user=user).update(last_t=-1)
    return codes


def sign_in(user: Any, after: str = "") -> Client:
    client = Client()
    sent = {"username": user.username, "password": PASSWORD, "next": after}
    assert client.post(reverse("sign-in"), sent).status_code == 302
    return client


def step(client: Client, code: str) -> Any:
    return client.post(reverse("second-step"), {"code": code})


def device_of(user: Any) -> TOTPDevice:
    device: TOTPDevice = TOTPDevice.objects.get(user=user, confirmed=True)
    return device


def test_somebody_sets_a_phone_up_and_is_shown_recovery_codes_once() -> None:
    user = AuditorFactory()
    client = sign_in(user)
    url = reverse("set-up-second-step")
    page = client.get(url).content.decode()
    assert 'src="data:image/svg+xml' in page
    began = TOTPDevice.objects.get(user=user)
    answer = client.post(url, {"code": code_of(began), "old": PASSWORD})
    shown = re.findall(r"<code>(\w{5}-\w{5})</code>", answer.content.decode())
    assert len(set(shown)) == 10
    assert has_second_step(user)
    kept = set(StaticToken.objects.values_list("token", flat=True))
    assert not kept & {code.replace("-", "") for code in shown}
    assert PersonChange.objects.get(user=user).kind == "second step on"
    assert client.get(reverse("board")).status_code == 200


def test_it_is_not_set_up_without_the_password_nor_by_a_wrong_code() -> None:
    user = AuditorFactory()
    client = sign_in(user)
    url = reverse("set-up-second-step")
    client.get(url)
    began = TOTPDevice.objects.get(user=user)
    for sent in ({"code": code_of(began), "old": "not it"}, {"code": "12", "old": PASSWORD}):
        assert "It is not set up." in words(client.post(url, sent))
    assert not has_second_step(user)


def test_the_password_alone_opens_nothing_then() -> None:
    user = AuditorFactory()
    set_up(user)
    client = sign_in(user)
    for name in ("board", "people", "own-password", "set-up-second-step", "new-token"):
        assert client.get(reverse(name)).headers["Location"] == reverse("second-step"), name
    assert client.get(reverse("field-pack")).status_code == 401


def test_the_code_opens_what_was_asked_for() -> None:
    user = AuditorFactory()
    set_up(user)
    client = sign_in(user)
    client.get(reverse("people"))
    answer = step(client, code_of(device_of(user)))
    assert answer.headers["Location"] == reverse("people")
    assert client.get(reverse("people")).status_code == 200
    assert client.get(reverse("field-pack")).status_code == 200


def test_a_code_is_good_once() -> None:
    user = AuditorFactory()
    set_up(user)
    code = code_of(device_of(user))
    assert step(sign_in(user), code).status_code == 302
    assert "You are not yet let in" in words(step(sign_in(user), code))


def test_a_wrong_code_is_on_record_and_the_next_has_to_wait() -> None:
    user = AuditorFactory()
    set_up(user)
    client = sign_in(user)
    assert "not the code of this moment" in words(step(client, "000000"))
    assert SignIn.objects.filter(person=user, what="failed").count() == 1
    assert step(client, code_of(device_of(user))).status_code == 200


@pytest.mark.usefixtures("within_one_minute")
def test_eleven_guesses_of_an_address_are_too_many() -> None:
    user = AuditorFactory()
    set_up(user)
    client = sign_in(user)
    answers = [step(client, f"{number:06d}").status_code for number in range(11)]
    assert answers[-1] == 429


def test_a_recovery_code_opens_once_as_it_is_typed() -> None:
    user = AuditorFactory()
    code = set_up(user)[3]
    assert step(sign_in(user), f" {code.upper()} ").status_code == 302
    assert step(sign_in(user), code).status_code == 200
    assert StaticToken.objects.filter(device__user=user).count() == 9


def anew(client: Client, password: str = PASSWORD) -> Any:
    return client.post(reverse("new-recovery-codes"), {"old": password})


def test_new_recovery_codes_open_and_those_of_before_no_more() -> None:
    user = ManagerFactory()
    [old, *_] = set_up(user)
    client = sign_in(user)
    step(client, code_of(device_of(user)))
    page = anew(client)
    codes = re.findall(r"<code>([a-z0-9]{5}-[a-z0-9]{5})</code>", page.content.decode())
    assert len(codes) == 10
    assert "Those of before hold no more" in words(page)
    made = PersonChange.objects.filter(user=user).latest("pk")
    assert (made.kind, made.get_kind_display()) == ("recovery codes", "recovery codes made anew")
    assert PersonChange.objects.filter(user=user, kind="second step on").count() == 1
    other = sign_in(user)
    assert "This is not the code" in words(step(other, old))
    StaticDevice.objects.update(throttling_failure_count=0, throttling_failure_timestamp=None)
    assert step(other, codes[0]).status_code == 302


def test_new_recovery_codes_are_made_with_the_password_alone() -> None:
    user = ManagerFactory()
    set_up(user)
    client = sign_in(user)
    # Not before the second step.
    assert anew(client)["Location"] == reverse("second-step")
    step(client, code_of(device_of(user)))
    kept = set(StaticToken.objects.values_list("token", flat=True))
    page = words(client.get(reverse("new-recovery-codes")))
    assert "You have 10 left" in page
    assert "This is not your password" in words(anew(client, "not it"))
    assert set(StaticToken.objects.values_list("token", flat=True)) == kept


@pytest.mark.usefixtures("within_one_minute")
def test_passwords_guessed_for_new_recovery_codes_are_too_many_in_the_end() -> None:
    user = ManagerFactory()
    set_up(user)
    client = sign_in(user)
    step(client, code_of(device_of(user)))
    for _ in range(10):
        assert anew(client, "not it").status_code == 200
    assert anew(client).status_code == 429


def test_whoever_has_no_second_step_is_led_to_set_one_up() -> None:
    client = sign_in(ManagerFactory())
    assert anew(client)["Location"] == reverse("set-up-second-step")
    assert not StaticDevice.objects.exists()


def test_another_phone_takes_the_place_of_the_one_of_before() -> None:
    user = AuditorFactory()
    old = set_up(user)
    set_up(user)
    assert TOTPDevice.objects.filter(user=user).count() == 1
    assert StaticDevice.objects.filter(user=user).count() == 1
    assert step(sign_in(user), old[0]).status_code == 200


def test_a_role_that_is_asked_opens_nothing_before_it_is_set_up(settings: Any) -> None:
    manager, dispatcher = ManagerFactory(), DispatcherFactory()
    of_before = sign_in(manager)
    assert of_before.get(reverse("board")).status_code == 200
    settings.SECOND_STEP_OF = [MANAGER]
    assert of_before.get(reverse("board")).headers["Location"] == reverse("second-step")
    assert sign_in(dispatcher).get(reverse("board")).status_code == 200
    client = sign_in(manager)
    page = client.get(reverse("board"), follow=True)
    assert "Asked of your role" in words(page)
    sent = {"code": code_of(TOTPDevice.objects.get(user=manager)), "old": PASSWORD}
    client.post(reverse("set-up-second-step"), sent)
    assert client.get(reverse("board")).status_code == 200


def test_a_password_that_was_given_is_changed_after_the_second_step(settings: Any) -> None:
    settings.SECOND_STEP_OF = [MANAGER]
    manager = ManagerFactory()
    client = sign_in(manager)
    session = client.session
    session["must_change_password"] = True
    session.save()
    assert client.get(reverse("board")).headers["Location"] == reverse("own-password")
    assert client.get(reverse("own-password")).headers["Location"] == reverse("second-step")
    client.get(reverse("set-up-second-step"))
    sent = {"code": code_of(TOTPDevice.objects.get(user=manager)), "old": PASSWORD}
    client.post(reverse("set-up-second-step"), sent)
    assert client.get(reverse("own-password")).status_code == 200


def test_programs_are_asked_for_none(settings: Any) -> None:
    settings.SECOND_STEP_OF = [MANAGER]
    program = program_of(ManagerFactory())
    asked = program.client.get("/api/v1/units", headers=program.headers)
    assert asked.status_code == 200


def test_a_manager_takes_it_away_with_a_reason(manager_client: Client) -> None:
    user = AuditorFactory()
    set_up(user)
    assert "Take the second step away" in words(
        manager_client.get(reverse("person", args=[user.pk]))
    )
    url = reverse("person-second-step", args=[user.pk])
    sent = opened(manager_client, url) | {"reason": "Phone fell in the harbor."}
    assert manager_client.post(url, sent).status_code == 302
    assert not has_second_step(user)
    assert sign_in(user).get(reverse("board")).status_code == 200
    change = PersonChange.objects.filter(user=user).first()
    assert change is not None
    assert (change.kind, change.reason) == ("second step off", "Phone fell in the harbor.")


def test_who_waited_at_the_second_step_when_it_was_taken_away_is_in_by_password_alone(
    manager: Any,
) -> None:
    user = AuditorFactory()
    set_up(user)
    waiting = sign_in(user)
    assert waiting.get(reverse("board")).status_code == 302
    take_away(submission_id=uuid.uuid4(), user=user, reason="Phone lost", by=manager)
    assert waiting.get(reverse("board")).status_code == 200
    # As soon as there is one again, a sign-in that took none waits for it.
    set_up(user)
    assert waiting.get(reverse("board")).status_code == 302


def test_a_role_that_is_asked_sets_one_up_when_its_own_was_taken_away(
    manager: Any, settings: Any
) -> None:
    user = AuditorFactory()
    set_up(user)
    waiting = sign_in(user)
    settings.SECOND_STEP_OF = ["auditor"]
    take_away(submission_id=uuid.uuid4(), user=user, reason="Phone lost", by=manager)
    answer = waiting.get(reverse("second-step"))
    assert answer["Location"] == reverse("set-up-second-step")


def test_nobody_takes_their_own_away_and_nothing_is_taken_twice(manager: Any) -> None:
    set_up(manager)
    with pytest.raises(ValidationError, match="This is your own"):
        take_away(submission_id=uuid.uuid4(), user=manager, reason="x", by=manager)
    with pytest.raises(ValidationError, match="has no second step"):
        take_away(submission_id=uuid.uuid4(), user=AuditorFactory(), reason="x", by=manager)


def test_the_machine_takes_it_away_where_no_manager_can_sign_in() -> None:
    user = ManagerFactory()
    set_up(user)
    call_command("take_second_step_away", user.username, stdout=StringIO())
    assert not has_second_step(user)
    with pytest.raises(CommandError, match="has no second step"):
        call_command("take_second_step_away", user.username)


def test_a_role_that_is_none_stops_the_site_at_its_start(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from fleet.config import settings"],
        cwd=ROOT,
        env=plain_environment(tmp_path, LEDGER_SECOND_STEP_OF="managers"),
        capture_output=True,
        text=True,
        check=False,
    )
    assert "LEDGER_SECOND_STEP_OF names managers: give roles" in done.stderr
