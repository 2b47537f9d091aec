"""What nobody should type: each ends in words beside the field, and nothing half-saved."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import PadLot, Passkey
from tests.all_tables import changed, everything
from tests.builders import rated_unit
from tests.factories import (
    ClampFactory,
    GaugeFactory,
    HammerFactory,
    HousingFactory,
    LoadIndicatorFactory,
    ManagerFactory,
    PadLotFactory,
    TapeFactory,
    YardFactory,
)
from tests.factories import TestStandFactory as StandFactory
from tests.fleet.people.authenticator import given as given_passkey
from tests.fleet.people.bound import bound_to
from tests.inspections.api.asking import program_of, token_of
from tests.job_builders import commit, extraction_job, figured_unit
from tests.site.html_form import (
    Fields,
    all_sound,
    error_at,
    error_at_position,
    fields_of,
    opened,
    words,
)

pytestmark = pytest.mark.django_db
Form = Callable[[Client], tuple[str, Fields]]
Forms = dict[str, tuple[str, Fields]]


def count_form(client: Client) -> tuple[str, Fields]:
    unit = rated_unit()
    url = reverse("count-pads", args=[unit.housing.pk])
    return url, all_sound(client, url) | {"condition-A1": "cracked"}


def replace_form(client: Client) -> tuple[str, Fields]:
    unit = rated_unit(unsound={"A1": "cracked"}, in_stock=3)
    url = reverse("replace-pads", args=[unit.housing.pk])
    return url, opened(client, url) | {"lot-A1": str(unit.lot.pk)}


def bench_form(client: Client) -> tuple[str, Fields]:
    stand, lot = StandFactory(), PadLotFactory()
    gauge, tape = GaugeFactory(span_psi=500.0), TapeFactory()
    url = reverse("new-bench-test", args=[lot.pk])
    fields = opened(client, url) | {"stand": str(stand.pk), "pads_in_test": "2"}
    fields |= {"gauge": str(gauge.pk), "tape": str(tape.pk)}
    fields |= {"end": "blind", "tape_datum_in": "10", "r-0-tape_in": "11", "r-0-gauge_psi": "100"}
    return url, fields | {"r-1-tape_in": "12", "r-1-gauge_psi": "200"}


def stock_form(client: Client) -> tuple[str, Fields]:
    url = reverse("lot-stock", args=[PadLotFactory().pk])
    return url, opened(client, url) | {"kind": "received", "pads": "4"}


def lot_form(client: Client) -> tuple[str, Fields]:
    url = reverse("new-lot")
    return url, opened(client, url) | {"mark": "L-1", "hardness_shore_a": "60"}


def pad_order_form(client: Client) -> tuple[str, Fields]:
    yard, day = YardFactory(currency="USD"), timezone.localdate().isoformat()
    url = f"{reverse('new-pad-order')}?yard={yard.pk}&pads=24"
    fields = {"kind": "Soft pad", "price_each": "86.5", "supplier": "N", "promised_on": day}
    return url, opened(client, url) | fields


def lot_correction_form(client: Client) -> tuple[str, Fields]:
    url = reverse("correct-lot", args=[PadLotFactory(hardness_shore_a=55.0).pk])
    return url, opened(client, url) | {"rubber_thickness_in": "2.5", "reason": "measured again"}


def listing_form(client: Client) -> tuple[str, Fields]:
    url = reverse("new-listing", args=[HammerFactory().pk])
    fields = {"listed_lbf": "50000", "source": "Plate", "dated": "2020-01-01"}
    return url, opened(client, url) | fields


def policy_form(client: Client) -> tuple[str, Fields]:
    url = reverse("policy")
    return url, opened(client, url) | {"pad_spread_pct": "7", "reason": "wider"}


def mounting_form(client: Client) -> tuple[str, Fields]:
    url = reverse("mounting", args=[rated_unit().housing.pk])
    return url, opened(client, url) | {"hammer": str(HammerFactory().pk)}


def clamp_form(client: Client) -> tuple[str, Fields]:
    url = reverse("new-clamp")
    fields = {"yard": str(YardFactory().pk), "mark": "OWN-C1", "weight_lb": "2000"}
    return url, opened(client, url) | fields | {"figures_source": "Data plate"}


def power_pack_form(client: Client) -> tuple[str, Fields]:
    url = reverse("new-power-pack")
    fields = {"yard": str(YardFactory().pk), "mark": "OWN-P1", "power_hp": "325"}
    return url, opened(client, url) | fields | {"figures_source": "Data plate"}


def fitting_form(client: Client) -> tuple[str, Fields]:
    url = reverse("fit-clamp", args=[ClampFactory().pk])
    return url, opened(client, url) | {"hammer": str(HammerFactory().pk)}


def surveillance_form(client: Client) -> tuple[str, Fields]:
    url = reverse("lot-surveillance", args=[PadLotFactory().pk])
    return url, opened(client, url) | {"pads_a_year": "4", "reason": "new supplier"}


def retention_form(client: Client) -> tuple[str, Fields]:
    url = reverse("retention-rule", args=["job-files"])
    return url, opened(client, url) | {"years": "8", "reason": "as insured"}


def proof_form(client: Client) -> tuple[str, Fields]:
    unit = rated_unit()
    url = reverse("new-proof-pull", args=[unit.housing.pk])
    fields = opened(client, url) | {
        "indicator": str(LoadIndicatorFactory().pk),
        "tape": str(TapeFactory().pk),
        "tare_lbf": "0",
        "weight_below_lb": "200",
        "anchor": "Dead man 2, rated 200 tons",
        "is_vibrating": "still",
        "are_pads_as_recorded": "as recorded",
    }
    for row, stretch_in in enumerate((1, 2, 3, 4)):
        fields |= {
            f"r-{row}-load_lbf": str(7_500 * stretch_in),
            f"r-{row}-stretch_in": str(stretch_in),
        }
    return url, fields


def transfer_form(client: Client) -> tuple[str, Fields]:
    unit, day = rated_unit(), timezone.localdate().isoformat()
    url = reverse("new-transfer")
    fields = {"what": f"housing-{unit.housing.pk}", "goal": str(YardFactory().pk)}
    fields |= {"leaves_on": day, "arrives_on": day, "haul_mi": "40", "note": "our loader"}
    return url, opened(client, url) | fields


def yard_haul_form(client: Client) -> tuple[str, Fields]:
    url = reverse("yard-hauls")
    one, other = YardFactory(), YardFactory()
    return url, opened(client, url) | {"one": str(one.pk), "other": str(other.pk), "haul_mi": "9"}


def transport_form(client: Client) -> tuple[str, Fields]:
    url = reverse("transport-rules")
    return url, opened(client, url) | {"miles_a_day": "300", "reason": "two drivers"}


def pull_form(client: Client) -> tuple[str, Fields]:
    job = extraction_job(first_day=timezone.localdate())
    url = reverse("new-pull", args=[commit(figured_unit(), job).pk])
    fields = {"pile_mark": "7", "outcome": "came", "load_source": "load indicator"}
    fields["watched_by"] = "Odd Brandt"
    return url, opened(client, url) | fields | {"hook_load_lbf": "30000"}


FORMS: dict[str, Form] = {
    "pull": pull_form,
    "transfer": transfer_form,
    "yard haul": yard_haul_form,
    "transport": transport_form,
    "clamp": clamp_form,
    "power pack": power_pack_form,
    "fitting": fitting_form,
    "proof": proof_form,
    "count": count_form,
    "replace": replace_form,
    "bench": bench_form,
    "stock": stock_form,
    "lot": lot_form,
    "pad order": pad_order_form,
    "lot correction": lot_correction_form,
    "listing": listing_form,
    "policy": policy_form,
    "mounting": mounting_form,
    "surveillance": surveillance_form,
    "retention": retention_form,
}
# Every number field: its form, its name, whether blank will do, whether zero will do.
NUMBERS = [
    ("pull", "hook_load_lbf", False, False),
    ("pull", "tare_lbf", True, True),
    ("pull", "stretch_in", True, True),
    ("pull", "minutes", True, False),
    ("pull", "toe_depth_ft", True, False),
    ("transfer", "haul_mi", True, True),
    ("yard haul", "haul_mi", False, True),
    ("transport", "miles_a_day", False, False),
    ("transport", "least_days", False, True),
    ("clamp", "weight_lb", True, True),
    ("clamp", "clamp_force_lbf", True, False),
    ("power pack", "power_hp", True, False),
    ("power pack", "flow_gpm", True, False),
    ("power pack", "pressure_psi", True, False),
    ("proof", "tare_lbf", False, True),
    ("proof", "weight_below_lb", True, True),
    ("proof", "r-0-load_lbf", False, False),
    ("proof", "r-1-stretch_in", False, False),
    ("count", "travel_in", True, False),
    ("count", "hours", True, True),
    ("bench", "pads_in_test", False, False),
    ("bench", "tape_datum_in", False, True),
    ("bench", "gauge_zero_psi", False, True),
    ("bench", "r-0-tape_in", False, False),
    ("bench", "r-1-gauge_psi", False, False),
    ("stock", "pads", False, False),
    ("bench", "conditioning_cycles", True, True),
    ("bench", "r-0-run", True, False),
    ("lot", "hardness_shore_a", True, True),
    ("lot", "bonded_area_in2", True, False),
    ("lot", "rubber_thickness_in", True, False),
    ("pad order", "pads", False, False),
    ("pad order", "price_each", False, True),
    ("pad order", "hardness_shore_a", True, True),
    ("pad order", "bonded_area_in2", True, False),
    ("pad order", "rubber_thickness_in", True, False),
    ("lot correction", "hardness_shore_a", True, True),
    ("lot correction", "bonded_area_in2", True, False),
    ("lot correction", "rubber_thickness_in", True, False),
    ("listing", "listed_lbf", False, False),
    ("policy", "confidence_pct", False, False),
    ("policy", "pad_spread_pct", False, True),
    ("policy", "linearity_limit_pct", False, False),
    ("policy", "tape_resolution_in", False, False),
    ("policy", "rate_valid_days", False, False),
    ("surveillance", "pads_a_year", True, True),
    ("retention", "years", True, False),
]
SPOILS = [
    ("-3", "“-3” won’t do: give"),
    ("five", "“five” is not a number: give one such as"),
    ("NaN", "“NaN” is not a number: give one such as"),
    ("inf", "“inf” is not a number: give one such as"),
    ("1e308", "“1e308” won’t do: give"),
    ("5,5,5", "“5,5,5” has a comma that sets off no thousands"),
]
# What a reader of numbers may trip over, tried on one field for all.
ODD_SPOILS = [
    ("\u22123", "won’t do: give"),
    ("1e999", "“1e999” is too large"),
    ("1" * 100_000, "…”"),
    ("5 yd", "“5 yd” is not a number"),
    ("0x10", "is not a number"),
    ("1_000", "is not a number"),
    ("٥", "is not a number"),
]


@pytest.fixture(scope="module")
def opened_forms(module_db: None) -> Forms:
    """Each of these forms opened and filled in once, by somebody who may send it."""
    client = Client()
    client.force_login(ManagerFactory())
    return {kind: form(client) for kind, form in FORMS.items()}


@pytest.fixture
def forms(opened_forms: Forms) -> Forms:
    """The forms with fields of a test's own to spoil."""
    return {kind: (url, dict(fields)) for kind, (url, fields) in opened_forms.items()}


