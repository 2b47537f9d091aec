"""The one gate of all files that are sent: hostile ones are refused, and none is read elsewhere."""

from __future__ import annotations

import ast
import re
import zipfile
from io import BytesIO
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.core.files.base import ContentFile
from django.db.models import FileField
from django.test import Client
from django.urls import reverse
from openpyxl import Workbook
from PIL import Image

from fleet.picture import BadUpload, NoPicture
from fleet.uploads import Form, let_in, picture_anew
from inspections.exchange.reading import BadFile, read_file
from inspections.sheets.grid import read_grids
from ratings.models import BenchTest
from tests.builders import drafted_test
from tests.factories import ManagerFactory, PadLotFactory

ROOT = Path(settings.BASE_DIR)
# By what reads a file: where that may stand. Ours are read where they are made into papers.
MAY_READ = {
    r"Image\.open\(|forms\.ImageField": {
        "fleet/picture.py",
        "inspections/history/record_sections.py",
    },
    r"read_picture\(|PdfReader\(": {
        "fleet/picture.py",
        "fleet/uploads.py",
        # Papers of the site’s own.
        "ratings/paper/check_file.py",
        "ratings/record/attaching.py",
    },
    r"let_in\(|let_in_place\(": {
        "fleet/uploads.py",
        "inspections/exchange/reading.py",
        "inspections/hire/foreign.py",
        "inspections/hire/recording.py",
        "inspections/photos/recording.py",
        "inspections/receiving/reading.py",
        "inspections/repairs/recording.py",
        "ratings/bench/recording.py",
        "ratings/bench/views.py",
        "ratings/jobs/attachments.py",
        "ratings/paper/check_file.py",
        "ratings/record/paper_pages.py",
    },
    r"ZipFile\((?!.*\"w\")|load_workbook\(": {
        "fleet/uploads.py",
        "inspections/exchange/reading.py",
        "inspections/sheets/grid.py",
    },
}
# By where a file comes in with a form: where it goes through the gate.
GATES = {
    "inspections/exchange/views.py": "inspections/exchange/reading.py",
    "inspections/hire/forms.py": "inspections/hire/recording.py",
    "inspections/hire/views.py": "inspections/hire/foreign.py",
    "inspections/machines/views.py": "ratings/jobs/attachments.py",
    "inspections/pulls/forms.py": "inspections/photos/recording.py",
    "inspections/pulls/views.py": "inspections/photos/recording.py",
    "inspections/receiving/forms.py": "inspections/receiving/reading.py",
    "inspections/receiving/views.py": "inspections/receiving/reading.py",
    "inspections/repairs/forms.py": "inspections/repairs/recording.py",
    "inspections/repairs/views.py": "inspections/repairs/recording.py",
    "inspections/sheets/forms.py": "inspections/exchange/reading.py",
    "inspections/sheets/views.py": "inspections/exchange/reading.py",
    "ratings/bench/forms.py": "ratings/bench/recording.py",
    "ratings/bench/views.py": "ratings/bench/views.py",
    "ratings/jobs/attachments.py": "ratings/jobs/attachments.py",
    "ratings/jobs/paper_views.py": "ratings/jobs/attachments.py",
    "ratings/record/paper_pages.py": "ratings/record/paper_pages.py",
}
# By where a file is kept: where what is kept went through the gate. MADE here came from nobody.
MADE = "made by the site"
KEPT = {
    "inspections.HistoryRun": MADE,
    "inspections.HandOverPhoto": "inspections/hire/recording.py",
    "inspections.ForeignCheckPhoto": "inspections/hire/foreign.py",
    "inspections.MachineDocument": "ratings/jobs/attachments.py",
    "inspections.PhotoFile": "inspections/photos/recording.py",
    "inspections.PullPhotoFile": "inspections/photos/recording.py",
    "inspections.ReceivedUnit": "inspections/receiving/reading.py",
    "inspections.RepairPhoto": "inspections/repairs/recording.py",
    "ratings.BenchTest": "ratings/bench/recording.py",
    "ratings.JobAttachment": "ratings/jobs/attachments.py",
}
GATE = {"let_in", "let_in_place"}


def sources() -> dict[str, ast.Module]:
    """Every module of the site, read as Python reads it."""
    return {
        path.relative_to(ROOT).as_posix(): ast.parse(path.read_text(encoding="utf-8"))
        for app in ("fleet", "ratings", "inspections")
        for path in (ROOT / app).rglob("*.py")
        if "migrations" not in path.parts
    }


def takes_a_file(module: ast.Module) -> bool:
    """Whether a module looks at the files of a request, or has a field for one on a form."""
    return any(
        isinstance(each, ast.Attribute)
        and (
            each.attr in {"FILES", "upload_handlers"}
            or (
                each.attr in {"FileField", "ImageField"}
                and isinstance(each.value, ast.Name)
                and each.value.id == "forms"
            )
        )
        for each in ast.walk(module)
    )


