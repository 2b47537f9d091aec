"""What was recorded wrong, put right from where it is shown."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.hours import running_hours
from inspections.models import Inspection
from ratings.models import LedgerEntry, Listing
from ratings.mounting import mount_housing
from tests.all_tables import changed, everything
from tests.builders import MONDAY, count, rated_unit
from tests.factories import (
    HammerFactory,
)
from tests.site.form_sending import head, page, sent, sent_twice
from tests.site.html_form import Fields, error_at, opened, words

pytestmark = pytest.mark.django_db


def corrected_by_form(client: Client, entry: LedgerEntry, **changes: Any) -> tuple[str, Fields]:
    """Follow an entry's “correct” link; return the form's address and what it holds."""
    response = client.get(reverse("correct-entry", args=[entry.pk]))
    assert response.status_code == 302
    return response["Location"], opened(client, response["Location"]) | changes


def test_an_inspection_that_changed_no_figure_is_corrected_from_its_own_page(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, hours=700.0, kind="monthly")
    wrong = Inspection.objects.latest("pk")
    assert (
        f"?inspection={wrong.pk}"
        in manager_client.get(page("inspection", wrong.pk)).content.decode()
    )
    url = page("count-pads", unit.housing.pk) + f"?inspection={wrong.pk}"
    fields = opened(manager_client, url)
    assert (fields["hours"], fields["condition-A1"]) == ("700", "sound")
    sent(manager_client, url, fields | {"hours": "70", "correction_reason": "A nought too many."})
    right = Inspection.objects.latest("pk")
    assert (right.corrects, right.kind_name) == (wrong, "monthly")
    assert running_hours([unit.hammer.pk])[unit.hammer.pk].now == 70.0


def test_a_correction_starts_from_the_note_that_was_made(manager_client: Client) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    fields = opened(manager_client, url)
    whole = {name: "sound" for name in fields if name.startswith("condition-")}
    sent(manager_client, url, fields | whole | {"travel_in": "6.0", "note": "Weld seen at B2."})
    wrong = Inspection.objects.latest("pk")
    assert wrong.note == "Weld seen at B2."
    again = opened(manager_client, f"{url}?inspection={wrong.pk}")
    assert again["note"] == "Weld seen at B2."


def test_hours_corrected_after_a_move_stay_with_the_hammer_they_were_read_on(
    manager_client: Client,
) -> None:
    unit, other = rated_unit(), HammerFactory()
    count(unit.housing, unit.manager, unit.lot, hours=1234.75)
    wrong = Inspection.objects.latest("pk")
    mount_housing(
        housing=unit.housing, hammer=other, at=MONDAY + timedelta(days=1), by=unit.manager
    )
    url = page("count-pads", unit.housing.pk) + f"?inspection={wrong.pk}"
    fields = opened(manager_client, url)
    assert fields["hours"] == "1234.75"
    sent(manager_client, url, fields | {"travel_in": "5.5", "correction_reason": "Misread."})
    assert running_hours([unit.hammer.pk, other.pk]).keys() == {unit.hammer.pk}


def test_a_count_is_corrected_from_its_ledger_entry(manager_client: Client) -> None:
    unit = rated_unit()
    wrong = count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound={"A1": "cracked"},
        at=MONDAY + timedelta(days=1),
    ).entry
    assert wrong is not None
    url, fields = corrected_by_form(manager_client, wrong)
    assert fields["condition-A1"] == "cracked"
    fields |= {"condition-A1": "sound", "condition-A2": "cracked", "correction_reason": "mixed up"}
    text = words(sent(manager_client, url, fields))
    assert f"corrects entry {wrong.sequence}" in text
    assert f"corrected by entry {wrong.sequence + 1}" in text
    assert head(unit).corrects == wrong
    assert head(unit).occurred_at == wrong.occurred_at


def test_a_correction_without_a_reason_is_asked_for_one(manager_client: Client) -> None:
    unit = rated_unit()
    url, fields = corrected_by_form(manager_client, head(unit))
    before = everything()
    response = manager_client.post(url, fields | {"correction_reason": ""})
    assert error_at(response, "correction_reason")
    assert changed(before) == set()


def test_a_correction_sent_twice_is_recorded_once(manager_client: Client) -> None:
    unit = rated_unit()
    url, fields = corrected_by_form(manager_client, head(unit), correction_reason="wrong lot")
    sent_twice(manager_client, url, fields | {"condition-A1": "cracked"})
    assert Inspection.objects.count() == 2


def test_a_listing_is_corrected_and_both_stay_on_record(manager_client: Client) -> None:
    unit = rated_unit()
    wrong = unit.hammer.listings.get()
    url = page("new-listing", unit.hammer.pk) + f"?corrects={wrong.pk}"
    fields = opened(manager_client, url)
    assert fields["listed_lbf"] == "40000"
    sent_twice(manager_client, url, fields | {"listed_lbf": "45000"})
    assert Listing.objects.count() == 2
    assert head(unit).listed_lbf == 45_000
    text = words(manager_client.get(page("new-listing", unit.hammer.pk)))
    assert "corrected since" in text


@pytest.mark.parametrize("given", ["²", "9" * 5000, "-1", "x", "999999", "1.5"])
@pytest.mark.parametrize("name", ["count-pads", "new-bench-test", "new-listing"])
def test_a_correction_of_nothing_is_no_server_error(
    manager_client: Client, name: str, given: str
) -> None:
    unit = rated_unit()
    key = {
        "count-pads": unit.housing.pk,
        "new-bench-test": unit.lot.pk,
        "new-listing": unit.hammer.pk,
    }[name]
    response = manager_client.get(page(name, key), {"corrects": given})
    assert response.status_code in (200, 404)


def test_an_entry_of_a_policy_or_a_mounting_has_no_form_to_correct_it(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    mounted = LedgerEntry.objects.get(housing=unit.housing, cause="mounting")
    assert manager_client.get(reverse("correct-entry", args=[mounted.pk])).status_code == 404
