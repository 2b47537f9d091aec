from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.machines.recording import connect_power_pack
from fleet.models import MachineSort
from inspections.count.signing import Seen, Signed, sign_inspection
from inspections.count.submission import Submission
from inspections.models import Checklist, Inspection, KindNeeds, KindSorts, OwnKind, ServiceSchedule
from inspections.schedule.due import due_of_fleet, due_of_machine
from inspections.schedule.kinds import kind_named
from inspections.schedule.recording import add_kind, change_kind, change_sorts, retire_kind
from tests.builders import Unit, count, days_ago, qualified, rated_unit
from tests.factories import DispatcherFactory, PowerPackFactory
from tests.inspections.field.sent import payload, send, signed_in
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


@pytest.fixture
def unit() -> Unit:
    return rated_unit()


@pytest.fixture
def client(unit: Unit) -> Client:
    return signed_in(unit.manager)


@pytest.fixture
def oil_change(unit: Unit) -> OwnKind:
    return add_kind(
        submission_id=uuid.uuid4(),
        name="oil change",
        looks_at=[MachineSort.HAMMER],
        by=unit.manager,
    )


def add(client: Client, name: str) -> Any:
    form = {"submission_id": str(uuid.uuid4()), "name": name, "looks_at": ["hammer"]}
    return client.post(reverse("kinds"), form)


def schedule_oil(client: Client, kind: OwnKind) -> None:
    form = {
        "submission_id": str(uuid.uuid4()),
        "reason": "Gear oil.",
        f"own_{kind.pk}_hours": "500",
    }
    client.post(reverse("schedule"), form)


def test_a_kind_added_is_offered_to_phones_with_its_list(client: Client) -> None:
    answer = add(client, " Oil  change ")
    assert answer["Location"] == reverse("checklist", args=["oil change"])
    form = {
        "submission_id": str(uuid.uuid4()),
        "reason": "New.",
        "lines": "Exciter: oil let off hot",
    }
    client.post(answer["Location"], form)
    assert Checklist.objects.get().kind_name == "oil change"
    pack = client.get(reverse("field-pack")).json()
    assert [item["text"] for item in pack["checklists"]["oil change"]["items"]] == [
        "oil let off hot"
    ]


def test_a_kind_that_looks_at_nothing_is_refused(client: Client) -> None:
    page = client.post(reverse("kinds"), {"submission_id": str(uuid.uuid4()), "name": "grease"})
    assert "say what is looked at" in str(page.context["form"].errors["looks_at"])
    assert not OwnKind.objects.exists()


@pytest.mark.parametrize("name", ["Monthly", "oil/grease", "x" * 41, ""])
def test_a_name_that_will_not_do_is_refused(client: Client, name: str) -> None:
    page = add(client, name)
    assert page.context["form"].errors["name"]
    assert not OwnKind.objects.exists()


def test_a_name_is_given_once_whatever_its_capitals(client: Client, oil_change: OwnKind) -> None:
    assert "is there already" in add(client, "Oil Change").content.decode()
    with pytest.raises(IntegrityError):
        OwnKind.objects.create(
            name="OIL CHANGE", submission_id=uuid.uuid4(), recorded_by=oil_change.recorded_by
        )


def test_words_too_long_for_a_field_of_one_kind_are_said_in_the_yards_words(
    client: Client, oil_change: OwnKind
) -> None:
    name = f"own_{oil_change.pk}_by_whom"
    form = {"submission_id": str(uuid.uuid4()), "reason": "x", name: "x" * 81}
    page = client.post(reverse("schedule"), form)
    assert page.context["form"].errors[name] == ["This has 81 characters: 80 at the most."]


def test_it_is_due_by_the_hours_the_yard_gave_it(
    client: Client, unit: Unit, oil_change: OwnKind
) -> None:
    schedule_oil(client, oil_change)
    at = timezone.now() - timedelta(days=30)
    count(unit.housing, unit.manager, unit.lot, at=at, kind="oil change", hours=1000.0)
    [only] = due_of_fleet()[0].kinds
    assert (only.row.kind, only.hours_left, only.is_overdue) == ("oil change", 500.0, False)
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), hours=1510.0)
    [only] = due_of_fleet()[0].kinds
    assert only.words == "over by 10 h"


