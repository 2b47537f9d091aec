"""Passkeys: added, used as second step and as the whole sign-in, taken away, refused."""

from __future__ import annotations

import html
import json
import re
import subprocess
import sys
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.test import Client, RequestFactory
from django.urls import reverse
from django_otp.plugins.otp_static.models import StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from fleet.models import Leaf, Passkey, PasskeyEnd, PasskeyUse, Person, SignIn
from fleet.people.passkeys import Site, add_passkey, end_passkey, options_to_add, site_of
from fleet.people.second_step import has_second_step, take_away
from fleet.roles import MANAGER
from tests.factories import AuditorFactory, DispatcherFactory, ManagerFactory
from tests.fleet.people.authenticator import HERE, Device, given
from tests.site.html_form import opened, words
from tests.site.test_security import ROOT, plain_environment

pytestmark = pytest.mark.django_db
PASSWORD = "line-pull-test"


@pytest.fixture(autouse=True)
def _counted_anew() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()


def browser() -> Client:
    return Client(SERVER_NAME="localhost")


def signed_in(user: Any) -> Client:
    """Somebody who typed their password, and took no second step yet."""
    client = browser()
    sent = {"username": user.username, "password": PASSWORD}
    assert client.post(reverse("sign-in"), sent).status_code == 302
    return client


def options_on(page: Any) -> str:
    found = re.search(r'data-options="([^"]+)"', page.content.decode())
    assert found is not None
    return html.unescape(found[1])


def enter(client: Client, device: Device, **how: Any) -> Any:
    """Sign in by a passkey and nothing else."""
    asked = client.post(reverse("passkey-options"))
    sent = {"passkey": device.use(asked.content.decode(), **how), "next": ""}
    return client.post(reverse("sign-in"), sent)


def kinds_of(user: Any) -> list[str]:
    return list(SignIn.objects.filter(person=user).order_by("pk").values_list("what", flat=True))


def test_somebody_adds_a_passkey_and_is_shown_recovery_codes_once() -> None:
    user = AuditorFactory()
    client, url = signed_in(user), reverse("new-passkey")
    page, device = client.get(url), Device()
    sent = {
        "submission_id": str(uuid.uuid4()),
        "name": "office laptop",
        "old": PASSWORD,
        "passkey": device.make(options_on(page)),
    }
    answer = client.post(url, sent)
    assert len(set(re.findall(r"<code>(\w{5}-\w{5})</code>", answer.content.decode()))) == 10
    passkey = Passkey.objects.get(person=user)
    assert (passkey.name, passkey.host, passkey.recorded_by) == ("office laptop", "localhost", user)
    assert "office laptop" in words(client.get(reverse("person", args=[user.pk])))
    assert has_second_step(user)


def test_the_journal_tells_of_it_by_the_hash_of_what_the_device_calls_it() -> None:
    device = given(AuditorFactory())
    told = json.loads(Leaf.objects.get(model="fleet.passkey").document)
    assert told["row"]["name"] == "my phone"
    assert json.loads(device.make(options_to_add(HERE, AuditorFactory(), b"c" * 32)))[
        "id"
    ] not in json.dumps(told)


def test_a_wrong_password_adds_none_and_the_one_made_is_sent_again() -> None:
    user = AuditorFactory()
    client, url = signed_in(user), reverse("new-passkey")
    page, device = client.get(url), Device()
    sent = {"submission_id": str(uuid.uuid4()), "name": "x"}
    sent["passkey"] = device.make(options_on(page))
    refused = client.post(url, sent | {"old": "not it"})
    assert "No passkey is added." in words(refused)
    assert not Passkey.objects.exists()
    assert client.post(url, sent | {"old": PASSWORD}).status_code == 200
    assert Passkey.objects.get().person == user


