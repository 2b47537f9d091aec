"""Tables of readings as spreadsheets and people write them."""

from __future__ import annotations

import pytest

from ratings.bench.readings_table import TableError, TableRow, read_table, understand_table

PLAIN = "tape_in,gauge_psi\n12,100\n14.5,200.25\n"
TWO = [(12.0, 100.0), (14.5, 200.25)]


def pairs(rows: list[TableRow]) -> list[tuple[float, float]]:
    return [(row.tape_in, row.gauge_psi) for row in rows]


def troubles(given: str | bytes) -> list[str]:
    with pytest.raises(TableError) as trouble:
        read_table(given)
    return trouble.value.messages


@pytest.mark.parametrize(
    "given",
    [
        PLAIN,
        PLAIN.encode(),
        PLAIN.encode("utf-8-sig"),
        "\ufeff" + PLAIN,
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace("\n", "\r"),
        PLAIN.replace(",", "\t"),
        PLAIN.replace(",", ";"),
        "tape_in;gauge_psi\n12;100\n14,5;200,25\n",
        "tape_in\tgauge_psi\n12,0\t100,0\n14,5\t200,25",
        "\n\ntape_in,gauge_psi\n\n12,100\n   \n14.5,200.25\n\n\n",
        " Tape_In , GAUGE_PSI \n 12 , 100 \n14.5,200.25",
        "gauge_psi,tape_in\n100,12\n200.25,14.5\n",
        'tape_in,gauge_psi\n"12","100"\n"14.5","200.25"\n',
        "tape_in;gauge_psi\n12,000;1e2\n14,500;2,0025e2\n",
        "tape_in,gauge_psi\n,\n12,100\n14.5,200.25\n,\n",
    ],
)
def test_the_same_table_however_it_is_written(given: str | bytes) -> None:
    assert pairs(read_table(given)) == TWO


def test_run_and_branch_are_read_and_left_blank_are_the_first_loading() -> None:
    rows = read_table(
        "run\tbranch\ttape_in\tgauge_psi\n2\tUnloading\t12\t100\n\t\t14\t200\n1\tloading\t15\t250"
    )
    assert [(row.run, row.branch) for row in rows] == [
        (2, "unloading"),
        (1, "loading"),
        (1, "loading"),
    ]


def test_a_row_knows_its_line_with_blank_lines_counted() -> None:
    assert [row.line for row in read_table("\ntape_in,gauge_psi\n\n12,1\n\n13,2")] == [4, 6]


@pytest.mark.parametrize(
    "header",
    ["tape,gauge", "tape_in", "tape_in,gauge_psi,note", "tape_in,gauge_psi,tape_in"],
)
def test_a_wrong_header_is_named_by_its_line(header: str) -> None:
    (said,) = troubles(f"\n{header}\n12,100\n")
    assert said.startswith(f"Line 2: the header is “{header}”. Name the columns tape_in and")


def test_an_endless_header_is_answered() -> None:
    assert troubles("x" * 200_000 + "\n12,100\n")[0].startswith("Line 1: ")


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("12", "it has 1 cells and the header 2"),
        ("12,100,7", "it has 3 cells and the header 2"),
        ("12,", "gauge_psi: “” is not a number: give one such as 200."),
        ("twelve,100", "tape_in: “twelve” is not a number: give one such as 13.5."),
        ("NaN,100", "tape_in: “NaN” is not a number"),
        ("inf,100", "tape_in: “inf” is not a number"),
        ("1e999,100", "tape_in: “1e999” is too large"),
        ("-1,100", "tape_in: “-1” won’t do: give 0 or more"),
        ("12,20001", "gauge_psi: “20001” won’t do: give 0 or more, up to 20,000."),
        ("٥,100", "tape_in: “٥” is not a number"),
        ("=A1,100", "tape_in: “=A1” is not a number"),
        ('12,"1,234"', "gauge_psi: “1,234” reads two ways: write 1234 or 1.234"),
    ],
)
def test_a_bad_row_is_named_by_its_line(row: str, said: str) -> None:
    (message,) = troubles(f"tape_in,gauge_psi\n11,50\n\n{row}\n")
    assert message.startswith("Line 4: ")
    assert said in message


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("0;loading;12;100", "run is “0”: give a whole number from 1 to 20"),
        ("21;loading;12;100", "run is “21”"),
        ("1.5;loading;12;100", "run is “1.5”"),
        ("²;loading;12;100", "run is “²”"),
        ("1;up;12;100", "branch is “up”: give loading or unloading"),
    ],
)
def test_a_run_or_branch_that_cannot_be_is_named_by_its_line(row: str, said: str) -> None:
    (message,) = troubles(f"run;branch;tape_in;gauge_psi\n{row}\n")
    assert message.startswith("Line 2: ")
    assert said in message


