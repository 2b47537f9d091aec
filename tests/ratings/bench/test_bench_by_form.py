"""A bench test by its form: the good path."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from fleet.models import PadLot
from ratings.models import BenchTest
from tests.builders import MONDAY, approve, count, rated_unit
from tests.factories import (
    GaugeFactory,
    ManagerFactory,
    PadLotFactory,
    TapeFactory,
)
from tests.factories import TestStandFactory as StandFactory
from tests.site.form_sending import head, page, sent, sent_twice
from tests.site.html_form import Fields, fields_of, opened, words

pytestmark = pytest.mark.django_db


def filled_test(client: Client, lot: PadLot, rows: list[tuple[Any, Any]], **more: Any) -> Fields:
    """A bench test form with these readings of tape and gauge."""
    stand = StandFactory(bore_in=4.0)
    fields = opened(client, page("new-bench-test", lot.pk))
    fields |= {"stand": stand.pk, "end": "blind", "pads_in_test": "2", "tape_datum_in": "10"}
    fields |= {"gauge": GaugeFactory().pk, "tape": TapeFactory().pk}
    for number, (tape, gauge) in enumerate(rows):
        fields |= {f"r-{number}-tape_in": str(tape), f"r-{number}-gauge_psi": str(gauge)}
    return fields | more


def test_a_bench_test_drafts_a_rating_and_a_second_person_s_approval_rates_every_unit(
    manager_client: Client,
) -> None:
    unit, lot = rated_unit(), PadLotFactory()
    count(unit.housing, unit.manager, lot, at=MONDAY + timedelta(days=1))
    # 4 in bore, two pads: 100 psi comes to 628.3 lbf each.
    fields = filled_test(manager_client, lot, [(11, 100), (12, 200), (14, 400), (18, 800)])
    response = sent(manager_client, page("new-bench-test", lot.pk), fields)
    text = words(response)
    assert "It rates no unit until a second person approves it" in text
    assert "628 lbf/in" in text
    assert head(unit).pull_lbf in (None, 0.0)
    rating = lot.ratings.get()
    second = Client()
    second.force_login(ManagerFactory())
    approval = fields_of(second.get(page("lot-rating", rating.pk)))
    text = words(
        sent(second, page("approve-rating", rating.pk), approval | {"has_read_doubts": "on"})
    )
    assert "is approved; 1 ledger entry posted" in text
    assert f"Housing {unit.housing.mark}, entry 4" in text
    # 10 % off, since the pads were not conditioned, and 3 % for the unloading nobody read.
    assert head(unit).pull_lbf == pytest.approx(8 * 628.3185307 * 6 * 0.9 * 0.97)


def test_a_bench_test_sent_twice_is_recorded_once(manager_client: Client) -> None:
    lot = PadLotFactory()
    fields = filled_test(manager_client, lot, [(11, 100), (12, 200)])
    sent_twice(manager_client, page("new-bench-test", lot.pk), fields)
    assert BenchTest.objects.count() == 1


def test_readings_out_of_order_are_taken_sorted_and_said(manager_client: Client) -> None:
    lot = PadLotFactory()
    fields = filled_test(manager_client, lot, [(12, 200), (11, 100)])
    text = words(sent(manager_client, page("new-bench-test", lot.pk), fields))
    assert "out of order and were sorted by tape" in text
    assert [each.tape_in for each in BenchTest.objects.get().measured] == [12, 11]


def test_readings_in_order_are_not_remarked_on(manager_client: Client) -> None:
    lot = PadLotFactory()
    fields = filled_test(manager_client, lot, [(11, 100), (12, 200)])
    assert "out of order" not in words(sent(manager_client, page("new-bench-test", lot.pk), fields))


def test_more_rows_keep_what_was_typed_and_save_nothing(manager_client: Client) -> None:
    lot = PadLotFactory()
    fields = filled_test(manager_client, lot, [(11, 100), (12, 200)], more_rows="1")
    rows = int(fields["r-TOTAL_FORMS"])
    response = manager_client.post(page("new-bench-test", lot.pk), fields)
    again = fields_of(response)
    assert int(again["r-TOTAL_FORMS"]) == rows + 8
    assert again["r-1-gauge_psi"] == "200"
    assert f"r-{rows + 7}-tape_in" in again
    assert not BenchTest.objects.exists()


def test_the_preview_shows_force_rate_and_graph_as_readings_are_typed(
    manager_client: Client,
) -> None:
    lot = PadLotFactory()
    fields = filled_test(manager_client, lot, [(11, 100), (12, 200)])
    response = manager_client.post(page("bench-preview", lot.pk), fields)
    text = words(response)
    assert "628 lbf" in text
    assert "628 lbf/in" in text
    assert "<svg" in response.content.decode()
    assert not BenchTest.objects.exists()


def test_a_lot_not_linear_says_that_its_load_curve_is_used(manager_client: Client) -> None:
    lot = PadLotFactory()
    fields = filled_test(manager_client, lot, [(11, 100), (12, 300), (13, 800)])
    sent(manager_client, page("new-bench-test", lot.pk), fields)
    text = words(manager_client.get(page("bench-test", BenchTest.objects.get().pk)))
    assert "not linear" in text


def test_a_lot_not_linear_is_drawn_to_its_very_last_reading(manager_client: Client) -> None:
    lot = PadLotFactory()
    # 48 forty-eighths of this stretch, calculated in floats, come to more than the whole.
    assert (15.37 - 10) * 48 / 48 > 15.37 - 10
    fields = filled_test(manager_client, lot, [(11, 100), (13, 300), (15.37, 1600)])
    sent(manager_client, page("new-bench-test", lot.pk), fields)
    test = BenchTest.objects.get()
    assert manager_client.get(page("bench-test", test.pk)).status_code == 200


def test_a_bench_test_is_corrected_and_the_form_holds_its_readings(manager_client: Client) -> None:
    unit = rated_unit()
    wrong = unit.lot.bench_tests.get()
    url = page("new-bench-test", unit.lot.pk) + f"?corrects={wrong.pk}"
    fields = opened(manager_client, url)
    assert float(fields["r-0-tape_in"]) == 12.0
    assert (fields["stand"], fields["pads_in_test"]) == (str(wrong.stand_id), "1")
    sent_twice(manager_client, url, fields | {"pads_in_test": "2"})
    right = BenchTest.objects.get(corrects=wrong)
    assert right.ratings.get().rate_lbf_in == pytest.approx(500, rel=1e-3)
    assert head(unit).pull_lbf == pytest.approx(48_000)
    approve(right.ratings.get())
    assert head(unit).pull_lbf == pytest.approx(24_000, rel=1e-3)
    text = words(manager_client.get(page("bench-test", wrong.pk)))
    assert f"Corrected by bench test {right.pk}" in text