def test_a_field_left_blank_costs_nobody_the_one_made() -> None:
    user = AuditorFactory()
    client, url = signed_in(user), reverse("new-passkey")
    sent = {"submission_id": str(uuid.uuid4()), "old": PASSWORD}
    sent["passkey"] = Device().make(options_on(client.get(url)))
    assert html.escape(sent["passkey"]) in client.post(url, sent | {"name": ""}).content.decode()
    client.post(url, sent | {"name": "key"})
    assert Passkey.objects.get().person == user


def test_one_of_a_name_longer_than_a_device_may_give_is_refused() -> None:
    user, device = AuditorFactory(), Device()
    device.id = bytes(1_024)
    with pytest.raises(ValidationError, match="not right for this page"):
        given(user, device)
    device.id = bytes(1_023)
    given(user, device)
    assert Passkey.objects.get().person == user


@pytest.mark.parametrize(
    "answer", ["", "{}", "[]", "null", "x" * 30_000, '{"id": "a", "response": 3}', '{"id": 1}']
)
def test_what_no_browser_answers_adds_nothing_and_lets_nobody_in(answer: str) -> None:
    user = AuditorFactory()
    given(user)
    client, url = browser(), reverse("new-passkey")
    client.force_login(user)
    sent = opened(client, url) | {"name": "x", "old": PASSWORD, "passkey": answer}
    assert "No passkey is added." in words(client.post(url, sent))
    assert Passkey.objects.count() == 1
    visitor = browser()
    visitor.post(reverse("passkey-options"))
    page = visitor.post(reverse("sign-in"), {"passkey": answer})
    assert "You are not let in." in words(page)
    assert "_auth_user_id" not in visitor.session


def test_it_signs_in_with_no_password_and_owes_no_second_step(settings: Any) -> None:
    settings.SECOND_STEP_OF = [MANAGER]
    user = ManagerFactory()
    device, client = given(user), browser()
    assert enter(client, device).headers["Location"] == reverse("waiting")
    assert client.get(reverse("board")).status_code == 200
    assert kinds_of(user) == ["in key"]
    use = PasskeyUse.objects.get()
    assert (use.sign_count, use.used_at is None) == (1, False)


def test_it_is_the_second_step_after_the_password() -> None:
    user = AuditorFactory()
    device = given(user)
    client = signed_in(user)
    assert client.get(reverse("people")).headers["Location"] == reverse("second-step")
    page = client.get(reverse("second-step"))
    answer = client.post(reverse("second-step"), {"passkey": device.use(options_on(page))})
    assert answer.headers["Location"] == reverse("people")
    assert client.get(reverse("people")).status_code == 200
    assert kinds_of(user) == ["in", "key"]


def test_a_role_that_is_asked_may_choose_a_passkey(settings: Any) -> None:
    settings.SECOND_STEP_OF = [MANAGER]
    client, url = signed_in(ManagerFactory()), reverse("new-passkey")
    page = client.get(url)
    assert "A second step is asked of your role" in words(page)
    sent = {"name": "key", "old": PASSWORD, "passkey": Device().make(options_on(page))}
    client.post(url, sent | {"submission_id": str(uuid.uuid4())})
    assert client.get(reverse("board")).status_code == 200


def test_who_owes_the_step_of_a_passkey_adds_no_other_before_it() -> None:
    user = AuditorFactory()
    given(user)
    for name in ("new-passkey", "set-up-second-step"):
        assert signed_in(user).get(reverse(name)).headers["Location"] == reverse("second-step")


def test_a_recovery_code_opens_where_the_passkey_is_lost() -> None:
    user = AuditorFactory()
    made = add_passkey(
        submission_id=uuid.uuid4(),
        user=user,
        name="key",
        answer=Device().make(options_to_add(HERE, user, b"c" * 32)),
        challenge=b"c" * 32,
        site=HERE,
    )
    client = signed_in(user)
    assert client.post(reverse("second-step"), {"code": made[0]}).status_code == 302
    assert kinds_of(user) == ["in", "code"]