def refused(client: Client, url: str, fields: Fields) -> Any:
    """Send a form that must not be taken, and return the page it is shown on again."""
    before = everything()
    response = client.post(url, fields)
    assert response.status_code == 200
    assert changed(before) == set()
    return response


@pytest.mark.parametrize("kind", FORMS)
def test_each_of_these_forms_is_taken_as_it_stands(
    manager_client: Client, forms: Forms, kind: str
) -> None:
    url, fields = forms[kind]
    before = everything()
    assert manager_client.post(url, fields).status_code == 302
    assert changed(before)


# Of no yard: lots of which no pad is anywhere yet, and pads that nobody said lie in which.
OF_NO_YARD = {"lot", "lot correction", "surveillance", "stock"}


@pytest.mark.parametrize("kind", sorted(set(FORMS) - OF_NO_YARD))
def test_a_form_filled_in_well_is_refused_to_who_is_bound_to_another_yard(
    forms: Forms, kind: str
) -> None:
    url, fields = forms[kind]
    client = Client()
    client.force_login(bound_to(YardFactory(name="North Pier")))
    before = everything()
    answer = client.post(url, fields)
    assert "is bound to North Pier" in words(answer)
    assert changed(before) <= {"fleet.Refusal", "fleet.Leaf"}


@pytest.mark.parametrize("kind", sorted({row[0] for row in NUMBERS}))
@pytest.mark.parametrize(("given", "said"), SPOILS)
def test_numbers_that_cannot_be_are_each_answered_beside_their_field(
    manager_client: Client, forms: Forms, kind: str, given: str, said: str
) -> None:
    url, fields = forms[kind]
    names = [name for form, name, *_ in NUMBERS if form == kind]
    response = refused(manager_client, url, fields | dict.fromkeys(names, given))
    again = fields_of(response)
    for name in names:
        assert said in error_at(response, name), name
        assert again[name] == given


