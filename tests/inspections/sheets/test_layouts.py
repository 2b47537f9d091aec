"""Layouts of our own making: each is understood, or asked about, and none is half taken."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.models import (
    Hammer,
    HourReading,
    Mounting,
    PadLot,
    ReaderPreference,
    ShelfCount,
    SuppressorHousing,
    Yard,
)
from inspections.models import Inspection, PadReplacement, SheetDraft
from inspections.sheets.grid import read_pasted
from inspections.sheets.recording import (
    NotRehearsed,
    confirm_columns,
    keep_sheet,
    open_sheet,
    take_sheet,
)
from ratings.models import Listing
from ratings.mounting import mount_housing
from tests.builders import Unit, count, rated_unit
from tests.factories import (
    HammerFactory,
    HousingFactory,
    ManagerFactory,
    PadLotFactory,
    YardFactory,
)
from tests.inspections.sheets.sheet_makers import (
    answered,
    confirmed,
    doubts_of,
    kept,
    taken_for,
    workbook,
)

pytestmark = pytest.mark.django_db

PADS = ["A1", "A2", "A3", "A4", "B1", "B2", "B3", "B4"]
GOOD = ["ok"] * 8


@pytest.fixture
def yard() -> Yard:
    return YardFactory(name="South", place="Ferry Road")


@pytest.fixture
def housing(yard: Yard) -> SuppressorHousing:
    """H-12, four pads on each side, on hammer V-3 since 2024."""
    housing = HousingFactory(mark="H-12", yard=yard)
    mount_housing(
        housing=housing,
        hammer=HammerFactory(mark="V-3", yard=yard),
        at=datetime(2024, 1, 1, tzinfo=UTC),
        by=ManagerFactory(),
    )
    return housing


def take(draft: SheetDraft) -> int:
    return take_sheet(draft=draft, by=draft.owner)


def days() -> list[str]:
    """The days of all inspections, from the first."""
    moments = Inspection.objects.order_by("seen_at").values_list("seen_at", flat=True)
    return [f"{timezone.localtime(at):%Y-%m-%d}" for at in moments]


def pads_of(inspection: Inspection | None) -> dict[str, str]:
    assert inspection is not None
    return {f"{pad.side}{pad.number}": pad.condition for pad in inspection.pads.all()}


def test_a_row_a_visit_with_a_column_a_pad_a_title_above_and_totals_below(
    housing: SuppressorHousing, yard: Yard
) -> None:
    draft = kept(
        workbook(
            ["A1:L1"],
            Log=[
                ["Pads and travel 2025"],
                [],
                ["Unit", "Date", "Travel", "Hours", *PADS, None, "Remarks"],
                ["H 12", datetime(2025, 3, 4), "7 3/4", "1,200.5", *GOOD[:7], "split", None, "wet"],
                ["h-12", "3/14/25", '7.8"', 1250, *GOOD],
                ["V3", "4/5/25", "198 mm", 1300, *GOOD],
                ["Total", None, None, 3],
            ],
        ),
        yard,
    )
    draft = confirmed(draft)
    assert doubts_of(draft) == []
    left = [(each.row, each.why) for each in open_sheet(draft).understood().left]
    assert left == [(1, "above the table"), (7, "totals")]
    assert take(draft) == 3
    assert days() == ["2025-03-04", "2025-03-14", "2025-04-05"]
    first = Inspection.objects.earliest("seen_at")
    assert (first.travel_in, pads_of(first)["B4"]) == (7.75, "cracked")
    assert first.note == "wet From “Log”, sheet “Log”, row 4."
    assert list(HourReading.objects.order_by("read_at").values_list("hours", flat=True)) == [
        1200.5,
        1250.0,
        1300.0,
    ]


def test_a_row_a_pad_with_the_unit_over_its_first_alone(
    housing: SuppressorHousing, yard: Yard
) -> None:
    lot = PadLotFactory(mark="L-7")
    rows: list[list[Any]] = [["Housing", "Date", "Side", "No", "Condition", "Batch"]]
    for side in ("left", "right"):
        for number in range(1, 5):
            who = ["H-12", "14.3.2025"] if (side, number) == ("left", 1) else [None, None]
            state = "gone" if (side, number) == ("right", 2) else "good"
            rows.append([*who, side, number, state, "l 7" if state == "good" else None])
    draft = confirmed(kept(workbook(Pads=rows), yard))
    assert doubts_of(draft) == []
    assert take(draft) == 1
    seen = pads_of(Inspection.objects.get())
    assert (len(seen), seen["A1"], seen["B2"]) == (8, "sound", "missing")
    assert Inspection.objects.get().pads.filter(lot=lot).count() == 7


def test_a_merged_unit_beside_its_pads(housing: SuppressorHousing, yard: Yard) -> None:
    rows: list[list[Any]] = [["Unit", "Date", "Position", "State"]]
    rows += [["H-12", datetime(2025, 3, 14), pad, "OK"] for pad in PADS]
    for row in rows[2:]:
        row[:2] = [None, None]
    draft = confirmed(kept(workbook(["A2:A9", "B2:B9"], Pads=rows), yard))
    assert doubts_of(draft) == []
    assert take(draft) == 1


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("delimiter", [";", "\t", "|"])
def test_a_csv_of_another_country(
    housing: SuppressorHousing, yard: Yard, delimiter: str, encoding: str
) -> None:
    lines = [
        ["Gerät", "Datum", "Hub [mm]", "Stunden", "Bemerkung"],
        ["H12", "14.03.2025", "196,5", "1.200,5", "Öl über der Führung, geprüft"],
        ["H12", "04.05.2025", "197", "1.250,0", "größer"],
    ]
    text = "\r\n".join(delimiter.join(line) for line in lines)
    draft = confirmed(kept(text.encode(encoding), yard))
    assert doubts_of(draft) == []
    assert take(draft) == 2
    first = Inspection.objects.earliest("seen_at")
    assert first.travel_in == pytest.approx(196.5 / 25.4)
    assert first.hour_reading is not None
    assert first.hour_reading.hours == 1200.5
    assert first.note.startswith("Öl über der Führung, geprüft")
    assert days() == ["2025-03-14", "2025-05-04"]


def test_pasted_cells_without_a_header_are_known_by_what_stands_in_them(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows = "".join(f"H-12\t2025-03-14\t{pad}\tok\n" for pad in PADS)
    draft = kept(rows, yard)
    readings = open_sheet(draft).readings[0]
    assert readings.meanings == {0: "unit", 1: "day", 2: "position", 3: "condition"}
    assert take(confirmed(draft)) == 1


def test_sides_over_numbers_in_a_header_of_two_rows(housing: SuppressorHousing, yard: Yard) -> None:
    draft = kept(
        workbook(
            ["A1:A2", "B1:B2", "C1:F1", "G1:J1"],
            Pads=[
                ["Unit", "Date", "Left", None, None, None, "Right"],
                [None, None, 1, 2, 3, 4, 1, 2, 3, 4],
                ["H-12", datetime(2025, 3, 14), *["✓"] * 7, "torn"],
            ],
        ),
        yard,
    )
    assert set(taken_for(draft).values()) >= {"pad:A:1", "pad:B:4"}
    assert take(confirmed(draft)) == 1
    assert pads_of(Inspection.objects.get())["B4"] == "cracked"


def test_one_sheet_with_everything_by_hammer_with_its_kinds(
    housing: SuppressorHousing, yard: Yard
) -> None:
    draft = kept(
        workbook(
            Everything=[
                ["Hammer", "When", "Time", "Type", "Hrs", "Stroke (cm)", "Pads OK", "By"],
                ["V 3", datetime(2025, 1, 6), "7:30", "Monthly", 900, 19.5, "8 of 8", "J. Ortiz"],
                ["V-3", datetime(2025, 2, 3), "7:30 am", "Annual", 950, None, "all", "J. Ortiz"],
                ["V-3", datetime(2025, 2, 4), "16:00", "pre-shift", 958.5, None, None, "M. Lund"],
            ]
        ),
        yard,
    )
    draft = confirmed(draft)
    assert doubts_of(draft) == []
    assert take(draft) == 3
    kinds = Inspection.objects.order_by("seen_at").values_list("kind", flat=True)
    assert list(kinds) == ["monthly", "yearly", "each shift"]
    monthly = Inspection.objects.earliest("seen_at")
    assert set(pads_of(monthly).values()) == {"sound"}
    assert len(pads_of(monthly)) == 8
    assert "Seen by J. Ortiz." in monthly.note


def test_a_log_of_hours_alone_is_read_off_meters_and_inspects_nothing(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [
        ["Machine", "Date", "Hour meter"],
        ["V3", datetime(2025, 3, 14), "1,200.5 h"],
        ["h 12", datetime(2025, 3, 20), 1260],
    ]
    draft = confirmed(kept(workbook(Hours=rows), yard))
    assert doubts_of(draft) == []
    assert take(draft) == 2
    shown = HourReading.objects.order_by("read_at").values_list("hammer__mark", "hours")
    assert list(shown) == [("V-3", 1200.5), ("V-3", 1260.0)]
    assert Inspection.objects.count() == 0
    assert confirmed(kept(workbook(Hours=rows), yard)).rehearsal["known"] == 2


def test_several_sheets_of_which_some_are_unknown(housing: SuppressorHousing, yard: Yard) -> None:
    draft = kept(
        workbook(
            Phones=[["Who", "Phone"], ["Joe", "555 0100"]],
            Log=[["Unit", "Date", "Travel"], ["H-12", datetime(2025, 3, 14), 7.5]],
            Costs=[["Item", "Cost"], ["Grease", 12.5]],
        ),
        yard,
    )
    sorts = {b.sheet: open_sheet(draft).readings[b.number].sort for b in open_sheet(draft).blocks}
    assert sorts == {"Phones": "leave", "Log": "inspections", "Costs": "leave"}
    assert take(confirmed(draft)) == 1


def test_headers_again_notes_between_and_blank_columns(
    housing: SuppressorHousing, yard: Yard
) -> None:
    header = ["Unit", None, "Date", "Travel", "Hours"]
    draft = confirmed(
        kept(
            workbook(
                Log=[
                    header,
                    ["H-12", None, datetime(2025, 1, 6), 7.5, 100],
                    ["moved to the north bay in February"],
                    header,
                    ["H-12", None, datetime(2025, 3, 6), 7.6, 200],
                ]
            ),
            yard,
        )
    )
    left = [each.why for each in open_sheet(draft).understood().left]
    assert left == ["a note", "the header again"]
    assert take(draft) == 2


def test_two_tables_one_below_the_other(housing: SuppressorHousing, yard: Yard) -> None:
    draft = confirmed(
        kept(
            workbook(
                Log=[
                    ["Unit", "Date", "Travel"],
                    ["H-12", datetime(2025, 1, 6), 7.5],
                    [],
                    ["Lot", "Yard", "On shelf", "As of"],
                    ["L-9", "south yard", 12, datetime(2025, 1, 7)],
                ]
            ),
            yard,
        )
    )
    assert doubts_of(draft) == []
    take(draft)
    assert ShelfCount.objects.get().pads == 12
    assert days() == ["2025-01-06"]


def test_a_list_of_machines_and_what_was_seen_of_them_in_one_workbook(yard: Yard) -> None:
    draft = confirmed(
        kept(
            workbook(
                Fleet=[
                    ["Hammer", "Housing", "Location", "Pads", "Travel", "Hung since", "Listed"],
                    ["V-8", "H-8", "South yard", 8, "8 1/2", datetime(2024, 5, 2), "60 tons"],
                    ["V-9", "H-9", "ferry road", 8, "8 1/2", datetime(2024, 5, 2), "60 tons"],
                ],
                Log=[["Unit", "Date", "Travel"], ["h9", datetime(2025, 3, 14), "8 1/4"]],
            ),
            yard,
        )
    )
    assert {doubt.key for doubt in doubts_of(draft)} == {"listing source"}
    draft = answered(draft, **{"listing source": "data plate"})
    assert {doubt.key for doubt in doubts_of(draft)} == {"listing dated"}
    draft = answered(draft, **{"listing dated": "2020-05-01"})
    assert doubts_of(draft) == []
    take(draft)
    assert set(Hammer.objects.values_list("mark", "yard__name")) == {
        ("V-8", "South"),
        ("V-9", "South"),
    }
    assert SuppressorHousing.objects.get(mark="H-9").positions_per_side == 4
    assert Mounting.objects.count() == 2
    assert {each.listed_lbf for each in Listing.objects.all()} == {120_000.0}
    assert Inspection.objects.get().housing == SuppressorHousing.objects.get(mark="H-9")


def test_pads_fitted_a_row_a_pad(yard: Yard) -> None:
    unit = rated_unit(unsound={"A1": "cracked", "A2": "cracked"}, in_stock=4)
    at = datetime(2026, 3, 20)
    draft = confirmed(
        kept(
            workbook(
                Fitted=[
                    ["Unit", "Date fitted", "Pad", "Lot"],
                    [unit.housing.mark, at, "A1", unit.lot.mark],
                    [unit.housing.mark, at, "A2", unit.lot.mark.lower()],
                ]
            ),
            yard,
        )
    )
    assert doubts_of(draft) == []
    assert take(draft) == 1
    assert PadReplacement.objects.get().pads.count() == 2
    assert unit.housing.positions.filter(condition="sound").count() == 8


def test_days_a_spreadsheet_counts_without_saying_so(
    housing: SuppressorHousing, yard: Yard
) -> None:
    draft = confirmed(kept("Unit,Date,Travel\nH-12,45730,7.5\nH-12,45761,7.6\n", yard))
    assert take(draft) == 2
    assert days() == ["2025-03-14", "2025-04-14"]


# What is asked about.


def test_days_of_two_readings_are_asked_about_once_for_the_whole_file(
    housing: SuppressorHousing, yard: Yard
) -> None:
    text = "Unit,Date,Travel\nH-12,3/12/25,7.5\nH-12,4/11/25,7.6\nH-12,5/10/25,7.6\n"
    draft = confirmed(kept(text, yard))
    (doubt,) = doubts_of(draft)
    assert (doubt.key, doubt.count) == ("order of days", 3)
    assert [label for _, label in doubt.choices] == [
        "month first: 3/12/25 is 12 Mar 2025",
        "day first: 3/12/25 is 3 Dec 2025",
    ]
    with pytest.raises(NotRehearsed):
        take(draft)
    assert Inspection.objects.count() == 0
    draft = answered(draft, **{"order of days": "month first"})
    assert take(draft) == 3
    assert days() == ["2025-03-12", "2025-04-11", "2025-05-10"]


def test_a_column_that_names_no_unit_and_cannot_be_in_inches_is_asked_about_once(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [["Unit", "Date", "Travel"]]
    rows += [["H-12", datetime(2025, 3, day), 190 + day] for day in range(1, 6)]
    draft = confirmed(kept(workbook(Log=rows), yard))
    (doubt,) = doubts_of(draft)
    assert (doubt.key, doubt.count) == ("unit|0|travel_in", 5)
    assert take(answered(draft, unit="mm")) == 5
    assert Inspection.objects.earliest("seen_at").travel_in == pytest.approx(191 / 25.4)


def test_a_figure_beyond_its_bounds_among_others_is_asked_about_by_itself(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [["Unit", "Date", "Travel"]]
    rows += [["H-12", datetime(2025, 3, day), 7.5] for day in range(1, 6)]
    rows[3][2] = 75
    draft = confirmed(kept(workbook(Log=rows), yard))
    (doubt,) = doubts_of(draft)
    assert doubt.given == "75"
    assert take(answered(draft, **{"75": '7 1/2"'})) == 5


def test_days_that_the_spreadsheet_may_have_swapped_are_asked_about(
    housing: SuppressorHousing, yard: Yard
) -> None:
    draft = confirmed(
        kept(
            workbook(
                Log=[
                    ["Unit", "Date", "Travel"],
                    ["H-12", "14/3/2025", 7.5],
                    ["H-12", datetime(2025, 3, 4), 7.6],
                ]
            ),
            yard,
        )
    )
    assert [doubt.key for doubt in doubts_of(draft)] == ["days taken by the spreadsheet"]
    draft = answered(draft, **{"days taken by the spreadsheet": "swapped"})
    take(draft)
    assert days() == ["2025-03-14", "2025-04-03"]


def test_a_number_of_sound_pads_has_no_positions(housing: SuppressorHousing, yard: Yard) -> None:
    rows: list[list[Any]] = [
        ["Unit", "Date", "Pads good"],
        ["H-12", datetime(2025, 3, 14), "6 of 8"],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    (doubt,) = doubts_of(draft)
    assert "a number has no positions" in doubt.words
    draft = answered(draft, **{"6 of 8": "A3 cracked"})
    (doubt,) = doubts_of(draft)
    assert "names 1 pads, and 2 were not sound" in doubt.words
    draft = answered(draft, **{"6 of 8": "A3 cracked, B1 gone"})
    take(draft)
    seen = pads_of(Inspection.objects.get())
    assert (seen["A3"], seen["B1"], len(seen)) == ("cracked", "missing", 8)


def test_a_column_of_bad_pads_says_which_were_not_sound(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [
        ["Unit", "Date", "Pads good", "Bad pads"],
        ["H-12", datetime(2025, 3, 14), "6 of 8", "A3 cracked, B1 gone"],
        ["H-12", datetime(2025, 4, 14), "7 of 8", "A3 cracked, B1 gone"],
        ["H-12", datetime(2025, 5, 14), "8 of 8", "A3 cracked"],
        ["H-12", datetime(2025, 6, 14), "7 of 8", "A9 cracked"],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    told = [doubt.words for doubt in doubts_of(draft)]
    assert len(told) == 3
    assert "that names 2 pads, and 1 were not sound" in told[0]
    assert "counts every pad sound and names A3 cracked" in told[1]
    assert "A9 is no pad of this housing" in told[2]
    draft = answered(draft, **{"7 of 8": "A3 cracked", "8 of 8": "pads"})
    take(draft)
    counts = [pads_of(each) for each in Inspection.objects.order_by("seen_at")]
    assert [sorted(set(each.values())) for each in counts] == [
        ["cracked", "missing", "sound"],
        *[["cracked", "sound"]] * 3,
    ]
    assert [each["A3"] for each in counts] == ["cracked"] * 4


def test_bad_pads_without_a_count_or_beside_other_marks_are_asked_about(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [
        ["Unit", "Date", "A3", "Bad pads"],
        ["H-12", datetime(2025, 3, 14), "good", "A3 cracked"],
        ["H-12", datetime(2025, 4, 14), None, "B4 split, B9 gone"],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    keys = [doubt.key.split("|")[0] for doubt in doubts_of(draft)]
    assert keys == ["both", "no such pad"]
    draft = answered(draft, **{"both": "named", "no such pad": "=cell"})
    assert [doubt.key for doubt in doubts_of(draft)] == ["others|0"]
    take(answered(draft, others="sound"))
    first, second = (pads_of(each) for each in Inspection.objects.order_by("seen_at"))
    assert (first["A3"], second["B4"]) == ("cracked", "cracked")


def test_what_commas_part_off_is_asked_once_for_a_column(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows = "Unit\tDate\tHours\nH-12\t2025-03-14\t1,204\nH-12\t2025-04-14\t1,260\n"
    draft = confirmed(kept(rows, yard))
    (doubt,) = doubts_of(draft)
    assert [label for _, label in doubt.choices] == [
        "thousands: this is 1204",
        "decimals: this is 1.204",
    ]
    take(answered(draft, commas="thousands"))
    assert list(HourReading.objects.order_by("hours").values_list("hours", flat=True)) == [
        1204.0,
        1260.0,
    ]


def test_a_comma_before_a_point_tells_of_its_column(housing: SuppressorHousing, yard: Yard) -> None:
    rows = "Unit\tDate\tHours\nH-12\t2025-03-14\t1,204.5\nH-12\t2025-04-14\t1,260\n"
    take(confirmed(kept(rows, yard)))
    assert HourReading.objects.latest("read_at").hours == 1260.0


def test_a_kind_a_travel_and_a_number_of_pads_in_doubt_are_asked_about_in_one_round(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [
        ["Unit", "Date", "Type", "Travel", "Pads"],
        ["H-12", datetime(2025, 3, 14), "grease", "about 8", "7 of 8"],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    given = [doubt.given for doubt in doubts_of(draft)]
    assert given == ["grease", "about 8", "7 of 8"]
    answers = {"grease": "=new:grease", "about 8": "8", "7 of 8": "A3 cracked"}
    take(answered(draft, **answers))
    assert Inspection.objects.get().kind_name == "grease"


def test_good_beside_a_unit_is_no_count_until_somebody_says_so(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [
        ["Unit", "Date", "Condition", "Hours"],
        ["H-12", datetime(2025, 3, 14), "Good", 10],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    assert [doubt.key for doubt in doubts_of(draft)] == ["whole|Good"]
    draft = answered(draft, Good="note")
    take(draft)
    assert pads_of(Inspection.objects.get()) == {}
    assert "Condition: Good." in Inspection.objects.get().note


def test_pads_not_named_are_asked_about_before_they_count(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [
        ["Unit", "Date", "Pad", "Condition"],
        ["H-12", datetime(2025, 3, 14), "A3", "split"],
    ]
    draft = confirmed(kept(workbook(Defects=rows), yard))
    (doubt,) = doubts_of(draft)
    assert doubt.key == "others|0"
    draft = answered(draft, others="sound")
    take(draft)
    assert sorted(pads_of(Inspection.objects.get()).values()) == ["cracked", *["sound"] * 7]


def test_crosses_beside_blanks_are_asked_about(housing: SuppressorHousing, yard: Yard) -> None:
    rows: list[list[Any]] = [
        ["Unit", "Date", *PADS],
        ["H-12", datetime(2025, 3, 14), "x", *[None] * 6, "x"],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    (doubt,) = doubts_of(draft)
    assert "may tick a pad or strike it out" in doubt.words
    draft = answered(draft, x="cracked")
    draft = answered(draft, others="sound")
    take(draft)
    assert pads_of(Inspection.objects.get())["A1"] == "cracked"


def test_a_value_is_asked_about_once_wherever_it_stands(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [["Unit", "Date", *PADS]]
    rows += [["H-12", datetime(2025, 3, 14) + timedelta(days=n), *["meh"] * 8] for n in range(5)]
    draft = confirmed(kept(workbook(Log=rows), yard))
    (doubt,) = doubts_of(draft)
    assert (doubt.given, doubt.count, doubt.where) == ("meh", 5, ["Log, rows 2–6"])
    assert take(answered(draft, meh="swollen")) == 5


def test_all_that_is_in_doubt_in_a_row_is_asked_at_once(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [
        ["Unit", "Date", "Kind", "Travel"],
        ["H-99", "3/4/25", "Anual", "about 7"],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    asked = {doubt.given for doubt in doubts_of(draft)}
    assert asked == {"H-99", "3/4/25", "Anual", "about 7"}


def test_a_mark_of_nothing_on_record_is_asked_about_with_the_nearest(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [["Unit", "Date", "Travel"], ["HH-12", datetime(2025, 3, 14), 7.5]]
    draft = confirmed(kept(workbook(Log=rows), yard))
    (doubt,) = doubts_of(draft)
    assert doubt.likely == "housing:H-12"
    assert take(answered(draft, **{"HH-12": "housing:H-12"})) == 1


def test_two_machines_that_a_mark_may_be_are_asked_about(
    housing: SuppressorHousing, yard: Yard
) -> None:
    HammerFactory(mark="H12", yard=yard)
    rows: list[list[Any]] = [["Unit", "Date", "Travel"], ["h 12", datetime(2025, 3, 14), 7.5]]
    draft = confirmed(kept(workbook(Log=rows), yard))
    assert "may be housing H-12, hammer H12" in doubts_of(draft)[0].words


def test_two_rows_of_one_visit_that_differ_are_asked_about(
    housing: SuppressorHousing, yard: Yard
) -> None:
    day = datetime(2025, 3, 14)
    rows: list[list[Any]] = [
        ["Unit", "Date", "Travel"],
        ["H-12", day, 7.5],
        ["H12", day, 7.25],
        ["H12", day, 7.5],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    (doubt,) = doubts_of(draft)
    assert "say different things" in doubt.words
    assert take(answered(draft, two="7.25")) == 1
    assert Inspection.objects.get().travel_in == 7.25


def test_a_hammer_that_hung_on_nothing_then_is_asked_about(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [["Hammer", "Date", "Travel"], ["V-3", datetime(2022, 3, 14), 7.5]]
    draft = confirmed(kept(workbook(Log=rows), yard))
    (doubt,) = doubts_of(draft)
    assert doubt.words.startswith("Hammer V-3 hung under no housing on record on 14 Mar 2022")
    assert take(answered(draft, **{"V-3": "H-12"})) == 1


def test_a_travel_beyond_design_wants_its_reason_as_on_the_page(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [["Unit", "Date", "Travel"], ["H-12", datetime(2025, 3, 14), 9.5]]
    draft = confirmed(kept(workbook(Log=rows), yard))
    (doubt,) = doubts_of(draft)
    assert "beyond the housing’s design travel" in doubt.words
    draft = answered(draft, refused="longer stops fitted")
    assert take(draft) == 1
    assert Inspection.objects.get().travel_reason == "longer stops fitted"


def test_a_meter_that_falls_is_refused_as_on_the_page_and_its_cell_may_be_left(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [
        ["Unit", "Date", "Travel", "Hours"],
        ["H-12", datetime(2025, 3, 14), 7.5, 500],
        ["H-12", datetime(2025, 3, 20), 7.5, 400],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    (doubt,) = doubts_of(draft)
    assert "400 h is below the 500 h read on 14 Mar 2025" in doubt.words
    draft = answered(draft, refused="=cell")
    assert take(draft) == 2
    assert HourReading.objects.count() == 1


# History, and taking a sheet twice.


def test_last_year_enters_history_at_its_own_time_and_overwrites_nothing_newer() -> None:
    unit: Unit = rated_unit()
    june = datetime(2026, 6, 1, 9, tzinfo=UTC)
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=june)
    unit.housing.refresh_from_db()
    taped_in = unit.housing.travel_in
    rows: list[list[Any]] = [["Unit", "Date", "Travel", *PADS]]
    rows.append([unit.housing.mark, datetime(2026, 4, 1), 6.5, *GOOD])
    draft = confirmed(kept(workbook(Log=rows)))
    assert take(draft) == 1
    unit.housing.refresh_from_db()
    assert unit.housing.positions.get(side="A", number=1).condition == "cracked"
    assert unit.housing.travel_in == taped_in != 6.5
    late = Inspection.objects.get(travel_in=6.5)
    assert timezone.localtime(late.seen_at).date().isoformat() == "2026-04-01"
    assert late.pads.filter(lot=unit.lot).count() == 8


def test_a_sheet_heals_no_pad_that_nothing_was_fitted_for() -> None:
    unit = rated_unit(unsound={"A1": "swollen"})
    rows: list[list[Any]] = [["Unit", "Date", *PADS]]
    rows.append([unit.housing.mark, datetime(2026, 4, 1), *GOOD])
    draft = confirmed(kept(workbook(Log=rows)))
    if not doubts_of(draft):
        take(draft)
    position = unit.housing.positions.get(side="A", number=1)
    assert position.condition == "swollen"


def test_a_sheet_taken_again_changes_nothing(housing: SuppressorHousing, yard: Yard) -> None:
    rows: list[list[Any]] = [["Unit", "Date", "Travel"], ["H-12", datetime(2025, 3, 14), 7.5]]
    assert take(confirmed(kept(workbook(Log=rows), yard))) == 1
    rows[1][0] = "h 12"
    again = confirmed(kept(workbook(Log=rows), yard))
    assert (again.rehearsal["news"], again.rehearsal["known"]) == (0, 1)
    assert again.rehearsal["otherwise"] == []
    assert take(again) == 0
    assert Inspection.objects.count() == 1


def test_what_is_on_record_otherwise_is_named_and_left(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [["Unit", "Date", "Travel"], ["H-12", datetime(2025, 3, 14), 7.5]]
    take(confirmed(kept(workbook(Log=rows), yard)))
    rows[1][2] = 7.25
    again = confirmed(kept(workbook(Log=rows), yard))
    assert again.rehearsal["otherwise"] == [["Log", "2", "H-12", "travel 7.25 here, 7.5 on record"]]


def test_a_row_with_nothing_seen_is_no_inspection(housing: SuppressorHousing, yard: Yard) -> None:
    rows: list[list[Any]] = [
        ["Unit", "Date", "Travel", "By"],
        ["H-12", datetime(2025, 3, 14), None, "J. Ortiz"],
        ["H-12", datetime(2025, 3, 15), 7.5, "J. Ortiz"],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    left = open_sheet(draft).understood().left
    assert [each.why for each in left] == ["names a unit and a day, but nothing that was seen"]
    assert take(draft) == 1


# What a yard confirmed.


def test_what_a_person_confirmed_is_offered_to_the_yards_next_sheet(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [
        ["Gizmo", "Date", "Zulu", "Condition"],
        ["H-12", datetime(2025, 3, 14), 7.5, "meh"],
    ]
    first = kept(workbook(Log=rows), yard)
    meanings = {0: "unit", 1: "day", 2: "travel_in", 3: "condition"}
    reading = {0: {"sort": "inspections", "meanings": meanings, "kind": "monthly"}}
    confirm_columns(draft=first, readings=reading, by=first.owner)
    later = kept(workbook(Log=rows), yard, owner=first.owner)
    assert open_sheet(later).readings[0].meanings == meanings
    assert open_sheet(later).readings[0].kind == "monthly"
    elsewhere = kept(workbook(Log=rows), YardFactory(), owner=first.owner)
    assert "Zulu" not in taken_for(elsewhere)


def test_a_word_once_answered_is_remembered_for_the_yard(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [["Unit", "Date", *PADS], ["H-12", datetime(2025, 3, 14), *["meh"] * 8]]
    first = answered(confirmed(kept(workbook(Log=rows), yard)), meh="swollen")
    rows[1][1] = datetime(2025, 4, 14)
    later = confirmed(kept(workbook(Log=rows), yard, owner=first.owner))
    assert doubts_of(later) == []
    assert later.answers["condition|meh"]["value"] == "swollen"


def test_a_draft_keeps_its_answers_and_only_so_many_wait(
    housing: SuppressorHousing, yard: Yard
) -> None:
    grids = read_pasted("Unit,Date,Travel\nH-12,2025-03-14,7.5\n")
    owner = ManagerFactory()
    for _ in range(5):
        keep_sheet(owner=owner, yard=yard, name="Log", grids=grids)
    with pytest.raises(ValidationError, match="5 sheets of yours wait already"):
        keep_sheet(owner=owner, yard=yard, name="Log", grids=grids)
    assert PadLot.objects.count() == 0


def test_a_row_before_its_mounting_is_answered_by_what_hung_together_from_then(
    housing: SuppressorHousing, yard: Yard
) -> None:
    HousingFactory(mark="H-30", yard=yard)
    HammerFactory(mark="V-30", yard=yard)
    rows: list[list[Any]] = [
        ["Hammer", "Date", "Travel", "Hours"],
        ["V-30", datetime(2025, 4, 14), 7.5, 40],
        ["V-30", datetime(2025, 3, 14), 7.5, 10],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    (doubt,) = doubts_of(draft)
    assert ("hung:H-30:V-30", "H-30 hung on V-30 from then") in doubt.choices
    assert "hung:H-12:V-30" in dict(doubt.choices)
    assert take(answered(draft, **{"V-30": "hung:H-30:V-30"})) == 3
    mounting = Mounting.objects.get(housing__mark="H-30")
    assert f"{timezone.localtime(mounting.mounted_at):%Y-%m-%d %H:%M}" == "2025-03-14 12:00"
    assert [each.hammer and each.hammer.mark for each in HourReading.objects.all()] == [
        "V-30",
        "V-30",
    ]


def test_a_row_left_out_tells_of_nothing_that_hung(housing: SuppressorHousing, yard: Yard) -> None:
    HousingFactory(mark="H-30", yard=yard)
    HammerFactory(mark="V-30", yard=yard)
    rows: list[list[Any]] = [
        ["Hammer", "Date", "Travel"],
        ["V-30", datetime(2025, 4, 14), 7.5],
        ["V-30", datetime(2025, 3, 14), "about 7"],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    draft = answered(draft, **{"V-30": "hung:H-30:V-30", "about 7": "=row"})
    draft = answered(draft, **{"about 7": "=row"})
    assert take(draft) == 2
    mounting = Mounting.objects.get(housing__mark="H-30")
    assert f"{timezone.localtime(mounting.mounted_at):%Y-%m-%d}" == "2025-04-14"


@pytest.mark.parametrize("is_alone", [True, False])
def test_a_visit_left_out_tells_of_nothing_that_hung(yard: Yard, is_alone: bool) -> None:
    """Two rows of one visit differ, and it is left out once all that hung together was answered."""
    HousingFactory(mark="H-30", yard=yard)
    HammerFactory(mark="V-30", yard=yard)
    rows: list[list[Any]] = [
        ["Hammer", "Date", "Travel"],
        ["V-30", datetime(2025, 3, 14), 7.5],
        ["V-30", datetime(2025, 3, 14), 7.25],
    ]
    if not is_alone:
        rows.append(["V-30", datetime(2025, 4, 14), 7.5])
    draft = confirmed(kept(workbook(Log=rows), yard))
    draft = answered(draft, **{"V-30": "hung:H-30:V-30"})
    draft = answered(draft, two="=row")
    if is_alone:
        assert open_sheet(draft).understood().lines == {}
        return
    assert take(draft) == 2
    mounting = Mounting.objects.get(housing__mark="H-30")
    assert f"{timezone.localtime(mounting.mounted_at):%Y-%m-%d}" == "2025-04-14"


def test_hours_of_a_housing_on_no_hammer_are_asked_about_in_place(
    housing: SuppressorHousing, yard: Yard
) -> None:
    HousingFactory(mark="H-30", yard=yard)
    HammerFactory(mark="V-30", yard=yard)
    rows: list[list[Any]] = [
        ["Housing", "Date", "Travel", "Hours"],
        ["H-30", datetime(2025, 3, 14), 7.5, 10],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    (doubt,) = doubts_of(draft)
    assert "hung on no hammer on record on 14 Mar 2025" in doubt.words
    # What hangs on V-3 since 2024 may have moved there, and V-3 may have gone to H-30.
    assert list(dict(doubt.choices))[:2] == ["hung:H-30:V-3", "hung:H-30:V-30"]
    draft = answered(draft, **{"H-30": "=cell"})
    assert take(draft) == 1
    assert not HourReading.objects.exists()


def test_a_housing_and_a_hammer_apart_on_record_are_asked_about(
    housing: SuppressorHousing, yard: Yard
) -> None:
    HammerFactory(mark="V-30", yard=yard)
    rows: list[list[Any]] = [
        ["Housing", "Hammer", "Date", "Travel"],
        ["H-12", "V-30", datetime(2025, 3, 14), 7.5],
        ["H-12", "V-30", datetime(2023, 3, 14), 7.5],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    (doubt,) = doubts_of(draft)
    assert "On record H-12 hung on hammer V-3 on 14 Mar 2025, and not on V-30" in doubt.words
    before = answered(draft, apart="hung:H-12:V-30")
    # It hung on V-3 only from 2024 on, so that it came off that in 2023 can't be.
    assert doubts_of(before)
    with pytest.raises(NotRehearsed):
        take(before)


def test_a_letter_a_pad_is_taken_once_its_order_and_its_crosses_are_known(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [
        ["Unit", "Date", "Pads"],
        ["H-12", datetime(2025, 3, 14), "SSXS SSSC"],
        ["H-12", datetime(2025, 4, 14), "SSXS SSS"],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    draft = answered(draft, **{"order of letters": "A", "total": "=row"})
    (doubt,) = doubts_of(draft)
    assert "“X”, as in SSXS SSSC, stands for a pad" in doubt.words
    assert take(answered(draft, X="debonded")) == 1
    assert pads_of(Inspection.objects.get()) == {
        **dict.fromkeys(PADS, "sound"),
        "A3": "debonded",
        "B4": "cracked",
    }


def test_tables_side_by_side_are_each_of_their_own_unit(
    housing: SuppressorHousing, yard: Yard
) -> None:
    HousingFactory(mark="H-13", yard=yard)
    rows: list[list[Any]] = [
        ["H-12", None, None, "H-13", None],
        ["Date", "Travel", None, "Date", "Travel"],
        [datetime(2025, 3, 14), 7.5, None, datetime(2025, 3, 15), 7.25],
        [None, None, None, datetime(2025, 4, 15), 7.0],
    ]
    assert take(confirmed(kept(workbook(Log=rows), yard))) == 3
    seen = Inspection.objects.order_by("seen_at").values_list("housing__mark", "travel_in")
    assert list(seen) == [("H-12", 7.5), ("H-13", 7.25), ("H-13", 7.0)]


def test_a_group_that_says_nothing_hides_no_column_below_it(
    housing: SuppressorHousing, yard: Yard
) -> None:
    rows: list[list[Any]] = [
        ["Unit", "Date", "Meas.", None],
        [None, None, "Travel", "Hours"],
        ["H-12", datetime(2025, 3, 14), 7.5, "100 h"],
    ]
    content = workbook(["C1:D1"], Log=rows)
    assert take(confirmed(kept(content, yard))) == 1
    inspection = Inspection.objects.get()
    assert inspection.travel_in == 7.5
    assert inspection.hour_reading is not None
    assert inspection.hour_reading.hours == 100


def test_words_for_nothing_are_blank_but_where_a_pad_should_stand(
    housing: SuppressorHousing, yard: Yard
) -> None:
    text = ";".join(["Unit", "Date", "Travel", "Hours", *PADS])
    row = ";".join(["H-12", "2025-03-14", "n/a", "-", *GOOD[:7], "n/a"])
    draft = confirmed(kept(f"{text}\n{row}\n", yard))
    (doubt,) = doubts_of(draft)
    assert doubt.given == "n/a"
    assert "no condition we know" in doubt.words
    assert take(answered(draft, **{"n/a": "missing"})) == 1
    inspection = Inspection.objects.get()
    assert (inspection.travel_in, inspection.hour_reading) == (None, None)
    assert pads_of(inspection)["B4"] == "missing"


def test_days_without_a_year_are_asked_about(housing: SuppressorHousing, yard: Yard) -> None:
    draft = confirmed(kept("Unit,Date,Travel\nH-12,14 Mar,7.5\n", yard))
    (doubt,) = doubts_of(draft)
    assert "“14 Mar” is not a day" in doubt.words
    assert take(answered(draft, **{"14 Mar": "2025-03-14"})) == 1
    assert days() == ["2025-03-14"]


def test_a_sheet_in_millimetres_and_kilonewtons(yard: Yard) -> None:
    head = ["Hammer", "Housing", "Pads", "Travel (mm)", "Hung since", "Listed (kN)"]
    plate = ["Source", "Source date"]
    row = ["V-8", "H-8", 8, 216, datetime(2024, 5, 2), 534]
    fleet: list[list[Any]] = [[*head, *plate], [*row, "plate", datetime(2020, 1, 1)]]
    assert take(confirmed(kept(workbook(Fleet=fleet), yard))) == 4
    assert SuppressorHousing.objects.get().design_travel_in == pytest.approx(216 / 25.4, abs=0.01)
    assert Listing.objects.get().listed_lbf == pytest.approx(534 / 4.4482216e-3, rel=1e-4)


def test_tons_of_a_yard_that_reads_in_si_are_asked_about_as_on_the_forms(yard: Yard) -> None:
    head = ["Hammer", "Housing", "Pads", "Travel (mm)", "Hung since", "Listed (tons)"]
    plate = ["Source", "Source date"]
    row = ["V-8", "H-8", 8, 216, datetime(2024, 5, 2), 60]
    fleet: list[list[Any]] = [[*head, *plate], [*row, "plate", datetime(2020, 1, 1)]]
    owner = ManagerFactory()
    ReaderPreference.objects.create(user=owner, units="si")
    draft = confirmed(kept(workbook(Fleet=fleet), yard, owner=owner))
    (doubt,) = doubts_of(draft)
    assert "short ones of 2,000 lb to some and tonnes to others" in doubt.words
    assert take(answered(draft, unit="tonnes")) == 4
    # A tonne is 1,000 kg, a pound 0.45359237 kg (NIST SP 811).
    assert Listing.objects.get().listed_lbf == pytest.approx(60 * 1000 / 0.45359237, rel=1e-4)


def test_hours_of_two_readings_are_those_near_what_the_meter_showed_last(
    housing: SuppressorHousing, yard: Yard
) -> None:
    log = "Unit\tDate\tHours\nH-12\t2025-03-01\t1190\nH-12\t2025-03-05\t1,210\n"
    draft = confirmed(kept(log, yard))
    assert doubts_of(draft) == []
    take(draft)
    assert sorted(HourReading.objects.values_list("hours", flat=True)) == [1190.0, 1210.0]


def test_totals_between_and_below_are_no_records(housing: SuppressorHousing, yard: Yard) -> None:
    rows: list[list[Any]] = [
        ["Unit", "Date", "Travel", "Hours"],
        ["H-12", datetime(2025, 3, 14), 7.5, 100],
        ["Subtotal", None, None, 100],
        ["H-12", datetime(2025, 4, 14), 7.5, 120],
        ["Grand total:", None, 15, 220],
    ]
    draft = confirmed(kept(workbook(Log=rows), yard))
    assert [each["why"] for each in draft.rehearsal["left"]] == ["totals", "totals"]
    assert take(draft) == 2
