"""The history report, beside a bare table of the same cells.

Of its time, reading records takes 39 in 100: entries, inspections and their pads 17, most of the
rest the making of SQL of some 70 questions that a history of one entry asks too. Writing the paper
takes 36, of which 11 are breaking text into lines and writing them, 7 packing pages, 6 the pads
drawn in their places, 5 the order in which it is read aloud. The documents of entries take 4,
wording what changed from one to the next 3. The other reads nothing, compares nothing and draws
nothing: what is left, laying out pages, is what it does too.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO
from tempfile import TemporaryFile
from typing import Any
from unittest import mock

from django.utils import timezone
from reportlab.lib.pagesizes import letter
from reportlab.platypus import SimpleDocTemplate, Table

from fleet.models import SuppressorHousing
from inspections.history import report
from inspections.history.span import Span
from inspections.history.subjects import Subject
from ratings.paper.long_paper import LongPaper
from tests.benchmarks.databases import Filled
from tests.benchmarks.measuring import Pairs, Run, Work, benchmark
from tests.benchmarks.yards import long_life
from tests.builders import Unit

# Rows of one table: the library takes longer than in proportion to break a long one over pages.
ROWS_AT_ONCE = 40
LINE_LETTERS = 110
MOST_BYTES_AN_ENTRY = 50_000.0

Cells = list[list[str]]


def _life(run: Run, entries: int) -> Filled[Unit]:
    return run.databases.filled(("life", entries), lambda: long_life(entries))


def _asked(unit: Unit) -> report.Asked:
    housing = SuppressorHousing.objects.select_related("yard").get(pk=unit.housing.pk)
    span = Span(None, None, timezone.localdate())
    return report.Asked(Subject(housing), span, "us", "Kay Lund")


def _report(filled: Filled[Unit]) -> Work:
    """Return the work of a report written to disk, as long ones are."""

    def work() -> None:
        with filled.used() as unit, TemporaryFile() as out:
            report.write_report(out, _asked(unit))

    return work


@benchmark(
    "history",
    "the history report of 500 entries, to a bare reportlab table of the same cells",
    goal=1.3,
)
def history(run: Run) -> Pairs:
    filled = _life(run, run.size(500, 20))
    with filled.used() as unit:
        given = _tables(_asked(unit))

    def bare() -> None:
        SimpleDocTemplate(BytesIO(), pagesize=letter).build([Table(cells) for cells in given])

    return run.paired(_report(filled), bare)


@benchmark(
    "history_growth",
    "the history report of 2,000 entries, to one of 500 (4 is linear)",
    goal=4.2,
    sides=("of 2,000", "of 500"),
)
def history_growth(run: Run) -> Pairs:
    few, many = run.size(500, 20), run.size(2_000, 40)
    run.memory(
        "the history report by entries",
        (few, run.size(10_000, 40)),
        lambda entries: (_life(run, entries), _report(_life(run, entries))),
        MOST_BYTES_AN_ENTRY,
    )
    return run.paired(_report(_life(run, many)), _report(_life(run, few)), warm=False)


def _tables(asked: report.Asked) -> list[Cells]:
    """Return what a report says as the cells of tables: a row for each paragraph between tables."""
    tables: list[Cells] = [[]]

    def note(cells: Sequence[str]) -> None:
        if len(tables[-1]) == ROWS_AT_ONCE:
            tables.append([])
        tables[-1].append([textwrap.fill(cell, LINE_LETTERS) for cell in cells])

    class Noting(LongPaper):
        def text(self, text: str, *styled: Any, **more: Any) -> None:
            note([text])
            super().text(text, *styled, **more)

        @contextmanager
        def rows(
            self, header: Sequence[str], widths: Sequence[float]
        ) -> Iterator[Callable[[Sequence[str]], None]]:
            def add(cells: Sequence[str]) -> None:
                note(cells)
                write(cells)

            tables.append([])
            note(header)
            with super().rows(header, widths) as write:
                yield add
            tables.append([])

    with mock.patch.object(report, "LongPaper", Noting):
        report.write_report(BytesIO(), asked)
    return [cells for cells in tables if cells]