@pytest.mark.parametrize(("given", "said"), ODD_SPOILS)
def test_a_number_written_oddly_is_answered_beside_its_field(
    manager_client: Client, forms: Forms, given: str, said: str
) -> None:
    url, fields = forms["count"]
    response = refused(manager_client, url, fields | {"travel_in": given})
    assert said in error_at(response, "travel_in")


@pytest.mark.parametrize("kind", sorted({row[0] for row in NUMBERS if not row[2]}))
@pytest.mark.parametrize("blank", ["", "   "])
def test_numbers_left_blank_are_each_asked_for(
    manager_client: Client, forms: Forms, kind: str, blank: str
) -> None:
    url, fields = forms[kind]
    names = [name for form, name, may_be_blank, _ in NUMBERS if form == kind and not may_be_blank]
    # Of a reading one of the pair: with both blank the row is no reading.
    names = [name for name in names if name != "r-1-gauge_psi"]
    response = refused(manager_client, url, fields | dict.fromkeys(names, blank))
    for name in names:
        assert "This is blank: give" in error_at(response, name), name


@pytest.mark.parametrize(("kind", "name"), [row[:2] for row in NUMBERS if not row[3]])
def test_a_zero_where_none_can_be_is_refused(
    manager_client: Client, forms: Forms, kind: str, name: str
) -> None:
    url, fields = forms[kind]
    assert error_at(refused(manager_client, url, fields | {name: "0"}), name)


