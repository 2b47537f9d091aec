from __future__ import annotations

import uuid
import zipfile
from datetime import date, datetime, timedelta
from io import BytesIO
from pathlib import Path
from unittest.mock import patch

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, InterfaceError, OperationalError
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook
from pytest_django import Settings

from fleet import clock
from fleet.cells import FORMULA, guarded, unguarded
from fleet.models import Clamp, Hammer, PadLot, Yard
from fleet.numbers import PLAIN
from fleet.stock import move_between_yards, move_stock
from inspections.exchange.acts import submission_id
from inspections.exchange.incoming import (
    DATABASE_REFUSES,
    Refused,
    take_register,
    try_register,
)
from inspections.exchange.outgoing import register_rows, write_csvs, write_workbook
from inspections.exchange.reading import BadFile, read_file
from inspections.exchange.rows import parsed
from inspections.exchange.tables import BY_NAME
from tests.builders import MONDAY, drafted_test, ordered_pads, rated_unit, receive
from tests.factories import AuditorFactory, ManagerFactory, PadLotFactory, YardFactory
from tests.inspections.field.sent import signed_in
from tests.site.html_form import words

GUIDES = b"housing,occurred_at,is_guided,reason\n"
YARDS = b"name,place\nTallow Reach,North bank\n"


def fates(name: str, content: bytes) -> list[tuple[str, str]]:
    trial = try_register(parsed(read_file(name, content)), ManagerFactory())
    return [(fate.outcome, fate.words) for fate in trial.fates]


@pytest.mark.django_db
def test_a_csv_file_named_like_its_table_is_taken() -> None:
    take_register(parsed(read_file("yards.csv", YARDS)), ManagerFactory())
    assert Yard.objects.get().place == "North bank"


@pytest.mark.django_db
def test_a_count_with_a_travel_beyond_the_design_needs_a_reason() -> None:
    unit = rated_unit()
    counts = f"count,housing,seen_at,travel_in\n1,{unit.housing.mark},2026-03-04 10:00,8.5\n"
    assert fates("counts.csv", counts.encode()) == [
        (
            "refused",
            "travel_reason: 8.5 in is beyond the housing’s design travel of 8 in: tape it again, "
            "or keep it and say why it is right.",
        )
    ]


