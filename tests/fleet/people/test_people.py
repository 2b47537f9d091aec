from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from fleet.models import PersonChange
from fleet.people import views
from fleet.people.recording import change_access, change_role, choose_password, role_of
from fleet.roles import AUDITOR, DISPATCHER, MANAGER
from tests.all_tables import changed, everything
from tests.factories import AuditorFactory, ManagerFactory, UserFactory, YardFactory
from tests.site.html_form import words

pytestmark = pytest.mark.django_db

GOOD = "tall crane by the quay"


def new_person(**more: Any) -> dict[str, Any]:
    return {
        "submission_id": str(uuid.uuid4()),
        "username": "kay",
        "first_name": "Kay",
        "last_name": "Lund",
        "email": "kay@saltmere.example",
        "role": DISPATCHER,
        "way": "link",
        "password": "",
    } | more


def enter(client: Client, **more: Any) -> Any:
    return client.post(reverse("new-person"), new_person(**more))


def link_on(page: Any) -> str:
    """The path of the one-time link that a page shows."""
    link: str = page.context["link"]
    return link.removeprefix("http://testserver")


def error_at(page: Any, name: str) -> str:
    assert page.status_code == 200
    return " ".join(page.context["form"].errors.get(name, []))


def sign_in(username: str, password: str) -> Client:
    client = Client()
    client.post(reverse("sign-in"), {"username": username, "password": password})
    return client


def is_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def test_a_person_entered_chooses_a_password_by_a_link_that_serves_once(
    manager_client: Client,
) -> None:
    yard = YardFactory()
    link = link_on(enter(manager_client, yard=yard.pk))
    kay = User.objects.get(username="kay")
    assert (role_of(kay), kay.person.yard) == (DISPATCHER, yard)
    assert not kay.has_usable_password()
    visitor = Client()
    assert "kay" in words(visitor.get(link))
    assert visitor.post(link, {"password": GOOD, "again": GOOD}).status_code == 302
    assert is_in(sign_in("kay", GOOD))
    assert Client().get(link).status_code == 410
    assert Client().post(link, {"password": "another one 7", "again": "another one 7"}).status_code
    assert is_in(sign_in("kay", GOOD))


def test_of_two_who_send_a_link_at_one_moment_it_serves_the_first(
    manager_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    link = link_on(enter(manager_client))
    real = choose_password

    def after_another(**given: Any) -> User:
        real(user=given["user"], password=GOOD, link=given["link"])
        return real(**given)

    monkeypatch.setattr(views, "choose_password", after_another)
    late = {"password": "another one 7", "again": "another one 7"}
    assert Client().post(link, late).status_code == 410
    assert is_in(sign_in("kay", GOOD))


def test_a_form_sent_twice_enters_one_person(manager_client: Client) -> None:
    form = new_person()
    first, second = (manager_client.post(reverse("new-person"), form) for _ in range(2))
    assert link_on(first) == link_on(second) or Client().get(link_on(second)).status_code == 200
    assert User.objects.filter(username="kay").count() == 1
    assert PersonChange.objects.count() == 1


def test_a_form_sent_again_gives_no_link_once_a_password_is_chosen(manager_client: Client) -> None:
    form = new_person()
    link = link_on(manager_client.post(reverse("new-person"), form))
    Client().post(link, {"password": GOOD, "again": GOOD})
    again = manager_client.post(reverse("new-person"), form)
    assert "has chosen a password since" in words(again)


def test_a_password_given_is_changed_before_any_page_opens(manager_client: Client) -> None:
    assert enter(manager_client, way="password", password=GOOD).status_code == 302
    client = sign_in("kay", GOOD)
    page = client.get(reverse("board"))
    assert page["Location"] == reverse("own-password")
    assert client.get(reverse("field-pack")).status_code == 401
    own = "a ladder of three rungs"
    sent = {"old": GOOD, "password": own, "again": own}
    assert client.post(reverse("own-password"), sent)["Location"] == reverse("board")
    assert client.get(reverse("board")).status_code == 200
    assert client.get(reverse("field-pack")).status_code == 200
    assert sign_in("kay", own).get(reverse("board")).status_code == 200


def test_the_password_given_cannot_be_kept_as_one_s_own(manager_client: Client) -> None:
    enter(manager_client, way="password", password=GOOD)
    page = sign_in("kay", GOOD).post(
        reverse("own-password"), {"old": GOOD, "password": GOOD, "again": GOOD}
    )
    assert "the password of before" in error_at(page, "password")


@pytest.mark.parametrize(
    ("name", "given", "said"),
    [
        ("username", "", "required"),
        ("username", "kay lund", "valid username"),
        ("username", "k\u200bay", "nobody sees"),
        ("username", "x" * 200, "150 at the most"),
        ("first_name", "", "required"),
        ("last_name", "Lund\U0001f6a7", "can’t be printed"),
        ("email", "kay at the yard", "valid email"),
        ("role", "", "say what they may do"),
        ("role", "owner", "not one of the available choices"),
        ("yard", "999999", "not one of the available choices"),
        ("way", "", "required"),
        ("password", GOOD, "leave this blank"),
        ("submission_id", "x", "not as the page gave it"),
    ],
)
def test_a_person_who_cannot_be_is_refused_beside_the_field(
    manager_client: Client, name: str, given: str, said: str
) -> None:
    before = everything()
    assert said in error_at(enter(manager_client, **{name: given}), name)
    assert changed(before) == set()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("", "give one, or choose the one-time link"),
        ("short", "too short"),
        ("12345678901", "entirely numeric"),
        ("password1", "too common"),
        ("kaylund1", "too similar"),
    ],
)
def test_a_password_that_will_not_do_is_refused_and_nobody_entered(
    manager_client: Client, given: str, said: str
) -> None:
    page = enter(manager_client, way="password", password=given, username="kaylund")
    assert said in error_at(page, "password")
    assert not User.objects.filter(username="kaylund").exists()