@pytest.mark.parametrize(("kind", "name"), [row[:2] for row in NUMBERS if row[3]])
def test_a_zero_where_it_can_be_is_taken(
    manager_client: Client, forms: Forms, kind: str, name: str
) -> None:
    url, fields = forms[kind]
    assert manager_client.post(url, fields | {name: "0"}).status_code == 302


@pytest.mark.parametrize(("kind", "name"), [row[:2] for row in NUMBERS])
def test_a_number_too_small_to_mean_anything_never_breaks_a_page(
    manager_client: Client, forms: Forms, kind: str, name: str
) -> None:
    url, fields = forms[kind]
    unit = rated_unit()
    for given in ("5e-324", "1e-9"):
        fields |= {name: given}
        if "submission_id" in fields:
            fields["submission_id"] = str(uuid.uuid4())
        response = manager_client.post(url, fields, follow=True)
        assert response.status_code == 200
        if not response.redirect_chain:
            continue
        # It was taken: the pages that show what came of it must bear it.
        assert manager_client.get(reverse("board")).status_code == 200
        assert manager_client.get(reverse("unit", args=[unit.housing.pk])).status_code == 200


def test_a_test_that_hardly_pressed_a_pad_is_refused(manager_client: Client, forms: Forms) -> None:
    url, fields = forms["bench"]
    fields |= {"r-0-gauge_psi": "1e-9", "r-1-gauge_psi": "2e-9"}
    assert "force on one pad is" in words(refused(manager_client, url, fields))


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        ("count", "seen_at"),
        ("replace", "fitted_at"),
        ("bench", "tested_at"),
        ("proof", "pulled_at"),
        ("stock", "occurred_at"),
        ("mounting", "at"),
        ("listing", "dated"),
    ],
)
def test_a_date_that_cannot_be_is_answered_beside_its_field(
    manager_client: Client, forms: Forms, kind: str, name: str
) -> None:
    url, fields = forms[kind]
    hour = "" if name == "dated" else "T09:00"
    before = everything()
    for given, said in (
        (f"2999-01-01{hour}", "is in the future: give"),
        (f"9999-12-31{hour}", "is in the future: give"),
        (f"0001-01-01{hour}", "too long ago"),
        (f"1949-12-30{hour}", "too long ago"),
        ("yesterday", "This is not a"),
        (f"2026-02-30{hour}", "This is not a"),
        ("", "This is blank: give the"),
    ):
        response = manager_client.post(url, fields | {name: given})
        assert said in error_at(response, name), given
    assert changed(before) == set()


@pytest.mark.parametrize("kind", ["count", "replace", "proof"])
@pytest.mark.parametrize("given", ["", "x", "-1", "1.5", "9" * 5000])
def test_a_ledger_number_nobody_was_shown_is_no_server_error(
    manager_client: Client, forms: Forms, kind: str, given: str
) -> None:
    url, fields = forms[kind]
    response = refused(manager_client, url, fields | {"based_on": given})
    assert "Nothing was saved" in words(response)


@pytest.mark.parametrize("kind", ["count", "replace"])
def test_a_ledger_number_from_the_future_is_told_that_the_unit_moved_on(
    manager_client: Client, forms: Forms, kind: str
) -> None:
    url, fields = forms[kind]
    response = refused(manager_client, url, fields | {"based_on": "99999999999999999999"})
    assert "signed this unit since you opened the page" in words(response)


@pytest.mark.parametrize(
    "kind", ["count", "replace", "bench", "proof", "stock", "listing", "policy", "surveillance"]
)
@pytest.mark.parametrize("given", ["", "x", "1234", "\x00", "z" * 36])
def test_a_form_id_that_is_none_is_no_server_error(
    manager_client: Client, forms: Forms, kind: str, given: str
) -> None:
    url, fields = forms[kind]
    response = refused(manager_client, url, fields | {"submission_id": given})
    assert "form id" in words(response)


@pytest.mark.parametrize("kind", FORMS)
def test_a_form_sent_empty_is_no_server_error(
    manager_client: Client, forms: Forms, kind: str
) -> None:
    url, _fields = forms[kind]
    assert "Nothing was saved" in words(refused(manager_client, url, {}))


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        ("count", "note"),
        ("count", "travel_reason"),
        ("replace", "note"),
        ("bench", "note"),
        ("proof", "note"),
        ("proof", "anchor"),
        ("proof", "witness"),
        ("stock", "note"),
        ("listing", "note"),
        ("listing", "source"),
        ("policy", "reason"),
        ("surveillance", "reason"),
        ("lot", "mark"),
        ("lot", "supplier"),
    ],
)
def test_a_text_of_a_hundred_thousand_letters_is_refused_beside_its_field(
    manager_client: Client, forms: Forms, kind: str, name: str
) -> None:
    url, fields = forms[kind]
    response = refused(manager_client, url, fields | {name: "x" * 100_000, "travel_in": "99"})
    assert error_at(response, name)


