"""What each row of a sheet or register became, kept with it: the record it is, or had been."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import connection, transaction
from django.db.models import Model
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.dates import day_words, moment_words
from fleet.models import Clamp, Hammer, PadLot, PowerPack, SuppressorHousing, Yard
from fleet.people.yards import in_every_yard
from fleet.tables import Column, MomentColumn, PersonColumn, RecordsTable, table_of
from inspections.exchange.acts import KNOWN, SAME_BY, submission_id
from inspections.exchange.incoming import Fate, Trial, take_register
from inspections.exchange.rows import Row
from inspections.exchange.tables import BY_NAME, NAMED
from inspections.models import Inspection, TakenImport
from inspections.schedule.kinds import kind_named
from ratings.models import BenchTest, GaugeCalibration, ReferenceCheck

AT_ONCE = 500
# Of which a row is, where it has no record with a page of its own: the first that it names.
ABOUT = ("housing", "hammer", "power_pack", "clamp", "lot")
OWN_PAGES: dict[str, type[Model]] = {
    "counts": Inspection,
    "bench_tests": BenchTest,
    "certificates": GaugeCalibration,
    "checks": ReferenceCheck,
}
PAGES: dict[str, Callable[[int], str]] = {
    Inspection._meta.label_lower: lambda key: reverse("inspection", args=[key]),
    BenchTest._meta.label_lower: lambda key: reverse("bench-test", args=[key]),
    GaugeCalibration._meta.label_lower: lambda key: reverse("gauge-calibration", args=[key]),
    ReferenceCheck._meta.label_lower: lambda key: reverse("reference-check", args=[key]),
    SuppressorHousing._meta.label_lower: lambda key: reverse("unit", args=[key]),
    Hammer._meta.label_lower: lambda key: reverse("machine-page", args=["hammer", key]),
    Clamp._meta.label_lower: lambda key: reverse("clamp", args=[key]),
    PowerPack._meta.label_lower: lambda key: reverse("power-pack", args=[key]),
    PadLot._meta.label_lower: lambda key: reverse("lot", args=[key]),
    Yard._meta.label_lower: lambda key: reverse("set-up-yards"),
}


@in_every_yard
@transaction.atomic
def take_and_keep(
    *,
    name: str,
    rows: Sequence[Row],
    by: User,
    place_of: Callable[[Fate], str],
    is_sheet: bool = False,
) -> Trial:
    """Take every row in one transaction, and keep what each became. Raises as take_register does.

    place_of: where a row stood, in words.
    """
    _wait_for_those_before(by)
    trial = take_register(rows, by)
    if trial.news:
        TakenImport.objects.create(
            submission_id=uuid.uuid4(),
            name=name[:160],
            is_sheet=is_sheet,
            rows=list(_became(rows, trial, place_of)),
            recorded_by=by,
        )
    return trial


def _wait_for_those_before(by: User) -> None:
    """Have what a person sends twice at once taken one after the other.

    The second then finds all of it on record. No row is locked for it: signing in would wait for a
    long register. On SQLite whoever writes holds off all others.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(hashtext(%s))", [f"register of {by.pk}"])


def _became(
    rows: Sequence[Row], trial: Trial, place_of: Callable[[Fate], str]
) -> Iterator[list[Any]]:
    by_place = {(row.table, row.line): row for row in rows}
    found = _own_records(rows)
    keys: dict[str, dict[str, int]] = {}
    for fate in sorted(trial.fates, key=lambda each: (list(BY_NAME).index(each.table), each.line)):
        row = by_place[fate.table, fate.line]
        record = found.get((row.table, row.line)) or _about(row, keys)
        told = "on record before" if fate.outcome == KNOWN else "new"
        yield [place_of(fate), fate.table, told, _words(row), record]


def _own_records(rows: Sequence[Row]) -> dict[tuple[str, int], list[Any]]:
    """Return the records that rows made or were before, by table and line."""
    found: dict[tuple[str, int], list[Any]] = {}
    for table, model in OWN_PAGES.items():
        of_table = [row for row in rows if row.table == table]
        ids = {submission_id(row): row for row in of_table}
        asked = list(ids)
        for start in range(0, len(asked), AT_ONCE):
            made = model._default_manager.filter(submission_id__in=asked[start : start + AT_ONCE])
            for key, sent in made.values_list("pk", "submission_id"):
                found[table, ids[sent].line] = [model._meta.label_lower, key]
    for row in rows:
        if row.table in OWN_PAGES and (row.table, row.line) not in found:
            model = OWN_PAGES[row.table]
            same = model._default_manager.filter(**_same_columns(row)).first()
            if same is not None:
                found[row.table, row.line] = [model._meta.label_lower, same.pk]
    return found