@pytest.mark.django_db
def test_one_bad_row_keeps_all_others_out() -> None:
    rows = parsed(read_file("yards.csv", YARDS + b",nowhere\n"))
    with pytest.raises(Refused):
        take_register(rows, ManagerFactory())
    assert not Yard.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("hammers.csv", b"mark,yard\nV-1,Nowhere\n", "neither on record"),
        ("hammers.csv", b"mark,yard,frequency_vpm\nV-1,X,fast\n", "is not a number"),
        ("clamps.csv", b'mark,yard,clamp_force_lbf\nV-1,X,"1,5,5"\n', "sets off no thousands"),
        ("clamps.csv", b"mark;yard;clamp_force_lbf\nV-1;X;1,234\n", "write 1234 or 1.234"),
        ("clamps.csv", b"mark\tyard\tclamp_force_lbf\nV-1\tX\t1,23,4\n", "no thousands"),
        ("lots.csv", b"mark,use_by\nL-1,1900-01-01\n", "give a year from 1950 to 2100"),
        ("lots.csv", b"mark,note\nL-1," + b"x" * 100_000 + b"\n", "characters"),
        ("counts.csv", b"count,housing,seen_at\n1,S-9,2099-01-01 10:00\n", "future"),
        ("yards.csv", "name\nReach \U0001f528\n".encode(), "can’t be printed on labels"),
        ("guides.csv", GUIDES + b"S-9,2026-03-04 10:00,maybe,rods\n", "“maybe” won’t do: give yes"),
        ("guides.csv", GUIDES + b"S-9,2026-03-04 10:00,,rods\n", "is_guided is blank: give yes"),
        ("guides.csv", GUIDES + b"S-9,2026-03-04 10:00,no,\n", "reason is blank: give what"),
        ("guides.csv", GUIDES + b"S-9,2099-03-04 10:00,yes,rods\n", "future"),
        ("guides.csv", GUIDES + b"S-9,2026-03-04 10:00,yes,rods\n", "neither on record"),
        (
            "clamps.csv",
            b"mark,yard,clamp_force_lbf\nV-1,X,-5\n",
            "“-5” won’t do: give more than 0",
        ),
        ("clamps.csv", b"mark,yard,holds_h\nC-1,X,perhaps\n", "“perhaps” won’t do: give yes"),
        ("clamps.csv", b"mark,yard,retired_on\nC-1,X,soon\n", "retired_on: “soon”"),
        ("power_packs.csv", b"mark,yard,flow_gpm\nP-1,X,0\n", "“0” won’t do: give more than 0"),
        ("clamp_fittings.csv", b"clamp,hammer,at\nC-1,,2020-01-01 10:00\n", "neither on record"),
        ("clamp_fittings.csv", b"clamp,hammer,at\nC-1,,2099-01-01 10:00\n", "future"),
        ("clamp_fittings.csv", b"clamp,hammer,at\nC-1,,\n", "at is blank: give when"),
        ("listings.csv", b"hammer,listed_lbf,source,dated\nV,0,x,2020-01-01\n", "1000 or more"),
        ("counts.csv", b"count,housing,seen_at,hours\n1,S-9,2020-01-01,-1\n", "give 0 or more"),
        ("stock_moves.csv", b"lot,kind,change,occurred_at\nL,moved,-3,2020-01-01\n", "both rows"),
        ("pads.csv", b"count,side,number,condition\n9,A,1,sound\n", "not in table counts"),
    ],
)
def test_a_bad_row_is_refused_in_words(name: str, content: bytes, words: str) -> None:
    [(outcome, said)] = fates(name, content)
    assert outcome == "refused"
    assert words in said


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("pad", "words"),
    [
        (["T1", "3", "K 9", "new", "", "", "", "", ""], "pad 3: 2 pads shared the load"),
        (["T1", "x", "K 9", "new", "", "", "", "", ""], "number: “x” is not a number"),
        (["T1", "", "K 9", "new", "", "", "", "", ""], "number is blank"),
        (["T1", "2", "k 7", "new", "", "", "", "", ""], "“k 7” is the mark of pad 1 too"),
        (["T1", "2", "K 9", "bought", "", "", "", "", ""], "give new, from service"),
        (["T1", "2", "K 9", "from service", "S-404", "", "", "", ""], "neither on record"),
        (["T1", "2", "K 9", "new", "", "", "", "12", ""], "only a pad from service"),
        (["T1", "2", "K 9", "from service", "", "C", "1", "", ""], "“C” won’t do"),
        (["T1", "2", "K 9", "from service", "", "", "", "-3", ""], "“-3” won’t do"),
        (["T1", "2", "K 9", "", "", "", "", "", "lost"], "give put back, scrapped"),
    ],
)
def test_a_bad_pad_of_a_bench_test_refuses_its_test_in_words(pad: list[str], words: str) -> None:
    drafted_test(PadLotFactory(), ManagerFactory(), pads_in_test=2)
    rows = register_rows()
    [test] = rows["bench_tests"]
    test[0] = "T1"
    test[BY_NAME["bench_tests"].header.index("tested_at")] = MONDAY - timedelta(days=9)
    rows["readings"] = [["T1", *reading[1:]] for reading in rows["readings"]]
    rows["tested_pads"] = [["T1", "1", "K 7", "new", "", "", "", "", ""], pad]
    refused = [fate for fate in fates("r.zip", write_csvs(rows)) if fate[0] == "refused"]
    assert len(refused) == 1
    assert words in refused[0][1]


def test_a_decimal_comma_between_semicolons_is_read_as_in_a_table_of_readings() -> None:
    header = b"\nmark;yard;clamp_force_lbf;weight_lb\n"
    content = header + b"C-1;Kelder;5,75;2.5\nC-2;Kelder;1.234,5;,5\n"
    rows = parsed(read_file("clamps.csv", content))
    numbers = ("clamp_force_lbf", "weight_lb")
    assert [(row.line, *(row.values[name] for name in numbers)) for row in rows] == [
        (3, 5.75, 2.5),
        (4, 1234.5, 0.5),
    ]


