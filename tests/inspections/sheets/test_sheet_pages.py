from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from fleet.long_work import queue
from fleet.models import SuppressorHousing
from inspections.models import Inspection, SheetDraft
from inspections.sheets import long_work
from ratings.mounting import mount_housing
from tests.factories import HammerFactory, HousingFactory, ManagerFactory, YardFactory
from tests.fleet.people.bound import may_no_more
from tests.inspections.sheets.sheet_makers import confirmed, kept, workbook
from tests.site.html_form import words

pytestmark = pytest.mark.django_db

LOG: list[list[Any]] = [
    ["Unit", "Date", "Travel", "Mood"],
    ["H-12", datetime(2025, 3, 14), "7 3/4", "calm"],
    ["H12", datetime(2025, 4, 14), "about 8", "calm"],
]


@pytest.fixture
def manager() -> User:
    return ManagerFactory()


@pytest.fixture
def client(manager: User) -> Client:
    client = Client()
    client.force_login(manager)
    return client


@pytest.fixture
def housing() -> SuppressorHousing:
    housing = HousingFactory(mark="H-12", yard=YardFactory(name="South"))
    mount_housing(
        housing=housing,
        hammer=HammerFactory(mark="V-3", yard=housing.yard),
        at=datetime(2024, 1, 1, tzinfo=UTC),
        by=ManagerFactory(),
    )
    return housing


def sent(client: Client, housing: SuppressorHousing, content: bytes, **more: Any) -> Any:
    file = SimpleUploadedFile("log.xlsx", content)
    return client.post(
        reverse("sheets"), {"yard": housing.yard_id, "file": file, **more}, follow=True
    )


def fields(page: str) -> dict[str, str]:
    """What the selects of a page would send as they stand."""
    found = {}
    for name, options in re.findall(r'<select name="([^"]+)".*?>(.*?)</select>', page, re.S):
        chosen = re.search(r'value="([^"]*)" selected', options)
        plain = re.search(r"<option selected>([^<]+)", options)
        found[name] = chosen[1] if chosen else (plain[1].strip() if plain else "")
    return found


def test_a_sheet_is_sent_confirmed_answered_and_taken(
    client: Client, housing: SuppressorHousing
) -> None:
    page = sent(client, housing, workbook(Log=LOG)).content.decode()
    assert "7 3/4\n            → <strong>7.75 in</strong>" in page
    assert "asked about: “about 8” is not a number" in page
    draft = SheetDraft.objects.get()
    page = client.post(
        reverse("sheet", args=[draft.pk]), fields(page), follow=True
    ).content.decode()
    assert "1 doubt: nothing is taken yet" in " ".join(page.split())
    assert 'name="take"' not in page
    (typed,) = re.findall(r'name="(typed-\w+)"', page)
    where = reverse("sheet-rehearsal", args=[draft.pk])
    page = client.post(where, {typed: "8"}, follow=True).content.decode()
    assert "2 new inspections" in " ".join(re.sub("<[^>]+>", " ", page).split())
    assert Inspection.objects.count() == 0
    client.post(where, {"take": "1"})
    assert set(Inspection.objects.values_list("travel_in", flat=True)) == {7.75, 8.0}
    assert not SheetDraft.objects.exists()


def test_a_sheet_is_not_taken_while_something_is_in_doubt(
    client: Client, housing: SuppressorHousing
) -> None:
    page = sent(client, housing, workbook(Log=LOG)).content.decode()
    draft = SheetDraft.objects.get()
    client.post(reverse("sheet", args=[draft.pk]), fields(page))
    where = reverse("sheet-rehearsal", args=[draft.pk])
    page = client.post(where, {"take": "1"}, follow=True).content.decode()
    assert "Something is in doubt still" in page
    assert Inspection.objects.count() == 0