def test_a_nul_in_a_mark_is_refused(manager_client: Client, forms: Forms) -> None:
    kind, name = "lot", "mark"
    url, fields = forms[kind]
    response = refused(manager_client, url, fields | {name: "a\x00b"})
    assert "Null characters are not allowed" in error_at(response, name)


def test_markup_in_a_text_is_shown_as_it_was_typed(manager_client: Client, forms: Forms) -> None:
    url, fields = forms["lot"]
    spoil = '<script>alert("x")</script>'
    manager_client.post(url, fields | {"mark": "L<b>", "note": spoil})
    page = manager_client.get(reverse("lot", args=[PadLot.objects.get(mark="L<b>").pk]))
    assert spoil not in page.content.decode()
    assert 'alert("x")' in words(page).replace("&quot;", '"')


def test_a_lot_s_mark_taken_already_is_answered_beside_its_field(
    manager_client: Client, forms: Forms
) -> None:
    taken = PadLotFactory().mark
    url, fields = forms["lot"]
    response = refused(manager_client, url, fields | {"mark": taken})
    assert f"Lot {taken} is on record already" in error_at(response, "mark")


def test_a_lot_s_mark_taken_in_other_letters_is_refused_too(
    manager_client: Client, forms: Forms
) -> None:
    PadLotFactory(mark="TR-9Z")
    url, fields = forms["lot"]
    response = refused(manager_client, url, fields | {"mark": "tr-9z"})
    assert "Lot TR-9Z is on record already" in error_at(response, "mark")


@pytest.mark.parametrize(
    ("name", "given", "said"),
    [
        ("lot-A1", "999999", "“999999” is no lot on record"),
        ("lot-A1", "9" * 30, "is no lot on record"),
        ("lot-A1", "x", "“x” is no lot on record"),
        ("lot-A1", "1 OR 1=1", "is no lot on record"),
        ("condition-A1", "melted", "“melted” at A1 is no condition: choose sound"),
        ("condition-A1", "", "A1 was not counted"),
        ("condition-A1", "SOUND", "is no condition"),
        ("condition-A1", "\x00", "is no condition"),
        ("condition-A1", ["sound", "cracked"], "A1 is given twice"),
        ("lot-A1", ["", ""], "A1 is given twice"),
    ],
)
def test_a_position_that_cannot_be_is_answered_beside_it(
    manager_client: Client, forms: Forms, name: str, given: Any, said: str
) -> None:
    url, fields = forms["count"]
    response = refused(manager_client, url, fields | {name: given})
    assert said in error_at_position(response, "A1")


@pytest.mark.parametrize("name", ["A5", "B99", "C1", ""])
@pytest.mark.parametrize("kind", ["count", "replace"])
def test_more_pads_than_positions_are_refused(
    manager_client: Client, forms: Forms, kind: str, name: str
) -> None:
    url, fields = forms[kind]
    response = refused(manager_client, url, fields | {f"lot-{name}": ""})
    assert "is not on housing" in words(response)
    assert "it has 4 on each side" in words(response)


def test_hours_below_the_last_reading_are_answered_beside_their_field(
    manager_client: Client,
    forms: Forms,
) -> None:
    url, fields = forms["count"]
    manager_client.post(url, fields | {"hours": "500"})
    fields = all_sound(manager_client, url) | {"hours": "499.5"}
    response = refused(manager_client, url, fields)
    assert "499.5 h is below the 500 h read on" in error_at(response, "hours")


def test_hours_of_a_housing_on_no_hammer_are_answered_beside_their_field(
    manager_client: Client,
) -> None:
    housing = HousingFactory(positions_per_side=1)
    url = reverse("count-pads", args=[housing.pk])
    fields = opened(manager_client, url) | {"condition-A1": "missing", "condition-B1": "missing"}
    response = refused(manager_client, url, fields | {"hours": "5"})
    assert "was on no hammer then, so there is no meter" in error_at(response, "hours")


def test_a_lot_with_no_stock_is_refused(manager_client: Client, forms: Forms) -> None:
    url, fields = forms["replace"]
    empty = PadLotFactory()
    response = refused(manager_client, url, fields | {"lot-A1": str(empty.pk)})
    assert f"Lot {empty.mark} has 0 in stock and 1 is asked for" in words(response)


def test_a_replacement_of_nothing_is_refused(manager_client: Client, forms: Forms) -> None:
    url, fields = forms["replace"]
    response = refused(manager_client, url, fields | {"lot-A1": ""})
    assert "No position was given a pad: choose at least one" in words(response)


def test_scrapping_more_than_there_is_is_answered_beside_its_field(
    manager_client: Client, forms: Forms
) -> None:
    url, fields = forms["stock"]
    response = refused(manager_client, url, fields | {"kind": "scrapped", "pads": "5"})
    assert "has 0 in stock and 5 are asked for" in error_at(response, "pads")