def test_a_register_of_before_is_told_where_clamps_stand_now() -> None:
    with pytest.raises(BadFile, match="give it in tables clamps and clamp_fittings"):
        read_file("hammers.csv", b"mark,yard,clamp_force_lbf\nV-1,X,200000\n")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("row", "words"),
    [
        (b"C-1,Kelder,,,yes,,,,", "say yes or no of every kind"),
        (b"C-1,Kelder,,,no,no,no,no,no", "say which they hold"),
        (b"C-1,Kelder,2000,,,,,,", "say where they were read"),
    ],
)
def test_a_clamp_that_cannot_be_is_refused_in_words(row: bytes, words: str) -> None:
    YardFactory(name="Kelder")
    header = b"mark,yard,weight_lb,figures_source,holds_sheet_pair,holds_h,holds_pipe,"
    header += b"holds_timber,holds_concrete\n"
    [(outcome, said)] = fates("clamps.csv", header + row + b"\n")
    assert outcome == "refused"
    assert words in said
    assert not Clamp.objects.exists()


def test_a_point_before_three_digits_beside_decimal_commas_is_asked_about() -> None:
    content = b"mark;yard;exciter_weight_lb\nV-1;Kelder;1.234\nV-2;Kelder;5,75\n"
    [doubtful, certain] = parsed(read_file("hammers.csv", content))
    assert doubtful.faults == [
        "exciter_weight_lb: “1.234” reads two ways: write 1.2340 or 1234, whichever it is"
    ]
    assert certain.faults == []


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("yards.csv", b"\xff\xfe\x00", "UTF-8"),
        ("holidays.csv", YARDS, "No table of the register"),
        ("yards.csv", b"name,colour\nX,red\n", "no column “colour”"),
        ("yards.csv", b"place\nX\n", "lacks the column name"),
        ("r.xlsx", b"PK\x03\x04 broken", "damaged"),
    ],
)
def test_a_file_that_will_not_do_is_refused_in_words(name: str, content: bytes, words: str) -> None:
    with pytest.raises(BadFile, match=words):
        read_file(name, content)


def workbook_with(rows: str) -> bytes:
    """A sheet of yards, and more of its XML put in by hand."""
    book, made = BytesIO(), BytesIO()
    book.write(write_workbook({"yards": [["Tallow Reach", "North bank"]]}))
    with zipfile.ZipFile(book) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as packed:
        for name in old.namelist():
            content = old.read(name)
            if name.endswith("sheet1.xml"):
                content = content.replace(b"</sheetData>", f"{rows}</sheetData>".encode())
            packed.writestr(name, content)
    return made.getvalue()


def test_a_cell_at_the_far_end_of_a_sheet_does_not_swell_it() -> None:
    far = '<row r="60000"><c r="XFD60000"><v>1</v></c></row>'
    [(line, cells, _)] = read_file("r.xlsx", workbook_with(far))["yards"]
    assert (line, cells["name"]) == (2, "Tallow Reach")


def test_more_lines_than_a_sheet_may_have_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("inspections.exchange.reading.MOST_LINES", 1000)
    with pytest.raises(BadFile, match="more than 1,000 lines"):
        read_file("r.xlsx", workbook_with("<row/>" * 2000))


def test_a_sheet_that_breaks_off_is_refused_in_words() -> None:
    with pytest.raises(BadFile, match="damaged"):
        read_file("r.xlsx", workbook_with("<row><c></row>"))


def test_a_zip_locked_with_a_password_is_refused_in_words() -> None:
    held = BytesIO()
    with zipfile.ZipFile(held, "w") as packed:
        packed.writestr("yards.csv", YARDS)
    locked = bytearray(held.getvalue())
    locked[6] |= 1
    locked[locked.find(b"PK\x01\x02") + 8] |= 1
    with pytest.raises(BadFile, match="password"):
        read_file("r.zip", bytes(locked))


def test_a_workbook_that_swells_is_refused_unopened() -> None:
    held = BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/workbook.xml", b" " * 201 * 1024 * 1024)
    assert len(held.getvalue()) < 1024 * 1024
    with pytest.raises(BadFile, match="unpacks to"):
        read_file("r.xlsx", held.getvalue())


@given(st.text(alphabet="'=+-@ab5.\t＝", max_size=6))
def test_guarded_text_comes_back_as_it_was_and_never_runs(text: str) -> None:
    assert unguarded(guarded(text)) == text
    assert PLAIN.fullmatch(text) or not guarded(text).startswith(FORMULA)


@pytest.mark.django_db
def test_no_exported_cell_is_a_formula() -> None:
    unit = rated_unit()
    Hammer.objects.filter(pk=unit.hammer.pk).update(note="=HYPERLINK(1)")
    book = load_workbook(BytesIO(write_workbook(register_rows())))
    kinds = {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row}
    assert "f" not in kinds
    with zipfile.ZipFile(BytesIO(write_csvs(register_rows()))) as packed:
        assert b",'=HYPERLINK(1)" in packed.read("hammers.csv")


