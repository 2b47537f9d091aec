from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from fleet.models import OutOfService, ReaderPreference
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.submission import Submission
from inspections.models import Finding, Inspection
from inspections.service.recording import wanting
from ratings.guides import record_guide
from ratings.mechanics.unit_rating import Policy
from ratings.models import CurrentRating, LedgerEntry
from ratings.policy import change_policy
from tests.builders import MONDAY, rated_unit
from tests.factories import DispatcherFactory, ManagerFactory
from tests.inspections.field.sent import day_in, finding_sent, pads_sent, payload, send, signed_in

pytestmark = pytest.mark.django_db


def test_an_inspection_from_the_phone_flags_the_unit() -> None:
    unit = rated_unit()
    faults = {f"A{number}": "cracked" for number in (1, 2, 3)}
    answer = send(
        signed_in(unit.manager), payload(unit, pads=pads_sent(unit.housing, unit.lot, faults))
    )
    assert answer.status_code == 201
    assert answer.json()["outcome"] == "recorded"
    assert CurrentRating.objects.get(housing=unit.housing).head.standing == "below listing"


def test_a_second_copy_changes_nothing() -> None:
    unit = rated_unit()
    client, sent = signed_in(unit.manager), payload(unit, travel_in=5.0)
    send(client, sent)
    entries = LedgerEntry.objects.count()
    again = send(client, sent)
    assert (again.status_code, again.json()["outcome"]) == (200, "already recorded")
    assert LedgerEntry.objects.count() == entries
    assert Inspection.objects.filter(submission_id=sent["id"]).count() == 1


def test_somebody_signed_out_is_told_so() -> None:
    unit = rated_unit()
    answer = send(Client(), payload(unit))
    assert answer.status_code == 401
    assert "sign in" in answer.json()["errors"][""][0]


def test_a_reader_may_not_sign() -> None:
    unit = rated_unit()
    reader = DispatcherFactory()
    assert send(signed_in(reader), payload(unit, signed_by=reader.pk)).status_code == 403


def test_another_person_cannot_send_what_somebody_signed() -> None:
    unit = rated_unit()
    answer = send(signed_in(ManagerFactory()), payload(unit))
    assert answer.status_code == 403
    assert "signed_by" in answer.json()["errors"]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"hours": -1}, "hours"),
        ({"travel_in": 0}, "travel_in"),
        ({"travel_in": 0.05}, "travel_in"),
        ({"travel_in": "six"}, "travel_in"),
        ({"travel_in": "5,5,5"}, "travel_in"),
        ({"hours": "1,234"}, "hours"),
        ({"kind": "now and then"}, "kind"),
        ({"note": "x" * 100_000}, "note"),
        ({"seen_at": "yesterday"}, "seen_at"),
        ({"id": "7"}, "id"),
        ({"travel_in": 20.0}, "travel_reason"),
        ({"housing": 999_999}, "housing"),
        ({"travel_in": True}, "travel_in"),
        ({"hours": [1]}, "hours"),
        ({"note": {"text": "fine"}}, "note"),
        ({"weather": 7}, "weather"),
        ({"signed_by": True}, "signed_by"),
        ({"housing": 10**30}, "housing"),
        ({"seen_at": "2026-03-14T09:30:00"}, "seen_at"),
        ({"seen_at": "1066-10-14T09:00:00Z"}, "seen_at"),
        ({"pads": "all sound"}, "pads"),
        ({"pads": [[]]}, "pads"),
        ({"photos": [{}] * 401}, "photos"),
        ({"photos": [{"id": str(uuid.uuid4()), "finding": 7}]}, "photos"),
        ({"findings": [finding_sent(number=10**30)]}, "findings.0.number"),
        ({"findings": [finding_sent(), finding_sent()]}, "findings"),
        ({"findings": [finding_sent(act_by="14 March")]}, "findings.0.act_by"),
        ({"findings": [finding_sent(act_by=None)]}, "findings.0.act_by"),
        ({"findings": [finding_sent(who_acts=" \u200b ")]}, "findings.0.who_acts"),
        ({"findings": [finding_sent(severity="awful")]}, "findings.0.severity"),
        ({"pads": [], "travel_in": None, "weather": "rain"}, ""),
        ({"pads": [{"side": "C", "number": 1, "condition": "sound", "lot": None}]}, "pads.0.side"),
        ({"findings": [finding_sent(act_by="1900-01-01")]}, "findings.0.act_by"),
        ({"findings": [finding_sent(act_by=day_in(-2))]}, "findings.0.act_by"),
        ({"findings": [finding_sent(text="")]}, "findings.0.text"),
        (
            {
                "answers": [
                    {"key": "a", "part": "p", "text": "t", "state": "not applicable", "reason": ""}
                ]
            },
            "answers.0.reason",
        ),
    ],
)
def test_what_will_not_do_is_named_by_field(changes: dict[str, Any], field: str) -> None:
    unit = rated_unit()
    count = Inspection.objects.count()
    answer = send(signed_in(unit.manager), payload(unit, **changes))
    assert answer.status_code == 422
    assert field in answer.json()["errors"]
    assert Inspection.objects.count() == count


