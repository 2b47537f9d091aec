"""The sheets of labels that can be printed on. The page that offers them draws nothing."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class LabelStock:
    """A sheet of labels. All in points; margins to the first label's upper left corner."""

    name: str
    page: tuple[float, float]
    across: int
    down: int
    width: float
    height: float
    left: float
    top: float
    step_across: float
    step_down: float
    # Where labels fill the sheet to its edges, few printers reach the outermost of it.
    inset: float = field(default=3.0, kw_only=True)

    @property
    def many(self) -> int:
        return self.across * self.down

    def corner(self, place: int) -> tuple[float, float]:
        """Return the lower left corner of a label, places counted from 0 along the rows."""
        row, column = divmod(place, self.across)
        x = self.left + column * self.step_across
        return x, self.page[1] - self.top - row * self.step_down - self.height


# Points; those of a millimetre are as exact as the sheets are cut.
INCH, MM = 72.0, 72.0 / 25.4
LETTER, A4 = (612.0, 792.0), (210.0 * MM, 297.0 * MM)


def _stock(
    name: str,
    page: tuple[float, float],
    across: int,
    down: int,
    *measures: float,
    inset: float = LabelStock.inset,
) -> LabelStock:
    """measures: from the width of a label on, in inches on letter paper, in millimetres on A4."""
    scale = INCH if page == LETTER else MM
    return LabelStock(name, page, across, down, *(each * scale for each in measures), inset=inset)


STOCKS = {
    "letter-10": _stock(
        "Letter, 10 to a sheet, 4 × 2 in", LETTER, 2, 5, 4.0, 2.0, 0.156, 0.5, 4.1875, 2.0
    ),
    "letter-30": _stock(
        "Letter, 30 to a sheet, 2⅝ × 1 in", LETTER, 3, 10, 2.625, 1.0, 0.1875, 0.5, 2.75, 1.0
    ),
    "a4-8": _stock(
        "A4, 8 to a sheet, 99.1 × 67.7 mm", A4, 2, 4, 99.1, 67.7, 4.65, 13.1, 101.6, 67.7
    ),
    "a4-24": _stock(
        "A4, 24 to a sheet, 70 × 37 mm",
        A4,
        3,
        8,
        70.0,
        37.0,
        0.0,
        0.5,
        70.0,
        37.0,
        inset=5.0 * MM,
    ),
}