@pytest.mark.django_db
def test_characters_nobody_sees_are_left_out_of_names() -> None:
    content = "name,place\nTal\u200blow\u202e Reach,x\n".encode()
    take_register(parsed(read_file("yards.csv", content)), ManagerFactory())
    assert Yard.objects.get().name == "Tallow Reach"


@pytest.mark.django_db
@pytest.mark.parametrize(("kind", "change"), [("received", -2), ("scrapped", 2), ("counted", 0)])
def test_a_move_against_its_kind_is_refused_in_words(kind: str, change: int) -> None:
    PadLotFactory(mark="L-1")
    content = f"lot,kind,change,occurred_at\nL-1,{kind},{change},2020-01-01\n".encode()
    assert f"change is {change} of pads {kind}" in fates("stock_moves.csv", content)[0][1]


@pytest.mark.django_db
def test_a_mark_that_differs_in_capitals_alone_is_refused() -> None:
    PadLotFactory(mark="KX-09")
    [(outcome, said)] = fates("lots.csv", b"mark\nkx-09\n")
    assert outcome == "refused"
    assert "is on record as “KX-09”" in said


@pytest.mark.django_db
def test_a_row_that_names_a_refused_one_says_so() -> None:
    book: dict[str, list[list[object]]] = {
        "hammers": [["V-9", "Nowhere"]],
        "listings": [["V-9", 5000, "Plate", "2020-01-01"]],
    }
    trial = try_register(parsed(read_file("r.xlsx", write_workbook(book))), ManagerFactory())
    assert "is in this file and refused" in trial.refused[-1].words


@pytest.mark.django_db
def test_a_count_of_a_shelf_brings_the_books_to_it_and_not_twice() -> None:
    lot = PadLotFactory(mark="L-1")
    manager = ManagerFactory()
    receive(lot, manager, 24)
    content = b"lot,pads,counted_at\nL-1,20,2026-03-05\n"
    for _ in range(2):
        take_register(parsed(read_file("shelf_counts.csv", content)), manager)
        lot.refresh_from_db()
        assert lot.in_stock == 20


@pytest.mark.django_db
def test_pads_that_the_books_have_in_no_yard_are_not_counted_twice_at_a_yard() -> None:
    lot, manager = PadLotFactory(mark="L-1"), ManagerFactory()
    yard = YardFactory(name="Alder Wharf")
    receive(lot, manager, 29)
    content = b"lot,yard,pads,counted_at\nL-1,Alder Wharf,29,2026-03-05\n"
    (fate,) = fates("shelf_counts.csv", content)
    assert fate[0] == "refused"
    assert "29 are booked in no yard: move those that lie there" in fate[1]
    move_between_yards(
        lot_id=lot.pk,
        pads=29,
        origin=None,
        goal=yard,
        occurred_at=MONDAY,
        by=manager,
        submission_id=uuid.uuid4(),
    )
    assert fates("shelf_counts.csv", content)[0][0] == "on record already"


@pytest.mark.django_db
def test_a_shelf_counted_before_pads_moved_on_it_is_refused() -> None:
    lot = PadLotFactory(mark="L-1")
    receive(lot, ManagerFactory(), 24)
    content = b"lot,pads,counted_at\nL-1,20,2020-03-05\n"
    assert "moved on this shelf since" in fates("shelf_counts.csv", content)[0][1]


@pytest.mark.django_db
def test_pads_booked_out_by_a_date_before_they_came_are_taken_in() -> None:
    PadLotFactory(mark="L-1")
    content = (
        b"lot,kind,change,occurred_at\nL-1,scrapped,-5,2020-01-01\nL-1,received,24,2024-10-08\n"
    )
    take_register(parsed(read_file("stock_moves.csv", content)), ManagerFactory())
    assert PadLot.objects.get().in_stock == 19


@pytest.mark.django_db
def test_a_shelf_counted_after_pads_were_fitted_ends_at_its_count() -> None:
    PadLotFactory(mark="L-1")
    book = {
        "stock_moves": [["L-1", "", "scrapped", -2, "2026-03-05", ""]],
        "shelf_counts": [["L-1", "", 10, "2026-03-08", ""]],
    }
    rows = parsed(read_file("r.xlsx", write_workbook(book)))
    for _ in range(2):
        assert not take_register(rows, ManagerFactory()).refused
        assert PadLot.objects.get().in_stock == 10


