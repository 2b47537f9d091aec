"""The bench test's form: tables pasted or sent, units suspected, photos, warnings; and its page."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from fleet.models import PadLot
from ratings.mechanics.bench import Branch, CycleReading
from ratings.models import BenchTest, Gauge
from tests.all_tables import changed, everything
from tests.builders import MONDAY, bench_test, drafted_test, picture, rated_unit
from tests.factories import GaugeFactory, ManagerFactory, PadLotFactory, TapeFactory
from tests.factories import TestStandFactory as StandFactory
from tests.site.html_form import Fields, error_at, fields_of, opened, words

pytestmark = pytest.mark.django_db
RISING = [(11, 400), (12, 800), (13, 1200), (14, 1600)]


def url_of(lot: PadLot) -> str:
    return reverse("new-bench-test", args=[lot.pk])


def filled(
    client: Client,
    lot: PadLot,
    rows: list[tuple[Any, ...]] = RISING,
    gauge: Gauge | None = None,
    **more: Any,
) -> Fields:
    """A form filled in whole; a row is tape, gauge and, if wanted, branch."""
    fields = opened(client, url_of(lot))
    fields |= {"stand": StandFactory().pk, "end": "blind", "pads_in_test": "1"}
    fields |= {"gauge": (gauge or GaugeFactory()).pk, "tape": TapeFactory().pk}
    fields |= {"tape_datum_in": "10"}
    for number, (tape, psi, *branch) in enumerate(rows):
        fields |= {f"r-{number}-tape_in": str(tape), f"r-{number}-gauge_psi": str(psi)}
        fields |= {f"r-{number}-branch": branch[0]} if branch else {}
    return fields | more


def kept(client: Client, lot: PadLot, fields: Fields) -> Any:
    """Send a form that must save nothing, and return the page it is shown on."""
    before = everything()
    response = client.post(url_of(lot), fields)
    assert response.status_code == 200
    assert changed(before) == set()
    return response


def sheet(text: str | bytes, name: str = "bench.csv") -> SimpleUploadedFile:
    given = text.encode() if isinstance(text, str) else text
    return SimpleUploadedFile(name, given, "text/csv")


@pytest.mark.parametrize("way", ["pasted", "sent"])
def test_a_table_fills_the_rows_and_saves_nothing(manager_client: Client, way: str) -> None:
    lot = PadLotFactory()
    text = (
        "\ufefftape_in;gauge_psi;run;branch\r\n\r\n12,5;99,25;2;loading\r\n12,5;95;2;Unloading\r\n"
    )
    table = {"table": text} if way == "pasted" else {"table": "", "table_file": sheet(text)}
    fields = filled(manager_client, lot, [(1, 2)], witness="Odo", take_table="1") | table
    again = fields_of(kept(manager_client, lot, fields))
    rows = [
        [again[f"r-{row}-{name}"] for name in ("tape_in", "gauge_psi", "run", "branch")]
        for row in range(3)
    ]
    assert rows == [
        ["12.5", "99.25", "2", "loading"],
        ["12.5", "95", "2", "unloading"],
        ["", "", "1", "loading"],
    ]
    for name in ("stand", "gauge", "tape", "pads_in_test", "tape_datum_in", "witness"):
        assert again[name] == str(fields[name])


def test_the_rows_of_a_table_are_then_recorded(manager_client: Client) -> None:
    lot = PadLotFactory()
    table = "tape_in\tgauge_psi\n" + "".join(f"{x}\t{psi}\n" for x, psi in RISING)
    fields = filled(manager_client, lot, [], take_table="1", table=table)
    again = fields_of(kept(manager_client, lot, fields))
    assert manager_client.post(url_of(lot), again).status_code == 302
    measured = BenchTest.objects.get().measured
    assert [(each.tape_in, each.gauge_psi) for each in measured] == RISING


def test_a_table_is_shown_in_the_reader_s_units(manager_client: Client) -> None:
    lot = PadLotFactory()
    manager_client.post(reverse("choose-units"), {"units": "si"})
    fields = {"take_table": "1", "table": "tape_in,gauge_psi\n12,100\n"}
    again = fields_of(kept(manager_client, lot, opened(manager_client, url_of(lot)) | fields))
    assert (again["r-0-tape_in"], again["r-0-gauge_psi"]) == ("304.8", "689.476")


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("tape,gauge\n12,100", "Line 1: the header is “tape,gauge”"),
        ("tape_in,gauge_psi\n12,100\n13,x", "Line 3: gauge_psi: “x” is not a number"),
        ("", "The table is empty"),
        (b"PK\x03\x04\xff\xfe\x00", "This is not a text file"),
        (b"x" * 1_000_001, "The file is larger than 1000 kB"),
        ("tape_in,gauge_psi\n" + "12,100\n" * 10_000, "there are 10,000 readings"),
    ],
    ids=["header", "row", "empty", "binary", "huge", "long"],
)
def test_a_bad_table_is_answered_and_keeps_what_was_typed(
    manager_client: Client, table: str | bytes, said: str
) -> None:
    lot = PadLotFactory()
    fields = filled(manager_client, lot, take_table="1", table_file=sheet(table), note="cold")
    response = kept(manager_client, lot, fields)
    assert "The table was not taken" in words(response)
    assert said in words(response)
    again = fields_of(response)
    assert (again["r-3-tape_in"], again["r-3-gauge_psi"]) == ("14", "1600")
    assert (again["pads_in_test"], again["note"].strip()) == ("1", "cold")


def test_a_table_is_never_recorded_at_once(manager_client: Client) -> None:
    lot = PadLotFactory()
    table = "tape_in,gauge_psi\n11,100\n12,200\n"
    # Beside a form that could be recorded as it stands.
    kept(manager_client, lot, filled(manager_client, lot, take_table="1", table=table))
    assert not BenchTest.objects.exists()


IN_KPA = [(11, 2000), (12, 4000), (13, 6000)]
IN_BAR = [(11, 14), (12, 28), (13, 42)]


@pytest.mark.parametrize(
    ("rows", "unit"),
    [(IN_KPA, "kPa"), ([(11, 1000), (12, 1900), (13, 2900)], "kPa"), (IN_BAR, "bar")],
)
@pytest.mark.parametrize("page", ["new-bench-test", "bench-preview"])
def test_another_unit_is_suspected_and_offered(
    manager_client: Client, rows: list[tuple[int, int]], unit: str, page: str
) -> None:
    lot = PadLotFactory()
    fields = filled(manager_client, lot, rows, pads_in_test="0" if unit == "bar" else "1")
    before = everything()
    response = manager_client.post(reverse(page, args=[lot.pk]), fields)
    assert changed(before) == set()
    assert f"The gauge readings look like {unit}, not psi" in words(response)
    assert f"Convert them from {unit} to psi" in words(response)


@pytest.mark.parametrize(
    ("rows", "unit", "psi"), [(IN_KPA, "kPa", 870.226), (IN_BAR, "bar", 609.158)]
)
def test_the_unit_suspected_is_converted_when_asked(
    manager_client: Client, rows: list[tuple[int, int]], unit: str, psi: float
) -> None:
    lot = PadLotFactory()
    fields = filled(manager_client, lot, rows, convert=unit)
    again = fields_of(kept(manager_client, lot, fields))
    assert float(again["r-2-gauge_psi"]) == pytest.approx(psi)
    assert again["r-2-tape_in"] == "13"
    assert again["r-3-gauge_psi"] == ""
    manager_client.post(url_of(lot), again)
    assert BenchTest.objects.get().measured[2].gauge_psi == pytest.approx(psi)


def test_readings_in_bar_are_taken_as_psi_where_nobody_asked_otherwise(
    manager_client: Client,
) -> None:
    lot = PadLotFactory()
    assert manager_client.post(url_of(lot), filled(manager_client, lot, IN_BAR)).status_code == 302
    test = BenchTest.objects.get()
    assert [each.gauge_psi for each in test.measured] == [14, 28, 42]
    page = words(manager_client.get(reverse("bench-test", args=[test.pk])))
    assert "These readings look like bar, not psi" in page


@pytest.mark.parametrize("unit", ["psi", "", "furlong", "²"])
def test_a_unit_nobody_offered_converts_nothing(manager_client: Client, unit: str) -> None:
    lot = PadLotFactory()
    again = fields_of(kept(manager_client, lot, filled(manager_client, lot, convert=unit)))
    assert float(again["r-3-gauge_psi"]) == 1600


def test_a_gauge_below_a_quarter_of_its_span_is_warned_of(manager_client: Client) -> None:
    lot, wide = PadLotFactory(), GaugeFactory(span_psi=10_000.0)
    preview = reverse("bench-preview", args=[lot.pk])
    text = words(manager_client.post(preview, filled(manager_client, lot, gauge=wide)))
    assert "The gauge never passed a quarter of its 10,000 psi" in text
    text = words(manager_client.post(preview, filled(manager_client, lot)))
    assert "a quarter" not in text


def test_a_reading_beyond_the_gauge_is_refused_beside_it(manager_client: Client) -> None:
    lot = PadLotFactory()
    response = kept(manager_client, lot, filled(manager_client, lot, [*RISING, (15, 2001)]))
    said = error_at(response, "r-4-gauge_psi")
    assert "2,001 psi is beyond the gauge's range of 2,000 psi" in said


def test_unloading_above_loading_is_refused_with_that_reason(manager_client: Client) -> None:
    lot = PadLotFactory()
    rows = [*RISING, (13, 1210, "unloading"), (12, 790, "unloading")]
    response = kept(manager_client, lot, filled(manager_client, lot, rows))
    said = error_at(response, "r-4-gauge_psi")
    assert "Unloading shows 1,210 psi at 3 in, above the 1,200 psi of loading in run 1" in said
    assert "given back more energy than they took" in said


def test_both_branches_show_what_a_cycle_loses(manager_client: Client) -> None:
    lot = PadLotFactory()
    rows = [*RISING, *((tape, psi - 40, "unloading") for tape, psi in RISING[::-1])]
    preview = reverse("bench-preview", args=[lot.pk])
    text = words(manager_client.post(preview, filled(manager_client, lot, rows)))
    # 40 psi on 12.566 in², over 3 in.
    assert "Loading lies above unloading by 503 lbf at the most" in text
    assert "one pad loses 1508 in·lbf in a cycle" in text


def test_a_datum_that_is_off_is_warned_of_with_how_far(auditor_client: Client) -> None:
    readings = [CycleReading(10 + x, 100 * (x + 0.2)) for x in (1, 2, 3, 4, 5, 6)]
    test = drafted_test(PadLotFactory(), ManagerFactory(), readings=readings).test
    text = words(auditor_client.get(reverse("bench-test", args=[test.pk])))
    assert "a tape misread at rest by 0.2 in would bend them" in text


def test_a_reading_that_stands_out_is_named_and_kept(auditor_client: Client) -> None:
    readings = [CycleReading(10 + x, 100 * x + x % 2) for x in range(1, 11)]
    readings[4] = CycleReading(15, 560)
    test = drafted_test(PadLotFactory(), ManagerFactory(), readings=readings).test
    text = words(auditor_client.get(reverse("bench-test", args=[test.pk])))
    assert "The reading at 5 in stands out from the rest" in text
    assert "15 in 560 psi" in text


def test_a_test_out_of_calibration_is_kept_and_said_to_rate_nothing(
    manager_client: Client,
) -> None:
    lot = PadLotFactory()
    fields = filled(manager_client, lot, gauge=GaugeFactory(due_on=None))
    text = words(manager_client.post(url_of(lot), fields, follow=True))
    assert "is recorded, not for rating" in text
    assert "Not for rating. The gauge was not in calibration that day" in text
    assert not lot.ratings.exists()
    assert "not for rating" in words(manager_client.get(reverse("lot", args=[lot.pk])))


def test_how_the_test_was_done_is_on_its_page(manager_client: Client) -> None:
    lot = PadLotFactory()
    fields = filled(
        manager_client,
        lot,
        conditioning_cycles="3",
        rubber_temperature_f="70",
        tape_after_in="10.2",
        arrangement="two abreast",
        witness="Odo Vance",
    )
    manager_client.post(url_of(lot), fields)
    test = BenchTest.objects.get()
    text = words(manager_client.get(reverse("bench-test", args=[test.pk])))
    for said in (
        f"{test.gauge.mark} , 0–2,000 psi, grade 2A certificate {test.gauge_certificate}",
        "Conditioning cycles 3",
        "Rubber temperature 70 °F",
        "Permanent set 0.2 in",
        "two abreast",
        "Witness Odo Vance",
    ):
        assert said in text


def test_a_correction_holds_all_that_the_wrong_one_held_but_the_photo(
    manager_client: Client,
) -> None:
    lot = PadLotFactory()
    up = [CycleReading(10 + x, 100 * x, 2) for x in (1, 2, 3)]
    wrong = drafted_test(
        lot,
        ManagerFactory(),
        readings=up,
        witness="Odo",
        rubber_temperature_f=50.0,
        photo=picture(),
    ).test
    url = url_of(lot) + f"?corrects={wrong.pk}"
    fields = opened(manager_client, url)
    assert (fields["gauge"], fields["tape"]) == (str(wrong.gauge_id), str(wrong.tape_id))
    assert (fields["witness"], fields["rubber_temperature_f"]) == ("Odo", "50")
    assert (fields["r-2-tape_in"], fields["r-2-run"]) == ("13", "2")
    fields.pop("photo", None)
    assert manager_client.post(url, fields).status_code == 302
    right = BenchTest.objects.get(corrects=wrong)
    assert right.measured == up
    assert not right.photo


def test_a_photo_is_kept_and_sent_to_whoever_is_signed_in(
    manager_client: Client, auditor_client: Client
) -> None:
    lot = PadLotFactory()
    sent = picture()
    assert (
        manager_client.post(url_of(lot), filled(manager_client, lot, photo=sent)).status_code == 302
    )
    test = BenchTest.objects.get()
    url = reverse("bench-photo", args=[test.pk])
    page = auditor_client.get(reverse("bench-test", args=[test.pk])).content.decode()
    assert f'href="{url}"' in page
    response = auditor_client.get(url)
    assert response["Content-Type"] == "image/jpeg"
    assert response.content.startswith(b"\xff\xd8\xff")
    assert Client().get(url)["Location"].startswith(reverse("sign-in"))
    assert auditor_client.get(f"/media/{test.photo.name}").status_code == 404


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("set-up.png", b"no picture at all"),
        ("set-up.svg", b'<svg xmlns="http://www.w3.org/2000/svg"><script>1</script></svg>'),
        ("set-up.png", b""),
    ],
)
def test_what_is_no_photo_is_refused_beside_its_field(
    manager_client: Client, name: str, content: bytes
) -> None:
    lot = PadLotFactory()
    photo = SimpleUploadedFile(name, content, "image/png")
    response = kept(manager_client, lot, filled(manager_client, lot, photo=photo))
    assert error_at(response, "photo")


def test_a_photo_too_large_is_refused(
    manager_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    lot = PadLotFactory()
    monkeypatch.setattr("ratings.bench.forms.MOST_PHOTO_BYTES", 10)
    response = kept(manager_client, lot, filled(manager_client, lot, photo=picture()))
    assert "larger than 10 MB" in error_at(response, "photo")


def test_a_test_without_a_photo_has_none_to_send(auditor_client: Client) -> None:
    test = drafted_test(PadLotFactory(), ManagerFactory()).test
    url = reverse("bench-photo", args=[test.pk])
    assert auditor_client.get(url).status_code == 404
    page = auditor_client.get(reverse("bench-test", args=[test.pk]))
    assert "Photo of the set-up" not in words(page)


def test_the_budget_stands_on_the_page_with_what_to_improve_first(auditor_client: Client) -> None:
    test = drafted_test(PadLotFactory(), ManagerFactory(), gauge=GaugeFactory(grade="D")).test
    response = auditor_client.get(reverse("bench-test", args=[test.pk]))
    text = words(response)
    assert "Improve first: gauge" in text.replace("Gauge", "gauge")
    assert "off the expanded uncertainty" in text
    assert "Source Type Distribution Standard Sensitivity Contribution Share of variance" in text
    assert "Combined standard uncertainty" in text
    page = response.content.decode()
    assert page.count('class="share-bar"') >= 5
    lines = response.context["reduction"].budget.lines
    assert [each.share for each in lines] == sorted((each.share for each in lines), reverse=True)
    assert sum(each.share for each in lines) == pytest.approx(1)


def soft_lot(**more: Any) -> PadLot:
    """Rubber of 60 Shore A, 20 in² and 2 in thick: some 1,190 to 1,990 lbf/in."""
    return PadLotFactory(
        **{"hardness_shore_a": 60.0, "bonded_area_in2": 20.0, "rubber_thickness_in": 2.0} | more
    )


def plausibility(client: Client, lot: PadLot, **more: Any) -> str:
    test = drafted_test(lot, ManagerFactory(), **more).test
    return words(client.get(reverse("bench-test", args=[test.pk])))


def test_a_rate_the_rubber_can_have_is_said_to_be_plausible(auditor_client: Client) -> None:
    text = plausibility(auditor_client, soft_lot(), rate_lbf_in=1500)
    assert "the tested rate is among them" in text
    assert "Not plausible" not in text


def test_a_rate_the_rubber_cannot_have_is_explained_by_a_mistake(auditor_client: Client) -> None:
    text = plausibility(auditor_client, soft_lot(), rate_lbf_in=750, pads_in_test=2)
    assert "Not plausible" in text
    assert "1 pad in test, not 2 (it would give 1,500 lbf/in)" in text


def test_a_rate_no_mistake_explains_says_so(auditor_client: Client) -> None:
    text = plausibility(
        auditor_client, soft_lot(bonded_area_in2=0.5, rubber_thickness_in=20.0), rate_lbf_in=1000
    )
    assert "No single mistake of count, cylinder end or unit explains it" in text


@pytest.mark.parametrize(
    "lacking",
    [
        {"hardness_shore_a": None},
        {"bonded_area_in2": None},
        {"rubber_thickness_in": None},
        {"hardness_shore_a": 95.0},
    ],
)
def test_rubber_not_on_record_is_held_against_nothing(
    auditor_client: Client, lacking: dict[str, Any]
) -> None:
    assert "Rubber of this hardness" not in plausibility(auditor_client, soft_lot(**lacking))


def test_the_page_of_a_test_names_the_ratings_that_rest_on_it(auditor_client: Client) -> None:
    unit = rated_unit()
    first = unit.lot.bench_tests.get()
    later = bench_test(unit.lot, unit.manager, at=MONDAY + timedelta(days=1))
    page = auditor_client.get(reverse("bench-test", args=[first.pk])).content.decode()
    for rating in (unit.lot.ratings.earliest("pk"), later.rating):
        assert reverse("lot-rating", args=[rating.pk]) in page


def test_a_large_datum_error_is_warned_of_though_the_line_through_rest_misses(
    auditor_client: Client,
) -> None:
    # 1,000 lbf/in and a datum half an inch off: no straight line through rest, yet no bend.
    area_in2 = math.pi / 4 * 16
    shown = [CycleReading(10.0 + x, 1000.0 * (x + 0.5) / area_in2) for x in (1.0, 2.0, 3.0, 6.0)]
    recorded = drafted_test(PadLotFactory(), ManagerFactory(), readings=shown)
    text = words(auditor_client.get(reverse("bench-test", args=[recorded.test.pk])))
    assert "a tape misread at rest by 0.5 in" in text


def test_readings_on_one_branch_only_are_said_to_count_for_nothing(auditor_client: Client) -> None:
    area_in2 = math.pi / 4 * 16
    up = [CycleReading(10.0 + x, 1000.0 * x / area_in2) for x in (1.0, 2.0, 3.0)]
    down = [
        CycleReading(10.0 + x, 950.0 * x / area_in2, branch=Branch.UNLOADING) for x in (2.0, 1.0)
    ]
    recorded = drafted_test(PadLotFactory(), ManagerFactory(), readings=up + down)
    text = words(auditor_client.get(reverse("bench-test", args=[recorded.test.pk])))
    assert "Read on one branch only, and so counted for nothing: 3 in" in text


def test_an_implausible_rate_is_warned_of_while_it_is_typed(manager_client: Client) -> None:
    lot = PadLotFactory(hardness_shore_a=58, bonded_area_in2=16, rubber_thickness_in=2.25)
    shown = manager_client.post(
        reverse("bench-preview", args=[lot.pk]), filled(manager_client, lot)
    )
    # 400 psi per inch on a 4 in bore is over 5,000 lbf/in.
    assert "Not plausible" in words(shown)


def test_a_gauge_out_of_date_says_so_where_it_is_chosen(manager_client: Client) -> None:
    GaugeFactory(mark="OLD-G", due_on=date(2021, 1, 1))
    text = words(manager_client.get(url_of(PadLotFactory())))
    assert "calibration due 1 Jan 2021, OVERDUE" in text


def test_no_end_of_the_cylinder_is_presumed_and_the_rod_end_needs_a_rod(
    manager_client: Client,
) -> None:
    lot = PadLotFactory()
    url = reverse("new-bench-test", args=[lot.pk])
    assert opened(manager_client, url)["end"] == ""
    fields = filled(manager_client, lot)
    blank = manager_client.post(url, fields | {"end": ""})
    assert "choose the end that the pressure acts on" in error_at(blank, "end")
    refused = manager_client.post(url, fields | {"end": "rod"})
    assert "give the stand its rod first, or choose the blind end" in error_at(refused, "end")
    assert not BenchTest.objects.exists()
