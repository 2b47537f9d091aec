"""A watched pull, step by step, in words the crew can read to each other."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph, Spacer

from ratings.paper.style import SMALL, marked_up
from ratings.pullsheet.boxes import figures_of
from ratings.pullsheet.facts import Sheet
from ratings.pullsheet.layout import place
from ratings.pullsheet.tape import tape_words

STEP = SMALL.clone(
    "step", fontSize=11, leading=12.6, leftIndent=19, bulletFontName="Helvetica-Bold",
    bulletFontSize=11,
)  # fmt: skip


def draw_steps(
    canvas: Canvas, sheet: Sheet, x: float, top: float, width: float, height: float
) -> None:
    lines: list[Flowable] = []
    for number, step in enumerate(steps_of(sheet), start=1):
        lines += [Paragraph(marked_up(step), STEP, bulletText=f"{number}"), Spacer(0, 2.2)]
    place(canvas, lines, x, top, width, height)


def steps_of(sheet: Sheet) -> tuple[str, ...]:
    """Return the steps of a pull with the hammer running, or still."""
    return (
        *_before(sheet),
        *(_vibrating(sheet) if sheet.job.is_vibrating else _still(sheet)),
        *_after(),
    )


def _before(sheet: Sheet) -> Iterator[str]:
    yield (
        "Read this sheet together. One person watches the stretch and nothing else; anybody may "
        "stop the pull."
    )
    yield (
        "Clear the swing, and the ground as far as pile and hammer could fall. Nobody under the "
        "load."
    )
    yield "Clamp the pile. Read the clamp’s pressure, and again after a minute."
    yield (
        "With the line holding the housing and no more, mark the rest line on housing and frame. "
        f"Mark the stop line {tape_words(sheet.stop_in, sheet.system)} from it. Keep the tape in "
        "reach."
    )


def _vibrating(sheet: Sheet) -> Iterator[str]:
    yield "Start the hammer with the line slack. Let the pile answer before you pull."
    yield "Raise the line slowly while it vibrates. Call the stretch aloud as it grows."
    yield (
        f"At the stop line, or {_hook(sheet)} on the hook, whichever comes first: stop raising, "
        "slack off, vibrate, try again. Never pull to the stops while it vibrates."
    )
    yield "No movement in a few minutes: stop and ask. The ground holds more than was reckoned."
    yield "At break-out ease the line, so that the load does not spring."


def _still(sheet: Sheet) -> Iterator[str]:
    yield "The hammer stays off all through the pull."
    yield (
        "Raise the line slowly and steadily, boom and hook straight above the pile. Call the "
        "stretch aloud as it grows."
    )
    yield (
        f"At the stop line, or {_hook(sheet)} on the hook, whichever comes first: stop and hold. "
        "Never jerk the line, never swing the boom."
    )
    yield "No movement: lower off and ask. The ground holds more than was reckoned."
    yield "At break-out the pads let go at once: ease the line, so that the load does not spring."


def _after() -> Iterator[str]:
    yield "Lower the pile and block it before the clamp is opened."
    yield "Lock the power pack out, then count the pads; a pad not sound makes this sheet void."


def _hook(sheet: Sheet) -> str:
    return figures_of(sheet)[-1].words
