from __future__ import annotations

import zipfile
from io import BytesIO
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import load_workbook

from fleet.models import Hammer, Yard
from inspections.exchange.cells import guarded, unguarded
from inspections.exchange.files import BadFile, read_file, write_csvs, write_workbook
from inspections.exchange.incoming import Refused, take_register, try_register
from inspections.exchange.outgoing import register_rows
from inspections.exchange.rows import parsed
from inspections.exchange.tables import TABLES
from tests.builders import rated_unit
from tests.factories import AuditorFactory, ManagerFactory
from tests.field.sent import signed_in

YARDS = b"name,place\nTallow Reach,North bank\n"


def fates(name: str, content: bytes) -> list[tuple[str, str]]:
    trial = try_register(parsed(read_file(name, content)), ManagerFactory())
    return [(fate.outcome, fate.words) for fate in trial.fates]


@pytest.mark.django_db
def test_a_csv_file_named_like_its_table_is_taken() -> None:
    take_register(parsed(read_file("yards.csv", YARDS)), ManagerFactory())
    assert Yard.objects.get().place == "North bank"


@pytest.mark.django_db
def test_one_bad_row_keeps_all_others_out() -> None:
    rows = parsed(read_file("yards.csv", YARDS + b",nowhere\n"))
    with pytest.raises(Refused):
        take_register(rows, ManagerFactory())
    assert not Yard.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("hammers.csv", b"mark,yard\nV-1,Nowhere\n", "neither on record"),
        ("hammers.csv", b"mark,yard,frequency_vpm\nV-1,X,fast\n", "is not a number"),
        ("lots.csv", b"mark,use_by\nL-1,1900-01-01\n", "is not a day of this trade"),
        ("lots.csv", b"mark,note\nL-1," + b"x" * 100_000 + b"\n", "characters"),
        ("counts.csv", b"count,housing,seen_at\n1,S-9,2099-01-01 10:00\n", "future"),
        ("pads.csv", b"count,side,number,condition\n9,A,1,sound\n", "not in table counts"),
    ],
)
def test_a_bad_row_is_refused_in_words(name: str, content: bytes, words: str) -> None:
    [(outcome, said)] = fates(name, content)
    assert outcome == "refused"
    assert words in said


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("yards.csv", b"\xff\xfe\x00", "UTF-8"),
        ("holidays.csv", YARDS, "No table of the register"),
        ("yards.csv", b"name,colour\nX,red\n", "no column “colour”"),
        ("yards.csv", b"place\nX\n", "lacks the column name"),
        ("r.xlsx", b"PK\x03\x04 broken", "broken off"),
    ],
)
def test_a_file_that_will_not_do_is_refused_in_words(name: str, content: bytes, words: str) -> None:
    with pytest.raises(BadFile, match=words):
        read_file(name, content)


def test_a_workbook_that_swells_is_refused_unopened() -> None:
    held = BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/workbook.xml", b" " * 201 * 1024 * 1024)
    assert len(held.getvalue()) < 1024 * 1024
    with pytest.raises(BadFile, match="unpacks to"):
        read_file("r.xlsx", held.getvalue())


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "-x", "@sum", "'=1", "plain", "-5.5"])
def test_guarded_text_comes_back_as_it_was(text: str) -> None:
    assert unguarded(guarded(text)) == unguarded(text)
    assert not guarded(text).startswith(("=", "@"))


@pytest.mark.django_db
def test_no_exported_cell_is_a_formula() -> None:
    unit = rated_unit()
    Hammer.objects.filter(pk=unit.hammer.pk).update(note="=HYPERLINK(1)")
    book = load_workbook(BytesIO(write_workbook(register_rows())))
    kinds = {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row}
    assert "f" not in kinds
    with zipfile.ZipFile(BytesIO(write_csvs(register_rows()))) as packed:
        assert b",'=HYPERLINK(1)" in packed.read("hammers.csv")


@pytest.mark.django_db
def test_characters_nobody_sees_are_left_out_of_names() -> None:
    content = "name,place\nTal\u200blow\u202e Reach \U0001f528,x\n".encode()
    take_register(parsed(read_file("yards.csv", content)), ManagerFactory())
    assert Yard.objects.get().name == "Tallow Reach \U0001f528"


@pytest.mark.django_db
def test_the_page_tries_then_takes(settings, tmp_path) -> None:
    settings.MEDIA_ROOT = tmp_path
    client = signed_in(ManagerFactory())
    page = client.post(reverse("exchange"), {"file": SimpleUploadedFile("yards.csv", YARDS)})
    assert "Take it: 1 rows" in page.content.decode()
    assert not Yard.objects.exists()
    client.post(reverse("exchange"), {"take": "1"})
    assert Yard.objects.get().name == "Tallow Reach"


@pytest.mark.django_db
def test_a_reader_exports_and_does_not_import() -> None:
    client = signed_in(AuditorFactory())
    assert client.get(reverse("export", args=["xlsx"])).status_code == 200
    assert client.get(reverse("exchange")).status_code == 403


def test_the_readme_names_every_column_of_every_table() -> None:
    readme = Path("README.md").read_text(encoding="utf-8")
    for table in TABLES:
        told = readme.split(f"- **{table.name}** (")[1].split("\n- **")[0].split("\n\n")[0]
        names = [f"*{column.name}*" if column.needed else column.name for column in table.columns]
        assert "".join(told.split("):")[-1].split()) == "".join(", ".join(names).split())
