from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from datetime import UTC, datetime
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import SimpleDocTemplate

from ratings.drawing.load_graph import LoadGraphFigures, draw_load_graph
from ratings.drawing.pad_map import PadCell, draw_pad_map
from ratings.drawing.pdf import DrawingFlowable, PdfSurface
from ratings.drawing.pull_history import HistoryPoint, draw_pull_history
from ratings.drawing.pull_rule import Detail, RuleFigures, draw_pull_rule
from ratings.drawing.surface import Ink, Surface, text_width
from ratings.drawing.svg import SvgSurface

SVG = "{http://www.w3.org/2000/svg}"
AT = datetime(2024, 5, 1, tzinfo=UTC)
RULE = RuleFigures(((0.0, 0.0), (6.0, 9e4)), 6.0, 6.0, "travel", 9e4, 8e4, 1e5, 1.2e5)
LOADS = LoadGraphFigures(((1.0, 900.0), (2.0, 2100.0)), 1030.0, 2.0, band_lbf=100.0)
PICTURES: dict[str, Callable[[Surface], None]] = {
    "rule": lambda surface: draw_pull_rule(surface, RULE, 540.0, 150.0, Detail.LARGE),
    "loads": lambda surface: draw_load_graph(surface, LOADS, 540.0, 280.0),
    "history": lambda surface: draw_pull_history(
        surface, [HistoryPoint(AT, 9e4, 8e4, 1.2e5)], 540.0, 190.0, until=AT
    ),
    "pads": lambda surface: draw_pad_map(surface, [PadCell("A", 1, "cracked", "L-7")], 540.0),
}


def svg_of(draw: Callable[[Surface], None], title: str = "t", description: str = "") -> str:
    surface = SvgSurface(540.0, 300.0, title, description)
    draw(surface)
    return surface.render()


@pytest.mark.parametrize("name", PICTURES)
def test_each_picture_is_well_formed_and_has_no_fixed_size(name: str) -> None:
    root = ET.fromstring(svg_of(PICTURES[name]))
    assert root.tag == f"{SVG}svg"
    assert root.get("viewBox") == "0 0 540 300"
    assert root.get("width") is None
    assert root.get("height") is None
    assert len(root) > 5


@given(st.text())
def test_any_words_come_through_escaped(words: str) -> None:
    def draw(surface: Surface) -> None:
        surface.text(1.0, 2.0, words, Ink.INK, 10.0)

    root = ET.fromstring(svg_of(draw, title=words, description=words))
    printed = "".join(each if each.isprintable() else " " for each in words)
    for element in (root.find(f"{SVG}text"), root.find(f"{SVG}title"), root.find(f"{SVG}desc")):
        assert element is not None
        assert (element.text or "") == printed


def test_title_and_description_name_the_picture() -> None:
    root = ET.fromstring(svg_of(PICTURES["rule"], "Rule of H-1", "57.3 tons"))
    named = [
        element.text
        for name in root.get("aria-labelledby", "").split()
        for element in root
        if element.get("id") == name
    ]
    assert root.get("role") == "img"
    assert named == ["Rule of H-1", "57.3 tons"]


def test_two_pictures_on_a_page_share_no_id() -> None:
    pages = [
        svg_of(PICTURES["rule"], "a"),
        svg_of(PICTURES["rule"], "b"),
        svg_of(PICTURES["rule"], "a", "d"),
        svg_of(PICTURES["pads"], "a"),
    ]
    ids = [name for page in pages for name in re.findall(r'\bid="([^"]+)"', page)]
    assert len(ids) == 8
    assert len(set(ids)) == 8


@pytest.mark.parametrize("ink", list(Ink))
def test_every_ink_is_a_class_and_a_colour_of_its_own(ink: Ink) -> None:
    def draw(surface: Surface) -> None:
        surface.rect(0.0, 0.0, 1.0, 1.0, ink)
        surface.rect(0.0, 0.0, 1.0, 1.0, ink, False)

    filled, outlined = ET.fromstring(svg_of(draw)).findall(f"{SVG}rect")
    assert filled.get("class") == f"d-fill-{ink}"
    assert re.fullmatch("#[0-9a-f]{6}", filled.get("fill", ""))
    assert outlined.get("class") == f"d-line-{ink}"
    assert outlined.get("stroke") == filled.get("fill")
    assert outlined.get("fill") == "none"


def test_coordinates_have_two_decimals_at_most() -> None:
    content = svg_of(PICTURES["rule"])
    assert re.findall(r"\d+\.\d{3,}", content) == []
    assert re.findall(r"\d+\.\d{2}\b", content)


@pytest.mark.parametrize("name", PICTURES)
def test_the_same_strokes_reach_page_and_paper(name: str) -> None:
    svg = ET.fromstring(svg_of(PICTURES[name]))
    canvas = Canvas(BytesIO(), pageCompression=0)
    PICTURES[name](PdfSurface(canvas, 0.0, 300.0))
    code = "\n".join(canvas._code)
    assert code.count(" Tj") == len(svg.findall(f"{SVG}text"))
    drawn = [each for each in svg if each.tag not in (f"{SVG}title", f"{SVG}desc", f"{SVG}text")]
    assert len(re.findall(r"(?:^|\s)[Sf]\*?(?=\s|$)", code)) == len(drawn)


def test_on_paper_y_is_turned_and_scaled() -> None:
    canvas = Canvas(BytesIO(), pageCompression=0)
    PdfSurface(canvas, 100.0, 700.0, scale=2.0).line(0.0, 10.0, 5.0, 20.0, Ink.INK, 1.0)
    assert any("100 680 m 110 660 l" in part for part in canvas._code)


def test_the_same_drawing_is_the_same_to_the_byte() -> None:
    def paper() -> bytes:
        buffer = BytesIO()
        story = [DrawingFlowable(450.0, 170.0, PICTURES["pads"])]
        SimpleDocTemplate(buffer, invariant=1).build(story)
        return buffer.getvalue()

    assert svg_of(PICTURES["rule"]) == svg_of(PICTURES["rule"])
    assert paper() == paper()


@pytest.mark.parametrize("bold", [False, True])
def test_a_text_is_never_wider_than_its_estimate(bold: bool) -> None:
    font = "Helvetica-Bold" if bold else "Helvetica"
    for character in map(chr, range(32, 127)):
        assert stringWidth(character, font, 10.0) <= text_width(character, 10.0, bold), character