@pytest.mark.parametrize("kind", ["fitted", "", "stolen"])
def test_a_stock_move_of_another_kind_is_refused(
    manager_client: Client, forms: Forms, kind: str
) -> None:
    url, fields = forms["stock"]
    assert error_at(refused(manager_client, url, fields | {"kind": kind}), "kind")


@pytest.mark.parametrize("hammer", ["999999", "x", "9" * 40])
def test_a_hammer_that_is_none_is_refused(
    manager_client: Client, forms: Forms, hammer: str
) -> None:
    url, fields = forms["mounting"]
    assert error_at(refused(manager_client, url, fields | {"hammer": hammer}), "hammer")


def test_a_housing_moved_to_where_it_is_is_answered_beside_the_field(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    url = reverse("mounting", args=[unit.housing.pk])
    response = refused(
        manager_client, url, opened(manager_client, url) | {"hammer": unit.hammer.pk}
    )
    assert "already: choose another" in error_at(response, "hammer")


def test_a_move_before_the_mounting_began_is_answered_beside_the_field(
    manager_client: Client,
    forms: Forms,
) -> None:
    url, fields = forms["mounting"]
    response = refused(manager_client, url, fields | {"at": "2026-01-01T09:00"})
    assert "give a later time" in error_at(response, "at")


@pytest.mark.parametrize(
    ("changes", "at", "said"),
    [
        ({"r-0-tape_in": "9"}, "r-0-tape_in", "Tape 9 in is below the datum of 10 in"),
        ({"r-1-gauge_psi": "50"}, "r-1-gauge_psi", "Pressure falls from 100 psi to 50 psi"),
        ({"gauge_zero_psi": "150"}, "r-0-gauge_psi", "Gauge 100 psi is below its zero of 150 psi"),
        ({"r-0-gauge_psi": ""}, "r-0-gauge_psi", "give both tape and gauge, or neither"),
        ({"stand": ""}, "stand", "required"),
        ({"stand": "99999"}, "stand", "not one of the available choices"),
        ({"gauge": ""}, "gauge", "required"),
        ({"gauge": "99999"}, "gauge", "not one of the available choices"),
        ({"tape": ""}, "tape", "required"),
        ({"r-0-branch": "sideways"}, "r-0-branch", "not one of the available choices"),
        ({"r-0-run": "21"}, "r-0-run", "won’t do: give 1 or more, up to 20"),
        ({"r-1-gauge_psi": "501"}, "r-1-gauge_psi", "beyond the gauge"),
        (
            {"r-2-tape_in": "12", "r-2-gauge_psi": "210", "r-2-branch": "unloading"},
            "r-2-gauge_psi",
            "given back more energy than they took",
        ),
        (
            {"r-2-tape_in": "11.5", "r-2-gauge_psi": "110", "r-2-branch": "unloading"},
            "r-2-branch",
            "has no stretch read on both branches",
        ),
        ({"tape_after_in": "9"}, "tape_after_in", "below the tape at rest"),
        ({"rubber_temperature_f": "500"}, "rubber_temperature_f", "won’t do: give"),
        ({"end": "middle"}, "end", "not one of the available choices"),
        ({"pads_in_test": "1.5"}, "pads_in_test", "is not a whole number"),
        ({"pads_in_test": "41"}, "pads_in_test", "won’t do: give 1 or more, up to 40"),
    ],
)
def test_a_bench_test_that_cannot_be_is_answered_beside_its_field(
    manager_client: Client, forms: Forms, changes: Fields, at: str, said: str
) -> None:
    url, fields = forms["bench"]
    response = refused(manager_client, url, fields | changes)
    assert said in error_at(response, at)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"r-1-tape_in": "", "r-1-gauge_psi": ""}, "1 reading given: give two or more"),
        (
            {"r-0-tape_in": "", "r-0-gauge_psi": "", "r-1-tape_in": "", "r-1-gauge_psi": ""},
            "No readings given: give two or more",
        ),
        ({"r-0-tape_in": "10", "r-1-tape_in": "10"}, "0 in every reading"),
        ({"r-0-gauge_psi": "0", "r-1-gauge_psi": "0"}, "0 in every reading"),
        ({"r-TOTAL_FORMS": "many"}, "ManagementForm data is missing or has been tampered with"),
        ({"r-TOTAL_FORMS": "-1"}, "No readings given: give two or more"),
        ({"r-TOTAL_FORMS": None}, "ManagementForm data is missing or has been tampered with"),
        ({"r-TOTAL_FORMS": "100000"}, "at most 200"),
        ({"r-TOTAL_FORMS": "9" * 5000}, "ManagementForm data is missing"),
        ({"r-1-tape_in": "11", "r-0-tape_in": "11"}, "Every reading is at one stretch, 1 in"),
    ],
)
def test_readings_that_cannot_be_are_answered_above_them(
    manager_client: Client, forms: Forms, changes: Fields, said: str
) -> None:
    url, fields = forms["bench"]
    sent = {name: value for name, value in (fields | changes).items() if value is not None}
    assert said in words(refused(manager_client, url, sent))


