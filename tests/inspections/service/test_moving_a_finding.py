"""A finding put to the wrong machine is put right on record: both stay, and one counts."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from fleet.outages import open_outage
from inspections.count.findings import FoundFault, Observations
from inspections.count.signing import Seen, sign_inspection
from inspections.count.submission import Submission
from inspections.models import Finding
from inspections.service.recording import close_finding, move_finding
from tests.all_tables import changed, everything
from tests.builders import Unit, days_ago, rated_unit
from tests.factories import ManagerFactory
from tests.site.html_form import error_at, opened, words

pytestmark = pytest.mark.django_db


def found(unit: Unit, severity: str = "mend", machine: str = "housing") -> Finding:
    fault = FoundFault(
        1,
        severity,
        "Hose chafed",
        act_by=days_ago(-2).date(),
        who_acts="Kay",
        machine=machine,
    )
    signed = sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(days_ago(1), (), observations=Observations(findings=[fault])),
        by=unit.manager,
    )
    return signed.inspection.findings.get()


def move(finding: Finding, **changes: Any) -> Finding:
    plain: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "machine": "hammer",
        "reason": "chosen in a hurry",
        "by": ManagerFactory(),
    }
    return move_finding(finding=finding, **plain | changes)


def test_the_finding_stands_at_the_right_machine_and_is_closed_at_the_wrong_one() -> None:
    unit = rated_unit()
    wrong = found(unit)
    right = move(wrong)
    assert (right.machine, right.text, right.who_acts) == (unit.hammer, "Hose chafed", "Kay")
    assert right.moved_from == wrong
    assert list(Finding.objects.open()) == [right]
    assert wrong.closing.done == (f"Put to hammer {unit.hammer}, which it is of: chosen in a hurry")


def test_of_the_gravest_kind_it_takes_the_right_machine_out_and_releases_none() -> None:
    unit = rated_unit()
    move(found(unit, "stop"))
    assert open_outage(unit.hammer) is not None
    assert open_outage(unit.housing) is not None


def test_a_second_copy_changes_nothing() -> None:
    wrong, sent = found(rated_unit()), uuid.uuid4()
    right = move(wrong, submission_id=sent)
    before = everything()
    assert move(wrong, submission_id=sent, by=right.inspection.recorded_by) == right
    assert changed(before) == set()


@pytest.mark.parametrize(
    ("wrong", "field", "said"),
    [
        ({"machine": "clamp"}, "machine", "one of those looked at in that inspection: hammer"),
        ({"machine": "housing"}, "machine", "one of those looked at"),
        ({"machine": "crane"}, "machine", "one of those looked at"),
        ({"reason": " \u200b "}, "reason", "say how the mistake came about"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(
    wrong: dict[str, str], field: str, said: str
) -> None:
    finding, by = found(rated_unit()), ManagerFactory()
    before = everything()
    with pytest.raises(ValidationError) as refused:
        move(finding, by=by, **wrong)
    assert said in refused.value.message_dict[field][0]
    assert changed(before) == set()


def test_a_finding_closed_before_is_not_moved() -> None:
    finding = found(rated_unit())
    close_finding(
        submission_id=uuid.uuid4(),
        finding=finding,
        closed_at=days_ago(0),
        done="New hose",
        by=ManagerFactory(),
    )
    with pytest.raises(ValidationError, match="closed before"):
        move(finding)


def test_a_machine_that_was_not_there_is_refused_as_it_is_signed() -> None:
    unit = rated_unit()
    before = everything()
    with pytest.raises(ValidationError) as refused:
        found(unit, machine="clamp")
    assert (
        "No clamp was there when it was seen"
        in (refused.value.message_dict["findings.0.machine"][0])
    )
    assert changed(before) == set()


def test_a_manager_moves_it_on_its_page(manager_client: Client) -> None:
    unit = rated_unit()
    finding = found(unit)
    url = reverse("move-finding", args=[finding.pk])
    assert (
        url
        in manager_client.get(reverse("inspection", args=[finding.inspection_id])).content.decode()
    )
    fields = opened(manager_client, url)
    assert "choose the machine" in error_at(manager_client.post(url, fields), "machine")
    sent = fields | {"machine": "hammer", "reason": "in a hurry"}
    shown = words(manager_client.post(url, sent, follow=True))
    assert f"The finding now stands at hammer {unit.hammer}" in shown
    assert "Put to hammer" in words(manager_client.get(url))