def test_a_phone_sends_an_inspection_of_it(client: Client, unit: Unit, oil_change: OwnKind) -> None:
    assert send(client, payload(unit, kind="oil change")).status_code == 201
    assert Inspection.objects.latest("pk").own_kind == oil_change


def test_a_kind_nobody_knows_is_refused_by_name(client: Client, unit: Unit) -> None:
    answer = send(client, payload(unit, kind="tea break"))
    assert answer.status_code == 422
    assert "“tea break” is no kind" in answer.json()["errors"]["kind"][0]


def test_a_retired_kind_is_due_no_more_and_offered_no_more(
    client: Client, unit: Unit, oil_change: OwnKind
) -> None:
    schedule_oil(client, oil_change)
    client.post(reverse("retire-kind", args=[oil_change.pk]))
    assert due_of_fleet()[0].kinds == ()
    assert "oil change" not in client.get(reverse("field-pack")).json()["checklists"]


def test_a_late_record_of_a_retired_kind_is_still_taken(
    client: Client, unit: Unit, oil_change: OwnKind
) -> None:
    client.post(reverse("retire-kind", args=[oil_change.pk]))
    assert send(client, payload(unit, kind="oil change")).status_code == 201


def test_the_database_refuses_an_inspection_of_two_kinds(unit: Unit, oil_change: OwnKind) -> None:
    with pytest.raises(IntegrityError):
        Inspection.objects.create(
            housing=unit.housing,
            kind="monthly",
            own_kind=oil_change,
            seen_at=timezone.now(),
            submission_id=uuid.uuid4(),
            recorded_by=unit.manager,
        )


def test_a_reader_adds_no_kind(oil_change: OwnKind) -> None:
    reader = signed_in(DispatcherFactory())
    assert add(reader, "grease").status_code == 403
    assert reader.post(reverse("retire-kind", args=[oil_change.pk])).status_code == 403
    assert not ServiceSchedule.objects.exists()


def change_what_it_looks_at(kind: OwnKind, by: Any, *sorts: MachineSort) -> Any:
    return change_sorts(
        submission_id=uuid.uuid4(), kind=kind, looks_at=sorts, reason="The pack has oil.", by=by
    )


def oil_of(machine: Any) -> Any:
    [found] = [each for each in due_of_machine(machine).kinds if each.row.kind == "oil change"]
    return found


def test_a_kind_that_looks_at_more_from_now_on_counts_for_what_it_looked_at_before(
    client: Client, unit: Unit, oil_change: OwnKind
) -> None:
    schedule_oil(client, oil_change)
    pack = PowerPackFactory()
    connect_power_pack(power_pack=pack, hammer=unit.hammer, at=days_ago(30), by=unit.manager)
    signed_note(unit, "oil change", hours=100)
    change_what_it_looks_at(oil_change, unit.manager, MachineSort.HAMMER, MachineSort.POWER_PACK)
    assert oil_of(unit.hammer).last is not None
    assert oil_of(pack).last is None
    signed_note(unit, "oil change", hours=100, pack_hours=5, at=timezone.now())
    assert oil_of(pack).last is not None


def test_a_kind_that_looks_elsewhere_asks_the_old_machine_for_nothing(
    client: Client, unit: Unit, oil_change: OwnKind
) -> None:
    schedule_oil(client, oil_change)
    signed_note(unit, "oil change", hours=100)
    change_what_it_looks_at(oil_change, unit.manager, MachineSort.HOUSING)
    assert not [each for each in due_of_machine(unit.hammer).kinds if each.row.kind == "oil change"]
    assert oil_of(unit.housing).last is None
    # Changed back, what was seen while it looked at the hammer still counts for the hammer.
    change_what_it_looks_at(oil_change, unit.manager, MachineSort.HAMMER)
    assert oil_of(unit.hammer).last is not None