@pytest.mark.parametrize(
    ("changes", "at", "said"),
    [
        ({"indicator": ""}, "indicator", "required"),
        ({"indicator": "99999"}, "indicator", "not one of the available choices"),
        ({"tape": "99999"}, "tape", "not one of the available choices"),
        ({"anchor": "  "}, "anchor", "required"),
        ({"is_vibrating": ""}, "is_vibrating", "required"),
        ({"is_vibrating": "vibrating"}, "is_vibrating", "pull it again with the exciter still"),
        ({"is_vibrating": "maybe"}, "is_vibrating", "not one of the available choices"),
        ({"are_pads_as_recorded": "otherwise"}, "are_pads_as_recorded", "record the count or"),
        ({"rubber_temperature_f": "500"}, "rubber_temperature_f", "won’t do: give"),
        ({"r-0-stretch_in": ""}, "r-0-stretch_in", "give both load and stretch, or neither"),
        ({"r-0-branch": "sideways"}, "r-0-branch", "not one of the available choices"),
        ({"r-3-stretch_in": "7"}, "r-3-stretch_in", "is beyond the usable travel of 6 in"),
        ({"tare_lbf": "9000"}, "r-0-load_lbf", "7,500 lbf is no more than the 9,000 lbf"),
    ],
)
def test_a_proof_pull_that_cannot_be_is_answered_beside_its_field(
    manager_client: Client, forms: Forms, changes: Fields, at: str, said: str
) -> None:
    url, fields = forms["proof"]
    assert said in error_at(refused(manager_client, url, fields | changes), at)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({f"r-{row}-stretch_in": "2" for row in range(4)}, "All readings are at one stretch"),
        (
            {f"r-{row}-load_lbf": str(3.75 * (row + 1)) for row in range(4)},
            "it looks like loads in tons typed as lbf",
        ),
        (
            {f"r-{row}-{name}": "" for row in (2, 3) for name in ("load_lbf", "stretch_in")},
            "2 readings to compare: give 3 or more",
        ),
        ({"r-TOTAL_FORMS": "many"}, "ManagementForm data is missing or has been tampered with"),
        ({"r-TOTAL_FORMS": "-1"}, "No readings to compare"),
        ({"r-TOTAL_FORMS": "100000"}, "at most 60"),
        ({"weight_below_lb": "90000"}, "alone stretches them as far as they are known, to"),
    ],
)
def test_readings_of_a_proof_pull_that_cannot_be_are_answered_above_them(
    manager_client: Client, forms: Forms, changes: Fields, said: str
) -> None:
    url, fields = forms["proof"]
    assert said in words(refused(manager_client, url, fields | changes))


@pytest.mark.parametrize("total", ["many", "", "-1", "²", "100000", "9" * 5000])
@pytest.mark.parametrize("button", ["more_rows", "show"])
def test_a_tampered_proof_pull_is_no_server_error(
    manager_client: Client, forms: Forms, total: str, button: str
) -> None:
    url, fields = forms["proof"]
    refused(manager_client, url, fields | {"r-TOTAL_FORMS": total, button: "1"})


@pytest.mark.parametrize("total", ["many", "", "-1", "²", "100000", "9" * 5000])
def test_more_rows_of_a_tampered_form_is_no_server_error(
    manager_client: Client, forms: Forms, total: str
) -> None:
    url, fields = forms["bench"]
    refused(manager_client, url, fields | {"r-TOTAL_FORMS": total, "more_rows": "1"})


@pytest.mark.parametrize("spoil", ["-3", "NaN", "1e308", "5,5", "", "0", "1e-300", "1" * 5000])
def test_previews_of_spoiled_forms_are_no_server_error(
    manager_client: Client, forms: Forms, spoil: str
) -> None:
    bench_url, bench = forms["bench"]
    count_url, count = forms["count"]
    before = everything()
    for name in ("tape_datum_in", "r-0-tape_in", "r-1-gauge_psi", "r-TOTAL_FORMS", "stand"):
        response = manager_client.post(f"{bench_url}preview/", bench | {name: spoil})
        assert response.status_code == 200
    for name in ("travel_in", "lot-A1", "condition-A1", "seen_at"):
        response = manager_client.post(count_url, count | {name: spoil, "show": "1"})
        assert response.status_code == 200
    assert changed(before) == set()


def test_readings_beyond_any_pad_are_refused_before_they_break_a_unit(
    manager_client: Client,
    forms: Forms,
) -> None:
    url, fields = forms["bench"]
    fields |= {"stand": str(StandFactory(bore_in=40.0).pk), "pads_in_test": "1"}
    fields |= {"gauge": str(GaugeFactory(span_psi=20_000.0).pk)}
    fields |= {"r-0-gauge_psi": "10000", "r-1-gauge_psi": "20000"}
    assert "no more than 1,000,000" in words(refused(manager_client, url, fields))


TOKEN = {"name": "Cranes", "role": "dispatcher", "scopes": ["read"], "old": "line-pull-test"}


