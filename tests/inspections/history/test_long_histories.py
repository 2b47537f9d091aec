from __future__ import annotations

import socket
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.db import OperationalError
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader
from pytest_django import Settings

from fleet.long_work import queue
from fleet.models import LongWork
from inspections.history import runs
from inspections.models import HistoryRun
from ratings.models import Paper
from tests.builders import Unit, rated_unit
from tests.inspections.history.made import history_being_made, made_history
from tests.site.html_form import error_at, words

pytestmark = pytest.mark.django_db

Begun = list[Callable[[], None]]
# A process of this machine that began at another time than any that is there now.
GONE = f"{socket.gethostname()}:1:0"


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> Begun:
    """What was begun beside the page, every history being a long one."""
    found: Begun = []
    monkeypatch.setattr(runs, "MOST_AT_ONCE", 1)
    monkeypatch.setattr(queue, "start", found.append)
    return found


def being_made(**changes: Any) -> HistoryRun:
    return history_being_made(rated_unit().manager, **changes)


def asked(unit: Unit, **changes: str) -> dict[str, str]:
    return {"of": f"housing-{unit.housing.pk}", "first": "", "last": "", **changes}


def begin(client: Client, unit: Unit, capture: Any) -> str:
    with capture(execute=True):
        response = client.post(reverse("begin-history"), asked(unit))
    assert response.status_code == 302
    return str(response["Location"])


def test_a_long_history_is_not_made_by_asking_for_it(auditor_client: Client, begun: Begun) -> None:
    page = auditor_client.get(reverse("history"), asked(rated_unit()))
    assert "entries and inspections from the first record to" in words(page)
    assert not HistoryRun.objects.exists()


def test_it_is_made_beside_its_page_which_says_how_far_it_is_and_leads_to_it(
    auditor_client: Client, begun: Begun, django_capture_on_commit_callbacks: Any
) -> None:
    url = begin(auditor_client, rated_unit(), django_capture_on_commit_callbacks)
    page, total = auditor_client.get(url), HistoryRun.objects.get().total
    assert f"0 of {total} entries and inspections written" in words(page)
    assert 'hx-trigger="every 2s"' in page.content.decode()
    work, *_ = begun
    work()
    page = auditor_client.get(url)
    run = HistoryRun.objects.get()
    assert run.done == total >= 3
    assert f"{run.pages} pages, kept for a week" in words(page)
    sent: Any = auditor_client.get(reverse("history-file", args=[run.pk]))
    reader = PdfReader(BytesIO(b"".join(sent.streaming_content)))
    assert len(reader.pages) == run.pages
    (given,) = Paper.objects.all()
    assert f"Paper {given.code}" in reader.pages[-1].extract_text()
    assert f"/paper/{given.code}/" in reader.pages[-1].extract_text().replace("\n", "")


def test_asking_twice_makes_it_once(
    auditor_client: Client, begun: Begun, django_capture_on_commit_callbacks: Any
) -> None:
    unit = rated_unit()
    first, again = (
        begin(auditor_client, unit, django_capture_on_commit_callbacks) for _ in range(2)
    )
    assert first == again
    assert len(begun) == 1


def test_no_more_are_made_at_once_than_the_site_can_make(
    auditor_client: Client, manager_client: Client, begun: Begun
) -> None:
    for _ in range(runs.MOST_GOING):
        being_made()
    page = auditor_client.post(reverse("begin-history"), asked(rated_unit()))
    assert "are being made now: ask again in some minutes" in error_at(page, "of")


def test_days_that_run_backwards_begin_nothing(auditor_client: Client, begun: Begun) -> None:
    sent = asked(rated_unit(), first="2026-03-05", last="2026-03-01")
    page = auditor_client.post(reverse("begin-history"), sent)
    assert "before the first day" in error_at(page, "last")
    assert not HistoryRun.objects.exists()


