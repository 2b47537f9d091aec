"""A list cannot contradict the count, and a kind counts only with what it needs."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import MachineSort
from inspections.count.findings import Answer, Observations
from inspections.count.signing import Correction, Seen, Signed, sign_inspection
from inspections.count.submission import Submission
from inspections.models import Inspection, OwnKind
from inspections.schedule.due import due_of_fleet
from inspections.schedule.recording import add_kind
from tests.builders import Unit, count, pads, rated_unit
from tests.site.html_form import words

pytestmark = pytest.mark.django_db
COUNTED = Answer("pads-counted", "Pads", "Every pad counted", "done")
TAPED = Answer("travel-taped", "Bumpers and stops", "Travel taped", "done")
NONE_TORN = Answer("pads-look", "Pads", "No pad torn, gone or out of line", "done")


@pytest.fixture
def unit() -> Unit:
    return rated_unit()


def sign(unit: Unit, *answers: Answer, **more: Any) -> Signed:
    correction = more.pop("correction", None)
    given: dict[str, Any] = {"seen_at": timezone.now(), "pads": [], "kind": "monthly"} | more
    if given["kind"] == "monthly":
        given = {"hours": 100.0} | given
    return sign_inspection(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        seen=Seen(observations=Observations(answers=answers), **given),
        by=unit.manager,
        correction=correction,
    )


def states(signed: Signed) -> dict[str, str]:
    return dict(signed.inspection.answers.values_list("key", "state"))


def is_overdue(kind: str) -> bool:
    (unit_due,) = due_of_fleet()
    return any(each.row.kind == kind and each.is_overdue for each in unit_due.kinds)


def test_what_was_not_done_is_not_so_whoever_ticked_it(unit: Unit) -> None:
    signed = sign(unit, COUNTED, TAPED)
    assert states(signed) == {"pads-counted": "not so", "travel-taped": "not so"}


def test_what_was_done_is_done_though_nobody_ticked_it(unit: Unit) -> None:
    left = Answer("pads-counted", "Pads", "Every pad counted", "not applicable", "no time")
    signed = sign(unit, left, TAPED, pads=pads(unit.housing, unit.lot), travel_in=6.0)
    assert states(signed) == {"pads-counted": "done", "travel-taped": "done"}


def test_no_pad_torn_is_not_so_where_one_is_gone(unit: Unit) -> None:
    gone = pads(unit.housing, unit.lot, {"A1": "missing"})
    signed = sign(unit, NONE_TORN, pads=gone, travel_in=6.0)
    assert states(signed) == {"pads-look": "not so"}
    assert signed.inspection.answers.get().reason == "A1 missing"
    # A tick without a count is held to what is on record.
    assert states(sign(unit, NONE_TORN, kind="each shift")) == {"pads-look": "not so"}


def test_a_monthly_without_count_and_travel_is_none(unit: Unit) -> None:
    signed = sign(unit, COUNTED, TAPED, note="All done")
    assert signed.inspection.lacks == "every pad counted, the travel taped"
    assert "does not count as an inspection “monthly”" in signed.cautions[0]
    assert is_overdue("monthly")
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), kind="monthly")
    assert not is_overdue("monthly")


def test_its_page_says_that_it_does_not_count(unit: Unit) -> None:
    signed = sign(unit, note="All done")
    client = Client()
    client.force_login(unit.manager)
    page = client.get(reverse("inspection", args=[signed.inspection.pk]))
    assert "does not count as an inspection “monthly”" in words(page)


def test_an_own_kind_asks_for_what_it_needs(unit: Unit) -> None:
    client = Client()
    client.force_login(unit.manager)
    given = {
        "submission_id": str(uuid.uuid4()),
        "name": "bond test",
        "looks_at": ["housing"],
        "needs": ["pads", "hours"],
    }
    client.post(reverse("kinds"), given)
    kind = OwnKind.objects.get()
    assert kind.needs == ("pads", "hours")
    signed = sign(unit, kind="bond test", pads=pads(unit.housing, unit.lot))
    assert signed.inspection.lacks == "the hour meter read"
    refused = client.post(
        reverse("kinds"),
        given | {"submission_id": str(uuid.uuid4()), "name": "x", "needs": ["luck"]},
    )
    assert "needs" in refused.context["form"].errors


def test_a_kind_that_needs_nothing_counts_by_a_note(unit: Unit) -> None:
    add_kind(
        submission_id=uuid.uuid4(), name="wash", looks_at=[MachineSort.HAMMER], by=unit.manager
    )
    assert sign(unit, kind="wash", note="Washed").inspection.lacks == ""


def test_a_correction_of_one_that_counted_before_goes_on_counting(unit: Unit) -> None:
    old = sign(unit, note="By the old rule", seen_at=timezone.now() - timedelta(days=2))
    row = Inspection.objects.get(pk=old.inspection.pk)
    row.pk, row.submission_id, row.lacks, row.hour_reading = None, uuid.uuid4(), "", None
    row.seen_at -= timedelta(hours=1)
    row.save()
    right = sign(
        unit,
        note="Spelled right",
        seen_at=row.seen_at,
        correction=Correction("Misspelled", inspection=row),
    )
    assert right.inspection.lacks == ""
