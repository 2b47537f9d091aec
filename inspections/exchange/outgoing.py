"""The register as rows: everything that stands, in the order it was recorded."""

from __future__ import annotations

import csv
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from io import BytesIO, TextIOWrapper
from operator import attrgetter
from typing import IO, Any

from django.core.exceptions import FieldDoesNotExist
from django.db.models import Exists, OuterRef, QuerySet

from fleet.cells import guarded, sheet_cell, written
from fleet.models import (
    Clamp,
    ClampFitting,
    Hammer,
    HourReading,
    HousingGuide,
    MeterChange,
    Mounting,
    OutOfService,
    PadLot,
    PowerPack,
    PowerPackConnection,
    StockMove,
    SuppressorHousing,
    Yard,
)
from fleet.signers import signer_words
from inspections.exchange.cells import NOT_SOUND, SOUND
from inspections.exchange.tables import BY_NAME, NAMED, TABLES
from inspections.models import (
    Inspection,
    OwnKind,
    PadCount,
    PadReplacement,
    ReplacedPad,
    SecondLook,
)
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

Rows = Iterable[list[Any]]
# Rows read from the database at once: what a register takes of memory must not grow with the yard.
AT_ONCE = 1_000


# An inspection of nothing is not taken in; one that has only a list or findings is of something.
LEFT_OUT = "Its checklist, findings and photos are not in the register."


def _note(inspection: Any) -> str:
    is_of_something = (
        inspection.note
        or inspection.is_counted
        or inspection.hour_reading
        or inspection.travel_in is not None
    )
    return inspection.note if is_of_something else LEFT_OUT


LOOKED = {True: SOUND, False: NOT_SOUND}


def _looked(tell: Callable[[SecondLook], str], inspection: Inspection) -> str:
    look = getattr(inspection, "second_look", None)
    return "" if look is None else tell(look)


def _alone(name: str, inspection: Inspection) -> Any:
    """The machine that was inspected by itself; of a unit, its housing names it."""
    return None if inspection.housing_id else getattr(inspection, name)


# Columns whose text is a letter and a key, or that are called otherwise than the field they show.
FIELDS: dict[tuple[str, str], tuple[str, str]] = {
    ("bench_tests", "test"): ("T", "pk"),
    ("readings", "test"): ("T", "test_id"),
    ("tested_pads", "test"): ("T", "test_id"),
    ("certificates", "certificate"): ("G", "pk"),
    ("checks", "check"): ("P", "pk"),
    ("check_readings", "check"): ("P", "reference_check_id"),
    ("counts", "count"): ("C", "pk"),
    ("pads", "count"): ("C", "inspection_id"),
    ("replacements", "replacement"): ("R", "pk"),
    ("fitted_pads", "replacement"): ("R", "replacement_id"),
    ("releases", "at"): ("", "released_at"),
    ("releases", "reason"): ("", "release_reason"),
}
# Columns that show more of a record than a field of it.
SHOWN: dict[tuple[str, str], Callable[[Any], Any]] = {
    ("counts", "kind"): lambda inspection: inspection.kind_name,
    ("counts", "hours"): lambda inspection: getattr(inspection.hour_reading, "hours", None),
    ("counts", "note"): _note,
    ("counts", "second_look"): partial(_looked, lambda look: LOOKED[look.is_agreed]),
    ("counts", "second_look_by"): partial(_looked, signer_words),
    ("counts", "second_look_reason"): partial(_looked, lambda look: look.reason),
    ("counts", "pack_hours"): lambda inspection: getattr(
        inspection.pack_hour_reading, "hours", None
    ),
    **{("counts", name): partial(_alone, name) for name in ("hammer", "clamp", "power_pack")},
    ("kinds", "looks_at"): lambda kind: ", ".join(kind.sorts),
    ("kinds", "needs"): lambda kind: ", ".join(kind.needs),
    ("kinds", "retired_at"): lambda kind: getattr(
        getattr(kind, "retirement", None), "retired_at", None
    ),
}


def register_rows() -> dict[str, list[list[Any]]]:
    """Return the rows of every table, columns as their header has them."""
    return {name: list(rows) for name, rows in register_tables().items()}


