"""The good path of every form: opened, filled, sent, on record; sent twice, recorded once."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.hours import running_hours
from fleet.models import PadLot, StockMove
from inspections.models import Inspection, PadReplacement
from ratings.models import BenchTest, CurrentRating, LedgerEntry, Listing, RatingPolicy
from ratings.recording.mounting import mount_housing
from tests.builders import MONDAY, Unit, approve, count, list_hammer, rated_unit
from tests.factories import (
    GaugeFactory,
    HammerFactory,
    HousingFactory,
    ManagerFactory,
    PadLotFactory,
    TapeFactory,
)
from tests.factories import TestStandFactory as StandFactory
from tests.pages.htmlform import (
    Fields,
    all_sound,
    error_at,
    error_at_position,
    fields_of,
    opened,
    words,
)
from tests.recording.everything import changed, everything

pytestmark = pytest.mark.django_db


def head(unit: Unit) -> LedgerEntry:
    return CurrentRating.objects.get(housing=unit.housing).head


def page(name: str, *keys: int) -> str:
    return reverse(name, args=keys)


def sent(client: Client, url: str, fields: Fields) -> Any:
    """Send a form that must be taken, and return the page it leads to."""
    response = client.post(url, fields, follow=True)
    assert response.redirect_chain, words(response)
    return response


def sent_twice(client: Client, url: str, fields: Fields) -> None:
    """Send a form as a doubled tap does: the second copy must change nothing."""
    sent(client, url, fields)
    before = everything()
    assert client.post(url, fields, follow=True).status_code == 200
    assert changed(before) == set()


def filled_test(client: Client, lot: PadLot, rows: list[tuple[Any, Any]], **more: Any) -> Fields:
    """A bench test form with these readings of tape and gauge."""
    stand = StandFactory(bore_in=4.0)
    fields = opened(client, page("new-bench-test", lot.pk))
    fields |= {"stand": stand.pk, "end": "blind", "pads_in_test": "2", "tape_datum_in": "10"}
    fields |= {"gauge": GaugeFactory().pk, "tape": TapeFactory().pk}
    for number, (tape, gauge) in enumerate(rows):
        fields |= {f"r-{number}-tape_in": str(tape), f"r-{number}-gauge_psi": str(gauge)}
    return fields | more


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
    said = error_at(response, "travel_in")
    assert "8.5 in is beyond the housing’s design travel of 8 in" in said
    assert unit.housing.inspections.count() == 1
    again = fields_of(response)
    assert (again["travel_in"], again["travel_reason"]) == ("8.5", "")
    sent(manager_client, url, again | {"travel_reason": "stops worn down"})
    kept = unit.housing.inspections.first()
    assert (kept.travel_in, kept.travel_reason) == (8.5, "stops worn down")


def test_an_inspection_older_than_a_newer_one_is_asked_about_and_entered_late(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    fields = all_sound(manager_client, url) | {
        "seen_at": "2026-02-01T09:00",
        "condition-A1": "cracked",
    }
    assert "late_record" not in fields
    response = manager_client.post(url, fields)
    assert "A newer inspection, of 02 Mar 2026" in error_at(response, "seen_at")
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
    sent(manager_client, url, again)
    assert head(unit).usable_travel_in == 5.25
    assert unit.housing.positions.get(side="B", number=4).condition == "debonded"


def test_a_replacement_moves_pads_from_the_shelf(manager_client: Client) -> None:
    unit = rated_unit(unsound={"A1": "cracked"}, in_stock=3)
    url = page("replace-pads", unit.housing.pk)
    assert f"3 of lot {unit.lot.mark}" in words(manager_client.get(url))
    fields = opened(manager_client, url) | {"lot-A1": unit.lot.pk}
    response = sent(manager_client, url, fields)
    assert "Signed. The unit is now: meets listing" in words(response)
    unit.lot.refresh_from_db()
    assert unit.lot.in_stock == 2
    assert head(unit).cause == "pad replacement"


def test_a_replacement_sent_twice_takes_one_pad(manager_client: Client) -> None:
    unit = rated_unit(unsound={"A1": "cracked"}, in_stock=3)
    url = page("replace-pads", unit.housing.pk)
    sent_twice(manager_client, url, opened(manager_client, url) | {"lot-A1": unit.lot.pk})
    assert PadReplacement.objects.count() == 1


def test_a_replacement_nobody_can_fill_keeps_what_was_chosen(manager_client: Client) -> None:
    unit = rated_unit(unsound={"A1": "cracked", "A2": "cracked"}, in_stock=1)
    url = page("replace-pads", unit.housing.pk)
    fields = opened(manager_client, url)
    fields |= {"lot-A1": str(unit.lot.pk), "lot-A2": str(unit.lot.pk), "note": "two"}
    before = everything()
    response = manager_client.post(url, fields)
    assert "has 1 in stock and 2 are asked for" in words(response)
    again = fields_of(response)
    assert (again["lot-A1"], again["lot-A2"], again["note"]) == (
        str(unit.lot.pk),
        str(unit.lot.pk),
        "two",
    )
    assert changed(before) == set()


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
    text = words(sent(second, page("approve-rating", rating.pk), approval))
    assert "is approved; 1 ledger entry posted" in text
    assert f"Housing {unit.housing.mark}, entry 4" in text
    assert head(unit).pull_lbf == pytest.approx(8 * 628.3185307 * 6)


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
    assert "not linear , its load curve is used" in text


def test_a_lot_not_linear_is_drawn_to_its_very_last_reading(manager_client: Client) -> None:
    lot = PadLotFactory()
    # 48 forty-eighths of this stretch, reckoned in floats, come to more than the whole.
    assert (15.37 - 10) * 48 / 48 > 15.37 - 10
    fields = filled_test(manager_client, lot, [(11, 100), (13, 300), (15.37, 1600)])
    sent(manager_client, page("new-bench-test", lot.pk), fields)
    test = BenchTest.objects.get()
    assert manager_client.get(page("bench-test", test.pk)).status_code == 200


def test_stock_received_scrapped_and_counted_is_on_record(manager_client: Client) -> None:
    lot = PadLotFactory()
    url = page("lot-stock", lot.pk)
    for kind, pads, left in (("received", 24, 24), ("scrapped", 4, 20), ("counted", 18, 18)):
        fields = opened(manager_client, url) | {"kind": kind, "pads": str(pads)}
        response = sent(manager_client, url, fields)
        assert f"now has {left} in stock" in words(response)
    assert list(lot.moves.order_by("pk").values_list("change", flat=True)) == [24, -4, -2]


def test_a_stock_move_sent_twice_is_recorded_once(manager_client: Client) -> None:
    lot = PadLotFactory()
    url = page("lot-stock", lot.pk)
    sent_twice(manager_client, url, opened(manager_client, url) | {"kind": "received", "pads": "9"})
    assert StockMove.objects.count() == 1


def test_a_shelf_count_sent_twice_is_recorded_once_and_not_called_a_failure(
    manager_client: Client,
) -> None:
    lot = PadLotFactory()
    url = page("lot-stock", lot.pk)
    fields = opened(manager_client, url) | {"kind": "counted", "pads": "9"}
    sent_twice(manager_client, url, fields)
    assert "Nothing was saved" not in words(manager_client.post(url, fields, follow=True))


def test_a_new_lot_is_unrated_until_it_is_tested(manager_client: Client) -> None:
    url = reverse("new-lot")
    fields = opened(manager_client, url)
    fields |= {"mark": "L-9", "supplier": "Someone", "hardness_shore_a": "60.5"}
    text = words(sent(manager_client, url, fields))
    assert "unrated: adds nothing to any line pull" in text
    assert PadLot.objects.get(mark="L-9").hardness_shore_a == 60.5


def test_a_new_lot_sent_twice_is_entered_once(manager_client: Client) -> None:
    url = reverse("new-lot")
    sent_twice(manager_client, url, opened(manager_client, url) | {"mark": "L-9"})
    assert PadLot.objects.count() == 1


def test_a_listing_is_recorded_and_the_unit_judged_by_it(manager_client: Client) -> None:
    unit = rated_unit()
    url = page("new-listing", unit.hammer.pk)
    fields = opened(manager_client, url)
    fields |= {"listed_lbf": "90000", "source": "Manual, 3rd edition", "dated": "2019-04-01"}
    text = words(sent(manager_client, url, fields))
    assert "below listing" in text
    assert "Manual, 3rd edition" in text
    assert head(unit).listed_lbf == 90_000


def test_a_listing_sent_twice_is_recorded_once(manager_client: Client) -> None:
    hammer = HammerFactory()
    url = page("new-listing", hammer.pk)
    fields = opened(manager_client, url)
    sent_twice(
        manager_client,
        url,
        fields | {"listed_lbf": "90000", "source": "Plate", "dated": "2019-04-01"},
    )
    assert Listing.objects.count() == 1


def test_the_listings_page_names_each_hammer_and_what_it_is_listed_at(
    auditor_client: Client,
) -> None:
    unit, bare = rated_unit(), HammerFactory(mark="BARE")
    text = words(auditor_client.get(reverse("listings")))
    assert f"{unit.hammer.mark} 20.0 tons (40,000 lbf) Data plate" in text
    assert f"{bare.mark} none on record" in text


def test_a_policy_is_put_in_force_and_every_unit_re_rated(manager_client: Client) -> None:
    unit = rated_unit()
    before = head(unit).working_capacity_lbf
    url = reverse("policy")
    fields = opened(manager_client, url)
    assert (fields["confidence_pct"], fields["tape_resolution_in"]) == ("95", "0.125")
    fields |= {"confidence_pct": "99", "reason": "Insurer asks for it"}
    text = words(sent(manager_client, url, fields))
    assert "99 %, one-sided" in text
    assert "Insurer asks for it" in text
    assert RatingPolicy.objects.get().confidence == 0.99
    assert head(unit).cause == "policy"
    assert head(unit).working_capacity_lbf < before


def test_a_policy_sent_twice_is_recorded_once_and_not_called_a_failure(
    manager_client: Client,
) -> None:
    url = reverse("policy")
    fields = opened(manager_client, url) | {"pad_spread_pct": "7", "reason": "wider"}
    sent_twice(manager_client, url, fields)
    assert "Nothing was saved" not in words(manager_client.post(url, fields, follow=True))


def test_a_policy_that_changes_nothing_is_refused(manager_client: Client) -> None:
    url = reverse("policy")
    response = manager_client.post(url, opened(manager_client, url) | {"reason": "why not"})
    assert "Nothing differs from the policy now in force" in words(response)
    assert not RatingPolicy.objects.exists()


def test_a_housing_is_moved_to_another_hammer(manager_client: Client) -> None:
    unit, other = rated_unit(), HammerFactory()
    list_hammer(other, unit.manager, 90_000)
    url = page("mounting", unit.housing.pk)
    assert f"On hammer {unit.hammer.mark}" in words(manager_client.get(url))
    text = words(sent(manager_client, url, opened(manager_client, url) | {"hammer": other.pk}))
    assert f"on hammer {other.mark}" in text
    assert "below listing" in text
    assert head(unit).cause == "mounting"


def test_a_housing_is_taken_off_its_hammer(manager_client: Client) -> None:
    unit = rated_unit()
    url = page("mounting", unit.housing.pk)
    text = words(sent(manager_client, url, opened(manager_client, url) | {"hammer": ""}))
    assert "off the hammer" in text
    assert head(unit).standing == "unrated"


def test_a_move_sent_twice_is_recorded_once(manager_client: Client) -> None:
    unit, other = rated_unit(), HammerFactory()
    url = page("mounting", unit.housing.pk)
    sent_twice(manager_client, url, opened(manager_client, url) | {"hammer": other.pk})
    assert unit.housing.mountings.count() == 2


def corrected_by_form(client: Client, entry: LedgerEntry, **changes: Any) -> tuple[str, Fields]:
    """Follow an entry's “correct” link; return the form's address and what it holds."""
    response = client.get(reverse("correct-entry", args=[entry.pk]))
    assert response.status_code == 302
    return response["Location"], opened(client, response["Location"]) | changes


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


def test_an_inspection_on_record_shows_what_was_seen(auditor_client: Client) -> None:
    unit = rated_unit(unsound={"B2": "debonded"})
    text = words(auditor_client.get(page("inspection", unit.housing.inspections.get().pk)))
    assert f"B2 debonded {unit.lot.mark}" in text
    assert "6 in" in text


def test_the_count_s_preview_shows_what_signing_would_give(manager_client: Client) -> None:
    unit = rated_unit()
    fields = all_sound(manager_client, page("count-pads", unit.housing.pk))
    fields |= {"condition-A1": "cracked", "travel_in": "5"}
    text = words(manager_client.post(page("count-preview", unit.housing.pk), fields))
    assert "below listing" in text
    assert "(35,000 lbf)" in text
    assert "7 of 8 pads sound" in text


def test_with_nothing_counted_the_preview_takes_the_pads_as_they_stand(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    fields = opened(manager_client, page("count-pads", unit.housing.pk)) | {"travel_in": "5.5"}
    text = words(manager_client.post(page("count-preview", unit.housing.pk), fields))
    assert "22.0 tons" in text


def test_the_replacement_s_preview_shows_what_signing_would_give(manager_client: Client) -> None:
    unit = rated_unit(unsound={"A1": "cracked", "A2": "cracked"}, in_stock=2)
    url = page("replace-preview", unit.housing.pk)
    text = words(manager_client.post(url, {"lot-A1": unit.lot.pk}))
    assert "(42,000 lbf)" in text
    assert "7 of 8 pads sound" in text


def test_a_form_opens_at_the_present_moment(manager_client: Client) -> None:
    unit = rated_unit()
    fields = all_sound(manager_client, page("count-pads", unit.housing.pk))
    assert fields["seen_at"][:13] == f"{timezone.localtime():%Y-%m-%dT%H}"


def test_a_position_s_trouble_stands_beside_it(manager_client: Client) -> None:
    unit = rated_unit()
    url = page("count-pads", unit.housing.pk)
    response = manager_client.post(url, all_sound(manager_client, url) | {"condition-B3": ""})
    assert "B3 was not counted: say what is in it" in error_at_position(response, "B3")
    assert error_at_position(response, "B2") == ""