def test_one_whose_count_went_back_is_refused_and_on_record() -> None:
    user = AuditorFactory()
    device = given(user)
    enter(browser(), device)
    copied = Device()
    copied.key, copied.id, copied.count = device.key, device.id, 0
    client = browser()
    assert "it may have been copied" in words(enter(client, copied))
    assert "_auth_user_id" not in client.session
    assert kinds_of(user) == ["in key", "failed"]
    assert enter(browser(), device).status_code == 302


def test_another_key_of_the_same_name_is_refused() -> None:
    user = AuditorFactory()
    device = given(user)
    forged = Device()
    forged.id = device.id
    assert "answer is not right" in words(enter(browser(), forged))
    assert kinds_of(user) == ["failed"]


def test_somebody_else_s_is_no_second_step() -> None:
    user, other = AuditorFactory(), DispatcherFactory()
    given(user)
    device, client = given(other), signed_in(user)
    page = client.get(reverse("second-step"))
    refused = client.post(reverse("second-step"), {"passkey": device.use(options_on(page))})
    assert "somebody else’s" in words(refused)
    assert client.get(reverse("board")).headers["Location"] == reverse("second-step")


def test_one_that_did_not_make_sure_of_its_owner_is_a_second_step_alone() -> None:
    user = AuditorFactory()
    device = given(user, Device(is_sure=False))
    assert "as the second step" in words(enter(browser(), device))
    client = signed_in(user)
    page = client.get(reverse("second-step"))
    answer = client.post(reverse("second-step"), {"passkey": device.use(options_on(page))})
    assert answer.status_code == 302


def test_an_answer_given_to_another_site_is_refused() -> None:
    user = AuditorFactory()
    device = given(user)
    device.origin = "https://false.example"
    assert "answer is not right" in words(enter(browser(), device))
    device.origin = "http://localhost"
    assert "answer is not right" in words(enter(browser(), device, host="false.example"))


def test_an_answer_is_good_once() -> None:
    user = AuditorFactory()
    device, client = given(user), browser()
    asked = client.post(reverse("passkey-options")).content.decode()
    sent = {"passkey": device.use(asked)}
    assert client.post(reverse("sign-in"), sent).status_code == 302
    client.post(reverse("sign-out"))
    assert "answer is not right" in words(client.post(reverse("sign-in"), sent))


def test_five_refused_lock_the_name_as_wrong_passwords_do() -> None:
    user = AuditorFactory()
    device, forged = given(user), Device()
    forged.id = device.id
    for _ in range(5):
        answer = enter(browser(), forged)
    assert answer.status_code == 429
    assert "Locked out" in words(enter(browser(), device))
    assert "locked" in kinds_of(user)


def test_whoever_is_deactivated_is_not_let_in() -> None:
    user = AuditorFactory()
    device = given(user)
    user.is_active = False
    user.save()
    assert "not on record here" in words(enter(browser(), device))


def test_a_password_that_was_given_is_changed_first_all_the_same() -> None:
    user = AuditorFactory()
    Person.objects.create(user=user, must_change_password=True)
    client = browser()
    enter(client, given(user))
    assert client.get(reverse("board")).headers["Location"] == reverse("own-password")


def test_its_person_takes_it_away_with_password_and_reason() -> None:
    user = AuditorFactory()
    device, client = given(user), browser()
    enter(client, device)
    url = reverse("end-passkey", args=[Passkey.objects.get().pk])
    sent = opened(client, url) | {"reason": "Sold the phone."}
    assert client.post(url, sent | {"old": "not it"}).status_code == 200
    assert client.post(url, sent | {"old": PASSWORD}).status_code == 302
    assert PasskeyEnd.objects.get().reason == "Sold the phone."
    assert not has_second_step(user)
    assert "was taken away" in words(enter(browser(), device))


@pytest.mark.parametrize("other", ["none", "passkey", "phone"])
def test_recovery_codes_go_with_the_last_second_step(other: str) -> None:
    user = ManagerFactory()
    given(user)
    first = Passkey.objects.get()
    if other == "passkey":
        given(user)
    if other == "phone":
        TOTPDevice.objects.create(user=user, name="phone", confirmed=True)
    assert StaticToken.objects.count() == 10
    end_passkey(submission_id=uuid.uuid4(), passkey=first, reason="Sold it", by=user)
    assert StaticToken.objects.count() == (0 if other == "none" else 10)


