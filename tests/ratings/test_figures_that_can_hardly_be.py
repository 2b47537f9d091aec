"""A listing or a bench test that can hardly be is recorded by whoever says why it is right."""

from __future__ import annotations

import uuid
from datetime import date
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from inspections.exchange.acts import ACTS, Entry
from ratings.bench.recording import record_bench_test
from ratings.ledger.verify import verify_all
from ratings.listings import record_listing
from ratings.models import BenchTest, Listing
from ratings.mounting import mount_housing
from ratings.read_again import KEPT_AS, NotReadAgain
from tests.builders import Unit, days_ago, list_hammer, rated_unit, readings_of, set_up
from tests.factories import HammerFactory, ManagerFactory, PadLotFactory
from tests.inspections.field.sent import signed_in
from tests.site.html_form import error_at, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def unit() -> Unit:
    """A unit listed at 60,000 lbf."""
    unit = rated_unit()
    list_hammer(unit.hammer, unit.manager, 60_000)
    return unit


def sent(unit: Unit, **more: Any) -> Any:
    form = {"listed_lbf": "267000", "source": "Plate 7", "dated": "2021-01-01"}
    url = reverse("new-listing", args=[unit.hammer.pk])
    given = {"submission_id": uuid.uuid4(), **form, **more}
    return signed_in(unit.manager).post(url, given)


def test_a_listing_far_from_the_one_in_force_asks_for_a_tick_and_a_reason(unit: Unit) -> None:
    # 60,000 lbf are 267 kN: typed in newtons it is 4.45 times as much (1 lbf is 4.448 N).
    refused = sent(unit)
    assert "can hardly be beside the listing in force" in error_at(refused, "is_read_again")
    unexplained = sent(unit, is_read_again="on", read_again_reason=" ")
    assert "say why it is right" in error_at(unexplained, "read_again_reason")
    assert not Listing.objects.filter(listed_lbf=267_000).exists()
    assert sent(unit, is_read_again="on", read_again_reason="A new plate").status_code == 302
    assert Listing.objects.latest("pk").note == f"{KEPT_AS}A new plate"
    verify_all()


def test_a_listing_nobody_doubts_is_recorded_at_one_press(unit: Unit) -> None:
    assert "is_read_again" not in sent(unit, listed_lbf="").content.decode()
    assert sent(unit, listed_lbf="70000", note="New book").status_code == 302
    assert Listing.objects.latest("pk").note == "New book"


def test_what_puts_a_slip_right_is_held_to_nothing_of_it(unit: Unit) -> None:
    sent(unit, is_read_again="on", read_again_reason="A slip")
    wrong = Listing.objects.latest("pk")
    assert list_hammer(unit.hammer, unit.manager, 60_000, corrects=wrong)


def test_a_first_listing_is_held_to_what_the_unit_pulls() -> None:
    unit, hammer = rated_unit(), HammerFactory()
    mount_housing(housing=unit.housing, hammer=hammer, at=days_ago(1), by=unit.manager)
    given: dict[str, Any] = {"hammer": hammer, "source": "Book", "dated": date(2021, 1, 1)}
    with pytest.raises(NotReadAgain, match="beside what its unit pulls"):
        record_listing(submission_id=uuid.uuid4(), listed_lbf=1_000_000, by=unit.manager, **given)


def test_a_row_of_the_register_says_it_in_its_note(unit: Unit) -> None:
    values = {
        "hammer": unit.hammer,
        "listed_lbf": 267_000.0,
        "source": "Plate",
        "dated": date(2021, 1, 1),
        "note": "",
    }

    def take() -> None:
        row = Entry(parts={}, id=uuid.uuid4(), by=unit.manager, values=dict(values))
        ACTS["listings"].record(row)

    with pytest.raises(ValidationError, match="say it in the row’s note"):
        take()
    values["note"] = "A new plate"
    take()
    values["note"] = Listing.objects.latest("pk").note
    assert values["note"] == f"{KEPT_AS}A new plate"
    take()
    assert Listing.objects.latest("pk").note == values["note"]


def test_a_bench_test_that_its_rubber_does_not_allow_asks_for_a_tick_and_a_reason() -> None:
    lot = PadLotFactory(hardness_shore_a=60.0, bonded_area_in2=100.0, rubber_thickness_in=3.0)
    given = set_up()
    test: dict[str, Any] = {
        "lot": lot,
        "set_up": given,
        "readings": readings_of(given, 40.0, 8.0),
        "by": ManagerFactory(),
    }
    with pytest.raises(NotReadAgain, match="Not plausible: rubber of this hardness"):
        record_bench_test(submission_id=uuid.uuid4(), **test)
    assert not BenchTest.objects.exists()
    said: dict[str, Any] = {"is_read_again": True, "read_again_reason": "Cut pads"}
    record_bench_test(submission_id=uuid.uuid4(), **said, **test)
    assert BenchTest.objects.get().note.endswith(f"{KEPT_AS}Cut pads")


def test_the_page_of_a_bench_test_asks_once_it_is_doubted() -> None:
    lot = PadLotFactory(hardness_shore_a=60.0, bonded_area_in2=100.0, rubber_thickness_in=3.0)
    page = signed_in(ManagerFactory()).get(reverse("new-bench-test", args=[lot.pk]))
    assert "Why it is right all the same" not in words(page)
