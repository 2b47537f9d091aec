"""What the form, the test's page and the approver are told of mistakes, in the same words."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.models import PadLot
from ratings.bench.recording import RecordedTest
from ratings.bench.tested_pads import TestedPad
from ratings.lots import doubts
from ratings.mechanics.bench import CycleReading
from ratings.mechanics.shortcuts import Shortcut
from ratings.mechanics.unit_rating import Policy
from ratings.models import BenchTest, LotRating
from ratings.policy import change_policy
from tests.all_tables import changed, everything
from tests.builders import MONDAY, drafted_test
from tests.factories import GaugeFactory, ManagerFactory, PadLotFactory, TapeFactory
from tests.factories import TestStandFactory as StandFactory
from tests.site.html_form import Fields, opened, words

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + timedelta(days=1)
READ = [CycleReading(10.0 + x, 80.0 * x) for x in (1.0, 2.0, 3.0, 4.0)]
# The same as somebody types them who reads in SI.
IN_SI = {"tape_datum_in": "254"} | {
    f"r-{place}-{name}": f"{value:.6g}"
    for place, each in enumerate(READ)
    for name, value in (("tape_in", each.tape_in * 25.4), ("gauge_psi", each.gauge_psi * 6.894757))
}


def record(lot: PadLot, **more: Any) -> RecordedTest:
    given: dict[str, Any] = {"at": MONDAY, "tape_datum_in": 10.0}
    return drafted_test(lot, more.pop("by", None) or ManagerFactory(), **given | more)


def typed(client: Client, lot: PadLot, readings: list[CycleReading], **more: Any) -> Fields:
    fields = opened(client, reverse("new-bench-test", args=[lot.pk]))
    fields |= {"stand": StandFactory().pk, "gauge": GaugeFactory().pk, "tape": TapeFactory().pk}
    fields |= {"end": "blind", "pads_in_test": "1", "tape_datum_in": "10"}
    for number, each in enumerate(readings):
        fields |= {f"r-{number}-tape_in": f"{each.tape_in:g}"}
        fields |= {f"r-{number}-gauge_psi": f"{each.gauge_psi:g}"}
    return fields | more


def told_while_typing(client: Client, lot: PadLot, fields: Fields) -> str:
    return words(client.post(reverse("bench-preview", args=[lot.pk]), fields))


def told_by_form_page_and_approver(
    client: Client, lot: PadLot, fields: Fields, system: str = "us"
) -> list[str]:
    """What each of the three shows of a test that is typed, then recorded."""
    preview = told_while_typing(client, lot, fields)
    response = client.post(reverse("new-bench-test", args=[lot.pk]), fields)
    assert response.status_code == 302
    test = BenchTest.objects.latest("pk")
    page = words(client.get(reverse("bench-test", args=[test.pk])))
    rating = test.ratings.get()
    behind = [each for each in doubts.tests_behind(rating, system) if each.test == test]
    return [preview, page, " ".join(doubts.doubts_of(rating, behind))]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, "Read on loading alone"),
        ({}, "The pads were not stretched before the first reading"),
        ({"conditioning_cycles": "1"}, "The pads were stretched once before the first reading"),
        ({}, "The temperature of the rubber was not read"),
        ({"rubber_temperature_f": "20"}, "The rubber was at 20 °F, colder than the 40 °F"),
        ({}, "The pad has no mark on record"),
        (
            {"r-2-tape_in": "", "r-2-gauge_psi": "", "r-3-tape_in": "", "r-3-gauge_psi": ""},
            "Read at 2",
        ),
        ({"r-0-gauge_psi": "81.3"}, "Finer than the gauge is read: 81.3 psi lies"),
        ({"r-0-tape_in": "11.1"}, "Finer than the tape is read: 11.1 in lies"),
    ],
)
def test_form_page_and_approver_see_the_same_words(
    manager_client: Client, changes: dict[str, str], said: str
) -> None:
    lot = PadLotFactory()
    fields = typed(manager_client, lot, READ, **changes)
    for told in told_by_form_page_and_approver(manager_client, lot, fields):
        assert said in told


US_UNITS = re.compile(r"\b\d[\d,.]* (?:in|psi|lbf|lbf/in|°F)\b(?! °)")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"rubber_temperature_f": "-5"}, "at -5 °C, colder than the 4.4 °C of the yard’s policy"),
        ({"r-0-gauge_psi": "557"}, "Finer than the gauge is read: 557 kPa lies between marks of"),
        ({"r-0-tape_in": "280.5"}, "Finer than the tape is read: 280.5 mm lies between marks of"),
        ({}, "The gauge never passed a quarter of its"),
        (
            {"r-4-tape_in": "254", "r-4-gauge_psi": "200"},
            "With the tape at rest the gauge read 200 kPa, and its zero is given as 0 kPa",
        ),
        (
            {"r-3-gauge_psi": "3500"},
            "The reading at 101.6 mm stands out from the rest",
        ),
    ],
)
def test_a_reader_in_si_is_warned_in_si(
    manager_client: Client, changes: dict[str, str], said: str
) -> None:
    manager_client.post(reverse("choose-units"), {"units": "si"})
    lot = PadLotFactory()
    fields = typed(manager_client, lot, READ, **IN_SI | changes)
    for told in told_by_form_page_and_approver(manager_client, lot, fields, "si"):
        assert said in told
        of_readings = told[max(0, told.find("Not plausible")) :]
        assert not US_UNITS.findall(of_readings)


def test_a_reader_in_si_is_told_in_si_of_another_cylinder_and_another_test(
    manager_client: Client,
) -> None:
    lot, stand = PadLotFactory(), StandFactory(bore_in=5.13)
    record(lot, stand=stand, readings=READ)
    stand.bore_in = 5.31
    stand.save()
    manager_client.post(reverse("choose-units"), {"units": "si"})
    twice = {f"r-{place}-gauge_psi": str(1110 * (place + 1)) for place in range(4)}
    told = told_while_typing(
        manager_client, lot, typed(manager_client, lot, READ, **IN_SI | twice | {"stand": stand.pk})
    )
    assert "bore 134.874 mm, 130.302 mm then" in told
    assert "At 101.6 mm a pad pulls" in told


def test_an_approver_in_si_reads_and_keeps_doubts_in_si(manager_client: Client) -> None:
    record_of = record(PadLotFactory(), readings=[CycleReading(11.02, 81.3), *READ[1:]])
    assert record_of.draft is not None
    manager_client.post(reverse("choose-units"), {"units": "si"})
    url = reverse("lot-rating", args=[record_of.draft.pk])
    assert "gauge is read: 560.544 kPa lies" in words(manager_client.get(url))
    fields = opened(manager_client, url) | {"has_read_doubts": "on"}
    approved = manager_client.post(reverse("approve-rating", args=[record_of.draft.pk]), fields)
    assert approved.status_code == 302
    kept = LotRating.objects.get(pk=record_of.draft.pk).approval.doubts
    assert any("gauge is read: 560.544 kPa lies" in each for each in kept)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"r-0-tape_in": "240"}, "Tape 240 mm is below the datum of 254 mm"),
        (
            {"r-3-gauge_psi": "1000"},
            "Pressure falls from 1,654.74 kPa to 1,000 kPa while the stretch rises from 76.2 mm to "
            "101.6 mm",
        ),
        ({"r-3-gauge_psi": "50000"}, "Gauge 50,000 kPa is beyond the gauge's range of 13,790 kPa"),
    ],
)
def test_a_reader_in_si_is_refused_in_si(
    manager_client: Client, changes: dict[str, str], said: str
) -> None:
    manager_client.post(reverse("choose-units"), {"units": "si"})
    lot = PadLotFactory()
    told = words(
        manager_client.post(
            reverse("new-bench-test", args=[lot.pk]),
            typed(manager_client, lot, READ, **IN_SI | changes),
        )
    )
    assert said in told


def test_a_bore_with_two_digits_swapped_is_caught_by_the_test_before(
    manager_client: Client,
) -> None:
    lot = PadLotFactory()
    stand = StandFactory(bore_in=5.13)
    record(lot, stand=stand, readings=READ)
    stand.bore_in = 5.31
    stand.save()
    again = [CycleReading(each.tape_in, each.gauge_psi + 1.0) for each in READ]
    fields = typed(manager_client, lot, again, stand=str(stand.pk))
    told = told_while_typing(manager_client, lot, fields)
    assert "bore 5.31 in, 5.13 in then" in told
    assert "every force is 7.1 % more by it" in told


def test_a_test_that_disagrees_with_another_of_its_lot_is_told_by_how_much_and_why(
    manager_client: Client,
) -> None:
    lot = PadLotFactory()
    first = record(lot, readings=READ).test
    twice = [CycleReading(each.tape_in, 2.0 * each.gauge_psi) for each in READ]
    fields = typed(manager_client, lot, twice)
    preview = told_while_typing(manager_client, lot, fields)
    manager_client.post(reverse("new-bench-test", args=[lot.pk]), fields)
    second = BenchTest.objects.latest("pk")
    page = words(manager_client.get(reverse("bench-test", args=[second.pk])))
    for told in (preview, page):
        assert f"a pad pulls 100.0 % more than in bench test {first.pk} (2 Mar 2026)" in told
        assert "A mistake would explain it: 2 pads in test, not 1" in told


def test_each_shortcut_bears_its_price_while_typing(manager_client: Client) -> None:
    lot = PadLotFactory()
    fields = typed(manager_client, lot, READ)
    told = told_while_typing(manager_client, lot, fields)
    unloading = r"Read each stretch again coming down\. Done, that would add about [\d,]+ lbf"
    assert re.search(unloading, told)
    assert re.search(r"let them back, then read\. Done, that would add about [\d,]+ lbf", told)
    cared_for = fields | {"conditioning_cycles": "3", "rubber_temperature_f": "70"}
    assert "then read." not in told_while_typing(manager_client, lot, cared_for)


def test_marks_bear_their_price_beside_the_lots_other_tests_and_none_without_them(
    manager_client: Client,
) -> None:
    lot = PadLotFactory()
    price = r"nothing of how pads differ\. Done, that would add about ([\d,]+) lbf"
    fields = typed(manager_client, lot, [CycleReading(r.tape_in, r.gauge_psi + 1.0) for r in READ])
    # Alone a test is of one pad with its mark or without.
    assert not re.search(price, told_while_typing(manager_client, lot, fields))
    record(lot, readings=READ)
    found = re.search(price, told_while_typing(manager_client, lot, fields))
    assert found is not None
    assert int(found[1].replace(",", "")) > 0
    assert manager_client.post(reverse("new-bench-test", args=[lot.pk]), fields).status_code == 302
    page = reverse("bench-test", args=[BenchTest.objects.latest("pk").pk])
    on_record = re.search(price, words(manager_client.get(page)))
    assert on_record is not None
    assert on_record[1] == found[1]
    marked = fields | {"p-0-mark": "K 7"}
    assert "nothing of how pads differ" not in told_while_typing(manager_client, lot, marked)


@pytest.mark.parametrize("shortcut", [Shortcut.LOADING_ONLY, Shortcut.UNMARKED_PADS])
def test_a_shortcut_that_the_policy_refuses_is_told_to_rate_nothing(
    manager_client: Client, shortcut: Shortcut
) -> None:
    policy = Policy(refused_shortcuts=(shortcut.value,))
    by = ManagerFactory()
    change_policy(submission_id=uuid.uuid4(), policy=policy, reason="With care", by=by)
    lot = PadLotFactory()
    told = told_while_typing(manager_client, lot, typed(manager_client, lot, READ))
    assert f"a test rates nothing with {shortcut.value}" in told
    fields = typed(manager_client, lot, READ)
    assert manager_client.post(reverse("new-bench-test", args=[lot.pk]), fields).status_code == 302
    assert not BenchTest.objects.latest("pk").ratings.exists()


def test_a_test_is_not_held_against_the_one_it_corrects_or_one_corrected_since(
    manager_client: Client,
) -> None:
    lot = PadLotFactory()
    wrong = record(lot, readings=READ).test
    right = [CycleReading(each.tape_in, 2.0 * each.gauge_psi) for each in READ]
    recorded = record(lot, readings=right, corrects=wrong, at=TUESDAY)
    for test in (wrong, recorded.test):
        page = words(manager_client.get(reverse("bench-test", args=[test.pk])))
        assert "a pad pulls" not in page
    thrice = [CycleReading(each.tape_in, 2.0 * each.gauge_psi + 1.0) for each in READ]
    fields = typed(manager_client, lot, thrice)
    assert "a pad pulls" not in told_while_typing(manager_client, lot, fields)


def test_the_same_pad_again_is_told_to_be_no_second_pad(manager_client: Client) -> None:
    lot = PadLotFactory()
    first = record(lot, readings=READ, pads=(TestedPad(1, mark="Kb 7"),)).test
    other_lot = record(PadLotFactory(), readings=READ, pads=(TestedPad(1, mark="KB 7"),)).test
    again = [CycleReading(each.tape_in, each.gauge_psi + 1.0) for each in READ]
    fields = typed(manager_client, lot, again, **{"p-0-mark": "KB 7"})
    for told in told_by_form_page_and_approver(manager_client, lot, fields):
        assert f"Pad Kb 7 was stretched in bench test {first.pk} (2 Mar 2026) too" in told
        assert f"bench test {other_lot.pk} " not in told


# Identical readings


def test_readings_of_another_test_of_the_lot_are_refused_with_a_word() -> None:
    lot, by = PadLotFactory(), ManagerFactory()
    first = record(lot, readings=READ).test
    with_: dict[str, Any] = {
        "stand": first.stand,
        "gauge": first.gauge,
        "tape": first.tape,
    }
    before = everything()
    with pytest.raises(ValueError, match=f"bench test {first.pk} .* has these very readings"):
        record(lot, readings=READ, at=TUESDAY, by=by, **with_)
    assert changed(before) == set()


def test_readings_refused_as_a_copy_are_told_while_typing_and_on_sending(
    manager_client: Client,
) -> None:
    lot = PadLotFactory()
    record(lot, readings=READ)
    fields = typed(manager_client, lot, READ)
    assert "has these very readings" in told_while_typing(manager_client, lot, fields)
    response = manager_client.post(reverse("new-bench-test", args=[lot.pk]), fields)
    assert "Nothing was saved" in words(response)
    assert "has these very readings" in words(response)
    assert BenchTest.objects.count() == 1


def test_a_row_typed_twice_is_refused_at_its_field_and_a_reading_at_rest_is_not(
    manager_client: Client,
) -> None:
    lot, rest = PadLotFactory(), CycleReading(10.0, 0.0)
    twice = typed(manager_client, lot, [*READ, READ[1]])
    response = manager_client.post(reverse("new-bench-test", args=[lot.pk]), twice)
    assert "This is reading 2 again, on the same branch of the same run" in words(response)
    assert not BenchTest.objects.exists()
    at_rest = typed(manager_client, lot, [rest, rest, *READ])
    assert manager_client.post(reverse("new-bench-test", args=[lot.pk]), at_rest).status_code == 302


def test_a_reading_taken_again_in_another_run_is_evidence() -> None:
    again = [CycleReading(each.tape_in, each.gauge_psi, 2) for each in READ]
    assert record(PadLotFactory(), readings=[*READ, *again]).test.readings.count() == 2 * len(READ)


def test_one_stretch_more_or_another_lot_makes_no_copy() -> None:
    lot = PadLotFactory()
    record(lot, readings=READ)
    record(lot, readings=[*READ, CycleReading(15.0, 400.0)])
    record(PadLotFactory(), readings=READ)
    assert BenchTest.objects.count() == 3


def test_a_correction_may_hold_the_readings_of_what_it_corrects(manager_client: Client) -> None:
    lot = PadLotFactory()
    wrong = record(lot, readings=READ).test
    url = f"{reverse('new-bench-test', args=[lot.pk])}?corrects={wrong.pk}"
    fields = opened(manager_client, url) | {"rubber_temperature_f": "70"}
    preview = f"{reverse('bench-preview', args=[lot.pk])}?corrects={wrong.pk}"
    assert "very readings" not in words(manager_client.post(preview, fields))
    assert manager_client.post(url, fields).status_code == 302
    assert BenchTest.objects.get(corrects=wrong).rubber_temperature_f == 70.0


# Readings at rest


def test_readings_at_rest_change_no_rate_and_make_no_second_stretch() -> None:
    at_rest = [CycleReading(10.0, 0.0)] * 3
    plain, rested = PadLotFactory(), PadLotFactory()
    bent = [CycleReading(11.0, 82.0), CycleReading(12.0, 158.0), CycleReading(13.0, 243.0)]
    stand = StandFactory()
    one = record(plain, readings=bent, stand=stand).draft
    other = record(rested, readings=[*at_rest, *bent], stand=stand).draft
    assert one is not None
    assert other is not None
    for name in ("rate_lbf_in", "common_uncertainty_lbf_in", "degrees_of_freedom"):
        assert getattr(one, name) == getattr(other, name)
    with pytest.raises(ValueError, match="every reading is at one stretch, 1 in"):
        record(PadLotFactory(), readings=[*at_rest, CycleReading(11.0, 80.0)])