def register_tables() -> dict[str, Rows]:
    """Return the rows of every table as they are read, once, while they are written.

    What was corrected since is left out: what corrects it stands in its place. Whoever writes them
    while others record does so in one_moment, or parts may name what was not there yet.
    """
    tests = BenchTest.objects.standing().order_by("recorded_at", "pk")
    calibrations = GaugeCalibration.objects.standing().order_by("recorded_at", "pk")
    checks = ReferenceCheck.objects.standing().order_by("recorded_at", "pk")
    counts = Inspection.objects.standing().order_by("recorded_at", "pk")
    replacements = PadReplacement.objects.standing().order_by("recorded_at", "pk")
    outages = OutOfService.objects.order_by("since", "pk")
    moves = StockMove.objects.exclude(kind=StockMove.Kind.FITTED)
    records: dict[str, Iterable[Any]] = {
        "yards": Yard.objects.all(),
        "hammers": Hammer.objects.all(),
        "clamps": Clamp.objects.all(),
        "power_packs": PowerPack.objects.all(),
        "housings": SuppressorHousing.objects.all(),
        "lots": PadLot.objects.all(),
        "stands": TestStand.objects.all(),
        "gauges": Gauge.objects.all(),
        "tapes": Tape.objects.all(),
        "thermometers": Thermometer.objects.all(),
        "pieces": ReferencePiece.objects.all(),
        "certificates": calibrations,
        "certificate_points": _points(calibrations),
        "checks": checks,
        "check_readings": ReferenceReading.objects.filter(reference_check__in=checks).order_by(
            "reference_check_id", "number"
        ),
        "bench_tests": tests,
        "readings": BenchReading.objects.filter(test__in=tests).order_by("test_id", "number"),
        "tested_pads": BenchPad.objects.filter(test__in=tests).order_by("test_id", "number"),
        "stock_moves": moves.order_by("recorded_at", "pk"),
        "listings": _by_keys(Listing.objects.all(), Listing.objects.standing_keys()),
        "guides": HousingGuide.objects.standing().order_by("recorded_at", "pk"),
        "meter_changes": MeterChange.objects.order_by("recorded_at", "pk"),
        "hour_readings": HourReading.objects.standing()
        .filter(inspection__isnull=True, inspection_of_pack__isnull=True)
        .order_by("recorded_at", "pk"),
        "kinds": OwnKind.objects.select_related("retirement"),
        "counts": counts.select_related(
            "hour_reading", "pack_hour_reading", "own_kind", "second_look__recorded_by"
        ).annotate(is_counted=Exists(PadCount.objects.filter(inspection=OuterRef("pk")))),
        "pads": PadCount.objects.filter(inspection__in=counts).order_by(
            "inspection_id", "side", "number"
        ),
        "replacements": replacements,
        "fitted_pads": ReplacedPad.objects.filter(replacement__in=replacements).order_by(
            "replacement_id", "side", "number"
        ),
        "out_of_service": outages,
        "releases": outages.filter(released_at__isnull=False),
    }
    rows: dict[str, Rows] = {name: _rows(name, each) for name, each in records.items()}
    return rows | {
        "mountings": _moves(Mounting, "housing", "mounted_at"),
        "clamp_fittings": _moves(ClampFitting, "clamp", "fitted_at"),
        "power_pack_connections": _moves(PowerPackConnection, "power_pack", "fitted_at"),
    }


@dataclass(frozen=True)
class _Point:
    """A point of a certificate, by the name its table has for it."""

    certificate: str
    applied_psi: float
    as_found_psi: float | None
    as_left_psi: float | None


def _points(calibrations: QuerySet[GaugeCalibration]) -> Iterator[_Point]:
    for each in calibrations.iterator(AT_ONCE):
        for point in each.points:
            yield _Point(f"G{each.pk}", *point)


def _by_keys(records: QuerySet[Any], keys: Sequence[int]) -> Iterator[Any]:
    """Yield records in the order of their keys."""
    records = records.select_related("hammer")
    for start in range(0, len(keys), AT_ONCE):
        some = keys[start : start + AT_ONCE]
        found = records.in_bulk(some)
        yield from (found[key] for key in some)


