"""Files that are taken in, with cells, columns, encodings and bytes that can't be."""

from __future__ import annotations

import csv
import io
import random
import re
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.test import Client
from django.urls import reverse
from hypothesis import strategies as st
from openpyxl import Workbook

from fleet.cells import guarded, written
from inspections.archive.making import Options, make_archive
from inspections.exchange.outgoing import register_rows
from inspections.exchange.tables import BY_NAME, TABLES
from tests.builders import Unit, picture, rated_unit
from tests.fuzz.forms import File, Pair, filled, post, read_page, shown
from tests.fuzz.held import Case, Held, marks, plain, says_why
from tests.fuzz.values import ANY, DAYS, NUMBERS, TEXTS

Rows = list[list[str]]
# Of each table of the register.
MOST_ROWS = 6


@dataclass
class Import:
    """A page that takes a file: what is whole there, as rows or as bytes."""

    name: str
    tables: dict[str, Rows]
    content: bytes = b""

    def __str__(self) -> str:
        return self.name


def imports(client: Client) -> list[Import]:
    """Every way in for files, with something whole to break."""
    unit = rated_unit(in_stock=3)
    found = [
        Import("register", {name: rows}) for name, rows in _register().items() if len(rows) > 1
    ]
    found.append(Import("register", _register()))
    log = [
        ["Log of last year"],
        ["Unit", "Date", "Travel", "Hours", "A1", "Condition", "Note"],
        [unit.housing.mark, "3/4/25", "abt 7", "120", "ok", "meh", "seen"],
        [unit.housing.mark, "2025-05-01", "6 1/2", "180,5", "cracked", "good", "x"],
    ]
    found.append(Import("sheets", {"Log": log}))
    found.append(Import("sheets pasted", {"Log": log}))
    readings = [["tape_in", "gauge_psi"], ["11", "160"], ["12", "320"], ["13", "480"]]
    found.append(Import("bench table", {"readings": readings}))
    found.append(Import("archive", {}, _archive(unit)))
    paper = client.get(reverse("history-report", args=[unit.housing.pk]))
    found.append(Import("paper", {}, paper.content))
    for name in ("picture of a bench test", "document", "job file"):
        found.append(Import(name, {}, picture().read()))
    return found


def _register() -> dict[str, Rows]:
    """The first rows of each table of the register, below its header."""
    rows = register_rows()
    return {
        table.name: [table.header]
        + [[guarded(written(cell)) for cell in row] for row in rows.get(table.name, [])[:MOST_ROWS]]
        for table in TABLES
    }


def _archive(unit: Unit) -> bytes:
    _, opened = make_archive(unit.housing, maker=unit.manager, options=Options())
    with opened:
        return opened.read()


CELLS = st.one_of(
    st.sampled_from([each for each in (*TEXTS, *NUMBERS, *DAYS) if isinstance(each, str)]),
    st.text(max_size=6),
)


@st.composite
def _tables(draw: st.DrawFn, tables: dict[str, Rows]) -> dict[str, Rows]:
    """Tables with some cells, headers and columns broken."""
    made = {name: [list(row) for row in rows] for name, rows in tables.items()}
    for _ in range(draw(st.integers(0, 4))):
        rows = made[draw(st.sampled_from(sorted(made)))]
        row = rows[draw(st.integers(0, len(rows) - 1))]
        if not row:
            continue
        place = draw(st.integers(0, len(row) - 1))
        act = draw(st.sampled_from(["cell"] * 7 + ["column", "row", "header", "short", "wide"]))
        if act == "cell":
            row[place] = draw(CELLS)
        elif act == "column":
            for each in rows:
                each.append(each[place] if place < len(each) else "")
        elif act == "row":
            rows.append(list(row))
        elif act == "header":
            # One cut short may have none left.
            header = rows[0] or row
            header[place % len(header)] = draw(CELLS)
        elif act == "short":
            del row[place:]
        else:
            row += ["x"] * 70
    return made


