"""The pages of transfers: planned, arrived and cancelled by hand, and what nobody should type."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import Transfer
from ratings.transfers.recording import cancel_transfer
from tests.all_tables import changed, everything
from tests.builders import rated_unit
from tests.factories import YardFactory
from tests.job_builders import extraction_job, transfer
from tests.site.html_form import Fields, error_at, opened, words

pytestmark = pytest.mark.django_db
URL = "/transfers/new/"


def filled(client: Client, **more: str) -> Fields:
    unit = rated_unit()
    today = timezone.localdate().isoformat()
    fields = {"what": f"housing-{unit.housing.pk}", "goal": str(YardFactory().pk)}
    return opened(client, URL) | fields | {"leaves_on": today, "arrives_on": today} | more


def test_a_dispatcher_plans_one_for_a_job(dispatcher_client: Client) -> None:
    job = extraction_job(first_day=timezone.localdate() + timedelta(days=5))
    answer = dispatcher_client.post(URL, filled(dispatcher_client, job=str(job.pk)), follow=True)
    page = words(answer)
    assert job.site in page
    assert "on its way" in page
    assert Transfer.objects.get().haul_mi is None


def test_a_unit_page_leads_there(dispatcher_client: Client) -> None:
    unit = rated_unit()
    page = dispatcher_client.get(reverse("unit", args=[unit.housing.pk]))
    link = f"{reverse('new-transfer')}?housing={unit.housing.pk}"
    assert link in page.content.decode()
    chosen = dispatcher_client.get(link).context["form"]["what"].value()
    assert chosen == f"housing-{unit.housing.pk}"


@pytest.mark.parametrize(
    ("name", "given", "said"),
    [
        ("what", "", "choose a unit or a hammer"),
        ("what", "housing-999999", "not one of the available choices"),
        ("what", "yard-1", "not one of the available choices"),
        ("goal", "", "choose a yard"),
        ("goal", "999999", "not one of the available choices"),
        ("job", "999999", "not one of the available choices"),
        ("leaves_on", "", "give the day"),
        ("leaves_on", "2026-02-30", "This is not a day"),
        ("leaves_on", "0001-01-01", "too long ago"),
        ("arrives_on", "9999-12-31", "ten years ahead"),
        ("arrives_on", "2020-01-01", "before it leaves"),
        ("note", "x" * 201, "200 at the most"),
    ],
)
def test_what_cannot_be_is_answered_beside_its_field(
    dispatcher_client: Client, name: str, given: str, said: str
) -> None:
    fields = filled(dispatcher_client)
    before = everything()
    answer = dispatcher_client.post(URL, fields | {name: given})
    assert said in error_at(answer, name)
    assert changed(before) == set()


def test_an_arrival_is_recorded_and_told(dispatcher_client: Client) -> None:
    unit = rated_unit()
    sent = transfer(unit, -2)
    url = reverse("transfer", args=[sent.pk])
    fields = opened(dispatcher_client, url)
    answer = dispatcher_client.post(url, fields | {"arrive": "yes"}, follow=True)
    assert f"with {unit.hammer} is in {sent.goal}" in words(answer)
    assert "Record the arrival" not in words(answer)


def test_one_is_cancelled_for_a_reason(dispatcher_client: Client) -> None:
    sent = transfer(rated_unit())
    url = reverse("transfer", args=[sent.pk])
    fields = {"cancel": "yes", "cancel-submission_id": str(uuid.uuid4())}
    blank = dispatcher_client.post(url, fields | {"cancel-reason": ""})
    assert Transfer.objects.open().count() == 1
    assert error_at(blank, "cancel-reason")
    told = dispatcher_client.post(url, fields | {"cancel-reason": "No escort"}, follow=True)
    assert f"stays in {sent.origin}" in words(told)


def test_an_arrival_of_what_was_cancelled_meanwhile_is_told(dispatcher_client: Client) -> None:
    sent = transfer(rated_unit(), -2)
    url = reverse("transfer", args=[sent.pk])
    fields = opened(dispatcher_client, url)
    cancel_transfer(
        submission_id=uuid.uuid4(), transfer=sent, reason="Turned back", by=sent.recorded_by
    )
    answer = dispatcher_client.post(url, fields | {"arrive": "yes"})
    assert "ended already" in words(answer)


def test_the_list_is_narrowed_to_those_late(dispatcher_client: Client) -> None:
    late, planned = transfer(rated_unit(), -9), transfer(rated_unit())
    page = words(dispatcher_client.get(reverse("transfers") + "?state=late"))
    assert late.what in page
    assert planned.what not in page
