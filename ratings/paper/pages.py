"""A paper of numbered pages, with a head and a foot on each and what checks it at its end."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from typing import Any

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, SimpleDocTemplate

from ratings.paper.check_block import check_block
from ratings.paper.letters import write
from ratings.paper.style import MARGIN, PAGE, SMALL_PRINT, small_print
from ratings.record.papers import Stamp
from ratings.record.seals import foot_words


def paper_pdf(
    story: list[Flowable],
    *,
    title: str,
    head: str,
    draw_foot: Callable[[Canvas], None],
    side: float,
    top: float,
    bottom: float,
    stamp: Stamp | None = None,
) -> bytes:
    """Return a paper's bytes, each page numbered in its head: the same story, the same bytes.

    draw_foot: draws below the rule at the foot of each page. side, top, bottom: margins, points.
    stamp: its code, of a paper given out.
    """
    buffer, sealed = BytesIO(), foot_words(stamp.code if stamp else "")
    if stamp is not None:
        story = [*story, *check_block(stamp)]
    document = SimpleDocTemplate(
        buffer,
        pagesize=PAGE,
        leftMargin=side,
        rightMargin=side,
        topMargin=top,
        bottomMargin=bottom,
        title=title,
        author="Line-Pull Ledger",
        invariant=1,
    )

    class NumberedCanvas(Canvas):  # type: ignore[misc]  # the library carries no types
        """Writes head and foot once it knows how many pages there are."""

        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            self._kept: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 - reportlab's name
            self._kept.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            for number, page in enumerate(self._kept, start=1):
                self.__dict__.update(page)
                self._draw_head_and_foot(f"page {number} of {len(self._kept)}")
                super().showPage()
            super().save()

        def _draw_head_and_foot(self, number: str) -> None:
            width, height = PAGE
            small_print(self, height - 26, f"Line-Pull Ledger · {head}")
            self.setFont(*SMALL_PRINT)
            self.drawRightString(width - MARGIN, height - 26, number)
            self.setLineWidth(0.5)
            self.line(MARGIN, height - 30, width - MARGIN, height - 30)
            self.line(MARGIN, 40, width - MARGIN, 40)
            draw_foot(self)
            write(self, MARGIN, 11, sealed, "Helvetica", 6)

    document.build(story, canvasmaker=NumberedCanvas)
    return buffer.getvalue()