def _same_columns(row: Row) -> dict[str, Any]:
    """Return the columns by which a record is the one that a row with its own page names."""
    said = row.values
    if row.table == "counts":
        named = {f"{name}__mark": said[name] for name in ABOUT[:4] if said.get(name)}
        kind = kind_named(said["kind"] or "pad count").columns
        return {**named, "seen_at": said["seen_at"], **kind}
    return {
        f"{name}__{NAMED[name][1]}" if name in NAMED else name: said[name]
        for name in SAME_BY[row.table]
    }


def _about(row: Row, keys: dict[str, dict[str, int]]) -> list[Any] | None:
    """Return the machine, lot or yard that a row is, or is of; None where it has no page."""
    own = row.table.removesuffix("s")
    names = [(own, NAMED[own][1])] if own in NAMED else [(name, name) for name in ABOUT]
    for name, column in names:
        value = row.values.get(column)
        model, marked_by = NAMED[name]
        if not value or model._meta.label_lower not in PAGES:
            continue
        if name not in keys:
            pairs = model._default_manager.values_list(marked_by, "pk")
            keys[name] = dict(pairs)
        if value in keys[name]:
            return [model._meta.label_lower, keys[name][value]]
    return None


def _words(row: Row) -> str:
    """Say in a few words what a row is of: whom it names, and when."""
    own = row.table.removesuffix("s")
    names = [NAMED[own][1]] if own in NAMED else [*ABOUT, "at"]
    told = [str(row.values[name]) for name in names[:5] if row.values.get(name)]
    when = row.values.get(BY_NAME[row.table].when)
    if isinstance(when, datetime):
        told.append(moment_words(when))
    elif isinstance(when, date):
        told.append(day_words(when))
    return ", ".join(told)[:200]


class TakenImportTable(RecordsTable):
    """What was taken in, the last first."""

    caption = "Taken in"
    empty_words = "Nothing was taken in yet."
    dated_by = ("recorded_at",)

    name = Column("What")
    recorded_at = MomentColumn("Taken in")
    by = PersonColumn("By")
    rows_count = Column("Rows", empty_values=(), orderable=False, css="number")

    def render_name(self, record: TakenImport) -> SafeString:
        url = reverse("taken-import", args=[record.pk])
        kind = "own sheet" if record.is_sheet else "register"
        return format_html('<a href="{}">{}</a>, {}', url, record.name, kind)

    def render_rows_count(self, record: TakenImport) -> str:
        return str(len(record.rows))


@dataclass(frozen=True)
class Became:
    """A row of what was taken in."""

    place: str
    table: str
    outcome: str
    words: str
    url: str


class BecameTable(RecordsTable):
    """What each row became."""

    caption = "What each row became"
    empty_words = "It had no rows."

    place = Column("Row")
    table = Column("Taken for")
    outcome = Column("Was")
    words = Column("Now on record", empty_values=())

    def render_words(self, record: Became) -> SafeString | str:
        words = record.words or record.table
        return format_html('<a href="{}">{}</a>', record.url, words) if record.url else words


def taken_imports(request: HttpRequest) -> HttpResponse:
    """List the sheets and registers that were taken in."""
    found = TakenImport.objects.select_related("recorded_by")
    table = table_of(request, TakenImportTable, found)
    return render(request, "exchange/taken_imports.html", {"section": "due", "table": table})


def taken_import(request: HttpRequest, import_id: int) -> HttpResponse:
    """Show what each row of a sheet or register became, with a link to it."""
    found = get_object_or_404(TakenImport.objects.select_related("recorded_by"), pk=import_id)
    became = [
        Became(place, BY_NAME[table].holds, outcome, words, _url(record))
        for place, table, outcome, words, record in found.rows
    ]
    context = {"section": "due", "taken": found, "table": table_of(request, BecameTable, became)}
    return render(request, "exchange/taken_import.html", context)


def _url(record: list[Any] | None) -> str:
    return "" if record is None else PAGES[record[0]](record[1])