def _rows(table: str, records: Iterable[Any]) -> Iterator[list[Any]]:
    header = BY_NAME[table].header
    fields = [_field(table, records, name) for name in header]
    plain = [each for each in fields if each is not None]
    if isinstance(records, QuerySet) and len(plain) == len(header):
        letters = [(place, letter) for place, (letter, _) in enumerate(plain) if letter]
        for values in records.values_list(*(path for _, path in plain)).iterator(AT_ONCE):
            row = [str(value) if isinstance(value, str) else value for value in values]
            for place, letter in letters:
                row[place] = f"{letter}{row[place]}"
            yield row
        return
    shown = [_show(table, name) for name in header]
    named = [name for name in header if name in NAMED]
    if isinstance(records, QuerySet):
        records = (records.select_related(*named) if named else records).iterator(AT_ONCE)
    for record in records:
        yield [_value(show(record)) for show in shown]


def _field(table: str, records: Iterable[Any], name: str) -> tuple[str, str] | None:
    """Return the letter before what a column shows, and its field; None where it is no field."""
    if (table, name) in SHOWN or not isinstance(records, QuerySet):
        return None
    if (table, name) in FIELDS:
        return FIELDS[table, name]
    try:
        field = records.model._meta.get_field(name)
    except FieldDoesNotExist:
        return None
    if field.is_relation:
        return ("", f"{name}__{NAMED[name][1]}") if name in NAMED else None
    return "", name


def _show(table: str, name: str) -> Callable[[Any], Any]:
    if (table, name) in FIELDS:
        letter, path = FIELDS[table, name]
        return lambda record: f"{letter}{getattr(record, path)}"
    return SHOWN.get((table, name)) or attrgetter(name)


def _value(value: Any) -> Any:
    """A record that is named is named by its mark."""
    for name in ("mark", "name"):
        if hasattr(value, "pk") and hasattr(value, name):
            return getattr(value, name)
    return str(value) if isinstance(value, str) else value


def _moves(model: type[Any], whose: str, begins: str) -> Iterator[list[Any]]:
    """Each time one went on a hammer, and each taking off that no other such move made."""
    spans = list(
        model._default_manager.order_by(begins, "pk").values_list(
            f"{whose}__mark", "hammer__mark", begins, "removed_at"
        )
    )
    # Another put on its hammer took this one off.
    begun = {(mark, at) for mark, _, at, _ in spans}
    begun_hammers = {(hammer, at) for _, hammer, at, _ in spans}
    moves = [(mark, hammer, at) for mark, hammer, at, _ in spans]
    moves += [
        (mark, "", removed_at)
        for mark, hammer, _, removed_at in spans
        if removed_at is not None
        and (mark, removed_at) not in begun
        and (hammer, removed_at) not in begun_hammers
    ]
    yield from map(list, sorted(moves, key=lambda move: move[2]))


Tables = Mapping[str, Iterable[Sequence[object]]]


def write_workbook(tables: Tables) -> bytes:
    """Return a workbook with a sheet for each table; every cell is text or a number."""
    return _held(workbook_into, tables)


def write_csvs(tables: Tables) -> bytes:
    """Return a ZIP with a CSV file for each table, in UTF-8."""
    return _held(csvs_into, tables)


def _held(write: Callable[[Tables, IO[bytes]], None], tables: Tables) -> bytes:
    held = BytesIO()
    write(tables, held)
    return held.getvalue()


def workbook_into(tables: Tables, file: IO[bytes]) -> None:
    """Write a workbook as write_workbook does, so large as it is, into a file."""
    # Imported on need: the site must not wait for the workbook library at start.
    from openpyxl import Workbook
    from openpyxl.utils import get_column_letter

    book = Workbook(write_only=True)
    for table in TABLES:
        sheet = book.create_sheet(table.name)
        sheet.freeze_panes = "A2"
        for place, name in enumerate(table.header, start=1):
            sheet.column_dimensions[get_column_letter(place)].width = max(14, len(name) + 3)
        sheet.append(table.header)
        for row in tables.get(table.name, ()):
            sheet.append([sheet_cell(sheet, value) for value in row])
    book.save(file)


def csvs_into(tables: Tables, file: IO[bytes]) -> None:
    """Write a ZIP as write_csvs does, so large as it is, into a file."""
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        for table in TABLES:
            with (
                packed.open(f"{table.name}.csv", "w") as member,
                TextIOWrapper(member, "utf-8", newline="") as text,
            ):
                writer = csv.writer(text)
                writer.writerow(table.header)
                for row in tables.get(table.name, ()):
                    writer.writerow([guarded(written(value)) for value in row])