@pytest.mark.django_db
def test_a_shelf_nobody_knows_is_refused_and_stops_no_other_row_from_being_told() -> None:
    PadLotFactory(mark="L-1")
    book = {
        "stock_moves": [
            ["L-1", "", "scrapped", -2, "2026-03-05", ""],
            ["L-1", "", "received", 9, "2026-03-09", ""],
        ],
        "shelf_counts": [["L-1", "Nowhere", 10, "2026-03-08", ""]],
    }
    trial = try_register(parsed(read_file("r.xlsx", write_workbook(book))), ManagerFactory())
    assert [fate.table for fate in trial.refused] == ["shelf_counts"]


def test_a_formula_over_cells_that_was_never_calculated_is_read_as_typed() -> None:
    given = workbook_with('<row r="3"><c r="A3"><f t="array" ref="A3:A4">SUM(B1:B2)</f></c></row>')
    assert read_file("r.xlsx", given)["yards"][1][1]["name"] == "=SUM(B1:B2)"


@pytest.mark.django_db
def test_a_shelf_count_that_agreed_then_is_on_record_after_later_moves() -> None:
    lot = PadLotFactory(mark="L-1")
    receive(lot, ManagerFactory(), 24)
    content = b"lot,pads,counted_at\nL-1,24,2026-03-05\n"
    assert fates("shelf_counts.csv", content)[0][0] == "on record already"
    move_stock(
        lot_id=lot.pk,
        kind="scrapped",
        change=-3,
        occurred_at=MONDAY + timedelta(days=9),
        by=ManagerFactory(),
    )
    assert fates("shelf_counts.csv", content)[0][0] == "on record already"


@pytest.mark.django_db
def test_two_moves_that_say_the_same_must_be_told_apart() -> None:
    PadLotFactory(mark="L-1")
    row = b"L-1,received,5,2026-03-05,%b\n"
    head = b"lot,kind,change,occurred_at,note\n"
    assert fates("stock_moves.csv", head + row % b"" + row % b"")[1][0] == "refused"
    trucks = head + row % b"truck 1" + row % b"truck 2"
    assert [fate for fate, _ in fates("stock_moves.csv", trucks)] == ["new", "new"]


@pytest.mark.django_db
@pytest.mark.parametrize("is_of_a_yard", [True, False])
def test_pads_that_may_be_of_an_order_under_way_are_not_taken(is_of_a_yard: bool) -> None:
    order = ordered_pads()
    yard = order.yard.name if is_of_a_yard else ""
    day = clock.today()
    rows = f"lot,yard,kind,change,occurred_at\n{order.lot},{yard},received,12,{day}\n"
    ((outcome, said),) = fates("stock_moves.csv", rows.encode())
    assert outcome == "refused"
    assert f"12 pads of order {order.pk}" in said
    assert "record these on the page of that order" in said


@pytest.mark.django_db
def test_two_kinds_of_inspection_on_one_day_are_both_taken() -> None:
    unit = rated_unit()
    mark = unit.housing.mark.encode()
    rows = b"1,%b,2026-03-10,each shift,All in order\n2,%b,2026-03-10,yearly,All in order\n"
    content = b"count,housing,seen_at,kind,note\n" + rows
    assert [fate for fate, _ in fates("counts.csv", content % (mark, mark))] == ["new", "new"]


@pytest.mark.django_db
def test_an_inspection_of_nothing_is_refused() -> None:
    content = f"count,housing,seen_at\n1,{rated_unit().housing.mark},2026-03-10\n"
    [(fate, words)] = fates("counts.csv", content.encode())
    assert fate == "refused"
    assert "Nothing was entered: count the pads" in words


@pytest.mark.django_db
def test_a_lot_nobody_entered_is_never_said_to_be_in_the_file() -> None:
    row = b"X9,received,5,2026-03-0%d\n"
    said = fates("stock_moves.csv", b"lot,kind,change,occurred_at\n" + row % 5 + row % 6)
    assert all("neither on record nor in this file" in words for _, words in said)


def test_a_day_in_a_workbook_is_that_day_east_of_greenwich_too(settings: Settings) -> None:
    settings.TIME_ZONE = "Europe/Berlin"
    book = {"lots": [["L-1", "", "", "", "", "", "", ""]]}
    filled = load_workbook(BytesIO(write_workbook(book)))
    filled["lots"]["G2"] = datetime(2026, 3, 14)
    held = BytesIO()
    filled.save(held)
    [row] = parsed(read_file("r.xlsx", held.getvalue()))
    assert row.values["use_by"] == date(2026, 3, 14)


