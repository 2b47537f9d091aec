"""The pages of stands and gauges, their forms, and what bad input is told."""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from ratings.mechanics.unit_rating import Policy
from ratings.models import BenchTest, GaugeCalibration, ReferenceCheck
from ratings.policy import change_policy
from tests.all_tables import changed, everything
from tests.builders import MONDAY, drafted_test, rated_unit
from tests.factories import (
    GaugeFactory,
    PadLotFactory,
    ReferencePieceFactory,
    TapeFactory,
    TestStandFactory,
)
from tests.site.form_sending import page, sent, sent_twice
from tests.site.html_form import Fields, fields_of, words
from tests.stand_builders import OFF, calibrate, check_stand

pytestmark = pytest.mark.django_db

JUNE = date(2026, 6, 1)


def certificate_fields(client: Client, gauge_id: int, **given: Any) -> Fields:
    """A certificate in bar with as found and as left, on a gauge of 2,000 psi."""
    fields = fields_of(client.get(page("new-gauge-calibration", gauge_id)))
    fields |= {
        "certificate_number": "K-2041",
        "calibrated_on": "2026-06-01",
        "due_on": "2027-06-01",
        "unit": "bar",
        "expanded": "0.2",
    }
    rows = [("0", "0", "0"), ("70", "72", "70.1"), ("138", "139", "138.1")]
    for number, row in enumerate(rows):
        for name, value in zip(("applied", "as_found", "as_left"), row, strict=True):
            fields[f"p-{number}-{name}"] = value
    return fields | given


def test_a_certificate_in_bar_is_kept_in_psi_and_leads_to_what_it_touched(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    test = BenchTest.objects.get(lot=unit.lot)
    url = page("new-gauge-calibration", test.gauge_id)
    text = words(sent(manager_client, url, certificate_fields(manager_client, test.gauge_id)))
    found = GaugeCalibration.objects.latest("pk")
    assert found.points[1] == pytest.approx([1015.264, 1044.272, 1016.714], abs=0.001)
    assert found.expanded_psi == pytest.approx(2.9008, abs=0.0001)
    assert "The gauge was found off: error up to 29 psi, at 1,015 psi" in text
    assert f"Bench test {test.pk}" in text
    assert f"Rating {unit.lot.ratings.get().pk}" in text
    assert "in use" in text
    assert unit.housing.mark in text


def test_a_certificate_sent_twice_is_recorded_once(manager_client: Client) -> None:
    gauge = GaugeFactory()
    url = page("new-gauge-calibration", gauge.pk)
    sent_twice(manager_client, url, certificate_fields(manager_client, gauge.pk))


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"unit": ""}, "Choose the unit that the certificate is in"),
        ({"unit": "psi"}, "look like bar, not psi"),
        ({"unit": "furlong"}, "Select a valid choice"),
        ({"expanded": "-1"}, "“-1” won’t do"),
        ({"expanded": "0"}, "give more than 0"),
        ({"expanded": ""}, "points are given: give the uncertainty"),
        ({"coverage_factor": "0.5"}, "“0.5” won’t do: give 1 or more"),
        ({"calibrated_on": ""}, "This is blank: give the day"),
        ({"calibrated_on": "2999-01-01"}, "is in the future"),
        ({"due_on": "soon"}, "This is not a day"),
        ({"due_on": "2026-01-01"}, "This is not after 1 Jun 2026"),
        ({"certificate_number": ""}, "This field is required"),
        ({"p-1-applied": "x"}, "“x”"),
        ({"p-1-applied": ""}, "This is blank: give the pressure that was applied"),
        ({"p-1-as_found": ""}, "As found is blank here and given at other points"),
        ({"p-1-as_left": ""}, "As left is blank here and given at other points"),
        ({"p-2-applied": "69"}, "The gauge would be left 1002.21 psi off at 1000.76 psi"),
        ({"p-2-applied": "200"}, "2900.75 psi applied is beyond the gauge’s 0 to 2000 psi"),
        ({"p-1-as_left": "7"}, "the gauge would be left".capitalize()),
        (
            {f"p-{row}-{name}": "" for row in range(3) for name in ("applied", "as_found")}
            | {f"p-{row}-as_left": "" for row in range(3)}
            | {"expanded": ""},
            "Nothing is given as found",
        ),
        (
            {f"p-2-{name}": "" for name in ("applied", "as_found", "as_left")},
            "2 points given: give 3 or more",
        ),
    ],
)
def test_a_bad_certificate_is_told_what_would_do_and_saves_nothing(
    manager_client: Client, given: dict[str, str], told: str
) -> None:
    gauge = GaugeFactory()
    fields = certificate_fields(manager_client, gauge.pk, **given)
    before = everything()
    text = words(manager_client.post(page("new-gauge-calibration", gauge.pk), fields))
    assert "Nothing was saved" in text
    assert told in text
    assert changed(before) == set()


