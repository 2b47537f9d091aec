"""The register of a large yard is written beside its page, and fetched from there."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from fleet.long_work import queue
from fleet.models import LongWork
from inspections.exchange import long_export
from inspections.exchange.reading import MOST_BYTES, MOST_ROWS
from tests.builders import rated_unit
from tests.site.html_form import words

pytestmark = pytest.mark.django_db
Begun = list[Callable[[], Any]]


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch, settings: Settings, tmp_path: Path) -> Begun:
    """What was begun beside the page, every register being a large one."""
    settings.MEDIA_ROOT = tmp_path
    found: Begun = []
    monkeypatch.setattr(long_export, "MOST_AT_ONCE", 0)
    monkeypatch.setattr(queue, "start", found.append)
    rated_unit()
    return found


@pytest.fixture
def ask(auditor_client: Client, django_capture_on_commit_callbacks: Any) -> Callable[[str], Any]:
    def asked(method: str = "get") -> Any:
        with django_capture_on_commit_callbacks(execute=True):
            return getattr(auditor_client, method)(reverse("export", args=["csv"]), follow=True)

    return asked


def link_in(page: Any) -> str:
    return f"{reverse('export', args=['csv'])}?file={page.context['work'].pk}"


def test_it_is_written_beside_its_page_and_fetched_there(
    begun: Begun, ask: Callable[..., Any], auditor_client: Client
) -> None:
    assert "It is being written since" in words(ask())
    assert "It is being written since" in words(ask())
    assert LongWork.objects.count() == 1
    begun[0]()
    page = ask()
    assert "what was recorded since is not in it" in words(page)
    sent = auditor_client.get(link_in(page))
    assert "counts.csv" in ZipFile(BytesIO(sent.getvalue())).namelist()


def test_written_anew_it_takes_the_place_of_the_one_before(
    begun: Begun, ask: Callable[..., Any], tmp_path: Path
) -> None:
    ask()
    begun[0]()
    begun.clear()
    assert "It is being written since" in words(ask("post"))
    begun[0]()
    assert len(list((tmp_path / "exports").iterdir())) == 1


def test_nobody_fetches_what_was_written_for_somebody_else(
    begun: Begun, ask: Callable[..., Any], manager_client: Client
) -> None:
    ask()
    begun[0]()
    page = manager_client.get(link_in(ask()), follow=True)
    assert "attachment" not in page.headers.get("Content-Disposition", "")


def test_one_that_fails_says_so(
    begun: Begun, ask: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail() -> Any:
        raise OSError("no room")

    monkeypatch.setattr(long_export, "register_tables", fail)
    ask()
    begun[0]()
    assert "nothing was kept of it. Ask for it again." in words(ask())


def test_one_that_no_import_takes_whole_says_so_and_what_would_do(
    begun: Begun, ask: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(long_export, "MOST_ROWS", 10)
    ask()
    begun[0]()
    told = words(ask())
    assert "rows, and an import takes 10 at a time." in told
    assert "by their days, the oldest first" in told


@pytest.mark.parametrize(
    ("rows", "size_bytes", "expected"),
    [
        (MOST_ROWS, MOST_BYTES, ""),
        (MOST_ROWS + 1, 1, "It has 400,001 rows"),
        (1, 2 * MOST_BYTES, "It has 40 MB, and an import takes 20 at a time"),
    ],
)
def test_what_an_import_takes_is_told_by_rows_and_by_size(
    rows: int, size_bytes: int, expected: str
) -> None:
    assert long_export.too_large(rows, size_bytes).startswith(expected)
    assert bool(long_export.too_large(rows, size_bytes)) is bool(expected)