@pytest.mark.parametrize(
    ("changes", "at", "said"),
    [
        ({"name": ""}, "name", "say what uses the token"),
        ({"name": "x" * 50_000}, "name", "60 at the most"),
        ({"name": "Cran\u200bes"}, "name", "a character nobody sees (U+200B"),
        ({"name": "Cranes\0"}, "name", "characters"),
        ({"role": "owner"}, "role", "not one of the available choices"),
        ({"scopes": ["read", "everything"]}, "scopes", "not one of the available choices"),
        ({"scopes": []}, "scopes", "Nothing is ticked"),
        ({"expires_on": "yesterday"}, "expires_on", "This is not a day: give one such as"),
        ({"expires_on": "0001-01-01"}, "expires_on", "won’t do: give a day from today on"),
        ({"expires_on": "9999-12-31"}, "expires_on", "at the latest"),
        ({"expires_on": "2026-02-30"}, "expires_on", "This is not a day: give one such as"),
        ({"old": "x" * 100_000}, "old", "128 at the most"),
        ({"submission_id": "9" * 5000}, "", "form id"),
    ],
)
def test_a_token_that_cannot_be_is_answered_beside_its_field(
    manager_client: Client, changes: Fields, at: str, said: str
) -> None:
    cache.clear()
    url, day = reverse("new-token"), timezone.localdate().isoformat()
    fields = opened(manager_client, url) | TOKEN | {"expires_on": day} | changes
    response = refused(manager_client, url, fields)
    assert said in (error_at(response, at) if at else words(response))


@pytest.mark.parametrize(
    ("changes", "at", "said"),
    [
        ({"name": ""}, "name", "say where the passkey is kept"),
        ({"name": "x" * 50_000}, "name", "60 at the most"),
        ({"name": "Pho\u200bne"}, "name", "a character nobody sees (U+200B"),
        ({"old": "wrong"}, "old", "This is not your password"),
        ({"passkey": "x" * 100_000}, "", "20000 at the most"),
        ({"passkey": "{}"}, "", "answer is not right"),
        ({"submission_id": "none"}, "", "form id"),
    ],
)
def test_a_passkey_that_cannot_be_is_answered_beside_its_field(
    manager_client: Client, changes: Fields, at: str, said: str
) -> None:
    cache.clear()
    url, here = reverse("new-passkey"), {"SERVER_NAME": "localhost"}
    manager_client.defaults |= here
    fields = opened(manager_client, url) | {"name": "Phone", "old": "line-pull-test"} | changes
    response = refused(manager_client, url, fields)
    assert said in (error_at(response, at) if at else words(response))


@pytest.mark.parametrize("old", ["", " ", "x" * 50_000, "\u200b", "not it"])
def test_no_recovery_codes_are_made_by_a_password_that_cannot_be(
    manager_client: Client, manager: Any, old: str
) -> None:
    cache.clear()
    given_passkey(manager)
    assert error_at(refused(manager_client, reverse("new-recovery-codes"), {"old": old}), "old")


@pytest.mark.parametrize("reason", ["", " ", "x" * 50_000, "\u200b"])
def test_a_passkey_is_taken_away_for_no_reason_that_cannot_be(
    manager_client: Client, manager: Any, reason: str
) -> None:
    given_passkey(manager)
    url = reverse("end-passkey", args=[Passkey.objects.get().pk])
    fields = opened(manager_client, url) | {"reason": reason, "old": "line-pull-test"}
    assert error_at(refused(manager_client, url, fields), "reason")


@pytest.mark.parametrize("reason", ["", " ", "x" * 50_000, "\u200b"])
def test_a_token_is_withdrawn_for_no_reason_that_cannot_be(
    manager_client: Client, manager: Any, reason: str
) -> None:
    url = reverse("end-token", args=[token_of(manager).token.pk])
    fields = opened(manager_client, url) | {"reason": reason}
    assert error_at(refused(manager_client, url, fields), "reason")


@pytest.mark.parametrize(
    ("given", "status"),
    [
        (-3, 422),
        (1e308, 422),
        (10**400, 400),
        ("five", 400),
        ("5", 400),
        (None, 400),
        (True, 400),
        ([5], 400),
        ({"hours": 5}, 400),
    ],
)
def test_a_number_a_program_sends_that_cannot_be_is_answered_by_its_field(
    manager: Any, given: Any, status: int
) -> None:
    hammer, program = HammerFactory(), program_of(manager)
    sent = {"sort": "hammer", "machine": hammer.pk, "read_at": timezone.now().isoformat()}
    before = everything()
    answer = program.post("hour-readings", sent | {"hours": given})
    assert answer.status_code == status, answer.content
    assert changed(before) <= {"fleet.ApiTokenUse"}
    told = answer.json()
    if given == 10**400:
        assert "beyond any that is kept" in told["detail"]
        return
    (error,) = told["errors"]
    assert error["field"].startswith("hours")
    assert error["message"]