def has_the_gate(module: ast.Module) -> bool:
    """Whether a module lets something in by the gate."""
    return any(
        isinstance(each, ast.Call) and isinstance(each.func, ast.Name) and each.func.id in GATE
        for each in ast.walk(module)
    )


def test_every_file_that_is_sent_goes_through_the_gate() -> None:
    modules = sources()
    found = {path for path, module in modules.items() if takes_a_file(module)}
    assert found - {"fleet/uploads.py"} == set(GATES)
    assert {gate for gate in GATES.values() if not has_the_gate(modules[gate])} == set()


def test_every_file_that_is_kept_came_through_the_gate_or_was_made_here() -> None:
    modules = sources()
    found = {
        model._meta.label
        for app in ("fleet", "ratings", "inspections")
        for model in apps.get_app_config(app).get_models()
        if any(isinstance(each, FileField) for each in model._meta.local_fields)
    }
    assert found == set(KEPT)
    gates = set(KEPT.values()) - {MADE}
    assert {gate for gate in gates if not has_the_gate(modules[gate])} == set()


def picture(form: str = "PNG", exif: bytes = b"") -> bytes:
    held = BytesIO()
    Image.effect_noise((40, 30), 60).convert("RGB").save(held, form, exif=exif)
    return held.getvalue()


def with_place() -> bytes:
    exif = Image.Exif()
    exif.get_ifd(0x8825)[1] = "N"
    return picture("JPEG", exif.tobytes())


@pytest.mark.parametrize("reads", MAY_READ)
def test_files_are_read_at_the_gate_and_by_whoever_it_hands_them_to(reads: str) -> None:
    found = {
        path.relative_to(ROOT).as_posix()
        for app in ("fleet", "ratings", "inspections")
        for path in (ROOT / app).rglob("*.py")
        if re.search(reads, path.read_text(encoding="utf-8"))
    }
    assert found == MAY_READ[reads]


@pytest.mark.parametrize(
    "sent",
    [
        b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
        b"<!doctype html><script>alert(1)</script>",
        b"\x89PNG\r\n\x1a\n<svg/>",
        b"",
    ],
    ids=["svg", "html", "svg behind the mark of a png", "nothing"],
)
def test_what_only_says_it_is_a_picture_is_none(sent: bytes) -> None:
    with pytest.raises(NoPicture, match="no picture"):
        let_in(sent, Form.PICTURE)


@pytest.mark.parametrize("behind", [b"<script>alert(1)</script>", b"PK\x03\x04 a package"])
def test_what_hides_behind_a_picture_s_end_stays_behind(behind: bytes) -> None:
    kept = let_in(picture("JPEG") + behind, Form.PICTURE)
    assert behind not in kept.content
    assert (kept.width, kept.height, kept.content_type) == (40, 30, "image/jpeg")


def test_what_hides_in_the_words_of_a_picture_stays_behind() -> None:
    held = BytesIO()
    Image.new("RGB", (9, 9)).save(held, "JPEG", comment=b"<script>alert(1)</script>")
    assert b"script" in held.getvalue()
    assert b"script" not in let_in(held.getvalue(), Form.PICTURE).content


def test_a_pdf_is_none_where_a_picture_is_asked_for_nor_the_other_way_round() -> None:
    with pytest.raises(NoPicture):
        let_in(b"%PDF-1.7", Form.PICTURE)
    with pytest.raises(BadUpload):
        let_in(b"%PDF-1.7 <script>", Form.PDF, Form.PICTURE)


def test_a_picture_of_before_loses_its_place_as_it_is_sent() -> None:
    anew = picture_anew(with_place())
    assert anew is not None
    assert not Image.open(BytesIO(anew)).getexif()
    own = let_in(picture(), Form.PICTURE).content
    assert picture_anew(own) == own
    assert picture_anew(b"<script>") is None


def package(parts: dict[str, bytes | str]) -> bytes:
    held = BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    return held.getvalue()


def workbook(**parts: str) -> bytes:
    """A workbook of one yard; parts put in place of its own by the end of their names."""
    book, held = Workbook(), BytesIO()
    book.worksheets[0].title = "yards"
    for row in (["name", "place"], ["Tallow Reach", "North bank"]):
        book.worksheets[0].append(row)
    book.save(held)
    with zipfile.ZipFile(held) as made:
        own = {name: made.read(name).decode() for name in made.namelist()}
    for end, change in parts.items():
        name = next(each for each in own if each.endswith(f"{end}.xml"))
        before, _, after = change.partition("→")
        assert before in own[name]
        own[name] = own[name].replace(before, after)
    return package(dict(own))