def test_the_certificate_of_another_gauge_is_refused(manager_client: Client) -> None:
    gauge = GaugeFactory(mark="G-shop", serial_number="SN 4411")
    fields = certificate_fields(manager_client, gauge.pk, serial_number="SN 4412")
    before = everything()
    text = words(manager_client.post(page("new-gauge-calibration", gauge.pk), fields))
    assert "Gauge G-shop has SN 4411, this certificate is of another gauge" in text
    assert changed(before) == set()


def test_a_certificate_is_corrected_by_a_later_record(
    manager_client: Client, manager: User
) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    wrong = calibrate(gauge, manager, on=JUNE, points=OFF)
    url = page("new-gauge-calibration", gauge.pk) + f"?corrects={wrong.pk}"
    fields = fields_of(manager_client.get(url)) | {"p-1-as_found": "1002", "p-2-as_found": "2003"}
    sent(manager_client, url, fields)
    right = GaugeCalibration.objects.latest("pk")
    assert right.corrects == wrong
    assert right.points[1] == [1000.0, 1002.0, 1001.0]
    assert not right.is_found_off
    assert "corrected since" in words(manager_client.get(page("gauge", gauge.pk)))
    assert manager_client.get(url).status_code == 404


def test_a_gauge_with_certificates_keeps_its_dates_from_the_set_up(
    manager_client: Client, manager: User
) -> None:
    gauge = GaugeFactory(calibrated_on=None, due_on=None)
    calibrate(gauge, manager, on=JUNE)
    url = reverse("change-gauge", args=[gauge.pk])
    assert 'name="calibrated_on"' not in manager_client.get(url).content.decode()
    fields = {"yard": gauge.yard_id, "mark": gauge.mark, "span_psi": "2000", "grade": "2A"}
    fields |= {"resolution_psi": "1", "calibrated_on": "2030-01-01", "serial_number": ""}
    fields |= {"submission_id": str(uuid.uuid4()), "reason": "Read again."}
    assert manager_client.post(url, fields).status_code == 302
    gauge.refresh_from_db()
    assert gauge.calibrated_on == JUNE


def check_fields(client: Client, stand: Any, **given: Any) -> Fields:
    fields = fields_of(client.get(page("new-reference-check", stand.pk)))
    fields |= {
        "piece": ReferencePieceFactory().pk,
        "gauge": GaugeFactory().pk,
        "tape": TapeFactory().pk,
        "end": "blind",
        "tape_datum_in": "10",
    }
    for number in range(3):
        fields[f"r-{number}-tape_in"] = str(11 + number)
        fields[f"r-{number}-gauge_psi"] = str(40 * (1 + number))
    return fields | given


def test_a_check_is_recorded_and_stands_on_its_stand(manager_client: Client) -> None:
    stand = TestStandFactory()
    url = page("new-reference-check", stand.pk)
    assert "Never checked" in words(manager_client.get(page("stand", stand.pk)))
    text = words(sent(manager_client, url, check_fields(manager_client, stand)))
    # 40 psi on 4 in of bore are 502.7 lbf for each inch.
    assert "gave 502.7 lbf/in" in text
    assert "no limits yet" in text
    check = ReferenceCheck.objects.get()
    shown = words(manager_client.get(page("reference-check", check.pk)))
    assert "503 lbf" in shown
    assert "1, loading" in shown


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"piece": ""}, "This field is required"),
        ({"tape_datum_in": ""}, "This is blank"),
        ({"temperature_f": "999"}, "“999” won’t do"),
        ({"checked_at": "2999-01-01T09:00"}, "is in the future"),
        ({"r-1-gauge_psi": "10"}, "Pressure falls from 40 psi to 10 psi"),
        ({"r-2-gauge_psi": "2400"}, "beyond the gauge's range of 2,000 psi"),
        ({"r-0-tape_in": "9"}, "below the datum of 10 in"),
        (
            {f"r-{row}-{name}": "" for row in range(3) for name in ("tape_in", "gauge_psi")},
            "No readings given: give two or more",
        ),
    ],
)
def test_a_bad_check_is_told_what_would_do_and_saves_nothing(
    manager_client: Client, given: dict[str, str], told: str
) -> None:
    stand = TestStandFactory()
    fields = check_fields(manager_client, stand, **given)
    before = everything()
    text = words(manager_client.post(page("new-reference-check", stand.pk), fields))
    assert "Nothing was saved" in text
    assert told in text
    assert changed(before) == set()


