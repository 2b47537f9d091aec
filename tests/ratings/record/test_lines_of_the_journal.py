"""The journal as a table: all of it or some, with the very text that was hashed."""

from __future__ import annotations

import csv
import json
from io import BytesIO, StringIO
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from fleet import cells
from fleet.cells import LETTERS_OF_CELL, write_rows
from fleet.journal.sequence import give_places
from fleet.journal.spelling import hash_of
from fleet.models import Leaf
from ratings.record.verify import verify_record
from tests.builders import rated_unit
from tests.conftest import append_only_lifted
from tests.factories import YardFactory
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def sent(client: Client, form: str, **asked: str) -> bytes:
    answer = client.get(reverse("journal-lines", args=[form]), asked)
    assert answer.status_code == 200
    return b"".join(answer.streaming_content)  # type: ignore[attr-defined]


def rows_of_csv(client: Client, **asked: str) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(sent(client, "csv", **asked).decode())))


def test_each_line_has_its_place_who_and_the_text_that_gives_its_hash(
    auditor_client: Client,
) -> None:
    rated_unit()
    size = give_places()
    rows = rows_of_csv(auditor_client)
    assert [int(row["line"]) for row in rows] == list(range(size))
    assert all(hash_of(row["document"]) == row["leaf_hash"] for row in rows)
    told = json.loads(rows[-1]["document"])
    assert (rows[-1]["kind"], rows[-1]["key"]) == (told["model"], told["key"])


def test_some_lines_are_asked_for_by_number_in_each_form(auditor_client: Client) -> None:
    rated_unit()
    give_places()
    asked = {"first": "3", "last": "5"}
    assert [row["line"] for row in rows_of_csv(auditor_client, **asked)] == ["3", "4", "5"]
    lines = sent(auditor_client, "jsonl", **asked).decode().splitlines()
    assert lines == [leaf.document for leaf in Leaf.objects.filter(place__range=(3, 5))]
    book = load_workbook(BytesIO(sent(auditor_client, "xlsx", **asked)))
    rows = list(book["Rows 1"].iter_rows(values_only=True))
    assert [row[0] for row in rows] == ["line", 3, 4, 5]
    assert [row[-1] for row in rows[1:]] == lines


def test_some_lines_are_asked_for_by_day(auditor_client: Client) -> None:
    YardFactory()
    give_places()
    today = timezone.localdate().isoformat()
    assert rows_of_csv(auditor_client, since=today)
    assert rows_of_csv(auditor_client, until="2001-01-01") == []


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({"first": "9", "last": "3"}, "This is before line 9"),
        ({"first": "-1"}, "won’t do"),
        ({"first": "1" * 5_000}, "…”"),
        ({"since": "2026-03-02", "until": "2026-03-01"}, "This is before 2 Mar 2026"),
        ({"since": "9999-12-31"}, "is in the future"),
        ({"until": "later"}, "This is not a day"),
    ],
)
def test_lines_that_cannot_be_are_answered_beside_the_field(
    auditor_client: Client, asked: dict[str, str], told: str
) -> None:
    answer = auditor_client.get(reverse("journal-lines", args=["csv"]), asked)
    assert answer.status_code == 400
    assert told in words(answer)


def test_the_journal_goes_out_in_no_other_form(auditor_client: Client) -> None:
    assert auditor_client.get(reverse("journal-lines", args=["doc"])).status_code == 404


def test_a_text_of_the_yard_never_runs_as_a_formula(auditor_client: Client) -> None:
    YardFactory(name="@SUM(1)")
    give_places()
    book = load_workbook(BytesIO(sent(auditor_client, "xlsx")))
    assert all(cell.data_type != "f" for row in book["Rows 1"].iter_rows() for cell in row)


def test_more_rows_than_a_sheet_holds_go_on_in_the_next_under_their_header(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(cells, "AT_ONCE", 2)
    held = BytesIO()
    write_rows(held, ["line"], ([number] for number in range(11)), rows_of_sheet=5)
    book = load_workbook(held)
    sheets: list[list[Any]] = [[row[0] for row in sheet.values] for sheet in book]
    assert sheets == [["line", 0, 1, 2, 3], ["line", 4, 5, 6, 7], ["line", 8, 9, 10]]


def test_a_workbook_of_nothing_has_its_header() -> None:
    held = BytesIO()
    write_rows(held, ["line"], iter(()), rows_of_sheet=5)
    assert [[cell for (cell,) in sheet.values] for sheet in load_workbook(held)] == [["line"]]


def test_a_text_too_long_for_a_cell_says_how_long_it_is() -> None:
    held = BytesIO()
    write_rows(held, ["text"], [["x" * 50_000], ["a\x0bb"]], rows_of_sheet=5)
    (_, long, broken) = [row[0] for row in load_workbook(held)["Rows 1"].values]
    assert len(long) == LETTERS_OF_CELL
    assert long.endswith("… (cut: 50,000 letters)")
    assert broken == "a\ufffdb"


def test_a_row_says_nothing_where_there_is_nothing_and_keeps_its_other_places() -> None:
    held, row = BytesIO(), ["", 0, None, "sound", False, 0.0, ""]
    write_rows(held, list("abcdefg"), [row], rows_of_sheet=5)
    read = list(load_workbook(held)["Rows 1"].values)[1]
    assert read == (None, 0, None, "sound", "no", 0, None)


def test_a_day_of_a_line_altered_behind_the_site_is_found() -> None:
    YardFactory()
    give_places()
    with append_only_lifted(), connection.cursor() as cursor:
        cursor.execute("UPDATE fleet_leaf SET recorded_at = '2001-01-01 00:00:00' WHERE place = 0")
    found = [str(fault) for each in verify_record() for fault in each.faults]
    assert any(each.startswith("leaf 0") and "columns" in each for each in found)
