"""The pads of a bench test: their marks, where they came from, and what became of them."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from fleet.models import SuppressorHousing
from ratings.bench.tested_pads import PadError, TestedPad, mark_key, pads_of
from ratings.models import BenchPad, BenchTest
from tests.all_tables import changed, everything
from tests.builders import drafted_test
from tests.factories import GaugeFactory, HousingFactory, ManagerFactory, PadLotFactory, TapeFactory
from tests.factories import TestStandFactory as StandFactory
from tests.site.html_form import Fields, error_at, fields_of, opened, words

pytestmark = pytest.mark.django_db


def record(*pads: TestedPad, pads_in_test: int = 2, **more: Any) -> BenchTest:
    lot = more.pop("lot", None) or PadLotFactory()
    by = more.pop("by", None) or ManagerFactory()
    return drafted_test(lot, by, pads=pads, pads_in_test=pads_in_test, **more).test


def served(housing: SuppressorHousing | None = None, **more: Any) -> TestedPad:
    given: dict[str, Any] = {"number": 1, "origin": "from service", "housing": housing}
    return TestedPad(**given | more)


def test_what_is_said_of_each_pad_is_on_record() -> None:
    housing = HousingFactory(positions_per_side=4)
    new = TestedPad(1, mark="K 7", origin="new", fate="put back")
    worn = served(housing, number=2, mark="K 8", side="B", position=4, hours=812.5, fate="scrapped")
    assert pads_of(record(new, worn)) == (new, worn)


def test_a_pad_of_which_nothing_is_said_has_no_row() -> None:
    test = record(TestedPad(1), TestedPad(2, mark="K 8"))
    assert [pad.number for pad in test.pads.all()] == [2]


def test_a_test_of_pads_nobody_marked_is_recorded_as_ever() -> None:
    assert not record().pads.exists()


@pytest.mark.parametrize(
    ("pads", "field", "said"),
    [
        ([TestedPad(3, mark="x")], "mark", "2 pads shared the load"),
        ([TestedPad(0, mark="x")], "mark", "2 pads shared the load"),
        ([TestedPad(1, mark="x"), TestedPad(1, mark="y")], "number", "given twice"),
        ([TestedPad(1, mark="Kb7"), TestedPad(2, mark="KB7")], "mark", "is the mark of pad 1 too"),
        ([TestedPad(1, mark="K\u200b7")], "mark", "a character nobody sees"),
        ([TestedPad(1, mark="K  7")], "mark", "single spaces"),
        ([TestedPad(1, mark="K" * 41)], "mark", "40 at the most"),
        ([TestedPad(1, origin="bought")], "origin", "give new or from service"),
        ([TestedPad(1, fate="lost")], "fate", "give put back or scrapped"),
        ([TestedPad(1, origin="new", hours=12)], "hours", "only a pad from service"),
        ([TestedPad(1, hours=12)], "hours", "only a pad from service"),
        ([served(hours=-1)], "hours", "give 0 or more"),
        ([served(hours=float("nan"))], "hours", "won’t do"),
        ([served(side="A", position=1)], "housing", "a position is of a housing"),
    ],
)
def test_pads_that_cannot_be_leave_nothing_behind(
    pads: list[TestedPad], field: str, said: str
) -> None:
    lot, by = PadLotFactory(), ManagerFactory()
    with_: dict[str, Any] = {
        "stand": StandFactory(),
        "gauge": GaugeFactory(),
        "tape": TapeFactory(),
    }
    before = everything()
    with pytest.raises(PadError, match=said) as trouble:
        record(*pads, lot=lot, by=by, **with_)
    assert trouble.value.field == field
    assert changed(before) == set()


@pytest.mark.parametrize(("side", "position"), [("A", 5), ("C", 1), ("A", None), ("", 3)])
def test_a_position_that_its_housing_has_not_is_refused(side: str, position: int | None) -> None:
    housing = HousingFactory(positions_per_side=4)
    with pytest.raises(PadError, match="has A1 to A4 and B1 to B4"):
        record(served(housing, side=side, position=position))


def test_capitals_and_spaces_make_no_other_pad() -> None:
    assert mark_key(" Kb 7") == mark_key("KB 7 ")
    assert mark_key("K7") != mark_key("K 7")


@pytest.mark.parametrize(
    "wrong",
    [
        {"number": 2, "mark": "kb7"},
        {"number": 1, "mark": "other"},
        {"number": 2, "origin": "bought"},
        {"number": 2, "fate": "lost"},
        {"number": 2, "origin": "new", "hours": 5.0},
        {"number": 2, "origin": "from service", "side": "A"},
        {"number": 2, "origin": "from service", "hours": -5.0},
        {"number": 41, "mark": "x"},
    ],
)
def test_the_database_refuses_pads_that_cannot_be(wrong: dict[str, Any]) -> None:
    test = record(TestedPad(1, mark="KB7"))
    with pytest.raises(IntegrityError), transaction.atomic():
        BenchPad.objects.create(test=test, **wrong)


def test_pads_on_record_are_never_changed_or_removed() -> None:
    record(TestedPad(1, mark="KB7"))
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
        BenchPad.objects.update(mark="KB8")
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
        BenchPad.objects.all().delete()


# By form


def filled(client: Client, **more: Any) -> tuple[str, Fields]:
    url = reverse("new-bench-test", args=[PadLotFactory().pk])
    fields = opened(client, url)
    fields |= {"stand": StandFactory().pk, "gauge": GaugeFactory().pk, "tape": TapeFactory().pk}
    fields |= {"end": "blind", "pads_in_test": "2", "tape_datum_in": "10"}
    for number, (tape, psi) in enumerate([(11, 400), (12, 800), (13, 1200)]):
        fields |= {f"r-{number}-tape_in": str(tape), f"r-{number}-gauge_psi": str(psi)}
    return url, fields | more


def test_pads_are_recorded_by_form_and_shown_with_their_test(manager_client: Client) -> None:
    housing = HousingFactory(positions_per_side=4)
    url, fields = filled(manager_client)
    fields |= {"p-0-mark": "K 7", "p-0-origin": "new", "p-0-fate": "put back"}
    fields |= {"p-1-origin": "from service", "p-1-housing": housing.pk}
    fields |= {"p-1-position": "b 3", "p-1-hours": "812.5", "p-1-fate": "scrapped"}
    assert manager_client.post(url, fields).status_code == 302
    test = BenchTest.objects.get()
    assert pads_of(test) == (
        TestedPad(1, mark="K 7", origin="new", fate="put back"),
        served(housing, number=2, side="B", position=3, hours=812.5, fate="scrapped"),
    )
    text = words(manager_client.get(reverse("bench-test", args=[test.pk])))
    assert "K 7 , new; put back" in text
    assert (
        f"Pad 2, without a mark, from service in {housing.mark} , position B3, 812.5 hours; "
        "scrapped" in text
    )


def test_nothing_need_be_said_of_pads(manager_client: Client) -> None:
    url, fields = filled(manager_client)
    assert manager_client.post(url, fields).status_code == 302
    assert not BenchTest.objects.get().pads.exists()


@pytest.mark.parametrize(
    ("name", "given", "said"),
    [
        ("p-1-mark", "k 7", "“k 7” is the mark of pad 1 too"),
        ("p-1-mark", "K\u202e7", "a character nobody sees"),
        ("p-1-mark", "K" * 41, "41 characters: 40 at the most"),
        ("p-1-origin", "stolen", "Select a valid choice"),
        ("p-1-fate", "stolen", "Select a valid choice"),
        ("p-1-housing", "9999", "Select a valid choice"),
        ("p-1-position", "top left", "“top left” is not a position"),
        ("p-1-position", "A3", "Only a pad from service"),
        ("p-1-hours", "many", "“many” is not a number"),
        ("p-1-hours", "-4", "“-4” won’t do"),
        ("p-1-hours", "12", "Only a pad from service"),
    ],
)
def test_a_bad_pad_is_answered_at_its_field(
    manager_client: Client, name: str, given: str, said: str
) -> None:
    url, fields = filled(manager_client, **{"p-0-mark": "K 7"})
    before = everything()
    response = manager_client.post(url, fields | {name: given})
    assert said in error_at(response, name)
    assert "Nothing was saved" in words(response)
    assert changed(before) == set()
    if name.endswith(("mark", "position", "hours")):
        assert fields_of(response)[name] == given


def test_a_pad_more_than_shared_the_load_is_answered_at_its_row(manager_client: Client) -> None:
    url, fields = filled(manager_client, pads_in_test="1", **{"p-1-mark": "K 8"})
    response = manager_client.post(url, fields)
    assert "1 pad shared the load" in error_at(response, "p-1-mark")
    assert not BenchTest.objects.exists()


def test_the_preview_says_what_is_wrong_with_a_pad(manager_client: Client) -> None:
    url, fields = filled(manager_client, **{"p-0-mark": "K 7", "p-1-mark": "K 7"})
    text = words(manager_client.post(f"{url}preview/", fields))
    assert "Mark of pad 2: “K 7” is the mark of pad 1 too" in text


def test_without_scripts_a_button_gives_each_pad_a_row(manager_client: Client) -> None:
    url, fields = filled(manager_client, pads_in_test="4", pad_rows="1", **{"p-1-mark": "K 8"})
    again = fields_of(manager_client.post(url, fields))
    assert [again[f"p-{row}-mark"] for row in range(4)] == ["", "K 8", "", ""]
    assert (again["r-2-tape_in"], again["pads_in_test"]) == ("13", "4")
    assert not BenchTest.objects.exists()


def test_a_correction_carries_the_pads(manager_client: Client) -> None:
    housing = HousingFactory(positions_per_side=4)
    pads = (
        served(housing, mark="K 7", side="A", position=2, hours=812.25),
        TestedPad(3, mark="K 9", origin="new", fate="put back"),
    )
    wrong = record(*pads, pads_in_test=3)
    url = f"{reverse('new-bench-test', args=[wrong.lot_id])}?corrects={wrong.pk}"
    fields = opened(manager_client, url) | {"rubber_temperature_f": "70"}
    assert manager_client.post(url, fields).status_code == 302
    assert pads_of(BenchTest.objects.get(corrects=wrong)) == pads