@st.composite
def _file(draw: st.DrawFn, tables: dict[str, Rows]) -> File:
    """Tables as a file: CSV, a workbook or a ZIP, in an encoding, and broken on the way."""
    form = draw(st.sampled_from(["csv", "csv", "xlsx", "zip"]))
    if form == "csv":
        name = draw(st.sampled_from(sorted(tables)))
        file = File(f"{name}.csv", _csv(draw, tables[name]), "text/csv")
    elif form == "zip":
        held = io.BytesIO()
        with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed:
            for name, rows in tables.items():
                packed.writestr(_entry(f"{name}.csv"), _csv(draw, rows))
        file = File("register.zip", held.getvalue(), "application/zip")
    else:
        file = File("register.xlsx", workbook(tables), "application/zip")
    return file._replace(content=draw(_bytes_broken(file.content)))


def _csv(draw: st.DrawFn, rows: Rows) -> bytes:
    held = io.StringIO()
    delimiter = draw(st.sampled_from([",", ",", ",", ";", "\t", "|"]))
    csv.writer(held, delimiter=delimiter).writerows(rows)
    encoding = draw(st.sampled_from(["utf-8"] * 5 + ["utf-8-sig", "utf-16", "cp1252", "utf-32"]))
    errors = "surrogatepass" if encoding == "utf-8" else "replace"
    return held.getvalue().encode(encoding, errors)


