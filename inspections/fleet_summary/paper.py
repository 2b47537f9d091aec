"""The fleet summary as a PDF."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, time

from django.utils import timezone
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from fleet.dates import day_words, days_words, moment_words
from fleet.quantities import capacity_words, listed_words, share_words
from inspections.fleet_summary.facts import FleetSummary, Outage, Tally
from ratings.drawing.pdf import DrawingFlowable
from ratings.drawing.ready_trend import ReadyLine, draw_ready_trend
from ratings.drawing.surface import Surface
from ratings.paper.pages import paper_pdf
from ratings.paper.style import (
    CAUTION,
    HEADING,
    MARGIN,
    SMALL,
    TITLE,
    WIDTH,
    paragraph,
    small_print,
    table,
)
from ratings.record.papers import Stamp

CAUTION_WORDS = (
    "Ready is the working capacity of units in service that meet their listing. No unit goes out "
    "by this paper: its own page, its pull sheet, the crane’s chart, rigging limits, local code "
    "and a qualified person decide every pull."
)
# Marks beyond these are counted only.
MARKS_NAMED = 40


def fleet_summary_pdf(
    summary: FleetSummary,
    *,
    where: str,
    system: str,
    printed_at: datetime,
    printed_by: str,
    stamp: Stamp | None = None,
) -> bytes:
    """Return the paper's bytes. where: whose units, for its title."""
    printed = timezone.localtime(printed_at)

    def draw_foot(canvas: Canvas) -> None:
        small_print(canvas, 30, f"printed {moment_words(printed)} {printed:%Z} by {printed_by}")

    return paper_pdf(
        list(_story(summary, where, system)),
        title=f"Fleet summary, {where}",
        head=f"fleet summary · {where}",
        draw_foot=draw_foot,
        side=MARGIN,
        top=46,
        bottom=54,
        stamp=stamp,
    )


def _story(summary: FleetSummary, where: str, system: str) -> Iterator[Flowable]:
    yield paragraph(f"Fleet summary: {where}", TITLE)
    yield paragraph(
        f"At the end of {day_words(summary.last_day)}, by the ledger; "
        f"{days_words(summary.first_day, summary.last_day)} looked back on."
    )
    yield paragraph(CAUTION_WORDS, CAUTION)
    yield paragraph("Ready against listed, by yard", HEADING)
    rows = [[place.name, *_figures(each, system)] for place, each in summary.by_yard]
    if len(rows) != 1:
        rows.append(["All", *_figures(summary.total, system)])
    yield table(["Yard", *_HEADER], rows, _WIDTHS)
    yield paragraph("Over time", HEADING)
    yield from _drawn(summary, system)
    yield table(
        ["End of", *_HEADER],
        [[day_words(day), *_figures(each, system)] for day, each in summary.trend],
        _WIDTHS,
    )
    yield paragraph(
        "A unit is told of from its first ledger entry on, and counted to the yard it is in now.",
        SMALL,
    )
    yield paragraph("Units out of service within these days", HEADING)
    yield paragraph("A unit is out while its housing is, or the hammer it hangs on.", SMALL)
    yield _out("Unit", summary.units_out) if summary.units_out else paragraph("No unit was.")
    yield paragraph("Machines out of service within these days", HEADING)
    yield _out("Machine", summary.outages) if summary.outages else paragraph("No machine was.")
    yield paragraph("Plans to restore units, held to what came", HEADING)
    yield from map(paragraph, summary.plans)
    yield paragraph("How good forecasts were", HEADING)
    yield paragraph(summary.forecasts)
    yield paragraph("What this leaves out", HEADING)
    yield from _left_out(summary)


def _out(whose: str, outages: Sequence[Outage]) -> Flowable:
    return table(
        [whose, "What", "Days out", "Times", "Out at the end"],
        [
            [
                each.machine,
                each.sort,
                f"{each.days:,.1f}",
                str(each.times),
                "yes" if each.is_out_now else "no",
            ]
            for each in outages
        ],
        [120, 110, 90, 90, 118],
    )


def _drawn(summary: FleetSummary, system: str) -> Iterator[Flowable]:
    """Draw what was ready in each yard, those with most; nothing of a single day."""
    most_first = sorted(
        summary.trend_by_yard, key=lambda each: -max(ready_lbf for _, ready_lbf in each[1])
    )
    lines = [
        ReadyLine(yard.name, tuple((datetime.combine(day, time.max), lbf) for day, lbf in each))
        for yard, each in most_first[:YARDS_DRAWN]
    ]
    if not lines or len(summary.trend) < 2:
        return

    def draw(surface: Surface) -> None:
        draw_ready_trend(surface, lines, WIDTH / _SCALE, _HEIGHT / _SCALE, system)

    words = "Tons ready at the end of each day told below, by yard"
    if len(most_first) > YARDS_DRAWN:
        words += f"; the {YARDS_DRAWN} of them with most"
    yield paragraph(f"{words}.", SMALL)
    yield DrawingFlowable(WIDTH, _HEIGHT, draw, _SCALE)


_HEIGHT, _SCALE = 150.0, 0.8
# More lines than these can't be told apart.
YARDS_DRAWN = 4
_HEADER = ("Units", "Ready", "Out", "Tons ready", "Tons listed", "Ready of listed")
_WIDTHS = (118, 44, 44, 44, 100, 100, 78)


def _figures(each: Tally, system: str) -> list[str]:
    return [
        str(each.units),
        str(each.ready_units),
        str(each.out_units),
        capacity_words(each.ready_lbf, system),
        listed_words(each.listed_lbf, system),
        "nothing listed" if each.share is None else share_words(each.share),
    ]


def _left_out(summary: FleetSummary) -> Iterator[Flowable]:
    told = (
        (summary.never_counted, "Never counted, so that nothing is known of what they pull"),
        (summary.without_listing, "Without a listed rating, which tons listed leave out"),
        (summary.bare_hammers, "Hammers on no housing, which have no line pull"),
    )
    for marks, words in told:
        if marks:
            yield paragraph(f"{words}: {_named(marks)}.")
    yield paragraph(
        "Units that are flagged or out of service add nothing to tons ready, whatever they would "
        "pull. Whether a unit is promised to a job, on its way or on hire is not looked at.",
    )


def _named(marks: Sequence[str]) -> str:
    more = len(marks) - MARKS_NAMED
    return ", ".join(marks[:MARKS_NAMED]) + (f" and {more} more" if more > 0 else "")
