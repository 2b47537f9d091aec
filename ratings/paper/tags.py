"""The order in which a paper is read aloud: what each piece of it is, written as it ends.

Of what is written only numbers are remembered: of each open element its children, of each page
the elements on it.
"""

from __future__ import annotations

from array import array
from collections.abc import Sequence

from ratings.paper.pdf_file import PdfFile, name_of, text_of

# After the keys of all pages, one for each page.
_FIRST_LINK = 1_000_000


class Element:
    """A piece of a paper while it is open: a section, a paragraph, a row, a cell, a figure."""

    def __init__(self, number: int, role: str, parent: Element | None, more: str = "") -> None:
        self.number = number
        self.role = role
        self.parent = parent
        self.more = more
        self.children = array("Q")
        # Where it is written: the page and the number of the mark there.
        self.marks: list[tuple[int, int]] = []
        self.links: list[tuple[int, int]] = []


class Tags:
    """Writes the structure of a paper beside its pages."""

    def __init__(self, file: PdfFile) -> None:
        self._file = file
        self._root = file.reserve()
        self.document = Element(file.reserve(), "Document", None)
        self._on_page: list[int] = []
        self._pages: list[int] = []
        self._of_links: list[int] = []

    def begin(self, role: str, parent: Element, *, said: str = "", attributes: str = "") -> Element:
        """Open a piece of the paper. said: the words that stand for a picture."""
        more = f" /Alt {text_of(said)}" if said else ""
        more += f" /A <<{attributes}>>" if attributes else ""
        element = Element(self._file.reserve(), role, parent, more)
        parent.children.append(element.number)
        return element

    def end(self, element: Element) -> None:
        """Write a piece of the paper, once all that is within it is written."""
        kids = [f"{number} 0 R" for number in element.children]
        pages = {page for page, _ in element.marks}
        page = min(pages, default=0)
        kids += [
            str(mark) if on == page else f"<</Type /MCR /Pg {on} 0 R /MCID {mark}>>"
            for on, mark in element.marks
        ]
        kids += [f"<</Type /OBJR /Pg {on} 0 R /Obj {link} 0 R>>" for on, link in element.links]
        held = element.parent.number if element.parent else self._root
        where = f" /Pg {page} 0 R" if page else ""
        self._file.put(
            f"<</Type /StructElem /S {name_of(element.role)} /P {held} 0 R{where}"
            f"{element.more} /K [{' '.join(kids)}]>>",
            element.number,
        )

    def mark(self, element: Element, page: int) -> int:
        """Return the number of a mark on the page that is being written."""
        self._on_page.append(element.number)
        number = len(self._on_page) - 1
        element.marks.append((page, number))
        return number

    def end_page(self) -> int:
        """Write which elements stand on the page just ended, and return its key."""
        self._pages.append(self._file.put(_references(self._on_page)))
        self._on_page = []
        return len(self._pages) - 1

    def link(self, element: Element, page: int, annotation: int) -> int:
        """Note that an element leads somewhere, and return the key of the link."""
        element.links.append((page, annotation))
        self._of_links.append(element.number)
        return _FIRST_LINK + len(self._of_links) - 1

    def close(self) -> int:
        """Write the root of the structure, and return its number."""
        self.end(self.document)
        keyed = [f"{key} {number} 0 R" for key, number in enumerate(self._pages)]
        keyed += [f"{_FIRST_LINK + key} {number} 0 R" for key, number in enumerate(self._of_links)]
        parents = self._file.put(f"<</Nums [{' '.join(keyed)}]>>")
        return self._file.put(
            f"<</Type /StructTreeRoot /K {self.document.number} 0 R /ParentTree {parents} 0 R "
            f"/ParentTreeNextKey {_FIRST_LINK + len(self._of_links)}>>",
            self._root,
        )


def _references(numbers: Sequence[int]) -> str:
    return "[" + " ".join(f"{number} 0 R" for number in numbers) + "]"
