"""What must hold of every answer: no server error, nothing half-saved, a refusal that says why."""

from __future__ import annotations

import html
import json
import re
import shutil
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from http.cookies import SimpleCookie
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.cache import cache
from django.db import connection, transaction
from django.test import Client, TestCase

from inspections.exchange.long_register import WAITING
from tests.all_tables import everything

# The account of whoever acts: what a refused form must not change either.
ACCOUNTS = {
    "auth_user": "SELECT id, username, first_name, last_name, email, is_active, is_staff, "
    "is_superuser, password FROM auth_user ORDER BY id",
    "auth_user_groups": "SELECT user_id, group_id FROM auth_user_groups ORDER BY user_id, group_id",
    "otp_static_staticdevice": "SELECT id, user_id, confirmed FROM otp_static_staticdevice "
    "ORDER BY id",
    "otp_totp_totpdevice": "SELECT id, user_id, confirmed FROM otp_totp_totpdevice ORDER BY id",
}
# What is written though nothing came of it, and why.
WRITTEN_ANYWAY = {
    "fleet.ApiTokenUse": "when a token was last used",
}
WRITES = re.compile(r"\s*(INSERT|UPDATE|DELETE|REPLACE|WITH)\b", re.IGNORECASE)
# Tables that are looked at by nobody here: sessions, lock-outs, what was refused, what was used.
ASIDE = re.compile(
    r'"(django_session|axes_\w+|fleet_refusal|fleet_signin|fleet_apitokenuse|fleet_tally)"',
    re.IGNORECASE,
)


class Fault(AssertionError):
    """Something that must never be, and what was sent."""


def facts() -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table of facts, and the accounts."""
    found = everything()
    with connection.cursor() as cursor:
        for table, query in ACCOUNTS.items():
            cursor.execute(query)
            found[table] = cursor.fetchall()
    return found


def session_of(client: Client) -> str:
    """What signs the client of a case in."""
    return client.cookies[settings.SESSION_COOKIE_NAME].value


class Writes:
    """Notes whether a statement was sent that writes to a table of facts."""

    def __init__(self) -> None:
        self.are_any = False

    def __call__(self, execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if WRITES.match(sql) and not ASIDE.search(sql):
            self.are_any = True
        return execute(sql, params, many, context)


class Held:
    """A yard held still: each case is sent to it and taken back."""

    def __init__(self, session: str) -> None:
        self.session = session
        self.facts = facts()
        self.cases = 0
        self.slowest = (0.0, "")

    def client(self) -> Client:
        """Somebody who may, just signed in."""
        client = Client()
        client.cookies = SimpleCookie({settings.SESSION_COOKIE_NAME: self.session})
        return client

    @contextmanager
    def case(self, told: str) -> Iterator[Case]:
        """Take back all that is done in the block."""
        self.cases += 1
        before, began = _kept(), time.process_time()
        cache.clear()
        case = Case(self, told)
        try:
            with transaction.atomic():
                try:
                    yield case
                finally:
                    transaction.set_rollback(True)
        finally:
            cache.clear()
            for path in _kept() - before:
                path.unlink(missing_ok=True)
            took = time.process_time() - began
            if took > self.slowest[0]:
                self.slowest = (took, told)


class Case:
    """One request, or several that follow one another."""

    def __init__(self, held: Held, told: str) -> None:
        self.held, self.told = held, told
        self.writes = Writes()
        self.kept = _kept()

    def ask(self, send: Callable[[], Any]) -> Any:
        """Return the answer. Raises Fault for a server error."""
        self.writes.are_any = False
        try:
            with (
                connection.execute_wrapper(self.writes),
                TestCase.captureOnCommitCallbacks(execute=True),
            ):
                answer = send()
                if answer.streaming:
                    # As a server sends it: what stumbles on the way is a fault too.
                    answer.kept = b"".join(answer.streaming_content)
        except Exception as trouble:
            raise self.fault(f"{type(trouble).__name__}: {str(trouble)[:300]}") from trouble
        if answer.status_code >= 500 and answer.status_code != 503:
            raise self.fault(f"answered {answer.status_code}")
        return answer

    def nothing_changed(
        self, *, but: Mapping[str, str] | None = None, may_wait: bool = False
    ) -> None:
        """Raise Fault where a row of fact is not as it was, or a file was kept.

        may_wait: whether a file that was tried may wait for its person to take it.
        """
        kept = {
            each for each in _kept() - self.kept if not (may_wait and each.parent == _waiting())
        }
        if kept:
            raise self.fault(f"refused, and kept {sorted(kept)}")
        if not self.writes.are_any:
            return
        now, allowed = facts(), WRITTEN_ANYWAY | dict(but or {})
        changed = {name for name, rows in self.held.facts.items() if rows != now[name]}
        if changed - set(allowed):
            raise self.fault(f"refused, and changed {sorted(changed)}")

    def fault(self, words: str) -> Fault:
        return Fault(f"{words}\n    {self.told}")


def _waiting() -> Path:
    """The folder of files that were tried."""
    return Path(settings.MEDIA_ROOT) / Path(WAITING).parent


def _kept() -> set[Path]:
    """The files kept beside the database."""
    return {path for path in Path(settings.MEDIA_ROOT).rglob("*") if path.is_file()}


_MARKS = re.compile(
    r'<(p|div|li|ul|td|strong|span)\b[^>]*(?:class="[^"]*\berrors?\b[^"]*"|role="alert"|'
    r'id="id_[^"]*_error"|class="crew-why")[^>]*>(.*?)</\1>',
    re.DOTALL,
)
_MAIN = re.compile(r"<main\b.*?</main>", re.DOTALL)


def marks(page: str) -> set[str]:
    """The words of every error that a page marks."""
    found = (
        re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", each))).strip()
        for _, each in _MARKS.findall(page)
    )
    return {words for words in found if words}


def says_why(answer: Any, before: set[str]) -> bool:
    """Whether an answer that is no success says in words why; before: errors of the page it was."""
    kind = answer.get("Content-Type", "")
    if answer.status_code == 405:
        return "Allow" in answer
    if "json" in kind:
        return _says_in_json(answer)
    page = answer.content.decode(errors="replace") if not answer.streaming else answer.kept.decode()
    if answer.status_code >= 400:
        main = _MAIN.search(page)
        words = re.sub(r"<[^>]+>|\s+", " ", main[0] if main else "")
        return len(words.strip()) > 20
    return bool(marks(page) - before)


def _says_in_json(answer: Any) -> bool:
    try:
        told = json.loads(answer.content)
    except ValueError:
        return False
    errors = told.get("errors")
    if isinstance(errors, dict):
        return any(str(each).strip() for given in errors.values() for each in given)
    if errors:
        return all(each["message"].strip() for each in errors)
    return bool(str(told.get("detail", "")).strip())


def forget_files() -> None:
    """Remove what was kept beside the database."""
    shutil.rmtree(settings.MEDIA_ROOT, ignore_errors=True)