def test_a_check_out_of_its_limits_is_flagged_at_once_and_on_its_page(
    manager_client: Client, manager: User
) -> None:
    stand, piece = TestStandFactory(), ReferencePieceFactory()
    for day, rate in enumerate((500.0, 502.0, 499.0, 501.0)):
        at = MONDAY + timedelta(days=day)
        check_stand(stand, manager, piece=piece, at=at, rate_lbf_in=rate)
    fields = check_fields(manager_client, stand, piece=piece.pk)
    for number in range(3):
        fields[f"r-{number}-gauge_psi"] = str(48 * (1 + number))
    text = words(sent(manager_client, page("new-reference-check", stand.pk), fields))
    assert "recorded and out of its limits" in text
    assert "Out of its limits. The last check" in text
    assert "out of its limits" in words(manager_client.get(page("stands")))


def test_stands_are_held_against_each_other_by_the_piece_they_share(
    manager_client: Client, manager: User
) -> None:
    here, there, piece = TestStandFactory(), TestStandFactory(), ReferencePieceFactory()
    gauge = GaugeFactory()
    own = check_stand(here, manager, piece=piece, rate_lbf_in=500.0, gauge=gauge)
    other = check_stand(there, manager, piece=piece, rate_lbf_in=700.0, gauge=gauge)
    text = words(manager_client.get(page("stand", here.pk)))
    number = -200.0 / (own.expanded_lbf_in**2 + other.expanded_lbf_in**2) ** 0.5
    assert f"{number:+.2f} they disagree , but read on one gauge" in text


def test_a_stand_checked_another_day_asks_for_today_s(
    manager_client: Client, manager: User
) -> None:
    stand = TestStandFactory()
    check_stand(stand, manager, at=MONDAY)
    assert "Not checked today; last on 2 Mar 2026" in words(
        manager_client.get(page("stand", stand.pk))
    )
    check_stand(stand, manager, at=timezone.now())
    assert "Not checked today" not in words(manager_client.get(page("stand", stand.pk)))


def test_a_test_whose_gauge_was_found_off_leads_to_all_it_touched(
    manager_client: Client, manager: User
) -> None:
    test = drafted_test(PadLotFactory(), manager)
    found = calibrate(test.test.gauge, manager, on=JUNE, points=OFF)
    assert test.draft is not None
    for name, key in (("bench-test", test.test.pk), ("lot-rating", test.draft.pk)):
        response = manager_client.get(page(name, key))
        assert "found off on 1 Jun 2026: error up to 24 psi" in words(response)
        assert page("recall", found.pk) in response.content.decode()
    assert (
        page("recall", found.pk)
        in manager_client.get(page("gauge", test.test.gauge_id)).content.decode()
    )


def test_a_unit_that_was_rated_by_it_and_holds_no_such_pads_now_is_recalled(
    manager_client: Client,
) -> None:
    unit, other = rated_unit(), rated_unit()
    test = BenchTest.objects.get(lot=unit.lot)
    for position in unit.housing.positions.all():
        position.lot, position.condition = None, "missing"
        position.save()
    found = calibrate(test.gauge, unit.manager, on=JUNE, points=OFF)
    text = words(manager_client.get(page("recall", found.pk)))
    assert f"{unit.housing.mark} {unit.housing.yard.name} holds none of them any more" in text
    assert other.housing.yard.name not in text


@pytest.mark.parametrize(
    ("stale_rates", "told"),
    [("keep", "go on counting, and say so"), ("drop", "count for nothing, as the policy has it")],
)
def test_the_recall_says_what_the_policy_makes_of_a_rating_in_doubt(
    manager_client: Client, stale_rates: str, told: str
) -> None:
    unit = rated_unit()
    change_policy(
        submission_id=uuid.uuid4(),
        policy=Policy(stale_rates=stale_rates),
        reason="as we do",
        by=unit.manager,
    )
    test = BenchTest.objects.get(lot=unit.lot)
    found = calibrate(test.gauge, unit.manager, on=JUNE, points=OFF)
    assert told in words(manager_client.get(page("recall", found.pk)))
    counts = unit.housing.ledger_entries.latest("sequence").pull_lbf or 0.0
    assert (counts > 0.0) == (stale_rates == "keep")


def test_the_form_of_a_bench_test_warns_as_it_is_typed(manager_client: Client) -> None:
    lot, stand = PadLotFactory(), TestStandFactory()
    fields = fields_of(manager_client.get(page("new-bench-test", lot.pk)))
    fields |= {"stand": stand.pk, "gauge": GaugeFactory().pk, "tape": TapeFactory().pk}
    fields |= {"end": "blind", "pads_in_test": "1", "tape_datum_in": "10"}
    for number in range(3):
        fields[f"r-{number}-tape_in"] = str(11 + number)
        fields[f"r-{number}-gauge_psi"] = str(40 * (1 + number))
    text = words(manager_client.post(page("bench-preview", lot.pk), fields))
    assert "No reference piece was pulled on the stand that day" in text