def workbook(tables: dict[str, Rows]) -> bytes:
    """A workbook; what no cell can hold is left out of it."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, rows in tables.items():
        sheet = book.create_sheet(name[:31])
        for row in rows:
            sheet.append([_held(cell) for cell in row])
    held = io.BytesIO()
    book.save(held)
    return _undated(held)


# When every workbook says that it was made.
MADE_AT = "2026-01-01T00:00:00Z"
_MADE_AT = re.compile(rb"(<dcterms:(?:created|modified)\b[^>]*>)[^<]*")


def _undated(book: io.BytesIO) -> bytes:
    """Return a workbook that no longer says when it was made, so that it is the same each time."""
    held = io.BytesIO()
    with zipfile.ZipFile(book) as made, zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed:
        for name in made.namelist():
            content = _MADE_AT.sub(rb"\g<1>" + MADE_AT.encode(), made.read(name))
            packed.writestr(_entry(name), content)
    return held.getvalue()


def _entry(name: str) -> zipfile.ZipInfo:
    """An entry of a packed file that bears the first day such files know, whenever it is made."""
    entry = zipfile.ZipInfo(name)
    entry.compress_type = zipfile.ZIP_DEFLATED
    return entry


def _held(cell: str) -> Any:
    plain = "".join(each for each in cell if each >= " " or each in "\t\n")[:32_000]
    plain = plain.encode(errors="replace").decode()
    try:
        return float(plain) if len(plain) % 2 and len(plain) < 12 else plain
    except ValueError:
        return plain


@st.composite
def _bytes_broken(draw: st.DrawFn, content: bytes) -> bytes:
    """Mostly as it is; cut off, with bytes turned, or with more behind it."""
    act = draw(st.sampled_from(["whole"] * 6 + ["cut", "turned", "more", "nulls"]))
    if act == "whole" or not content:
        return content
    # By its share of the file: how long one is made by the site hangs on keys and moments.
    at = draw(st.integers(0, 999_999)) * len(content) // 1_000_000
    if act == "cut":
        return content[:at]
    if act == "turned":
        return content[:at] + bytes([content[at] ^ draw(st.integers(1, 255))]) + content[at + 1 :]
    if act == "more":
        return content + draw(st.binary(max_size=40))
    return content[:at] + b"\0" * 20 + content[at:]


Draw = Callable[[st.SearchStrategy[Any]], Any]


def hold(held: Held, each: Import, data: st.DataObject) -> None:
    """Send a file, go on with what it is offered, and hold every answer. Raises Fault."""
    file = data.draw(
        _file(data.draw(_tables(each.tables))) if each.tables else _whole(each.content)
    )
    told = f"{each}: {file.name[:40]!r} of {len(file.content):,} bytes {file.content[:1_200]!r}"
    with held.case(told) as case:
        client = held.client()
        WAYS[each.name](case, client, file, data)


def _whole(content: bytes) -> st.SearchStrategy[File]:
    names = st.sampled_from(["sent.zip", "sent.pdf", "sent.png", "x" * 300, "../x.svg", "\0"])
    return st.builds(File, names, _bytes_broken(content), st.just("application/octet-stream"))


def _refused(case: Case, answer: Any, before: set[str]) -> None:
    case.nothing_changed()
    if not says_why(answer, before):
        raise case.fault(f"answered {answer.status_code} and says not why")


def _register_sent(case: Case, client: Client, file: File, data: st.DataObject) -> None:
    path = reverse("exchange")
    answer = case.ask(lambda: post(client, path, [("file", file)]))
    # What is only tried changes nothing, whatever comes of it; the file waits to be taken.
    case.nothing_changed(may_wait=True)
    if answer.status_code in {302, 303}:
        return
    _columns_named(case, answer)
    found, _ = read_page(path, answer)
    takes = [value for form in found for name, value in form.buttons if name == "take"]
    takes += [f.value for form in found for f in form.fields if f.name == "take"]
    if not takes:
        page = answer.content.decode()
        if "<table" not in page and not marks(page):
            raise case.fault("refused a register and says not why")
        return
    taken = case.ask(lambda: post(client, path, [("take", takes[0])]))
    if taken.status_code not in {302, 303}:
        case.nothing_changed(may_wait=True)


_CELL = re.compile(r'<td data-label="(\w+)">(.*?)</td>', re.DOTALL)


def _columns_named(case: Case, answer: Any) -> None:
    """Raise Fault where a row is refused by words that name no column of its table."""
    for row in answer.text.split("<tr>"):
        told = {label: plain(cell) for label, cell in _CELL.findall(row)}
        if told.get("Fate") != "refused":
            continue
        if not names_a_column(told["Table"].split()[0], told.get("Why", "")):
            raise case.fault(f"a row is refused and no column of it named: {told}")


def names_a_column(table: str, why: str) -> bool:
    """Whether words refuse a row by a column: of its table, or of a line they name below it."""
    below = [name for name in re.findall(r"\b(\w+) line \d", why) if name in BY_NAME]
    columns = [column.name for name in (table, *below) for column in BY_NAME[name].columns]
    names = "|".join(name.replace("_", "[_ ]") for name in columns)
    return bool(re.search(rf"\b({names})\b", why, re.IGNORECASE))


def _sheet_sent(case: Case, client: Client, file: File, data: st.DataObject) -> None:
    path = reverse("sheets")
    found, _ = read_page(path, case.ask(lambda: client.get(path)))
    form = next(each for each in found if each.name == "sheets")
    yards = next(each.choices for each in form.fields if each.name == "yard")
    yard = next((each for each in yards if each), "")
    sent: list[Pair] = [("yard", yard), ("file", file)]
    answer = case.ask(lambda: post(client, path, sent))
    if answer.status_code not in {302, 303}:
        _refused(case, answer, set())
        return
    _go_on(case, client, answer["Location"], data)


def _pasted(case: Case, client: Client, file: File, data: st.DataObject) -> None:
    path = reverse("sheets")
    found, _ = read_page(path, case.ask(lambda: client.get(path)))
    form = next(each for each in found if each.name == "sheets")
    yards = next(each.choices for each in form.fields if each.name == "yard")
    areas = [each.name for each in form.fields if each.kind == "textarea"]
    sent: list[Pair] = [("yard", next(each for each in yards if each)), (areas[0], file.content)]
    answer = case.ask(lambda: post(client, path, sent))
    if answer.status_code not in {302, 303}:
        _refused(case, answer, set())
        return
    _go_on(case, client, answer["Location"], data)


def _go_on(case: Case, client: Client, path: str, data: st.DataObject) -> None:
    """Confirm columns and answer doubts, some of it broken, as far as it leads.

    Drawn from a seed: what a page holds, and so how much there is to draw, hangs on keys that a
    database counts on.
    """
    chance = random.Random(data.draw(st.integers(0, 2**30)))
    for _ in range(3):
        page = case.ask(lambda: client.get(path))  # noqa: B023
        found, _ = read_page(path, page)
        here = [each for each in found if each.name in {"sheet", "sheet-rehearsal"}]
        if not here:
            return
        form = here[0]
        sent = filled(form, chance, is_filled=chance.random() < 0.5)
        for _ in range(chance.randint(0, 2)):
            place = chance.randrange(len(sent)) if sent else 0
            sent[place : place + 1] = [(sent[place][0], chance.choice(ANY))] if sent else []
        sent += [chance.choice(form.buttons)] if form.buttons else []
        case.told += f"\n    then {form}: {shown(sent)}"
        answer = case.ask(lambda: post(client, form.action, sent))  # noqa: B023
        if answer.status_code not in {302, 303}:
            return
        path = answer["Location"]


def _archive_sent(case: Case, client: Client, file: File, data: st.DataObject) -> None:
    seal = data.draw(st.sampled_from(["", "", "x", "\0", "x" * 300_000, "[]"]))
    path = reverse("receive-unit")
    answer = case.ask(lambda: post(client, path, [("file", file), ("seal", seal), ("act", "send")]))
    if answer.status_code not in {302, 303}:
        _refused(case, answer, set())


def _paper_sent(case: Case, client: Client, file: File, data: st.DataObject) -> None:
    answer = case.ask(lambda: post(client, reverse("paper-file"), [("paper", file)]))
    case.nothing_changed()
    if answer.status_code >= 400 and not says_why(answer, set()):
        raise case.fault(f"answered {answer.status_code} and says not why")


def _by_form(name: str, at: str, field: str) -> Callable[..., None]:
    """Send a file by the form of a page that has a field for it."""

    def sent(case: Case, client: Client, file: File, data: st.DataObject) -> None:
        path = _address(name)
        found, _ = read_page(path, case.ask(lambda: client.get(path)))
        form = next(e for e in found if any(f.name == field for f in e.fields) and not e.is_look)
        chance = random.Random(data.draw(st.integers(0, 2**30)))
        pairs = [pair for pair in filled(form, chance, is_filled=True) if pair[0] != field]
        answer = case.ask(lambda: post(client, form.action, [*pairs, (field, file), (at, "1")]))
        if answer.status_code not in {302, 303}:
            _refused(case, answer, form.before)

    return sent


def _address(name: str) -> str:
    from fleet.models import Hammer, PadLot
    from ratings.models import ExtractionJob

    if name == "machine-documents":
        return reverse(name, args=["hammer", Hammer.objects.latest("pk").pk])
    model: Any = {"new-bench-test": PadLot, "job-attachments": ExtractionJob}[name]
    return reverse(name, args=[model.objects.latest("pk").pk])


WAYS: dict[str, Callable[[Case, Client, File, st.DataObject], None]] = {
    "register": _register_sent,
    "sheets": _sheet_sent,
    "sheets pasted": _pasted,
    "bench table": _by_form("new-bench-test", "read_table", "table_file"),
    "archive": _archive_sent,
    "paper": _paper_sent,
    "picture of a bench test": _by_form("new-bench-test", "x", "photo"),
    "document": _by_form("machine-documents", "x", "sent"),
    "job file": _by_form("job-attachments", "x", "sent"),
}
