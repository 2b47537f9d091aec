"""What must hold of every answer: no server error, nothing half-saved, a refusal that says why.

A refusal of what was sent names the field, by a mark at it, by its label or by its column; what
concerns none is told below, each with why.
"""

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
    return {words for _, each in _MARKS.findall(page) if (words := plain(each))}


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


# Refused for another cause than what a field holds: who asks, for what, by which method, how much.
ABOUT_NO_FIELD = {401, 403, 404, 405, 409, 413, 415, 429, 503}
# Words that name no one field, and why.
OF_THE_WHOLE = {
    "The form is broken off": "where a form breaks off, no field can be told from another",
    "Too many fields": "none of them is the one too many",
    "What came is not whole": "no field of it can be read",
    "This is not an inspection": "what came is one value, without fields",
    "This is not a pull": "what came is one value, without fields",
    "No position was given a pad": "any of the positions would do",
    "No meter was read": "any of the meters would do",
    "Nothing differs from": "any of the fields would do",
    "Somebody has changed the record of": "whatever they changed must be read first",
    " is in use already": "what is asked for is so already",
    " is out of use already": "what is asked for is so already",
    " is not locked out": "what is asked for is so already",
    " are in use there": "other machines stand in the way",
    " hangs on ": "another machine stands in the way",
    "Nothing is chosen": "any of the units and lots would do",
    "That is no paper": "the page takes a file and nothing else",
    "No file came": "the page takes a file and nothing else",
    "This is no proposal of this site": "what the page sealed was changed on its way",
    "Passkeys work over HTTPS alone": "it is the address of the site that won’t do",
}
_MARKED_AT = re.compile(r'<div id="[^"]+_error">\s*<p|<div class="errors"(?:(?!</div>).)*href="#')
_LABELS = re.compile(r"<(label|legend|th|dt|h[23])\b[^>]*>(.*?)</\1>", re.DOTALL)
# Of fields that a page hides, as its list of errors calls them.
_HIDDEN = ("form id", "what was on record", "ledger entry", "which piles")


def names_a_field(answer: Any, before: set[str]) -> bool:
    """Whether a refusal names the field that won't do, or is known to concern none."""
    if answer.status_code in ABOUT_NO_FIELD:
        return True
    if "json" in answer.get("Content-Type", ""):
        return _named_in_json(answer)
    page = answer.content.decode(errors="replace") if not answer.streaming else answer.kept.decode()
    if _MARKED_AT.search(re.sub(r"\s+", " ", page)):
        return True
    labels = {
        plain(each).partition(",")[0].removesuffix("(optional)").strip().lower()
        for _, each in _LABELS.findall(page)
    }
    known = [re.escape(each) for each in (*labels, *_HIDDEN) if len(each) > 2]
    return any(
        re.search(rf"\b({'|'.join(known)})\b", each.lower()) or of_the_whole(each)
        for each in marks(page) - before
    )


def of_the_whole(words: str) -> bool:
    """Whether words refuse what was sent for a cause that is known to name no one field."""
    return any(each in words for each in OF_THE_WHOLE)


def _named_in_json(answer: Any) -> bool:
    told = json.loads(answer.content)
    errors = told.get("errors") or []
    if isinstance(errors, dict):
        return any(errors) or of_the_whole(str(errors))
    # A body that is missing, or can't be read, has no field yet.
    no_body = answer.status_code == 400 and all(each["given"] is None for each in errors)
    is_named = any(each["field"] for each in errors)
    return is_named or no_body or of_the_whole(told.get("detail", ""))


def plain(markup: str) -> str:
    """The words of markup."""
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", markup))).strip()


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
