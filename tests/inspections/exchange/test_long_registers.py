"""A long register is tried and taken beside its page, which may be closed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import OperationalError
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from fleet.aside import NoRoom
from fleet.long_work import queue
from fleet.models import Leaf, LongWork, Yard
from inspections.exchange import acts, incoming, long_register
from inspections.models import TakenImport
from tests.fleet.people.bound import may_no_more
from tests.site.html_form import words

pytestmark = pytest.mark.django_db
YARDS = b"name\nTallow Reach\nKelder\n"
Begun = list[Callable[[], Any]]


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch, settings: Settings, tmp_path: Path) -> Begun:
    """What was begun beside the page, every register being a long one."""
    settings.MEDIA_ROOT = tmp_path
    found: Begun = []
    monkeypatch.setattr(long_register, "MOST_AT_ONCE", 0)
    monkeypatch.setattr(queue, "start", found.append)
    return found


@pytest.fixture
def post(manager_client: Client, django_capture_on_commit_callbacks: Any) -> Callable[..., Any]:
    def posted(**sent: Any) -> Any:
        with django_capture_on_commit_callbacks(execute=True):
            return manager_client.post(reverse("exchange"), sent, follow=True)

    return posted


@pytest.fixture
def begin_to_take(
    begun: Begun, post: Callable[..., Any], manager_client: Client
) -> Callable[[], None]:
    """Have a register tried, and ask for it to be taken in: that is then the last begun."""

    def begin() -> None:
        post(file=sent())
        begun[-1]()
        post(take=manager_client.get(reverse("exchange")).context["tried"])

    return begin


def sent(content: bytes = YARDS) -> SimpleUploadedFile:
    return SimpleUploadedFile("yards.csv", content)


def test_it_is_tried_and_taken_beside_the_page_which_tells_so(
    manager: User, manager_client: Client, begun: Begun, post: Callable[..., Any]
) -> None:
    assert "A register is being tried" in words(post(file=sent()))
    begun[0]()
    page = manager_client.get(reverse("exchange"))
    assert "Take it: 2 new rows" in words(page)
    assert not Yard.objects.exists()
    begun.clear()
    assert "A register is being taken in" in words(post(take=page.context["tried"]))
    begun[0]()
    polled = manager_client.get(reverse("exchange"), headers={"HX-Request": "true"})
    assert polled["HX-Redirect"] == reverse("board")
    assert "2 rows are recorded." in words(manager_client.get(reverse("board")))
    assert Yard.objects.count() == 2
    # Told once.
    assert "recorded" not in words(manager_client.get(reverse("exchange"))).split("Taken in")[0]


def test_what_is_recorded_names_who_asked_for_it(
    manager: User, begun: Begun, begin_to_take: Callable[[], None]
) -> None:
    begin_to_take()
    begun[-1]()
    leaf = Leaf.objects.filter(model="fleet.yard").earliest("pk")
    assert f'"by":{manager.pk}' in leaf.document


def test_while_it_is_worked_on_no_other_is_begun(begun: Begun, post: Callable[..., Any]) -> None:
    post(file=sent())
    assert "A register is being tried" in words(post(file=sent(b"name\nOost\n")))
    assert LongWork.objects.count() == 1


def test_one_taken_by_a_worker_that_then_died_is_not_taken_twice(
    begin_to_take: Callable[[], None],
) -> None:
    begin_to_take()
    work = queue.take_up()
    assert work is not None
    arguments = {**work.arguments, "work": work.pk}
    long_register.do(arguments, lambda _number: None)
    long_register.do(arguments, lambda _number: None)
    assert TakenImport.objects.count() == 1
    assert LongWork.objects.get(pk=work.pk).result == {"taken": 2}


@pytest.mark.parametrize("change", ["role", "access", "yard"])
def test_who_may_no_more_by_then_is_told_and_nothing_is_recorded(
    change: str, manager: User, begun: Begun, begin_to_take: Callable[[], None]
) -> None:
    begin_to_take()
    may_no_more(manager, change)
    begun[-1]()
    told = LongWork.objects.latest("pk")
    expected = "is bound to" if change == "yard" else "is no equipment manager who signs in"
    assert expected in told.result["trouble"]
    assert (told.trouble, TakenImport.objects.exists()) == ("", False)


@pytest.mark.parametrize(
    ("broken", "trouble", "expected"),
    [
        (
            "inspections.exchange.incoming.put_on_record",
            ValueError("no such yard"),
            "A row can’t be taken any more, so nothing was: see below.",
        ),
        (
            "inspections.exchange.long_register.take_and_keep",
            RuntimeError("broken"),
            "Something went wrong on our side, and nothing was kept of it.",
        ),
    ],
)
def test_one_that_can_not_be_taken_is_told_and_nothing_of_it_is(
    broken: str,
    trouble: Exception,
    expected: str,
    begun: Begun,
    post: Callable[..., Any],
    manager_client: Client,
) -> None:
    post(file=sent())
    begun[0]()
    tried = manager_client.get(reverse("exchange")).context["tried"]
    begun.clear()
    post(take=tried)
    with patch(broken, side_effect=trouble):
        begun[0]()
    assert expected in words(manager_client.get(reverse("exchange")))
    assert not Yard.objects.exists()


@pytest.mark.parametrize("what", ["tried", "taken"])
def test_one_during_which_others_held_the_records_is_done_again_and_blames_no_row(
    what: str,
    begun: Begun,
    post: Callable[..., Any],
    manager_client: Client,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    post(file=sent())
    if what == "taken":
        begun[0]()
        post(take=manager_client.get(reverse("exchange")).context["tried"])
    busy, put = [OperationalError("database is locked")], acts.put_on_record

    def put_on_record(*args: Any) -> str:
        if busy:
            raise busy.pop()
        return put(*args)

    monkeypatch.setattr(incoming, "put_on_record", put_on_record)
    monkeypatch.setattr(queue, "DONE_AGAIN_AFTER_SECONDS", 0.0)
    queue.do_all_there_is()
    assert busy == []
    result = LongWork.objects.latest("pk").result
    if what == "taken":
        assert (result, Yard.objects.count()) == ({"taken": 2}, 2)
    else:
        assert {fate["outcome"] for fate in result["trial"]["fates"]} == {"new"}


def test_a_full_disk_is_told_in_words(
    begun: Begun, post: Callable[..., Any], manager_client: Client
) -> None:
    post(file=sent())
    with patch("inspections.exchange.long_register.try_register", side_effect=NoRoom()):
        begun[0]()
    assert "The disk that holds the records is full" in words(
        manager_client.get(reverse("exchange"))
    )


def test_rows_refused_are_shown_with_why(
    begun: Begun, post: Callable[..., Any], manager_client: Client
) -> None:
    post(file=sent(b"name\n" + b"x" * 100 + b"\n"))
    begun[0]()
    page = manager_client.get(reverse("exchange"))
    assert "Nothing can be taken yet." in words(page)


def test_what_was_tried_is_taken_no_more_once_another_file_was(
    begun: Begun, post: Callable[..., Any], manager_client: Client
) -> None:
    post(file=sent())
    begun[0]()
    tried = manager_client.get(reverse("exchange")).context["tried"]
    begun.clear()
    post(file=sent(b"name\nOost\n"))
    begun[0]()
    assert "Another file was tried since" in words(post(take=tried))
    assert not Yard.objects.exists()