def test_what_will_not_do_is_quoted_with_what_would() -> None:
    unit = rated_unit()
    pad = {"side": "C" * 500, "number": 1, "condition": "sound", "lot": None}
    bad = payload(unit, hours=-1, note="x" * 3000, travel_in="six", pads=[pad])
    errors = send(signed_in(unit.manager), bad).json()["errors"]
    assert errors["hours"] == ["“-1” won’t do: give 0 or more, up to 1,000,000."]
    assert errors["note"] == ["This has 3000 characters: 2000 at the most."]
    assert errors["travel_in"] == ["“six” is not a number: give one such as 5.5."]
    [words] = errors["pads.0.side"]
    assert words.endswith("won’t do: choose A, B.")
    assert len(words) < 120


def test_an_inspection_of_nothing_is_refused_though_the_clock_was_wrong() -> None:
    unit = rated_unit()
    ahead = (timezone.now() + timedelta(days=1)).isoformat()
    nothing = payload(unit, pads=[], travel_in=None, seen_at=ahead, sent_at=ahead)
    errors = send(signed_in(unit.manager), nothing).json()["errors"]
    assert errors[""][0].startswith("Nothing was entered")


@pytest.mark.parametrize("body", ["[" * 100_000, "{", '{"housing": ' + "9" * 5000 + "}", "\x00"])
def test_what_is_no_inspection_at_all_is_no_server_error(body: str) -> None:
    client = signed_in(rated_unit().manager)
    answer = client.post(reverse("field-inspections"), body, content_type="application/json")
    assert answer.status_code == 422


@pytest.mark.parametrize("pad", [{"condition": "missing"}, {"lot": 999_999}])
def test_a_lot_that_cannot_be_is_named_at_the_pads(pad: dict[str, Any]) -> None:
    unit = rated_unit()
    first, *others = pads_sent(unit.housing, unit.lot)
    answer = send(signed_in(unit.manager), payload(unit, pads=[first | pad, *others]))
    assert answer.status_code == 422
    assert "A1" in answer.json()["errors"]["pads"][0]


def test_a_travel_beyond_the_design_is_refused_in_the_units_of_whoever_signed() -> None:
    unit = rated_unit()
    ReaderPreference.objects.create(user=unit.manager, units="si")
    answer = send(signed_in(unit.manager), payload(unit, travel_in=210 / 25.4))
    assert answer.json()["errors"]["travel_reason"] == [
        "210 mm is beyond the housing’s design travel of 203.2 mm: tape it again, or keep it and "
        "say why it is right."
    ]


def test_a_clock_a_day_ahead_is_put_right() -> None:
    unit = rated_unit()
    ahead = timezone.now() + timedelta(days=1)
    sent = payload(
        unit, seen_at=(ahead - timedelta(hours=2)).isoformat(), sent_at=ahead.isoformat()
    )
    assert send(signed_in(unit.manager), sent).status_code == 201
    inspection = Inspection.objects.get(submission_id=sent["id"])
    off = timezone.now() - timedelta(hours=2) - inspection.seen_at
    assert abs(off) < timedelta(minutes=1)
    assert "1 d ahead" in inspection.note


def test_the_gravest_finding_takes_the_unit_out_of_service() -> None:
    unit = rated_unit()
    finding = finding_sent(severity="stop", text="Crack in the lifting eye")
    answer = send(signed_in(unit.manager), payload(unit, findings=[finding]))
    assert answer.status_code == 201
    outage = OutOfService.objects.open().of_units([unit.housing.pk]).get()
    assert outage.reason == "Crack in the lifting eye"
    assert answer.json()["words"].startswith(
        "Out of service: Crack in the lifting eye. By its figures meets"
    )
    assert Finding.objects.get().out_of_service == outage


def test_a_grave_finding_sent_after_a_release_takes_the_unit_out_again() -> None:
    unit = rated_unit()
    came_back = timezone.now() - timedelta(hours=1)
    OutOfService.objects.create(
        housing=unit.housing,
        since=came_back - timedelta(hours=2),
        reason="Two pads gone",
        recorded_by=unit.manager,
        submission_id=uuid.uuid4(),
        released_at=came_back,
        released_by=unit.manager,
        release_reason="Pads fitted",
        qualified_person="Rein Hask",
    )
    finding = finding_sent(severity="stop", text="Crack in the lifting eye")
    seen_before = (came_back - timedelta(hours=1)).isoformat()
    sent = payload(unit, findings=[finding], seen_at=seen_before)
    assert send(signed_in(unit.manager), sent).status_code == 201
    outage = OutOfService.objects.open().of_units([unit.housing.pk]).get()
    assert outage.since == came_back
    assert wanting(outage, timezone.now()).startswith("No inspection between")


