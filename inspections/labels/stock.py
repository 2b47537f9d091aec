"""Common label stock, by its measures: how many to a sheet and where each lies."""

from __future__ import annotations

from dataclasses import dataclass, replace

POINTS_PER_IN = 72.0
POINTS_PER_MM = 72.0 / 25.4


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
    inset: float = 3.0

    @property
    def many(self) -> int:
        return self.across * self.down

    def corner(self, place: int) -> tuple[float, float]:
        """Return the lower left corner of a label, places counted from 0 along the rows."""
        row, column = divmod(place, self.across)
        x = self.left + column * self.step_across
        return x, self.page[1] - self.top - row * self.step_down - self.height


def _inches(name: str, across: int, down: int, *measures: float) -> LabelStock:
    return LabelStock(
        name, (612.0, 792.0), across, down, *(value * POINTS_PER_IN for value in measures)
    )


def _millimetres(name: str, across: int, down: int, *measures: float) -> LabelStock:
    return LabelStock(
        name,
        (210.0 * POINTS_PER_MM, 297.0 * POINTS_PER_MM),
        across,
        down,
        *(value * POINTS_PER_MM for value in measures),
    )


STOCKS = {
    "letter-10": _inches(
        "Letter, 10 to a sheet, 4 × 2 in", 2, 5, 4.0, 2.0, 0.156, 0.5, 4.1875, 2.0
    ),
    "letter-30": _inches(
        "Letter, 30 to a sheet, 2⅝ × 1 in", 3, 10, 2.625, 1.0, 0.1875, 0.5, 2.75, 1.0
    ),
    "a4-8": _millimetres(
        "A4, 8 to a sheet, 99.1 × 67.7 mm", 2, 4, 99.1, 67.7, 4.65, 13.1, 101.6, 67.7
    ),
    "a4-24": replace(
        _millimetres("A4, 24 to a sheet, 70 × 37 mm", 3, 8, 70.0, 37.0, 0.0, 0.5, 70.0, 37.0),
        inset=5.0 * POINTS_PER_MM,
    ),
}
