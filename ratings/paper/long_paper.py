"""A paper of any length, laid out as it comes and written page by page.

Bookmarks, tags in reading order, embedded letters, links within the paper, pictures with words for
who can't see them, and what PDF/A-3 asks of an archive's file: metadata, a colour profile, nothing
that lies outside. The same calls give the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from hashlib import sha256
from typing import BinaryIO
from xml.sax.saxutils import escape

from PIL import ImageCms
from reportlab.lib.pagesizes import letter

from ratings.drawing.surface import Ink, Surface
from ratings.paper.content import ContentSurface, Fonts, colour, font_name, show
from ratings.paper.pdf_file import PdfFile, name_of, text_of
from ratings.paper.tags import Element, Tags

PAGE_WIDTH, PAGE_HEIGHT = letter
MARGIN = 42.0
WIDTH = PAGE_WIDTH - 2 * MARGIN
_TOP, _BOTTOM = PAGE_HEIGHT - 46.0, 58.0
PRODUCER = "Line-Pull Ledger"
_HEAD_SIZE = 7.5


@dataclass(frozen=True)
class Style:
    """How a paragraph looks, and what it is to whoever has it read aloud."""

    size: float
    leading: float
    bold: bool = False
    before: float = 0.0
    after: float = 0.0
    role: str = "P"
    ink: Ink = Ink.INK


BODY = Style(9.0, 11.5, after=1.0)
STRONG = Style(9.0, 11.5, bold=True, after=1.0)
SMALL = Style(7.5, 9.5, after=1.0)
NOTE = Style(7.5, 9.5, bold=True, after=1.0)
CODE = Style(6.5, 8.5, after=1.0)
CAUTION = Style(9.0, 11.5, before=6.0, after=6.0, ink=Ink.WARN)
TITLE = Style(16.0, 20.0, bold=True, after=2.0, role="H1")
HEADINGS = (
    Style(13.0, 17.0, bold=True, before=12.0, after=4.0, role="H2"),
    Style(11.0, 14.0, bold=True, before=10.0, after=4.0, role="H3"),
    Style(9.5, 12.0, bold=True, before=8.0, after=2.0, role="H4"),
)
ITEM = Style(9.0, 11.5, bold=True, before=6.0, after=1.0)
CELL, CELL_HEAD = SMALL, NOTE
# Below a heading there is room for so much of what follows it, in points.
_KEPT_BELOW = 40.0


@dataclass(frozen=True)
class About:
    """What the file says of itself. made_at: with its zone. foot: lines below every page."""

    title: str
    author: str
    subject: str
    keywords: str
    made_at: datetime
    head: str
    foot: tuple[str, ...]


@dataclass(frozen=True)
class Attachment:
    """A file kept within the paper: what it is to the paper, in a line."""

    name: str
    mime: str
    data: bytes
    about: str


@dataclass
class _Bookmark:
    text: str
    level: int
    page: int
    y: float
    number: int = 0


class LongPaper:
    """Writes a paper from its first line to its last; `close` ends it."""

    def __init__(self, out: BinaryIO, about: About) -> None:
        self.about = about
        self.fonts = Fonts()
        self._file = PdfFile(out)
        self._tags = Tags(self._file)
        self._regular, self._bold, self._total, self._tree, self._resources = (
            self._file.reserve() for _ in range(5)
        )
        self._open: list[Element] = [self._tags.document]
        self._pages: list[int] = []
        self._bookmarks: list[_Bookmark] = []
        self._places: dict[str, tuple[int, float]] = {}
        self._links: list[tuple[int, int, str, tuple[float, ...], int, str]] = []
        self._ops: list[str] = []
        self._images: dict[str, int] = {}
        self._annotations: list[int] = []
        self._drawn: list[str] = []
        self._has_ended = False
        self._y = 0.0
        self._page = 0

    # Sections and text

    @contextmanager
    def section(
        self, heading: str, level: int = 0, *, bookmark: str = "", below: float = _KEPT_BELOW
    ) -> Iterator[None]:
        """Write a heading, and what stands below it while the block runs.

        bookmark: what the list of bookmarks calls it. below: how much of it stays on its page, in
        points.
        """
        element = self._tags.begin("Sect", self._open[-1])
        self._open.append(element)
        style = HEADINGS[level]
        self.need(style.before + style.leading + style.after + below)
        self._bookmarks.append(
            _Bookmark(bookmark or heading, level, self._page, self._y - style.before)
        )
        self.text(heading, style)
        yield
        self._open.pop()
        self._tags.end(element)

    def bookmark(self, text: str, level: int) -> None:
        """Let the list of bookmarks lead to where the next line stands."""
        self.need(_KEPT_BELOW)
        self._bookmarks.append(_Bookmark(text, level, self._page, self._y))

    def text(
        self,
        text: str,
        style: Style = BODY,
        *,
        anchor: str = "",
        link: str = "",
        lines: Sequence[str] = (),
    ) -> None:
        """Write a paragraph, over as many pages as it takes.

        anchor: the name of this place. link: the place that it leads to. lines: the text as it was
        laid out already.
        """
        lines = lines or self._lines(text, style, WIDTH)
        self.need(style.before + style.leading)
        self._y -= style.before if self._y < _TOP else 0.0
        if anchor:
            self._places[anchor] = (self._page, self._y)
        element = self._tags.begin(style.role, self._open[-1])
        within = self._tags.begin("Link", element) if link else element
        at = 0
        while at < len(lines):
            room = max(int((self._y - _BOTTOM) / style.leading), 1)
            part = lines[at : at + room]
            top = self._y
            self._marked(within, self._block(MARGIN, part, style))
            self._y -= style.leading * len(part)
            if link:
                wide = max(map(self.fonts.of(bold=style.bold).width, part)) * style.size / 1000.0
                self._lead(within, link, (MARGIN, self._y, MARGIN + wide, top), text)
            at += len(part)
            if at < len(lines):
                self._new_page()
        if within is not element:
            self._tags.end(within)
        self._tags.end(element)
        self._y -= style.after

    def together(
        self,
        paragraphs: Sequence[tuple[str, Style]],
        *,
        anchor: str = "",
        links: Mapping[str, str] | None = None,
        below: float = 0.0,
    ) -> None:
        """Write paragraphs, those that say something, on one page where they fit on one.

        anchor: the name of the place of the first. links: where some of the texts lead. below: how
        much room to leave for what follows them, in points.
        """
        laid = [
            (text, style, self._lines(text, style, WIDTH)) for text, style in paragraphs if text
        ]
        self.need(
            below
            + sum(
                style.before + style.after + len(lines) * style.leading for _, style, lines in laid
            )
        )
        for text, style, lines in laid:
            link = links.get(text, "") if links else ""
            self.text(text, style, anchor=anchor, link=link, lines=lines)
            anchor = ""

    def need(self, points: float) -> None:
        """Begin a new page unless so much is free on this one, or it would fit on none."""
        if not self._page:
            self._begin_page()
        elif self._y - points < _BOTTOM and points <= _TOP - _BOTTOM and self._y < _TOP:
            self._new_page()

    def space(self, points: float) -> None:
        self._y -= points

    # Tables

    @contextmanager
    def rows(
        self, header: Sequence[str], widths: Sequence[float]
    ) -> Iterator[Callable[[Sequence[str]], None]]:
        """Write a table row by row, as they come; its header stands again on every page."""
        element = self._tags.begin("Table", self._open[-1])
        heads = [
            self._lines(text, CELL_HEAD, wide - 6)
            for text, wide in zip(header, widths, strict=True)
        ]
        tall = max(map(len, heads)) * CELL_HEAD.leading + 5
        self.need(tall + 3 * CELL.leading)
        self._row(element, heads, widths, CELL_HEAD, role="TH", rule=0.9)

        def add(cells: Sequence[str]) -> None:
            rest = [
                self._lines(text, CELL, wide - 6) for text, wide in zip(cells, widths, strict=True)
            ]
            while True:
                most = max(map(len, rest))
                room = int((self._y - _BOTTOM - 5) / CELL.leading)
                # A short row stays whole; a long one goes on over the page.
                if room < min(most, 6):
                    self._new_page()
                    self._row(None, heads, widths, CELL_HEAD, role="TH", rule=0.9)
                    continue
                self._row(element, [each[:room] for each in rest], widths, CELL, rule=0.4)
                rest = [each[room:] for each in rest]
                if not any(rest):
                    return

        yield add
        self._tags.end(element)
        self._y -= 3.0

    def _row(
        self,
        table: Element | None,
        cells: Sequence[Sequence[str]],
        widths: Sequence[float],
        style: Style,
        *,
        rule: float,
        role: str = "TD",
    ) -> None:
        """Write a row; one that only says the header again is no part of the table."""
        row = self._tags.begin("TR", table) if table else None
        x, top = MARGIN, self._y
        self._y -= 2.0
        scope = "/O /Table /Scope /Column" if role == "TH" else ""
        for lines, wide in zip(cells, widths, strict=True):
            drawn = self._block(x + 3, lines, style) if any(lines) else ""
            if row is None:
                self._artifact(drawn)
            else:
                cell = self._tags.begin(role, row, attributes=scope)
                if drawn:
                    self._marked(cell, drawn)
                self._tags.end(cell)
            x += wide
        self._y = top - 5.0 - style.leading * max(map(len, cells))
        ink = Ink.INK if rule > 0.5 else Ink.GRID
        self._artifact(
            f"{colour(ink, stroke=True)} {rule:g} w {MARGIN:.2f} {self._y:.2f} m "
            f"{x:.2f} {self._y:.2f} l S"
        )
        if row is not None:
            self._tags.end(row)

    # Pictures

    def picture(
        self, width: float, height: float, draw: Callable[[Surface], None], said: str
    ) -> None:
        """Draw a picture. said: what it shows, in words."""
        self.need(height)
        surface = ContentSurface(self.fonts, MARGIN, self._y)
        draw(surface)
        element = self._tags.begin("Figure", self._open[-1], said=said, attributes="/O /Layout")
        self._marked(element, "q " + "\n".join(surface.operators) + " Q")
        self._tags.end(element)
        self._y -= height

    def photos(self, photos: Sequence[tuple[bytes, int, int, str]], height: float = 110.0) -> None:
        """Show photos beside each other: JPEG, width and height in pixels, and words of each."""
        x = MARGIN
        tall = height + 2 * SMALL.leading + 4
        self.need(tall)
        for data, wide, high, words in photos:
            shown = min(height * wide / high, 200.0)
            if x + shown > MARGIN + WIDTH:
                self._y -= tall
                x = MARGIN
                self.need(tall)
            name = f"I{len(self._images)}"
            self._images[name] = self._file.put_stream(
                f"/Type /XObject /Subtype /Image /Width {wide} /Height {high} "
                "/ColorSpace /DeviceRGB /BitsPerComponent 8 /Filter /DCTDecode",
                data,
                is_packed=True,
            )
            up = shown * high / wide
            element = self._tags.begin("Figure", self._open[-1], said=words)
            self._marked(
                element, f"q {shown:.2f} 0 0 {up:.2f} {x:.2f} {self._y - up:.2f} cm /{name} Do Q"
            )
            self._tags.end(element)
            caption = self._tags.begin("Caption", self._open[-1])
            kept, self._y = self._y, self._y - height
            self._marked(caption, self._block(x, self._lines(words, SMALL, shown)[:2], SMALL))
            self._tags.end(caption)
            self._y = kept
            x += shown + 8.0
        self._y -= tall

    # The end

    def end_pages(self) -> list[str]:
        """End the last page, and return the SHA-256 of what each page draws."""
        if not self._has_ended:
            self.need(0.0)
            self._end_page()
            self._has_ended = True
        return self._drawn

    def close(self, attachments: Sequence[Attachment] = ()) -> int:
        """Write what the file is as a whole, and return how many pages it has."""
        self.end_pages()
        put = self._file.put
        for page, annotation, target, box, key, words in self._links:
            on, y = self._places.get(target, (page, box[3]))
            put(
                f"<</Type /Annot /Subtype /Link /Rect [{_points(box)}] /Border [0 0 0] /F 4 "
                f"/StructParent {key} /Contents {text_of(words[:200])} "
                f"/Dest [{on} 0 R /XYZ {MARGIN:g} {y:.2f} 0]>>",
                annotation,
            )
        total = self.fonts.printable(str(len(self._pages)))
        self._file.put_stream(
            "/Type /XObject /Subtype /Form /BBox [0 0 60 20] /Resources "
            f"<</Font <</R {self._regular} 0 R>>>>",
            f"{colour(Ink.INK)} {show(self.fonts, 0, 4, total, _HEAD_SIZE)}".encode(),
            self._total,
        )
        self.fonts.regular.put(self._file, self._regular)
        self.fonts.bold.put(self._file, self._bold)
        put(
            f"<</Font <</R {self._regular} 0 R /B {self._bold} 0 R>> "
            f"/XObject <</T {self._total} 0 R>>>>",
            self._resources,
        )
        kids = " ".join(f"{page} 0 R" for page in self._pages)
        put(
            f"<</Type /Pages /Count {len(self._pages)} /MediaBox [0 0 {PAGE_WIDTH:g} "
            f"{PAGE_HEIGHT:g}] /Kids [{kids}]>>",
            self._tree,
        )
        held = [(each, self._attached(each)) for each in sorted(attachments, key=_by_name)]
        names = " ".join(f"{text_of(each.name)} {number} 0 R" for each, number in held)
        files = " ".join(f"{number} 0 R" for _, number in held)
        more = f" /Names <</EmbeddedFiles <</Names [{names}]>>>> /AF [{files}]" if held else ""
        root = put(
            f"<</Type /Catalog /Version /1.7 /Pages {self._tree} 0 R /Lang (en-US) /MarkInfo "
            f"<</Marked true>> /StructTreeRoot {self._tags.close()} 0 R /Metadata "
            f"{self._metadata()} 0 R /OutputIntents [{self._intent()} 0 R] /Outlines "
            f"{self._outline()} 0 R /PageMode /UseOutlines /ViewerPreferences "
            f"<</DisplayDocTitle true>>{more}>>"
        )
        self._file.close(root, self._info())
        return len(self._pages)

    def _attached(self, each: Attachment) -> int:
        made = _pdf_time(self.about.made_at)
        stream = self._file.put_stream(
            f"/Type /EmbeddedFile /Subtype {name_of(each.mime)} /Params <</Size {len(each.data)} "
            f"/ModDate ({made})>>",
            each.data,
        )
        name = text_of(each.name)
        return self._file.put(
            f"<</Type /Filespec /F {name} /UF {name} /Desc {text_of(each.about)} "
            f"/AFRelationship /Data /EF <</F {stream} 0 R /UF {stream} 0 R>>>>"
        )

    def _info(self) -> int:
        about, at = self.about, _pdf_time(self.about.made_at)
        return self._file.put(
            f"<</Title {text_of(about.title)} /Author {text_of(about.author)} /Subject "
            f"{text_of(about.subject)} /Keywords {text_of(about.keywords)} /Creator "
            f"({PRODUCER}) /Producer ({PRODUCER}) /CreationDate ({at}) /ModDate ({at})>>"
        )

    def _metadata(self) -> int:
        about = self.about
        at = about.made_at.isoformat(timespec="seconds")
        title, author, subject, keywords = (
            escape("".join(c for c in text if c.isprintable()))
            for text in (about.title, about.author, about.subject, about.keywords)
        )
        told = (
            '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
            '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF '
            'xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about="" '
            'xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/" '
            'xmlns:pdf="http://ns.adobe.com/pdf/1.3/" '
            'xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/">'
            "<pdfaid:part>3</pdfaid:part><pdfaid:conformance>A</pdfaid:conformance>"
            f'<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>'
            f"<dc:creator><rdf:Seq><rdf:li>{author}</rdf:li></rdf:Seq></dc:creator>"
            f'<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{subject}</rdf:li></rdf:Alt>'
            "</dc:description><dc:language><rdf:Bag><rdf:li>en-US</rdf:li></rdf:Bag></dc:language>"
            f"<pdf:Keywords>{keywords}</pdf:Keywords><pdf:Producer>{PRODUCER}</pdf:Producer>"
            f"<xmp:CreatorTool>{PRODUCER}</xmp:CreatorTool><xmp:CreateDate>{at}</xmp:CreateDate>"
            f"<xmp:ModifyDate>{at}</xmp:ModifyDate></rdf:Description></rdf:RDF></x:xmpmeta>\n"
            '<?xpacket end="r"?>'
        )
        # Not packed: whoever keeps an archive reads it without unpacking.
        return self._file.put_stream("/Type /Metadata /Subtype /XML", told.encode(), is_packed=True)

    def _intent(self) -> int:
        profile = self._file.put_stream("/N 3", _colour_profile())
        words = "(sRGB IEC61966-2.1)"
        return self._file.put(
            f"<</Type /OutputIntent /S /GTS_PDFA1 /OutputConditionIdentifier {words} /Info {words} "
            f"/DestOutputProfile {profile} 0 R>>"
        )

    def _outline(self) -> int:
        marks, top = self._bookmarks, self._file.reserve()
        for mark in marks:
            mark.number = self._file.reserve()
        children: dict[int, list[_Bookmark]] = {}
        parents: dict[int, int] = {}
        above: list[_Bookmark] = []
        for mark in marks:
            while above and above[-1].level >= mark.level:
                above.pop()
            parents[mark.number] = above[-1].number if above else top
            children.setdefault(parents[mark.number], []).append(mark)
            above.append(mark)
        for siblings in children.values():
            for place, mark in enumerate(siblings):
                parts = [
                    f"/Title {text_of(self.fonts.printable(mark.text))}",
                    f"/Parent {parents[mark.number]} 0 R",
                    f"/Dest [{mark.page} 0 R /XYZ {MARGIN:g} {mark.y:.2f} 0]",
                ]
                if place:
                    parts.append(f"/Prev {siblings[place - 1].number} 0 R")
                if place + 1 < len(siblings):
                    parts.append(f"/Next {siblings[place + 1].number} 0 R")
                parts += _ends(children.get(mark.number, []), is_closed=True)
                self._file.put(f"<<{' '.join(parts)}>>", mark.number)
        ends = _ends(children.get(top, []), is_closed=False)
        return self._file.put(f"<</Type /Outlines {' '.join(ends)}>>", top)

    # Pages

    def _begin_page(self) -> None:
        self._page = self._file.reserve()
        self._pages.append(self._page)
        self._ops = [colour(Ink.INK)]
        self._images, self._annotations = {}, []
        self._y = _TOP
        self._head_and_foot()

    def _new_page(self) -> None:
        self._end_page()
        self._begin_page()

    def _end_page(self) -> None:
        key = self._tags.end_page()
        drawn = "\n".join(self._ops).encode()
        self._drawn.append(sha256(drawn).hexdigest())
        content = self._file.put_stream("", drawn)
        resources = f"{self._resources} 0 R"
        if self._images:
            shown = " ".join(f"/{name} {number} 0 R" for name, number in self._images.items())
            resources = (
                f"<</Font <</R {self._regular} 0 R /B {self._bold} 0 R>> "
                f"/XObject <</T {self._total} 0 R {shown}>>>>"
            )
        links = " ".join(f"{number} 0 R" for number in self._annotations)
        annotations = f" /Annots [{links}]" if links else ""
        self._file.put(
            f"<</Type /Page /Parent {self._tree} 0 R /Resources {resources} /Contents {content} "
            f"0 R /StructParents {key} /Tabs /S{annotations}>>",
            self._page,
        )

    def _head_and_foot(self) -> None:
        fonts, y = self.fonts, PAGE_HEIGHT - 26.0
        number = fonts.printable(f"page {len(self._pages)} of ")
        right = PAGE_WIDTH - MARGIN - 26.0
        left = right - fonts.regular.width(number) * _HEAD_SIZE / 1000.0
        room = left - MARGIN - 12.0
        head = fonts.printable(f"{PRODUCER} · {self.about.head}")
        drawn = [show(fonts, MARGIN, y, _cut(fonts, head, _HEAD_SIZE, room), _HEAD_SIZE)]
        drawn.append(show(fonts, left, y, number, _HEAD_SIZE))
        drawn.append(f"q 1 0 0 1 {right:.2f} {y - 4:.2f} cm /T Do Q")
        drawn.append(colour(Ink.INK, stroke=True) + " 0.5 w")
        for height in (PAGE_HEIGHT - 30.0, _BOTTOM - 6.0):
            drawn.append(f"{MARGIN:g} {height:g} m {PAGE_WIDTH - MARGIN:g} {height:g} l S")
        for place, line in enumerate(self.about.foot):
            text = _cut(fonts, fonts.printable(line), 6.5, WIDTH)
            drawn.append(show(fonts, MARGIN, _BOTTOM - 15.0 - 9.0 * place, text, 6.5))
        self._artifact("\n".join(drawn), "<</Type /Pagination>>")

    # What stands on a page

    def _lines(self, text: str, style: Style, width: float) -> list[str]:
        font = self.fonts.of(bold=style.bold)
        return font.lines(self.fonts.printable(text), style.size, width)

    def _block(self, x: float, lines: Sequence[str], style: Style) -> str:
        """Return what writes lines below each other from the place the paper is at."""
        font = self.fonts.of(bold=style.bold)
        up = self._y - style.size
        # A space ends each line, so that whoever has it read aloud hears two words.
        shown = " Tj T* ".join(font.written(f"{line} ") for line in lines)
        ink = "" if style.ink is Ink.INK else f"{colour(style.ink)} "
        return (
            f"{ink}BT {font_name(bold=style.bold)} {style.size:g} Tf {style.leading:g} TL "
            f"{x:.2f} {up:.2f} Td {shown} Tj ET" + (f" {colour(Ink.INK)}" if ink else "")
        )

    def _marked(self, element: Element, drawn: str) -> None:
        mark = self._tags.mark(element, self._page)
        self._ops.append(f"{name_of(element.role)} <</MCID {mark}>> BDC {drawn} EMC")

    def _artifact(self, drawn: str, kind: str = "") -> None:
        if drawn:
            self._ops.append(f"/Artifact {kind + ' BDC' if kind else 'BMC'} {drawn} EMC")

    def _lead(self, element: Element, target: str, box: tuple[float, ...], words: str) -> None:
        annotation = self._file.reserve()
        key = self._tags.link(element, self._page, annotation)
        self._annotations.append(annotation)
        self._links.append((self._page, annotation, target, box, key, words))


def _by_name(attachment: Attachment) -> str:
    return attachment.name


def _cut(fonts: Fonts, text: str, size: float, room: float) -> str:
    """Return as much of a line as there is room for."""
    lines = fonts.regular.lines(text, size, room)
    return lines[0] if len(lines) == 1 else fonts.regular.lines(text, size, room - 8.0)[0] + "…"


def _points(box: Sequence[float]) -> str:
    return " ".join(f"{each:.2f}" for each in box)


def _ends(children: Sequence[_Bookmark], *, is_closed: bool) -> list[str]:
    if not children:
        return []
    count = -len(children) if is_closed else len(children)
    return [
        f"/First {children[0].number} 0 R",
        f"/Last {children[-1].number} 0 R",
        f"/Count {count}",
    ]


def _pdf_time(at: datetime) -> str:
    zone = f"{at:%z}"
    return f"D:{at:%Y%m%d%H%M%S}{zone[:3]}'{zone[3:5]}'"


@cache
def _colour_profile() -> bytes:
    """Return sRGB as an ICC profile, with no trace of when it was made."""
    made = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    # Its date and its id would differ from one run to the next.
    made[24:36] = bytes((0x07, 0xD0, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0))
    made[84:100] = bytes(16)
    return bytes(made)
