"""The register as rows: everything that stands, in the order it was recorded."""

from __future__ import annotations

import csv
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from io import BytesIO, StringIO
from typing import Any

from django.db.models import Exists, OuterRef
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.utils import get_column_letter

from fleet.models import (
    Hammer,
    MeterChange,
    Mounting,
    OutOfService,
    PadLot,
    StockMove,
    SuppressorHousing,
    Yard,
)
from inspections.exchange.cells import guarded, written
from inspections.exchange.tables import BY_NAME, TABLES
from inspections.models import Inspection, OwnKind, PadCount, PadReplacement, ReplacedPad
from ratings.models import BenchReading, BenchTest, Gauge, Listing, Tape, TestStand

Rows = list[list[Any]]


def register_rows() -> dict[str, Rows]:
    """Return the rows of every table, columns as their header has them.

    What was corrected since is left out: what corrects it stands in its place.
    """
    tests = list(
        BenchTest.objects.standing()
        .select_related("lot", "stand", "gauge", "tape")
        .order_by("recorded_at", "pk")
    )
    counts = list(
        Inspection.objects.standing()
        .select_related("housing", "hour_reading", "own_kind")
        .annotate(is_counted=Exists(PadCount.objects.filter(inspection=OuterRef("pk"))))
        .order_by("recorded_at", "pk")
    )
    replacements = list(
        PadReplacement.objects.standing().select_related("housing").order_by("recorded_at", "pk")
    )
    spells = list(OutOfService.objects.select_related("housing").order_by("since", "pk"))
    return {
        "yards": _plain("yards", Yard.objects.all()),
        "hammers": _plain("hammers", Hammer.objects.select_related("yard")),
        "housings": _plain("housings", SuppressorHousing.objects.select_related("yard")),
        "lots": _plain("lots", PadLot.objects.all()),
        "stands": _plain("stands", TestStand.objects.select_related("yard")),
        "gauges": _plain("gauges", Gauge.objects.select_related("yard")),
        "tapes": _plain("tapes", Tape.objects.select_related("yard")),
        "bench_tests": [_named("bench_tests", test, "test", f"T{test.pk}") for test in tests],
        "readings": list(_readings(tests)),
        "stock_moves": _plain(
            "stock_moves",
            StockMove.objects.exclude(kind=StockMove.Kind.FITTED)
            .select_related("lot", "yard")
            .order_by("recorded_at", "pk"),
        ),
        "mountings": list(_mountings()),
        "listings": _plain(
            "listings", Listing.objects.select_related("hammer").standing_in_order()
        ),
        "meter_changes": _plain(
            "meter_changes",
            MeterChange.objects.select_related("hammer").order_by("recorded_at", "pk"),
        ),
        "kinds": [_kind(kind) for kind in OwnKind.objects.select_related("retirement")],
        "counts": [_count(inspection) for inspection in counts],
        "pads": list(_pads(counts)),
        "replacements": [
            _named("replacements", each, "replacement", f"R{each.pk}") for each in replacements
        ],
        "fitted_pads": list(_fitted(replacements)),
        "out_of_service": _plain("out_of_service", spells),
        "releases": [_release(spell) for spell in spells if spell.released_at],
    }


def _plain(table: str, records: Iterable[Any]) -> Rows:
    return [_row(table, record) for record in records]


def _row(table: str, record: Any) -> list[Any]:
    return [_value(getattr(record, column.name, None)) for column in BY_NAME[table].columns]


def _value(value: Any) -> Any:
    """A record that is named is named by its mark."""
    for name in ("mark", "name"):
        if hasattr(value, "pk") and hasattr(value, name):
            return getattr(value, name)
    return str(value) if isinstance(value, str) else value


def _named(table: str, record: Any, column: str, name: str) -> list[Any]:
    row = _row(table, record)
    row[BY_NAME[table].header.index(column)] = name
    return row


def _readings(tests: list[BenchTest]) -> Iterator[list[Any]]:
    for reading in BenchReading.objects.filter(test__in=tests).order_by("test_id", "number"):
        yield [
            f"T{reading.test_id}",
            reading.run,
            reading.branch,
            reading.tape_in,
            reading.gauge_psi,
        ]