def test_what_a_kind_looks_at_is_changed_by_its_page_and_listed(
    client: Client, unit: Unit, oil_change: OwnKind
) -> None:
    address = reverse("kind-sorts", args=[oil_change.pk])
    form = {
        "submission_id": str(uuid.uuid4()),
        "looks_at": ["hammer", "power pack"],
        "needs": ["hours", "qualified"],
        "reason": "The pack has oil of its own.",
    }
    for _ in range(2):
        assert client.post(address, form)["Location"] == reverse("kinds")
    assert KindSorts.objects.count() == KindNeeds.objects.count() == 1
    assert "The pack has oil of its own." in words(client.get(address))
    listed = words(client.get(reverse("kinds")))
    assert "hammer, power pack" in listed
    assert "the hour meter read, signed by somebody qualified" in listed


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"looks_at": []}, "say what is looked at"),
        ({"looks_at": ["crane"]}, "crane"),
        ({"needs": ["luck"]}, "luck"),
        ({"reason": " "}, "This field is required"),
    ],
)
def test_what_a_kind_looks_at_is_not_changed_by_halves(
    client: Client, oil_change: OwnKind, given: dict[str, Any], told: str
) -> None:
    form = {"submission_id": str(uuid.uuid4()), "looks_at": ["clamp"], "reason": "So."} | given
    page = client.post(reverse("kind-sorts", args=[oil_change.pk]), form)
    assert told in words(page)
    assert not KindSorts.objects.exists()
    assert not KindNeeds.objects.exists()


def change_needs(kind: OwnKind, by: Any, *needs: str, sorts: Any = (MachineSort.HAMMER,)) -> Any:
    return change_kind(
        submission_id=uuid.uuid4(),
        kind=kind,
        looks_at=sorts,
        needs=needs,
        reason="As the state asks.",
        by=by,
    )


def test_a_kind_that_wants_a_qualified_person_is_signed_by_nobody_else(
    unit: Unit, oil_change: OwnKind
) -> None:
    change_needs(oil_change, unit.manager, "qualified")
    able = qualified("Ida Frost", "yearly")
    now = timezone.now()
    with pytest.raises(ValidationError, match=r"“oil change” wants somebody qualified.*Ida Frost"):
        count(unit.housing, unit.manager, unit.lot, kind="oil change", at=now, hours=10.0)
    # What was seen before it was asked is held to what was asked then.
    count(unit.housing, unit.manager, unit.lot, kind="oil change", at=days_ago(1), hours=9.0)
    assert count(unit.housing, able, unit.lot, kind="oil change", at=now, hours=10.0)
    change_needs(oil_change, unit.manager)
    assert not kind_named("oil change").wants_qualified


def test_what_a_kind_comes_to_need_is_asked_of_what_is_seen_from_then_on(
    unit: Unit, oil_change: OwnKind
) -> None:
    begun = timezone.now()
    change_needs(oil_change, unit.manager, "travel")
    before = signed_note(unit, "oil change", hours=100, at=begun)
    after = signed_note(unit, "oil change", hours=100, at=timezone.now())
    assert (before.inspection.lacks, after.inspection.lacks) == ("", "the travel taped")


def test_one_begun_before_a_kind_looked_at_more_is_taken_and_its_page_says_for_what_it_counts(
    client: Client, unit: Unit, oil_change: OwnKind
) -> None:
    schedule_oil(client, oil_change)
    pack = PowerPackFactory()
    connect_power_pack(power_pack=pack, hammer=unit.hammer, at=days_ago(30), by=unit.manager)
    begun = timezone.now()
    change_what_it_looks_at(oil_change, unit.manager, MachineSort.HAMMER, MachineSort.POWER_PACK)
    # The phone asked for no hours of the pack: it is not refused for want of them.
    signed = signed_note(unit, "oil change", hours=100, at=begun)
    assert oil_of(pack).last is None
    assert oil_of(unit.hammer).last is not None
    page = words(client.get(reverse("inspection", args=[signed.inspection.pk])))
    assert "it counts as the kind was then, for the hammer. Of the power pack it is asked" in page


def test_a_retired_kind_looks_at_nothing_new(unit: Unit, oil_change: OwnKind) -> None:
    retire_kind(submission_id=uuid.uuid4(), kind=oil_change, at=timezone.now(), by=unit.manager)
    with pytest.raises(ValidationError, match="is retired"):
        change_what_it_looks_at(oil_change, unit.manager, MachineSort.CLAMP)


def signed_note(unit: Unit, kind: str, at: Any = None, **hours: Any) -> Signed:
    return sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(seen_at=at or days_ago(5), pads=(), note="Done.", kind=kind, **hours),
        by=unit.manager,
    )