def test_two_sign_in_names_never_differ_in_capitals_alone(manager_client: Client) -> None:
    UserFactory(username="Kay")
    assert "signs in as “Kay” already" in error_at(enter(manager_client), "username")


def test_a_role_is_changed_on_record(manager: User, manager_client: Client) -> None:
    person = AuditorFactory()
    url = reverse("person-role", args=[person.pk])
    sent = {"submission_id": str(uuid.uuid4()), "role": MANAGER, "reason": "Second manager."}
    for _ in range(2):
        assert manager_client.post(url, sent).status_code == 302
    change = PersonChange.objects.get()
    assert (change.before, change.after, change.reason) == (AUDITOR, MANAGER, "Second manager.")
    assert change.recorded_by == manager
    assert role_of(User.objects.get(pk=person.pk)) == MANAGER
    page = words(manager_client.get(reverse("person", args=[person.pk])))
    assert "auditor → equipment manager" in page


@pytest.mark.parametrize("reason", ["", "   "])
def test_a_role_or_access_is_changed_for_a_reason_only(manager_client: Client, reason: str) -> None:
    person = AuditorFactory()
    for name in ("person-role", "person-access"):
        sent = {"submission_id": str(uuid.uuid4()), "role": MANAGER, "reason": reason}
        page = manager_client.post(reverse(name, args=[person.pk]), sent)
        assert "say why" in error_at(page, "reason")


def test_who_is_deactivated_is_out_at_once_and_may_be_let_in_again(manager_client: Client) -> None:
    person = AuditorFactory()
    theirs = sign_in(person.username, "line-pull-test")
    assert theirs.get(reverse("board")).status_code == 200
    url = reverse("person-access", args=[person.pk])
    manager_client.post(url, {"submission_id": str(uuid.uuid4()), "reason": "Left on 3 March."})
    assert theirs.get(reverse("board")).status_code == 302
    assert not is_in(sign_in(person.username, "line-pull-test"))
    manager_client.post(url, {"submission_id": str(uuid.uuid4()), "reason": "Came back."})
    assert is_in(sign_in(person.username, "line-pull-test"))
    reasons = PersonChange.objects.values_list("reason", flat=True)
    assert list(reasons) == ["Came back.", "Left on 3 March."]


def test_no_manager_shuts_themselves_out_or_takes_their_own_role(
    manager: User, manager_client: Client
) -> None:
    before = everything()
    for name in ("person-role", "person-access", "person-password"):
        sent = {
            "submission_id": str(uuid.uuid4()),
            "role": AUDITOR,
            "reason": "Tired.",
            "way": "link",
            "password": "",
        }
        page = manager_client.post(reverse(name, args=[manager.pk]), sent)
        assert "This is your own" in words(page)
    assert changed(before) == set()


def test_two_managers_who_shut_each_other_out_leave_one() -> None:
    one, other = ManagerFactory(), ManagerFactory()
    change_access(
        submission_id=uuid.uuid4(), user=other, may_sign_in=False, reason="Quarrel.", by=one
    )
    with pytest.raises(ValidationError, match="no equipment manager any more"):
        change_access(
            submission_id=uuid.uuid4(), user=one, may_sign_in=False, reason="Quarrel.", by=other
        )
    with pytest.raises(ValidationError, match="no equipment manager any more"):
        change_role(submission_id=uuid.uuid4(), user=one, role=AUDITOR, reason="Quarrel.", by=other)
    assert User.objects.filter(is_active=True, groups__name=MANAGER).get() == one


def test_a_reset_by_link_ends_the_old_password_and_every_link_before(
    manager_client: Client,
) -> None:
    person = AuditorFactory()
    theirs = sign_in(person.username, "line-pull-test")
    url = reverse("person-password", args=[person.pk])

    def reset() -> str:
        sent = {"submission_id": str(uuid.uuid4()), "way": "link", "password": ""}
        return link_on(manager_client.post(url, sent))

    first, second = reset(), reset()
    assert theirs.get(reverse("board")).status_code == 302
    assert not is_in(sign_in(person.username, "line-pull-test"))
    assert Client().get(first).status_code == 410
    assert Client().get(second).status_code == 200


