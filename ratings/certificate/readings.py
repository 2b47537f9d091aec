"""The readings of one test, the points they are fitted by, and their graph."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable, Spacer, Table, TableStyle

from fleet.quantities import plain_number
from ratings.certificate.facts import Certificate
from ratings.certificate.graph import load_graph
from ratings.certificate.layout import MOST_IN_ONE, SECTION, folded
from ratings.certificate.units import Units
from ratings.mechanics.bench import BranchPair
from ratings.models import BenchTest
from ratings.paper.numbered import WIDTH
from ratings.paper.style import SMALL, paragraph
from ratings.reduction import Reduction

# Of a table in one column, with the gap to what stands beside it.
TABLE_WIDTH = 264.0
GRAPH_HEIGHT = 132.0
BESIDE = TableStyle(
    [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ]
)


def readings_section(
    certificate: Certificate, test: BenchTest, reduction: Reduction
) -> Iterator[Flowable]:
    units = certificate.units
    yield paragraph(f"Test {test.pk}: readings", SECTION)
    readings = _readings(test, reduction, units)
    if not reduction.cycle.pairs:
        yield from _beside_graph(certificate, reduction, readings, len(reduction.readings))
        return
    yield readings
    yield Spacer(1, 3)
    yield paragraph(_points_words(reduction), SMALL)
    points = _points(reduction, units)
    yield from _beside_graph(certificate, reduction, points, len(reduction.cycle.pairs))


def _beside_graph(
    certificate: Certificate, reduction: Reduction, table: Flowable, rows: int
) -> Iterator[Flowable]:
    """The graph stands beside a short table, below a long one."""
    if rows > MOST_IN_ONE:
        yield table
        yield Spacer(1, 4)
        yield load_graph(certificate, reduction, WIDTH, GRAPH_HEIGHT)
        return
    graph = load_graph(certificate, reduction, WIDTH - TABLE_WIDTH, GRAPH_HEIGHT)
    yield Table([[table, graph]], colWidths=(TABLE_WIDTH, WIDTH - TABLE_WIDTH), style=BESIDE)


def _readings(test: BenchTest, reduction: Reduction, units: Units) -> Flowable:
    header = (
        "No.",
        "Run",
        "Branch",
        f"Tape, {units.length_symbol}",
        f"Gauge, {units.pressure_symbol}",
        f"Stretch x, {units.length_symbol}",
        f"Force f, {units.force_symbol}",
    )
    rows = _reading_rows(test, reduction, units)
    return folded(header, rows, (22.0, 22.0, 44.0, 38.0, 42.0, 42.0, 46.0))


def _points_words(reduction: Reduction) -> str:
    words = "The rate is fitted by the means of the branches, in which seal friction cancels."
    if reduction.cycle.left_out:
        numbers = ", ".join(str(place + 1) for place in reduction.cycle.left_out)
        words += f" Readings with no partner on the other branch are in no mean: {numbers}."
    return words


def _points(reduction: Reduction, units: Units) -> Flowable:
    header = (
        "Run",
        f"Stretch x, {units.length_symbol}",
        f"Loading, {units.force_symbol}",
        f"Unloading, {units.force_symbol}",
        f"Mean f, {units.force_symbol}",
    )
    rows = [_pair_row(pair, units) for pair in reduction.cycle.pairs]
    return folded(header, rows, (28.0, 48.0, 58.0, 62.0, 60.0))


def _reading_rows(test: BenchTest, reduction: Reduction, units: Units) -> list[tuple[str, ...]]:
    return [
        (
            str(row.number),
            str(row.run),
            row.branch,
            plain_number(units.length(row.tape_in), 4),
            plain_number(units.pressure(row.gauge_psi), 2),
            plain_number(units.length(reduced.stretch_in), 4),
            f"{units.force(reduced.force_lbf):,.1f}",
        )
        for row, reduced in zip(test.readings.all(), reduction.readings, strict=True)
    ]


def _pair_row(pair: BranchPair, units: Units) -> tuple[str, ...]:
    return (
        str(pair.run),
        plain_number(units.length(pair.stretch_in), 4),
        *(
            f"{units.force(force):,.1f}"
            for force in (pair.loading_lbf, pair.unloading_lbf, pair.mean_lbf)
        ),
    )
