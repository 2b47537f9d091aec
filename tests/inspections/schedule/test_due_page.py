from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inspections.models import Checklist, Finding, ServiceSchedule
from tests.builders import Unit, count, rated_unit
from tests.factories import AuditorFactory
from tests.inspections.field.sent import day_in, finding_sent, payload, send, signed_in
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def with_finding(unit: Unit, **changes: object) -> Finding:
    """A unit with a finding of three days ago, to be acted on by yesterday."""
    at = (timezone.now() - timedelta(days=3)).isoformat()
    found = finding_sent(text="Hose chafed <b>through</b>", act_by=day_in(-1), who_acts="Odo")
    send(signed_in(unit.manager), payload(unit, seen_at=at, findings=[found | changes]))
    return Finding.objects.get(inspection__housing=unit.housing)


def test_an_overdue_inspection_is_told_in_words() -> None:
    unit = rated_unit()
    page = signed_in(unit.manager).get(reverse("due")).content.decode()
    assert "overdue" in page
    assert unit.housing.mark in page


def test_a_unit_inspected_today_is_in_order() -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), kind="yearly")
    page = words(signed_in(unit.manager).get(reverse("due")))
    assert "1 other unit has nothing due soon" in page


def test_an_open_finding_is_listed_with_who_and_when() -> None:
    unit = rated_unit()
    with_finding(unit)
    page = signed_in(unit.manager).get(reverse("due")).content.decode()
    assert "Hose chafed &lt;b&gt;through&lt;/b&gt;" in page
    yesterday = timezone.localdate() - timedelta(days=1)
    assert f"Odo by {yesterday:%-d %b %Y}" in page


def test_closing_a_finding_keeps_what_was_done() -> None:
    unit = rated_unit()
    finding = with_finding(unit)
    form = {
        "submission_id": str(uuid.uuid4()),
        "closed_at": timezone.localtime().strftime("%Y-%m-%dT%H:%M"),
        "done": "New hose fitted.",
    }
    client = signed_in(unit.manager)
    answer = client.post(reverse("close-finding", args=[finding.pk]), form)
    assert answer.status_code == 302
    finding.refresh_from_db()
    assert finding.closing.done == "New hose fitted."


def test_a_finding_is_not_closed_before_it_was_found() -> None:
    unit = rated_unit()
    finding = with_finding(unit)
    form = {"submission_id": str(uuid.uuid4()), "closed_at": "2020-01-01T09:00", "done": "Done."}
    page = signed_in(unit.manager).post(reverse("close-finding", args=[finding.pk]), form)
    assert "before it was found" in page.content.decode()


def test_a_reader_may_not_close_a_finding() -> None:
    finding = with_finding(rated_unit())
    client = signed_in(AuditorFactory())
    assert client.get(reverse("close-finding", args=[finding.pk])).status_code == 403


def test_the_calendar_address_answers_without_signing_in_until_revoked() -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), kind="yearly")
    client = signed_in(unit.manager)
    client.post(reverse("calendar-feed"), {"make": "1"})
    page = client.get(reverse("due")).content.decode()
    address = page.split('readonly value="http://testserver')[1].split('"')[0]
    assert b"BEGIN:VCALENDAR" in Client().get(address).content
    client.post(reverse("calendar-feed"), {"revoke": "1"})
    assert Client().get(address).status_code == 404


def schedule_form(**changes: str) -> dict[str, str]:
    return {
        "submission_id": str(uuid.uuid4()),
        "reason": "The yard is far.",
        "each_shift_days": "1",
        "monthly_days": "14",
        "yearly_days": "365",
    } | changes


def test_a_manager_changes_the_schedule() -> None:
    unit = rated_unit()
    signed_in(unit.manager).post(reverse("schedule"), schedule_form())
    rows = {row["kind"]: row["days"] for row in ServiceSchedule.objects.get().rows}
    assert rows == {"each shift": 1, "monthly": 14, "yearly": 365}


def test_a_reader_may_not_change_the_schedule() -> None:
    client = signed_in(AuditorFactory())
    assert client.post(reverse("schedule"), schedule_form()).status_code == 403


def test_minus_one_days_are_refused_at_the_field() -> None:
    unit = rated_unit()
    page = signed_in(unit.manager).post(reverse("schedule"), schedule_form(monthly_days="-1"))
    assert "“-1” won’t do" in page.content.decode()
    assert not ServiceSchedule.objects.exists()


def test_a_manager_edits_a_checklist_and_the_item_kept_keeps_its_key() -> None:
    unit = rated_unit()
    form = {
        "submission_id": str(uuid.uuid4()),
        "reason": "Shorter.",
        "lines": "Guards: Guards and covers on and fast\nClamp: hoses of the clamp dry",
    }
    signed_in(unit.manager).post(reverse("checklist", args=["each shift"]), form)
    items = Checklist.objects.get().items
    assert [item["key"] for item in items] == ["guards-on", "clamp-hoses-of-the-clamp-dry"]


def test_items_that_begin_alike_or_in_another_script_have_keys_of_their_own() -> None:
    unit = rated_unit()
    begin = "Hoses: no leak at the long supply hose of the"
    form = {
        "submission_id": str(uuid.uuid4()),
        "reason": "More of it.",
        "lines": f"{begin} left\n{begin} right\nШланги: сухие\nБолты: целые",
    }
    signed_in(unit.manager).post(reverse("checklist", args=["monthly"]), form)
    keys = [item["key"] for item in Checklist.objects.get().items]
    assert len(set(keys)) == 4


def test_a_line_without_a_part_is_named_by_its_number() -> None:
    unit = rated_unit()
    form = {"submission_id": str(uuid.uuid4()), "reason": "x", "lines": "Clamp: jaws\nlook at it"}
    page = signed_in(unit.manager).post(reverse("checklist", args=["monthly"]), form)
    assert "Line 2" in page.content.decode()


def test_a_meter_change_is_recorded_on_its_page() -> None:
    unit = rated_unit()
    form = {
        "submission_id": str(uuid.uuid4()),
        "changed_at": "2026-03-05T09:00",
        "old_hours": "510",
        "new_hours": "0",
        "reason": "Glass broken.",
    }
    client = signed_in(unit.manager)
    client.post(reverse("meter", args=[unit.hammer.pk]), form)
    assert unit.hammer.meter_changes.get().old_hours == 510.0


def test_the_page_leaves_the_reader_their_units() -> None:
    page = signed_in(rated_unit().manager).get(reverse("due")).content.decode()
    assert "Show SI" in page