def test_a_link_of_who_is_deactivated_holds_no_more(manager: User, manager_client: Client) -> None:
    link = link_on(enter(manager_client))
    kay = User.objects.get(username="kay")
    change_access(
        submission_id=uuid.uuid4(), user=kay, may_sign_in=False, reason="A mistake.", by=manager
    )
    assert Client().get(link).status_code == 410


@pytest.mark.parametrize("key", ["x", "MQ", "AAAA", "OTk5OTk5OTk5OTk5OTk5OTk5OTk5OTk5", "_w"])
def test_a_link_nobody_made_is_no_server_error(key: str) -> None:
    UserFactory(pk=1)
    page = Client().get(reverse("password-by-link", args=[key, "abc-def"]))
    assert page.status_code == 410


def test_a_link_is_too_old_after_three_days(
    manager_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    from datetime import datetime, timedelta

    from django.contrib.auth.tokens import PasswordResetTokenGenerator

    link = link_on(enter(manager_client))
    late = datetime.now() + timedelta(days=3, minutes=5)
    monkeypatch.setattr(PasswordResetTokenGenerator, "_now", lambda _self: late)
    assert Client().get(link).status_code == 410


def test_everybody_changes_their_own_password_and_no_other_session_lives() -> None:
    person = AuditorFactory()
    here, there = (sign_in(person.username, "line-pull-test") for _ in range(2))
    own = "a ladder of three rungs"
    sent = {"old": "line-pull-test", "password": own, "again": own}
    assert here.post(reverse("own-password"), sent).status_code == 302
    assert here.get(reverse("board")).status_code == 200
    assert there.get(reverse("board")).status_code == 302
    assert PersonChange.objects.get().kind == PersonChange.Kind.PASSWORD_CHANGED


@pytest.mark.parametrize(
    ("spoilt", "at", "said"),
    [
        ({"old": "not it"}, "old", "not your password"),
        ({"old": ""}, "old", "required"),
        ({"again": "another ladder"}, "again", "not the same"),
        ({"password": "short", "again": "short"}, "password", "too short"),
        ({"password": "9" * 200, "again": "9" * 200}, "password", "at most 128"),
        ({"password": "a\x00b ladder", "again": "a\x00b ladder"}, "password", "Null"),
    ],
)
def test_a_new_password_that_cannot_be_is_refused(
    auditor_client: Client, spoilt: dict[str, str], at: str, said: str
) -> None:
    sent = {"old": "line-pull-test", "password": GOOD, "again": GOOD} | spoilt
    before = everything()
    assert said in error_at(auditor_client.post(reverse("own-password"), sent), at)
    assert changed(before) == set()


def test_no_password_is_kept_in_words(manager_client: Client) -> None:
    enter(manager_client, way="password", password=GOOD)
    for change in PersonChange.objects.all():
        assert GOOD not in f"{change.before}{change.after}{change.reason}"


@pytest.fixture
def _no_failures_yet() -> Any:
    from django.core.cache import cache

    cache.clear()
    yield
    cache.clear()


@pytest.mark.usefixtures("_no_failures_yet", "within_one_minute")
def test_the_eleventh_wrong_password_of_an_address_within_a_minute_is_not_tried() -> None:
    person = AuditorFactory()
    wrong = {"username": person.username, "password": "not it"}
    right = {"username": person.username, "password": "line-pull-test"}
    names = [person.username, *(f"name-{number}" for number in range(9))]
    answers = [
        Client().post(reverse("sign-in"), wrong | {"username": name}).status_code for name in names
    ]
    assert set(answers) == {200}
    client = Client()
    assert client.post(reverse("sign-in"), right).status_code == 429
    elsewhere = client.post(reverse("sign-in"), right, REMOTE_ADDR="198.51.100.7")
    assert elsewhere.status_code == 302


@pytest.mark.usefixtures("_no_failures_yet", "within_one_minute")
def test_a_borrowed_session_cannot_guess_the_password(auditor_client: Client) -> None:
    wrong = {"old": "not it", "password": GOOD, "again": GOOD}
    for _ in range(10):
        auditor_client.post(reverse("own-password"), wrong)
    right = wrong | {"old": "line-pull-test"}
    assert auditor_client.post(reverse("own-password"), right).status_code == 429


def test_a_reader_sees_who_has_which_role_and_no_address(auditor_client: Client) -> None:
    kay = ManagerFactory(email="kay@saltmere.example")
    assert str(kay.last_name) in words(auditor_client.get(reverse("people")))
    page = words(auditor_client.get(reverse("person", args=[kay.pk])))
    assert "equipment manager" in page
    assert "kay@saltmere.example" not in page
