from __future__ import annotations

import re
import tracemalloc
from datetime import datetime, timedelta, timezone
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from reportlab.pdfgen.canvas import Canvas

from ratings.check_record import streams_of
from ratings.drawing.surface import Ink
from ratings.paper.long_paper import (
    BODY,
    SMALL,
    TITLE,
    WIDTH,
    About,
    Attachment,
    LongPaper,
)
from ratings.paper.pdf_file import PdfFile
from tests.ratings.paper.archive_rules import READ_ALOUD, broken_rules

MADE_AT = datetime(2026, 3, 4, 6, 30, tzinfo=timezone(timedelta(hours=-6)))
ABOUT = About(
    title="History of Łódź & <Sons>",
    author="Heron Yard",
    subject="All of it",
    keywords="history",
    made_at=MADE_AT,
    head="history of S-1",
    foot=("printed by Þórður", "head entry 4"),
)


def written(paragraphs: int = 3) -> bytes:
    """A paper with a bit of everything in it."""
    out = BytesIO()
    paper = LongPaper(out, ABOUT)
    paper.text("The title", TITLE)
    with paper.section("First part"):
        paper.bookmark("Year 2026", 1)
        for number in range(paragraphs):
            paper.text(f"Paragraph {number} of the first part. " * 8, anchor=f"p{number}")
        paper.text("Back to the beginning", SMALL, link="p0")
    with paper.section("Second part"):
        with paper.rows(("No.", "What"), (60, WIDTH - 60)) as add:
            add(("1", "Hose chafed"))
        paper.picture(100, 40, lambda surface: surface.circle(20, 20, 9, Ink.WARN), "A round spot")
    paper.close([Attachment("record.json", "application/json", b'{"a": 1}', "The proof")])
    return out.getvalue()


def read(paper: bytes) -> PdfReader:
    return PdfReader(BytesIO(paper), strict=True)


def text_of(reader: PdfReader) -> str:
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))


def elements(of: Any) -> list[tuple[str, Any]]:
    """Every element of the structure below one, in reading order, with itself."""
    kids = of.get("/K", [])
    below = [each.get_object() for each in kids]
    found = [each for each in below if isinstance(each, dict) and "/S" in each]
    return [(of["/S"], of), *(each for kid in found for each in elements(kid))]


def test_its_words_are_read_back_in_order() -> None:
    text = text_of(read(written()))
    places = [text.index(words) for words in ("The title", "First part", "Paragraph 2", "Hose")]
    assert places == sorted(places)


def test_the_same_calls_give_the_same_bytes() -> None:
    assert written() == written()
    assert written() != written(paragraphs=4)


def test_it_says_of_itself_what_it_is_whose_and_when_with_its_zone() -> None:
    reader = read(written())
    about = reader.metadata
    assert about is not None
    assert (about.title, about.author, about.subject) == (ABOUT.title, "Heron Yard", "All of it")
    assert about.creation_date == MADE_AT
    root: Any = reader.root_object
    assert root["/Lang"] == "en-US"
    xmp = reader.xmp_metadata
    assert xmp is not None
    assert xmp.dc_title == {"x-default": ABOUT.title}
    assert b"2026-03-04T06:30:00-06:00" in root["/Metadata"].get_data()


def test_it_holds_what_an_archive_asks_for() -> None:
    reader = read(written())
    root: Any = reader.root_object
    assert b"<pdfaid:part>3</pdfaid:part>" in root["/Metadata"].get_data()
    profile = root["/OutputIntents"][0]["/DestOutputProfile"].get_data()
    assert profile[36:40] == b"acsp"
    assert "/Encrypt" not in reader.trailer
    assert reader.attachments["record.json"] == [b'{"a": 1}']
    assert root["/AF"][0].get_object()["/AFRelationship"] == "/Data"


def test_it_breaks_no_rule_of_pdf_a_3a() -> None:
    assert broken_rules(written(paragraphs=60)) == set()


def test_of_what_readers_of_the_page_aloud_ask_it_lacks_the_label_alone() -> None:
    # The label says that a person has read it through, too: no program can promise that.
    broken = broken_rules(written(paragraphs=60), READ_ALOUD)
    assert broken == {"PDFUA1-ID-PART-001", "PDFUA1-ID-SCHEMA-001"}


@pytest.mark.parametrize(
    ("kept", "broken"),
    [
        (b"<pdfaid:part>3<", b"<pdfaid:part>2<"),
        (b"<pdfaid:conformance>A<", b"<pdfaid:conformance>B<"),
        (b"/Type /Metadata /Subtype /XML", b"/Type /Metadata /Subtype /TXT"),
    ],
)
def test_a_rule_that_is_broken_is_found(kept: bytes, broken: bytes) -> None:
    assert broken_rules(written().replace(kept, broken))


def test_letters_that_a_paper_does_not_hold_are_found() -> None:
    out = BytesIO()
    canvas = Canvas(out)
    canvas.drawString(72, 72, "in a font of the reader's own")
    canvas.save()
    assert any("FONT" in rule for rule in broken_rules(out.getvalue()))


@pytest.mark.parametrize("last", [b"\r", b"\n", b"\r\n"])
def test_a_stream_is_read_whole_by_who_looks_for_its_end(last: bytes) -> None:
    out = BytesIO()
    PdfFile(out).put_stream("/Type /EmbeddedFile", b"whole" + last, is_packed=True)
    ((_, data),) = streams_of(out.getvalue())
    assert data == b"whole" + last


