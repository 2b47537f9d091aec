"""What a real deployment gets, where nothing says that the site is for this machine alone."""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from fleet.config.settings import PASSWORD_HASHERS as HASHERS
from tests.factories import ManagerFactory

PASSWORD = "six pads of nine"
ROOT = Path(settings.BASE_DIR)
LOOSENING = (
    "DEBUG",
    "LEDGER_PLAIN_HTTP",
    "LEDGER_BEHIND_PROXY",
    "SECRET_KEY",
    "DATABASE_URL",
    "DJANGO_ALLOW_ASYNC_UNSAFE",
)


def plain_environment(var: Path, **more: str) -> dict[str, str]:
    """This environment without what loosens a setting, its data in a folder of its own."""
    kept = {name: value for name, value in os.environ.items() if name not in LOOSENING}
    return kept | {"LEDGER_VAR": str(var)} | more


def settings_seen(var: Path, *names: str, **environment: str) -> dict[str, Any]:
    """The settings that a process started afresh sees."""
    asked = (
        "import json\nfrom fleet.config import settings\n"
        f"print(json.dumps({{name: getattr(settings, name) for name in {names!r}}}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", asked],
        cwd=ROOT,
        env=plain_environment(var, **environment),
        capture_output=True,
        text=True,
        check=True,
    )
    seen: dict[str, Any] = json.loads(done.stdout)
    return seen


SECURE = ("SECURE_SSL_REDIRECT", "SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE")


def test_a_deployment_is_secure_with_nothing_said(tmp_path: Path) -> None:
    seen = settings_seen(tmp_path, *SECURE, "SECURE_HSTS_SECONDS", "DEBUG", "ALLOWED_HOSTS")
    assert [seen[name] for name in SECURE] == [True, True, True]
    assert seen["SECURE_HSTS_SECONDS"] >= 365 * 24 * 3600
    assert seen["DEBUG"] is False
    assert "*" not in seen["ALLOWED_HOSTS"]


SESSIONS = (
    "SESSION_COOKIE_AGE",
    "SESSION_EXPIRE_AT_BROWSER_CLOSE",
    "SESSION_SAVE_EVERY_REQUEST",
    "SESSION_COOKIE_SAMESITE",
    "CSRF_COOKIE_SAMESITE",
)


def test_how_long_a_sign_in_holds_is_said_by_the_yard(tmp_path: Path) -> None:
    seen = settings_seen(tmp_path, *SESSIONS)
    assert [seen[name] for name in SESSIONS] == [30 * 24 * 3600, False, False, "Lax", "Strict"]
    given = {"LEDGER_SESSION_DAYS": "1", "LEDGER_SESSION_ENDS_WITH_BROWSER": "1"}
    seen = settings_seen(tmp_path, *SESSIONS, **given)
    assert [seen[name] for name in SESSIONS] == [24 * 3600, True, False, "Lax", "Strict"]


def test_plain_http_is_only_had_by_asking(tmp_path: Path) -> None:
    seen = settings_seen(tmp_path, *SECURE, LEDGER_PLAIN_HTTP="1")
    assert [seen[name] for name in SECURE] == [False, False, False]


def test_a_proxy_s_word_is_only_taken_where_there_is_one(tmp_path: Path) -> None:
    assert settings_seen(tmp_path, "SECURE_PROXY_SSL_HEADER") == {"SECURE_PROXY_SSL_HEADER": None}
    behind = settings_seen(tmp_path, "SECURE_PROXY_SSL_HEADER", LEDGER_BEHIND_PROXY="1")
    assert behind["SECURE_PROXY_SSL_HEADER"] == ["HTTP_X_FORWARDED_PROTO", "https"]


