"""A count by its form: opened, filled, signed, on record."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from inspections.models import Inspection
from tests.builders import rated_unit
from tests.factories import (
    HousingFactory,
    PadLotFactory,
)
from tests.site.form_sending import head, page, sent, sent_twice
from tests.site.html_form import all_sound, error_at, error_at_position, fields_of, opened, words

pytestmark = pytest.mark.django_db


def test_a_count_is_signed_and_the_unit_re_rated(manager_client: Client) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    fields = all_sound(manager_client, url)
    assert fields["lot-A1"] == str(unit.lot.pk)
    fields |= {"condition-A1": "cracked", "travel_in": "5.5", "hours": "12.5", "note": "cold day"}
    response = sent(manager_client, url, fields)
    assert response.request["PATH_INFO"] == page("unit", unit.housing.pk)
    assert "Signed. The unit is now: below listing (ledger entry 3)." in words(response)
    assert head(unit).pull_lbf == pytest.approx(7 * 1000 * 5.5)
    inspection = Inspection.objects.first()
    assert inspection is not None
    assert inspection.hour_reading is not None
    assert (inspection.note, inspection.hour_reading.hours) == ("cold day", 12.5)


def test_a_count_starts_from_nothing_counted_and_the_lots_that_are_known(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    fields = opened(manager_client, page("count-pads", unit.housing.pk))
    assert fields["condition-A1"] == ""
    assert fields["lot-A1"] == str(unit.lot.pk)


def test_a_travel_taped_alone_counts_no_pad(manager_client: Client) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    sent(manager_client, url, opened(manager_client, url) | {"travel_in": "5.5"})
    assert not Inspection.objects.latest("pk").pads.exists()
    assert head(unit).usable_travel_in == 5.5


def test_a_form_nothing_was_entered_in_is_not_signed(manager_client: Client) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    response = manager_client.post(url, opened(manager_client, url))
    assert "Nothing was entered" in words(response)
    assert Inspection.objects.count() == 1


def test_a_first_count_starts_from_nothing_counted(manager_client: Client) -> None:
    housing, lot = HousingFactory(positions_per_side=1), PadLotFactory()
    url = page("count-pads", housing.pk)
    fields = opened(manager_client, url)
    assert fields["condition-A1"] == fields["lot-A1"] == ""
    fields |= {"condition-A1": "sound", "lot-A1": lot.pk, "condition-B1": "missing"}
    response = sent(manager_client, url, fields)
    assert "The unit is now: unrated" in words(response)
    assert housing.positions.get(side="B").condition == "missing"


def test_a_missing_pad_has_no_lot_whatever_was_chosen_before(manager_client: Client) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    fields = all_sound(manager_client, url) | {"condition-A1": "missing"}
    assert fields["lot-A1"] == str(unit.lot.pk)
    sent(manager_client, url, fields)
    assert unit.housing.positions.get(side="A", number=1).lot is None


def test_a_count_that_confirms_what_is_known_says_the_ledger_stands(manager_client: Client) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    response = sent(manager_client, url, all_sound(manager_client, url))
    assert "It changed no figure of the line pull, so the ledger stands" in words(response)
    assert unit.housing.inspections.count() == 2


def test_a_count_sent_twice_is_recorded_once(manager_client: Client) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    sent_twice(manager_client, url, all_sound(manager_client, url) | {"condition-A1": "cracked"})
    assert Inspection.objects.count() == 2


def test_a_count_with_a_trouble_keeps_all_that_was_typed(manager_client: Client) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    typed = all_sound(manager_client, url) | {
        "condition-A1": "swollen",
        "lot-B2": "",
        "travel_in": "five",
        "hours": "77",
        "note": "rain <b>",
    }
    again = fields_of(manager_client.post(url, typed))
    for name, value in typed.items():
        assert again[name] == value, name


def test_a_count_is_typed_in_si_and_stored_in_inches(manager_client: Client) -> None:
    unit = rated_unit()
    manager_client.post(reverse("choose-units"), {"units": "si"})
    url = page("count-pads", unit.housing.pk)
    assert "Travel, taped from rest to the stops, mm" in words(manager_client.get(url))
    sent(manager_client, url, all_sound(manager_client, url) | {"travel_in": "127"})
    assert head(unit).usable_travel_in == pytest.approx(5.0)


def test_a_travel_beyond_the_design_is_asked_about_and_kept_with_a_reason(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    fields = all_sound(manager_client, url) | {"travel_in": "8.5"}
    assert "travel_reason" not in fields
    response = manager_client.post(url, fields)
    said = error_at(response, "travel_reason")
    assert "8.5 in is beyond the housing’s design travel of 8 in" in said
    assert unit.housing.inspections.count() == 1
    again = fields_of(response)
    assert (again["travel_in"], again["travel_reason"]) == ("8.5", "")
    sent(manager_client, url, again | {"travel_reason": "stops worn down"})
    kept = unit.housing.inspections.first()
    assert kept is not None
    assert (kept.travel_in, kept.travel_reason) == (8.5, "stops worn down")


def test_a_travel_beyond_the_design_is_asked_about_in_the_readers_units(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    manager_client.post(reverse("choose-units"), {"units": "si"})
    url = page("count-pads", unit.housing.pk)
    response = manager_client.post(url, all_sound(manager_client, url) | {"travel_in": "210"})
    said = error_at(response, "travel_reason")
    assert "210 mm is beyond the housing’s design travel of 203.2 mm" in said


def test_an_inspection_older_than_a_newer_one_is_asked_about_and_entered_late(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    fields = all_sound(manager_client, url) | {
        "seen_at": "2026-02-01T09:00",
        "travel_in": "4",
    }
    assert "late_record" not in fields
    response = manager_client.post(url, fields)
    assert "A newer inspection, of 2 Mar 2026" in error_at(response, "seen_at")
    assert 'name="late_record"' in response.content.decode()
    assert unit.housing.inspections.count() == 1
    sent(manager_client, url, fields_of(response) | {"late_record": "on"})
    assert unit.housing.inspections.count() == 2
    assert head(unit).sound_pads == 8


def test_of_two_who_sign_from_the_same_page_the_second_keeps_what_was_typed(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    first, second = all_sound(manager_client, url), all_sound(manager_client, url)
    second |= {"condition-B4": "debonded", "travel_in": "5.25", "note": "mine"}
    sent(manager_client, url, first | {"condition-A1": "cracked"})
    response = manager_client.post(url, second)
    text = words(response)
    assert response.status_code == 200
    assert "signed this unit since you opened the page" in text
    assert "What you entered is kept below" in text
    again = fields_of(response)
    assert (again["condition-B4"], again["travel_in"], again["note"]) == (
        "debonded",
        "5.25",
        "mine",
    )
    assert head(unit).sound_pads == 7
    # Having looked, the second may sign what the page now holds.
    sent(manager_client, url, again | {"sound_again_reason": "A1 wiped: no crack"})
    assert head(unit).usable_travel_in == 5.25
    assert unit.housing.positions.get(side="B", number=4).condition == "debonded"


def test_an_inspection_on_record_shows_what_was_seen(auditor_client: Client) -> None:
    unit = rated_unit(unsound={"B2": "debonded"})
    text = words(auditor_client.get(page("inspection", unit.housing.inspections.get().pk)))
    assert f"B2 debonded {unit.lot.mark}" in text
    assert "6 in" in text


def test_with_nothing_counted_the_line_pull_shown_takes_the_pads_as_they_stand_and_says_so(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    fields = opened(manager_client, page("count-pads", unit.housing.pk)) | {"travel_in": "5.5"}
    fields["show"] = "1"
    text = words(manager_client.post(page("count-pads", unit.housing.pk), fields))
    assert "22.0 tons" in text
    assert "nothing counted yet: the pads as last seen" in text
    assert "of 8" not in text


def test_the_line_pull_shown_keeps_what_was_typed_and_judges_nothing(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    typed = all_sound(manager_client, url) | {"travel_in": "five", "note": "rain", "hours": "7"}
    response = manager_client.post(url, typed | {"show": "1"})
    assert "Nothing was saved" not in words(response)
    assert fields_of(response) == typed
    assert unit.housing.inspections.count() == 1


def test_a_line_pull_shown_for_a_travel_beyond_design_says_that_signing_refuses_it(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    typed = all_sound(manager_client, url) | {"travel_in": "13", "show": "1"}
    response = manager_client.post(url, typed)
    text = words(response)
    assert "It would not be signed with this travel. 13 in is beyond the housing’s design" in text
    assert "Were that travel kept with a reason:" in text
    assert 'name="travel_reason"' in response.content.decode()
    assert "Why the travel is beyond the design travel (optional)" not in text
    reasoned = words(manager_client.post(url, typed | {"travel_reason": "Stop plate gone"}))
    assert "It would not be signed" not in reasoned
    assert "If signed as it stands now:" in reasoned


@pytest.mark.parametrize("unread", ["five", "40", "-1"])
def test_a_line_pull_shown_beside_a_travel_that_cannot_be_says_which_travel_it_is_at(
    manager_client: Client, unread: str
) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    typed = all_sound(manager_client, url) | {"travel_in": unread, "show": "1"}
    text = words(manager_client.post(url, typed))
    assert "It would not be signed with this travel." in text
    assert "At the travel last taped:" in text


def test_a_position_s_trouble_stands_beside_it(manager_client: Client) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    response = manager_client.post(url, all_sound(manager_client, url) | {"condition-B3": ""})
    assert "B3 was not counted: say what is in it" in error_at_position(response, "B3")
    assert error_at_position(response, "B2") == ""