def test_a_column_left_out_is_not_taken(client: Client, housing: SuppressorHousing) -> None:
    page = sent(client, housing, workbook(Log=LOG)).content.decode()
    draft = SheetDraft.objects.get()
    chosen = fields(page) | {"column-0-2": "", "column-0-3": "note"}
    client.post(reverse("sheet", args=[draft.pk]), chosen)
    client.post(reverse("sheet-rehearsal", args=[draft.pk]), {"take": "1"})
    assert set(Inspection.objects.values_list("travel_in", flat=True)) == {None}
    assert {each.note.split(" From")[0] for each in Inspection.objects.all()} == {"calm"}


def test_columns_that_cannot_be_are_refused_in_words(
    client: Client, housing: SuppressorHousing
) -> None:
    page = sent(client, housing, workbook(Log=LOG)).content.decode()
    draft = SheetDraft.objects.get()
    where = reverse("sheet", args=[draft.pk])
    answer = client.post(where, fields(page) | {"column-0-1": "", "column-0-3": "travel_in"})
    text = words(answer)
    assert "two columns are taken for travel taped. Leave one of them out." in text
    assert "no column is taken for the day, or day and time" in text
    assert not SheetDraft.objects.get().is_confirmed


def test_what_a_sheet_tells_of_may_be_changed_and_its_columns_are_offered_anew(
    client: Client, housing: SuppressorHousing
) -> None:
    page = sent(client, housing, workbook(Log=LOG)).content.decode()
    where = reverse("sheet", args=[SheetDraft.objects.get().pk])
    page = client.post(where, fields(page) | {"sort-0": "leave"}, follow=True).content.decode()
    assert "this sheet is\n    left" in page
    page = client.post(where, fields(page) | {"sort-0": "inspections"}, follow=True)
    assert "the unit: mark of its housing or hammer" in page.content.decode()


def test_an_answer_may_be_taken_back(client: Client, housing: SuppressorHousing) -> None:
    page = sent(client, housing, workbook(Log=LOG)).content.decode()
    draft = SheetDraft.objects.get()
    client.post(reverse("sheet", args=[draft.pk]), fields(page))
    where = reverse("sheet-rehearsal", args=[draft.pk])
    page = client.get(where).content.decode()
    (typed,) = re.findall(r'name="(typed-\w+)"', page)
    client.post(where, {typed: "8"})
    assert "1 answer given" in " ".join(client.get(where).content.decode().split())
    client.post(where, {"back": "travel_in|about 8"})
    assert "1 doubt: nothing is taken yet" in " ".join(client.get(where).content.decode().split())


def test_a_sheet_waits_for_its_own_person_alone(client: Client, housing: SuppressorHousing) -> None:
    draft = kept(workbook(Log=LOG), housing.yard)
    for name in ("sheet", "sheet-rehearsal"):
        assert client.get(reverse(name, args=[draft.pk])).status_code == 404
    assert client.post(reverse("throw-sheet-away", args=[draft.pk])).status_code == 404
    assert draft.name not in client.get(reverse("sheets")).content.decode()


def test_a_sheet_may_be_thrown_away(
    client: Client, manager: User, housing: SuppressorHousing
) -> None:
    draft = kept(workbook(Log=LOG), housing.yard, owner=manager)
    assert draft.name in client.get(reverse("sheets")).content.decode()
    client.post(reverse("throw-sheet-away", args=[draft.pk]))
    assert not SheetDraft.objects.exists()


