from __future__ import annotations

from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from fleet.models import Hammer, SuppressorHousing, Yard
from ratings.models import Gauge, LoadIndicator, Tape
from ratings.models import TestStand as Stand
from tests.all_tables import changed, everything
from tests.builders import rated_unit
from tests.factories import (
    GaugeFactory,
    HammerFactory,
    HousingFactory,
    LoadIndicatorFactory,
    TapeFactory,
    YardFactory,
)
from tests.factories import TestStandFactory as StandFactory
from tests.site.html_form import words

pytestmark = pytest.mark.django_db
NOT_HERE = (
    "ratings/ledgerentry",
    "ratings/currentrating",
    "ratings/benchtest",
    "ratings/lotrating",
    "ratings/ratingapproval",
    "ratings/ratingwithdrawal",
    "ratings/listing",
    "ratings/ratingpolicy",
    "inspections/inspection",
    "inspections/padreplacement",
    "fleet/padlot",
    "fleet/padposition",
    "fleet/stockmove",
    "fleet/mounting",
    "fleet/hourreading",
    "auth/user",
    "auth/group",
)

TOLERANCES = {"bore_tolerance_in": "0.005", "rod_tolerance_in": "0.005"}


def add(client: Client, model: str, **fields: Any) -> Any:
    return client.post(reverse(f"admin:{model}_add"), fields)


def change(client: Client, model: str, key: int, **fields: Any) -> Any:
    return client.post(reverse(f"admin:{model}_change", args=[key]), fields)


def housing_fields(yard: Yard, **more: Any) -> dict[str, Any]:
    return {"yard": yard.pk, "mark": "S-1", "positions_per_side": 3, "design_travel_in": 7} | more


def test_a_manager_enters_a_yard_and_a_hammer(manager_client: Client) -> None:
    assert add(manager_client, "fleet_yard", name="Ferry yard", place="").status_code == 302
    yard = Yard.objects.get(name="Ferry yard")
    assert add(manager_client, "fleet_hammer", yard=yard.pk, mark="V-1").status_code == 302
    assert Hammer.objects.get().yard == yard


def test_a_housing_entered_gets_a_position_for_every_pad(manager_client: Client) -> None:
    fields = housing_fields(YardFactory())
    assert add(manager_client, "fleet_suppressorhousing", **fields).status_code == 302
    housing = SuppressorHousing.objects.get()
    assert [str(each) for each in housing.positions.all()] == ["A1", "A2", "A3", "B1", "B2", "B3"]
    assert {each.condition for each in housing.positions.all()} == {""}


@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("positions_per_side", "0"),
        ("positions_per_side", "-2"),
        ("positions_per_side", "1000"),
        ("positions_per_side", "2.5"),
        ("positions_per_side", "1e308"),
        ("positions_per_side", "x"),
        ("design_travel_in", "0"),
        ("design_travel_in", "-1"),
        ("design_travel_in", "nan"),
        ("design_travel_in", "inf"),
        ("design_travel_in", "1e308"),
        ("design_travel_in", "5,5"),
        ("design_travel_in", ""),
        ("mark", ""),
        ("yard", ""),
    ],
)
def test_a_housing_that_cannot_be_is_refused(manager_client: Client, name: str, given: str) -> None:
    fields = housing_fields(YardFactory()) | {name: given}
    response = add(manager_client, "fleet_suppressorhousing", **fields)
    assert response.status_code == 200
    assert response.context["adminform"].form.errors[name]
    assert not SuppressorHousing.objects.exists()


def test_a_stand_is_entered(manager_client: Client) -> None:
    fields = {"yard": YardFactory().pk, "name": "Shed", "bore_in": "4.75", "rod_in": "2"}
    fields |= TOLERANCES
    assert add(manager_client, "ratings_teststand", **fields).status_code == 302
    assert Stand.objects.get().bore_in == 4.75


@pytest.mark.parametrize("rod", ["4", "5"])
def test_a_rod_as_wide_as_the_bore_is_answered_beside_its_field(
    manager_client: Client, rod: str
) -> None:
    fields = {"yard": YardFactory().pk, "name": "Shed", "bore_in": "4", "rod_in": rod}
    response = add(manager_client, "ratings_teststand", **fields)
    assert response.status_code == 200
    said = response.context["adminform"].form.errors["rod_in"]
    assert f"{rod} in is no narrower than the bore of 4 in" in said[0]
    assert not Stand.objects.exists()