def test_a_decimal_comma_between_commas_is_a_cell_too_many() -> None:
    assert "it has 4 cells" in troubles("tape_in,gauge_psi\n12,5,100,5")[0]


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ("12,5;1,234", "gauge_psi: “1,234” reads two ways: write 1234 or 1.2340, whichever it is."),
        ("12,5;1.234", "gauge_psi: “1.234” reads two ways: write 1.2340 or 1234, whichever it is."),
        ("12.5;1,000", "gauge_psi: “1,000” reads two ways: write 1000 or 1, whichever it is."),
    ],
)
def test_a_gauge_that_reads_two_ways_is_asked_about(cells: str, said: str) -> None:
    assert troubles(f"tape_in;gauge_psi\n{cells}\n") == [f"Line 2: {said}"]


def test_thousands_that_can_be_nothing_else_are_taken() -> None:
    assert pairs(read_table("tape_in\tgauge_psi\n12.5\t1,234.5\n13,5\t1.234,5")) == [
        (12.5, 1234.5),
        (13.5, 1234.5),
    ]


def test_every_bad_row_is_named_up_to_ten_and_the_rest_are_counted() -> None:
    bad = "tape_in,gauge_psi\n" + "x,1\n" * 13
    said = troubles(bad)
    assert [message.split(":")[0] for message in said[:10]] == [f"Line {n}" for n in range(2, 12)]
    assert said[10:] == ["… and 3 more lines like these."]
    assert len(troubles("tape_in,gauge_psi\n" + "x,1\n" * 10)) == 10


def test_two_hundred_readings_are_taken_and_ten_thousand_are_not() -> None:
    def table(rows: int) -> str:
        return "tape_in,gauge_psi\n" + "".join(f"{row},{row}\n" for row in range(rows))

    assert len(read_table(table(200))) == 200
    (said,) = troubles(table(10_000))
    assert said.startswith("Line 202: there are 10,000 readings; a test holds 200 at the most")


@pytest.mark.parametrize("given", ["", b"", "\n \n", "\ufeff", b"\xef\xbb\xbf\n"])
def test_an_empty_table_says_so(given: str | bytes) -> None:
    assert troubles(given)[0].startswith("The table is empty")


def test_a_header_alone_says_so() -> None:
    assert troubles("tape_in,gauge_psi\n\n") == [
        "The table has a header and no reading: give a line for each."
    ]


@pytest.mark.parametrize(
    "given",
    [
        b"PK\x03\x04\x14\x00\x06\x00\xff\xfe",
        b"\x89PNG\r\n\x1a\n\x00\x00",
        "tape_in,gauge_psi\n12,100\n".encode("utf-16"),
        b"tape_in,gauge_psi\n12,\x00100\n",
        "tape_in,gauge_psi\n12,\x00100\n",
    ],
)
def test_what_is_no_text_says_how_to_send_it(given: str | bytes) -> None:
    assert troubles(given)[0].startswith("This is not a text file: save the sheet as CSV")
    assert len(troubles(given)) == 1


@pytest.mark.parametrize("row", ['"12,100', '12,"1"00"', "12,1" + "0" * 200_000])
def test_odd_quotes_and_endless_cells_are_answered(row: str) -> None:
    assert troubles(f"tape_in,gauge_psi\n{row}\n")[0].startswith("Line 2: ")


@pytest.mark.parametrize(
    ("given", "order"),
    [
        ("12\t100\n13\t200.5", "column 1 is the tape, in, column 2 is the gauge, psi"),
        ("100\t12\n200.5\t13", "column 1 is the gauge, psi, column 2 is the tape, in"),
        ("1,12,100,loading\n1,13,200.5,loading", "column 1 is run, column 2 is the tape, in"),
        ("12;100;loading;2\n13;200,5;loading;2", "column 3 is branch, column 4 is run"),
        ("12\t\t100\n13\t\t200.5", "column 1 is the tape, in, column 2 is the gauge, psi"),
    ],
)
def test_columns_without_a_header_are_told_by_what_stands_in_them(given: str, order: str) -> None:
    table = understand_table(given)
    assert pairs(table.rows) == [(12.0, 100.0), (13.0, 200.5)]
    assert order in table.understood
    assert table.understood.endswith("2 readings.")


@pytest.mark.parametrize(
    "given",
    ["10\t5.5\n16\t44", "254\t80\n406\t640", "12,55\n13,58"],
    ids=["a gauge in bar", "a tape in mm", "either"],
)
def test_figures_that_tell_nothing_are_asked_about(given: str) -> None:
    with pytest.raises(TableError, match="do not tell which is the tape"):
        understand_table(given)
    lines = given.replace(",", "\t").splitlines()
    first, last = ([float(cell) for cell in line.split("\t")] for line in lines)
    rows = understand_table(given, "gauge_psi,tape_in").rows
    assert pairs(rows) == [(first[1], first[0]), (last[1], last[0])]


def test_one_column_or_three_of_figures_without_a_header_are_asked_about() -> None:
    for given in ("12\n13", "12\t100\t25.5\n13\t200\t26.5"):
        with pytest.raises(TableError):
            understand_table(given)


def test_a_bad_line_below_tells_its_number_without_a_header_too() -> None:
    with pytest.raises(TableError, match="Line 2: gauge_psi: “x”"):
        understand_table("12\t100\n13\tx")
