"""What is on record of a lot's rubber, corrected with a reason and kept as it was."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from fleet.models import LotCorrection, PadLot
from ratings.lots.correcting import correct_lot
from tests.all_tables import changed, everything
from tests.builders import bench_test, drafted_test, receive
from tests.factories import ManagerFactory, PadLotFactory
from tests.ratings.certificate.printed import text as certificate_text
from tests.site.html_form import error_at, opened, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot() -> PadLot:
    return PadLotFactory(hardness_shore_a=60.0, bonded_area_in2=20.0, rubber_thickness_in=2.0)


def correct(lot: PadLot, **more: Any) -> LotCorrection | None:
    given: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "hardness_shore_a": lot.hardness_shore_a,
        "bonded_area_in2": lot.bonded_area_in2,
        "rubber_thickness_in": lot.rubber_thickness_in,
        "reason": "read off the wrong crate",
    }
    by = more.pop("by", None) or ManagerFactory()
    return correct_lot(lot_id=lot.pk, by=by, **given | more)


def test_the_lot_takes_the_new_figures_and_the_correction_keeps_the_old(lot: PadLot) -> None:
    made = correct(lot, rubber_thickness_in=2.5, hardness_shore_a=None)
    assert made is not None
    lot.refresh_from_db()
    assert (lot.hardness_shore_a, lot.bonded_area_in2, lot.rubber_thickness_in) == (None, 20, 2.5)
    assert (made.hardness_before, made.bonded_area_before_in2, made.thickness_before_in) == (
        60.0,
        20.0,
        2.0,
    )


def test_a_correction_of_rubber_leaves_the_stock_alone(lot: PadLot) -> None:
    stale = PadLot.objects.get(pk=lot.pk)
    receive(lot, ManagerFactory(), 5)
    correct(stale, rubber_thickness_in=2.5)
    lot.refresh_from_db()
    assert (lot.in_stock, lot.rubber_thickness_in) == (5, 2.5)


def test_a_second_copy_of_a_correction_changes_nothing(lot: PadLot) -> None:
    sent, by = uuid.uuid4(), ManagerFactory()
    correct(lot, submission_id=sent, rubber_thickness_in=2.5, by=by)
    before = everything()
    assert correct(lot, submission_id=sent, rubber_thickness_in=3.0, by=by) is None
    assert changed(before) == set()


@pytest.mark.parametrize(
    ("more", "field", "said"),
    [
        ({"rubber_thickness_in": 0.0}, "rubber_thickness_in", "0 in won’t do: give more than 0 in"),
        ({"rubber_thickness_in": 25.0}, "rubber_thickness_in", "25 in won’t do"),
        ({"rubber_thickness_in": -2.0}, "rubber_thickness_in", "-2 in won’t do"),
        ({"bonded_area_in2": 2001.0}, "bonded_area_in2", "2,001 in² won’t do"),
        ({"hardness_shore_a": 101.0}, "hardness_shore_a", "101 won’t do: give 0 or more"),
        ({"hardness_shore_a": float("nan")}, "hardness_shore_a", "won’t do"),
        ({"hardness_shore_a": 50.0, "reason": "  "}, "reason", "This is blank"),
        ({}, "__all__", "Nothing differs from what is on record"),
    ],
)
def test_what_cannot_be_is_refused_under_its_field(
    lot: PadLot, more: dict[str, Any], field: str, said: str
) -> None:
    by = ManagerFactory()
    before = everything()
    with pytest.raises(ValidationError) as refusal:
        correct(lot, by=by, **more)
    given = refusal.value
    texts = given.message_dict[field] if hasattr(given, "error_dict") else given.messages
    assert said in texts[0]
    assert changed(before) == set()


@pytest.mark.parametrize(
    "wrong", [{"reason": ""}, {"rubber_thickness_in": 0.0}, {"hardness_before": 101.0}]
)
def test_the_database_too_refuses_what_cannot_be(lot: PadLot, wrong: dict[str, Any]) -> None:
    given = {"submission_id": uuid.uuid4(), "lot": lot, "reason": "why"}
    with pytest.raises(IntegrityError), transaction.atomic():
        LotCorrection.objects.create(recorded_by=ManagerFactory(), **given | wrong)


def test_a_tested_rate_is_held_to_the_corrected_rubber(auditor_client: Client, lot: PadLot) -> None:
    test = drafted_test(lot, ManagerFactory(), rate_lbf_in=1500.0).test
    page = reverse("bench-test", args=[test.pk])
    assert "Not plausible" not in words(auditor_client.get(page))
    correct(lot, bonded_area_in2=2.0)
    assert "Not plausible" in words(auditor_client.get(page))


def test_a_manager_corrects_on_the_page_and_the_lot_says_what_it_was(
    manager_client: Client, lot: PadLot
) -> None:
    url = reverse("correct-lot", args=[lot.pk])
    fields = opened(manager_client, url)
    assert fields["rubber_thickness_in"] == "2"
    before = everything()
    refused = manager_client.post(url, fields | {"rubber_thickness_in": "2.5"})
    assert "This field is required" in error_at(refused, "reason")
    refused = manager_client.post(url, fields | {"reason": "measured again"})
    assert "Nothing differs from what is on record" in words(refused)
    assert changed(before) == set()
    sent = fields | {"rubber_thickness_in": "2 1/2", "reason": "measured again"}
    text = words(manager_client.post(url, sent, follow=True))
    assert f"What is on record of lot {lot} is corrected" in text
    assert "rubber between plates: 2.5 in, not 2 in" in text
    assert "measured again" in text
    assert "2.5 in between plates" in text


def test_a_reader_in_si_who_leaves_a_figure_as_shown_changes_no_digit_of_it(
    manager_client: Client, lot: PadLot
) -> None:
    PadLot.objects.filter(pk=lot.pk).update(rubber_thickness_in=2.123456789)
    manager_client.post(reverse("choose-units"), {"units": "si"})
    url = reverse("correct-lot", args=[lot.pk])
    sent = opened(manager_client, url) | {"hardness_shore_a": "55", "reason": "wrong crate"}
    assert manager_client.post(url, sent).status_code == 302
    lot.refresh_from_db()
    assert (lot.hardness_shore_a, lot.rubber_thickness_in) == (55.0, 2.123456789)


def test_the_certificate_says_that_a_hardness_was_corrected_and_from_what(lot: PadLot) -> None:
    rating = bench_test(lot, ManagerFactory()).rating
    correct(lot, hardness_shore_a=55.0)
    rating.refresh_from_db()
    assert "55 Shore A, corrected" in certificate_text(rating)
    assert "from 60" in certificate_text(rating)
