"""The tables of the register and their columns: what a header may hold and what it means."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fleet.models import StockMove
from fleet.models.housing import (
    LARGEST_TRAVEL_IN,
    LEAST_TRAVEL_IN,
    MOST_POSITIONS_PER_SIDE,
    Condition,
)
from inspections.exchange.cells import (
    Column,
    NumberCell,
    day,
    moment,
    one_of,
    text,
)
from inspections.models import InspectionKind
from ratings.lots.forms import MOST_PADS_MOVED
from ratings.models.choices import BRANCHES, CYLINDER_ENDS, GAUGE_GRADES


@dataclass(frozen=True)
class Table:
    """A table: its name, what it holds, its columns, and the table its rows belong to."""

    name: str
    holds: str
    columns: tuple[Column, ...]
    belongs_to: str = ""

    @property
    def header(self) -> list[str]:
        return [column.name for column in self.columns]


def _needed(name: str, read: object, meaning: str) -> Column:
    return Column(name, read, meaning, needed=True)  # type: ignore[arg-type]


def _words(values: Iterable[str]) -> str:
    return ", ".join(values)


MOST = 1_000_000_000
_ABOVE_ZERO = NumberCell(0, MOST, above_least=True)
_NOT_NEGATIVE = NumberCell(0, MOST)
_TRAVEL = NumberCell(LEAST_TRAVEL_IN, LARGEST_TRAVEL_IN)
_POSITION = NumberCell(1, MOST_POSITIONS_PER_SIDE, whole=True)
_CHANGE = NumberCell(-MOST_PADS_MOVED, MOST_PADS_MOVED, whole=True)
_GRADES = tuple(GAUGE_GRADES)
_HOURS = NumberCell(0, 1_000_000)
_MOVES = [kind for kind in StockMove.Kind.values if kind != "fitted"]
_NOTE = Column("note", text, "anything else")
_YARD = _needed("yard", text, "the yard’s name")

TABLES = (
    Table(
        "yards",
        "places where hammers, housings and pads are kept",
        (_needed("name", text, "its name"), Column("place", text, "where it is")),
    ),
    Table(
        "hammers",
        "vibratory hammers",
        (
            _needed("mark", text, "what is painted on it"),
            _YARD,
            Column("make", text, "its make"),
            Column("type_name", text, "its type"),
            Column("serial_number", text, "its serial number"),
            Column("eccentric_moment_lb_in", _ABOVE_ZERO, "eccentric moment, lb·in"),
            Column("frequency_vpm", NumberCell(100, 10_000), "vibrations per minute"),
            Column("exciter_weight_lb", _ABOVE_ZERO, "weight of the exciter, lb"),
            Column("clamp_weight_lb", NumberCell(0, MOST), "weight of the clamp, lb"),
            Column("clamp_force_lbf", _ABOVE_ZERO, "force of the clamp, lbf"),
            Column("figures_source", text, "where these figures are from"),
            _NOTE,
        ),
    ),
    Table(
        "housings",
        "suppressor housings",
        (
            _needed("mark", text, "what is painted on it"),
            _YARD,
            _needed(
                "positions_per_side",
                _POSITION,
                "pad positions on each side",
            ),
            _needed("design_travel_in", _TRAVEL, "travel as built, in"),
            Column("serial_number", text, "its serial number"),
            Column("weight_lb", _ABOVE_ZERO, "weight with its pads, lb"),
            Column("bumper", text, "what stands in the stop"),
            _NOTE,
        ),
    ),
    Table(
        "lots",
        "pad lots",
        (
            _needed("mark", text, "the lot’s mark"),
            Column("supplier", text, "who supplied it"),
            Column("hardness_shore_a", NumberCell(0, 100), "hardness, Shore A"),
            Column("bonded_area_in2", _ABOVE_ZERO, "bonded area of one pad, in²"),
            Column("rubber_thickness_in", _ABOVE_ZERO, "rubber between plates, in"),
            Column(
                "reorder_point", NumberCell(0, MOST_PADS_MOVED, whole=True), "order more at so many"
            ),
            Column("use_by", day, "when rubber on the shelf is too old"),
            _NOTE,
        ),
    ),
    Table(
        "stands",
        "bench stands that stretch pads",
        (
            _needed("name", text, "its name"),
            _YARD,
            _needed("bore_in", _ABOVE_ZERO, "bore of the cylinder, in"),
            Column("rod_in", _NOT_NEGATIVE, "its rod, in; blank or 0 where there is none"),
            Column("bore_tolerance_in", NumberCell(0, 1), "± in"),
            Column("rod_tolerance_in", NumberCell(0, 1), "± in"),
            _NOTE,
        ),
    ),
    Table(
        "gauges",
        "pressure gauges",
        (
            _needed("mark", text, "its mark"),
            _YARD,
            _needed("span_psi", NumberCell(1, MOST), "full span, psi"),
            _needed("grade", one_of(*_GRADES), f"accuracy grade: {_words(_GRADES)}"),
            _needed("resolution_psi", NumberCell(0.01, 1000), "finest division, psi"),
            Column("certificate_number", text, "of its calibration"),
            Column("calibrated_on", day, "when it was calibrated"),
            Column("due_on", day, "when it is due again"),
        ),
    ),
    Table(
        "tapes",
        "measuring tapes",
        (
            _needed("mark", text, "its mark"),
            _YARD,
            _needed("resolution_in", NumberCell(0.001, 1), "finest division, in"),
        ),
    ),
    Table(
        "bench_tests",
        "bench tests of lots",
        (
            _needed("test", text, "any name, the same in its readings"),
            _needed("lot", text, "the lot’s mark"),
            _needed("stand", text, "the stand’s name"),
            _needed("gauge", text, "the gauge’s mark"),
            _needed("tape", text, "the tape’s mark"),
            _needed("end", one_of(*CYLINDER_ENDS), "end of the cylinder: rod or blind"),
            _needed("pads_in_test", NumberCell(1, 40, whole=True), "pads stretched together"),
            _needed("tape_datum_in", _NOT_NEGATIVE, "tape at rest, in"),
            _needed("tested_at", moment, "when"),
            Column("gauge_zero_psi", _NOT_NEGATIVE, "gauge at rest, psi"),
            Column(
                "conditioning_cycles",
                NumberCell(0, 100, whole=True),
                "cycles before the one that counts",
            ),
            Column("rubber_temperature_f", NumberCell(-40, 200), "rubber, °F"),
            Column("tape_after_in", _NOT_NEGATIVE, "tape with the load off again, in"),
            Column("arrangement", text, "how the pads stood"),
            Column("witness", text, "who saw it"),
            _NOTE,
        ),
    ),
    Table(
        "readings",
        "readings of bench tests",
        (
            _needed("test", text, "the test’s name"),
            Column("run", NumberCell(1, 20, whole=True), "1 unless given"),
            Column(
                "branch",
                one_of(*BRANCHES, ""),
                f"{_words(BRANCHES)}; loading unless given",
            ),
            _needed("tape_in", _NOT_NEGATIVE, "tape, in"),
            _needed("gauge_psi", _NOT_NEGATIVE, "gauge, psi"),
        ),
        belongs_to="bench_tests",
    ),
    Table(
        "stock_moves",
        "pads that came to a shelf or left it, but for those fitted",
        (
            _needed("lot", text, "the lot’s mark"),
            Column("yard", text, "whose shelf; blank for none told apart"),
            _needed(
                "kind",
                one_of(*_MOVES),
                f"{_words(_MOVES)}; counted is the difference that a count found",
            ),
            _needed(
                "change",
                _CHANGE,
                "pads added; negative: left",
            ),
            _needed("occurred_at", moment, "when"),
            _NOTE,
        ),
    ),
    Table(
        "shelf_counts",
        "what was counted on shelves; the books are brought to it",
        (
            _needed("lot", text, "the lot’s mark"),
            Column("yard", text, "whose shelf; blank for none told apart"),
            _needed("pads", NumberCell(0, MOST_PADS_MOVED, whole=True), "pads that lie there"),
            _needed("counted_at", moment, "when; no pad moved since"),
            _NOTE,
        ),
    ),
    Table(
        "mountings",
        "housings put on hammers and taken off",
        (
            _needed("housing", text, "the housing’s mark"),
            Column("hammer", text, "the hammer’s mark; blank where it was taken off"),
            _needed("at", moment, "when"),
        ),
    ),
    Table(
        "listings",
        "what literature or data plate claims of a hammer",
        (
            _needed("hammer", text, "the hammer’s mark"),
            _needed("listed_lbf", NumberCell(0, 10_000_000, above_least=True), "the claim, lbf"),
            _needed("source", text, "who claims it"),
            _needed("dated", day, "the day the source bears"),
            _NOTE,
        ),
    ),
    Table(
        "meter_changes",
        "hour meters changed or set back",
        (
            _needed("hammer", text, "the hammer’s mark"),
            _needed("changed_at", moment, "when"),
            _needed("old_hours", _HOURS, "last hours the old meter showed"),
            _needed("new_hours", _HOURS, "first hours the new meter showed"),
            _needed("reason", text, "why"),
        ),
    ),
    Table(
        "kinds",
        "kinds of inspection of the yard’s own",
        (
            _needed("name", text, "its name"),
            Column("retired_at", moment, "since when it is no longer used; blank while it is"),
        ),
    ),
    Table(
        "counts",
        "inspections of housings",
        (
            _needed("count", text, "any name, the same in its pads"),
            _needed("housing", text, "the housing’s mark"),
            _needed("seen_at", moment, "when"),
            Column(
                "kind",
                text,
                f"{_words(InspectionKind.values)}, or one of table kinds; pad count unless given",
            ),
            Column("travel_in", _TRAVEL, "travel taped, in; blank where it was not"),
            Column("travel_reason", text, "why a travel beyond design is right"),
            Column("hours", _HOURS, "hour meter"),
            Column("weather", text, "the weather"),
            _NOTE,
        ),
    ),
    Table(
        "pads",
        "pads seen in those inspections, every position of a housing or none",
        (
            _needed("count", text, "the count’s name"),
            _needed("side", one_of("A", "B"), "side A or B"),
            _needed("number", _POSITION, "position, counted from the top"),
            _needed("condition", one_of(*Condition.values), _words(Condition.values)),
            Column("lot", text, "the pad’s lot; blank where not known"),
        ),
        belongs_to="counts",
    ),
    Table(
        "replacements",
        "pads fitted from stock",
        (
            _needed("replacement", text, "any name, the same in its pads"),
            _needed("housing", text, "the housing’s mark"),
            _needed("fitted_at", moment, "when"),
            _NOTE,
        ),
    ),
    Table(
        "fitted_pads",
        "the pads of those replacements",
        (
            _needed("replacement", text, "the replacement’s name"),
            _needed("side", one_of("A", "B"), "side A or B"),
            _needed("number", _POSITION, "position, counted from the top"),
            _needed("lot", text, "the lot it was taken from"),
        ),
        belongs_to="replacements",
    ),
    # Of one moment: it came back before it went out again.
    Table(
        "releases",
        "units released to service, after a count and travel since they went out",
        (
            _needed("housing", text, "the housing’s mark"),
            _needed("at", moment, "when"),
            _needed("reason", text, "why it may go out again"),
            _needed("qualified_person", text, "who found it fit"),
        ),
    ),
    Table(
        "out_of_service",
        "units pulled out of service",
        (
            _needed("housing", text, "the housing’s mark"),
            _needed("since", moment, "since when"),
            _needed("reason", text, "why"),
        ),
    ),
)

BY_NAME = {table.name: table for table in TABLES}
# By table: the column that names what its rows enter.
NAMING = {
    "yards": "name",
    "hammers": "mark",
    "housings": "mark",
    "lots": "mark",
    "stands": "name",
    "gauges": "mark",
    "tapes": "mark",
    "kinds": "name",
}