def _mountings() -> Iterator[list[Any]]:
    """Each mounting, and each taking off that no other mounting of the housing made."""
    mountings = list(
        Mounting.objects.select_related("housing", "hammer").order_by("mounted_at", "pk")
    )
    begun = {(each.housing_id, each.mounted_at) for each in mountings}
    begun_hammers = {(each.hammer_id, each.mounted_at) for each in mountings}
    rows = [(each.mounted_at, [each.housing.mark, each.hammer.mark, each.mounted_at])
            for each in mountings]  # fmt: skip
    for each in mountings:
        if each.removed_at is None or (each.housing_id, each.removed_at) in begun:
            continue
        # Another housing put on its hammer took this one off.
        if (each.hammer_id, each.removed_at) in begun_hammers:
            continue
        rows.append((each.removed_at, [each.housing.mark, "", each.removed_at]))
    for _, row in sorted(rows, key=lambda pair: pair[0]):
        yield row


def _release(spell: OutOfService) -> list[Any]:
    return [spell.housing.mark, spell.released_at, spell.release_reason, spell.qualified_person]


def _kind(kind: OwnKind) -> list[Any]:
    retirement = getattr(kind, "retirement", None)
    return [kind.name, retirement.retired_at if retirement else None]


# An inspection of nothing is not taken in; one that has only a list or findings is of something.
LEFT_OUT = "Its checklist, findings and photos are not in the register."


def _count(inspection: Inspection) -> list[Any]:
    row = _named("counts", inspection, "count", f"C{inspection.pk}")
    reading = inspection.hour_reading
    row[BY_NAME["counts"].header.index("hours")] = reading.hours if reading else None
    row[BY_NAME["counts"].header.index("kind")] = inspection.kind_name
    is_told = inspection.is_counted or inspection.note or reading  # type: ignore[attr-defined]
    if not is_told and inspection.travel_in is None:
        row[BY_NAME["counts"].header.index("note")] = LEFT_OUT
    return row


def _pads(counts: Sequence[Inspection]) -> Iterator[list[Any]]:
    seen = PadCount.objects.filter(inspection__in=counts).select_related("lot")
    for pad in seen.order_by("inspection_id", "side", "number"):
        yield [
            f"C{pad.inspection_id}",
            pad.side,
            pad.number,
            pad.condition,
            pad.lot.mark if pad.lot else "",
        ]


def _fitted(replacements: list[PadReplacement]) -> Iterator[list[Any]]:
    pads = ReplacedPad.objects.filter(replacement__in=replacements).select_related("lot")
    for pad in pads.order_by("replacement_id", "side", "number"):
        yield [f"R{pad.replacement_id}", pad.side, pad.number, pad.lot.mark]


def write_workbook(tables: Mapping[str, Sequence[Sequence[object]]]) -> bytes:
    """Return a workbook with a sheet for each table; every cell is text or a number."""
    book = Workbook(write_only=True)
    for table in TABLES:
        sheet = book.create_sheet(table.name)
        sheet.freeze_panes = "A2"
        for place, name in enumerate(table.header, start=1):
            sheet.column_dimensions[get_column_letter(place)].width = max(14, len(name) + 3)
        sheet.append(table.header)
        for row in tables.get(table.name, ()):
            sheet.append([_cell(sheet, value) for value in row])
    held = BytesIO()
    book.save(held)
    return held.getvalue()


def write_csvs(tables: Mapping[str, Sequence[Sequence[object]]]) -> bytes:
    """Return a ZIP with a CSV file for each table, in UTF-8."""
    held = BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed:
        for table in TABLES:
            text = StringIO()
            writer = csv.writer(text)
            writer.writerow(table.header)
            for row in tables.get(table.name, ()):
                writer.writerow([guarded(written(value)) for value in row])
            packed.writestr(f"{table.name}.csv", text.getvalue().encode("utf-8"))
    return held.getvalue()


def _cell(sheet: object, value: object) -> object:
    if isinstance(value, int | float) and not isinstance(value, bool) and _is_kept_whole(value):
        return value
    cell = WriteOnlyCell(sheet, guarded(written(value)))
    # As a string, whatever it begins with.
    cell.data_type = "s"
    return cell


def _is_kept_whole(value: float) -> bool:
    """A workbook's numbers have 16 digits; one that needs 17 goes in as text."""
    return float(f"{value:.16g}") == value