@pytest.mark.parametrize(
    ("given", "refusal"),
    [
        ({}, "Give one of the two: a file, or pasted cells."),
        ({"pasted": "  "}, "Give one of the two"),
        ({"file": SimpleUploadedFile("log.csv", b" ")}, "This file is empty"),
        ({"file": SimpleUploadedFile("log.csv", b"a"), "pasted": "b"}, "Give one of the two"),
        ({"pasted": "H-12", "yard": ""}, "choose the yard that keeps this sheet"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(
    client: Client, housing: SuppressorHousing, given: dict[str, Any], refusal: str
) -> None:
    answer = client.post(reverse("sheets"), {"yard": housing.yard_id} | given)
    assert refusal in answer.content.decode()
    assert not SheetDraft.objects.exists()


def test_text_of_a_sheet_is_shown_as_text(client: Client, housing: SuppressorHousing) -> None:
    rows: list[list[Any]] = [
        ["Unit", "Date", "Remarks"],
        ["H-12", datetime(2025, 3, 14), "<script>x</script>"],
    ]
    page = sent(client, housing, workbook(Log=rows)).content.decode()
    assert "<script>x" not in page
    assert "&lt;script&gt;x" in page


def test_a_long_sheet_is_rehearsed_and_taken_beside_the_page(
    client: Client,
    housing: SuppressorHousing,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: Any,
) -> None:
    begun: list[Callable[[], None]] = []
    monkeypatch.setattr(long_work, "MOST_AT_ONCE", 1)
    monkeypatch.setattr(queue, "start", begun.append)
    rows = [LOG[0][:3], LOG[1][:3], ["H-12", datetime(2025, 4, 14), 8]]
    page = sent(client, housing, workbook(Log=rows)).content.decode()
    draft = SheetDraft.objects.get()
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(reverse("sheet", args=[draft.pk]), fields(page), follow=True)
    assert "log.xlsx is being rehearsed" in answer.content.decode()
    where = reverse("sheet-rehearsal", args=[draft.pk])
    begun[0]()
    begun.clear()
    assert "Take it in: 2" in " ".join(client.get(where).content.decode().split())
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(where, {"take": "1"}, follow=True)
    assert "is being taken in" in answer.content.decode()
    assert client.post(where, {"take": "1"}).status_code == 200
    (work,) = begun
    work()
    assert Inspection.objects.count() == 2
    assert client.get(where, headers={"HX-Request": "true"}).headers["HX-Redirect"] == reverse(
        "board"
    )
    assert not SheetDraft.objects.exists()


@pytest.mark.parametrize("change", ["role", "access", "yard"])
def test_a_long_sheet_of_whom_may_no_more_by_then_is_not_taken_and_says_so(
    change: str, manager: User, housing: SuppressorHousing
) -> None:
    rows = [LOG[0][:3], LOG[1][:3]]
    draft = confirmed(kept(workbook(Log=rows), housing.yard, owner=manager))
    long_work.begin(draft, manager, long_work.TAKE, 1)
    may_no_more(manager, change)
    assert queue.do_all_there_is() == 1
    draft.refresh_from_db()
    expected = "is bound to" if change == "yard" else "is no equipment manager who signs in"
    assert expected in draft.rehearsal["trouble"]
    assert not Inspection.objects.exists()


def test_a_long_sheet_that_was_taken_is_not_said_to_have_come_to_nothing(
    manager: User, housing: SuppressorHousing
) -> None:
    draft = confirmed(kept(workbook(Log=LOG), housing.yard, owner=manager))
    SheetDraft.objects.update(rehearsal={"taken": 2})
    assert not long_work.give_up({"draft": draft.pk}, queue.NOT_TAKEN)
    draft.refresh_from_db()
    assert draft.rehearsal == {"taken": 2}


def test_work_that_died_with_its_server_is_not_waited_for(
    client: Client, manager: User, housing: SuppressorHousing
) -> None:
    draft = confirmed(kept(workbook(Log=LOG), housing.yard, owner=manager))
    long_ago = "2026-01-01T00:00:00+00:00"
    draft.rehearsal = {"working": {"what": "rehearsed", "since": long_ago, "rows": 2, "tried": {}}}
    draft.save()
    page = client.get(reverse("sheet-rehearsal", args=[draft.pk])).content.decode()
    assert '<button class="main">Rehearse</button>' in page


def test_marks_beside_a_column_of_hammers_are_taken_for_those_of_housings(
    client: Client, housing: SuppressorHousing
) -> None:
    hammer = HammerFactory()
    rows = [
        ["Hammer", "What it hangs in", "Date", "Travel"],
        [hammer.mark, housing.mark, "2025-03-14", "8"],
    ]
    page = sent(client, housing, workbook(Log=rows)).content.decode()
    assert fields(page)["column-0-1"] == "housing"