def test_a_late_record_changes_no_newer_fact() -> None:
    unit = rated_unit()
    client = signed_in(unit.manager)
    send(client, payload(unit, travel_in=5.0))
    late = payload(
        unit,
        id=str(uuid.uuid4()),
        travel_in=4.0,
        seen_at=(timezone.now() - timedelta(days=3)).isoformat(),
    )
    answer = send(client, late)
    assert answer.status_code == 201
    assert answer.json()["words"].startswith("Newer records stand")
    unit.housing.refresh_from_db()
    assert unit.housing.travel_in == 5.0


def test_the_pack_holds_pads_lots_and_lists() -> None:
    unit = rated_unit()
    pack = signed_in(unit.manager).get(reverse("field-pack")).json()
    [taken] = [each for each in pack["units"] if each["id"] == unit.housing.pk]
    assert len(taken["pads"]) == 8
    assert taken["travel_in"] == 6.0
    [lot] = [each for each in pack["lots"] if each["id"] == unit.lot.pk]
    assert lot["rate_lbf_in"] == pytest.approx(1000.0)
    assert (lot["kept_share"], lot["strain_limit_in"]) == (1.0, None)
    assert (taken["is_guided"], taken["proof"]) == (True, None)
    assert pack["checklists"]["monthly"]["items"]


def test_the_pack_says_whether_a_housing_is_guided() -> None:
    unit, other = rated_unit(is_guided=False), rated_unit(is_guided=False)
    record_guide(
        submission_id=uuid.uuid4(),
        housing=unit.housing,
        is_guided=True,
        reason="Two rods",
        occurred_at=MONDAY,
        by=unit.manager,
    )
    units = signed_in(unit.manager).get(reverse("field-pack")).json()["units"]
    assert {each["id"]: each["is_guided"] for each in units} == {
        unit.housing.pk: True,
        other.housing.pk: False,
    }


def test_the_pack_says_how_far_rubber_may_be_strained() -> None:
    unit = rated_unit()
    unit.lot.rubber_thickness_in = 3.0
    unit.lot.save()
    policy = Policy(largest_strain_pct=150.0)
    change_policy(submission_id=uuid.uuid4(), policy=policy, reason="tears", by=unit.manager)
    [lot] = signed_in(unit.manager).get(reverse("field-pack")).json()["lots"]
    assert lot["strain_limit_in"] == 4.5


def test_the_pack_takes_as_many_queries_for_one_unit_as_for_three(
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:
    unit = rated_unit()
    client = signed_in(unit.manager)
    with django_assert_max_num_queries(48) as one:
        client.get(reverse("field-pack"))
    rated_unit()
    rated_unit()
    with django_assert_max_num_queries(len(one.captured_queries)):
        client.get(reverse("field-pack"))


def test_a_count_synced_after_a_newer_repair_leaves_the_repair_standing() -> None:
    unit = rated_unit(unsound={"A1": "cracked"}, in_stock=1)
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=timezone.now() - timedelta(days=1),
        pads=[PadFitted("A", 1, unit.lot.pk)],
        by=unit.manager,
    )
    seen_before = payload(
        unit,
        pads=pads_sent(unit.housing, unit.lot, {"A1": "cracked"}),
        seen_at=(timezone.now() - timedelta(days=2)).isoformat(),
    )
    assert send(signed_in(unit.manager), seen_before).status_code == 201
    assert unit.housing.positions.get(side="A", number=1).condition == "sound"


def test_two_phones_at_one_unit_both_enter_the_history() -> None:
    unit = rated_unit()
    other = ManagerFactory()
    first = payload(unit, pads=pads_sent(unit.housing, unit.lot, {"A1": "cracked"}))
    later = (timezone.now() + timedelta(seconds=5)).isoformat()
    second = payload(
        unit,
        signed_by=other.pk,
        pads=pads_sent(unit.housing, unit.lot, {"A1": "cracked", "A2": "swollen"}),
        seen_at=later,
        sent_at=later,
    )
    assert send(signed_in(other), second).status_code == 201
    assert send(signed_in(unit.manager), first).status_code == 201
    assert unit.housing.positions.get(side="A", number=2).condition == "swollen"
    assert Inspection.objects.filter(housing=unit.housing).count() == 3
