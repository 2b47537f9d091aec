"""What the yard owns, entered and changed inside the site, each change of it on record."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.machines.recording import connect_power_pack
from fleet.models import (
    Hammer,
    ReaderPreference,
    SetUpChange,
    StockMove,
    SuppressorHousing,
    Yard,
)
from fleet.setup.recording import change_thing
from fleet.setup.yard_things import HAMMER, HOUSING, YARD
from fleet.stock import move_stock
from ratings.models import (
    Gauge,
    LoadIndicator,
    ReferencePiece,
    Tape,
    Thermometer,
)
from ratings.models import TestStand as Stand
from ratings.mounting import mount_housing
from ratings.stands.things import INSTRUMENTS
from tests.all_tables import changed, everything
from tests.builders import MONDAY, bench_test, rated_unit
from tests.factories import (
    GaugeFactory,
    HammerFactory,
    HousingFactory,
    PadLotFactory,
    PowerPackFactory,
    TapeFactory,
    YardFactory,
)
from tests.job_builders import commit, figured_unit, transfer
from tests.site.html_form import words
from tests.stand_builders import calibrate

pytestmark = pytest.mark.django_db

THINGS = (YARD, HAMMER, HOUSING, *INSTRUMENTS)


def add(client: Client, thing: str, **fields: Any) -> Any:
    sent = {"submission_id": str(uuid.uuid4())} | fields
    return client.post(reverse(f"new-{thing}"), sent)


def opened(client: Client, url: str) -> dict[str, Any]:
    """What the form of a page holds as it is opened."""
    form = client.get(url).context["form"]
    return {name: "" if form[name].value() is None else form[name].value() for name in form.fields}


def change(client: Client, thing: str, key: int, **fields: Any) -> Any:
    url = reverse(f"change-{thing}", args=[key])
    return client.post(url, opened(client, url) | {"reason": "Read again."} | fields)


def retire(client: Client, thing: str, key: int, **fields: Any) -> Any:
    sent = {
        "submission_id": str(uuid.uuid4()),
        "on": timezone.localdate().isoformat(),
        "reason": "Sold.",
    }
    return client.post(reverse(f"retire-{thing}", args=[key]), sent | fields)


def errors_at(page: Any, name: str) -> str:
    assert page.status_code == 200
    return " ".join(page.context["form"].errors.get(name, []))


def housing_fields(yard: Yard, **more: Any) -> dict[str, Any]:
    return {"yard": yard.pk, "mark": "S-1", "positions_per_side": 3, "design_travel_in": 7} | more


def test_a_manager_enters_a_yard_and_a_hammer(manager: User, manager_client: Client) -> None:
    assert add(manager_client, "yard", name="Ferry yard", place="").status_code == 302
    yard = Yard.objects.get(name="Ferry yard")
    assert add(manager_client, "hammer", yard=yard.pk, mark="V-1").status_code == 302
    assert Hammer.objects.get().yard == yard
    entered = SetUpChange.objects.of(yard).get()
    assert (entered.kind, entered.recorded_by) == ("entered", manager)


def test_a_form_sent_twice_enters_one_thing(manager_client: Client) -> None:
    sent = {"submission_id": str(uuid.uuid4()), "name": "Ferry yard", "place": ""}
    first, second = (manager_client.post(reverse("new-yard"), sent) for _ in range(2))
    assert first["Location"] == second["Location"]
    assert Yard.objects.count() == SetUpChange.objects.count() == 1


def test_a_housing_entered_gets_a_position_for_every_pad(manager_client: Client) -> None:
    fields = housing_fields(YardFactory())
    assert add(manager_client, "housing", **fields).status_code == 302
    housing = SuppressorHousing.objects.get()
    assert [str(each) for each in housing.positions.all()] == ["A1", "A2", "A3", "B1", "B2", "B3"]
    assert {each.condition for each in housing.positions.all()} == {""}


@pytest.mark.parametrize(
    ("name", "given", "said"),
    [
        ("positions_per_side", "0", "give 1 or more, up to 24"),
        ("positions_per_side", "-2", "give 1 or more"),
        ("positions_per_side", "1000", "up to 24"),
        ("positions_per_side", "2.5", "not a whole number"),
        ("positions_per_side", "x", "not a number"),
        ("design_travel_in", "0", "give 0.1 in or more"),
        ("design_travel_in", "nan", "not a number"),
        ("design_travel_in", "1e308", "up to 36 in"),
        ("design_travel_in", "", "give a number such as"),
        ("weight_lb", "0", "more than 0 lb"),
        ("mark", "", "required"),
        ("mark", "S\u200b1", "nobody sees"),
        ("yard", "", "required"),
        ("yard", "999999", "not one of the available choices"),
        ("bumper", "x" * 1000, "120 at the most"),
        ("submission_id", "x", "not as the page gave it"),
    ],
)
def test_a_housing_that_cannot_be_is_refused_beside_the_field(
    manager_client: Client, name: str, given: str, said: str
) -> None:
    fields = housing_fields(YardFactory()) | {name: given}
    assert said in errors_at(add(manager_client, "housing", **fields), name)
    assert not SuppressorHousing.objects.exists()


def test_a_mark_taken_in_other_letters_is_refused(manager_client: Client) -> None:
    there = HammerFactory(mark="V-1A")
    page = add(manager_client, "hammer", yard=there.yard_id, mark="v-1a")
    assert "in other small or capital letters" in words(page)
    assert Hammer.objects.count() == 1


def stand(**more: Any) -> dict[str, Any]:
    return {
        "yard": YardFactory().pk,
        "name": "Shed",
        "bore_in": "4.75",
        "rod_in": "2",
        "bore_tolerance_in": "0.005",
        "rod_tolerance_in": "0.005",
    } | more


def test_a_stand_is_entered(manager_client: Client) -> None:
    assert add(manager_client, "test-stand", **stand()).status_code == 302
    assert Stand.objects.get().bore_in == 4.75


@pytest.mark.parametrize(
    ("spoilt", "at", "said"),
    [
        ({"bore_in": "0"}, "bore_in", "give 0.25 in or more"),
        ({"bore_in": "nan"}, "bore_in", "not a number"),
        ({"rod_in": "-1"}, "rod_in", "give 0 in or more"),
        ({"bore_in": "4", "rod_in": "5"}, "rod_in", "5 in is no narrower than the bore of 4 in"),
        ({"bore_tolerance_in": "2"}, "bore_tolerance_in", "up to 1 in"),
        ({"bore_measured_on": "2099-01-01"}, "bore_measured_on", "in the future"),
        ({"bore_measured_on": "soon"}, "bore_measured_on", "not a day"),
        ({"name": ""}, "name", "required"),
    ],
)
def test_a_stand_that_cannot_be_is_refused(
    manager_client: Client, spoilt: dict[str, str], at: str, said: str
) -> None:
    page = add(manager_client, "test-stand", **stand(**spoilt))
    assert said in errors_at(page, at)
    assert not Stand.objects.exists()


def gauge(**more: Any) -> dict[str, Any]:
    return {
        "yard": YardFactory().pk,
        "mark": "SG-1",
        "span_psi": "1500",
        "grade": "1A",
        "resolution_psi": "5",
        "calibrated_on": "2026-01-05",
        "due_on": "2027-01-05",
    } | more


def test_every_instrument_is_entered(manager_client: Client) -> None:
    yard = YardFactory()
    assert add(manager_client, "gauge", **gauge(yard=yard.pk)).status_code == 302
    tape = {"yard": yard.pk, "mark": "T-1", "resolution_in": "1/16"}
    assert add(manager_client, "tape", **tape).status_code == 302
    assert add(manager_client, "thermometer", yard=yard.pk, mark="TH-1").status_code == 302
    piece = {"yard": yard.pk, "mark": "REF-1", "kind": "spring"}
    assert add(manager_client, "reference-piece", **piece).status_code == 302
    assert add(manager_client, "load-indicator", **indicator()).status_code == 302
    assert str(Gauge.objects.get()) == "SG-1 (0–1500 psi, grade 1A)"
    assert str(Tape.objects.get()) == "T-1 (to 0.0625 in)"
    assert Thermometer.objects.get().mark == "TH-1"
    assert ReferencePiece.objects.get().kind == "spring"
    assert LoadIndicator.objects.get().accuracy_pct == 0.5


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


@pytest.mark.parametrize(
    ("thing", "spoilt", "at", "said"),
    [
        ("gauge", {"due_on": "2025-01-05"}, "due_on", "not after 5 Jan 2026"),
        ("gauge", {"calibrated_on": "2099-01-05"}, "calibrated_on", "in the future"),
        ("gauge", {"grade": "9Z"}, "grade", "not one of the available choices"),
        ("gauge", {"span_psi": "0"}, "span_psi", "give 1 psi or more"),
        ("gauge", {"span_psi": "1,500"}, "span_psi", "reads two ways"),
        ("load-indicator", {"accuracy_pct": "0"}, "accuracy_pct", "0.01 or more"),
        ("load-indicator", {"accuracy_pct": "NaN"}, "accuracy_pct", "not a number"),
        ("load-indicator", {"resolution_lbf": "fifty"}, "resolution_lbf", "not a number"),
        ("load-indicator", {"kind": "spring balance"}, "kind", "not one of the available"),
        ("load-indicator", {"due_on": "2025-01-05"}, "due_on", "not after 5 Jan 2026"),
    ],
)
def test_an_instrument_that_cannot_be_is_refused(
    manager_client: Client, thing: str, spoilt: dict[str, str], at: str, said: str
) -> None:
    given = (gauge if thing == "gauge" else indicator)(**spoilt)
    assert said in errors_at(add(manager_client, thing, **given), at)
    assert not Gauge.objects.exists()
    assert not LoadIndicator.objects.exists()


def test_a_change_is_kept_with_what_was_there_who_changed_it_and_why(
    manager: User, manager_client: Client
) -> None:
    housing = HousingFactory(design_travel_in=8.0, bumper="")
    url = reverse("change-housing", args=[housing.pk])
    sent = opened(manager_client, url) | {"design_travel_in": "7.5", "reason": "Taped anew."}
    for _ in range(2):
        assert manager_client.post(url, sent).status_code == 302
    kept = SetUpChange.objects.get()
    assert kept.changes == {"design_travel_in": [8.0, 7.5]}
    assert (kept.reason, kept.recorded_by) == ("Taped anew.", manager)
    page = words(manager_client.get(reverse("set-up-housing", args=[housing.pk])))
    assert "Design travel: 8 in → 7.5 in" in page
    ReaderPreference.objects.create(user=manager, units="si")
    page = words(manager_client.get(reverse("set-up-housing", args=[housing.pk])))
    assert "Design travel: 203.2 mm → 190.5 mm" in page


@pytest.mark.parametrize("reason", ["", "  "])
def test_nothing_is_changed_without_a_reason(manager_client: Client, reason: str) -> None:
    housing = HousingFactory()
    before = everything()
    page = change(manager_client, "housing", housing.pk, design_travel_in="7", reason=reason)
    assert "say why" in errors_at(page, "reason")
    assert changed(before) == set()


def test_a_form_that_changes_nothing_leaves_nothing_on_record(manager_client: Client) -> None:
    hammer = HammerFactory(exciter_weight_lb=8123.456, figures_source="Weighed.")
    before = everything()
    assert change(manager_client, "hammer", hammer.pk).status_code == 302
    assert changed(before) == set()


def test_two_who_change_one_thing_do_not_lose_each_other_s_change(manager_client: Client) -> None:
    housing = HousingFactory()
    url = reverse("change-housing", args=[housing.pk])
    late = opened(manager_client, url)
    change(manager_client, "housing", housing.pk, bumper="Block in the stop")
    page = manager_client.post(url, late | {"design_travel_in": "7", "reason": "Taped."})
    assert "Somebody has changed the record" in words(page)
    housing.refresh_from_db()
    assert (housing.bumper, housing.design_travel_in) == ("Block in the stop", 8.0)


def test_marks_and_positions_are_fixed_once_recorded(manager: User) -> None:
    housing, hammer = HousingFactory(positions_per_side=4), HammerFactory()
    for record, thing, changes in (
        (housing, HOUSING, {"positions_per_side": 9}),
        (housing, HOUSING, {"mark": "OTHER"}),
        (hammer, HAMMER, {"mark": "OTHER"}),
    ):
        with pytest.raises(ValidationError, match="stays as it is"):
            change_thing(
                record,
                changes,
                submission_id=uuid.uuid4(),
                reason="A try.",
                by=manager,
                fixed=thing.fixed(record),
            )


def test_what_the_ledger_rests_on_is_untouched_by_a_change_of_set_up(
    manager_client: Client,
) -> None:
    unit = rated_unit()
    before = everything()
    change(manager_client, "housing", unit.housing.pk, design_travel_in=7, bumper="block")
    unit.housing.refresh_from_db()
    assert (unit.housing.bumper, unit.housing.travel_in) == ("block", 6.0)
    assert changed(before) == {"fleet.SuppressorHousing", "fleet.SetUpChange", "fleet.Leaf"}


def test_a_stand_s_new_bore_changes_no_test_on_record(manager_client: Client) -> None:
    unit = rated_unit()
    there = Stand.objects.get()
    before = everything()
    assert change(manager_client, "test-stand", there.pk, bore_in="6").status_code == 302
    assert changed(before) == {"ratings.TestStand", "fleet.SetUpChange", "fleet.Leaf"}
    page = manager_client.get(reverse("bench-test", args=[unit.lot.bench_tests.get().pk]))
    assert "bore 4 in" in words(page)
    assert "1,000 lbf/in" in words(page)


def test_a_gauge_s_new_dates_change_no_test_on_record(manager_client: Client) -> None:
    unit = rated_unit()
    test = unit.lot.bench_tests.get()
    before = everything()
    new = {"span_psi": "3000", "grade": "B", "calibrated_on": "2026-01-01", "due_on": "2036-01-01"}
    assert change(manager_client, "gauge", test.gauge_id, **new).status_code == 302
    assert changed(before) == {"ratings.Gauge", "fleet.SetUpChange", "fleet.Leaf"}
    page = words(manager_client.get(reverse("bench-test", args=[test.pk])))
    assert "0–2,000 psi, grade 2A" in page
    assert "calibrated 1 Jan 2020, due 1 Jan 2035" in page
    assert "Not for rating" not in page


def test_dates_that_a_certificate_says_are_not_typed_over(
    manager: User, manager_client: Client
) -> None:
    gauge = GaugeFactory()
    calibrate(gauge, manager)
    form = manager_client.get(reverse("change-gauge", args=[gauge.pk])).context["form"]
    assert {"certificate_number", "calibrated_on", "due_on"}.isdisjoint(form.fields)


def test_what_is_out_of_use_says_since_when_and_why_and_can_be_brought_back(
    manager_client: Client,
) -> None:
    tape = TapeFactory()
    assert retire(manager_client, "tape", tape.pk, reason="Kinked.").status_code == 302
    page = words(manager_client.get(reverse("set-up-tape", args=[tape.pk])))
    assert "Out of use since" in page
    assert "Kinked." in page
    again = retire(manager_client, "tape", tape.pk)
    assert "already" in words(again)
    sent = {"submission_id": str(uuid.uuid4()), "reason": "Straightened."}
    url = reverse("bring-back-tape", args=[tape.pk])
    assert manager_client.post(url, sent).status_code == 302
    tape.refresh_from_db()
    assert tape.retired_on is None
    assert [each.kind for each in SetUpChange.objects.of(tape)] == ["brought back", "retired"]
    twice = manager_client.post(url, sent | {"submission_id": str(uuid.uuid4())})
    assert "in use already" in words(twice)


@pytest.mark.parametrize(
    ("spoilt", "at", "said"),
    [
        ({"on": ""}, "on", "give the day"),
        ({"on": "2099-01-01"}, "on", "in the future"),
        ({"on": "yesterday"}, "on", "not a day"),
        ({"reason": ""}, "reason", "say why"),
        ({"reason": "x" * 999}, "reason", "200 at the most"),
    ],
)
def test_nothing_goes_out_of_use_without_a_day_and_a_reason(
    manager_client: Client, spoilt: dict[str, str], at: str, said: str
) -> None:
    tape = TapeFactory()
    before = everything()
    assert said in errors_at(retire(manager_client, "tape", tape.pk, **spoilt), at)
    assert changed(before) == set()


def test_a_unit_is_taken_apart_before_its_machines_go_out_of_use(manager_client: Client) -> None:
    unit = rated_unit()
    pack = PowerPackFactory()
    connect_power_pack(power_pack=pack, hammer=unit.hammer, at=MONDAY, by=unit.manager)
    before = everything()
    page = words(retire(manager_client, "hammer", unit.hammer.pk))
    assert f"Housing {unit.housing} hangs on it" in page
    assert f"Power pack {pack} drives it" in page
    page = words(retire(manager_client, "housing", unit.housing.pk))
    assert f"It hangs on hammer {unit.hammer}" in page
    assert changed(before) == set()


def test_what_is_committed_or_to_be_sent_goes_out_of_use_after_that(
    manager_client: Client,
) -> None:
    made = commit(figured_unit())
    page = words(retire(manager_client, "housing", made.housing_id))
    assert "It is committed to" in page
    unit = rated_unit()
    transfer(unit)
    page = words(retire(manager_client, "hammer", unit.hammer.pk))
    assert "record its arrival, or cancel it" in page


def test_a_yard_goes_out_of_use_empty(manager: User, manager_client: Client) -> None:
    yard = YardFactory(name="Ferry yard")
    hammer, lot = HammerFactory(yard=yard), PadLotFactory()
    move_stock(
        lot_id=lot.pk,
        kind=StockMove.Kind.RECEIVED,
        change=4,
        occurred_at=MONDAY,
        by=manager,
        yard=yard,
    )
    page = words(retire(manager_client, "yard", yard.pk))
    assert f"Hammers are in use there ({hammer})" in page
    assert f"lot {lot}" in page
    yard.refresh_from_db()
    assert yard.retired_on is None


def test_a_yard_out_of_use_is_offered_for_nothing_new(manager_client: Client) -> None:
    yard = YardFactory()
    retire(manager_client, "yard", yard.pk)
    page = add(manager_client, "hammer", yard=yard.pk, mark="V-1")
    assert "not one of the available choices" in errors_at(page, "yard")


@pytest.mark.parametrize("thing", THINGS, ids=lambda thing: thing.key)
def test_no_page_deletes_anything(thing: Any) -> None:
    from django.urls import get_resolver

    names = {name for name in get_resolver().reverse_dict if isinstance(name, str)}
    assert {thing.page, thing.retire_page} <= names
    assert not {name for name in names if "delete" in name}


@pytest.mark.parametrize("path", ["/admin/", "/set-up/fleet/yard/", "/set-up/auth/user/"])
def test_no_administration_panel_is_left(manager_client: Client, path: str) -> None:
    assert manager_client.get(path).status_code == 404


def test_the_set_up_page_leads_to_every_kind_of_thing(auditor_client: Client) -> None:
    page = auditor_client.get(reverse("set-up")).content.decode()
    for thing in THINGS:
        assert f'href="{reverse(thing.list_page)}"' in page
    for name in ("people", "first-steps", "machines", "lots", "policy"):
        assert f'href="{reverse(name)}"' in page


def test_nobody_of_these_roles_is_a_superuser(manager: User) -> None:
    assert not manager.is_superuser
    assert not User.objects.filter(is_superuser=True).exists()


def test_nothing_is_done_with_what_is_out_of_use_from_that_day_on(
    manager: User, manager_client: Client
) -> None:
    yesterday = timezone.localdate() - timedelta(days=1)
    housing, hammer = HousingFactory(), HammerFactory(retired_on=yesterday)
    with pytest.raises(ValidationError, match=f"{hammer} is out of use since"):
        mount_housing(housing=housing, hammer=hammer, at=timezone.now(), by=manager)
    before = timezone.now() - timedelta(days=3)
    assert mount_housing(housing=housing, hammer=hammer, at=before, by=manager)


@pytest.mark.parametrize("name", ["gauge", "tape", "stand"])
def test_a_bench_test_on_what_is_out_of_use_is_refused_beside_the_field(
    manager: User, manager_client: Client, name: str
) -> None:
    lot, at = PadLotFactory(), timezone.now() - timedelta(days=1)
    made = bench_test(lot, manager, at=at).test
    used = getattr(made, name)
    type(used).objects.filter(pk=used.pk).update(retired_on=timezone.localdate(at))
    with pytest.raises(ValidationError) as refusal:
        bench_test(lot, manager, at=timezone.now(), **{name: type(used).objects.get(pk=used.pk)})
    assert "out of use" in refusal.value.message_dict[name][0]
    options = words(manager_client.get(reverse("new-bench-test", args=[lot.pk])))
    assert "OUT OF USE since" in options


def test_a_housing_out_of_use_leaves_board_due_and_labels(manager_client: Client) -> None:
    gone, there = (HousingFactory(mark=mark) for mark in ("S-GONE", "S-THERE"))
    answer = retire(manager_client, "housing", gone.pk)
    manager_client.get(answer["Location"])
    for page in ("board", "labels", "units-calendar"):
        told = words(manager_client.get(reverse(page)))
        assert (gone.mark in told, there.mark in told) == (False, True), page
    listed = words(manager_client.get(reverse("set-up-housings")))
    assert "S-GONE out of use" in listed