LAUGHS = "<!DOCTYPE x [<!ENTITY a 'aa'>" + "".join(
    f"<!ENTITY {name} '{f'&{chr(ord(name) - 1)};' * 9}'>" for name in "bcdefghi"
)
HOSTILE = {
    "words of its own": (workbook(sheet1=f"<worksheet→{LAUGHS}]><worksheet"), "of its own"),
    "deep": (
        workbook(sheet1=f"<sheetData>→{'<a>' * 9_000}{'</a>' * 9_000}<sheetData>"),
        "nested deeper",
    ),
    "a claim": (
        workbook(sheet1='<dimension ref="A1:B2" />→<dimension ref="A1:XFD1048576" />'),
        "1,048,576 rows × 16,384 columns",
    ),
    "zeros": (
        package({"xl/workbook.xml": "<a/>", "xl/worksheets/sheet1.xml": b" " * 9_000_000}),
        "swells to",
    ),
    "one sheet named often": (
        workbook(workbook="<sheets>→<sheets>" + '<sheet name="x" sheetId="9"/>' * 300),
        "more sheets than it has",
    ),
    "many parts": (package({f"{number}": b"" for number in range(5_001)}), "more than 5,000 parts"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_small_workbook_that_costs_much_is_refused_before_it_is_read(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object, **__: object) -> None:
        raise AssertionError("it was read")

    sent, words = HOSTILE[name]
    monkeypatch.setattr("openpyxl.load_workbook", never)
    for read in (read_file, read_grids):
        with pytest.raises(BadFile, match=words):
            read("register.xlsx", sent)


@pytest.mark.parametrize(
    "rows",
    ['<row r="1048576"><c><v>1</v></c></row>', "<row/>" * 70_000, "<row><c/></row>" * 70_000],
)
def test_a_million_blank_lines_of_a_few_bytes_are_not_gone_through(
    rows: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object, **__: object) -> None:
        raise AssertionError("it was read")

    sent = workbook(sheet1=f"</sheetData>→{rows}</sheetData>")
    assert len(sent) < 12_000
    monkeypatch.setattr("openpyxl.load_workbook", never)
    with pytest.raises(BadFile, match="more than 65,536 blank lines up to line"):
        read_file("register.xlsx", sent)


def test_cells_merged_over_one_another_are_refused() -> None:
    merged = '<mergeCell ref="A1:DP2000"/>' * 5_000
    rows = '<row><c t="inlineStr"><is><t>x</t></is></c></row>' * 2_000
    sent = workbook(
        sheet1=f"</sheetData>→{rows}</sheetData><mergeCells>{merged}</mergeCells>",
    )
    with pytest.raises(BadFile, match="lie over one another"):
        read_grids("log.xlsx", sent)


def test_one_long_text_in_many_cells_is_refused() -> None:
    text = "<row><c t='inlineStr'><is><t>" + "x" * 40_000 + "</t></is></c></row>"
    sent = workbook(sheet1=f"</sheetData>→{text}</sheetData>")
    with pytest.raises(BadFile, match="A cell holds 40,000 characters"):
        read_file("register.xlsx", sent)


def test_an_honest_workbook_comes_in() -> None:
    [(_, cells, _)] = read_file("register.xlsx", workbook())["yards"]
    assert cells["name"] == "Tallow Reach"


@pytest.mark.django_db
def test_a_bench_photo_is_made_anew_whatever_it_was_called(auditor_client: Client) -> None:
    sent = ContentFile(with_place(), name="set-up.html")
    test = drafted_test(PadLotFactory(), ManagerFactory(), photo=sent).test
    kept = BenchTest.objects.get(pk=test.pk).photo
    assert str(kept.name).endswith(".jpg")
    with kept.open("rb") as opened:
        assert not Image.open(opened).getexif()
    answer = auditor_client.get(reverse("bench-photo", args=[test.pk]))
    assert answer["Content-Type"] == "image/jpeg"


@pytest.mark.django_db
def test_what_was_kept_before_and_is_no_picture_is_never_shown(auditor_client: Client) -> None:
    test = drafted_test(PadLotFactory(), ManagerFactory(), photo=ContentFile(picture())).test
    Path(test.photo.path).write_bytes(b"<script>alert(1)</script>")
    answer = auditor_client.get(reverse("bench-photo", args=[test.pk]))
    assert answer.status_code == 404
    assert b"alert" not in answer.content


def test_a_workbook_damaged_in_what_it_packs_is_told_as_one_that_can_not_be_read() -> None:
    book = BytesIO()
    with zipfile.ZipFile(book, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/workbook.xml", "<workbook>" + "<sheet/>" * 50 + "</workbook>")
    sent = bytearray(book.getvalue())
    # The first byte of what is packed, after the head and the name: a kind of block there is not.
    sent[30 + len("xl/workbook.xml")] = 0x07
    with pytest.raises(BadFile, match="This file is damaged"):
        read_file("register.xlsx", bytes(sent))