def test_every_font_on_every_page_is_embedded_and_says_what_its_glyphs_mean() -> None:
    for page in read(written(paragraphs=60)).pages:
        fonts: Any = page["/Resources"]["/Font"]  # type: ignore[index]
        for font in fonts.values():
            below = font["/DescendantFonts"][0].get_object()
            assert below["/FontDescriptor"]["/FontFile2"].get_data()[:4] == b"\0\1\0\0"
            assert b"beginbfchar" in font["/ToUnicode"].get_data()


def test_bookmarks_lead_to_sections_and_what_is_within_them() -> None:
    reader = read(written(paragraphs=60))
    first, within, second = reader.outline
    assert (first["/Title"], within[0]["/Title"], second["/Title"]) == (  # type: ignore[call-overload, index]
        "First part",
        "Year 2026",
        "Second part",
    )
    assert reader.get_destination_page_number(second) == len(reader.pages) - 1  # type: ignore[arg-type]


def test_it_is_tagged_in_reading_order_with_words_for_pictures() -> None:
    root: Any = read(written()).root_object
    assert root["/MarkInfo"]["/Marked"]
    found = elements(root["/StructTreeRoot"]["/K"].get_object())
    roles = [role for role, _ in found]
    assert roles[:6] == ["/Document", "/H1", "/Sect", "/H2", "/P", "/P"]
    assert roles[-9:] == [
        "/Sect", "/H2", "/Table", "/TR", "/TH", "/TH", "/TR", "/TD", "/TD", "/Figure",
    ][-9:]  # fmt: skip
    assert found[-1][1]["/Alt"] == "A round spot"


def test_every_mark_on_a_page_is_of_the_element_that_names_it() -> None:
    reader = read(written(paragraphs=60))
    root: Any = reader.root_object["/StructTreeRoot"]
    parents = {
        int(key): value.get_object()
        for key, value in zip(*[iter(root["/ParentTree"]["/Nums"])] * 2, strict=True)
    }
    assert len(reader.pages) > 2
    for page in reader.pages:
        key: Any = page["/StructParents"]
        marks = re.findall(rb"/MCID (\d+)", page.get_contents().get_data())  # type: ignore[union-attr]
        assert [int(mark) for mark in marks] == list(range(len(marks)))
        assert len(parents[key]) == len(marks)


def test_a_link_leads_to_the_place_it_names() -> None:
    reader = read(written(paragraphs=60))
    links = [each.get_object() for page in reader.pages for each in page.get("/Annots", ())]
    assert [link["/Dest"][0] for link in links] == [reader.pages[0].indirect_reference]
    assert links[0]["/Contents"] == "Back to the beginning"


def test_every_page_bears_its_number_head_and_foot() -> None:
    pages = read(written(paragraphs=80)).pages
    for number, page in enumerate(pages, start=1):
        text = re.sub(r"\s+", " ", page.extract_text())
        assert f"page {number} of {len(pages)}" in text
        assert "history of S-1" in text
        assert "printed by Þórður" in text


def test_a_character_the_letters_lack_prints_as_its_number_and_is_named() -> None:
    out = BytesIO()
    paper = LongPaper(out, ABOUT)
    paper.text("Signed by 山田 and 🔨, Ærø, Ольга → ok")
    paper.close()
    text = text_of(read(out.getvalue()))
    assert "Signed by [U+5C71][U+7530] and [U+1F528], Ærø, Ольга => ok" in text
    assert paper.fonts.letters.lacking["[U+1F528]"] == "hammer"


@pytest.mark.parametrize("length", [10, 50_000])
def test_a_word_of_any_length_is_broken_over_lines_and_pages(length: int) -> None:
    out = BytesIO()
    paper = LongPaper(out, ABOUT)
    paper.text("x" * length, BODY)
    with paper.rows(("A", "B"), (100, WIDTH - 100)) as add:
        add(("y" * length, "short"))
    paper.close()
    text = text_of(read(out.getvalue()))
    assert text.count("x") == length
    assert text.count("y") - text.count("history") >= length


def test_a_header_stands_again_on_every_page_of_a_table_and_counts_once_when_read_aloud() -> None:
    out = BytesIO()
    paper = LongPaper(out, ABOUT)
    with paper.rows(("Number of it", "What"), (100, WIDTH - 100)) as add:
        for number in range(150):
            add((f"row {number}", "Hose chafed"))
    paper.close()
    reader = read(out.getvalue())
    assert all("Number of it" in page.extract_text() for page in reader.pages)
    root: Any = reader.root_object
    roles = [role for role, _ in elements(root["/StructTreeRoot"]["/K"].get_object())]
    assert (roles.count("/TH"), roles.count("/TR")) == (2, 151)


def test_ten_times_the_paper_takes_no_ten_times_the_memory(tmp_path: Path) -> None:
    def peak(paragraphs: int) -> int:
        tracemalloc.start()
        with (tmp_path / "paper.pdf").open("wb") as out:
            paper = LongPaper(out, ABOUT)
            for number in range(paragraphs):
                paper.text(f"{number} Hose chafed at the swivel, a new one was ordered. " * 6)
            paper.close()
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    peak(10)
    few, many = peak(200), peak(2000)
    # What is kept of a paragraph is its number: no more than 300 bytes with its share of a page.
    assert many - few < 1800 * 300