def test_one_of_another_name_of_the_site_is_no_second_step_here_and_is_owed_all_the_same(
    settings: Any,
) -> None:
    settings.ALLOWED_HOSTS = ["yard.localhost"]
    user = ManagerFactory()
    device = given(user)
    client = Client(SERVER_NAME="yard.localhost")
    client.post(reverse("sign-in"), {"username": user.username, "password": PASSWORD})
    assert client.get("/")["Location"] == reverse("second-step")
    page = client.get(reverse("second-step"))
    assert "were made for localhost and work there alone" in words(page)
    assert "data-passkey" not in page.content.decode()
    # Nor does it let anybody set another step up, who has only the password.
    for name in ("new-passkey", "set-up-second-step"):
        assert client.get(reverse(name))["Location"] == reverse("second-step")
    assert device.count == 0


def test_a_manager_takes_a_lost_one_away_and_nobody_else_does() -> None:
    user, manager = AuditorFactory(), ManagerFactory()
    given(user)
    url = reverse("end-passkey", args=[Passkey.objects.get().pk])
    stranger, client = browser(), browser()
    stranger.force_login(DispatcherFactory())
    assert stranger.post(url).status_code == 403
    client.force_login(manager)
    sent = opened(client, url) | {"reason": "Lost.", "old": PASSWORD}
    assert client.post(url, sent).status_code == 302
    assert PasskeyEnd.objects.get().recorded_by == manager


def test_who_takes_the_second_step_away_takes_every_passkey_with_it() -> None:
    user, manager = AuditorFactory(), ManagerFactory()
    given(user)
    given(user)
    take_away(submission_id=uuid.uuid4(), user=user, reason="All lost.", by=manager)
    assert PasskeyEnd.objects.filter(passkey__person=user, reason="All lost.").count() == 2
    assert not has_second_step(user)


@pytest.mark.usefixtures("within_one_minute")
def test_thirty_one_questions_of_an_address_within_a_minute_are_too_many() -> None:
    client = browser()
    answers = [client.post(reverse("passkey-options")).status_code for _ in range(31)]
    assert (answers[29], answers[30]) == (200, 429)


@pytest.mark.parametrize(
    ("host", "secure", "made_for"),
    [
        ("localhost:8000", False, Site("localhost", "http://localhost:8000")),
        ("ledger.example", True, Site("ledger.example", "https://ledger.example")),
        ("ledger.example", False, None),
        ("127.0.0.1:8000", True, None),
        ("[::1]:8000", True, None),
    ],
)
def test_none_is_made_without_https_or_for_a_bare_address(
    settings: Any, host: str, secure: bool, made_for: Site | None
) -> None:
    settings.ALLOWED_HOSTS = ["*"]
    request = RequestFactory().get("/", secure=secure, headers={"host": host})
    assert site_of(request) == made_for


def test_they_may_be_made_for_the_name_above_that_of_the_site(settings: Any) -> None:
    settings.ALLOWED_HOSTS, settings.PASSKEY_HOST = ["*"], "example"
    request = RequestFactory().get("/", secure=True, headers={"host": "ledger.example"})
    assert site_of(request) == Site("example", "https://ledger.example")
    other = RequestFactory().get("/", secure=True, headers={"host": "elsewhere.test"})
    assert site_of(other) is None


def test_the_site_starts_without_the_library_of_passkeys(tmp_path: Path) -> None:
    code = (
        "import sys, django; django.setup(); import fleet.config.urls; "
        "print(sorted({each.split('.')[0] for each in sys.modules} & {'webauthn', 'cbor2'}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env=plain_environment(tmp_path, DJANGO_SETTINGS_MODULE="fleet.config.settings"),
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "[]"
