"""An archive's machines, lots and tests as rows of the register, recorded by the register's acts.

What the former owner says of pads, travel and guides is no row: those are this yard's to find.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Model

from fleet.models import (
    Clamp,
    ClampFitting,
    Hammer,
    HourReading,
    Mounting,
    PadLot,
    PersonName,
    PowerPack,
    PowerPackConnection,
    SuppressorHousing,
    Yard,
)
from fleet.numbers import Decimals
from inspections.exchange.reading import Lines
from inspections.exchange.tables import BY_NAME, NAMED
from inspections.models import Inspection
from inspections.receiving.reading import (
    FIRST,
    Checked,
    Row,
    Rows,
    last_entry,
    latest,
    names_by_person,
)
from inspections.receiving.reading import standing as standing_of
from ratings.models import (
    BenchPad,
    BenchReading,
    BenchTest,
    Gauge,
    GaugeCalibration,
    Listing,
    ReferenceCheck,
    ReferencePiece,
    ReferenceReading,
    Tape,
    TestStand,
    Thermometer,
)

# By the column that names one: what is entered by the mark somebody chose for it here.
MARKED: dict[str, type[Model]] = {
    "hammer": Hammer,
    "housing": SuppressorHousing,
    "clamp": Clamp,
    "power_pack": PowerPack,
    "lot": PadLot,
}
# And what a lot was tested with, which stays where it is: it is entered as that site's.
TESTED_WITH: dict[str, type[Model]] = {
    "stand": TestStand,
    "gauge": Gauge,
    "tape": Tape,
    "thermometer": Thermometer,
    "piece": ReferencePiece,
}
ON_HAMMER: dict[str, tuple[str, type[Model]]] = {
    "mountings": ("housing", Mounting),
    "clamp_fittings": ("clamp", ClampFitting),
    "power_pack_connections": ("power_pack", PowerPackConnection),
}
LONGEST_NOTE = 1500
LONGEST_SITE_IN_A_NAME = 24


@dataclass(frozen=True)
class Called:
    """A machine or lot of an archive: what it is, its key and mark there, and what it says."""

    what: str
    key: str
    mark: str
    row: Row

    @property
    def field(self) -> str:
        """What the field for its mark here is called."""
        return f"mark-{self.what}-{self.key}"

    @property
    def identity(self) -> str:
        """What tells it from every other, whatever it is called and wherever."""
        return str(self.row[FIRST])

    @property
    def words(self) -> str:
        return f"{self.what.replace('_', ' ')} {self.mark}"


class Told:
    """What an archive tells of the unit that comes with it."""

    def __init__(self, checked: Checked) -> None:
        self.checked = checked
        self.rows = latest(
            checked.archive,
            (
                *MARKED.values(),
                *TESTED_WITH.values(),
                *(model for _, model in ON_HAMMER.values()),
                Yard,
                PersonName,
                HourReading,
                Inspection,
                Listing,
                GaugeCalibration,
                ReferenceCheck,
                ReferenceReading,
                BenchTest,
                BenchReading,
                BenchPad,
            ),
        )
        self.head = last_entry(checked.archive)

    @property
    def housing(self) -> Called:
        """The housing of the unit. Raises LookupError where it is not told of."""
        key = self.checked.key
        row = self.rows[SuppressorHousing][key]
        return Called("housing", key, str(row["mark"]), row)

    @property
    def called(self) -> list[Called]:
        """The machines, and the lots its pads are of by its last entry, in the order shown."""
        marks = {each["lot"] for each in self.head["inputs"]["positions"]} if self.head else set()
        return [
            Called(what, key, str(row["mark"]), row)
            for what, model in MARKED.items()
            for key, row in sorted(self.rows[model].items(), key=lambda each: str(each[1]["mark"]))
            if what != "lot" or row["mark"] in marks
        ]


def register_lines(
    told: Told, *, yard: str, received_at: datetime, marks: dict[str, str], reason: str
) -> Lines:
    """Return the rows that a unit comes to in the register.

    marks: by the field of each that is called something, what it is called here. reason: why it
    is out of service until somebody of this yard has looked at it.
    """
    making = _Making(told, yard, received_at.isoformat(), marks)
    lines: Lines = {}
    for table, cells in making.rows(reason):
        given = lines.setdefault(table, [])
        given.append((len(given) + 2, cells, Decimals.POINT))
    return lines


class _Making:
    def __init__(self, told: Told, yard: str, received_at: str, marks: dict[str, str]) -> None:
        self.told, self.rows_of, self.yard, self.at = told, told.rows, yard, received_at
        self.site, self.mark = told.checked.site, told.checked.mark
        seal = told.checked.archive.seal
        self.origin = f"Came from {self.site} with unit {self.mark}, seal {seal.number}"
        self.called = {(each.what, each.key): marks[each.field] for each in told.called}
        self.name_of = names_by_person(told.rows[PersonName])
        lots = {key for what, key in self.called if what == "lot"}
        self.tests = {
            key: row
            for key, row in standing_of(told.rows[BenchTest]).items()
            if str(row["lot_id"]) in lots
        }
        self.checks = {
            key: row
            for key, row in standing_of(told.rows[ReferenceCheck]).items()
            if str(row["stand_id"]) in self._used("stand", self.tests)
        }
        for what in TESTED_WITH:
            for key in self._used(what, self.tests) | self._used(what, self.checks):
                self.called[what, key] = self._name_here(what, key)

    def rows(self, reason: str) -> Iterator[tuple[str, dict[str, str]]]:
        """Yield each row’s table and cells."""
        for (what, key), mark in sorted(self.called.items()):
            model = MARKED.get(what) or TESTED_WITH[what]
            yield f"{what}s", self._entered(what, self.rows_of[model][key], mark)
        yield from self._certificates()
        yield from self._stand_checks()
        yield from self._bench_tests()
        yield from self._listings()
        yield from self._hours()
        yield from self._hung()
        housing = self.called["housing", self.told.checked.key]
        yield "out_of_service", {"housing": housing, "since": self.at, "reason": reason}

    def _entered(self, what: str, row: Row, mark: str) -> dict[str, str]:
        own = NAMED[what][1]
        cells = self._cells(f"{what}s", row) | {own: mark}
        if "yard" in cells:
            cells["yard"] = self.yard
        if "note" in cells:
            was = f" as {row[own]}" if row[own] != mark else ""
            cells["note"] = self._noted(f"{self.origin}{was}.", row["note"])
        return cells

    def _certificates(self) -> Iterator[tuple[str, dict[str, str]]]:
        for key, row in standing_of(self.rows_of[GaugeCalibration]).items():
            if ("gauge", str(row["gauge_id"])) not in self.called:
                continue
            yield "certificates", self._cells("certificates", row) | {"certificate": key}
            for applied, found, left in row["points"] or ():
                point = {"applied_psi": applied, "as_found_psi": found, "as_left_psi": left}
                cells = {name: cell(value) for name, value in point.items()}
                yield "certificate_points", cells | {"certificate": key}

    def _stand_checks(self) -> Iterator[tuple[str, dict[str, str]]]:
        yield from self._with_parts("checks", "check", self.checks)
        parts = self._parts(ReferenceReading, "reference_check_id", self.checks)
        yield from self._of_parts("check_readings", "check", "reference_check_id", parts)

    def _bench_tests(self) -> Iterator[tuple[str, dict[str, str]]]:
        for key, row in self.tests.items():
            signer = self.name_of(row["recorded_by_id"], row["recorded_at"])
            note = f"{self.origin}. Tested there and recorded by {signer}; nobody here saw it."
            cells = self._cells("bench_tests", row) | {"test": key}
            yield "bench_tests", cells | {"note": self._noted(note, row["note"])}
        readings = self._parts(BenchReading, "test_id", self.tests)
        yield from self._of_parts("readings", "test", "test_id", readings)
        pads = self._parts(BenchPad, "test_id", self.tests)
        yield from self._of_parts("tested_pads", "test", "test_id", pads)

    def _listings(self) -> Iterator[tuple[str, dict[str, str]]]:
        newest: dict[str, Row] = {}
        for _, row in sorted(standing_of(self.rows_of[Listing]).items(), key=_by_number):
            newest[str(row["hammer_id"])] = row
        for row in newest.values():
            note = self._noted(f"{self.origin}: as {self.site} had it.", row["note"])
            yield "listings", self._cells("listings", row) | {"note": note}

    def _hours(self) -> Iterator[tuple[str, dict[str, str]]]:
        """Yield what each meter showed last, of all readings that stand there."""
        inspections = self.rows_of[Inspection]
        gone = inspections.keys() - standing_of(inspections).keys()
        names = ("hour_reading_id", "pack_hour_reading_id")
        corrected = {str(inspections[key][name]) for key in gone for name in names}
        newest: dict[tuple[Any, Any], Row] = {}
        for key, row in standing_of(self.rows_of[HourReading]).items():
            meter = row["hammer_id"], row["power_pack_id"]
            before = newest.get(meter)
            if key not in corrected and (before is None or row["read_at"] >= before["read_at"]):
                newest[meter] = row
        for row in newest.values():
            yield "hour_readings", self._cells("hour_readings", row)

    def _hung(self) -> Iterator[tuple[str, dict[str, str]]]:
        for table, (whose, model) in ON_HAMMER.items():
            for row in self.rows_of[model].values():
                named = self._named(whose, row), self._named("hammer", row)
                if row["removed_at"] is None and all(named):
                    yield table, {whose: named[0], "hammer": named[1], "at": self.at}

    def _with_parts(self, table: str, own: str, rows: Rows) -> Iterator[tuple[str, dict[str, str]]]:
        for key, row in rows.items():
            yield table, self._cells(table, row) | {own: key}

    def _of_parts(
        self, table: str, own: str, column: str, rows: Iterable[Row]
    ) -> Iterator[tuple[str, dict[str, str]]]:
        for row in rows:
            yield table, self._cells(table, row) | {own: str(row[column])}

    def _parts(self, model: type[Model], column: str, owners: Rows) -> list[Row]:
        rows = self.rows_of[model].values()
        return sorted(
            (row for row in rows if str(row[column]) in owners),
            key=lambda row: (row[column], row["number"]),
        )

    def _cells(self, table: str, row: Row) -> dict[str, str]:
        """Return the cells of a row, what it names called as it is here."""
        return {
            column.name: self._named(column.name, row)
            if column.name in NAMED and f"{column.name}_id" in row
            else cell(row.get(column.name))
            for column in BY_NAME[table].columns
        }

    def _named(self, what: str, row: Row) -> str:
        if what == "yard":
            return self.yard
        key = row[f"{what}_id"]
        return "" if key is None else self.called.get((what, str(key)), "")

    def _used(self, what: str, rows: Rows) -> set[str]:
        keys = (row.get(f"{what}_id") for row in rows.values())
        return {str(key) for key in keys if key is not None}

    def _name_here(self, what: str, key: str) -> str:
        """Return what an instrument of that site is called here: as its, and no other’s."""
        model, own = NAMED[what]
        row = self.rows_of[TESTED_WITH[what]][key]
        field: Any = model._meta.get_field(own)
        most = field.max_length
        for number in range(1, 100):
            of = f", of {self.site[:LONGEST_SITE_IN_A_NAME].strip()}"
            of += f" ({number})" if number > 1 else ""
            name = str(row[own])[: most - len(of)].strip() + of
            there = model._default_manager.filter(**{f"{own}__iexact": name}).first()
            cells = self._entered(what, row, name)
            if there is None or _is_same(what, there, cells):
                return name
        raise ValueError(f"too many {what}s of {self.site} are on record")

    def _noted(self, words: str, note: str) -> str:
        return f"{words} {note[:LONGEST_NOTE]}".strip()


def _is_same(what: str, there: Any, cells: dict[str, str]) -> bool:
    """Say whether what is on record is what a row says, its note and yard left aside."""
    for column in BY_NAME[f"{what}s"].columns:
        given = cells[column.name]
        if column.name in ("note", "yard") or given == "":
            continue
        if column.read(given) != getattr(there, column.name):
            return False
    return True


def _by_number(keyed: tuple[str, Row]) -> int:
    return int(keyed[0])


def cell(value: Any) -> str:
    """Return a value of a leaf as the text of a cell of the register."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return repr(value) if isinstance(value, float) else str(value)