@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("bore_in", "0"),
        ("bore_in", "-1"),
        ("bore_in", "nan"),
        ("bore_in", "1e308"),
        ("rod_in", "-1"),
    ],
)
def test_a_cylinder_that_cannot_be_is_refused(
    manager_client: Client, name: str, given: str
) -> None:
    fields = {"yard": YardFactory().pk, "name": "Shed", "bore_in": "4", "rod_in": "0"}
    response = add(manager_client, "ratings_teststand", **fields | {name: given})
    assert response.status_code == 200
    assert response.context["adminform"].form.errors[name]


def test_marks_and_positions_are_fixed_once_recorded(manager_client: Client) -> None:
    housing, hammer = HousingFactory(positions_per_side=4), HammerFactory()
    fields = housing_fields(housing.yard, mark="OTHER", positions_per_side=9, design_travel_in=6)
    change(manager_client, "fleet_suppressorhousing", housing.pk, **fields)
    change(manager_client, "fleet_hammer", hammer.pk, yard=hammer.yard_id, mark="OTHER")
    kept = SuppressorHousing.objects.get()
    assert (kept.mark, kept.positions_per_side) == (housing.mark, 4)
    assert kept.design_travel_in == 6
    assert Hammer.objects.get().mark == hammer.mark


def test_what_the_ledger_rests_on_is_untouched_by_a_change_of_set_up(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    before = everything()
    fields = housing_fields(unit.housing.yard, design_travel_in=5, bumper="block", travel_in=1)
    change(manager_client, "fleet_suppressorhousing", unit.housing.pk, **fields)
    unit.housing.refresh_from_db()
    assert unit.housing.bumper == "block"
    assert unit.housing.travel_in == 6.0
    assert changed(before) == {"fleet.SuppressorHousing"}


def test_a_stand_s_new_bore_changes_no_test_on_record(manager_client: Client) -> None:
    unit = rated_unit()
    stand = Stand.objects.get()
    before = everything()
    fields = {"yard": stand.yard_id, "name": stand.name, "bore_in": "6", "rod_in": "1"}
    fields |= TOLERANCES
    assert change(manager_client, "ratings_teststand", stand.pk, **fields).status_code == 302
    assert changed(before) == {"ratings.TestStand"}
    page = manager_client.get(reverse("bench-test", args=[unit.lot.bench_tests.get().pk]))
    assert "bore 4 in" in words(page)
    assert "1,000 lbf/in" in words(page)


def test_a_gauge_and_a_tape_are_entered(manager_client: Client) -> None:
    yard = YardFactory()
    gauge = {"yard": yard.pk, "mark": "SG-1", "span_psi": "1500", "grade": "1A"}
    gauge |= {"resolution_psi": "5", "calibrated_on": "2026-01-05", "due_on": "2027-01-05"}
    assert add(manager_client, "ratings_gauge", **gauge).status_code == 302
    tape = {"yard": yard.pk, "mark": "T-1", "resolution_in": "0.0625"}
    assert add(manager_client, "ratings_tape", **tape).status_code == 302
    assert str(Gauge.objects.get()) == "SG-1 (0–1500 psi, grade 1A)"
    assert str(Tape.objects.get()) == "T-1 (to 0.0625 in)"


def test_a_gauge_due_before_it_was_calibrated_is_refused(manager_client: Client) -> None:
    gauge = {"yard": YardFactory().pk, "mark": "SG-1", "span_psi": "1500", "grade": "1A"}
    gauge |= {"resolution_psi": "5", "calibrated_on": "2027-01-05", "due_on": "2026-01-05"}
    assert add(manager_client, "ratings_gauge", **gauge).status_code == 200
    assert not Gauge.objects.exists()


def indicator(**more: Any) -> dict[str, Any]:
    return {
        "yard": YardFactory().pk,
        "mark": "LC-1",
        "kind": "load cell",
        "accuracy_pct": "0.5",
        "resolution_lbf": "50",
        "calibrated_on": "2026-01-05",
        "due_on": "2027-01-05",
    } | more


def test_a_load_indicator_is_entered(manager_client: Client) -> None:
    assert add(manager_client, "ratings_loadindicator", **indicator()).status_code == 302
    assert LoadIndicator.objects.get().accuracy_pct == 0.5


@pytest.mark.parametrize(
    "spoilt",
    [
        {"accuracy_pct": "0"},
        {"accuracy_pct": "51"},
        {"accuracy_pct": "NaN"},
        {"resolution_lbf": "0"},
        {"resolution_lbf": "fifty"},
        {"kind": "spring balance"},
        {"calibrated_on": "2027-01-05", "due_on": "2026-01-05"},
    ],
)
def test_a_load_indicator_that_cannot_be_is_refused(
    manager_client: Client, spoilt: dict[str, str]
) -> None:
    given = indicator(**spoilt)
    assert add(manager_client, "ratings_loadindicator", **given).status_code == 200
    assert not LoadIndicator.objects.exists()


def test_a_gauge_calibrated_anew_changes_no_test_on_record(manager_client: Client) -> None:
    unit = rated_unit()
    test = unit.lot.bench_tests.get()
    before = everything()
    gauge = {"yard": test.gauge.yard_id, "mark": test.gauge.mark, "span_psi": "3000"}
    gauge |= {"grade": "B", "resolution_psi": "20", "calibrated_on": "2030-01-01"}
    assert change(manager_client, "ratings_gauge", test.gauge_id, **gauge).status_code == 302
    assert changed(before) == {"ratings.Gauge"}
    page = words(manager_client.get(reverse("bench-test", args=[test.pk])))
    assert "0–2,000 psi, grade 2A" in page
    assert "calibrated 1 Jan 2020, due 1 Jan 2035" in page
    assert "Not for rating" not in page


@pytest.mark.parametrize("model", ["yard", "hammer", "suppressorhousing"])
def test_nothing_is_ever_deleted(manager_client: Client, model: str) -> None:
    housing, hammer = HousingFactory(), HammerFactory()
    key = {"yard": housing.yard_id, "hammer": hammer.pk, "suppressorhousing": housing.pk}[model]
    before = everything()
    url = reverse(f"admin:fleet_{model}_delete", args=[key])
    assert manager_client.post(url, {"post": "yes"}).status_code == 403
    sent = {"action": "delete_selected", "_selected_action": key, "post": "yes"}
    manager_client.post(reverse(f"admin:fleet_{model}_changelist"), sent)
    assert changed(before) == set()


def test_a_stand_is_never_deleted(manager_client: Client) -> None:
    stand = StandFactory()
    url = reverse("admin:ratings_teststand_delete", args=[stand.pk])
    assert manager_client.post(url, {"post": "yes"}).status_code == 403


@pytest.mark.parametrize(
    ("model", "made"),
    [("gauge", GaugeFactory), ("tape", TapeFactory), ("loadindicator", LoadIndicatorFactory)],
)
def test_an_instrument_is_never_deleted(manager_client: Client, model: str, made: Any) -> None:
    url = reverse(f"admin:ratings_{model}_delete", args=[made().pk])
    assert manager_client.post(url, {"post": "yes"}).status_code == 403


@pytest.mark.parametrize("path", NOT_HERE)
def test_a_manager_reaches_nothing_the_ledger_rests_on(manager_client: Client, path: str) -> None:
    for tail in ("", "add/", "1/change/", "1/delete/"):
        assert manager_client.get(f"/set-up/{path}/{tail}").status_code in (403, 404)


def test_the_index_offers_the_yard_s_set_up_alone(manager_client: Client) -> None:
    response = manager_client.get(reverse("admin:index"))
    offered = {
        model["object_name"] for app in response.context["app_list"] for model in app["models"]
    }
    assert offered == {
        "Yard",
        "Hammer",
        "SuppressorHousing",
        "TestStand",
        "Gauge",
        "Tape",
        "Thermometer",
        "ReferencePiece",
        "LoadIndicator",
    }


@pytest.mark.parametrize("role", ["dispatcher", "auditor"])
def test_a_reader_has_no_set_up_pages(role: str, request: pytest.FixtureRequest) -> None:
    client = request.getfixturevalue(f"{role}_client")
    for page in ("index", "fleet_yard_add", "ratings_teststand_changelist"):
        response = client.get(reverse(f"admin:{page}"))
        assert response.status_code == 302
        assert "login" in response["Location"]
    assert add(client, "fleet_yard", name="Mine").status_code == 302
    assert not Yard.objects.exists()


def test_nobody_of_these_roles_is_a_superuser(manager: User) -> None:
    assert not manager.is_superuser
    assert not User.objects.filter(is_superuser=True).exists()