def test_a_formula_that_was_never_calculated_is_not_taken_for_a_blank() -> None:
    given = workbook_with('<row r="3"><c r="A3"><f>1100*2</f></c></row>')
    assert read_file("r.xlsx", given)["yards"][1][1]["name"] == "=1100*2"


def test_a_row_is_the_same_one_whatever_the_yards_zone_is_set_to(settings: Settings) -> None:
    content = b"lot,kind,change,occurred_at\nL-1,received,5,2026-03-05T10:00:00Z\n"
    ids = set()
    for settings.TIME_ZONE in ("America/Chicago", "Europe/Berlin"):
        [row] = parsed(read_file("stock_moves.csv", content))
        ids.add(submission_id(row))
    assert len(ids) == 1


@pytest.mark.django_db
def test_the_page_tries_then_takes(settings: Settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path
    client = signed_in(ManagerFactory())
    page = client.post(reverse("exchange"), {"file": SimpleUploadedFile("yards.csv", YARDS)})
    assert "Take it: 1 new row" in words(page)
    assert not Yard.objects.exists()
    client.post(reverse("exchange"), {"take": page.context["tried"]})
    assert Yard.objects.get().name == "Tallow Reach"


@pytest.mark.django_db
def test_a_decimal_comma_is_read_alike_when_tried_and_when_taken(
    settings: Settings, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    client = signed_in(ManagerFactory())
    file = SimpleUploadedFile("lots.csv", b"mark;hardness_shore_a\nL-1;55,5\n")
    page = client.post(reverse("exchange"), {"file": file})
    client.post(reverse("exchange"), {"take": page.context["tried"]})
    assert PadLot.objects.get().hardness_shore_a == 55.5


@pytest.mark.django_db
def test_only_what_was_looked_at_is_taken(settings: Settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path
    client = signed_in(ManagerFactory())
    looked_at = client.post(reverse("exchange"), {"file": SimpleUploadedFile("yards.csv", YARDS)})
    other = YARDS.replace(b"Tallow", b"Fallow")
    client.post(reverse("exchange"), {"file": SimpleUploadedFile("yards.csv", other)})
    client.post(reverse("exchange"), {"take": looked_at.context["tried"]})
    assert not Yard.objects.exists()


@pytest.mark.django_db
def test_rows_that_share_a_fate_are_told_together() -> None:
    content = b"name\nTallow Reach\nKelder\n=\n".replace(b"=", b"x" * 100) + b"Oost\n"
    trial = try_register(parsed(read_file("yards.csv", content)), ManagerFactory())
    told = [(run.outcome, run.lines) for run in trial.runs]
    assert told == [("refused", "4"), ("new", "2 to 3"), ("new", "5")]


@pytest.mark.django_db
def test_a_reader_exports_and_does_not_import() -> None:
    client = signed_in(AuditorFactory())
    assert client.get(reverse("export", args=["xlsx"])).status_code == 200
    assert client.get(reverse("exchange")).status_code == 403


@pytest.mark.django_db
@pytest.mark.parametrize("trouble", [OperationalError("locked"), InterfaceError("closed")])
def test_what_others_hold_or_a_lost_line_is_told_as_no_fault_of_a_row(trouble: Exception) -> None:
    rows = parsed(read_file("yards.csv", YARDS))
    with (
        patch("inspections.exchange.incoming.put_on_record", side_effect=trouble),
        pytest.raises(type(trouble)),
    ):
        take_register(rows, ManagerFactory())


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("fault", "told"),
    [
        # The engine's own words are for the log.
        (IntegrityError("UNIQUE constraint failed: fleet_yard.name"), DATABASE_REFUSES),
        (ValueError("a plain one"), "a plain one"),
    ],
)
def test_what_the_database_or_the_program_refuses_is_told_of_its_row_and_logged(
    fault: Exception, told: str, caplog: pytest.LogCaptureFixture
) -> None:
    with patch("inspections.exchange.incoming.put_on_record", side_effect=fault):
        (fate,) = fates("yards.csv", YARDS)
    assert fate == ("refused", told)
    (logged,) = caplog.records
    assert logged.exc_info is not None
    assert logged.exc_info[1] is fault
