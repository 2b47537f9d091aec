"""Every page, form, import and operation, sent what it never should be."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from math import ceil
from typing import Any, TypeVar

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from hypothesis.errors import FlakyFailure, FlakyStrategyDefinition

from tests.browser.yard import fill_yard
from tests.fuzz import forms, imports, programs, queries
from tests.fuzz.forms import File, post
from tests.fuzz.held import Fault, Held, forget_files, session_of
from tests.fuzz.run import Run, run_of
from tests.site.every_page import ASKED, OPEN, PHONE, PLAN, PLAN_POSTED, READ, WRITE, every_page

pytestmark = pytest.mark.django_db
Target = TypeVar("Target")


@dataclass
class Yard:
    """All that is fuzzed, over one yard that holds a record of each kind."""

    held: Held
    pages: dict[str, str]
    forms: list[forms.Sendable]
    asked: dict[str, list[str]]
    operations: list[programs.Operation]
    imports: list[imports.Import]


@pytest.fixture(scope="module")
def yard(module_db: None, request: pytest.FixtureRequest) -> Iterator[Yard]:
    """One yard for all cases: each of them is taken back."""
    every = every_page()
    manager, named = fill_yard()
    # Of what the yard has a page of, the other is left unread: each costs a tenth of a second.
    there = {forms.named(path) for path in named.values()}
    pages = {name: path for name, path in every.items() if name not in there} | named
    operations = programs.operations(manager)
    client = Client()
    client.force_login(manager)
    found, asked = _read(client, pages, is_all=run_of(request).seed is not None)
    found += _by_hand(every, found)
    taken = imports.imports(client)
    yield Yard(Held(session_of(client)), pages, found, asked, operations, taken)
    forget_files()


def _read(
    client: Client, pages: dict[str, str], is_all: bool
) -> tuple[list[forms.Sendable], dict[str, list[str]]]:
    """Return each form of all pages once, and by which names each page is asked."""
    found: dict[tuple[Any, ...], forms.Sendable] = {}
    asked: dict[str, list[str]] = {}
    for path in dict.fromkeys(pages.values()):
        name = forms.named(path)
        if name in UNREAD or name.startswith("how"):
            continue
        if not is_all and name in READ - TAKE_TOO:
            asked.setdefault(path.partition("?")[0], [])
            continue
        answer = client.get(path)
        if answer.status_code == 302 or answer.streaming:
            continue
        if "html" not in answer.get("Content-Type", ""):
            asked.setdefault(path.partition("?")[0], [])
            continue
        here, names = forms.read_page(path, answer)
        asked.setdefault(path.partition("?")[0], sorted(names))
        for form in here:
            if form.name in UNSENT:
                continue
            fields = tuple(sorted({each.name for each in form.fields}))
            found.setdefault((form.name, fields, tuple(form.buttons), form.is_look), form)
    return list(found.values()), asked


# Of the pages that all read, those that take something too. A run of its own looks at every page.
TAKE_TOO = {
    "checklist",
    "commitment",
    "due",
    "exchange",
    "extraction-rules",
    "foreign-check",
    "hire",
    "history",
    "job",
    "job-attachments",
    "job-unit",
    "labels",
    "lot-rating",
    "machine-documents",
    "pad-order",
    "person",
    "policy",
    "proof-pull",
    "proposal",
    "pull-lessons",
    "repair-order",
    "restoring-plan",
    "schedule",
    "surveillance",
    "transfer",
    "transport-rules",
    "unit-archive",
    "unit-forecast",
    "what-to-buy",
    "yard-hauls",
}
# Pages that end the session they are read in, or hold no form.
UNREAD = {"sign-out", "words"}
# Forms that are sent nothing, and why.
UNSENT = {
    "see-rerating": "has a button and no field, where something was not recorded",
    "record": "has two buttons and no field, and verifies the whole record each time",
    "sign-out": "has no field, and stands on every page",
}
# Pages that take nothing that is posted, by what else they are.
TAKES_NOTHING = {
    "ask-paper": "asked in its address",
    "calendar": "a file of a secret address",
    "crew": "a sheet to read",
    "field": "the page of phones, whose scripts send it to others",
    "field-manifest": "a file",
    "field-worker": "a file",
    "health": "for programs that watch",
    "metrics": "for programs that watch",
    "paper": "a paper to read",
    "ready": "for programs that watch",
}
# Pages whose form stands only where something is so that this yard lacks: fields by name.
FIELDS = {
    "begin-history": "of unit machine lot job first last what",
    "close-restoring": "submission_id reason note",
    "correct-entry": "submission_id reason",
    "decide-tests": "submission_id reason tests counts choice",
    "hide-first-steps": "hide",
    "job-answer-unit": "submission_id seen before site first_day last_day",
    "new-passkey": "submission_id name old passkey username",
    "new-proposal": "submission_id sealed",
    "new-recovery-codes": "old username",
    "passkey-options": "what username",
    "release-machine": "submission_id at reason qualified_person",
    "release-to-service": "submission_id at reason qualified_person",
    "second-look": "submission_id is_agreed reason",
    "second-step": "code token passkey next",
    "sign-in": "username password next passkey",
    "take-lesson": "submission_id key reason lesson",
}
# Of these, what is shown beside a form as it is filled in.
LOOKED_AT = {"job-answer-unit"}


def _by_hand(pages: dict[str, str], found: Iterable[forms.Sendable]) -> list[forms.Sendable]:
    """Return forms of the fields named above, for pages on which none was found."""
    there = {form.name for form in found}
    return [
        forms.Sendable(
            name,
            pages[name],
            pages[name],
            [forms.Field(each, "text") for each in fields.split()],
            is_look=name in LOOKED_AT,
        )
        for name, fields in FIELDS.items()
        if name not in there
    ]


def test_every_page_that_takes_something_is_fuzzed_by_a_form_of_its_own(yard: Yard) -> None:
    found = {form.name for form in yard.forms} | set(UNSENT)
    assert (WRITE | PLAN | PLAN_POSTED | ASKED | OPEN) - found == set(TAKES_NOTHING)


def test_every_operation_of_the_interface_is_fuzzed(yard: Yard) -> None:
    told = {(each.method, each.path) for each in yard.operations if each.secret}
    assert told == set(programs.documented())
    assert {each.name for each in yard.operations if not each.secret} == PHONE - {"field-pack"}


def test_files_are_the_same_whenever_they_are_made(yard: Yard) -> None:
    tables = yard.imports[0].tables
    with zipfile.ZipFile(io.BytesIO(imports.workbook(tables))) as packed:
        days = {each.date_time for each in packed.infolist()}
        told = packed.read("docProps/core.xml").decode()
    assert days == {zipfile.ZipInfo().date_time}
    assert re.findall(r"<dcterms:\w+[^>]*>([^<]+)", told) == [imports.MADE_AT] * 2


def test_each_table_of_the_register_is_read_to_its_rows_before_it_is_broken(yard: Yard) -> None:
    registers = [each.tables for each in yard.imports if each.name == "register"]
    for tables in registers:
        told = f"whole register of {', '.join(tables)}"
        with yard.held.case(told) as case:
            client, file = yard.held.client(), File("register.xlsx", imports.workbook(tables))
            answer = case.ask(lambda: post(client, reverse("exchange"), [("file", file)]))  # noqa: B023
            assert "What would become of it" in answer.text, told
    assert len(registers) > 20


def _fuzz(
    run: Run,
    kind: str,
    targets: list[Target],
    cases: int,
    hold: Callable[[Target, st.DataObject], None],
) -> None:
    """Send so many cases over all targets, and tell of every fault."""
    # A few examples are the simplest there are: of fewer than ten, hardly one is broken.
    size = max(1, ceil(10 * len(targets) / cases))
    for start in range(0, len(targets), size):
        some = targets[start : start + size]
        run.faults += _faults(run, some, max(2, ceil(cases * len(some) / len(targets))), hold)
    run.tell(kind, len(targets))


def _faults(
    run: Run, some: list[Target], cases: int, hold: Callable[[Target, st.DataObject], None]
) -> list[str]:
    @settings(
        max_examples=cases,
        deadline=None,
        database=None,
        derandomize=run.seed is None,
        suppress_health_check=list(HealthCheck),
        phases=[Phase.generate, Phase.shrink],
        report_multiple_bugs=False,
        print_blob=False,
    )
    @given(st.data())
    def one(data: st.DataObject) -> None:
        hold(some[0] if len(some) == 1 else data.draw(st.sampled_from(some)), data)

    try:
        (one if run.seed is None else seed(run.seed)(one))()
    except Fault as fault:
        return [str(fault)]
    except FlakyFailure as flaky:
        return [f"not the same twice: {each}" for each in flaky.exceptions]
    except FlakyStrategyDefinition as flaky:
        return [f"{some[0]}: {flaky}"]
    return []


def test_no_form_breaks_the_site(yard: Yard, request: pytest.FixtureRequest) -> None:
    run = run_of(request)

    def hold(form: forms.Sendable, data: st.DataObject) -> None:
        forms.hold(yard.held, form, data.draw(forms.broken(form)))

    _fuzz(run, "forms", yard.forms, run.share(0.5), hold)
    assert not run.faults, run.told()


def test_no_question_breaks_a_page(yard: Yard, request: pytest.FixtureRequest) -> None:
    run = run_of(request)

    def hold(path: str, data: st.DataObject) -> None:
        queries.hold(yard.held, path, data.draw(queries.asked(yard.asked[path])))

    _fuzz(run, "questions", list(yard.asked), run.share(0.15), hold)
    assert not run.faults, run.told()


def test_no_program_breaks_the_site(yard: Yard, request: pytest.FixtureRequest) -> None:
    run = run_of(request)

    def hold(operation: programs.Operation, data: st.DataObject) -> None:
        programs.hold(yard.held, operation, data.draw(programs.requests(operation)))

    # What is recorded has more to break than what is read.
    written = [each for each in yard.operations if each.method != "get"]
    read = [each for each in yard.operations if each.method == "get"]
    _fuzz(run, "records sent", written, run.share(0.12), hold)
    _fuzz(run, "records read", read, run.share(0.08), hold)
    assert not run.faults, run.told()


def test_no_import_breaks_the_site(yard: Yard, request: pytest.FixtureRequest) -> None:
    run = run_of(request)

    def hold(each: imports.Import, data: st.DataObject) -> None:
        imports.hold(yard.held, each, data)

    _fuzz(run, "imports", yard.imports, run.share(0.15), hold)
    assert not run.faults, run.told()