def test_django_s_own_deployment_check_finds_nothing(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"],
        cwd=ROOT,
        env=plain_environment(tmp_path),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def test_the_secret_key_is_made_once_for_its_owner_alone_and_kept(tmp_path: Path) -> None:
    first = settings_seen(tmp_path, "SECRET_KEY")["SECRET_KEY"]
    path = tmp_path / "secret_key"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert path.read_text().strip() == first
    assert len(first) >= 50
    assert settings_seen(tmp_path, "SECRET_KEY")["SECRET_KEY"] == first


def test_the_folder_of_the_data_is_its_owner_s_alone_one_of_an_older_release_too(
    tmp_path: Path,
) -> None:
    new = tmp_path / "new"
    settings_seen(new, "SECRET_KEY")
    assert stat.S_IMODE(new.stat().st_mode) == 0o700
    new.chmod(0o755)
    settings_seen(new, "SECRET_KEY")
    assert stat.S_IMODE(new.stat().st_mode) == 0o700


def test_a_folder_of_other_things_keeps_whom_it_is_open_to(tmp_path: Path) -> None:
    tmp_path.chmod(0o755)
    settings_seen(tmp_path, "SECRET_KEY", SECRET_KEY="k" * 60)
    assert stat.S_IMODE(tmp_path.stat().st_mode) == 0o755


def test_two_sites_have_two_secret_keys(tmp_path: Path) -> None:
    keys = [settings_seen(tmp_path / each, "SECRET_KEY")["SECRET_KEY"] for each in ("a", "b")]
    assert keys[0] != keys[1]


def test_a_secret_key_of_the_environment_is_used_and_not_written(tmp_path: Path) -> None:
    seen = settings_seen(tmp_path, "SECRET_KEY", SECRET_KEY="k" * 60)
    assert seen["SECRET_KEY"] == "k" * 60
    assert not (tmp_path / "secret_key").exists()


@pytest.mark.django_db
def test_a_form_sent_from_another_site_is_refused(manager: Any) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(manager)
    response = client.post(reverse("new-lot"), {"mark": "L-1"})
    assert response.status_code == 403


@pytest.mark.django_db
def test_no_page_may_be_framed_or_sniffed(auditor_client: Client) -> None:
    response = auditor_client.get(reverse("board"))
    assert response["X-Frame-Options"] == "DENY"
    assert response["X-Content-Type-Options"] == "nosniff"


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["board", "sign-in", "field"])
def test_no_page_runs_what_is_not_a_file_of_the_site(auditor_client: Client, name: str) -> None:
    said = auditor_client.get(reverse(name))["Content-Security-Policy"]
    directives = dict(each.split(" ", 1) for each in said.split("; "))
    assert directives["default-src"] == "'self'"
    assert directives["frame-ancestors"] == "'none'"
    assert "unsafe" not in said


@pytest.mark.django_db
def test_no_browser_keeps_a_page_of_whoever_is_signed_in(auditor_client: Client) -> None:
    assert "no-store" in auditor_client.get(reverse("board"))["Cache-Control"]


@pytest.mark.django_db
def test_a_password_kept_the_older_way_is_kept_anew_by_signing_in(settings: Settings) -> None:
    settings.PASSWORD_HASHERS = HASHERS
    person = ManagerFactory()
    person.password = make_password(PASSWORD, hasher="pbkdf2_sha256")
    person.save()
    Client().post(reverse("sign-in"), {"username": person.username, "password": PASSWORD})
    person.refresh_from_db()
    assert person.password.startswith("argon2$")
    assert person.check_password(PASSWORD)


@pytest.mark.django_db
def test_a_host_nobody_named_is_refused(auditor_client: Client) -> None:
    assert auditor_client.get("/", headers={"host": "elsewhere.example"}).status_code == 400


@pytest.mark.django_db
def test_the_secure_site_sends_a_plain_request_to_https(settings: Settings) -> None:
    settings.SECURE_SSL_REDIRECT = True
    response = Client().get("/")
    assert response.status_code == 301
    assert response["Location"].startswith("https://")


@pytest.mark.parametrize(
    "back", ["board", "https://elsewhere.example/", "//elsewhere.example/", ""]
)
def test_a_choice_of_units_leads_back_to_a_page_of_this_site_alone(
    manager_client: Client, back: str
) -> None:
    answer = manager_client.post(reverse("choose-units"), {"units": "si", "back": back})
    assert answer.status_code == 302
    assert answer["Location"] == "/"