def test_one_that_fails_says_so(
    auditor_client: Client,
    begun: Begun,
    django_capture_on_commit_callbacks: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    url = begin(auditor_client, rated_unit(), django_capture_on_commit_callbacks)

    def fail(*_: Any) -> int:
        raise OSError("no room")

    monkeypatch.setattr(runs, "give_out_report", fail)
    begun[0]()
    assert "nothing was kept of it. Ask for it again." in words(auditor_client.get(url))
    run = HistoryRun.objects.get()
    assert auditor_client.get(reverse("history-file", args=[run.pk])).status_code == 404


def test_one_whose_server_died_is_begun_again_and_made(
    auditor_client: Client,
    begun: Begun,
    django_capture_on_commit_callbacks: Any,
) -> None:
    url = begin(auditor_client, rated_unit(), django_capture_on_commit_callbacks)
    work = queue.take_up()
    assert work is not None
    LongWork.objects.update(worker=GONE)
    assert queue.do_all_there_is() == 1
    assert "kept for a week" in words(auditor_client.get(url))


def test_one_over_which_servers_died_twice_is_given_up_in_words(
    auditor_client: Client, begun: Begun, django_capture_on_commit_callbacks: Any
) -> None:
    url = begin(auditor_client, rated_unit(), django_capture_on_commit_callbacks)
    for _ in range(2):
        assert queue.take_up() is not None
        LongWork.objects.update(worker=GONE)
    assert queue.do_all_there_is() == 0
    page = auditor_client.get(url)
    assert "The machine stopped twice while it was done" in words(page)
    assert "every 2s" not in page.content.decode()


def test_one_of_before_there_were_workers_says_that_it_ended(auditor_client: Client) -> None:
    run = made_history(rated_unit().manager, ended_at=None, file="", pages=None)
    page = auditor_client.get(reverse("history-run", args=[run.pk]))
    assert "It ended before it was made" in words(page)


def test_files_are_kept_for_a_week(
    auditor_client: Client, begun: Begun, django_capture_on_commit_callbacks: Any
) -> None:
    old = made_history(rated_unit().manager)
    HistoryRun.objects.update(asked_at=timezone.now() - timedelta(days=8))
    begin(auditor_client, rated_unit(), django_capture_on_commit_callbacks)
    assert not HistoryRun.objects.filter(pk=old.pk).exists()
    assert not old.file.storage.exists(str(old.file.name))


@pytest.mark.parametrize("is_made", [True, False])
def test_one_begun_again_leaves_no_file_of_the_try_before(
    is_made: bool,
    auditor_client: Client,
    begun: Begun,
    django_capture_on_commit_callbacks: Any,
    monkeypatch: pytest.MonkeyPatch,
    settings: Settings,
    tmp_path: Path,
) -> None:
    settings.MEDIA_ROOT = tmp_path
    begin(auditor_client, rated_unit(), django_capture_on_commit_callbacks)
    busy, save = [OperationalError("database is locked")], HistoryRun.save

    def save_once_nobody_writes(run: HistoryRun, **given: Any) -> None:
        if busy:
            raise busy[-1] if not is_made else busy.pop()
        save(run, **given)

    with monkeypatch.context() as patch:
        patch.setattr(HistoryRun, "save", save_once_nobody_writes)
        patch.setattr(queue, "DONE_AGAIN_AFTER_SECONDS", 0.0)
        patch.setattr(queue, "TRIES_TO_DO", 2)
        begun[0]()
    run = HistoryRun.objects.get()
    (left,) = (each for each in tmp_path.rglob("*") if each.is_file())
    assert (tmp_path / str(run.file) == left) is is_made
    HistoryRun.objects.update(asked_at=timezone.now() - timedelta(days=8))
    begin(auditor_client, rated_unit(), django_capture_on_commit_callbacks)
    assert not left.exists()


class FinishedAfterOneLook:
    """Finished when it is asked for the second time."""

    def __init__(self) -> None:
        self.asked = 0

    def wait(self, seconds: float) -> bool:
        self.asked += 1
        return self.asked > 1


def test_while_it_is_made_its_page_tells_how_much_is_written(auditor_client: Client) -> None:
    run = being_made(total=40)
    finished: Any = FinishedAfterOneLook()
    assert run.work is not None
    queue._tell_until(finished, partial(queue._tell, run.work, 17))
    page = auditor_client.get(reverse("history-run", args=[run.pk]))
    assert "17 of 40 entries and inspections written" in words(page)
    assert '<progress aria-label="How much is written" max="40"' in page.content.decode()


def test_whoever_closed_its_page_finds_it_where_histories_are_asked_for(
    auditor_client: Client, begun: Begun, django_capture_on_commit_callbacks: Any
) -> None:
    unit = rated_unit()
    url = begin(auditor_client, unit, django_capture_on_commit_callbacks)
    begun[0]()
    page = auditor_client.get(reverse("history"))
    assert f'<a href="{url}">housing {unit.housing.mark}</a>' in page.content.decode()
    assert "The report (PDF)" in words(auditor_client.get(url))


def test_one_whose_file_is_gone_is_answered_in_words(auditor_client: Client) -> None:
    run = made_history(rated_unit().manager)
    run.file.storage.delete(str(run.file.name))
    answer = auditor_client.get(reverse("history-file", args=[run.pk]))
    assert answer.status_code == 404
    assert "is on record and not where it was kept" in words(answer)
